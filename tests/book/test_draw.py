"""New sheets for a book that is there already: job sheets and registers."""

import io
import re
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter
from openpyxl.utils.datetime import to_excel
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from ledger_tools.book.draw import donor
from ledger_tools.book.job_layout import (
    JOB_BACK,
    JOB_BLOCK_TITLES,
    JOB_HEADER,
    JOB_HEADER_ROW,
    JOB_HIDDEN,
    JOB_LINES,
    JOB_SPARE_LINES,
    JOB_TITLE,
)
from ledger_tools.book.layout import AUTHORISATIONS_TABLE, TableLayout
from ledger_tools.book.patch import patched_book
from ledger_tools.book.registers import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.shop.plan import AddSheet, Content, Plan, SheetKind
from ledger_tools.shop.snapshot import column_letters
from tests import libreoffice
from tests.book.sample import job_sheet

REGISTERS = {
    SheetKind.AUTHORISATIONS: AUTHORISATIONS_TABLE,
    SheetKind.INVOICES: INVOICES_TABLE,
    SheetKind.INVOICE_LINES: INVOICE_LINES_TABLE,
}
STARTER = Path(__file__).resolve().parents[2] / "workbooks" / "shop-book.xlsx"
FIRST_LINE = JOB_HEADER_ROW + 1
COL = {column.key: i for i, column in enumerate(JOB_LINES, 1)}


def register(kind: SheetKind) -> AddSheet:
    """Return a register with one filled cell and room for three rows."""
    layout = REGISTERS[kind]
    contents = {(layout.first_row + 1, 1): Content("=1+1")}
    return AddSheet(layout.sheet, kind, contents, rows=3, table=layout.table)


def drawn(*adds: AddSheet) -> Workbook:
    """Return the donor of `adds` as openpyxl reads it."""
    return openpyxl.load_workbook(io.BytesIO(donor(adds)))


def grafted(*adds: AddSheet, data_only: bool = False) -> Workbook:
    """Return an empty book that took `adds` in, as openpyxl reads it."""
    content = patched_book(STARTER.read_bytes(), STARTER.name, Plan(adds))
    return openpyxl.load_workbook(io.BytesIO(content), data_only=data_only)


@pytest.fixture(scope="module")
def job() -> Worksheet:
    """Return the filled job sheet, taken into a book."""
    return grafted(job_sheet())["25-0007"]


def test_a_donor_holds_just_the_sheets_asked_for_in_their_order() -> None:
    """Nothing else comes along, and each table has its own name."""
    book = drawn(register(SheetKind.INVOICES), job_sheet("25-0008"), job_sheet("25-0007"))

    assert book.sheetnames == ["Invoices", "25-0008", "25-0007"]
    assert [list(s.tables) for s in book.worksheets] == [
        ["Invoices"],
        ["Job_25_0008"],
        ["Job_25_0007"],
    ]


def test_a_job_sheet_has_every_label_and_header(job: Worksheet) -> None:
    """Labels and headers are how the tools find figures again."""
    headers = [c.value for c in job[JOB_HEADER_ROW]]

    assert headers == [c.header for c in JOB_LINES]
    for cell in JOB_HEADER:
        if cell.label:
            assert job.cell(cell.row, cell.label_col).value == cell.label
    for place, title in JOB_BLOCK_TITLES.items():
        assert job.cell(*place).value == title


def test_figures_of_a_job_sheet_stand_where_the_layout_says(job: Worksheet) -> None:
    """Nothing that was handed over is lost, and what is a formula stays one."""
    for (row, col), content in job_sheet().contents.items():
        there = job.cell(row, col).value
        expected = f"={content.formula}" if content.formula else content.value
        there = to_excel(there) if isinstance(there, datetime) else there
        assert there == (None if expected == "" else expected), (row, col)


def test_a_component_s_name_is_filled_in_beside_its_figures(job: Worksheet) -> None:
    """The layout leaves the label of a tax empty; the book's profile names it."""
    assert [job.cell(row, 9).value for row in (3, 4, 5)] == ["GST", "QST", None]


