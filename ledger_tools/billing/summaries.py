"""What a period came to, from the registers of invoices and payments alone.

Income counts on the day of the invoice, whether it is paid or not. Nothing is rounded here:
every amount in the registers is whole minor units already, so sums are exact.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.periods import Period
from ledger_tools.billing.receivables import Receipt, Receivables, receivables_on
from ledger_tools.costing.lines import REASONS, Kind
from ledger_tools.money import ZERO


@dataclass(frozen=True, slots=True)
class KindIncome:
    """Net income from one kind of line, month by month."""

    kind: Kind
    by_month: tuple[Decimal, ...]

    @property
    def total(self) -> Decimal:
        """Income of the whole period."""
        return sum(self.by_month, start=ZERO)


@dataclass(frozen=True, slots=True)
class TaxCollected:
    """What one component came to at one rate; a rate that changed makes a row of its own."""

    component: str
    rate: Decimal
    base: Decimal
    amount: Decimal


@dataclass(frozen=True, slots=True)
class VendorSublets:
    """Sublet work by one vendor.

    Attributes:
        vendor: Name; empty where none was named.
        lines: How many lines were billed.
        billed: What customers were billed, net.
        cost: What the shop paid, as far as it is known.
        margin: Billed less cost, of the lines whose cost is known.
        without_cost: Lines whose cost is not known.
    """

    vendor: str
    lines: int
    billed: Decimal
    cost: Decimal
    margin: Decimal
    without_cost: int


@dataclass(frozen=True, slots=True)
class Comparison:
    """Promise and outcome of one job, or of all jobs of a repair type.

    Attributes:
        key: Job number or code of the repair type; empty for no repair type.
        jobs: How many jobs.
        estimated_minutes: Labour promised.
        worked_minutes: Labour done, billable or not.
        idle_minutes: The part of it that is not billable.
        estimated: Net amount promised.
        billed: Net amount invoiced.
    """

    key: str
    jobs: int
    estimated_minutes: int
    worked_minutes: int
    idle_minutes: int
    estimated: Decimal
    billed: Decimal


@dataclass(frozen=True, slots=True)
class NotBilled:
    """Work and goods not billed for one reason.

    Attributes:
        reason: One of `REASONS`, or the owner's own word; empty where none is given.
        minutes: Labour.
        value: What it would have come to, goods included.
    """

    reason: str
    minutes: int
    value: Decimal


@dataclass(frozen=True, slots=True)
class RollForward:
    """From what was owed before the period to what is owed at its end."""

    opening: Decimal
    invoiced: Decimal
    received: Decimal

    @property
    def closing(self) -> Decimal:
        """Opening and invoices less payments."""
        return self.opening + self.invoiced - self.received


@dataclass(frozen=True, slots=True)
class PeriodSummary:
    """All figures of a period.

    Attributes:
        period: The days it covers.
        aged_on: Day the debts are aged on.
        invoices: How many were issued.
        net: Sum of their lines.
        tax: Sum of their taxes.
        total: Net and tax.
        income: Every kind of line, in order.
        taxes: By component and rate.
        sublets: By vendor.
        jobs: Promise and outcome by job.
        repairs: Promise and outcome by repair type, that of a job's latest invoice.
        not_billed: By reason.
        receivables: What is owed at the end.
        roll_forward: How that came about.
    """

    period: Period
    aged_on: date
    invoices: int
    net: Decimal
    tax: Decimal
    total: Decimal
    income: tuple[KindIncome, ...]
    taxes: tuple[TaxCollected, ...]
    sublets: tuple[VendorSublets, ...]
    jobs: tuple[Comparison, ...]
    repairs: tuple[Comparison, ...]
    not_billed: tuple[NotBilled, ...]
    receivables: Receivables
    roll_forward: RollForward


def summarise(
    period: Period, invoices: Iterable[Invoice], receipts: Iterable[Receipt], *, today: date
) -> PeriodSummary:
    """Return the figures of `period`.

    Args:
        period: The days that count, first and last included.
        invoices: The whole register; older invoices make the opening balance.
        receipts: All payments; those after the period do not count.
        today: Ages debts while the period still runs.
    """
    register = tuple(sorted(invoices, key=lambda i: (i.day, i.number)))
    money_in = tuple(receipts)
    issued = tuple(i for i in register if period.holds(i.day))
    aged_on = period.aged_on(today)
    repair_of = {i.job: i.repair for i in issued}
    return PeriodSummary(
        period=period,
        aged_on=aged_on,
        invoices=len(issued),
        net=_sum(i.subtotal for i in issued),
        tax=_sum(i.tax for i in issued),
        total=_sum(i.total for i in issued),
        income=_income(issued, period),
        taxes=_taxes(issued),
        sublets=_sublets(issued),
        jobs=_compared((i.job, i) for i in issued),
        repairs=tuple(
            sorted(
                _compared((repair_of[i.job], i) for i in issued), key=lambda c: (not c.key, c.key)
            )
        ),
        not_billed=_not_billed(issued),
        receivables=receivables_on(period.last, register, money_in, aged_on=aged_on),
        roll_forward=_roll_forward(period, register, money_in),
    )


def labour_minutes(line: InvoiceLine) -> tuple[int, int, int]:
    """Return estimated, worked and not billable minutes of a line; none unless it is labour."""
    if line.kind is not Kind.LABOUR:
        return 0, 0, 0
    return int(line.estimate or 0), int(line.actual or 0), int(line.non_billable or 0)


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, start=ZERO)


def _income(issued: tuple[Invoice, ...], period: Period) -> tuple[KindIncome, ...]:
    months = period.months()
    sums: defaultdict[tuple[Kind, date], Decimal] = defaultdict(Decimal)
    for invoice in issued:
        for line in invoice.lines:
            sums[line.kind, invoice.day.replace(day=1)] += line.amount
    return tuple(KindIncome(kind, tuple(sums[kind, m] for m in months)) for kind in Kind)


def _taxes(issued: tuple[Invoice, ...]) -> tuple[TaxCollected, ...]:
    rows = [tax for invoice in issued for tax in invoice.taxes]
    order = list(dict.fromkeys(tax.component for tax in rows))
    keys = sorted({(t.component, t.rate) for t in rows}, key=lambda k: (order.index(k[0]), k[1]))
    return tuple(
        TaxCollected(
            component,
            rate,
            _sum(t.base for t in rows if (t.component, t.rate) == (component, rate)),
            _sum(t.amount for t in rows if (t.component, t.rate) == (component, rate)),
        )
        for component, rate in keys
    )


def _sublets(issued: tuple[Invoice, ...]) -> tuple[VendorSublets, ...]:
    by_vendor: defaultdict[str, list[InvoiceLine]] = defaultdict(list)
    for invoice in issued:
        for line in invoice.lines:
            if line.kind is Kind.SUBLET:
                by_vendor[line.vendor].append(line)
    return tuple(
        VendorSublets(
            vendor=vendor,
            lines=len(lines),
            billed=_sum(line.amount for line in lines),
            cost=_sum(line.cost or ZERO for line in lines),
            margin=_sum(line.amount - line.cost for line in lines if line.cost is not None),
            without_cost=sum(line.cost is None for line in lines),
        )
        for vendor, lines in sorted(by_vendor.items(), key=lambda item: (not item[0], item[0]))
    )


def _compared(keyed: Iterable[tuple[str, Invoice]]) -> tuple[Comparison, ...]:
    by_key: defaultdict[str, list[Invoice]] = defaultdict(list)
    for key, invoice in keyed:
        by_key[key].append(invoice)
    return tuple(_comparison(key, invoices) for key, invoices in by_key.items())


def _comparison(key: str, invoices: list[Invoice]) -> Comparison:
    lines = [line for invoice in invoices for line in invoice.lines]
    minutes = [labour_minutes(line) for line in lines]
    return Comparison(
        key=key,
        jobs=len({invoice.job for invoice in invoices}),
        estimated_minutes=sum(estimated for estimated, _, _ in minutes),
        worked_minutes=sum(worked for _, worked, _ in minutes),
        idle_minutes=sum(idle for _, _, idle in minutes),
        estimated=_sum(line.estimated for line in lines),
        billed=_sum(line.amount for line in lines),
    )


def _not_billed(issued: tuple[Invoice, ...]) -> tuple[NotBilled, ...]:
    by_reason: defaultdict[str, list[InvoiceLine]] = defaultdict(list)
    for invoice in issued:
        for line in invoice.lines:
            if line.non_billable or line.non_billable_value:
                by_reason[line.reason].append(line)
    known = {reason: place for place, reason in enumerate(REASONS)}
    return tuple(
        NotBilled(
            reason,
            sum(labour_minutes(line)[2] for line in by_reason[reason]),
            _sum(line.non_billable_value for line in by_reason[reason]),
        )
        for reason in sorted(by_reason, key=lambda r: (known.get(r, len(known)), not r, r))
    )


def _roll_forward(
    period: Period, register: tuple[Invoice, ...], receipts: tuple[Receipt, ...]
) -> RollForward:
    before_in = _sum(r.amount for r in receipts if r.day < period.first)
    before_out = _sum(i.total for i in register if i.day < period.first)
    return RollForward(
        opening=before_out - before_in,
        invoiced=_sum(i.total for i in register if period.holds(i.day)),
        received=_sum(r.amount for r in receipts if period.holds(r.day)),
    )
