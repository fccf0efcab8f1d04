"""Tables another program took apart, and tables that end with totals of their own."""

import re
from pathlib import Path

import openpyxl
import pytest

from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.lost_tables import header_area, may_be_table, widened
from ledger_tools.book.planning import FEWEST_SPARE, MORE_SPARE
from ledger_tools.book.work import work_out
from ledger_tools.errors import BookUnreadableError, NotWritableError
from ledger_tools.shop.plan import MakeTable
from ledger_tools.shop.snapshot import SheetSnapshot, Snapshot, TableArea, column_letters
from tests import libreoffice
from tests.book.shop import TODAY, Shop, by_code, only, with_sheet
from tests.parts import read_parts, write_parts

COLUMNS = JOBS_TABLE.columns
MOST = len(COLUMNS) // 2 + 1
WIDE = len(COLUMNS)
END, BEFORE = column_letters(WIDE), column_letters(WIDE - 1)
"""Letters of the last column of `Jobs`, and of the one before."""


def _sheet(*rows: tuple[object, ...], tables: tuple[TableArea, ...] = ()) -> SheetSnapshot:
    """Return a sheet filled from A1 on; None leaves a cell empty."""
    values = {
        (r, c): v
        for r, row in enumerate(rows, 1)
        for c, v in enumerate(row, 1)
        if isinstance(v, str | float)
    }
    return SheetSnapshot("Sheet", values, {}, tables)


HEADERS = tuple(column.header for column in COLUMNS)


def test_the_row_of_most_headers_is_the_head_of_a_table() -> None:
    """Headers count however they are cased; a column of the owner's right beside belongs to it."""
    sheet = _sheet(("Jobs",), (None, *map(str.upper, HEADERS), "Rack"), (None, "25-0001", "x"))

    assert header_area(sheet, COLUMNS, MOST) == TableArea("", 2, 2, 3, len(HEADERS) + 2)
    assert header_area(_sheet(HEADERS[: MOST - 1]), COLUMNS, MOST) is None


def test_a_remark_below_a_gap_is_no_entry() -> None:
    """One typed cell under empty rows is a remark, two are an entry."""
    rows: tuple[tuple[object, ...], ...] = (HEADERS, ("25-0001", 45719.0), (), (), ("remark",))

    remark, entry = _sheet(*rows), _sheet(*rows[:-1], (None, 45719.0, "R. Calder"))

    assert [area.last_row for s in (remark, entry) if (area := header_area(s, COLUMNS, MOST))] == [
        2,
        5,
    ]


@pytest.mark.parametrize(
    ("first", "last", "wide"),
    [(2, WIDE, (1, WIDE)), (1, WIDE - 1, (1, WIDE)), (2, WIDE - 1, (1, WIDE))],
)
def test_a_column_right_beside_its_table_belongs_to_it(
    first: int, last: int, wide: tuple[int, int]
) -> None:
    """Left or right; a column of the owner's there does not, unless one of ours is behind it."""
    sheet = _sheet((*HEADERS, "Rack"), ("25-0001",))

    found = widened(sheet, TableArea("Jobs", 1, first, 2, last), COLUMNS)

    assert (found.first_col, found.last_col) == wide


@pytest.mark.parametrize(
    ("headers", "others", "may"),
    [
        (("Job", "Rack"), (), True),
        (("Job", None), (), False),
        (("Job", " job"), (), False),
        (("Job", "two\nlines"), (), False),
        (("Job", "Rack"), (TableArea("Mine", 2, 2, 3, 3),), False),
        (("Job", "Rack"), (TableArea("Mine", 3, 1, 4, 2),), True),
    ],
)
def test_only_plain_headers_clear_of_other_tables_make_a_table(
    headers: tuple[object, ...], others: tuple[TableArea, ...], *, may: bool
) -> None:
    """Anything else, a spreadsheet program would call damaged."""
    sheet = _sheet(headers, ("25-0001", "3"), tables=others)

    assert may_be_table(sheet, TableArea("Jobs", 1, 1, 2, 2)) is may


def _without(snapshot: Snapshot, name: str, new_name: str) -> Snapshot:
    sheet = next(s for s in snapshot.sheets if s.name == name)
    names = {n: text.replace(f"{name}!", f"{new_name}!") for n, text in snapshot.names.items()}
    renamed = sheet.replaced(tables=(), name=new_name)
    return with_sheet(snapshot, name, renamed)._replace(names=names)


