"""What covers all rows of a table covers the new ones too; what covers some of them stays."""

from collections.abc import Mapping, Sequence
from pathlib import Path

import pytest
import xlsxwriter
from lxml import etree

from ledger_tools.book.parts.covering import Growth, stretched
from ledger_tools.book.parts.references import Area
from ledger_tools.book.patch import patched_book
from ledger_tools.book.reader import read_snapshot
from ledger_tools.shop.plan import Content, GrowTable, Plan, SetCell
from ledger_tools.shop.snapshot import SheetSnapshot
from tests import libreoffice
from tests.book.mixed import mixed_book
from tests.book.test_patch import _audit
from tests.parts import packed_parts, read_parts, write_parts

JOBS = Growth("Jobs", Area(4, 1, 9, 6), 12)
OWN = "xl/worksheets/sheet2.xml"
CHART = "xl/charts/chart1.xml"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
SPREADSHEET = "application/vnd.openxmlformats-officedocument.spreadsheetml"


@pytest.mark.parametrize(
    ("formula", "grown"),
    [
        ("SUM(Jobs!E5:E9)", "SUM(Jobs!E5:E12)"),
        ("SUM('Jobs'!$E$5:$E$9)*2", "SUM('Jobs'!$E$5:$E$12)*2"),
        ("SUM(jobs!e5:e9)", "SUM(jobs!e5:e12)"),
        ("SUM(Jobs!E4:E9)", "SUM(Jobs!E4:E12)"),
        ("SUMIF(Jobs!A5:A9,A5,Jobs!E5:E9)", "SUMIF(Jobs!A5:A12,A5,Jobs!E5:E12)"),
        ("Jobs!$A$4:$F$9", "Jobs!$A$4:$F$12"),
        ("(Jobs!$A$5:$A$9,Jobs!$C$5:$C$9)", "(Jobs!$A$5:$A$12,Jobs!$C$5:$C$12)"),
        ("SUM(Jobs!E6:E9)", None),
        ("SUM(Jobs!E3:E9)", None),
        ("SUM(Jobs!E5:E8)", None),
        ("SUM(Jobs!E5:E99)", None),
        ("Jobs!E9", None),
        ("SUM(Jobs!F5:G9)", None),
        ("SUM(E5:E9)", None),
        ("SUM(Other!E5:E9)", None),
        ("SUM(My.Jobs!E5:E9)", None),
        ("SUM('My Jobs'!E5:E9)", None),
        ("SUM([1]Jobs!E5:E9)", None),
        ("SUM('[other.xlsx]Jobs'!E5:E9)", None),
        ("SUM(First:Jobs!E5:E9)", None),
        ("SUM('First:Jobs'!E5:E9)", None),
        ('INDIRECT("Jobs!E5:E9")', None),
        ("SUM(T['Jobs'!E5:E9])", None),
        ("SUM(Jobs!E:E)", None),
    ],
)
def test_only_references_to_all_rows_grow(formula: str, grown: str | None) -> None:
    """Header row or first row to last row, within the table's columns, on its sheet."""
    assert stretched(formula, [JOBS]) == (grown or formula)


def test_a_reference_without_a_sheet_means_the_one_it_stands_on() -> None:
    """On the table's sheet it grows, on another it means other cells."""
    assert stretched("SUM(E5:E9)", [JOBS], here="Jobs") == "SUM(E5:E12)"
    assert stretched("SUM(E5:E9)", [JOBS], here="Own sheet") == "SUM(E5:E9)"


def test_columns_beside_the_table_are_not_its_rows() -> None:
    """A table from column B on has nothing to do with column A."""
    table = Growth("Jobs", Area(4, 2, 9, 6), 12)

    assert stretched("Jobs!A5:A9+Jobs!A5:C9", [table]) == "Jobs!A5:A9+Jobs!A5:C9"
    assert stretched("Jobs!B5:B9+Jobs!F5:F9", [table]) == "Jobs!B5:B12+Jobs!F5:F12"


