"""The shop book as typed values: what stands in it, read once, never changed in place."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.authorisation import ToleranceRule
from ledger_tools.billing.basis import Basis
from ledger_tools.billing.estimate import Acceptance, Estimate
from ledger_tools.billing.guarantee import GuaranteeRule
from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.tax import TaxProfile
from ledger_tools.costing.catalogue import Catalogue
from ledger_tools.costing.job_cost import LineCost
from ledger_tools.costing.lines import Line
from ledger_tools.costing.time import TimeEntry
from ledger_tools.hours import HourPolicy
from ledger_tools.money import ZERO

TYPED_STATES = (
    "enquiry",
    "estimated",
    "authorised",
    "in work",
    "halted",
    "to invoice",
    "declined",
    "void",
)
"""What the owner types in `Jobs`; *invoiced* and *paid* follow from invoices and payments."""


@dataclass(frozen=True, slots=True)
class ShopSettings:
    """What the shop has decided for all its papers and sums.

    Attributes:
        name: Shop name as printed.
        address: Lines parted by newline.
        contact: Telephone, mail: lines parted by newline.
        tax_number: As printed; empty for none.
        payment: How to pay, as printed: lines parted by newline.
        terms_days: Days from invoice to due date.
        currency: ISO 4217 code.
        digits: Decimal places of its minor unit.
        language: Document language, such as ``en``; texts come from `config/texts/`.
        locale: How figures and dates are written on paper, such as ``en_US``.
        paper: ``A4`` or ``Letter``.
        hours: How minutes become billed hours.
        number_pattern: Job and invoice numbers; `{yy}`, `{yyyy}` and `{n:04}` are filled in.
        first_month: Month the financial year begins in, 1 to 12.
        authorised_with_tax: Whether authorised amounts are meant with tax.
        require_authorisation: Whether a job without authorisation may not be invoiced.
        default_class: Labour class of a labour line that names none.
        keep_time: Whether minutes are kept on the sheet `Time`.
        gap_minutes: From how many minutes on a gap in somebody's day is named; 0 for never.
        valid_days: Days an estimate can be accepted as it is.
        deposit_percent: Part of an estimate asked before work begins, 0 for none.
        assumptions: What estimates rest on, a line each: the name of a text, or the shop's words.
        exclusions: What estimates leave out, likewise.
        guarantee: The shop's own guarantee, likewise; empty for none of its own.
        storage_free_days: Days after the notice that work is ready which cost no storage.
        storage_price: Money a day after them, before tax; 0 for no storage.
        name_vendors: Whether estimates name who does sublet work.
        offer_options: Whether repair or replace is weighed on the sheet `Options`.
        repair_below: Percent of the price of replacing new below which the shop repairs; 0 for
            no such rule.
        minimum_charge: Least net of a job on which anything is billed, 0 for none.
    """

    name: str = ""
    address: str = ""
    contact: str = ""
    tax_number: str = ""
    payment: str = ""
    terms_days: int = 14
    currency: str = "USD"
    digits: int = 2
    language: str = "en"
    locale: str = "en_US"
    paper: str = "Letter"
    hours: HourPolicy = HourPolicy()
    number_pattern: str = "{yy}-{n:04}"
    first_month: int = 1
    authorised_with_tax: bool = True
    require_authorisation: bool = False
    default_class: str = ""
    keep_time: bool = False
    gap_minutes: int = 0
    valid_days: int = 30
    deposit_percent: int = 0
    assumptions: str = "sound metal\naccess"
    exclusions: str = "damage elsewhere\nfittings\nearlier repairs"
    offer_options: bool = False
    repair_below: int = 0
    minimum_charge: Decimal = ZERO
    guarantee: str = ""
    storage_free_days: int = 0
    storage_price: Decimal = ZERO
    name_vendors: bool = True


class Customer(NamedTuple):
    """Someone who brings work in; the name is what jobs refer to."""

    name: str
    address: str = ""
    contact: str = ""
    tax_number: str = ""
    note: str = ""


class Payment(NamedTuple):
    """Money received, or given back where the amount is negative."""

    day: date
    invoice: str
    amount: Decimal
    how: str = ""
    note: str = ""


class Authorisation(NamedTuple):
    """The customer's word on what may be billed for a job: one row, never changed.

    Attributes:
        job: Job number.
        day: When it was given.
        amount: The total now authorised, not the addition.
        who: Who gave it.
        how: How they were reached.
        scope: What it covers.
        taken_by: Who in the shop took it.
        evidence: Name of the file that shows it.
        row: Row of the sheet it stands in; 0 for one not yet written.
    """

    job: str
    day: date
    amount: Decimal
    who: str = ""
    how: str = ""
    scope: str = ""
    taken_by: str = ""
    evidence: str = ""
    row: int = 0


class Option(NamedTuple):
    """One way to go on with the item of a job: a row of `Options`.

    Attributes:
        job: Job number.
        option: Its letter, by which the customer names it.
        kind: A kind of option; another word where what is typed is not known.
        row: Row of the sheet it stands in; 0 for one not yet written.
        description: As printed.
        price: What the customer would pay, meant as authorised amounts are; None for what the
            lines of the job are estimated at.
        sublet: What of it is work of other shops.
        lead_days: Until it is done.
        guarantee: In words, or days.
        chance: Of a come-back, a fraction from 0 to 1.
        come_back: What a come-back would cost.
        advised: Whether the shop advises it.
        chosen: When, by whom and how it was chosen; None while it is not.
        note: The owner's remark.
        priced: Whether anything stands for its price, readable or not.
    """

    job: str
    option: str
    kind: str
    row: int = 0
    description: str = ""
    price: Decimal | None = None
    sublet: Decimal | None = None
    lead_days: int | None = None
    guarantee: str = ""
    chance: Decimal | None = None
    come_back: Decimal | None = None
    advised: bool = False
    chosen: Acceptance | None = None
    note: str = ""
    priced: bool = False


class Band(NamedTuple):
    """What a job was said to cost on the telephone, meant as authorised amounts are.

    Attributes:
        least: Money, zero or more.
        most: Likewise, not below `least`.
    """

    least: Decimal
    most: Decimal


@dataclass(frozen=True, slots=True)
class Job:
    """One job: a row in `Jobs` and, once numbered, a sheet of its own.

    Attributes:
        number: Given by the tools; empty for a row that has none yet.
        row: Row of the sheet `Jobs` it stands in; 0 for a job not yet written.
        opened: Day it was opened; labour rates are those in force on it.
        customer: Name.
        item: What is to be repaired.
        repair: Code in `Repairs`; empty for none.
        state: One of `TYPED_STATES`.
        promised: Day promised; None for none.
        note: The owner's remark.
        object_class: What kind of object the item is, as the sheet Tolerances names them.
        basis: How it is billed.
        agreed_price: Net price agreed for the whole job; None for none.
        told: Band named on the telephone, None for none.
        lines: Lines in order of line id.
        last_line_id: Highest line id ever given.
        unreadable: Whether an error holds the job back from being computed or billed.
        archived: What its lines came to when its sheet was moved to the archive book; empty for
            a job with a sheet.
    """

    number: str
    row: int
    opened: date
    customer: str
    item: str
    repair: str = ""
    state: str = "in work"
    promised: date | None = None
    note: str = ""
    object_class: str = ""
    basis: Basis = Basis.ACTUAL
    agreed_price: Decimal | None = None
    lines: tuple[Line, ...] = ()
    last_line_id: int = 0
    unreadable: bool = False
    archived: tuple[LineCost, ...] = ()
    told: Band | None = None


@dataclass(frozen=True, slots=True)
class ShopBook:
    """Everything in the book that the tools know.

    Attributes:
        settings: The shop's decisions.
        as_of: The day figures that depend on a day are for.
        profile: Tax rules, as the book holds them.
        catalogue: Rates, repair types, materials.
        tolerances: What may be billed above the authorised amount, by class of object.
        guarantees: What a law guarantees, by class of object.
        customers: By row.
        jobs: By row.
        payments: By row.
        authorisations: By row.
        invoices: As issued, by number.
        time: Entries of `Time`, by row.
        estimates: Every revision, by number.
        options: Ways to go on that are weighed against each other, by row.
        last_job: Highest sequence number ever given to a job.
        last_invoice: Highest sequence number ever given to an invoice.
    """

    settings: ShopSettings
    as_of: date
    profile: TaxProfile
    catalogue: Catalogue
    tolerances: tuple[ToleranceRule, ...] = ()
    customers: tuple[Customer, ...] = ()
    jobs: tuple[Job, ...] = ()
    payments: tuple[Payment, ...] = ()
    authorisations: tuple[Authorisation, ...] = ()
    invoices: Mapping[str, Invoice] = field(default_factory=dict)
    estimates: Mapping[str, Estimate] = field(default_factory=dict)
    last_job: int = 0
    last_invoice: int = 0
    time: tuple[TimeEntry, ...] = ()
    options: tuple[Option, ...] = ()
    guarantees: tuple[GuaranteeRule, ...] = ()
