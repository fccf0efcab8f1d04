"""What customers owe on a day: balances of invoices, aged from the day they were due.

>>> bucket_of(0), bucket_of(1), bucket_of(91)
('current', '1-30', 'over 90')
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice
from ledger_tools.money import ZERO

BUCKETS = ("current", "1-30", "31-60", "61-90", "over 90")
"""Days past the due date, in words."""
BUCKET_LAST_DAYS = (0, 30, 60, 90)
"""Last day past due of each bucket but the open one."""


@dataclass(frozen=True, slots=True)
class Receipt:
    """Money received on an invoice, or given back where the amount is negative."""

    day: date
    invoice: str
    amount: Decimal


@dataclass(frozen=True, slots=True)
class AgedDebt:
    """What is owed in one bucket of age."""

    bucket: str
    invoices: int
    amount: Decimal


@dataclass(frozen=True, slots=True)
class Receivables:
    """What is owed on a day.

    Money held for customers stands beside the debts and is never set off against them unseen.

    Attributes:
        by_age: Debts by bucket, every bucket in order of age.
        overpaid: What was paid over the total of issued invoices; not positive.
        ahead: What was paid without an invoice issued by that day; not positive, unless more was
            given back than received.
    """

    by_age: tuple[AgedDebt, ...]
    overpaid: Decimal
    ahead: Decimal

    @property
    def owed(self) -> Decimal:
        """Debts of all ages."""
        return sum((debt.amount for debt in self.by_age), start=ZERO)

    @property
    def overdue(self) -> Decimal:
        """Debts past their due date."""
        return sum((debt.amount for debt in self.by_age[1:]), start=ZERO)

    @property
    def total(self) -> Decimal:
        """Debts less the money held for customers."""
        return self.owed + self.overpaid + self.ahead


def bucket_of(days_past_due: int) -> str:
    """Return the bucket of a debt due `days_past_due` days ago; negative: not due yet."""
    for bucket, last in zip(BUCKETS, BUCKET_LAST_DAYS, strict=False):
        if days_past_due <= last:
            return bucket
    return BUCKETS[-1]


def paid_to(day: date, invoice: str, receipts: Iterable[Receipt]) -> Decimal:
    """Return what was paid on the invoice of that number up to `day`, that day included."""
    return sum((r.amount for r in receipts if r.invoice == invoice and r.day <= day), start=ZERO)


def balance_on(day: date, invoice: Invoice, receipts: Iterable[Receipt]) -> Decimal:
    """Return what is still owed on `invoice` at the end of `day`; nothing before its date."""
    if invoice.day > day:
        return ZERO
    return invoice.total - paid_to(day, invoice.number, receipts)


def receivables_on(
    day: date,
    invoices: Iterable[Invoice],
    receipts: Iterable[Receipt],
    *,
    aged_on: date | None = None,
) -> Receivables:
    """Return what is owed at the end of `day`.

    Args:
        day: Invoices and receipts up to and with this day count.
        invoices: The register, in any order.
        receipts: All payments, in any order.
        aged_on: Day the age is counted to; `day` unless a period is not over yet.
    """
    issued = {i.number: i for i in invoices if i.day <= day}
    paid: defaultdict[str, Decimal] = defaultdict(Decimal)
    for receipt in receipts:
        if receipt.day <= day:
            paid[receipt.invoice if receipt.invoice in issued else ""] += receipt.amount
    ahead = -paid.pop("", ZERO)
    balances = [(invoice, invoice.total - paid[number]) for number, invoice in issued.items()]
    return Receivables(
        _by_age([(i.due, owing) for i, owing in balances if owing > 0], aged_on or day),
        sum((owing for _, owing in balances if owing < 0), start=ZERO),
        ahead or ZERO,
    )


def _by_age(debts: list[tuple[date, Decimal]], day: date) -> tuple[AgedDebt, ...]:
    aged: dict[str, list[Decimal]] = {bucket: [] for bucket in BUCKETS}
    for due, owing in debts:
        aged[bucket_of((day - due).days)].append(owing)
    return tuple(AgedDebt(b, len(a), sum(a, start=ZERO)) for b, a in aged.items())
