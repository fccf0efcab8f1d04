"""Figures of a period, worked out a second way by plain loops over the raw lines."""

import itertools
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.periods import financial_year, period_from, quarters_of
from ledger_tools.billing.receivables import Receipt
from ledger_tools.billing.summaries import PeriodSummary, labour_minutes, summarise
from ledger_tools.costing.lines import Kind
from tests.documents.registers import invoice_of, labour_line, other_line, sample_book
from tests.published import decimal, published, said

TODAY = date(2026, 1, 20)
Q3 = period_from("2025-Q3")
BOOK = sample_book()
INVOICES = tuple(BOOK.invoices.values())
RECEIPTS = tuple(Receipt(p.day, p.invoice, p.amount) for p in BOOK.payments)


def of_quarter(*invoices: Invoice, receipts: Iterable[Receipt] = ()) -> PeriodSummary:
    """Return the third quarter's figures."""
    return summarise(Q3, invoices, receipts, today=TODAY)


def issued(day: date, *lines: InvoiceLine, number: str = "25-0001", **facts: str) -> Invoice:
    """Return an invoice of a day."""
    return invoice_of(number, day, lines, **facts)  # type: ignore[arg-type]


def test_sums_of_a_real_quarter_the_plain_way() -> None:
    """Loops over raw lines give the same income, tax, sublets, minutes and values."""
    found = summarise(Q3, INVOICES, RECEIPTS, today=TODAY)

    income: dict[tuple[str, int], Decimal] = {}
    tax: dict[tuple[str, Decimal], list[Decimal]] = {}
    vendors: dict[str, list[Decimal]] = {}
    reasons: dict[str, list[Decimal]] = {}
    net = count = Decimal(0)
    for invoice in INVOICES:
        if invoice.day < date(2025, 7, 1) or invoice.day > date(2025, 9, 30):
            continue
        count += 1
        for line in invoice.lines:
            net += line.amount
            cell = (line.kind.value, invoice.day.month)
            income[cell] = income.get(cell, Decimal(0)) + line.amount
            if line.kind.value == "sublet":
                assert line.cost is not None
                sums = vendors.setdefault(line.vendor, [Decimal(0)] * 2)
                vendors[line.vendor] = [sums[0] + line.amount, sums[1] + line.cost]
            if line.non_billable:
                sums = reasons.setdefault(line.reason, [Decimal(0)] * 2)
                reasons[line.reason] = [
                    sums[0] + line.non_billable,
                    sums[1] + line.non_billable_value,
                ]
        for row in invoice.taxes:
            sums = tax.setdefault((row.component, row.rate), [Decimal(0)] * 2)
            tax[row.component, row.rate] = [sums[0] + row.base, sums[1] + row.amount]

    assert (found.invoices, found.net) == (count, net)
    assert {
        (k.kind.value, month): amount
        for k in found.income
        for month, amount in zip((7, 8, 9), k.by_month, strict=True)
        if amount
    } == income
    assert {(t.component, t.rate): [t.base, t.amount] for t in found.taxes} == tax
    assert {v.vendor: [v.billed, v.cost] for v in found.sublets} == vendors
    assert {v.vendor: v.margin for v in found.sublets} == {
        vendor: billed - cost for vendor, (billed, cost) in vendors.items()
    }
    assert {r.reason: [r.minutes, r.value] for r in found.not_billed} == reasons
    assert len(tax) == 3
    assert len(vendors) == 3


def test_estimate_against_actual_the_plain_way() -> None:
    """Jobs and repair types hold the same minutes and amounts as the labour lines."""
    found = summarise(Q3, INVOICES, RECEIPTS, today=TODAY)
    own = [i for i in INVOICES if Q3.first <= i.day <= Q3.last]
    for repair in found.repairs:
        lines = [x for i in own if i.repair == repair.key for x in i.lines]
        labour = [x for x in lines if x.kind.value == "labour"]
        assert repair.jobs == sum(i.repair == repair.key for i in own)
        assert repair.estimated_minutes == sum(x.estimate or 0 for x in labour)
        assert repair.worked_minutes == sum(x.actual or 0 for x in labour)
        assert repair.idle_minutes == sum(x.non_billable or 0 for x in labour)
        assert repair.estimated == sum(x.estimated for x in lines)
        assert repair.billed == sum(x.amount for x in lines)
    assert [r.key for r in found.repairs] == sorted({i.repair for i in own})
    assert [job.key for job in found.jobs] == [i.job for i in own]


@pytest.mark.parametrize(
    ("day", "counts"),
    [("2025-06-30", 0), ("2025-07-01", 1), ("2025-09-30", 1), ("2025-10-01", 0)],
)
def test_an_invoice_counts_on_its_day(day: str, counts: int) -> None:
    """The first and the last day of the quarter are in it, the days around are not."""
    found = of_quarter(issued(date.fromisoformat(day), other_line(1, Kind.SUBLET, "10.00")))

    assert found.invoices == counts
    assert found.net == 10 * counts
    assert found.income[3].total == 10 * counts