def test_a_name_with_an_apostrophe_is_understood() -> None:
    """It is doubled in a formula."""
    own = Growth("O'Neil's jobs", JOBS.area, 12)

    assert stretched("SUM('O''Neil''s jobs'!E5:E9)", [own]) == "SUM('O''Neil''s jobs'!E5:E12)"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a workbook full of what owners put into theirs."""
    return mixed_book(tmp_path / "shop.xlsx")


def _grow(path: Path, *before: SetCell, theirs: Sequence[int] = ()) -> Path:
    growth = GrowTable("Jobs", "Jobs", 9, 3, tuple(theirs))
    target = path.with_name("grown.xlsx")
    target.write_bytes(patched_book(path.read_bytes(), path.name, Plan((growth, *before))))
    return target


def _with(path: Path, part: str, old: str, new: str) -> Path:
    parts = read_parts(path)
    assert old.encode() in parts[part], old
    parts[part] = parts[part].replace(old.encode(), new.encode(), 1)
    return write_parts(path, parts)


def _sheet(path: Path, name: str) -> SheetSnapshot:
    return next(s for s in read_snapshot(path).sheets if s.name == name)


def _formulas(path: Path, part: str) -> list[str]:
    """Return the formulas of a part that stand in no cell."""
    root = etree.fromstring(read_parts(path)[part])
    found = root.iter("{*}f", "{*}formula", "{*}formula1", "{*}formula2")
    return [f.text or "" for f in found if f.getparent().tag != f"{{{MAIN}}}c"]  # type: ignore[union-attr]


def test_series_of_charts_grow_on_sheets_and_chart_sheets(book: Path) -> None:
    """The chart beside the owner's cells and the one that is a sheet."""
    after = _grow(book)

    charts = [_formulas(after, f"xl/charts/chart{n}.xml") for n in (1, 2)]
    assert charts == [["Jobs!$A$5:$A$12", "Jobs!$E$5:$E$12"], ["Jobs!$C$5:$C$12"]]


def test_a_chart_of_other_cells_keeps_its_bytes(book: Path) -> None:
    """A series over some of the rows, or over another sheet, is no business of the table."""
    _with(book, CHART, "Jobs!$E$5:$E$9", "Jobs!$E$6:$E$9")
    _with(book, CHART, "Jobs!$A$5:$A$9", "'Own sheet'!$A$5:$A$9")
    before = packed_parts(book)

    after = packed_parts(_grow(book))

    assert after[CHART] == before[CHART]
    assert after["xl/charts/chart2.xml"] != before["xl/charts/chart2.xml"]


def test_a_formula_on_another_sheet_grows_and_is_computed_anew(book: Path) -> None:
    """Its old value was the sum of fewer rows; formulas that stay as they are keep theirs."""
    after = _sheet(_grow(book), "Own sheet")

    assert after.formulas[2, 4] == "SUM(Jobs!E5:E12)"
    assert (2, 4) not in after.values
    assert after.values[3, 4] == "some"


def test_formulas_beside_the_table_grow(book: Path) -> None:
    """A sum above it and one at its side; a sum down to each row goes on as it was."""
    cells = {
        (2, 5): "SUM(E5:E9)",
        (7, 8): "C7/SUM(C$5:C$9)",
        (8, 9): "SUM(C$5:C8)",
        (9, 9): "SUM(C$5:C9)",
        (9, 11): "SUM(E5:E9)",
    }
    typed = (SetCell("Jobs", *p, Content(), Content(1.0, f)) for p, f in cells.items())
    book.write_bytes(patched_book(book.read_bytes(), book.name, Plan(tuple(typed))))

    after = _sheet(_grow(book), "Jobs").formulas

    assert {place: after[place] for place in cells} == {
        (2, 5): "SUM(E5:E12)",
        (7, 8): "C7/SUM(C$5:C$12)",
        (8, 9): "SUM(C$5:C8)",
        (9, 9): "SUM(C$5:C9)",
        (9, 11): "SUM(E5:E12)",
    }