def test_lines_come_last_with_nothing_below_them(job: Worksheet) -> None:
    """Lines can grow without end only where nothing stands under them."""
    last = JOB_HEADER_ROW + 10 + JOB_SPARE_LINES

    assert (
        job.tables["Job_25_0007"].ref
        == f"A{JOB_HEADER_ROW}:{column_letters(len(JOB_LINES))}{last}"
    )
    assert job.max_row == last


def test_title_and_totals_stay_in_sight(job: Worksheet) -> None:
    """What is frozen ends with the headers of the lines."""
    assert job.freeze_panes == f"A{FIRST_LINE}"
    assert job.cell(*JOB_TITLE).value == "25-0007"


def test_the_way_back_leads_to_jobs(job: Worksheet) -> None:
    """A click on the link opens the register."""
    assert job.cell(*JOB_BACK).hyperlink.location == "Jobs!A1"


def test_text_of_a_line_never_becomes_a_formula(job: Worksheet) -> None:
    """A discount called `=SUM(goodwill)` is a name, not a sum."""
    cell = job.cell(JOB_HEADER_ROW + 10, COL["description"])

    assert (cell.value, cell.data_type) == ("=SUM(goodwill)", "s")


def test_a_formula_carries_its_computed_value() -> None:
    """A program that does not recompute shows the amount and not 0."""
    job = grafted(job_sheet(), data_only=True)["25-0007"]

    assert job.cell(FIRST_LINE, COL["amount"]).value == 68


@pytest.mark.parametrize(
    ("pixels", "beside"),
    [
        pytest.param(lambda w: int(w * 7 + 0.5) + 5, 30 + 20, id="excel-arial-10"),
        pytest.param(lambda w: (w + 0.71) * 7.81, 37 + 62, id="libreoffice-measured"),
    ],
)
def test_lines_fit_a_1366_pixel_screen(pixels: Callable[[float], float], beside: int) -> None:
    """No sideways scrolling at 100 %: columns, row numbers and scroll bar together.

    7 pixels is the widest digit of Arial 10 at 96 dots an inch, 5 the padding (ECMA-376 part 1,
    18.3.1.13 `col`, from memory). 7.81 was measured in a window of LibreOffice 7.4, whose row
    numbers, scroll bar and strip of side panels take 99 pixels.
    """
    shown = [column for column in JOB_LINES if column.key not in JOB_HIDDEN]

    assert sum(pixels(c.width) for c in shown) + beside <= 1366


@pytest.mark.parametrize("kind", REGISTERS, ids=lambda k: k.value)
def test_a_register_has_its_headers_and_only_invoices_are_protected(kind: SheetKind) -> None:
    """What was issued is guarded against slips, without password; it can still be filtered."""
    layout: TableLayout = REGISTERS[kind]
    sheet = drawn(register(kind)).worksheets[0]
    headers = [c.value for c in sheet[layout.first_row]]

    assert headers == [c.header for c in layout.columns]
    assert sheet.tables[layout.table].autoFilter.ref == sheet.tables[layout.table].ref
    assert sheet.cell(layout.first_row + 1, 1).data_type == "s"
    assert sheet.protection.sheet is (kind is not SheetKind.AUTHORISATIONS)
    if sheet.protection.sheet:
        assert sheet.protection.password is None
        assert sheet.protection.autoFilter is False, "False lifts the lock"


def test_links_of_cells_are_laid_over_their_values() -> None:
    """A number in a register opens the sheet it names, and still shows the number."""
    add = register(SheetKind.AUTHORISATIONS)
    add = add._replace(contents={(5, 1): Content("25-0007")}, links={(5, 1): "'25-0007'!A1"})
    cell = drawn(add).worksheets[0]["A5"]

    assert (cell.value, cell.hyperlink.location) == ("25-0007", "'25-0007'!A1")