def test_a_payment_after_the_quarter_does_not_count() -> None:
    """Paid on the last day is received; paid the day after is still owed at the end."""
    invoice = issued(date(2025, 9, 10), other_line(1, Kind.SUBLET, "100.00"))
    paid = [
        Receipt(date(2025, 9, 30), invoice.number, Decimal("30.00")),
        Receipt(date(2025, 10, 1), invoice.number, Decimal("70.00")),
    ]

    found = of_quarter(invoice, receipts=paid)

    assert found.roll_forward.received == Decimal("30.00")
    assert found.roll_forward.closing == found.receivables.total == Decimal("70.00")


def test_a_financial_year_may_begin_in_april() -> None:
    """Its fourth quarter is January to March of the next calendar year."""
    days = (date(2025, 3, 31), date(2025, 4, 1), date(2026, 3, 31), date(2026, 4, 1))
    invoices = [
        issued(day, other_line(1, Kind.FEE, f"{n}.00"), number=str(n))
        for n, day in enumerate(days, 1)
    ]

    year = summarise(financial_year(2025, first_month=4), invoices, [], today=TODAY)
    last = quarters_of(2025, first_month=4)[3]

    assert (year.invoices, year.net) == (2, 5)
    assert summarise(last, invoices, [], today=TODAY).net == 3
    assert year.roll_forward.opening == 1


def test_a_changed_rate_is_a_row_of_its_own() -> None:
    """Tax before and after the change is told apart, the components in the paper's order."""
    lines = (other_line(1, Kind.PART, "100.00"),)
    found = of_quarter(
        issued(date(2025, 8, 31), *lines), issued(date(2025, 9, 1), *lines, number="25-0002")
    )

    assert [(t.component, t.rate, t.base, t.amount) for t in found.taxes] == [
        ("State tax", Decimal("0.0725"), 200, Decimal("14.50")),
        ("District tax", Decimal("0.01"), 100, Decimal("1.00")),
        ("District tax", Decimal("0.0125"), 100, Decimal("1.25")),
    ]


def test_a_missing_cost_is_no_margin() -> None:
    """Sublet work of unknown cost is counted and kept out of the margin."""
    known = other_line(1, Kind.SUBLET, "120.00", cost="100.00", vendor="Eastgate")
    unknown = other_line(2, Kind.SUBLET, "50.00", vendor="Eastgate")
    nameless = other_line(3, Kind.SUBLET, "9.00", cost="9.00")
    bought = other_line(4, Kind.PART, "70.00", cost="50.00", vendor="Eastgate")

    found = of_quarter(issued(date(2025, 8, 1), known, unknown, nameless, bought)).sublets

    assert [v.vendor for v in found] == ["Eastgate", ""]
    eastgate = found[0]
    assert (eastgate.billed, eastgate.cost, eastgate.margin) == (170, 100, 20)
    assert (eastgate.lines, eastgate.without_cost) == (2, 1)


def test_work_that_cost_nothing_is_all_margin() -> None:
    """A cost of zero is known: the vendor did it under warranty."""
    free = other_line(1, Kind.SUBLET, "40.00", cost="0.00", vendor="Eastgate")

    (found,) = of_quarter(issued(date(2025, 8, 1), free)).sublets

    assert (found.margin, found.without_cost) == (40, 0)


def test_goods_not_billed_have_value_and_no_minutes() -> None:
    """A discarded part counts with its value; only labour has minutes."""
    part = replace(
        other_line(2, Kind.PART, "0.00"),
        non_billable=Decimal(1),
        non_billable_value=Decimal("35.00"),
        reason="rework",
    )
    labour = labour_line(1, 60, 98, idle=38, reason="demonstration")

    found = of_quarter(issued(date(2025, 8, 1), labour, part)).not_billed

    assert [(r.reason, r.minutes) for r in found] == [("rework", 0), ("demonstration", 38)]
    assert found[0].value == Decimal("35.00")
    assert found[1].value == Decimal("58.27")
    assert labour_minutes(part) == (0, 0, 0)


def test_minutes_without_a_value_are_counted() -> None:
    """At no price, forty minutes of teaching are still forty minutes."""
    labour = replace(labour_line(1, 60, 98, idle=40), non_billable_value=Decimal(0))

    (found,) = of_quarter(issued(date(2025, 8, 1), labour)).not_billed

    assert (found.reason, found.minutes, found.value) == ("", 40, 0)


def test_two_invoices_of_one_job_are_one_job() -> None:
    """The job counts once, under the repair type of its latest invoice."""
    line = labour_line(1, 60, 66)
    first = issued(date(2025, 8, 1), line, job="25-0007", repair="OLD")
    second = issued(date(2025, 8, 9), line, number="25-0002", job="25-0007", repair="NEW")

    found = of_quarter(second, first)

    assert [(job.key, job.jobs, job.worked_minutes) for job in found.jobs] == [("25-0007", 1, 132)]
    assert [(r.key, r.jobs) for r in found.repairs] == [("NEW", 1)]


