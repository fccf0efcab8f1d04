"""A closed workbook is read as it stands, and a hostile one is refused."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from ledger_tools.book.parts import stored
from ledger_tools.book.reader import read_book, read_snapshot
from ledger_tools.errors import BookUnreadableError
from ledger_tools.shop.snapshot import CellError, TableArea, address
from tests import libreoffice
from tests.book.mixed import mixed_book
from tests.parts import read_parts, write_parts

SHEET = "xl/worksheets/sheet1.xml"


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a workbook full of what owners put into theirs."""
    return mixed_book(tmp_path_factory.mktemp("book") / "shop.xlsx")


def test_everything_that_matters_is_read(book: Path) -> None:
    """Texts, rich texts, numbers, errors, formulas, tables, links, names and properties."""
    snapshot = read_snapshot(book)
    jobs, own, notes = snapshot.sheets

    assert snapshot.file == "shop.xlsx"
    assert [s.name for s in snapshot.sheets] == ["Jobs", "Own sheet", "Last & least"]
    assert jobs.values[5, 2] == "Bold man"
    assert jobs.values[6, 3] == 1.25
    assert type(jobs.values[6, 4]) is float
    assert (5, 6) not in jobs.values
    assert jobs.formulas[6, 5] == "ROUND(C6*D6,2)"
    assert jobs.tables == (TableArea("Jobs", 4, 1, 9, 6),)
    assert jobs.links == {(5, 1): "'Own sheet'!B2"}
    assert [own.formulas[row, 2] for row in range(2, 8)] == [
        f"A{row}*2+$A$2" for row in range(2, 8)
    ]
    assert own.formulas[2, 6] == "A2:A4*3"
    assert own.values[4, 4] == ""
    assert own.values[2, 7] == CellError("#DIV/0!")
    assert isinstance(own.values[2, 7], CellError)
    assert own.values[3, 7] is True
    assert notes.values == {(1, 1): "Nothing to see"}
    assert snapshot.names == {
        "job_numbers": "Jobs!$A$5:$A$9",
        "shop_name": "'Last & least'!$A$1",
    }
    assert snapshot.properties == {"Shop book format": "1", "Owner's word": "kept & true"}


def test_another_reader_sees_the_same_values(book: Path) -> None:
    """Every value agrees with openpyxl's, cell by cell."""
    seen = libreoffice.cell_values(book)

    for sheet in read_snapshot(book).sheets:
        ours = {address(*p): v for p, v in sheet.values.items() if v != ""}
        assert ours == seen[sheet.name]


@pytest.mark.libreoffice
def test_a_book_saved_by_libreoffice_reads_alike(book: Path, tmp_path: Path) -> None:
    """Numbers, formulas, tables, links, names and properties survive its save and our reading."""
    before, after = read_snapshot(book), read_snapshot(libreoffice.resaved(book, tmp_path))
    kept = {s.name: s for s in after.sheets}

    for sheet in before.sheets:
        other = kept[sheet.name]
        truths = {(3, 7)} if sheet.name == "Own sheet" else set()
        assert other.values == sheet.values
        assert {p: f for p, f in other.formulas.items() if p not in truths} == sheet.formulas
        assert other.links == sheet.links
        assert other.tables == sheet.tables
    assert after.names == before.names
    assert after.properties == before.properties


def test_a_book_saved_by_another_library_reads_alike(tmp_path: Path) -> None:
    """Another library numbers its parts and writes its cells in its own way."""
    path = tmp_path / "list.xlsx"
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.append(["Name", 1, 2.5, True, "=B1*2", "  spaced "])
    made.save(path)

    read = read_snapshot(path).sheets[0]

    assert read.values == {
        (1, 1): "Name", (1, 2): 1.0, (1, 3): 2.5, (1, 4): True, (1, 5): "", (1, 6): "  spaced ",
    }  # fmt: skip
    assert read.formulas == {(1, 5): "B1*2"}


def test_the_file_itself_is_kept(book: Path) -> None:
    """By its bytes a command knows whether the file is still the one that was read."""
    assert read_book(book).content == book.read_bytes()


def test_reading_loads_no_writer_of_workbooks() -> None:
    """`check` starts fast: neither xlsxwriter nor openpyxl is imported."""
    command = (
        "import sys, ledger_tools.book.reader, ledger_tools.book.patch; "
        "print({'xlsxwriter', 'openpyxl', 'zipfile'} & set(sys.modules))"
    )
    said = subprocess.run(
        [sys.executable, "-c", command],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[2],
    )

    assert said.stdout.strip() == "set()"


Change = Callable[[bytes], bytes]


def _replace(old: bytes, new: bytes) -> Change:
    def change(content: bytes) -> bytes:
        assert old in content
        return content.replace(old, new, 1)

    return change


_ENTITIES = (
    b'<!DOCTYPE x [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    b'<!ENTITY f SYSTEM "file:///etc/hostname">]>'
)
_MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_STRICT = b"http://purl.oclc.org/ooxml/spreadsheetml/main"