@pytest.mark.parametrize("name", ["Jobs", "Rates", "Taxes", "Invoices", "Invoice lines"])
def test_a_renamed_sheet_without_its_table_is_found(billed: Shop, name: str) -> None:
    """By all of its headers; the table is made again where it was, the jobs come to the same."""
    billed.recompute()
    snapshot = billed.snapshot()
    tables = {t for s in snapshot.sheets if s.name == name for t in s.tables}

    outcome = work_out(_without(snapshot, name, "Other"), as_of=TODAY)

    made = {op.area for op in outcome.plan.operations if isinstance(op, MakeTable)}
    assert {(t.name, t.first_row, t.first_col, t.last_col) for t in made} == {
        (t.name, t.first_row, t.first_col, t.last_col) for t in tables
    }
    assert outcome.results == billed.check().results
    assert {f.code for f in outcome.findings} == {"table-restored"}


def test_of_two_sheets_that_look_alike_none_is_taken(shop: Shop) -> None:
    """Neither has the name nor the table: one of them is a copy, and which is not known."""
    snapshot = _without(shop.snapshot(), "Rates", "One")
    one = next(s for s in snapshot.sheets if s.name == "One")
    twice = snapshot._replace(sheets=(*snapshot.sheets, one.replaced(name="Other")))

    outcome = work_out(twice, as_of=TODAY)

    assert only(outcome, "sheet-missing").sheet == "Rates"
    assert not outcome.plan.operations


def _dissolve(path: Path, more: str = "") -> None:
    """Take the table of Jobs out of the file, and put `more` in its sheet in place of a filter."""
    parts = read_parts(path)
    (part,) = (p for p, c in parts.items() if b'displayName="Jobs"' in c)
    sheet, relations = "xl/worksheets/sheet2.xml", "xl/worksheets/_rels/sheet2.xml.rels"
    parts.pop(part)
    for name, pattern, new in (
        ("[Content_Types].xml", rf'<Override [^>]*/{part}"[^>]*>', ""),
        (relations, r"<Relationship [^>]*/table\d+\.xml[^>]*>", ""),
        (sheet, "<tableParts.*</tableParts>", ""),
        (sheet, "</sheetData>", "</sheetData>" + more),
    ):
        text, count = re.subn(pattern, new, parts[name].decode())
        assert count == 1, (name, pattern)
        parts[name] = text.encode()
    write_parts(path, parts)


def _jobs_table(path: Path) -> str:
    return next(c for c in read_parts(path).values() if b'displayName="Jobs"' in c).decode()


def test_a_table_is_put_together_in_the_file(shop: Shop) -> None:
    """It has the name, place, columns and buttons it had, and grows as before; once is enough."""
    before = openpyxl.load_workbook(shop.path)["Jobs"].tables["Jobs"]
    last = 6 + FEWEST_SPARE + MORE_SPARE
    _dissolve(shop.path)
    assert not shop.sheet("Jobs").tables

    assert only(shop.recompute(), "table-restored").cell == "A4"

    after = openpyxl.load_workbook(shop.path)["Jobs"].tables["Jobs"]
    assert after.column_names == before.column_names
    assert after.autoFilter.ref == after.ref == f"A4:{END}{last}"
    assert after.id not in {
        table.id
        for sheet in openpyxl.load_workbook(shop.path)
        for table in sheet.tables.values()
        if table.name != "Jobs"
    }
    assert shop.recompute().plan.operations == ()
    _fill(shop, 20)
    assert len(shop.recompute().opened) == 14
    assert shop.sheet("Jobs").tables[0].last_row > 20


def test_a_filter_of_the_sheet_becomes_that_of_the_table(shop: Shop) -> None:
    """Two filters over the same cells would make a damaged file; what it picks stays."""
    picked = '<filterColumn colId="2"><filters><filter val="Ann Bell"/></filters></filterColumn>'
    _dissolve(shop.path, f'<autoFilter ref="A4:{END}6">{picked}</autoFilter>')

    shop.recompute()

    assert picked in _jobs_table(shop.path)
    assert b"<autoFilter" not in read_parts(shop.path)["xl/worksheets/sheet2.xml"]


def test_merged_cells_keep_a_table_apart(shop: Shop) -> None:
    """No table may hold them; the message says where they are, and nothing is written."""
    _dissolve(shop.path, '<mergeCells count="1"><mergeCell ref="C6:D6"/></mergeCells>')
    before = shop.path.read_bytes()

    with pytest.raises(NotWritableError, match=r"'Jobs':.*merged in C6:D6.*Split"):
        shop.recompute()

    assert shop.path.read_bytes() == before


