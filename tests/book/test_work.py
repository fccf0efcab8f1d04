"""From the book as read to the plan: once up to date it stays so, whoever saved it in between."""

import re
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    PAYMENTS_TABLE,
)
from ledger_tools.book.registers import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.work import Outcome, add_job
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import LedgerError, RequestError, Severity, UnknownClassError
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.intake import draft_job, first_authorisation
from ledger_tools.shop.plan import AddSheet, SetCell
from tests import libreoffice
from tests.book.scenario import whole_book
from tests.book.shop import (
    BAD,
    GOOD,
    LABOUR,
    PART,
    SPARE,
    TODAY,
    Shop,
    Typed,
    by_code,
    only,
    typed_cells,
)
from tests.parts import read_parts, write_parts

TEXT = '=HYPERLINK("http://example.org","free")'


@pytest.mark.parametrize(
    ("profile", "hours", "start"),
    [
        ("gb", HourPolicy(6, "nearest", "job"), 11),
        ("us-ca", HourPolicy(15, "up", "line"), 12),
        ("ca-qc", HourPolicy(1, "nearest", "job"), 13),
    ],
)
def test_a_second_recompute_writes_nothing(
    tmp_path: Path, profile: str, hours: HourPolicy, start: int
) -> None:
    """What was worked out once needs no second time, and the file keeps its bytes."""
    shop = whole_book(tmp_path, profile, hours, start=start)
    before = shop.path.read_bytes()

    outcome = shop.recompute()

    assert outcome.plan.operations == ()
    assert shop.path.read_bytes() == before


def test_another_day_writes_what_hangs_on_the_day(billed: Shop) -> None:
    """The as-of date and the days overdue; nothing else."""
    billed.today = TODAY + timedelta(days=20)

    outcome = billed.recompute()

    grid = billed.grid(INVOICES_TABLE)
    assert billed.value(INVOICES_TABLE, 1, "overdue") == 6
    places = {(op.sheet, op.col) for op in typed_cells(outcome)}
    assert {sheet for sheet, _ in places} <= {"Start", "Invoices", BAD}
    assert ("Invoices", grid.columns["overdue"]) in places
    assert len([op for op in typed_cells(outcome) if op.sheet == "Invoices"]) == 1


def figures(outcome: Outcome) -> Iterator[tuple[str, object]]:
    """Yield what the jobs come to, to compare."""
    for number, result in outcome.results.items():
        yield number, (
            result.subtotal, result.taxes, result.total, result.estimate_total, result.ceiling,
            result.billed_hours, result.balance, result.stands, result.flag,
            result.non_billable_value,
        )  # fmt: skip


@pytest.mark.libreoffice
def test_a_book_saved_by_libreoffice_keeps_its_figures(tmp_path: Path) -> None:
    """Figures are found again, what the save lost is put back once, and then nothing is left."""
    shop = whole_book(tmp_path, "ca-qc", HourPolicy(6, "up", "job"), start=21)
    before = dict(figures(shop.check()))
    found = [str(f) for f in shop.check().findings]
    saved = Shop(tmp_path / "shop.xlsx", shop.today)
    saved.path.write_bytes(libreoffice.resaved(shop.path, tmp_path).read_bytes())

    outcome = saved.recompute()

    assert dict(figures(outcome)) == before
    assert [str(f) for f in outcome.findings] == found
    assert saved.recompute().plan.operations == ()
    assert dict(figures(saved.check())) == before


@pytest.mark.libreoffice
def test_work_goes_on_in_a_book_saved_by_libreoffice(billed: Shop, tmp_path: Path) -> None:
    """Jobs are opened, lines under the table taken in, invoices issued as before."""
    billed.path.write_bytes(libreoffice.resaved(billed.path, tmp_path).read_bytes())
    billed.type_job(3, customer="C. Dorn", item="Rack", repair="GATE")
    under = billed.grid(BAD).table_end - billed.grid(BAD).header_row + 1
    billed.fill(BAD, under, kind="labour", description="More", actual="1h30")

    outcome = billed.recompute()

    assert outcome.opened == ("25-0003",)
    assert {f.severity for f in outcome.findings} == {Severity.NOTE}
    assert outcome.results[BAD].actual_minutes == 90
    billed.type_job(3, state="to invoice")
    billed.fill("25-0003", LABOUR, actual=60)
    billed.fill("25-0003", 12, price=1)
    assert billed.invoice().invoices == ("25-0002",)


