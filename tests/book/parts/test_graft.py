"""New sheets stand in the book as they were drawn, and bring nothing twice."""

import re
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from lxml import etree

from ledger_tools.book.parts.markup import EXTENDED, MAIN, VARIANTS
from ledger_tools.book.patch import patched_book
from ledger_tools.book.reader import read_snapshot
from ledger_tools.errors import BookChangedError, NotWritableError
from ledger_tools.shop.plan import AddSheet, Plan
from tests.book.mixed import drawn, job_sheet, mixed_book
from tests.parts import read_parts, write_parts


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a workbook full of what owners put into theirs."""
    return mixed_book(tmp_path / "shop.xlsx")


def _add(path: Path, *adds: AddSheet) -> Path:
    target = path.with_name(f"{path.stem}+.xlsx")
    target.write_bytes(patched_book(path.read_bytes(), path.name, Plan(adds), draw=drawn))
    return target


def _openpyxl(path: Path) -> Any:  # noqa: ANN401 - untyped
    import warnings  # noqa: PLC0415

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        return openpyxl.load_workbook(path)


def _look(cell: Any) -> list[str]:  # noqa: ANN401 - untyped
    parts = ("font", "fill", "border", "alignment", "number_format", "protection")
    return [repr(getattr(cell, part)) for part in parts]


def _counts(path: Path, part: str = "xl/styles.xml") -> dict[str, int]:
    """Return how many formats of each kind the workbook has."""
    root = etree.fromstring(read_parts(path)[part])
    counts = {etree.QName(held).localname: len(held) for held in root}
    for held in root:
        assert int(held.get("count", len(held))) == len(held)
    return counts


def test_sheets_stand_where_they_are_told(book: Path) -> None:
    """Right after the sheet named, the first nearest; without a name at the right end."""
    after = _add(
        book,
        job_sheet("25-0100"),
        job_sheet("25-0101"),
        job_sheet("Notes", after=""),
        job_sheet("25-0102", after="Own sheet"),
        job_sheet("25-0103", after="25-0101"),
    )

    assert _openpyxl(after).sheetnames == [
        "Jobs", "25-0100", "25-0101", "25-0103", "Own sheet", "25-0102", "Picture",
        "Last & least", "Notes",
    ]  # fmt: skip


def test_what_belongs_to_other_sheets_moves_with_them(book: Path) -> None:
    """Print titles and areas, the tab in view and the list of titles follow their sheets."""
    after = _add(book, job_sheet("25-0100"), job_sheet("25-0101"))
    opened = _openpyxl(after)

    assert opened.active.title == "Own sheet"
    assert opened["Last & least"].print_area == "'Last & least'!$A$1:$C$9"
    assert opened["Jobs"].print_title_rows == "$4:$4"
    assert opened["25-0101"].print_title_rows == "$11:$11"
    assert opened["25-0100"].print_area == "'25-0100'!$A$1:$E$31"
    app = etree.fromstring(read_parts(after)["docProps/app.xml"])
    titles = [t.text for t in app.iterfind(f"{{{EXTENDED}}}TitlesOfParts/*/{{{VARIANTS}}}lpstr")]
    assert titles[:6] == ["Jobs", "25-0100", "25-0101", "Own sheet", "Last & least", "Picture"]
    assert app.findtext(f".//{{{VARIANTS}}}i4") == "5"


def test_only_one_sheet_is_selected(book: Path) -> None:
    """Two selected tabs are a group, and typing in one would overwrite the other."""
    after = _add(book, job_sheet("25-0100"))

    selected = [n for n, c in read_parts(after).items() if b'tabSelected="1"' in c]
    assert selected == ["xl/worksheets/sheet2.xml"]


def test_a_sheet_looks_as_it_was_drawn(book: Path, tmp_path: Path) -> None:
    """Formats, widths, rules, choices, links, pictures and frozen rows are as drawn."""
    add = job_sheet("25-0100")
    alone = tmp_path / "alone.xlsx"
    alone.write_bytes(drawn([add]))
    was, now = _openpyxl(alone)["25-0100"], _openpyxl(_add(book, add))["25-0100"]

    assert len(was._cells) > 6
    for place, cell in was._cells.items():
        other = now._cells[place]
        assert other.value == cell.value
        assert _look(other) == _look(cell)
    assert now.freeze_panes == was.freeze_panes
    assert now.column_dimensions["B"].width == was.column_dimensions["B"].width
    assert [str(v.sqref) for v in now.data_validations.dataValidation] == ["B12:B20"]
    (rules,) = now.conditional_formatting
    assert rules.rules[0].dxf.font.color.rgb == "FFB4532A"
    assert rules.rules[0].dxf.numFmt.formatCode == "0.000"
    assert now["E1"].hyperlink.location == "Jobs!A1"
    assert len(now._images) == 1


def test_rich_text_keeps_its_runs(book: Path) -> None:
    """A text of several formats is stored in the cell with all of them."""
    after = _add(book, job_sheet("25-0100"))
    sheet = read_parts(after)["xl/worksheets/sheet4.xml"]

    assert read_snapshot(after).sheets[1].values[1, 3] == "A rich end"
    assert re.search(rb'r="C1"[^>]*><is><r>.*?B4532A.*?</is>', sheet)
    assert b't="s"' not in sheet


def test_grafting_again_adds_no_formats(book: Path) -> None:
    """A book of a thousand job sheets has the formats of one."""
    once = _add(book, job_sheet("25-0100"))
    twice = _add(once, job_sheet("25-0101"), job_sheet("25-0102"))

    before, first, second = _counts(book), _counts(once), _counts(twice)
    assert first != before
    assert second == first
    assert read_parts(twice)["xl/styles.xml"] == read_parts(once)["xl/styles.xml"]


def test_formats_the_book_has_are_used(tmp_path: Path) -> None:
    """A sheet drawn in the formats of the book adds none to it."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(drawn([job_sheet("25-0001", after="")]))
    after = _add(path, job_sheet("25-0002", after="25-0001"))

    assert _counts(after) == _counts(path)
    assert read_parts(after)["xl/styles.xml"] == read_parts(path)["xl/styles.xml"]


