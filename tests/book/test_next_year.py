"""The next year's book: what is open goes along, nothing is lost, and the old book stays."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from ledger_tools.billing.periods import financial_year
from ledger_tools.billing.receivables import Receipt
from ledger_tools.billing.summaries import PeriodSummary, summarise
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    MATERIALS_TABLE,
    RATES_TABLE,
)
from ledger_tools.book.next_year import NextYear, open_next_year
from ledger_tools.book.reader import read_book
from ledger_tools.shop.carry import carry, compared, owed_on, year_to_open
from ledger_tools.shop.model import Payment, ShopBook
from ledger_tools.shop.results import JobResult
from tests import libreoffice
from tests.book.closing import OWING, PAID, archive, pay, year_end_shop
from tests.book.shop import Shop
from tests.book.test_formulas import differences
from tests.book.test_patch import _audit

DECEMBER = date(2025, 12, 30)
NEW_YEAR = date(2026, 1, 1)
OPEN = ("25-0001", "25-0003", "25-0006", "25-0007", "25-0009", "25-0012", "25-0013")


@pytest.fixture(scope="module")
def year_end_book(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """Return a shop at the end of its year, made once."""
    shop = year_end_shop(tmp_path_factory.mktemp("year-end"))
    shop.fill(MATERIALS_TABLE, 30, name="Owner's own sheet", unit="m2", price=Decimal("0.335"))
    shop.fill(RATES_TABLE, 8, labour_class="night", first_day=date(2025, 2, 1), rate=150)
    shop.type_job(15, customer="Ann *", item="Gate?", state="enquiry")
    shop.today = DECEMBER
    shop.decide("shop_first_month", 1)
    pay(shop, shop.check().results[OWING[0]].invoice, Decimal("10.01"))
    pay(shop, "no such invoice", 75)
    shop.recompute()
    return shop


@pytest.fixture
def shop(year_end_book: Shop, tmp_path: Path) -> Shop:
    """Return a shop of its own with that book."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(year_end_book.path.read_bytes())
    return Shop(path, year_end_book.today)


def _opened(shop: Shop, **options: Any) -> NextYear:  # noqa: ANN401 - as the tool takes them
    return open_next_year(read_book(shop.path), "new.xlsx", as_of=shop.today, **options)


def _new_shop(shop: Shop) -> Shop:
    made = _opened(shop)
    assert made.content, [str(f) for f in made.findings]
    path = shop.path.with_name("new.xlsx")
    path.write_bytes(made.content)
    return Shop(path, shop.today)


def _figures(result: JobResult) -> dict[str, Any]:
    return {key: value for key, value in result._asdict().items() if key != "job"}


def _summary(book: ShopBook, year: int) -> PeriodSummary:
    receipts = [Receipt(p.day, p.invoice, p.amount) for p in book.payments]
    return summarise(financial_year(year), book.invoices.values(), receipts, today=book.as_of)


def test_open_jobs_come_to_the_same(shop: Shop) -> None:
    """Every job not billed is there with all its figures and its ceiling, and no other job."""
    old = shop.check().results

    new = _new_shop(shop).check().results

    assert tuple(new) == OPEN
    assert {n: _figures(r) for n, r in new.items()} == {n: _figures(old[n]) for n in OPEN}
    assert any(r.ceiling is not None for r in new.values())


def test_job_sheets_go_along_as_they_are(shop: Shop) -> None:
    """Every cell of an open job's sheet shows what it showed, by the same formulas."""
    new = _new_shop(shop)

    for job in OPEN:
        assert new.sheet(job).values == shop.sheet(job).values
        assert new.sheet(job).formulas == shop.sheet(job).formulas
    names = [s.name for s in new.snapshot().sheets]
    assert names[: len(OPEN) + 3] == ["Start", "Jobs", *reversed(OPEN), "Customers"]


def test_what_is_owed_goes_along_to_the_cent(shop: Shop) -> None:
    """Debts by age, money paid too much and money without an invoice are those of the old book."""
    old, new = shop.check().book, _new_shop(shop).check().book

    for day in (DECEMBER, date(2025, 12, 31), NEW_YEAR + timedelta(days=90)):
        assert owed_on(new, day) == owed_on(old, day)
    assert owed_on(new, DECEMBER).ahead == -75
    assert owed_on(new, DECEMBER).overpaid < 0
    assert {i.job for i in new.invoices.values()} == {*OWING, PAID[2]}


def test_invoices_of_the_old_year_are_no_sales_of_the_new(shop: Shop) -> None:
    """The new year begins with what the old one ended with, and with nothing invoiced."""
    old, new = shop.check().book, _new_shop(shop).check().book

    begun, ended = _summary(new, 2026), _summary(old, 2025)

    assert (begun.invoices, begun.net, begun.tax, begun.total) == (0, 0, 0, 0)
    assert begun.roll_forward.opening == ended.roll_forward.closing
    assert begun.roll_forward.opening != 0