def test_a_sum_down_to_each_row_is_one_only_beside_those_rows(book: Path) -> None:
    """In the same row of another sheet the end is no coincidence of the row it stands in."""
    typed = SetCell("Own sheet", 9, 5, Content(), Content(1.0, "SUM(Jobs!C$5:C9)"))
    book.write_bytes(patched_book(book.read_bytes(), book.name, Plan((typed,))))

    assert _sheet(_grow(book), "Own sheet").formulas[9, 5] == "SUM(Jobs!C$5:C12)"


@pytest.mark.parametrize("row", [9, 10, 12])
def test_no_sum_comes_to_sum_itself(book: Path, row: int) -> None:
    """A total that the owner put into a row the table has now stays as it was."""
    typed = SetCell(
        "Jobs", row, 4, Content(100.0 if row == 9 else None), Content(1.0, "SUM(D5:D9)")
    )
    book.write_bytes(patched_book(book.read_bytes(), book.name, Plan((typed,))))

    assert _sheet(_grow(book), "Jobs").formulas[row, 4] == "SUM(D5:D9)"


def test_a_sum_on_the_sheet_of_the_table_is_enough(tmp_path: Path) -> None:
    """No other sheet need refer to the table for it to be seen."""
    path = tmp_path / "plain.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        jobs = workbook.add_worksheet("Jobs")
        jobs.add_table("A4:F9", {"name": "Jobs"})
        jobs.write_formula("A1", "=SUM(A5:A9)")

    assert _sheet(_grow(path), "Jobs").formulas == {(1, 1): "SUM(A5:A12)"}


def test_a_shared_formula_is_written_apart_only_where_it_grows(book: Path) -> None:
    """One member covers the table, so each gets its own; another group is left as it was."""
    shared = '<c r="M{0}"><f t="shared"{1} si="7">{2}</f><v>1</v></c>'
    _with(book, OWN, "</row>", shared.format(2, ' ref="M2:M3"', "SUM(Jobs!E4:E8)") + "</row>")
    parts = read_parts(book)
    rows = parts[OWN].decode().split("</row>")
    rows[1] += shared.format(3, "", "")
    parts[OWN] = "</row>".join(rows).encode()
    write_parts(book, parts)
    assert _sheet(book, "Own sheet").formulas[3, 13] == "SUM(Jobs!E5:E9)"

    after = _grow(book)

    formulas = _sheet(after, "Own sheet").formulas
    assert (formulas[2, 13], formulas[3, 13]) == ("SUM(Jobs!E4:E8)", "SUM(Jobs!E5:E12)")
    text = read_parts(after)[OWN].decode()
    assert 'si="7"' not in text
    assert text.count('si="0"') == 6


def test_an_array_formula_grows_as_a_whole(book: Path) -> None:
    """Its text changes, the cells it fills stay."""
    _with(book, OWN, ">A2:A4*3<", ">A2:A4*SUM(Jobs!E5:E9)<")

    after = _grow(book)

    assert _sheet(after, "Own sheet").formulas[2, 6] == "A2:A4*SUM(Jobs!E5:E12)"
    assert b'<f t="array" ref="F2:F4">' in read_parts(after)[OWN]


def test_marks_choices_and_sparklines_grow_on_any_sheet(book: Path) -> None:
    """A list of choices, a mark and a sparkline over the table; relative ones mean each cell."""
    rules = (
        '<conditionalFormatting sqref="A1:A9"><cfRule type="expression" priority="1"><formula>'
        "A1&gt;SUM(Jobs!$E$5:$E$9)</formula></cfRule><cfRule type='expression' priority='2'>"
        "<formula>A1&gt;SUM(Jobs!E5:E9)</formula></cfRule></conditionalFormatting>"
        '<dataValidations count="1"><dataValidation type="list" sqref="A1">'
        "<formula1>Jobs!$A$5:$A$9</formula1></dataValidation></dataValidations>"
    )
    _with(book, OWN, "<pageMargins", rules + "<pageMargins")

    after = _grow(book)

    assert _formulas(after, OWN) == [
        "A1>SUM(Jobs!$E$5:$E$12)", "A1>SUM(Jobs!E5:E9)", "Jobs!$A$5:$A$12",
    ]  # fmt: skip
    assert "Jobs!C5:C12" in _formulas(after, "xl/worksheets/sheet1.xml")