def test_what_a_widened_table_knows_of_its_columns_stays(shop: Shop) -> None:
    """A column that was moved to the edge comes in again; formulas of the others are kept."""
    parts = read_parts(shop.path)
    (part,) = (p for p, c in parts.items() if b'displayName="Jobs"' in c)
    text = parts[part].decode().replace(f"A4:{END}24", f"A4:{BEFORE}24")
    text = re.sub(rf'<tableColumn id="{WIDE}" [^>]*>', "", text)
    text = text.replace(f'count="{WIDE}"', f'count="{WIDE - 1}"')
    of_ours = "<calculatedColumnFormula>1</calculatedColumnFormula></tableColumn>"
    parts[part] = text.replace('name="Owing"/>', f'name="Owing">{of_ours}').encode()
    write_parts(shop.path, parts)

    shop.recompute()

    assert f'ref="A4:{END}24"' in _jobs_table(shop.path)
    assert f'name="Owing">{of_ours}<tableColumn id="16" name="Object class"/>' in _jobs_table(
        shop.path
    )


TOTALS = 25
"""Row of Jobs below its table as it is drawn."""


@pytest.fixture
def closed(shop: Shop) -> Shop:
    """Return a shop whose table of jobs ends with a row of totals, as Excel makes it."""
    shop.write("Jobs", {(TOTALS, 1): "Total", (TOTALS, 11): "=SUBTOTAL(109,Jobs[So far])"})
    parts = read_parts(shop.path)
    (part,) = (p for p, c in parts.items() if b'displayName="Jobs"' in c)
    old = f'ref="A4:{END}{TOTALS - 1}" totalsRowShown="0"'.encode()
    assert old in parts[part]
    new = f'ref="A4:{END}{TOTALS}" totalsRowCount="1"'.encode()
    parts[part] = parts[part].replace(old, new)
    write_parts(shop.path, parts)
    return shop


def _fill(shop: Shop, last: int) -> None:
    rows = range(7, last + 1)
    shop.write("Jobs", {(row, 3): "R. Calder" for row in rows} | {(r, 4): "Pan" for r in rows})


def test_a_table_s_own_totals_are_no_job(closed: Shop) -> None:
    """They are not read, not written over, and a table that is nearly full is not widened."""
    _fill(closed, TOTALS - 2)

    outcome = closed.recompute()

    assert len(outcome.results) == TOTALS - 6
    assert {f.code for f in outcome.findings} <= {"customer-added"}
    sheet = closed.sheet("Jobs")
    assert sheet.values[TOTALS, 1] == "Total"
    assert sheet.formulas[TOTALS, 11] == "SUBTOTAL(109,Jobs[So far])"
    assert closed.add() == f"25-00{TOTALS - 5}"
    assert closed.recompute().plan.operations == ()


def test_a_full_table_with_totals_says_where_rows_are_wanted(closed: Shop) -> None:
    """Nothing is written; the totals stay for the owner to move."""
    _fill(closed, TOTALS - 1)
    closed.recompute()
    before = closed.path.read_bytes()

    with pytest.raises(NotWritableError, match=f"row {TOTALS}: the table is full.*Insert some"):
        closed.add()

    assert closed.path.read_bytes() == before


@pytest.mark.libreoffice(edits=True)
def test_rows_inserted_above_the_totals_make_room(closed: Shop, tmp_path: Path) -> None:
    """What the refusal advises, done in LibreOffice, works; the totals move along."""
    _fill(closed, TOTALS - 1)
    closed.recompute()
    saved = tmp_path / "roomier.xlsx"

    libreoffice.edited([(closed.path, saved, [["insert_rows", "Jobs", TOTALS, 3]])])
    roomier = Shop(saved)
    number = roomier.add()

    assert number == f"25-00{TOTALS - 4}"
    assert roomier.value(JOBS_TABLE, TOTALS - 4, "number") == number
    assert roomier.sheet("Jobs").values[TOTALS + 3, 1] == "Total"
    assert not by_code(roomier.check(), "job-number-twice")


def test_another_table_without_a_right_number_is_named(shop: Shop) -> None:
    """A new table needs a number that no other has; what cannot be read is no reason to crash."""
    _dissolve(shop.path)
    parts = read_parts(shop.path)
    (part,) = (p for p, c in parts.items() if b'displayName="Payments"' in c)
    parts[part] = re.sub(rb' id="\d+"', b' id="many"', parts[part], count=1)
    write_parts(shop.path, parts)

    with pytest.raises(BookUnreadableError, match="cannot be understood \\('many'"):
        shop.recompute()