def test_an_empty_quarter_has_all_rows_and_nothing_in_them() -> None:
    """Every kind of line is there with zeros for three months."""
    found = of_quarter()

    assert [k.kind for k in found.income] == list(Kind)
    assert all(k.by_month == (0, 0, 0) for k in found.income)
    assert (found.invoices, found.taxes, found.jobs, found.sublets) == (0, (), (), ())
    assert found.roll_forward.closing == found.receivables.total == 0


@pytest.mark.parametrize("value", published("receivables", prefix="exercise-roll"))
def test_a_worked_exercise_of_the_roll_forward(value: dict[str, Any]) -> None:
    """Opening and sales less what was collected or written off give the printed closing."""
    sales, before = (decimal(value, "inputs", k) for k in ("sales_on_account", "opening"))
    out = decimal(value, "inputs", "collections"), decimal(value, "inputs", "write_offs")
    invoices = (
        issued(date(2025, 6, 30), other_line(1, Kind.SUBLET, str(before)), number="1"),
        issued(date(2025, 7, 1), other_line(1, Kind.SUBLET, str(sales)), number="2"),
    )
    receipts = [Receipt(date(2025, 9, 30), "2", out[0]), Receipt(date(2025, 7, 1), "1", out[1])]

    found = of_quarter(*invoices, receipts=receipts)

    assert found.roll_forward.opening == before, said(value)
    assert found.roll_forward.closing == decimal(value, "expected", "closing"), said(value)
    assert found.receivables.total == decimal(value, "expected", "closing"), said(value)


DAYS = st.dates(date(2024, 10, 1), date(2026, 9, 30))
AMOUNTS = st.integers(-5_000, 50_000).map(lambda cents: Decimal(cents) / 100)


@st.composite
def _registers(draw: st.DrawFn) -> tuple[list[Invoice], list[Receipt]]:
    invoices = []
    for n, day in enumerate(draw(st.lists(DAYS, max_size=12))):
        kinds = draw(st.lists(st.sampled_from(list(Kind)[1:]), min_size=1, max_size=3))
        lines = [
            other_line(at, kind, str(draw(AMOUNTS)), vendor=draw(st.sampled_from(["A", "B", ""])))
            for at, kind in enumerate(kinds, 1)
        ]
        worked = draw(st.integers(0, 400))
        lines.append(labour_line(9, draw(st.integers(0, 400)), worked, idle=worked // 3))
        repair = draw(st.sampled_from(["TANK", "RAD", ""]))
        invoices.append(invoice_of(str(n), day, tuple(lines), repair=repair))
    numbers = st.sampled_from([*(i.number for i in invoices), "unknown"])
    receipts = draw(st.lists(st.builds(Receipt, DAYS, numbers, AMOUNTS), max_size=12))
    return invoices, receipts


@given(registers=_registers(), first_month=st.integers(1, 12))
def test_four_quarters_make_the_year(
    registers: tuple[list[Invoice], list[Receipt]], first_month: int
) -> None:
    """Income, tax, counts, sublets, minutes, values and payments of the quarters add up."""
    invoices, receipts = registers
    year = summarise(financial_year(2025, first_month=first_month), *registers, today=TODAY)
    quarters = [
        summarise(quarter, invoices, receipts, today=TODAY)
        for quarter in quarters_of(2025, first_month=first_month)
    ]

    told: tuple[Callable[[PeriodSummary], tuple[Decimal | int, ...]], ...] = (
        lambda s: (s.invoices, s.net, s.tax, s.total, s.roll_forward.received),
        lambda s: tuple(kind.total for kind in s.income),
        lambda s: (sum(t.base for t in s.taxes), sum(t.amount for t in s.taxes)),
        lambda s: (sum(v.billed for v in s.sublets), sum(v.lines for v in s.sublets)),
        lambda s: (sum(r.minutes for r in s.not_billed), sum(r.value for r in s.not_billed)),
        lambda s: (sum(r.worked_minutes for r in s.repairs), sum(r.billed for r in s.repairs)),
        lambda s: (sum(j.worked_minutes for j in s.jobs), sum(j.billed for j in s.jobs)),
    )
    for figures in told:
        parts = [figures(quarter) for quarter in quarters]
        assert tuple(map(sum, zip(*parts, strict=True))) == tuple(figures(year))
    assert quarters[0].roll_forward.opening == year.roll_forward.opening
    assert quarters[3].roll_forward.closing == year.roll_forward.closing
    for before, after in itertools.pairwise(quarters):
        assert before.roll_forward.closing == after.roll_forward.opening


@given(registers=_registers(), days=st.integers(0, 400))
def test_the_roll_forward_ends_at_the_balances(
    registers: tuple[list[Invoice], list[Receipt]], days: int
) -> None:
    """Opening + invoices - payments is what the invoices and payments one by one leave owing."""
    today = date(2025, 7, 1) + timedelta(days=days)
    found = summarise(Q3, *registers, today=today)

    rolled = found.roll_forward
    assert rolled.opening + rolled.invoiced - rolled.received == found.receivables.total
    assert found.net + found.tax == found.total == rolled.invoiced
    assert sum(kind.total for kind in found.income) == found.net