def test_names_grow_if_they_mean_all_rows(book: Path) -> None:
    """A name for one cell of the last row goes on meaning that cell."""
    _with(
        book, "xl/workbook.xml", "<definedNames>",
        '<definedNames><definedName name="a_last">Jobs!$B$9</definedName>'
        '<definedName name="a_late">Jobs!$B$7:$B$9</definedName>'
        '<definedName name="all_in">SUM(Jobs!$E$5:$E$9)</definedName>'
        '<definedName name="_xlnm.Print_Area" localSheetId="0">Jobs!$A$1:$C$9</definedName>',
    )  # fmt: skip

    text = read_parts(_grow(book))["xl/workbook.xml"].decode()

    assert ">Jobs!$B$9<" in text
    assert ">Jobs!$B$7:$B$9<" in text
    assert ">SUM(Jobs!$E$5:$E$12)<" in text
    assert ">Jobs!$A$1:$C$12<" in text
    assert ">'Last &amp; least'!$A$1:$C$9<" in text


def _add(path: Path, owner: str, part: str, kinds: tuple[str, str], content: str) -> Path:
    """Put another part, of these kinds of relationship and content, where `owner` has it."""
    kind, content_type = kinds
    parts = read_parts(path)
    folder, _, name = owner.rpartition("/")
    rels = f"{folder}/_rels/{name}.rels"
    empty = b'<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    there = parts.get(rels, empty + b"</Relationships>")
    made = f'<Relationship Id="rIdAdded" Type="{OFFICE}/{kind}" Target="/{part}"/></Relationships>'
    parts[rels] = there.replace(b"</Relationships>", made.encode())
    override = f'<Override PartName="/{part}" ContentType="{content_type}"/></Types>'
    types = parts["[Content_Types].xml"]
    parts["[Content_Types].xml"] = types.replace(b"</Types>", override.encode())
    parts[part] = content.encode()
    return write_parts(path, parts)


PIVOT = (
    f'<pivotCacheDefinition xmlns="{MAIN}"><cacheSource type="worksheet">'
    '<worksheetSource ref="{}" sheet="{}"{}/></cacheSource><cacheFields count="0"/>'
    "</pivotCacheDefinition>"
)


@pytest.mark.parametrize(
    ("ref", "sheet", "more", "grows"),
    [
        ("A4:F9", "Jobs", "", True),
        ("A6:F9", "Jobs", "", False),
        ("A4:F9", "Own sheet", "", False),
        ("A4:F9", "Jobs", f' r:id="rId1" xmlns:r="{OFFICE}"', False),
    ],
    ids=["all", "some", "another sheet", "another file"],
)
def test_the_source_of_a_pivot_table_grows_with_the_table(
    book: Path, ref: str, sheet: str, more: str, *, grows: bool
) -> None:
    """If it is the table's range; what it counted last stays until it is refreshed."""
    part = "xl/pivotCache/pivotCacheDefinition1.xml"
    kinds = ("pivotCacheDefinition", f"{SPREADSHEET}.pivotCacheDefinition+xml")
    _add(book, "xl/workbook.xml", part, kinds, PIVOT.format(ref, sheet, more))

    after = read_parts(_grow(book))[part].decode()

    assert f'ref="{"A4:F12" if grows else ref}"' in after


def test_the_choices_of_a_list_control_grow(book: Path) -> None:
    """A list box filled from a column of the table offers its new rows."""
    control = (
        '<formControlPr xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" '
        'objectType="Drop" fmlaLink="$C$1" fmlaRange="Jobs!$A$5:$A$9"/>'
    )
    kinds = ("ctrlProp", "application/vnd.ms-excel.controlproperties+xml")
    _add(book, OWN, "xl/ctrlProps/ctrlProp1.xml", kinds, control)

    after = read_parts(_grow(book))["xl/ctrlProps/ctrlProp1.xml"]

    assert b'fmlaRange="Jobs!$A$5:$A$12"' in after
    assert b'fmlaLink="$C$1"' in after