def test_formats_of_the_book_keep_their_numbers(book: Path) -> None:
    """Cells elsewhere refer to formats by number, so new ones come after the old."""
    old, new = _openpyxl(book), _openpyxl(_add(book, job_sheet("25-0100")))

    for name in ("Jobs", "Own sheet", "Last & least"):
        for row in old[name].iter_rows():
            for cell in row:
                assert _look(new[name][cell.coordinate]) == _look(cell)


def test_tables_get_numbers_and_names_of_their_own(book: Path) -> None:
    """A name that is taken gets a number, and the formulas of the sheet speak of it so."""
    after = _add(book, job_sheet("25-0100", table="jobs"), job_sheet("25-0101", table="shop_name"))
    tables = {
        table.get("displayName"): int(table.get("id", "0"))
        for name, content in read_parts(after).items()
        if name.startswith("xl/tables/")
        for table in [etree.fromstring(content)]
    }

    assert tables == {"Jobs": 1, "jobs_2": 2, "shop_name_2": 3}
    assert read_snapshot(after).sheets[1].formulas[2, 1] == "SUM(jobs_2[Amount])"
    assert read_snapshot(after).sheets[2].formulas[2, 1] == "SUM(shop_name_2[Amount])"


@pytest.mark.parametrize("name", ["Own sheet", "OWN SHEET", "Picture"])
def test_a_name_that_is_taken_is_refused(book: Path, name: str) -> None:
    """Tab names differ by more than upper and lower case."""
    with pytest.raises(NotWritableError, match=f"sheet '{name}'.*there is one already"):
        _add(book, job_sheet(name))


def test_a_neighbour_that_is_gone_is_named(book: Path) -> None:
    """The sheet to stand after may have been renamed."""
    with pytest.raises(BookChangedError, match="sheet 'Job list'"):
        _add(book, job_sheet("25-0100", after="Job list"))


def test_a_drawing_of_another_number_of_sheets_is_a_fault(book: Path) -> None:
    """Sheets are never grafted under each other's names."""

    def one_less(adds: Sequence[AddSheet]) -> bytes:
        return drawn(adds[:-1])

    adds = (job_sheet("25-0100"), job_sheet("25-0101"))
    with pytest.raises(RuntimeError, match="2 sheets were asked for and 1 drawn"):
        patched_book(book.read_bytes(), "shop.xlsx", Plan(adds), draw=one_less)


def test_a_book_without_formats_gets_some(book: Path) -> None:
    """The part of formats may be missing altogether; the first fills are reserved."""
    parts = read_parts(book)
    del parts["xl/styles.xml"]
    for name in ("xl/_rels/workbook.xml.rels", "[Content_Types].xml"):
        parts[name] = re.sub(rb"<[^<>]*styles[^<>]*/>", b"", parts[name])
    after = _add(write_parts(book, parts), job_sheet("25-0100"))

    sheet = etree.fromstring(read_parts(after)["xl/worksheets/sheet4.xml"])
    number = next(c.get("s", "0") for c in sheet.iter() if c.get("r") == "A12")
    styles = etree.fromstring(read_parts(after)["xl/styles1.xml"])
    assert _counts(after, "xl/styles1.xml")["fills"] == 2
    xf = styles.find(f"{{{MAIN}}}cellXfs")[int(number)]  # type: ignore[index]
    assert xf.get("numFmtId") == styles.find(f".//{{{MAIN}}}numFmt").get("numFmtId")  # type: ignore[union-attr]  # fmt: skip


def test_a_header_of_the_number_of_sheets_that_does_not_fit_is_left(book: Path) -> None:
    """A description that counts other sheets than there are is not made worse."""
    parts = read_parts(book)
    parts["docProps/app.xml"] = parts["docProps/app.xml"].replace(
        b"<vt:i4>3</vt:i4>", b"<vt:i4>2</vt:i4>"
    )
    write_parts(book, parts)

    after = read_parts(_add(book, job_sheet("25-0100")))
    assert after["docProps/app.xml"] == parts["docProps/app.xml"]
    assert f'xmlns="{MAIN}"'.encode() in after["xl/worksheets/sheet4.xml"]
