"""Paid jobs leave the book: no figure changes, nothing is lost, nothing moves unseen."""

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import xlsxwriter

from ledger_tools.billing.periods import period_from
from ledger_tools.book.archive import archive_path, plan_archive, save_archive
from ledger_tools.book.archive_book import ARCHIVE_TABLE
from ledger_tools.book.layout import CUSTOMERS_TABLE, JOBS_TABLE, PAYMENTS_TABLE, TAX_RATES_TABLE
from ledger_tools.book.patch import patched_book
from ledger_tools.book.reader import read_book, read_snapshot
from ledger_tools.book.registers import ARCHIVED_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.documents.quarter import quarter_workbook
from ledger_tools.documents.year_end import year_end_workbook
from ledger_tools.errors import BookChangedError, FileInTheWayError, Finding, Severity
from ledger_tools.shop.plan import AddSheet, Content, Plan, SheetKind
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import SheetSnapshot
from tests import libreoffice
from tests.book.closing import OWING, PAID, archive, pay, year_end_shop
from tests.book.shop import Shop, with_sheet
from tests.book.test_formulas import differences
from tests.book.test_patch import _audit
from tests.parts import read_parts, write_parts

FIRST, SECOND, OVERPAID = PAID
QUARTER = period_from("2025-Q1")