def test_the_spreadsheet_way_is_the_same_as_add_job(tmp_path: Path) -> None:
    """A row typed in Jobs gets by recompute what add-job gives: number, sheet, every cell."""
    typed = Shop.new(tmp_path, "us-ca")
    typed.type_job(1, customer="R. Calder", item="Tank", repair="TANK-LINE", state="in work")
    typed.recompute()
    folder = tmp_path / "added"
    folder.mkdir()
    added = Shop.new(folder, "us-ca")
    added.add(item="Tank", repair="TANK-LINE", state="in work")

    for sheet in (GOOD, "Jobs", "Customers"):
        assert typed.sheet(sheet) == added.sheet(sheet)
    assert [s.name for s in typed.snapshot().sheets] == [s.name for s in added.snapshot().sheets]


def test_the_newest_job_sheet_stands_right_after_jobs(tmp_path: Path) -> None:
    """Jobs opened together stand newest first, as do jobs opened one by one."""
    shop = Shop.new(tmp_path)
    shop.add()
    shop.type_job(2, customer="A", item="b")
    shop.type_job(3, customer="C", item="d")
    shop.recompute()
    shop.add()

    names = [s.name for s in shop.snapshot().sheets]

    assert names[1:6] == ["Jobs", "25-0004", "25-0003", "25-0002", "25-0001"]


def test_a_job_links_to_its_sheet_and_back(tmp_path: Path) -> None:
    """The number in Jobs leads to the sheet, the sheet leads back."""
    shop = Shop.new(tmp_path)
    shop.add(repair="GATE")

    assert shop.sheet("Jobs").links[5, 1] == f"'{GOOD}'!A1"
    assert "Jobs!A1" in shop.sheet(GOOD).links.values()


def test_an_enquiry_gets_neither_number_nor_sheet(tmp_path: Path) -> None:
    """Typed or added, it is a row of Jobs and a customer; estimated, it is a job."""
    shop = Shop.new(tmp_path)
    shop.add(customer="Ann Bell", item="Gate?", repair="GATE", state="enquiry")
    shop.type_job(2, customer="C. Dorn", item="Rack?", state="enquiry")
    shop.recompute()

    assert [shop.value(JOBS_TABLE, row, "number") for row in (1, 2)] == [None, None]
    assert [shop.value(JOBS_TABLE, 1, key) for key in ("customer", "item", "repair", "state")] == [
        "Ann Bell", "Gate?", "GATE", "enquiry",
    ]  # fmt: skip
    assert [s.name for s in shop.snapshot().sheets][1:3] == ["Jobs", "Customers"]
    assert [shop.value(CUSTOMERS_TABLE, row, "name") for row in (1, 2)] == ["Ann Bell", "C. Dorn"]

    shop.type_job(1, state="estimated")
    assert shop.recompute().opened == (GOOD,)
    assert shop.value(JOBS_TABLE, 1, "number") == GOOD


@pytest.mark.parametrize("what", ["lines", "authorised"])
def test_an_enquiry_can_hold_no_lines_and_no_amount(tmp_path: Path, what: str) -> None:
    """They would have no sheet and no number to hang on, so they are refused, not lost."""
    shop = Shop.new(tmp_path)
    lines = (Line(1, Kind.FEE, "Towing"),) if what == "lines" else ()
    draft = draft_job("A", "b", repair="", state="enquiry", opened=TODAY, lines=lines)
    given = first_authorisation(Decimal(5), TODAY) if what == "authorised" else None

    with pytest.raises(RequestError, match="has no number and no sheet yet"):
        add_job(shop.snapshot(), draft, as_of=TODAY, authorised=given)


