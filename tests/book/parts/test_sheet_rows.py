"""Rows that nobody looks at stay as they are; all others come to the same as in a tree."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from ledger_tools.book.parts.markup import MAIN, PartUnfitError
from ledger_tools.book.parts.sheet_rows import SheetRows

_X = "http://example.org/x"
_HEAD = f'<?xml version="1.0" encoding="UTF-8"?><worksheet xmlns="{MAIN}" xmlns:x="{_X}">'
_ROWS = {
    2: '<row  r="2"><c r="A2"><v>1</v></c></row>',
    4: '<row r="4" x:dy="0.25" ht="15"><c r="B4" t="str"><f>A2&amp;""</f><v>ü</v></c></row>',
    5: '<row r="5"/>',
    9: '<row r="9" spans="1:2"><c r="A9"><f t="shared" si="0" ref="A9:B9">A2</f></c></row>',
}
_TAIL = "<pageMargins left='1'/></worksheet>"


def _sheet(*rows: str, head: str = _HEAD) -> bytes:
    return f"{head}<sheetData>{''.join(rows)}</sheetData>{_TAIL}".encode()


def _usual() -> bytes:
    return _sheet(*(row.replace("<row  r", "<row r") for row in _ROWS.values()))


def _said(element: etree._Element) -> object:
    """Return what an element says, whatever prefixes its names have."""
    inner = [_said(child) for child in element.iterchildren("*")]
    text = "".join(map(str, element.itertext()))
    return element.tag, sorted(element.attrib.items()), text, inner


def _plain(content: bytes) -> object:
    return _said(etree.fromstring(content))


def test_rows_nobody_looks_at_keep_their_bytes() -> None:
    """One row changes; the others are copied, entities, names and all."""
    rows = SheetRows(_usual(), "x.xlsx", "sheet")
    changed = rows.get(2)
    assert changed is not None
    changed.set("ht", "20")

    after = rows.content()

    for number in (4, 5, 9):
        assert _ROWS[number].encode() in after
    assert _plain(after) == _plain(_usual().replace(b'<row r="2"', b'<row r="2" ht="20"'))


def test_new_rows_stand_in_order() -> None:
    """Before, between and after those that are there, whether these are trees or bytes."""
    rows = SheetRows(_usual(), "x.xlsx", "sheet")
    rows.get(5)
    for number in (12, 1, 3, 7):
        rows.make(number)

    after = etree.fromstring(rows.content())

    numbers = [row.get("r") for row in after.iterfind(f"{{{MAIN}}}sheetData/*")]
    assert numbers == ["1", "2", "3", "4", "5", "7", "9", "12"]
    assert rows.numbers == [1, 2, 3, 4, 5, 7, 9, 12]


def test_rows_with_formulas_of_several_cells_are_found() -> None:
    """Among bytes as among trees."""
    rows = SheetRows(_usual(), "x.xlsx", "sheet")

    assert rows.grouped() == [9]
    assert rows.grouped() == [9]


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(_sheet(*_ROWS.values()), id="two blanks in a tag"),
        pytest.param(_sheet("\n", _ROWS[4], "\n", _ROWS[5]), id="line ends between rows"),
        pytest.param(_sheet('<row><c r="A1"/></row>', "<row/>"), id="rows without numbers"),
        pytest.param(
            _sheet('<row r="4"><!--</row><row r="5">--><c r="A4"/></row>', _ROWS[9]),
            id="a comment",
        ),
        pytest.param(
            _sheet('<row r="4"><?pi </row><row r="5">?><c r="A4"/></row>', _ROWS[9]),
            id="an instruction",
        ),
        pytest.param(_sheet(_ROWS[9], _ROWS[4]), id="rows out of order"),
        pytest.param(_sheet("<row r='4'><c r='A4'/></row>"), id="single quotes"),
        pytest.param(
            f'<x:worksheet xmlns:x="{MAIN}"><x:sheetData><x:row r="1"/></x:sheetData>'
            "</x:worksheet>".encode(),
            id="names with a prefix",
        ),
        pytest.param(
            _sheet(_ROWS[4], _ROWS[9], head=_HEAD.replace(" xmlns=", f' xmlns:m="{MAIN}" xmlns=')),
            id="two names for one namespace",
        ),
        pytest.param(
            _sheet(_ROWS[4], _ROWS[9])
            .decode()
            .replace("UTF-8", "ISO-8859-1")
            .encode("iso-8859-1"),
            id="latin letters",
        ),
        pytest.param(_sheet(), id="no rows"),
        pytest.param(
            _sheet().replace(b"<sheetData></sheetData>", b"<sheetData/>"), id="empty tag"
        ),
        pytest.param(
            _sheet(_ROWS[4]).decode().replace("UTF-8", "UTF-16").encode("utf-16"), id="UTF-16"
        ),
    ],
)
def test_what_is_written_otherwise_comes_to_the_same(content: bytes) -> None:
    """A new row, and a change in each that is there but the last, say the same as in a tree."""
    rows = SheetRows(content, "x.xlsx", "sheet")
    last = max(rows.numbers, default=0)
    for number in rows.numbers[:-1]:
        row = rows.get(number)
        assert row is not None
        row.set("ht", "7")
    rows.make(20)

    tree = etree.fromstring(content)
    data = tree.find(f"{{{MAIN}}}sheetData")
    assert data is not None
    for number, row in enumerate(data.iterchildren(f"{{{MAIN}}}row"), 1):
        row.set("r", row.get("r", str(number)))
        if int(row.get("r", "")) != last:
            row.set("ht", "7")
    etree.SubElement(data, f"{{{MAIN}}}row").set("r", "20")
    assert _plain(rows.content()) == _said(tree)


@pytest.mark.parametrize(
    "content",
    [
        _sheet('<row r="1"/>', '<row r="1"/>'),
        _sheet('<row r="x"/>'),
        _sheet().replace(b"sheetData", b"rows"),
        _sheet(_ROWS[5]).replace(b"<pageMargins", b"<sheetData/><pageMargins"),
    ],
    ids=["one number twice", "no number", "no rows", "rows in two places"],
)
def test_a_sheet_whose_rows_make_no_sense_is_refused(content: bytes) -> None:
    """Nothing is guessed where rows cannot be told apart."""
    with pytest.raises(PartUnfitError):
        SheetRows(content, "x.xlsx", "sheet")


@given(
    there=st.sets(st.integers(1, 30), max_size=12),
    steps=st.lists(st.tuples(st.sampled_from(("get", "make", "write")), st.integers(1, 30))),
)
def test_any_changes_come_to_the_same_as_in_a_tree(
    there: set[int], steps: list[tuple[str, int]]
) -> None:
    """Rows looked at, made and written in any order, the part saved in between."""
    content = _sheet(*(f'<row r="{n}"><c r="A{n}"><v>{n}</v></c></row>' for n in sorted(there)))
    rows = SheetRows(content, "x.xlsx", "sheet")
    expected = dict.fromkeys(there, "")
    for step, number in steps:
        row = rows.make(number) if step == "make" else rows.get(number)
        if step == "make":
            expected.setdefault(number, "")
        if step == "write" and row is not None:
            row.set("ht", str(number))
            expected[number] = str(number)
            rows.content()

    after = etree.fromstring(rows.content())

    found = {
        int(r.get("r", "")): r.get("ht", "") for r in after.iterfind(f"{{{MAIN}}}sheetData/*")
    }
    assert list(found) == sorted(expected)
    assert found == expected