def test_what_the_owner_marked_as_fine_or_open_grows(book: Path) -> None:
    """Green corners that were waved away and ranges free for editing end with the table."""
    sheet = "xl/worksheets/sheet1.xml"
    waved = '<ignoredErrors><ignoredError sqref="A5:A9" numberStoredAsText="1"/></ignoredErrors>'
    free = '<protectedRanges><protectedRange name="free" sqref="C5:C9 H1"/></protectedRanges>'
    _with(book, sheet, "<drawing ", waved + "<drawing ")
    _with(book, sheet, "</sheetData>", "</sheetData>" + free)

    text = read_parts(_grow(book))[sheet].decode()

    assert 'ignoredError sqref="A5:A12"' in text
    assert 'sqref="C5:C12 H1"' in text


def test_the_order_the_table_was_sorted_by_grows(book: Path) -> None:
    """Excel keeps it with the table and sorts those rows again."""
    table = "xl/tables/table1.xml"
    order = '<sortState ref="A5:F9"><sortCondition ref="B5:B9"/></sortState>'
    _with(book, table, "<tableColumns", order + "<tableColumns")

    text = read_parts(_grow(book))[table].decode()

    assert '<sortState ref="A5:F12"><sortCondition ref="B5:B12"/>' in text


def test_what_stands_beside_the_new_rows_is_let_be(book: Path) -> None:
    """Cells and merged cells right of the table, a grouped last row: none of it is the table's."""
    sheet = "xl/worksheets/sheet1.xml"
    _with(book, sheet, '<row r="9"', '<row r="9" outlineLevel="1" hidden="1"')
    beside = '<row r="11"><c r="H11"><v>7</v></c></row></sheetData><mergeCells count="1">'
    _with(book, sheet, "</sheetData>", beside + '<mergeCell ref="H10:I11"/></mergeCells>')

    after = _grow(book)

    root = etree.fromstring(read_parts(after)[sheet])
    new = [r for r in root.iter(f"{{{MAIN}}}row") if r.get("r") in {"10", "11", "12"}]
    assert len(new) == 3
    assert not [r for r in new if r.get("outlineLevel") or r.get("hidden")]
    assert _sheet(after, "Jobs").values[11, 8] == 7
    assert b'ref="H10:I11"' in read_parts(after)[sheet]


def _computed(path: Path, formulas: Mapping[int, str], *, said: bool) -> Path:
    """Give the table a column of the owner's, computed in some rows."""
    typed = tuple(
        SetCell("Jobs", row, 6, Content(), Content(float(row), formula))
        for row, formula in formulas.items()
    )
    path.write_bytes(patched_book(path.read_bytes(), path.name, Plan(typed)))
    if said:
        formula = "<calculatedColumnFormula>D5*2+SUM(D$5:D$9)</calculatedColumnFormula>"
        column = '<tableColumn id="6" name="State"'
        _with(path, "xl/tables/table1.xml", f"{column}/>", f"{column}>{formula}</tableColumn>")
    return path


@pytest.mark.parametrize("said", [True, False], ids=["Excel", "LibreOffice"])
def test_a_computed_column_of_the_owners_goes_on(book: Path, *, said: bool) -> None:
    """New rows get its formula, without a value; LibreOffice does not say that it is one."""
    _computed(book, {row: f"D{row}*2+SUM(D$5:D$9)" for row in range(5, 10)}, said=said)

    after = _grow(book, theirs=(6,))

    jobs = _sheet(after, "Jobs")
    assert [jobs.formulas[row, 6] for row in (5, 9, 10, 12)] == [
        f"D{row}*2+SUM(D$5:D$12)" for row in (5, 9, 10, 12)
    ]
    assert (10, 6) not in jobs.values
    kept = b"<calculatedColumnFormula>D5*2+SUM(D$5:D$12)<"
    assert (kept in read_parts(after)["xl/tables/table1.xml"]) is said


