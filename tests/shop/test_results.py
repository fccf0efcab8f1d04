"""What a job comes to: prices, totals, tax, ceiling, where it stands."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.tax import TaxProfile, TaxRate
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import RateMissingError
from ledger_tools.hours import HourPolicy
from ledger_tools.money import Rounding
from ledger_tools.shop.model import Job, ShopBook
from ledger_tools.shop.results import JobResult, limits_of, paid_on, result_of
from tests.published import decimal, published, said
from tests.shop.examples import (
    TODAY,
    authorised,
    book_of,
    decided,
    goods,
    job_of,
    paid,
    rate,
    text,
    work,
)

D = Decimal


def result(*lines: Line, profile: str = "none", state: str = "to invoice") -> JobResult:
    """Return what a job with these lines comes to."""
    job = job_of(*lines, state=state)
    return result_of(job, book_of(profile, job))


def invoice_on(day: date, total: str = "100.00") -> Invoice:
    """Return an issued invoice of a day."""
    return Invoice(
        "25-0001", "25-0001", day, day, "R. Calder", "Oil pan", "", (), (),
        D(total), D("0.00"), D(total), "USD",
    )  # fmt: skip


def taxed_by_line(rates: dict[str, str]) -> ShopBook:
    """Return a book where each tax class has a tax of its own name and rate, in per cent."""
    names = tuple(rates)
    profile = TaxProfile(
        "example", "Example", "1", "EUR", Rounding(2), names,
        tuple(TaxRate(n, date(2000, 1, 1), D(r) / 100, "a source") for n, r in rates.items()),
        {name: frozenset({name}) for name in names},
    )  # fmt: skip
    return replace(book_of("none"), profile=profile)


@pytest.mark.parametrize("value", published("jobs", prefix="en-"))
def test_published_invoices_from_line_to_total(value: dict[str, Any]) -> None:
    """Net, tax at several rates and total of whole published invoices."""
    lines = value["inputs"]["lines"]
    book = taxed_by_line({f"rate {line['rate']}": line["rate"] for line in lines})
    job = job_of(
        *(
            goods(n, Kind.PART, line["quantity"], line["price"], tax_class=f"rate {line['rate']}")
            for n, line in enumerate(lines, 1)
        )
    )

    got = result_of(job, book)

    assert got.subtotal == decimal(value, "expected", "net"), said(value)
    assert got.tax == decimal(value, "expected", "tax"), said(value)
    assert got.total == decimal(value, "expected", "total"), said(value)


@pytest.mark.parametrize("value", published("tax", prefix="ca-qc-100"))
def test_published_tax_through_a_whole_job(value: dict[str, Any]) -> None:
    """An hour at 100.00 is taxed as the authority prints, and so is its estimate."""
    got = result(work(1, 60, estimate=D(60)), profile="ca-qc")

    taxes = {tax.component: tax.amount for tax in got.taxes}
    assert taxes["GST"] == decimal(value, "expected", "GST"), said(value)
    assert taxes["QST"] == decimal(value, "expected", "QST"), said(value)
    assert got.total == got.estimate_total == decimal(value, "expected", "total"), said(value)
    assert text([got.subtotal, got.tax, got.total]) == ["100.00", "14.98", "114.98"]


def test_minutes_and_hours_of_a_job() -> None:
    """60 estimated, 110 worked, 12 of them shown to someone: 98 are billed as 1.6 h."""
    got = result(
        work(1, 60, estimate=D(60)),
        work(2, 38),
        work(3, 12, non_billable=D(12), reason="demonstration"),
        goods(4, Kind.PART, "7", "0.00", estimate=D(9), non_billable=D(2)),
    )

    assert (got.actual_minutes, got.estimate_minutes, got.non_billable_minutes) == (110, 60, 12)
    assert str(got.billed_hours) == "1.6"
    assert text([got.subtotal, got.non_billable_value]) == ["160.00", "20.00"]


@pytest.mark.parametrize(
    ("opened", "price"), [(date(2025, 5, 31), "90"), (date(2025, 6, 1), "95")]
)
def test_labour_is_billed_at_the_rate_of_the_day_the_job_was_opened(
    opened: date, price: str
) -> None:
    """The day before a new rate has the old one, whatever day it is now."""
    book = replace(book_of("none"), as_of=date(2025, 12, 31))
    rates = (rate("bench", date(2025, 6, 1), "95"), rate("bench", date(2020, 1, 1), "90"))
    book = replace(book, catalogue=book.catalogue._replace(rates=rates))

    got = result_of(replace(job_of(work(1, 60)), opened=opened), book)

    assert got.subtotal == D(price)


def test_a_typed_price_stands_over_the_rate() -> None:
    """Also a price of zero."""
    assert result(work(1, 60, price=D("70.00"))).subtotal == 70
    assert result(work(1, 60, price=D(0))).subtotal == 0


def test_a_class_without_rate_on_the_day_counts_as_nothing() -> None:
    """The finding is said where the book is read."""
    got = result_of(replace(job_of(work(1, 60)), opened=date(1999, 12, 31)), book_of("none"))

    assert got.subtotal == 0


@pytest.mark.parametrize(
    ("day", "vat"),
    [(date(2011, 1, 3), "17.50"), (date(2011, 1, 4), "20.00")],
    ids=["day-before", "day-of-change"],
)
def test_tax_is_that_of_the_as_of_day_until_the_invoice_is_out(day: date, vat: str) -> None:
    """Whatever day the job was opened on."""
    job = job_of(work(1, 60, price=D(100)))

    got = result_of(job, replace(book_of("gb", job), as_of=day))

    assert str(got.taxes[0].amount) == vat


def test_tax_is_that_of_the_invoice_once_it_is_out() -> None:
    """A change of rate after the invoice changes nothing on it."""
    job = job_of(work(1, 60, price=D(100)))
    book = replace(book_of("gb", job), as_of=date(2011, 2, 1))

    got = result_of(job, book, invoice_on(date(2011, 1, 3)))

    assert str(got.taxes[0].amount) == "17.50"


def test_no_rate_on_the_day_is_refused() -> None:
    """The tax and the day are named."""
    job = job_of(work(1, 60, price=D(100)))
    book = replace(book_of("gb", job), as_of=date(1990, 1, 1))

    with pytest.raises(RateMissingError, match=r"VAT .*1990-01-01"):
        result_of(job, book)


def test_a_line_may_be_taxed_as_another_class() -> None:
    """Labour that makes something new is taxed in California, repair is not."""
    repair, making = work(1, 60), work(2, 60, tax_class="fabrication")

    assert result(repair, making, profile="us-ca").taxes[0].base == 100


def test_a_discount_lowers_what_it_is_taxed_as() -> None:
    """Taxed as parts, it takes its tax off the parts."""
    part = goods(1, Kind.PART, "1", "100.00")
    off = goods(2, Kind.DISCOUNT, "1", "10.00", tax_class="part")

    got = result(part, off, profile="us-ca")

    assert (got.taxes[0].base, got.subtotal) == (D(90), D(90))
    assert got.billed[Kind.DISCOUNT] == -10


@pytest.mark.parametrize("state", ["enquiry", "estimated", "authorised", "in work", "halted",
                                   "declined", "void"])  # fmt: skip
def test_what_is_not_entered_counts_only_once_the_job_is_to_be_billed(state: str) -> None:
    """A sublet line that was only estimated costs nothing until then."""
    lining = Line(1, Kind.SUBLET, "Lining", estimate=D(1), price=D("168.00"))

    assert result(lining, state=state).subtotal == 0
    assert result(lining, state="to invoice").subtotal == 168


@pytest.mark.parametrize(("received", "stands"), [("0.00", "invoiced"), ("168.00", "paid")])
def test_a_billed_job_counts_as_estimated_whatever_its_state_says(
    received: str, stands: str
) -> None:
    """The owner may set the state back; the invoice is out, paid or not."""
    job = job_of(Line(1, Kind.SUBLET, "Lining", estimate=D(1), price=D(168)), state="in work")

    got = result_of(job, paid(book_of("none"), received), invoice_on(TODAY, "168.00"))

    assert (got.subtotal, got.stands) == (168, stands)


def test_the_estimate_has_its_own_tax() -> None:
    """An hour promised at 100.00 and two worked: 114.98 with tax against 229.95."""
    got = result(work(1, 120, estimate=D(60)), profile="ca-qc")

    assert text([got.estimate_net, got.estimate_total]) == ["100.00", "114.98"]
    assert text([got.subtotal, got.total]) == ["200.00", "229.95"]


@pytest.mark.parametrize(
    ("payments", "stands", "balance"),
    [
        ([], "invoiced", "100.00"),
        (["99.99"], "invoiced", "0.01"),
        (["60.00", "40.00"], "paid", "0.00"),
        (["100.01"], "paid", "-0.01"),
        (["100.00", "-30.00"], "invoiced", "30.00"),
    ],
)
def test_a_billed_job_stands_at_invoiced_or_paid(
    payments: list[str], stands: str, balance: str
) -> None:
    """Up to the last cent; money given back is owed again."""
    book = book_of("none")
    for amount in payments:
        book = paid(book, amount)

    got = result_of(job_of(), paid(book, "5.00", "25-0002"), invoice_on(TODAY))

    assert (got.stands, str(got.balance), got.invoice) == (stands, balance, "25-0001")


def test_without_invoice_nothing_is_owed() -> None:
    """The job stands where the owner says."""
    got = result(work(1, 60), state="halted")

    assert (got.stands, got.balance, got.invoice) == ("halted", None, "")


def test_paid_counts_the_payments_of_that_invoice() -> None:
    """Others are for others."""
    book = paid(paid(paid(book_of("none"), "5.00"), "-2.00"), "9.00", "25-0002")

    assert paid_on("25-0001", book) == 3
    assert paid_on("25-0003", book) == 0


def test_no_authorisation_is_no_ceiling() -> None:
    """Not zero: unknown."""
    assert limits_of(job_of(), authorised(book_of("none"), "5", "25-0002")) == []


def test_the_ceiling_is_the_highest_amount_authorised() -> None:
    """Rows are the total then authorised; a later lower one takes nothing back."""
    book = authorised(authorised(authorised(book_of("none"), "100"), "250.50"), "90")

    assert result_of(job_of(), book).ceiling == D("250.50")


def test_a_job_number_is_known_in_any_case() -> None:
    """An authorisation for j-1 binds job J-1, as the live formula says."""
    job = job_of(number="J-1")

    assert result_of(job, authorised(book_of("none"), "10", "j-1")).ceiling == 10


@pytest.mark.parametrize(
    ("with_tax", "ceiling", "flag"),
    [
        (True, "114.98", ""),
        (True, "114.97", "above ceiling"),
        (False, "100.00", ""),
        (False, "99.99", "above ceiling"),
        (True, "0", "above ceiling"),
    ],
)
def test_the_ceiling_may_be_reached_and_not_passed(
    with_tax: bool, ceiling: str, flag: str  # noqa: FBT001
) -> None:  # fmt: skip
    """Equal is allowed, a cent more is not; with tax or before tax, as the shop means it."""
    job = job_of(work(1, 60))
    book = decided(authorised(book_of("ca-qc", job), ceiling), authorised_with_tax=with_tax)

    got = result_of(job, book)

    assert (got.flag, got.above_ceiling) == (flag, bool(flag))


@pytest.mark.parametrize(
    ("estimate", "minutes", "flag"),
    [(60, 60, ""), (60, 66, "over estimate"), (0, 66, ""), (120, 60, "")],
)
def test_more_than_estimated_is_flagged(estimate: int, minutes: int, flag: str) -> None:
    """Where nothing was estimated, nothing is run over."""
    assert result(work(1, minutes, estimate=D(estimate))).flag == flag


def test_the_ceiling_is_said_before_the_estimate() -> None:
    """A job over both shows what binds."""
    job = job_of(work(1, 120, estimate=D(60)))

    assert result_of(job, authorised(book_of("none"), "150")).flag == "above ceiling"


def test_an_empty_job_comes_to_zero_at_the_currency_s_places() -> None:
    """No lines, no taxes to speak of, but every figure is there."""
    got = result(profile="ca-qc")

    assert text([got.subtotal, got.tax, got.total, got.estimate_net]) == ["0.00"] * 4
    assert (got.billed_hours, got.actual_minutes) == (D(0), 0)
    assert [tax.component for tax in got.taxes] == ["GST", "QST"]


QUANTITIES = st.decimals(0, 1000, places=3)
PRICES = st.decimals(0, 1000, places=4)


@st.composite
def lines(draw: st.DrawFn) -> tuple[Line, ...]:
    """Draw lines of every kind, with and without actual, agreed price and other tax class."""
    made = []
    for n in range(1, draw(st.integers(0, 8)) + 1):
        kind = draw(st.sampled_from(Kind))
        amounts = st.integers(0, 400).map(D) if kind is Kind.LABOUR else QUANTITIES
        made.append(
            Line(
                n,
                kind,
                "x",
                estimate=draw(st.none() | amounts),
                actual=draw(st.none() | amounts),
                price=draw(PRICES),
                agreed_price=draw(st.none() | st.decimals(0, 500, places=2)),
                tax_class=draw(st.sampled_from(["", "zero", "fee"])),
            )
        )
    return tuple(made)


@given(lines(), st.sampled_from(["line", "job"]), st.sampled_from(["to invoice", "in work"]))
def test_lines_add_up_to_totals(made: tuple[Line, ...], scope: str, state: str) -> None:
    """Kinds add up to the net, taxes to the tax, both to the total; nothing is lost on the way."""
    job = job_of(*made, state=state)
    book = decided(BOOK, hours=HourPolicy(6, "nearest", scope))

    got = result_of(job, book)

    assert sum(c.amount for c in got.costs) == got.subtotal == sum(got.billed.values())
    assert sum(c.estimated for c in got.costs) == got.estimate_net == sum(got.estimated.values())
    assert sum(t.amount for t in got.taxes) == got.tax
    assert got.subtotal + got.tax == got.total
    taxable = sum(c.amount for c in got.costs if c.line.taxed_as != "zero")
    assert {t.base for t in got.taxes} == {taxable}
    assert all(amount == amount.quantize(D("0.01")) for amount in (got.total, got.subtotal))


BOOK = book_of("ca-qc")


@given(lines(), st.randoms(use_true_random=False))
def test_the_order_of_rows_changes_no_total(made: tuple[Line, ...], chance: Any) -> None:  # noqa: ANN401
    """A sheet sorted otherwise comes to the same."""
    mixed = list(made)
    chance.shuffle(mixed)

    one, other = (result_of(job_of(*order), BOOK) for order in (made, mixed))

    assert (one.total, one.taxes, one.billed) == (other.total, other.taxes, other.billed)


def test_figures_of_a_day_do_not_change_with_the_clock() -> None:
    """The same job on another as-of day at the same rates is the same."""
    job: Job = job_of(work(1, 98), goods(2, Kind.PART, "1", "10.00"))

    one = result_of(job, book_of("ca-qc", job))
    other = result_of(job, replace(book_of("ca-qc", job), as_of=TODAY + timedelta(days=90)))

    assert one.total == other.total