def test_payments_are_typed_in_the_new_book(shop: Shop) -> None:
    """An old invoice is settled there: it counts as received in the new year."""
    new = _new_shop(shop)
    new.today = NEW_YEAR + timedelta(days=5)
    (invoice,) = (i for i in new.check().book.invoices.values() if i.job == OWING[1])
    pay(new, invoice.number, invoice.total)

    outcome = new.recompute()

    assert not [f for f in outcome.findings if f.sheet == "Payments" and "no such" not in f.what]
    assert _summary(outcome.book, 2026).roll_forward.received == invoice.total


def test_numbers_go_on(shop: Shop) -> None:
    """Neither job nor invoice numbers begin anew or are given twice."""
    new = _new_shop(shop)
    new.today = NEW_YEAR

    assert new.add(state="to invoice") == "26-0014"
    new.fill("26-0014", 1, kind="fee", description="Towing", actual=1, price=50)
    assert new.invoice().invoices == ("26-0006",)


def test_lists_and_settings_are_the_old_ones(shop: Shop) -> None:
    """Rates, repairs, materials, taxes and customers, rows of the owner's among them."""
    old, new = shop.parsed().book, _new_shop(shop).parsed().book

    assert new.settings == old.settings
    assert new.catalogue == old.catalogue
    assert "Owner's own sheet" in {m.name for m in new.catalogue.materials}
    assert "night" in {r.labour_class for r in new.catalogue.rates}
    assert new.customers == old.customers
    assert (new.profile.rates, new.profile.taxable) == (old.profile.rates, old.profile.taxable)
    assert new.as_of == DECEMBER


def test_an_enquiry_goes_along(shop: Shop) -> None:
    """It has neither number nor sheet, and is still a promise to call back."""
    new = _new_shop(shop)

    last = len(OPEN) + 1
    assert new.value(JOBS_TABLE, last, "item") == "Gate?"
    assert new.value(JOBS_TABLE, last, "number") is None
    assert (new.grid(JOBS_TABLE).header_row + 1, 1) in new.sheet("Jobs").links


def test_authorisations_of_open_jobs_go_along(shop: Shop) -> None:
    """Every row of theirs, and none of a job that stays behind."""
    old, new = shop.parsed().book, _new_shop(shop).parsed().book

    kept = tuple(a._replace(row=0) for a in old.authorisations if a.job in OPEN)
    assert tuple(a._replace(row=0) for a in new.authorisations) == kept
    assert new.authorisations
    assert len(new.authorisations) < len(old.authorisations)


def test_the_new_book_is_up_to_date(shop: Shop) -> None:
    """Recompute has nothing to write, and finds what it found in the old book of these jobs."""
    new = _new_shop(shop)

    outcome = new.check()

    assert outcome.plan.operations == ()
    found = {(f.code, f.sheet, f.cell) for f in outcome.findings if f.job in OPEN}
    assert found == {(f.code, f.sheet, f.cell) for f in shop.check().findings if f.job in OPEN}


def test_the_old_book_is_not_changed(shop: Shop) -> None:
    """Not one byte."""
    before = shop.path.read_bytes()

    _new_shop(shop)

    assert shop.path.read_bytes() == before


def test_archived_jobs_stay_behind(shop: Shop) -> None:
    """A book with an archive opens the same new book."""
    before = _opened(shop)
    archive(shop)

    after = _opened(shop)

    assert [c.new for c in after.checks] == [c.new for c in before.checks]
    assert tuple(after.outcome.results) == OPEN


def test_what_belongs_to_the_new_year_goes_along_though_it_is_settled(shop: Shop) -> None:
    """Opened late in January: sales and money of January are summed up in the new book."""
    shop.today = date(2026, 1, 20)
    shop.type_job(1, state="to invoice")
    (number,) = shop.invoice("25-0001").invoices
    invoice = shop.check().book.invoices[number]
    pay(shop, number, invoice.total)
    (old_one,) = (i for i in shop.check().book.invoices.values() if i.job == OWING[1])
    pay(shop, old_one.number, old_one.total)
    shop.recompute()
    old = shop.check().book

    new = _new_shop(shop).check().book

    assert {number, old_one.number} <= set(new.invoices)
    for what in ("invoices", "net", "tax", "total", "roll_forward"):
        assert getattr(_summary(new, 2026), what) == getattr(_summary(old, 2026), what)


@pytest.mark.parametrize(
    ("today", "year"),
    [(date(2025, 12, 1), "2026"), (date(2026, 6, 1), "2026"), (date(2026, 7, 20), "2027")],
)
def test_the_year_nearest_to_today_is_opened(today: date, year: str) -> None:
    """Some weeks before its first day or some months after it."""
    assert year_to_open(today, first_month=1).name == year