def test_a_column_computed_here_and_there_does_not_go_on(book: Path) -> None:
    """One formula typed in one row is no rule for the column, unless the table says so."""
    _computed(book, {5: "D5*2+SUM(D$5:D$9)", 8: "D8*2+SUM(D$5:D$9)"}, said=False)
    assert (10, 6) not in _sheet(_grow(book, theirs=(6,)), "Jobs").formulas

    _with(
        book, "xl/tables/table1.xml", '<tableColumn id="6" name="State"/>',
        '<tableColumn id="6" name="State"><calculatedColumnFormula>D5*2</calculatedColumnFormula>'
        "</tableColumn>",
    )  # fmt: skip
    assert _sheet(_grow(book, theirs=(6,)), "Jobs").formulas[10, 6] == "D10*2+SUM(D$5:D$12)"


def test_our_own_columns_are_left_to_the_plan(book: Path) -> None:
    """Column E is computed in every row, and no column of the owner's."""
    assert (10, 5) not in _sheet(_grow(book), "Jobs").formulas


def test_a_filled_cell_of_a_computed_column_keeps_what_was_typed(book: Path) -> None:
    """A row typed under the table is taken in as it is."""
    _computed(book, {row: f"D{row}*2" for row in range(5, 10)}, said=False)
    _with(book, "xl/worksheets/sheet1.xml", "</sheetData>",
          '<row r="10"><c r="F10"><v>99</v></c></row></sheetData>')  # fmt: skip

    jobs = _sheet(_grow(book, theirs=(6,)), "Jobs")

    assert jobs.values[10, 6] == 99
    assert (10, 6) not in jobs.formulas
    assert jobs.formulas[11, 6] == "D11*2"


def test_the_audit_finds_nothing_new(book: Path) -> None:
    """A checker of the file format has no more to say than before."""
    assert set(_audit(_grow(book))) <= set(_audit(book))


@pytest.mark.libreoffice
def test_libreoffice_opens_what_grew(book: Path, tmp_path: Path) -> None:
    """It draws the chart over the new rows, computes the sum, and knows choices and sparkline."""
    _with(
        book, OWN, "<pageMargins",
        '<dataValidations count="1"><dataValidation type="list" sqref="A1"><formula1>'
        "Jobs!$A$5:$A$9</formula1></dataValidation></dataValidations><pageMargins",
    )  # fmt: skip
    typed = SetCell("Jobs", 10, 5, Content(), Content(1000.0))

    saved = libreoffice.resaved(_grow(book, typed), tmp_path)

    assert _sheet(saved, "Own sheet").values[2, 4] == 1000 + 25 * sum(range(4, 9))
    parts = read_parts(saved)
    charts = "".join(c.decode() for n, c in parts.items() if "/charts/chart" in n)
    assert "Jobs!$E$5:$E$12" in charts
    assert '<c:ptCount val="8"/>' in charts
    assert b"Jobs!$A$5:$A$12" in parts[OWN]
    assert b"Jobs!C5:C12" in parts["xl/worksheets/sheet1.xml"]


@pytest.mark.libreoffice
def test_what_libreoffice_saved_grows(book: Path, tmp_path: Path) -> None:
    """Its way of writing charts, formulas, choices and sparklines is understood too."""
    after = _grow(libreoffice.resaved(book, tmp_path))

    assert _sheet(after, "Own sheet").formulas[2, 4] == "SUM(Jobs!E5:E12)"
    charts = "".join(c.decode() for n, c in read_parts(after).items() if "/charts/chart" in n)
    assert "Jobs!$E$5:$E$12" in charts
    assert "Jobs!$E$5:$E$9" not in charts


def test_a_book_of_the_owners_in_which_nothing_covers_is_touched_no_more(tmp_path: Path) -> None:
    """Only the sheet, its table and the list of sheets' description are written."""
    path = tmp_path / "plain.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        jobs, own = workbook.add_worksheet("Jobs"), workbook.add_worksheet("Mine")
        jobs.add_table("A4:F9", {"name": "Jobs"})
        own.write_formula("A1", "=SUM(Jobs!E5:E8)+SUM(E5:E9)+SUM(Jobs!E:E)")
    before = packed_parts(path)

    after = packed_parts(_grow(path))

    assert {n for n in after if after[n] != before[n]} == {
        "xl/worksheets/sheet1.xml",
        "xl/tables/table1.xml",
    }