def test_add_job_writes_that_job_and_nothing_else(shop: Shop) -> None:
    """What else waits in the book is said and left for recompute."""
    shop.fill(BAD, LABOUR, actual="1h30")
    shop.type_job(3, customer="C. Dorn", item="Rack")
    there = shop.sheet(BAD).values[shop.grid(BAD).cells["labour_billed"]]

    number = shop.add(item="Third", repair="GATE")

    assert number == "25-0003"
    assert shop.value(JOBS_TABLE, 3, "number") is None
    assert shop.value(JOBS_TABLE, 4, "number") == "25-0003"
    assert shop.head(BAD, "labour_billed") == there
    assert shop.recompute().opened == ("25-0004",)


def test_waiting_rows_are_said(shop: Shop) -> None:
    """add-job tells of typed rows that still need a number."""
    shop.type_job(3, customer="C. Dorn", item="Rack")
    draft = draft_job("A", "b", repair="", state="in work", opened=TODAY)

    outcome = add_job(shop.snapshot(), draft, as_of=TODAY)

    assert "1 " in only(outcome, "jobs-waiting").what


def test_a_job_is_not_written_over_a_row_with_nothing_but_a_number(shop: Shop) -> None:
    """A row whose customer was cleared is broken, and still taken."""
    shop.type_job(2, customer=None, item=None, repair=None, state=None, opened=None)

    shop.add(item="Third")

    assert shop.value(JOBS_TABLE, 2, "number") == BAD
    assert shop.value(JOBS_TABLE, 3, "number") == "25-0003"


@pytest.mark.parametrize(
    ("line", "error"),
    [
        (Line(1, Kind.LABOUR, "x", labour_class="smith"), UnknownClassError),
        (Line(1, Kind.PART, "x", tax_class="vat"), UnknownClassError),
    ],
)
def test_lines_with_unknown_classes_are_refused(
    tmp_path: Path, line: Line, error: type[LedgerError]
) -> None:
    """Nothing is planned for a line that could not be read back."""
    shop = Shop.new(tmp_path)
    draft = draft_job("A", "b", repair="", state="in work", opened=TODAY, lines=(line,))

    with pytest.raises(error, match="Give one of"):
        add_job(shop.snapshot(), draft, as_of=TODAY)


def test_text_stays_text_in_every_sheet(tmp_path: Path) -> None:
    """Words that look like formulas are stored as text: Jobs, Customers, sheet, registers."""
    shop = Shop.new(tmp_path)
    line = Line(1, Kind.FEE, "@SUM(1)", actual=Decimal(1), price=Decimal(5))
    shop.add(customer=TEXT, item="+1", state="to invoice", lines=(line,), authorised="100")
    shop.invoice()

    for sheet in shop.snapshot().sheets:
        assert not [f for f in sheet.formulas.values() if "HYPERLINK" in f or "@SUM" in f]
    assert shop.value(JOBS_TABLE, 1, "customer") == TEXT
    assert shop.value(CUSTOMERS_TABLE, 1, "name") == TEXT
    assert shop.value(GOOD, 1, "description") == "@SUM(1)"
    assert shop.value(INVOICES_TABLE, 1, "customer") == TEXT
    assert shop.value(INVOICES_TABLE, 1, "item") == "+1"
    assert shop.value(INVOICE_LINES_TABLE, 1, "description") == "@SUM(1)"
    assert shop.recompute().findings == ()


def test_an_issued_invoice_is_frozen(billed: Shop) -> None:
    """A change on the sheet after billing changes the job, not the invoice."""
    before = billed.parsed().book.invoices["25-0001"]
    billed.fill(GOOD, LABOUR, actual=600)
    billed.fill(CUSTOMERS_TABLE, 1, address="Elsewhere")

    outcome = billed.recompute()

    assert outcome.book.invoices["25-0001"] == before
    assert outcome.results[GOOD].actual_minutes == 600
    assert outcome.results[GOOD].invoice == "25-0001"


