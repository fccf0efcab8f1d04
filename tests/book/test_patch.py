"""A plan changes what it names in the closed file, and nothing else."""

import json
import re
import subprocess
import sys
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import python_calamine
from lxml import etree

from ledger_tools.book.parts.markup import MAIN
from ledger_tools.book.parts.stored import scan
from ledger_tools.book.patch import Stale, apply_plan, foreign_formulas, patched_book, same
from ledger_tools.book.reader import read_book, read_snapshot
from ledger_tools.errors import BookChangedError, NotWritableError
from ledger_tools.shop.plan import Content, GrowTable, Operation, Plan, SetCell
from ledger_tools.shop.snapshot import CellError, Scalar, SheetSnapshot
from tests import libreoffice
from tests.book.mixed import drawn, job_sheet, mixed_book
from tests.parts import packed_parts, read_parts, write_parts

JOBS = "xl/worksheets/sheet1.xml"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a workbook full of what owners put into theirs."""
    return mixed_book(tmp_path / "shop.xlsx")


def _patch(path: Path, *operations: Operation, stale: Stale | None = None) -> Path:
    target = path.with_name("patched.xlsx")
    plan = Plan(operations)
    content = patched_book(path.read_bytes(), path.name, plan, stale=stale, draw=drawn)
    target.write_bytes(content)
    return target


def _set(row: int, col: int, old: Scalar, new: Scalar, sheet: str = "Jobs") -> SetCell:
    return SetCell(sheet, row, col, Content(old), Content(new))


def _sheet(path: Path, name: str) -> SheetSnapshot:
    return next(s for s in read_snapshot(path).sheets if s.name == name)


def _changed(before: Path, after: Path) -> set[str]:
    old, new = packed_parts(before), packed_parts(after)
    assert [n for n in new if n in old] == [n for n in old if n in new]
    return {name for name in {*old, *new} if old.get(name) != new.get(name)}


def test_only_touched_parts_are_written_anew(book: Path) -> None:
    """All other parts keep their compressed bytes and their order."""
    after = _patch(book, _set(7, 2, "Customer 6", "Other"))

    assert _changed(book, after) == {JOBS}


def test_patched_sheets_are_still_read_the_quick_way(book: Path) -> None:
    """Grafted and patched cells are written as the quick reader knows them."""
    empty = Content("", 'IF(1,"","")')
    after = _patch(
        book,
        job_sheet("25-0100"),
        SetCell("Jobs", 9, 6, Content(), empty),
        _set(1, 2, None, " blanks "),
        _set(1, 3, None, ""),
    )

    for part in (JOBS, "xl/worksheets/sheet4.xml"):
        text = read_parts(after)[part]
        text = re.sub(
            rb'<c r="C1"[^/]*><is><r>.*?</is></c>', b"", text
        )  # rich text is for the tree
        rows = text.partition(b"<sheetData>")[2].partition(b"</sheetData>")[0]
        assert scan(rows.decode())


def test_growing_and_adding_touch_what_they_must(book: Path) -> None:
    """Charts and the sum over the table follow it; pictures, notes and the rest are let be."""
    after = _patch(book, job_sheet("25-0100"), GrowTable("Jobs", "Jobs", 9, 1))

    assert _changed(book, after) == {
        JOBS, "xl/workbook.xml", "xl/_rels/workbook.xml.rels", "[Content_Types].xml",
        "xl/styles.xml", "docProps/app.xml", "xl/tables/table1.xml",
        "xl/worksheets/sheet4.xml", "xl/worksheets/_rels/sheet4.xml.rels",
        "xl/tables/table2.xml", "xl/drawings/drawing4.xml",
        "xl/drawings/_rels/drawing4.xml.rels", "xl/media/image3.png",
        "xl/charts/chart1.xml", "xl/charts/chart2.xml", "xl/worksheets/sheet2.xml",
    }  # fmt: skip


@pytest.mark.parametrize(
    "value",
    [
        12.5, 160.0, -0.1, 1e-9, 3, True, "plain", "  two blanks  ", "two\nlines", "<&>\"'",
        '=HYPERLINK("http://x")', "@SUM(A1)", "+1", "-1", "'0042", "007", "é ü 漢 🙂", "_x000D_",
    ],
)  # fmt: skip
def test_values_read_back_by_three_readers(book: Path, value: Scalar) -> None:
    """Text stays text whatever it looks like; numbers keep every digit."""
    after = _patch(book, _set(9, 6, None, value))

    assert _sheet(after, "Jobs").values[9, 6] == value
    if value != "_x000D_":  # an escape of the file format, which the other two do not undo
        assert libreoffice.cell_values(after)["Jobs"]["F9"] == value
        rows = python_calamine.CalamineWorkbook.from_path(after).get_sheet_by_name("Jobs")
        assert rows.to_python(skip_empty_area=False)[8][5] == value


def test_what_xml_cannot_hold_is_left_out(book: Path) -> None:
    """Control characters vanish, line ends of all systems become newlines."""
    after = _patch(book, _set(9, 6, None, "a\x00\x0b\ud800\ufffeb\r\nc\rd"))

    assert _sheet(after, "Jobs").values[9, 6] == "ab\nc\nd"


@pytest.mark.parametrize("value", [1.5, "text", "", True, CellError("#REF!"), None])
def test_a_formula_carries_its_computed_value(book: Path, value: Scalar) -> None:
    """Readers that do not compute see the value the tools computed."""
    new = Content(value, 'IF(A1="<&>",1,2)')
    after = _patch(book, SetCell("Jobs", 9, 6, Content(), new))

    read = _sheet(after, "Jobs")
    assert read.formulas[9, 6] == new.formula
    assert read.values.get((9, 6)) == value
    assert type(read.values.get((9, 6))) is type(value)
    assert openpyxl_cell(after, "F9").value == f"={new.formula}"


def _opened(path: Path) -> Any:  # noqa: ANN401 - untyped
    with warnings.catch_warnings():
        # It warns of parts it would drop on saving.
        warnings.simplefilter("ignore", UserWarning)
        return openpyxl.load_workbook(path)


def openpyxl_cell(path: Path, where: str, sheet: str = "Jobs") -> Any:  # noqa: ANN401 - untyped
    """Return a cell as openpyxl reads it, formats included."""
    return _opened(path)[sheet][where]


@pytest.mark.parametrize(
    ("old", "said"),
    [
        (Content("Customer 7"), "'Customer 6' and not 'Customer 7'"),
        (Content(), "and not nothing"),
        (Content("Customer 6", "B1"), "formula '=B1'"),
    ],
)
def test_a_cell_that_holds_something_else_stops_the_plan(
    book: Path, old: Content, said: str
) -> None:
    """Sheet and cell are named, and nothing at all is written."""
    before = book.read_bytes()
    plan = Plan((_set(5, 6, None, "x"), SetCell("Jobs", 7, 2, old, Content("x"))))

    with pytest.raises(BookChangedError, match=r"sheet 'Jobs', cell B7") as caught:
        apply_plan(book, plan, read=read_book(book))

    assert said in str(caught.value)
    assert book.read_bytes() == before
    assert [p.name for p in book.parent.iterdir()] == [book.name]


def test_a_changed_formula_stops_the_plan(book: Path) -> None:
    """The same value from another formula is not the same cell."""
    wrong = SetCell("Jobs", 6, 5, Content(125.0, "C6*D6"), Content(1.0))

    with pytest.raises(BookChangedError, match="E6"):
        _patch(book, wrong)


def test_one_is_not_true() -> None:
    """Python holds 1 and True for equal; a cell does not."""
    assert same(Content(1), Content(1.0))
    assert not same(Content(1.0), Content(value=True))


def test_rows_and_cells_stay_in_order(book: Path) -> None:
    """New cells and rows are put between their neighbours, and the extent of the sheet follows."""
    cells = [(2, 2), (3, 30), (2, 1), (60, 1), (5, 5), (5, 7), (1, 3), (1, 2)]
    old = {(5, 5): Content(100.0, "ROUND(C5*D5,2)")}
    after = _patch(
        book, *(SetCell("Jobs", r, c, old.get((r, c), Content()), Content("x")) for r, c in cells)
    )

    root = etree.fromstring(read_parts(after)[JOBS])
    rows = root.findall(f".//{{{MAIN}}}row")
    numbers = [int(row.get("r", "0")) for row in rows]
    assert numbers == sorted(set(numbers))
    assert {2, 3, 60} <= set(numbers)
    for row in rows:
        columns = [openpyxl.utils.cell.coordinate_from_string(c.get("r"))[0] for c in row]
        indexes = [openpyxl.utils.column_index_from_string(c) for c in columns]
        assert indexes == sorted(set(indexes))
        if int(row.get("r", "0")) in {1, 2, 3, 5, 60}:
            assert row.get("spans") is None
    assert root.find(f"{{{MAIN}}}dimension").get("ref") == "A1:AD60"  # type: ignore[union-attr]


def test_a_new_cell_looks_like_its_column(book: Path) -> None:
    """In a table it takes the format above it, elsewhere that of its column."""
    after = _patch(
        book,
        GrowTable("Jobs", "Jobs", 9, 2),
        _set(11, 4, None, 5.0),
        _set(3, 11, None, 5.0, "Own sheet"),
    )

    assert openpyxl_cell(after, "D11").number_format == "#,##0.00"
    assert openpyxl_cell(after, "D11").fill.fgColor.rgb == "FFF5F0E6"
    assert openpyxl_cell(after, "K3", "Own sheet").number_format == "0.000"


def test_a_cleared_cell_keeps_its_format(book: Path) -> None:
    """Value and formula go; fill and number format stay."""
    after = _patch(book, SetCell("Jobs", 6, 5, Content(125.0, "ROUND(C6*D6,2)"), Content()))

    assert (6, 5) not in _sheet(after, "Jobs").values
    assert (6, 5) not in _sheet(after, "Jobs").formulas
    assert openpyxl_cell(after, "E6").number_format == "#,##0.00"


@pytest.mark.parametrize("row", [2, 4, 7], ids=["first", "middle", "last"])
def test_a_shared_formula_is_written_apart(book: Path, row: int) -> None:
    """When one cell of it is overwritten, the others keep their formulas and values."""
    old = _sheet(book, "Own sheet")
    after = _patch(
        book,
        SetCell(
            "Own sheet", row, 2, Content(old.values[row, 2], old.formulas[row, 2]), Content("x")
        ),
    )

    new = _sheet(after, "Own sheet")
    assert new.values == {**old.values, (row, 2): "x"}
    assert new.formulas == {p: f for p, f in old.formulas.items() if p != (row, 2)}
    assert openpyxl_cell(after, "B6", "Own sheet").value == "=A6*2+$A$2"


@pytest.mark.parametrize("row", [2, 3])
def test_array_formulas_are_left_alone(book: Path, row: int) -> None:
    """A cell in the range of an array formula is refused, with its range."""
    old = Content(row * 3 - 3.0, "A2:A4*3" if row == 2 else None)

    with pytest.raises(NotWritableError, match="F2:F4"):
        _patch(book, SetCell("Own sheet", row, 6, old, Content(1.0)))


def test_a_text_too_long_for_a_cell_is_refused(book: Path) -> None:
    """Nothing is cut off silently."""
    _patch(book, _set(9, 6, None, "x" * 32_767))

    with pytest.raises(NotWritableError, match=r"cell F9: a text of 32768"):
        _patch(book, _set(9, 6, None, "x" * 32_768))


def test_links_are_set_replaced_and_taken_away(book: Path) -> None:
    """An address on the web goes with its relationship when a place in the book replaces it."""
    after = _patch(
        book,
        SetCell("Jobs", 6, 1, Content("25-0005"), Content("25-0005"), "'Own sheet'!A1"),
        SetCell("Jobs", 7, 1, Content("25-0006"), Content("25-0006"), "Jobs!A1"),
        SetCell("Jobs", 5, 1, Content("25-0004"), Content("25-0004"), ""),
    )

    assert _sheet(after, "Jobs").links == {(6, 1): "'Own sheet'!A1", (7, 1): "Jobs!A1"}
    rels = read_parts(after)["xl/worksheets/_rels/sheet1.xml.rels"]
    assert b"example.org" not in rels
    assert b"table1.xml" in rels
    assert openpyxl_cell(after, "A6").hyperlink.location == "'Own sheet'!A1"


def test_values_of_foreign_formulas_are_dropped(book: Path) -> None:
    """What the owner computes from our cells is computed anew on opening; ours stay true."""
    ours = {"Jobs"}
    snapshot = read_snapshot(book)
    stale = foreign_formulas(snapshot, lambda sheet, _row, _col: sheet in ours)
    after = _patch(book, _set(7, 2, "Customer 6", "x"), stale=stale)

    assert set(stale) == {"Own sheet"}
    old, new = _sheet(book, "Own sheet"), _sheet(after, "Own sheet")
    assert new.formulas == old.formulas
    assert not set(new.values) & set(new.formulas)
    assert new.values == {p: v for p, v in old.values.items() if p not in old.formulas}
    assert _sheet(after, "Jobs").values[6, 5] == 125.0
    assert foreign_formulas(read_snapshot(after), lambda sheet, _r, _c: sheet in ours) == {}


def test_the_chain_of_computed_cells_is_dropped(book: Path) -> None:
    """A chain that names a cell without formula makes Excel report a damaged file."""
    parts = read_parts(book)
    parts["xl/calcChain.xml"] = f'<calcChain xmlns="{MAIN}"><c r="E5" i="1"/></calcChain>'.encode()
    parts["xl/_rels/workbook.xml.rels"] = parts["xl/_rels/workbook.xml.rels"].replace(
        b"</Relationships>",
        b'<Relationship Id="rId99" Type="http://schemas.openxmlformats.org/officeDocument/2006/'
        b'relationships/calcChain" Target="calcChain.xml"/></Relationships>',
    )
    kind = "application/vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml"
    parts["[Content_Types].xml"] = parts["[Content_Types].xml"].replace(
        b"</Types>",
        f'<Override PartName="/xl/calcChain.xml" ContentType="{kind}"/></Types>'.encode(),
    )
    parts["xl/workbook.xml"] = parts["xl/workbook.xml"].replace(b' fullCalcOnLoad="1"', b"")
    write_parts(book, parts)

    after = read_parts(_patch(book, _set(7, 2, "Customer 6", "x")))

    assert not [name for name, content in after.items() if b"calcChain" in content]
    assert "xl/calcChain.xml" not in after
    assert b'fullCalcOnLoad="1"' in after["xl/workbook.xml"]


def test_an_empty_plan_writes_nothing(book: Path) -> None:
    """A book with nothing to change keeps its bytes and gets no backup."""
    before = read_book(book)

    assert apply_plan(book, Plan(()), read=before) is None
    assert book.read_bytes() == before.content
    assert list(book.parent.iterdir()) == [book]


def test_a_plan_is_for_the_book_it_was_made_from(book: Path) -> None:
    """Plans follow each other; one made from an older state is refused."""
    first = read_book(book)
    backup = apply_plan(book, Plan((_set(9, 6, None, "a"),)), read=first)
    assert backup is not None
    assert backup.read_bytes() == first.content
    apply_plan(book, Plan((_set(9, 6, "a", "b"),)), read=read_book(book))

    assert _sheet(book, "Jobs").values[9, 6] == "b"
    with pytest.raises(BookChangedError, match="saved by another program"):
        apply_plan(book, Plan((_set(9, 6, None, "c"),)), read=first)


def test_a_sheet_that_is_gone_is_named(book: Path) -> None:
    """The owner may have renamed it since."""
    with pytest.raises(BookChangedError, match="sheet 'Jobs 2'"):
        _patch(book, _set(1, 1, None, 1, "Jobs 2"))


def test_the_same_plan_gives_the_same_bytes(book: Path) -> None:
    """Nothing in the file depends on when or where it was patched."""
    plan = (job_sheet("25-0100"), GrowTable("Jobs", "Jobs", 9, 1), _set(10, 1, None, "x"))

    assert _patch(book, *plan).read_bytes() == _patch(book, *plan).read_bytes()


PLAN: tuple[Operation, ...] = (
    job_sheet("25-0100"),
    job_sheet("25-0101"),
    GrowTable("Jobs", "Jobs", 9, 3),
    SetCell("Jobs", 10, 1, Content(), Content("25-0100"), link="'25-0100'!A1"),
    SetCell("Jobs", 10, 3, Content(), Content(2.5)),
    SetCell("Jobs", 10, 4, Content(), Content(80)),
    SetCell("Jobs", 10, 5, Content(), Content(200.0, "ROUND(C10*D10,2)")),
    SetCell("Jobs", 5, 3, Content(1.0), Content(3.0)),
    SetCell("Jobs", 5, 5, Content(100.0, "ROUND(C5*D5,2)"), Content(300.0, "ROUND(C5*D5,2)")),
)


@pytest.mark.libreoffice
@pytest.mark.parametrize("saved_by", ["XlsxWriter", "LibreOffice"])
def test_libreoffice_computes_what_was_written(book: Path, tmp_path: Path, saved_by: str) -> None:
    """It opens the patched book, also one it saved itself, and every value is the one cached."""
    if saved_by == "LibreOffice":
        resaved = libreoffice.resaved(book, tmp_path)
        book = resaved.with_name("own.xlsx")
        resaved.rename(book)
    after = _patch(book, *PLAN)
    computed = libreoffice.recalculated(after, tmp_path)

    written = libreoffice.cell_values(after)
    for name in ("Jobs", "25-0100", "25-0101"):
        written[name].pop("A2", None)  # the test's own donor leaves this sum at 0
        computed[name].pop("A2", None)
        assert computed[name] == written[name]
    assert computed["Own sheet"]["D2"] == 300 + 125 + 150 + 175 + 200 + 200, "grown to row 10"
    assert computed["Jobs"]["E10"] == 200


def _audit(path: Path) -> list[str]:
    program = "from openxml_audit.cli import main; main()"
    said = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", program, "-m", "0", "-o", "json", str(path)],
        capture_output=True,
        text=True,
        check=False,
    )
    (report,) = json.loads(said.stdout)
    found = report.get("errors", [])
    return [f"{e['part_uri']}: {e['description']}" for e in found if e["severity"] == "error"]


def _by_openpyxl(path: Path) -> Path:
    target = path.with_name("openpyxl.xlsx")
    _opened(path).save(target)
    return target


@pytest.mark.parametrize("by", [None, _by_openpyxl], ids=["XlsxWriter", "openpyxl"])
def test_the_audit_finds_nothing_new(book: Path, by: Callable[[Path], Path] | None) -> None:
    """A checker of the file format has no more to say of the patched book than of the old one."""
    path = by(book) if by else book
    plan = PLAN if by is None else (*PLAN[:5], *PLAN[6:8])

    assert set(_audit(_patch(path, *plan))) <= set(_audit(path))


@pytest.mark.libreoffice
def test_the_audit_finds_nothing_new_after_libreoffice(book: Path, tmp_path: Path) -> None:
    """The same for a book that LibreOffice saved."""
    path = libreoffice.resaved(book, tmp_path)

    assert set(_audit(_patch(path, *PLAN))) <= set(_audit(path))
