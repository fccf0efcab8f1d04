"""The quick way and the tree read the same cells."""

from pathlib import Path

import pytest
from lxml import etree

from ledger_tools.book.parts.markup import MAIN, PartUnfitError
from ledger_tools.book.parts.references import Places
from ledger_tools.book.parts.stored import meaning, rich_text, scan, walk
from ledger_tools.shop.snapshot import CellError
from tests.book.mixed import mixed_book
from tests.parts import read_parts


def _both(rows: str) -> tuple[object, object]:
    data = etree.fromstring(f'<sheetData xmlns="{MAIN}">{rows}</sheetData>')
    return scan(rows), walk(data, Places())


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1" s="3"/><c r="B1"/><c r="C1" t="s"><v>0</v></c></row>',
        '<row r="1"><c r="A1" s="3" t="n"/><c r="B1" t="n"><v>2</v></c></row>',
        '<row r="1" spans="1:2"><c r="B1" s="1"><f>A1&amp;"&lt;&gt;"</f><v>1.5</v></c></row>',
        '<row r="1"><c r="A1" t="str"><f>IF(1,"")</f><v></v></c><c r="B1"><f>1</f></c></row>',
        '<row><c r="A1" t="inlineStr"><is><t xml:space="preserve"> &gt; </t></is></c></row>',
        '<row r="2"><c r="A2"><f t="shared" ref="A2:B2" si="0">A1</f><v>1</v></c></row>',
        '<row r="2"><c r="B2"><f t="shared" si="0"/><v>1</v></c></row>',
        '<row r="1"><c r="A1" t="str"><f>B1</f><v/></c><c r="C1" t="str"><v/></c></row>',
        '<row r="1"><c r="A1" t="inlineStr"><is><t/></is></c></row>',
        '<row r="1"><c r="A1" t="b" s="1"><f aca="false">TRUE()</f><v>1</v></c></row>',
        '<row r="1"><c r="A1" t="n"><v>é &quot;&apos;&#10;</v></c></row>',
    ],
)  # fmt: skip
def test_usual_cells_are_read_alike(rows: str) -> None:
    """What programs usually write is read the quick way, just as from the tree."""
    quick, tree = _both(rows)

    assert quick is not None
    assert quick == tree


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1"><v><![CDATA[1]]></v></c></row>',
        '<row r="1"><c r="A1"><!-- note --><v>1</v></c></row>',
        '<row r="1"><c><v>1</v></c></row>',
        '<row r="1"><c r="A1" t="inlineStr"><is><r><t>a</t></r><r><t>b</t></r></is></c></row>',
        '<row r="1">\n<c r="A1"><v>1</v></c></row>',
        '<row r="1"><c t="s" r="A1"><v>1</v></c></row>',
        '<row r="1"><c r="A1"><v>&#x41;</v></c></row>',
        '<row r="1"><c r="A1" cm="1"><v>1</v></c></row>',
        '<row r="1"><c r="A1"><v>1</v><v>2</v></c></row>',
        "<row r='1'><c r='A1'><v>1</v></c></row>",
    ],
)
def test_unusual_cells_are_left_to_the_tree(rows: str) -> None:
    """Anything else is noticed, so that nothing is guessed."""
    quick, tree = _both(rows)

    assert quick is None
    assert tree


def test_both_ways_agree_on_a_whole_workbook(tmp_path: Path) -> None:
    """Every sheet of a full workbook reads alike."""
    sheets = [
        content
        for name, content in read_parts(mixed_book(tmp_path / "a.xlsx")).items()
        if b"<sheetData>" in content
    ]

    assert len(sheets) == 3
    for content in sheets:
        rows = content.partition(b"<sheetData>")[2].partition(b"</sheetData>")[0]
        quick = scan(rows.decode())
        assert quick
        assert quick == walk(
            etree.fromstring(content).iterfind(f"{{{MAIN}}}sheetData/*"), Places()
        )


def test_cells_without_addresses_follow_each_other() -> None:
    """Rows and cells may leave their address out; they stand next to the one before."""
    rows = (
        '<row><c><v>1</v></c><c r="D1"><v>2</v></c><c><v>3</v></c></row><row><c><v>4</v></c></row>'
    )

    _, tree = _both(rows)

    assert [cell[0] for cell in tree] == ["A1", "D1", "E1", "A2"]  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("kind", "text", "value"),
    [
        ("", "12", 12.0),
        ("n", "1E-3", 0.001),
        ("", "1_0", "1_0"),
        ("", "nan", "nan"),
        ("", "1e999", "1e999"),
        ("", "twelve", "twelve"),
        ("s", "1", "two"),
        ("str", "", ""),
        ("str", "a_x000D_b", "a\rb"),
        ("b", "0", False),
        ("e", "#REF!", CellError("#REF!")),
        ("d", "2025-01-02T12:00:00", 45659.5),
        ("", None, None),
        ("", "", ""),
    ],
)
def test_stored_values_mean(kind: str, text: str | None, value: object) -> None:
    """Numbers are float; what only looks like one to Python stays text."""
    found = meaning(kind, text, ["one", "two"])

    assert found == value
    assert type(found) is type(value)


@pytest.mark.parametrize("number", ["2", "-1", "x"])
def test_a_text_that_does_not_exist_is_an_error(number: str) -> None:
    """A wrong number of a shared text is never another text."""
    with pytest.raises(PartUnfitError, match=f"^'?{number}\\b"):
        meaning("s", number, ["one", "two"])


def test_phonetic_hints_are_not_part_of_a_text() -> None:
    """Runs are joined; the reading aid above them is not."""
    item = etree.fromstring(
        f'<si xmlns="{MAIN}"><r><t>To</t></r><rPh><t>xx</t></rPh><r><t>kyo</t></r></si>'
    )

    assert rich_text(item) == "Tokyo"