def test_an_invoice_is_read_back_as_it_was_issued(tmp_path: Path) -> None:
    """Every line, tax, word and figure comes back from the registers."""
    shop = Shop.new(tmp_path, "ca-qc")
    line = Line(1, Kind.SUBLET, "Lining", "job", Decimal(1), Decimal(2), Decimal("0.5"), "rework",
                Decimal("140.125"), None, "", "Coater", Decimal("99.99"), "zero")  # fmt: skip
    work = Line(2, Kind.LABOUR, "Weld", "min", Decimal(60), Decimal(98), Decimal(12),
                "demonstration", None, Decimal(100), "welding")  # fmt: skip
    shop.add(item="Tank", state="to invoice", lines=(line, work), authorised="1000")

    issued = shop.invoice().book.invoices["25-0001"]

    assert shop.parsed().book.invoices["25-0001"] == issued
    assert shop.parsed().book.invoices["25-0001"].wording == {"customer": "R. Calder"}


def test_invoice_twice_issues_nothing_the_second_time(billed: Shop) -> None:
    """The job is billed; its state in Jobs may stay as typed."""
    assert billed.value(JOBS_TABLE, 1, "state") == "to invoice"

    outcome = billed.invoice()

    assert outcome.invoices == ()
    assert outcome.plan.operations == ()


def test_naming_a_billed_job_again_is_an_error(billed: Shop) -> None:
    """The invoice is named, with the way to mend it."""
    found = only(billed.invoice(GOOD), "job-not-to-invoice")

    assert "25-0001" in found.remedy
    assert "credit note" in found.remedy


def test_numbers_go_on_where_the_last_batch_ended(tmp_path: Path) -> None:
    """Three batches, one of them with a job held back: no gap, no number twice."""
    shop = Shop.new(tmp_path)
    fee = Line(1, Kind.FEE, "Towing", actual=Decimal(1), price=Decimal(50))
    for state in ("to invoice", "to invoice", "in work", "to invoice"):
        shop.add(state=state, lines=(fee,), authorised="100")
    shop.fill(AUTHORISATIONS_TABLE, 2, amount=10)

    first = shop.invoice()
    shop.fill(AUTHORISATIONS_TABLE, 2, amount=50)
    shop.type_job(3, state="to invoice")
    second = shop.invoice()

    refused = [f for f in by_code(first, "above-ceiling") if f.severity is Severity.ERROR]
    assert [f.job for f in refused] == ["25-0002"]
    assert first.invoices == ("25-0001", "25-0002")
    assert [first.book.invoices[n].job for n in first.invoices] == ["25-0001", "25-0004"]
    assert second.invoices == ("25-0003", "25-0004")
    assert [second.book.invoices[n].job for n in second.invoices] == ["25-0002", "25-0003"]
    assert shop.named("shop_last_invoice") == 4


def test_deleted_numbers_are_not_given_again(tmp_path: Path) -> None:
    """The last number stands on Start, so a deleted row leaves a gap and no second life."""
    shop = Shop.new(tmp_path)
    shop.add()
    shop.add()
    shop.type_job(2, number=None, customer=None, item=None, state=None, opened=None)

    assert shop.add() == "25-0003"


def test_a_new_book_opens_on_day_one(tmp_path: Path) -> None:
    """A book without jobs is up to date but for nothing."""
    shop = Shop.new(tmp_path)

    assert shop.check().findings == ()
    assert shop.recompute().plan.operations == ()


def test_plans_name_new_sheets_first(shop: Shop) -> None:
    """Formulas refer to new sheets, so these stand before cells in the plan."""
    shop.type_job(3, customer="C. Dorn", item="Rack")
    kinds = [type(op) for op in shop.check().plan.operations]

    assert kinds.index(AddSheet) < kinds.index(SetCell)
    assert kinds == sorted(kinds, key=[AddSheet, *set(kinds) - {AddSheet, SetCell}, SetCell].index)


