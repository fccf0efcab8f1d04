"""A sheet taken out takes along what only it had; all else keeps its bytes and its place."""

import re
from pathlib import Path

import pytest
from lxml import etree

from ledger_tools.book.parts.markup import EXTENDED, MAIN, VARIANTS
from ledger_tools.book.patch import patched_book
from ledger_tools.book.reader import read_snapshot
from ledger_tools.errors import BookChangedError, NotWritableError
from ledger_tools.shop.plan import Plan, RemoveSheet
from tests.book.mixed import drawn, job_sheet, mixed_book
from tests.book.test_patch import _audit, _opened
from tests.parts import packed_parts, read_parts, write_parts

ALWAYS_TOUCHED = {
    "[Content_Types].xml",
    "xl/workbook.xml",
    "xl/_rels/workbook.xml.rels",
    "docProps/app.xml",
}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a workbook full of what owners put into theirs, with two job sheets."""
    path = mixed_book(tmp_path / "shop.xlsx")
    adds = (job_sheet("25-0100"), job_sheet("25-0101"))
    path.write_bytes(patched_book(path.read_bytes(), path.name, Plan(adds), draw=drawn))
    return path


def _remove(path: Path, *names: str) -> Path:
    target = path.with_name("after.xlsx")
    plan = Plan(tuple(RemoveSheet(name) for name in names))
    target.write_bytes(patched_book(path.read_bytes(), path.name, plan))
    return target


def _parts_of(path: Path, sheet: str) -> set[str]:
    """Return the parts of a job sheet: itself, its table, drawing, picture and their links."""
    parts = read_parts(path)
    name = next(n for n, c in parts.items() if f'"Job_{sheet}"'.replace("-", "_").encode() in c)
    rels = next(n for n, c in parts.items() if f"/{name}".encode() in c and "sheets/_rels" in n)
    own = rels.replace("_rels/", "").removesuffix(".rels")
    targets = re.findall(rb'Target="/([^"]+)"', parts[rels])
    return {own, rels, *(t.decode() for t in targets)}


def test_every_other_part_keeps_its_compressed_bytes(book: Path) -> None:
    """The sheet's own parts are gone; those that list them change; the rest stay in order."""
    before = packed_parts(book)
    own = _parts_of(book, "25-0100")

    after = packed_parts(_remove(book, "25-0100"))

    gone = before.keys() - after.keys()
    assert own <= gone
    assert all("drawing" in name or "media" in name for name in gone - own)
    assert after.keys() <= before.keys()
    assert [n for n in after if after[n] != before[n] and n not in ALWAYS_TOUCHED] == []
    assert list(after) == [n for n in before if n in after]


def test_a_part_that_another_sheet_has_too_stays(book: Path) -> None:
    """A picture drawn once for two sheets goes with the second of them."""
    media = {n for n in read_parts(book) if "/media/" in n}
    first = {n for n in read_parts(_remove(book, "25-0100")) if "/media/" in n}
    both = {n for n in read_parts(_remove(book, "25-0100", "25-0101")) if "/media/" in n}

    assert first == media
    assert both < media


def test_add_and_remove_is_the_book_as_it_was(tmp_path: Path) -> None:
    """Sheets, names, types and titles are those from before; formats that came along stay."""
    path = mixed_book(tmp_path / "shop.xlsx")
    there = patched_book(path.read_bytes(), path.name, Plan((job_sheet("25-0100"),)), draw=drawn)
    content = patched_book(there, path.name, Plan((RemoveSheet("25-0100"),)))
    path.with_name("back.xlsx").write_bytes(content)

    before, after = read_parts(path), read_parts(path.with_name("back.xlsx"))

    assert after.keys() == before.keys()
    for name in ("docProps/app.xml", "[Content_Types].xml"):
        assert _canonical(after[name]) == _canonical(before[name])
    assert read_snapshot(path.with_name("back.xlsx")).sheets == read_snapshot(path).sheets


def _canonical(content: bytes) -> bytes:
    return etree.tostring(etree.fromstring(content), method="c14n")


def test_names_and_the_tab_in_view_stay_with_their_sheets(book: Path) -> None:
    """Print titles of sheets further right are still theirs; the same sheet is in view."""
    after = _opened(_remove(book, "25-0101", "25-0100"))
    before = _opened(book)

    assert after.sheetnames == [n for n in before.sheetnames if not n.startswith("25-")]
    for sheet in after.worksheets:
        assert sheet.print_title_rows == before[sheet.title].print_title_rows
        assert sheet.print_area == before[sheet.title].print_area
    assert after.active is not None
    assert before.active is not None
    assert after.active.title == before.active.title == "Own sheet"
    assert set(after.defined_names) == set(before.defined_names)


