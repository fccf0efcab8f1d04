"""A table grows with all that belongs to its rows, and never over anything else."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from ledger_tools.book.parts.markup import EXCEL_MAIN, MAIN
from ledger_tools.book.patch import patched_book
from ledger_tools.book.reader import read_snapshot
from ledger_tools.errors import BookChangedError, NotWritableError
from ledger_tools.shop.plan import Content, GrowTable, Plan, SetCell
from ledger_tools.shop.snapshot import TableArea
from tests import libreoffice
from tests.book.mixed import mixed_book
from tests.parts import read_parts, write_parts

SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a workbook full of what owners put into theirs."""
    return mixed_book(tmp_path / "shop.xlsx")


def _grow(path: Path, *, last_row: int = 9, rows: int = 3, before: Any = ()) -> Path:  # noqa: ANN401
    plan = Plan((*before, GrowTable("Jobs", "Jobs", last_row, rows)))
    target = path.with_name("grown.xlsx")
    target.write_bytes(patched_book(path.read_bytes(), path.name, plan))
    return target


def _change(path: Path, part: str, old: bytes, new: bytes) -> Path:
    parts = read_parts(path)
    assert old in parts[part]
    parts[part] = parts[part].replace(old, new)
    return write_parts(path, parts)


def test_all_that_ended_with_the_table_grows(book: Path) -> None:
    """Table and filter, rules old and new, validations and names; others stay as they were."""
    after = _grow(book)
    root = etree.fromstring(read_parts(after)[SHEET])
    table = etree.fromstring(read_parts(after)["xl/tables/table1.xml"])

    assert table.get("ref") == "A4:F12"
    assert table.find(f"{{{MAIN}}}autoFilter").get("ref") == "A4:F12"  # type: ignore[union-attr]
    rules = [e.get("sqref") for e in root.iter(f"{{{MAIN}}}conditionalFormatting")]
    assert rules == ["C5:C12", "E5:E12"]
    validations = [e.get("sqref") for e in root.iter(f"{{{MAIN}}}dataValidation")]
    assert validations == ["F5:F12", "C1:C2"]
    assert [e.text for e in root.iter(f"{{{EXCEL_MAIN}}}sqref")] == ["C5:C12", "H5"]
    assert read_snapshot(after).names["job_numbers"] == "Jobs!$A$5:$A$12"
    assert read_snapshot(after).names["shop_name"] == "'Last & least'!$A$1"
    assert read_snapshot(after).sheets[0].tables == (TableArea("Jobs", 4, 1, 12, 6),)


def test_new_rows_look_like_the_last_one(book: Path) -> None:
    """Height and format of every cell; no value is copied."""
    root = etree.fromstring(read_parts(_grow(book))[SHEET])
    rows = {int(r.get("r", "0")): r for r in root.iter(f"{{{MAIN}}}row")}

    styles = [cell.get("s") for cell in rows[9]]
    for number in (10, 11, 12):
        assert rows[number].get("ht") == "21"
        assert rows[number].get("customHeight") == "1"
        assert [cell.get("s") for cell in rows[number]] == styles
        assert all(len(cell) == 0 for cell in rows[number])
    assert 13 not in rows


def test_rows_typed_under_the_table_are_taken_in(book: Path) -> None:
    """Their values stay, they get the formats of the table, and a format of their own stays."""
    row = b'<row r="10"><c r="A10" t="inlineStr"><is><t>typed</t></is></c><c r="D10" s="1"/></row>'
    path = _change(book, SHEET, b"</sheetData>", row + b"</sheetData>")
    after = _grow(path, rows=1)
    root = etree.fromstring(read_parts(after)[SHEET])
    cells = {c.get("r"): c.get("s") for c in root.iter(f"{{{MAIN}}}c")}

    assert read_snapshot(after).sheets[0].values[10, 1] == "typed"
    assert cells["A10"] == cells["A9"]
    assert cells["C10"] == cells["C9"]
    assert cells["D10"] == "1"
    assert cells["D9"] == "2"


def test_cells_of_the_plan_go_into_the_new_rows(book: Path) -> None:
    """Whatever their order in the plan, tables grow before cells are set."""
    cell = SetCell("Jobs", 11, 2, Content(), Content("new"))

    assert read_snapshot(_grow(book, before=(cell,))).sheets[0].values[11, 2] == "new"


def _totals(path: Path) -> Path:
    return _change(path, "xl/tables/table1.xml", b"<table ", b'<table totalsRowCount="1" ')


def _merged(path: Path) -> Path:
    merged = b'</sheetData><mergeCells count="1"><mergeCell ref="F12:G12"/></mergeCells>'
    return _change(path, SHEET, b"</sheetData>", merged)


@pytest.mark.parametrize(
    ("prepare", "what"), [(_totals, "totals row"), (_merged, "merged cells stand there in F12")]
)
def test_nothing_is_grown_over(book: Path, prepare: Callable[[Path], Path], what: str) -> None:
    """The owner is told what stands in the way and how to clear it."""
    with pytest.raises(NotWritableError, match=what):
        _grow(prepare(book))


def test_merged_cells_further_down_are_no_obstacle(book: Path) -> None:
    """Only rows that are really taken count."""
    assert read_snapshot(_grow(_merged(book), rows=2)).sheets[0].tables[0].last_row == 11


def test_a_table_that_ends_elsewhere_stops_the_plan(book: Path) -> None:
    """Somebody has added rows since the book was read."""
    with pytest.raises(BookChangedError, match="ends in row 9"):
        _grow(book, last_row=8)


@pytest.mark.libreoffice
def test_a_table_grows_in_a_book_saved_by_libreoffice(book: Path, tmp_path: Path) -> None:
    """Its way of writing tables, rules and names is understood too."""
    after = _grow(libreoffice.resaved(book, tmp_path))
    snapshot = read_snapshot(after)
    sheet = next(c for n, c in read_parts(after).items() if n == SHEET)

    assert snapshot.sheets[0].tables == (TableArea("Jobs", 4, 1, 12, 6),)
    assert snapshot.names["job_numbers"] == "Jobs!$A$5:$A$12"
    assert b'sqref="C5:C12"' in sheet
    assert b'sqref="F5:F12"' in sheet


def test_new_rows_get_no_cells_where_the_last_row_has_none(book: Path) -> None:
    """A cell that would say nothing and look like its column is not written."""
    path = _change(book, SHEET, b'<c r="F9" s="1"/>', b"")
    root = etree.fromstring(read_parts(_grow(path))[SHEET])
    rows = {int(r.get("r", "0")): r for r in root.iter(f"{{{MAIN}}}row")}

    assert [cell.get("r") for cell in rows[10]] == ["A10", "B10", "C10", "D10", "E10"]