def test_a_year_can_be_named(shop: Shop) -> None:
    """What belongs to it is counted from its first day."""
    assert _opened(shop, year=2025).year == "2025"
    assert len(_opened(shop, year=2025).outcome.book.invoices) == 5


def test_a_row_without_number_is_opened_first(shop: Shop) -> None:
    """A job typed and not yet recomputed has no sheet that could go along."""
    shop.type_job(16, customer="Ann *", item="Rack")

    made = _opened(shop)

    assert not made.content
    assert [f.code for f in made.findings][-1] == "next-year-waits"


def test_a_book_with_errors_is_put_in_order_first(shop: Shop) -> None:
    """A job that cannot be read cannot be carried over, so no book is made."""
    shop.fill("25-0009", 1, actual="an hour")

    made = _opened(shop)

    assert not made.content
    assert "next-year-waits" in [f.code for f in made.findings]


def test_an_owners_formula_that_speaks_of_another_sheet_becomes_its_value(shop: Shop) -> None:
    """It is named; one that stays on its sheet goes along."""
    shop.fill("25-0009", 2, cost="=Customers!G5*2", description="x")
    shop.fill("25-0009", 3, cost="=1+1")
    made = _opened(shop)

    (said,) = (f for f in made.findings if f.code == "formula-to-value")

    assert (said.sheet, said.cell) == ("25-0009", shop.cell("25-0009", 2, "cost"))
    new = _new_shop(shop)
    sheet, grid = new.sheet("25-0009"), new.grid("25-0009")
    assert sheet.values[grid.header_row + 2, grid.columns["cost"]] == 0
    assert (grid.header_row + 2, grid.columns["cost"]) not in sheet.formulas
    assert sheet.formulas[grid.header_row + 3, grid.columns["cost"]] == "1+1"


def test_the_comparison_finds_what_is_lost(shop: Shop) -> None:
    """A payment, a job, a number, a customer less in the new book is told."""
    old = shop.check()
    new = _new_shop(shop).check()

    def differing(book: ShopBook, results: dict[str, JobResult]) -> list[str]:
        checks = compared((old.book, old.results), (book, results), first_day=NEW_YEAR)
        return [check.what for check in checks if not check.same]

    results = dict(new.results)
    assert differing(new.book, results) == []
    without = replace(new.book, payments=new.book.payments[1:])
    assert [what.split(" ")[0] for what in differing(without, results)] == ["Owed", "Owed"]
    assert differing(replace(new.book, last_invoice=0, invoices={}), results)[-1] == (
        "Highest invoice number"
    )
    fewer = replace(new.book, jobs=new.book.jobs[1:])
    assert differing(fewer, results) == ["Open jobs", "Each open job"]
    assert differing(replace(new.book, customers=new.book.customers[1:]), results) == ["Customers"]
    late = new.results[OPEN[0]]._replace(total=Decimal("0.01"))
    assert "Each open job" in differing(new.book, results | {OPEN[0]: late})


def test_a_payment_of_the_new_year_takes_its_invoice_along(shop: Shop) -> None:
    """Paid in full, but on the first day of the new year: money received then."""
    outcome = shop.check()
    invoice = next(i for i in outcome.book.invoices.values() if i.job == PAID[0])
    last = max(n for n, p in enumerate(outcome.book.payments) if p.invoice == invoice.number)
    payments = list(outcome.book.payments)
    for day, goes in ((NEW_YEAR, True), (NEW_YEAR - timedelta(days=1), False)):
        payments[last] = Payment(day, invoice.number, payments[last].amount)
        book = replace(outcome.book, payments=tuple(payments))
        carried = carry(book, outcome.results, first_day=NEW_YEAR)
        assert (invoice in carried.invoices) is goes


def test_the_audit_finds_nothing(shop: Shop) -> None:
    """A checker of the file format has nothing to say of the new book."""
    assert _audit(_new_shop(shop).path) == []


@pytest.mark.libreoffice
def test_libreoffice_computes_the_new_book_the_same(shop: Shop, tmp_path: Path) -> None:
    """No formula cell differs from its value."""
    assert differences(_new_shop(shop).path, tmp_path) == []


@pytest.mark.libreoffice
def test_a_book_saved_by_libreoffice_opens_the_same_new_year(shop: Shop, tmp_path: Path) -> None:
    """Every check holds, and the new book is up to date."""
    before = _opened(shop)
    shop.path.write_bytes(libreoffice.resaved(shop.path, tmp_path).read_bytes())

    after = _opened(shop)

    assert [c.new for c in after.checks] == [c.new for c in before.checks]
    assert _new_shop(shop).check().plan.operations == ()
    assert {CUSTOMERS_TABLE.table, AUTHORISATIONS_TABLE.table} <= {
        t.name for s in _new_shop(shop).snapshot().sheets for t in s.tables
    }