@pytest.mark.parametrize(
    ("part", "change", "what"),
    [
        pytest.param(
            SHEET, _replace(b"<worksheet", _ENTITIES + b"<worksheet"), "document type", id="dtd"
        ),
        pytest.param(
            "xl/workbook.xml",
            _replace(b"<workbook", _ENTITIES + b"<workbook"),
            "document type",
            id="dtd in the workbook",
        ),
        pytest.param(SHEET, _replace(b"</sheetData>", b""), "damaged", id="unclosed"),
        pytest.param(
            SHEET, _replace(b'r="A1"', b'r="A1048577"'), "cell A1048577", id="row too far"
        ),
        pytest.param(SHEET, _replace(b'r="A1"', b'r="XFE1"'), "cell XFE1", id="column too far"),
        pytest.param(SHEET, _replace(b"<v>6</v>", b"<v>6000</v>"), "cell A1", id="no such text"),
        pytest.param(
            "xl/workbook.xml", _replace(_MAIN, _STRICT), "Strict Open XML", id="strict workbook"
        ),
        pytest.param(
            "_rels/.rels",
            _replace(
                b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument",
                b"http://purl.oclc.org/ooxml/officeDocument/relationships/officeDocument",
            ),
            "Strict Open XML",
            id="strict",
        ),
        pytest.param(
            "_rels/.rels", _replace(b"xl/workbook.xml", b"xl/no.xml"), "no workbook", id="gone"
        ),
        pytest.param(
            "_rels/.rels", _replace(b"xl/workbook.xml", b"xl/workbook.bin"), "binary", id="binary"
        ),
        pytest.param(
            "_rels/.rels",
            _replace(b"xl/workbook.xml", b"../../../etc/passwd"),
            "no workbook",
            id="way out",
        ),
        pytest.param(
            "xl/_rels/workbook.xml.rels",
            _replace(b"worksheets/sheet1.xml", b"worksheets/none.xml"),
            "'xl/worksheets/none.xml' is missing",
            id="sheet gone",
        ),
        pytest.param(
            "xl/workbook.xml",
            _replace(b"<workbookPr", b'<workbookPr date1904="1"'),
            "1904",
            id="other calendar",
        ),
        pytest.param("xl/tables/table1.xml", _replace(b"A4:F9", b"F9:A4"), "Jobs", id="table"),
    ],
)
def test_a_hostile_or_broken_part_is_refused(
    book: Path, tmp_path: Path, part: str, change: Change, what: str
) -> None:
    """The message names file and fault; nothing outside the file is ever read."""
    parts = read_parts(book)
    parts[part] = change(parts[part])
    path = write_parts(tmp_path / "shop.xlsx", parts)

    with pytest.raises(BookUnreadableError, match=what) as caught:
        read_snapshot(path)

    assert "shop.xlsx" in str(caught.value)
    assert caught.value.remedy


@pytest.mark.parametrize(
    "name",
    ["../a.xml", "/etc/passwd", "xl/../../a", "xl\\a.xml", "c:/a", "xl//a", "XL/Styles.xml"],
)
def test_part_names_with_tricks_are_refused(book: Path, tmp_path: Path, name: str) -> None:
    """A name that means a place outside, or the same part twice, is never accepted."""
    path = write_parts(tmp_path / "shop.xlsx", {**read_parts(book), name: b"<x/>"})

    with pytest.raises(BookUnreadableError, match=r"unfit name|twice"):
        read_snapshot(path)


def _shared(path: Path, book: Path, formula: bytes) -> Path:
    cells = b"".join(b'<c r="%c1"><f t="shared" si="0"/></c>' % col for col in b"BCDEFG")
    row = b'<row r="1"><c r="A1"><f t="shared" ref="A1:G1" si="0">' + formula + b"</f></c>"
    sheet = b'<worksheet xmlns="' + _MAIN + b'"><sheetData>' + row + cells
    parts = read_parts(book)
    parts["xl/worksheets/sheet3.xml"] = sheet + b"</row></sheetData></worksheet>"
    return write_parts(path, parts)


@pytest.mark.parametrize("formula", [b"1+" * 4096 + b"1", b"1+" * 500 + b"1"])
def test_formulas_that_swell_are_refused(
    book: Path, tmp_path: Path, formula: bytes, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither one formula nor all shared ones together can fill the memory."""
    path = _shared(tmp_path / "shop.xlsx", book, formula)
    monkeypatch.setattr(stored, "_MOST_WRITTEN", 5000)

    with pytest.raises(BookUnreadableError, match="Last & least"):
        read_snapshot(path)


def test_a_link_over_the_whole_sheet_is_cut_short(book: Path, tmp_path: Path) -> None:
    """A range of millions of linked cells is not written out cell by cell."""
    parts = read_parts(book)
    parts[SHEET] = parts[SHEET].replace(b'ref="A5"', b'ref="A5:XFD1048576"')

    jobs = read_snapshot(write_parts(tmp_path / "shop.xlsx", parts)).sheets[0]

    assert len(jobs.links) == 1000


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    """The message gives the path as asked for."""
    with pytest.raises(BookUnreadableError, match="there is no such file"):
        read_snapshot(tmp_path / "none.xlsx")