def test_a_price_that_was_cleared_is_the_rate_again(shop: Shop) -> None:
    """A labour line whose typed price goes is priced by its class."""
    shop.fill(BAD, LABOUR, actual=60, price=50)
    shop.recompute()
    assert shop.value(BAD, LABOUR, "amount") == 50
    shop.fill(BAD, LABOUR, price=None)

    shop.recompute()

    assert shop.value(BAD, LABOUR, "price") == 100
    assert shop.value(BAD, LABOUR, "amount") == 100


def test_over_the_ceiling_is_a_warning_until_it_is_billed(shop: Shop) -> None:
    """Recompute warns at the job's flag; invoice refuses; both name both amounts."""
    shop.fill(BAD, PART, price=0)
    shop.fill(BAD, LABOUR, actual=60)
    shop.add(authorised="5")
    shop.fill(AUTHORISATIONS_TABLE, 2, job=BAD, day=TODAY, amount=Decimal("114.97"))

    warned = only(shop.recompute(), "above-ceiling")

    assert (warned.severity, warned.sheet, warned.cell) == (Severity.WARNING, BAD, "A10")
    assert "114.98" in warned.what
    assert "114.97" in warned.what
    assert shop.value(JOBS_TABLE, 2, "flag") == "above ceiling"
    shop.decide("shop_authorised_with_tax", "no")
    assert not by_code(shop.recompute(), "above-ceiling")


def test_every_invoice_is_printed_and_no_stored_wording(billed: Shop) -> None:
    """The area to print ends before the wording and grows with the register."""

    def printed() -> str:
        return str(openpyxl.load_workbook(billed.path)["Invoices"].print_area)

    assert printed() == "'Invoices'!$A$1:$N$5"
    billed.fill(BAD, LABOUR, actual=60)
    billed.type_job(2, state="to invoice")
    billed.invoice()
    assert printed() == "'Invoices'!$A$1:$N$6"


def test_a_customer_is_written_as_in_customers(shop: Shop) -> None:
    """However the name is typed in Jobs, the paper has the one of Customers."""
    shop.type_job(3, customer="r. CALDER ", item="Sump")

    outcome = shop.recompute()

    assert "'R. Calder'" in only(outcome, "words-read").what
    assert shop.value(JOBS_TABLE, 3, "customer") == "R. Calder"
    assert [job.customer for job in outcome.book.jobs] == ["R. Calder", "Ann Bell", "R. Calder"]
    assert not by_code(outcome, "customer-added")


def test_a_payment_finds_its_invoice_however_the_number_is_written(tmp_path: Path) -> None:
    """The number is put back as issued; customer and rest stand beside it at once."""
    shop = Shop.new(tmp_path)
    shop.decide("shop_number_pattern", "F{yy}-{n:03}")
    fee = Line(1, Kind.FEE, "Fee", actual=Decimal(1), price=Decimal(80))
    shop.add(state="to invoice", lines=(fee,))
    shop.invoice()
    shop.fill(PAYMENTS_TABLE, 1, day=TODAY, invoice="f25-001 ", amount=30)

    outcome = shop.recompute()

    assert "'F25-001'" in only(outcome, "words-read").what
    row = [shop.value(PAYMENTS_TABLE, 1, key) for key in ("invoice", "customer", "owing")]
    assert row == ["F25-001", "R. Calder", 50]
    assert shop.recompute().plan.operations == ()


def test_a_job_that_left_its_invoice_is_a_warning(billed: Shop) -> None:
    """A line or a setting changed after billing: both totals are named, the invoice stays."""
    assert not by_code(billed.check(), "invoice-differs")
    before = billed.parsed().book.invoices
    billed.fill(GOOD, SPARE, kind="fee", description="More", actual=1, price=50)

    warned = only(billed.recompute(), "invoice-differs")

    total = billed.check().results[GOOD].total
    assert total - before["25-0001"].total == Decimal("57.49")
    assert (warned.severity, warned.sheet, warned.cell) == (Severity.WARNING, GOOD, "M8")
    assert str(total) in warned.what
    assert str(before["25-0001"].total) in warned.what
    assert billed.parsed().book.invoices == before