def test_the_tab_in_view_taken_out_gives_its_place_to_the_next(book: Path) -> None:
    """A workbook that shows no sheet cannot be opened."""
    after = _opened(_remove(book, "Own sheet"))

    assert after.active is not None
    assert after.active.title == "Picture"


def test_titles_list_the_sheets_that_are_left(book: Path) -> None:
    """Count and order are those of the tabs, and names of the sheet are not listed any more."""
    app = etree.fromstring(
        read_parts(_remove(book, "25-0100", "Last & least"))["docProps/app.xml"]
    )

    vector = app.find(f"{{{EXTENDED}}}TitlesOfParts/{{{VARIANTS}}}vector")
    counts = [int(n.text or "0") for n in app.iter(f"{{{VARIANTS}}}i4")]
    assert vector is not None
    titles = [title.text or "" for title in vector]
    assert titles[: counts[0]] == ["Jobs", "25-0101", "Own sheet"]
    assert not [t for t in titles if t.startswith(("'25-0100'", "'Last & least'", "Last & least"))]
    assert sum(counts) == len(titles) == int(vector.get("size", "0"))


def test_names_and_charts_that_meant_the_sheet_say_ref(book: Path) -> None:
    """As when a spreadsheet program deletes a sheet; what meant other sheets is as it was."""
    after = _remove(book, "Last & least")
    parts = read_parts(after)

    assert read_snapshot(after).names["shop_name"] == "#REF!"
    assert read_snapshot(after).names["job_numbers"] == "Jobs!$A$5:$A$9"
    charts = b"".join(c for n, c in parts.items() if "/charts/" in n)
    assert b"Jobs!$E$5:$E$9" in charts
    without_jobs = read_parts(_remove(book, "Jobs"))
    charts = b"".join(c for n, c in without_jobs.items() if "/charts/" in n)
    assert b"Jobs!" not in charts
    assert b"#REF!" in charts


def test_the_chain_of_cells_goes(book: Path) -> None:
    """It would name cells of a sheet that is gone."""
    parts = read_parts(book)
    types = parts["[Content_Types].xml"]
    kind = b"application/vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml"
    override = b'<Override PartName="/xl/calcChain.xml" ContentType="' + kind + b'"/></Types>'
    parts["[Content_Types].xml"] = types.replace(b"</Types>", override)
    rels = parts["xl/_rels/workbook.xml.rels"]
    office = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships/calcChain"
    link = b'<Relationship Id="rId999" Type="' + office + b'" Target="calcChain.xml"/>'
    parts["xl/_rels/workbook.xml.rels"] = rels.replace(b"</Relat", link + b"</Relat")
    parts["xl/calcChain.xml"] = f'<calcChain xmlns="{MAIN}"><c r="A1" i="2"/></calcChain>'.encode()
    write_parts(book, parts)

    after = read_parts(_remove(book, "25-0100"))

    assert "xl/calcChain.xml" not in after
    assert b"calcChain" not in after["xl/_rels/workbook.xml.rels"] + after["[Content_Types].xml"]


def test_parts_nobody_refers_to_are_let_be(book: Path) -> None:
    """What some other program put into the file unlinked is not ours to clear away."""
    parts = read_parts(book)
    parts["custom/left-over.bin"] = b"theirs"
    types = parts["[Content_Types].xml"]
    default = b'<Default Extension="bin" ContentType="application/octet-stream"/></Types>'
    parts["[Content_Types].xml"] = types.replace(b"</Types>", default)
    write_parts(book, parts)

    assert read_parts(_remove(book, "25-0100"))["custom/left-over.bin"] == b"theirs"


def test_a_sheet_that_is_gone_already_is_told(book: Path) -> None:
    """The plan was made from another file."""
    with pytest.raises(BookChangedError, match="25-0999"):
        _remove(book, "25-0999")


def test_the_last_sheet_stays(book: Path) -> None:
    """A workbook without sheets is none."""
    names = [sheet.name for sheet in read_snapshot(book).sheets]

    with pytest.raises(NotWritableError, match="no sheet would be left"):
        _remove(book, *names, "Picture")


def test_the_audit_finds_nothing_new(book: Path) -> None:
    """A checker of the file format has no more to say than before."""
    assert set(_audit(_remove(book, "25-0100", "25-0101"))) <= set(_audit(book))
