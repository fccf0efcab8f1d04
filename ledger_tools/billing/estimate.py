"""An estimate: what was promised on paper, revision by revision, and the customer's word on it.

An estimate promises and bills nothing: no figure of a job or an invoice hangs on it.
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

    @property
    def offers(self) -> tuple[Offered, ...]:
        """The options it offers side by side, none for an estimate of one way to go on."""
        return offers_in(self.wording)


OPEN = "open"
ACCEPTED = "accepted"
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
    return estimate.customer, estimate.item, lines, taxes, estimate.total, offers


def standing_of(estimate: Estimate, *, accepted: bool, newest: bool, as_of: date) -> str:
    """Return where an estimate stands: accepted, replaced by a newer one, expired or open.

    Args:
        estimate: The estimate.
        accepted: Whether anything stands for the day of its acceptance, readable or not.
        newest: Whether it is its job's newest.
        as_of: The day in question.
    """
    if accepted:
        return ACCEPTED
    if not newest:
        return REPLACED
    return EXPIRED if estimate.valid_until < as_of else OPEN