def test_payments_reach_job_customer_and_register(billed: Shop) -> None:
    """Paid in full, the job stands at paid and nobody owes anything."""
    total = billed.parsed().book.invoices["25-0001"].total
    billed.fill(PAYMENTS_TABLE, 2, day=TODAY, invoice="25-0001", amount=total - 10)

    billed.recompute()

    assert billed.head(GOOD, "stands") == "paid"
    assert billed.value(JOBS_TABLE, 1, "balance") == 0
    assert billed.value(CUSTOMERS_TABLE, 1, "owing") == 0
    assert billed.value(PAYMENTS_TABLE, 2, "customer") == "R. Calder"


def test_the_list_of_repair_codes_is_computed_where_a_program_left_it_empty(shop: Shop) -> None:
    """A library that saves no computed values would leave `Jobs` without choices."""
    name, col = shop.parsed().places.codes
    before = [(p, v) for p, v in shop.sheet(name).values.items() if p[1] == col]
    codes = [v for _, v in before if v]
    assert len(codes) > 5
    book = openpyxl.load_workbook(shop.path)
    book.save(shop.path)
    assert not [v for p, v in shop.sheet(name).values.items() if p[1] == col and p[0] > 4 and v]

    outcome = shop.recompute()

    assert [(p, v) for p, v in shop.sheet(name).values.items() if p[1] == col] == before
    assert "formula-restored" not in {finding.code for finding in outcome.findings}


@pytest.mark.parametrize(
    ("typed", "mark"),
    [
        ({"kind": "labour", "actual": 30}, "extra"),
        ({"kind": "fee", "actual": 1, "price": 5}, "extra"),
        ({"kind": "fee", "estimate": 0, "actual": 1, "price": 5}, "extra"),
        ({"kind": "discount", "actual": 1, "price": 5}, ""),
        ({"kind": "labour"}, ""),
        ({"kind": "labour", "estimate": 20, "actual": 30}, "over"),
        ({"kind": "labour", "estimate": 30, "actual": 30}, ""),
        ({"kind": "labour", "actual": 30, "non_billable": 5}, "reason?"),
        ({"kind": "labour", "actual": 30, "non_billable": 5, "reason": "waiting"}, "extra"),
    ],
)
def test_a_line_outside_the_estimate_is_marked(
    tmp_path: Path, typed: dict[str, Typed], mark: str
) -> None:
    """What nobody promised shows at a glance, where anything was promised at all."""
    for promised in (True, False):
        folder = tmp_path / str(promised)
        folder.mkdir()
        shop = Shop.new(folder)
        estimate = Decimal(1) if promised else None
        tow = Line(1, Kind.FEE, "Towing", estimate=estimate, price=Decimal(50))
        number = shop.add(lines=(tow,))
        shop.fill(number, 2, description="Found", **typed)

        shop.recompute()

        shown = shop.value(number, 2, "mark")
        assert shown == (mark if promised or mark != "extra" else "")


def test_a_new_job_is_seen_though_a_filter_hides_empty_rows(tmp_path: Path) -> None:
    """Rows with jobs that the owner's filter leaves out stay hidden."""
    shop = Shop.new(tmp_path)
    first = shop.add(item="Pan")
    parts = read_parts(shop.path)
    jobs = "xl/worksheets/sheet2.xml"
    parts[jobs] = re.sub(rb'<row r="([5-9]|1\d)"', rb'\g<0> hidden="1"', parts[jobs])
    write_parts(shop.path, parts)

    second = shop.add(item="Grate")

    rows = openpyxl.load_workbook(shop.path)["Jobs"].row_dimensions
    assert (first, second) == ("25-0001", "25-0002")
    assert [number for number in range(5, 10) if not rows[number].hidden] == [6]
