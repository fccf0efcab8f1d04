"""An estimate: what was promised on paper, revision by revision, and the customer's word on it.

An estimate promises and bills nothing: no figure of a job or an invoice hangs on it. A request
for extra work is the next such paper of its job: what the whole work is expected to come to, set
beside what was authorised before.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.invoice import InvoiceLine
from ledger_tools.billing.offer import WITH_TAX, Offered, offers_in
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.money import Rounding


class Acceptance(NamedTuple):
    """The customer's yes to an estimate, as the owner typed it.

    Attributes:
        day: When it was given.
        who: Who gave it.
        how: How they were reached.
        option: Letter of the option they chose; empty for none named.
    """

    day: date
    who: str = ""
    how: str = ""
    option: str = ""


class Request(NamedTuple):
    """What makes an estimate a request for extra work.

    Attributes:
        found: What was found, a line each.
        authorised: Amount authorised before it, whole minor units.
        with_tax: Whether authorised amounts of the job are meant with tax.
    """

    found: str
    authorised: Decimal
    with_tax: bool = True


@dataclass(frozen=True, slots=True)
class Estimate:
    """One revision of a job's estimate, as it went out.

    Attributes:
        number: Job number, a slash, the revision; a slash stands in no invoice number.
        job: Job number.
        revision: 1 for the first of its job.
        day: Date of the estimate, which decides the tax rates.
        valid_until: Last day it can be accepted as it is.
        customer: Name.
        item: What is to be repaired.
        lines: Promised lines in order of line id; their quantity and amount are the estimated.
        taxes: Every component of the profile with what it falls on.
        subtotal: Sum of the lines.
        tax: Sum of the components.
        total: What the work is estimated at, with tax.
        deposit: Amount asked before work begins, zero for none. It is owed to the customer until
            the work is invoiced.
        currency: ISO 4217 code.
        wording: All other words on the paper, frozen on its day, as for an invoice; besides
            `assumptions` and `exclusions` (a line each), `consent` with `{net}` or `{total}` to
            be filled in, `deposit_percent`, and the options offered.
        fingerprint: Digest of template, fonts and tool version.
        accepted: The customer's yes, None while there is none.
        declined: Day of the customer's no, likewise.
        request: What is asked for beyond what was authorised; None for an estimate.
    """

    number: str
    job: str
    revision: int
    day: date
    valid_until: date
    customer: str
    item: str
    lines: tuple[InvoiceLine, ...]
    taxes: tuple[TaxAmount, ...]
    subtotal: Decimal
    tax: Decimal
    total: Decimal
    deposit: Decimal
    currency: str
    wording: Mapping[str, str] = field(default_factory=dict)
    fingerprint: str = ""
    accepted: Acceptance | None = None
    declined: date | None = None
    request: Request | None = None

    @property
    def asked(self) -> Decimal:
        """The amount to be authorised: with tax, or before it where the request says so."""
        return self.subtotal if self.request and not self.request.with_tax else self.total

    @property
    def more(self) -> Decimal:
        """What a request asks for above the amount authorised before; zero for an estimate."""
        return self.asked - self.request.authorised if self.request else Decimal(0)

    @property
    def changed(self) -> tuple[InvoiceLine, ...]:
        """The lines of a request that are new or come to another amount than agreed before."""
        return tuple(x for x in self.lines if x.before is None or x.before != x.amount)

    @property
    def offers(self) -> tuple[Offered, ...]:
        """The options it offers side by side, none for an estimate of one way to go on."""
        return offers_in(self.wording)


EXTRA_WORK = "extra work"
"""What a request for extra work is called in a register."""
OPEN = "open"
ACCEPTED = "accepted"
DECLINED = "declined"
REPLACED = "replaced"
EXPIRED = "expired"


def estimate_number(job: str, revision: int) -> str:
    """Return the number of a revision.

    >>> estimate_number("25-0007", 2)
    '25-0007/2'
    """
    return f"{job}/{revision}"


def deposit_of(total: Decimal, percent: int, rounding: Rounding) -> Decimal:
    """Return the part of `total` asked before work begins, whole minor units.

    >>> deposit_of(Decimal("430.15"), 30, Rounding(2))
    Decimal('129.05')
    """
    return rounding.amount(total * percent / 100)


def promises_the_same(one: Estimate, other: Estimate) -> bool:
    """Whether two estimates promise the same work, options and price to the same customer."""
    return _promise(one) == _promise(other)


def _promise(estimate: Estimate) -> tuple[object, ...]:
    lines = [
        (
            x.line_id,
            x.kind,
            x.description,
            x.quantity,
            x.unit,
            x.price,
            x.amount,
            x.vendor,
            x.part_status,
        )
        for x in estimate.lines
    ]
    taxes = [(t.component, t.base, t.rate, t.amount) for t in estimate.taxes if t.base and t.rate]
    offers = [estimate.wording.get(WITH_TAX), *(offered.promise for offered in estimate.offers)]
    asked = (estimate.request, [line.before for line in estimate.lines])
    return estimate.customer, estimate.item, lines, taxes, estimate.total, offers, asked


def share_more(estimate: Estimate) -> Decimal | None:
    """Return what a request adds as a part of the amount authorised before, to 0.1 %, ties up.

    None where nothing was authorised before, as an amount of zero.
    """
    if estimate.request is None or not estimate.request.authorised:
        return None
    return Rounding(3).amount(estimate.more / estimate.request.authorised)


def standing_of(
    estimate: Estimate, *, accepted: bool, newest: bool, as_of: date, declined: bool = False
) -> str:
    """Return where an estimate stands: accepted, declined, replaced by a newer, expired or open.

    Args:
        estimate: The estimate.
        accepted: Whether anything stands for the day of its acceptance, readable or not.
        newest: Whether it is its job's newest.
        as_of: The day in question.
        declined: Whether anything stands for the day it was declined, likewise.
    """
    if accepted or declined:
        return ACCEPTED if accepted else DECLINED
    if not newest:
        return REPLACED
    return EXPIRED if estimate.valid_until < as_of else OPEN