@pytest.fixture(scope="module")
def year_end_book(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """Return a shop at the end of its year, made once."""
    return year_end_shop(tmp_path_factory.mktemp("year-end"))


@pytest.fixture
def shop(year_end_book: Shop, tmp_path: Path) -> Shop:
    """Return a shop of its own with that book."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(year_end_book.path.read_bytes())
    return Shop(path, year_end_book.today)


def _figures(result: JobResult) -> dict[str, Any]:
    """Return all that a job comes to, where it stands and how it is kept left out."""
    apart = {"job", "stands"}
    return {key: value for key, value in result._asdict().items() if key not in apart}


def _new(found: tuple[Finding, ...], before: Outcome) -> list[Finding]:
    return [f for f in found if f not in before.findings]


def test_a_tax_class_of_archived_lines_that_is_gone_is_named(shop: Shop) -> None:
    """Its row was deleted in Taxes since: only the archived jobs taxed as that are held back."""
    archive(shop)
    snapshot = shop.snapshot()
    (taxes,) = (sheet for sheet in snapshot.sheets if sheet.name == TAX_RATES_TABLE.sheet)
    place = next(place for place, value in taxes.values.items() if value == "labour")
    values = {p: "labor" if p == place else v for p, v in taxes.values.items()}
    left = with_sheet(snapshot, taxes.name, taxes.replaced(values=values))

    outcome = work_out(left, as_of=shop.today)

    found = [f for f in outcome.findings if f.code == "tax-class-unknown" and f.job in PAID]
    assert [f.job for f in found] == list(PAID)
    assert {(f.sheet, f.what) for f in found} == {("", "The sheet Taxes has no class 'labour'")}
    assert not set(PAID) & set(outcome.results)


def _archived_sheet(shop: Shop, name: str) -> SheetSnapshot:
    sheets = read_snapshot(archive_path(shop.path)).sheets
    return next(s for s in sheets if s.name == name)


def test_no_figure_changes(shop: Shop) -> None:
    """Jobs, invoices, payments and customers come to the same; only where jobs stand differs."""
    before = shop.check()

    archive(shop)

    after = shop.check()
    assert {n: _figures(r) for n, r in after.results.items()} == {
        n: _figures(r) for n, r in before.results.items()
    }
    assert {n for n, r in after.results.items() if r.stands == "archived"} == set(PAID)
    assert [r.stands for n, r in before.results.items() if n in PAID] == ["paid"] * 3
    assert after.book.invoices == before.book.invoices
    assert after.book.payments == before.book.payments
    assert after.book.customers == before.book.customers
    assert after.book.last_job == before.book.last_job


def test_registers_and_summaries_keep_every_cell(shop: Shop) -> None:
    """Invoices, Payments and Customers show what they showed; the summaries keep their bytes."""
    sheets = [shop.sheet(t.sheet) for t in (INVOICES_TABLE, PAYMENTS_TABLE, CUSTOMERS_TABLE)]
    before = shop.parsed().book

    archive(shop)

    after = shop.parsed().book
    assert [shop.sheet(sheet.name) for sheet in sheets] == sheets
    year = [year_end_workbook(book, 2025, today=shop.today) for book in (before, after)]
    quarter = [quarter_workbook(book, QUARTER, today=shop.today) for book in (before, after)]
    assert year[0] == year[1]
    assert quarter[0] == quarter[1]


def test_recompute_leaves_archived_jobs_alone(shop: Shop) -> None:
    """Nothing is left to write, also when the hour step or a rate is changed afterwards."""
    archive(shop)
    assert shop.check().plan.operations == ()
    kept = {n: _figures(r) for n, r in shop.check().results.items() if n in PAID}
    rows = _jobs_rows(shop)
    shop.decide("shop_hour_step", 60)

    shop.recompute()

    assert {n: _figures(r) for n, r in shop.check().results.items() if n in PAID} == kept
    assert _jobs_rows(shop) == rows
    assert not [f for f in shop.check().findings if f.job in PAID]


def _jobs_rows(shop: Shop) -> list[list[object]]:
    keys = ("number", "estimate", "subtotal", "total", "ceiling", "invoice", "balance", "stands")
    rows = (2, 4, 10)
    return [[shop.value(JOBS_TABLE, row, key) for key in keys] for row in rows]


def test_the_row_in_jobs_keeps_figures_as_values(shop: Shop) -> None:
    """Only what is owing and where the job stands stay formulas; the link to the sheet goes."""
    before = _jobs_rows(shop)
    archive(shop)

    grid = shop.grid(JOBS_TABLE)
    sheet = shop.sheet(grid.sheet)
    row = grid.header_row + 2
    live = {key for key, col in grid.columns.items() if (row, col) in sheet.formulas}
    assert live == {"balance", "stands"}
    assert (row, grid.columns["number"]) not in sheet.links
    assert (grid.header_row + 1, grid.columns["number"]) in sheet.links
    assert [[v or None for v in r[:-1]] for r in _jobs_rows(shop)] == [
        [v or None for v in r[:-1]] for r in before
    ]


def test_a_payment_taken_back_opens_an_archived_job_again(shop: Shop) -> None:
    """What is owing stays live over the payments."""
    archive(shop)
    pay(shop, shop.check().results[FIRST].invoice, -5)

    outcome = shop.recompute()

    assert outcome.results[FIRST].stands == "invoiced"
    assert shop.value(JOBS_TABLE, 2, "balance") == 5
    assert shop.value(JOBS_TABLE, 2, "stands") == "invoiced"


def test_every_cell_of_a_line_stands_in_the_register(shop: Shop) -> None:
    """Typed or computed, each is there under its header, once."""
    grid = shop.grid(OVERPAID)
    sheet = shop.sheet(grid.sheet)
    filled = sorted(shop.parsed().lines[OVERPAID].lines)
    keys = [c.key for c in ARCHIVED_LINES_TABLE.columns if c.key != "job"]
    before = [[sheet.values.get((r, grid.columns[k])) or None for k in keys] for r in filled]

    archive(shop, OVERPAID)

    there = shop.grid(ARCHIVED_LINES_TABLE)
    values = shop.sheet(there.sheet).values
    after = [[values.get((r, there.columns[k])) or None for k in keys] for r in there.rows]
    assert sorted(after, key=lambda row: float(str(row[0]))) == sorted(
        before, key=lambda row: float(str(row[0]))
    )
    assert len(after) > 20


def test_the_sheet_in_the_archive_shows_what_it_showed(shop: Shop) -> None:
    """Every value is kept; what speaks of other sheets is a value, the rest stays a formula."""
    before = shop.sheet(OVERPAID)

    archive(shop, OVERPAID)

    after = _archived_sheet(shop, OVERPAID)
    shown = {place: value for place, value in before.values.items() if value != ""}
    assert {p: v for p, v in after.values.items() if v != ""} == shown
    assert after.formulas.items() <= before.formulas.items()
    turned = [before.formulas[p] for p in before.formulas.keys() - after.formulas.keys()]
    assert turned
    assert all("!" in formula or "shop_" in formula for formula in turned)
    assert not [f for f in after.formulas.values() if "!" in f]
    assert after.tables == before.tables


def test_one_run_after_another_fills_one_archive(shop: Shop) -> None:
    """Named jobs first, the rest later: each sheet once, newest first, all of them listed."""
    archive(shop, SECOND)
    archive(shop)
    pay(shop, shop.check().results[OWING[0]].invoice, shop.check().results[OWING[0]].balance)
    shop.recompute()
    last = archive(shop)

    read = read_snapshot(archive_path(shop.path))
    assert last.outcome.archived == (OWING[0],)
    assert [s.name for s in read.sheets] == ["Jobs", OWING[0], OVERPAID, FIRST, SECOND]
    front = read.sheets[0]
    listed = [v for (r, c), v in sorted(front.values.items()) if c == 1 and r > 4]
    assert listed == [SECOND, FIRST, OVERPAID, OWING[0]]
    assert len(front.links) == 4
    assert shop.check().plan.operations == ()


def test_a_second_run_moves_nothing(shop: Shop) -> None:
    """Both files keep their bytes."""
    archive(shop)
    files = [shop.path.read_bytes(), archive_path(shop.path).read_bytes()]

    again = archive(shop)

    assert again.outcome.archived == ()
    assert [shop.path.read_bytes(), archive_path(shop.path).read_bytes()] == files


def test_a_run_cut_off_between_the_books_is_finished_by_the_next(shop: Shop) -> None:
    """The archive has the sheets, the book still has them too; no sheet is taken in twice."""
    before = shop.path.read_bytes()
    archive(shop)
    whole = shop.path.read_bytes()
    beside = archive_path(shop.path).read_bytes()
    shop.path.write_bytes(before)

    archive(shop)

    assert archive_path(shop.path).read_bytes() == beside
    assert shop.path.read_bytes() == whole


def test_the_archive_is_written_first(shop: Shop, monkeypatch: pytest.MonkeyPatch) -> None:
    """A disk that is full when the shop book's turn comes leaves it as it was, sheets in both."""
    from ledger_tools.book import archive as module  # noqa: PLC0415

    before = shop.path.read_bytes()

    def full(*_: object, **__: object) -> None:
        raise FileInTheWayError("shop.xlsx", "the disk is full", "Make room")

    monkeypatch.setattr(module, "save_book", full)
    read = read_book(shop.path)
    beside = archive_path(shop.path)
    archiving = plan_archive(read, beside, as_of=shop.today)
    with pytest.raises(FileInTheWayError, match="full"):
        save_archive(shop.path, read, beside, archiving)

    assert shop.path.read_bytes() == before
    assert {s.name for s in read_snapshot(beside).sheets} == {"Jobs", *PAID}


def test_an_archive_that_another_run_grew_is_not_written_over(shop: Shop) -> None:
    """What was planned for the archive as it was does not replace the archive as it is."""
    beside = archive_path(shop.path)
    for before in ((), (SECOND,)):
        if before:
            archive(shop, *before)
        read = read_book(shop.path)
        planned = plan_archive(read, beside, as_of=shop.today, named=(FIRST,))
        there = beside.read_bytes() if before else b""
        beside.write_bytes(there + b"\0" if before else b"another")
        with pytest.raises((BookChangedError, FileInTheWayError)):
            save_archive(shop.path, read, beside, planned)
        assert shop.path.read_bytes() == read.content
        beside.write_bytes(there) if before else beside.unlink()


def test_a_sheet_put_back_and_changed_is_kept_beside_the_first(shop: Shop) -> None:
    """An archived sheet is never written over: the other one stands beside it, all listed."""
    before = shop.path.read_bytes()
    archive(shop, OVERPAID)
    shop.path.write_bytes(before)
    shop.fill(OVERPAID, 1, description="Other words")

    archive(shop, OVERPAID)

    names = [s.name for s in read_snapshot(archive_path(shop.path)).sheets]
    assert names == ["Jobs", f"{OVERPAID} (2)", OVERPAID]
    assert "Other words" in shop.sheet(ARCHIVED_LINES_TABLE.sheet).values.values()


@pytest.mark.parametrize(
    ("job", "stands"), [(OWING[0], "invoiced"), ("25-0009", "in work"), ("25-0005", "declined")]
)
def test_a_job_that_is_not_paid_is_refused(shop: Shop, job: str, stands: str) -> None:
    """It is named with where it stands; a paid one named with it is moved."""
    before = shop.check()

    found = archive(shop, job, FIRST)

    (refused,) = _new(found.findings, before)
    assert (refused.code, refused.severity) == ("job-not-paid", Severity.ERROR)
    assert stands in refused.what
    assert found.outcome.archived == (FIRST,)


def test_an_archived_job_named_again_is_a_note(shop: Shop) -> None:
    """Nothing is to be done, and nothing is wrong."""
    archive(shop, FIRST)
    before = shop.check()

    (said,) = _new(archive(shop, FIRST).findings, before)

    assert (said.code, said.severity) == ("job-archived", Severity.NOTE)


def _own_sheet(shop: Shop, formula: str, value: float) -> None:
    """Give the book a sheet of the owner's with one formula on it."""
    contents = {(1, 1): Content(1.0), (3, 2): Content(value, formula)}
    add = AddSheet("Mine", SheetKind.INVOICES, contents, rows=1, table="Mine")
    shop.path.write_bytes(
        patched_book(shop.path.read_bytes(), "shop.xlsx", Plan((add,)), draw=_plain_sheet)
    )
    parts = read_parts(shop.path)
    (chart,) = (name for name in parts if "chart" in name and b"Mine!$M$12" in parts[name])
    parts[chart] = parts[chart].replace(b"Mine!$M$12", f"'{OVERPAID}'!$M$12".encode())
    write_parts(shop.path, parts)


def _plain_sheet(adds: Sequence[AddSheet]) -> bytes:
    target = io.BytesIO()
    with xlsxwriter.Workbook(target) as workbook:
        sheet = workbook.add_worksheet(adds[0].name)
        for (row, col), content in adds[0].contents.items():
            if content.formula:
                sheet.write_formula(row - 1, col - 1, content.formula, None, content.value)
            else:
                sheet.write(row - 1, col - 1, content.value)
        chart = workbook.add_chart({"type": "line"})
        chart.add_series({"values": "=Mine!$M$12:$M$20"})
        sheet.insert_chart("D5", chart)
    return target.getvalue()


REFERRING = [
    f"'{FIRST}'!$G$9*2",
    f"SUM(Job_{FIRST.replace('-', '_')}[Amount])",
    f"SUM('{FIRST}:{SECOND}'!A1)",
    "SUM('25-0009:25-0001'!A1)",
    f"""INDIRECT("'{FIRST}'!G9")""",
]


@pytest.mark.parametrize("formula", REFERRING)
def test_a_reference_of_the_owner_is_named_and_nothing_moves(shop: Shop, formula: str) -> None:
    """Sheet and cell are told before anything is written."""
    _own_sheet(shop, formula, 12.5)
    files = shop.path.read_bytes()
    before = shop.check()

    found = archive(shop, FIRST)

    (said,) = _new(found.findings, before)
    assert (said.code, said.severity) == ("sheet-referred-to", Severity.ERROR)
    assert (said.sheet, said.cell) == ("Mine", "B3")
    assert FIRST in said.what
    assert shop.path.read_bytes() == files
    assert not archive_path(shop.path).exists()


def test_anyway_the_cell_keeps_what_it_shows(shop: Shop) -> None:
    """The owner's figure stays as a plain value, the chart loses its sheet, both are named."""
    _own_sheet(shop, REFERRING[0], 12.5)
    before = shop.check()

    found = archive(shop, FIRST, OVERPAID, anyway=True)

    said = _new(found.findings, before)
    assert [(f.code, f.severity, f.cell) for f in said] == [
        ("sheet-referred-to", Severity.WARNING, "B3"),
        ("sheet-referred-to", Severity.WARNING, "D5"),
    ]
    mine = shop.sheet("Mine")
    assert mine.values[3, 2] == 12.5
    assert (3, 2) not in mine.formulas
    assert _audit(shop.path) == []


def test_a_chart_of_the_owner_is_a_reference(shop: Shop) -> None:
    """It is named with the cell it is drawn at."""
    _own_sheet(shop, "1+1", 2)
    before = shop.check()

    (said,) = _new(archive(shop, OVERPAID).findings, before)

    assert (said.sheet, said.cell, said.severity) == ("Mine", "D5", Severity.ERROR)


def test_a_file_that_is_no_archive_is_not_written_into(shop: Shop) -> None:
    """A workbook of that name is the owner's."""
    archive_path(shop.path).write_bytes(shop.path.read_bytes())

    with pytest.raises(FileInTheWayError, match="no archive book"):
        archive(shop)


def test_numbers_go_on_after_archiving(shop: Shop) -> None:
    """Neither a job nor an invoice gets a number that an archived job has."""
    archive(shop)

    assert shop.add() == "25-0014"
    shop.type_job(14, state="to invoice")
    assert not {"25-0001"} & set(shop.invoice().invoices)
    assert shop.check().results[FIRST].invoice == "25-0001"


def test_a_job_whose_lines_cannot_be_read_is_left_alone(shop: Shop) -> None:
    """An archived line with a word for an amount is an error of that job, and of no other."""
    archive(shop)
    grid = shop.grid(ARCHIVED_LINES_TABLE)
    shop.write(grid.sheet, {(grid.header_row + 1, grid.columns["amount"]): "much"})

    outcome = shop.check()

    assert FIRST not in outcome.results
    assert set(outcome.results) >= {SECOND, OVERPAID}
    assert [f.job for f in outcome.findings if f.severity is Severity.ERROR] == [FIRST]


def test_counts_on_start_are_those_of_what_is_left(shop: Shop) -> None:
    """What was to be said of a sheet that left is not counted any more."""
    archive(shop)

    warnings = [f for f in shop.check().findings if f.severity is Severity.WARNING]
    assert shop.named("shop_warnings") == len(warnings)


def test_the_audit_finds_nothing(shop: Shop) -> None:
    """A checker of the file format has nothing to say of either book, after one run or two."""
    archive(shop, FIRST)
    archive(shop)

    assert _audit(shop.path) == []
    assert _audit(archive_path(shop.path)) == []


@pytest.mark.libreoffice
def test_libreoffice_computes_both_books_the_same(shop: Shop, tmp_path: Path) -> None:
    """After archiving no formula cell of the book or of the archive differs from its value."""
    archive(shop, FIRST)
    archive(shop)

    assert differences(shop.path, tmp_path) == []
    assert differences(archive_path(shop.path), tmp_path) == []


@pytest.mark.libreoffice
def test_a_book_saved_by_libreoffice_is_archived_all_the_same(shop: Shop, tmp_path: Path) -> None:
    """Figures are kept, the archive has the sheets, and a recompute has nothing left to do."""
    shop.path.write_bytes(libreoffice.resaved(shop.path, tmp_path).read_bytes())
    before = shop.check()

    archive(shop)

    after = shop.check()
    assert {n: _figures(r) for n, r in after.results.items()} == {
        n: _figures(r) for n, r in before.results.items()
    }
    assert shop.check().plan.operations == ()
    assert {s.name for s in read_snapshot(archive_path(shop.path)).sheets} == {"Jobs", *PAID}
    assert ARCHIVE_TABLE.table in {
        t.name for s in read_snapshot(archive_path(shop.path)).sheets for t in s.tables
    }