def test_decimals_and_paper_follow_the_shop() -> None:
    """A currency without minor unit shows none; Letter is paper 1, A4 is 9."""
    add = job_sheet()._replace(digits=0, paper="Letter")
    plain, cents = (drawn(a).worksheets[0] for a in (add, job_sheet()))

    assert plain.cell(FIRST_LINE, COL["amount"]).number_format == "#,##0"
    assert cents.cell(FIRST_LINE, COL["amount"]).number_format == "#,##0.00"
    assert (plain.page_setup.paperSize, cents.page_setup.paperSize) == (1, 9)


def test_a_long_description_shrinks_and_is_not_cut_off(job: Worksheet) -> None:
    """Words that are wider than their column stay readable to the end."""
    for key in ("description", "vendor", "reason"):
        assert job.cell(FIRST_LINE, COL[key]).alignment.shrinkToFit, key


def test_minutes_keep_the_general_format(job: Worksheet) -> None:
    """In a formatted cell a typed 1:30 would be shown as 0."""
    for key in ("estimate", "actual", "non_billable"):
        assert job.cell(FIRST_LINE, COL[key]).number_format == "General"


def test_the_same_sheets_give_the_same_bytes() -> None:
    """A donor does not depend on the clock."""
    adds = [job_sheet(), register(SheetKind.INVOICES)]

    assert donor(adds) == donor(adds)


def test_the_standard_s_schemas_find_no_error_in_a_donor(tmp_path: Path) -> None:
    """openxml-audit checks every part against ECMA-376's rules."""
    from openxml_audit import OpenXmlValidator  # noqa: PLC0415 - slow to load

    path = tmp_path / "donor.xlsx"
    path.write_bytes(donor([job_sheet(), *(register(kind) for kind in REGISTERS)]))

    assert not OpenXmlValidator().validate(path).errors


MINUTES = (
    ("labour", 60, None, False, False),
    ("labour", 60, 60, False, False),
    ("labour", 60, 61, False, True),
    ("labour", 60, 1.5, True, False),
    ("labour", 60, "1h30", True, False),
    ("labour", 60, -5, True, False),
    ("labour", 60, 0.0625, False, True),
    ("labour", 90, 0.0625, False, False),
    ("labour", 60, 0.0626, True, True),
    ("labour", None, 20, False, False),
    ("material", 0.2, 0.25, False, True),
    ("material", 0.2, 0.2, False, False),
    ("", None, None, False, False),
)
"""Kind, estimate, actual; whether it cannot be read as minutes, whether it is over estimate."""


@pytest.mark.libreoffice
def test_live_marks_show_unreadable_minutes_and_overruns(job: Worksheet, tmp_path: Path) -> None:
    """The rules of the actual column, computed by LibreOffice as plain formulas."""
    rules = {
        str(area.sqref).partition(":")[0]: [rule.formula[0] for rule in area.rules]
        for area in job.conditional_formatting
    }
    unreadable, over, _ = rules[f"G{FIRST_LINE}"]
    path = tmp_path / "marks.xlsx"
    with xlsxwriter.Workbook(path) as workbook:
        sheet = workbook.add_worksheet("marks")
        for row, (kind, estimate, actual, *_) in enumerate(MINUTES, FIRST_LINE):
            for key, value in (("kind", kind), ("estimate", estimate), ("actual", actual)):
                sheet.write(row - 1, COL[key] - 1, value or None)
            for col, formula in ((20, unreadable), (21, over)):
                here = re.sub(rf"(?<=[A-Z]){FIRST_LINE}\b", str(row), formula)
                sheet.write_formula(row - 1, col - 1, f"=IF({here},1,0)")
    shown = libreoffice.recalculated(path, tmp_path)["marks"]

    for row, (*typed, cannot_read, overrun) in enumerate(MINUTES, FIRST_LINE):
        assert (shown[f"T{row}"], shown[f"U{row}"]) == (cannot_read, overrun), typed
