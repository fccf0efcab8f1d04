"""Which jobs may be billed, and what is frozen when they are."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import Severity
from ledger_tools.shop.issue import Issued, highest_invoice, issue_invoices, with_invoices
from ledger_tools.shop.model import Customer, Job, ShopBook
from tests.shop.examples import (
    authorised,
    book_of,
    decided,
    goods,
    job_of,
    paid,
    results_of,
    work,
)

D = Decimal


def wording(customer: Customer, job: Job) -> Mapping[str, str]:
    """Return words that show what they were made of."""
    return {"customer_address": customer.address, "job_note": job.number}


def issue(book: ShopBook, *named: str) -> Issued:
    """Issue what is to be invoiced in a book."""
    return issue_invoices(results_of(book), book, wording, named=named, fingerprint="abc")


def fee(number: int, amount: str = "50.00", state: str = "to invoice") -> Job:
    """Return a job with one fee."""
    line = goods(1, Kind.FEE, "1", amount)
    return replace(job_of(line, state=state), number=f"25-{number:04}", row=number + 4)


def said(issued: Issued) -> list[tuple[str, str, str]]:
    """Return severity, code and job of every finding."""
    return [(f.severity.value, f.code, f.job) for f in issued.findings]


@pytest.mark.parametrize(
    ("with_tax", "ceiling", "goes_out"),
    [(True, "114.98", True), (True, "114.97", False), (False, "100.00", True),
     (False, "99.99", False)],
)  # fmt: skip
def test_the_ceiling_binds_to_the_cent(with_tax: bool, ceiling: str, goes_out: bool) -> None:  # noqa: FBT001
    """Equal passes, a cent above is refused, and both amounts are named."""
    book = authorised(book_of("ca-qc", job_of(work(1, 60))), ceiling)
    book = decided(book, authorised_with_tax=with_tax)

    issued = issue(book)

    assert bool(issued.invoices) is goes_out
    if not goes_out:
        (found,) = issued.findings
        assert (found.severity, found.code) == (Severity.ERROR, "above-ceiling")
        assert ("114.98" if with_tax else "100.00") in found.what
        assert ceiling in found.what


@pytest.mark.parametrize(("required", "severity"), [(False, "warning"), (True, "error")])
def test_a_job_nobody_authorised(required: bool, severity: str) -> None:  # noqa: FBT001
    """It goes out with a warning, or is held back where the shop says so."""
    book = decided(book_of("none", fee(1)), require_authorisation=required)

    issued = issue(book)

    assert said(issued) == [(severity, "not-authorised", "25-0001")]
    assert bool(issued.invoices) is not required


def test_an_authorised_job_goes_out_without_a_word() -> None:
    """There is nothing to say."""
    assert issue(authorised(book_of("none", fee(1)), "50")).findings == ()


def test_numbers_follow_the_numbers_of_the_jobs() -> None:
    """Whatever the order of the rows, and past the width of the pattern too."""
    jobs = [fee(n) for n in (10001, 9999, 2, 10000)]
    book = replace(book_of("none", *jobs), last_invoice=9998)

    issued = issue(book)

    assert [(i.number, i.job) for i in issued.invoices] == [
        ("25-9999", "25-0002"), ("25-10000", "25-9999"), ("25-10001", "25-10000"),
        ("25-10002", "25-10001"),
    ]  # fmt: skip
    assert issued.last_invoice == 10002


def test_a_job_held_back_takes_no_number() -> None:
    """The second of three is above its ceiling: the third gets the second number."""
    book = authorised(book_of("none", fee(1), fee(2), fee(3)), "49.99", "25-0002")

    issued = issue(book)

    assert [(i.number, i.job) for i in issued.invoices] == [
        ("25-0001", "25-0001"), ("25-0002", "25-0003"),
    ]  # fmt: skip


def test_a_job_named_twice_is_billed_once() -> None:
    """One invoice, one number."""
    issued = issue(book_of("none", fee(1)), "25-0001", "25-0001")

    assert [i.number for i in issued.invoices] == ["25-0001"]


def test_named_jobs_alone_are_billed() -> None:
    """The others wait."""
    issued = issue(book_of("none", fee(1), fee(2), fee(3)), "25-0002")

    assert [i.job for i in issued.invoices] == ["25-0002"]


@pytest.mark.parametrize("state", ["in work", "estimated", "declined", "void"])
def test_a_named_job_has_to_be_due(state: str) -> None:
    """The state is named, with the way to change it; unnamed it is left alone silently."""
    book = book_of("none", fee(1, state=state))

    (found,) = issue(book, "25-0001").findings

    assert (found.code, f"'{state}'" in found.what) == ("job-not-to-invoice", True)
    assert "to invoice" in found.remedy
    assert issue(book) == Issued((), 0, ())


def test_a_billed_job_is_not_billed_again() -> None:
    """Not in the next batch, not when named; the invoice it has is named."""
    book = book_of("none", fee(1))
    book = with_invoices(book, issue(book))

    assert issue(book).invoices == ()
    (found,) = issue(book, "25-0001").findings
    assert "Invoice 25-0001" in found.remedy
    paid_up = paid(book, "50.00")
    assert issue(paid_up).invoices == ()


@pytest.mark.parametrize(
    "lines",
    [
        (),
        (work(1, 0, estimate=D(60)),),
        (goods(1, Kind.PART, "0", "5.00", estimate=D(2)),),
    ],
    ids=["no-lines", "no-minutes", "not-used"],
)
def test_nothing_done_is_nothing_to_bill(lines: tuple[Line, ...]) -> None:
    """An invoice without anything on it is not made."""
    issued = issue(authorised(book_of("none", job_of(*lines)), "500"))

    assert said(issued) == [("error", "nothing-to-bill", "25-0001")]
    assert issued.invoices == ()


@pytest.mark.parametrize("lacking", ["name", "address"])
def test_a_shop_without_name_or_address_is_told(lacking: str) -> None:
    """Its papers would not say whose they are; they go out all the same."""
    book = authorised(book_of("none", fee(1)), "500")
    settings = replace(book.settings, **{lacking: ""})  # type: ignore[arg-type]
    unnamed = replace(book, settings=settings)

    issued = issue(unnamed)

    assert said(issued) == [("warning", "shop-unnamed", "")]
    assert len(issued.invoices) == 1
    assert said(issue(book)) == []


def test_work_given_away_is_an_invoice_of_zero() -> None:
    """All of it not billable, and the paper shows it."""
    line = work(1, 60, non_billable=D(60), reason="warranty")
    (invoice,) = issue(authorised(book_of("none", job_of(line)), "500")).invoices

    assert str(invoice.total) == "0.00"
    assert str(invoice.lines[0].non_billable_value) == "100.00"


def test_a_discount_above_everything_is_refused() -> None:
    """Money given back is no invoice; exactly nothing is."""
    part = goods(1, Kind.PART, "1", "20.00")

    def batch(off: str) -> Issued:
        job = job_of(part, goods(2, Kind.DISCOUNT, "1", off))
        return issue(authorised(book_of("none", job), "500"))

    assert said(batch("20.01")) == [("error", "negative-total", "25-0001")]
    assert str(batch("20.00").invoices[0].total) == "0.00"


@pytest.mark.parametrize(
    ("day", "vat"), [(date(2011, 1, 3), "17.50"), (date(2011, 1, 4), "20.00")]
)
def test_tax_is_that_of_the_day_of_the_invoice(day: date, vat: str) -> None:
    """The day before a change and the day of it; number and due date are of that day too."""
    job = replace(job_of(work(1, 60, price=D(100))), opened=date(2010, 6, 1))
    book = decided(replace(book_of("gb", job), as_of=day), terms_days=30)

    (invoice,) = issue(book).invoices

    assert (str(invoice.tax), invoice.number) == (vat, "11-0001")
    assert (invoice.day, invoice.due) == (day, day + timedelta(days=30))


def test_what_stands_on_an_invoice() -> None:
    """Lines with hours, price or agreed price, cost, estimate and what was not billed."""
    lines = (
        work(1, 98, estimate=D(60), non_billable=D(12), reason="teaching"),
        goods(2, Kind.SUBLET, "2", "168.00", cost=D("140.005"), vendor="Coater",
              non_billable=D("0.5"), reason="rework"),
        goods(3, Kind.PART, "1", "9.00", agreed_price=D("7.50")),
        Line(4, Kind.MATERIAL, "Not used", estimate=D(3), actual=D(0), price=D(2)),
        Line(5, Kind.FEE, "Neither promised nor done", price=D(2)),
    )  # fmt: skip
    customer = Customer("r. calder", "14 Alder Street")
    book = replace(book_of("none", job_of(*lines)), customers=(customer,))

    (invoice,) = issue(book).invoices

    labour, sublet, part, unused = invoice.lines
    assert (labour.quantity, labour.unit, labour.price, labour.amount) == (
        D("1.4"), "h", D("100.00"), D("140.00"),
    )  # fmt: skip
    assert (labour.estimate, labour.actual, labour.non_billable, labour.reason) == (
        D(60), D(98), D(12), "teaching",
    )  # fmt: skip
    assert (labour.non_billable_value, labour.estimated, labour.cost) == (D("20.00"), D(100), None)
    assert (sublet.quantity, sublet.amount, sublet.vendor) == (D("1.5"), D("252.00"), "Coater")
    assert sublet.cost == D("280.01"), "the cost of what was used, billed or not"
    assert (part.price, part.amount) == (None, D("7.50"))
    assert (unused.amount, unused.estimated, unused.quantity) == (D(0), D(6), D(0))
    assert invoice.subtotal == sum(line.amount for line in invoice.lines)
    assert invoice.wording == {"customer_address": "14 Alder Street", "job_note": "25-0001"}
    assert (invoice.fingerprint, invoice.currency, invoice.item) == ("abc", "USD", "Oil pan")


def test_a_line_agreed_to_be_free_shows_no_price() -> None:
    """A price of an hour beside an amount of nothing would not multiply out."""
    (invoice,) = issue(book_of("none", job_of(work(1, 60, agreed_price=D(0))))).invoices

    (line,) = invoice.lines
    assert (line.price, line.quantity, str(line.amount)) == (None, D(1), "0.00")


def test_labour_has_no_cost_of_its_own() -> None:
    """A cost typed on a labour line is not counted: minutes are no units."""
    (invoice,) = issue(book_of("none", job_of(work(1, 60, cost=D(20))))).invoices

    assert invoice.lines[0].cost is None


def test_a_customer_who_is_not_in_the_book_still_gets_the_invoice() -> None:
    """With the name from the job and no address."""
    (invoice,) = issue(book_of("none", fee(1))).invoices

    assert (invoice.customer, invoice.wording["customer_address"]) == ("R. Calder", "")


def test_the_highest_number_is_kept_though_its_row_be_gone() -> None:
    """What Start remembers counts, and so does a row above it; other words are no numbers."""
    book = book_of("none", fee(1))
    issued = with_invoices(book, issue(book))
    strange = {**issued.invoices, "draft": issued.invoices["25-0001"]}

    assert highest_invoice(replace(book, last_invoice=7)) == 7
    assert highest_invoice(replace(issued, last_invoice=0)) == 1
    assert highest_invoice(replace(issued, invoices=strange)) == 1


@pytest.mark.parametrize(("days", "warned"), [(0, False), (1, False), (-1, True)])
def test_a_date_before_the_last_invoice_is_said(days: int, warned: bool) -> None:  # noqa: FBT001
    """A clock set back dates invoices out of order; the same day is in order."""
    first = authorised(book_of("none", fee(1), fee(2, state="in work")), "50.00")
    book = authorised(with_invoices(first, issue(first)), "50.00", "25-0002")
    later = replace(book, jobs=(book.jobs[0], fee(2)), as_of=book.as_of + timedelta(days=days))

    issued = issue(later)

    assert [i.number[-4:] for i in issued.invoices] == ["0002"]
    assert said(issued) == ([("warning", "date-set-back", "")] if warned else [])
    assert all("25-0001 was issued on 2025-03-31" in f.what for f in issued.findings)


def test_numbers_go_on_in_the_next_year() -> None:
    """One book, one sequence; only the year in front changes."""
    book = replace(book_of("none", fee(1)), last_invoice=12, as_of=date(2026, 1, 2))

    assert issue(book).invoices[0].number == "26-0013"


@given(
    st.lists(st.lists(st.sampled_from(["due", "over", "waits"]), max_size=4), max_size=5),
)
def test_numbers_have_no_gaps_over_batches(batches: list[list[str]]) -> None:
    """However many jobs are held back in however many batches: 1, 2, 3 and none twice."""
    book = BOOK
    given_numbers: list[str] = []
    for batch in batches:
        first = len(book.jobs) + 1
        for n, what in enumerate(batch, first):
            job = fee(n, state="in work" if what == "waits" else "to invoice")
            book = replace(book, jobs=(*book.jobs, job))
            book = authorised(book, "49.99" if what == "over" else "50.00", job.number)
        issued = issue(book)
        given_numbers += [i.number for i in issued.invoices]
        book = with_invoices(book, issued)

    due = sum(what == "due" for batch in batches for what in batch)
    assert given_numbers == [f"25-{n:04}" for n in range(1, due + 1)]
    assert len({i.job for i in book.invoices.values()}) == due


BOOK = book_of("none")
