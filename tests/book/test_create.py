"""A new shop book: what stands where, what may be typed, how it is named and kept the same."""

import io
import zipfile
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from openpyxl.workbook import Workbook

from ledger_tools.book.create import create_book
from ledger_tools.book.layout import (
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    MATERIALS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    TAX_CLASS_HEADER,
    TAX_CLASSES_TABLE,
    TAX_RATES_TABLE,
    TAX_TABLES_ROW,
    TableLayout,
)
from ledger_tools.book.names import (
    LIST_NAMES,
    NAME_AS_OF,
    NAME_LAST_JOB,
    NAME_TAX_PROFILE,
    NAME_TAX_SOURCES,
    SETTINGS,
)
from ledger_tools.shop.model import TYPED_STATES
from tests import libreoffice
from tests.book.sample import BOOK, CATALOGUE, PROFILE

SAND = "FFF5F0E6"
TABLES = (
    JOBS_TABLE,
    CUSTOMERS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    MATERIALS_TABLE,
)


@pytest.fixture(scope="module")
def content() -> bytes:
    """Return the bytes of the sample book."""
    return create_book(BOOK)


@pytest.fixture(scope="module")
def book(content: bytes) -> Workbook:
    """Return the sample book as openpyxl reads it."""
    return openpyxl.load_workbook(io.BytesIO(content))


def named(book: Workbook, name: str) -> object:
    """Return what the cell of a defined name holds."""
    sheet, cell = book.defined_names[name].attr_text.split("!")
    return book[sheet][cell.replace("$", "")].value


def test_sheets_stand_in_the_order_an_owner_meets_them(book: Workbook) -> None:
    """Start and the four working sheets come first, what is set up once comes after."""
    assert book.sheetnames == [
        "Start",
        "Jobs",
        "Customers",
        "Payments",
        "Rates",
        "Repairs",
        "Materials",
        "Taxes",
    ]


@pytest.mark.parametrize("layout", TABLES, ids=lambda t: t.table)
def test_each_table_has_its_headers_and_an_autofilter(book: Workbook, layout: TableLayout) -> None:
    """A table is found by name, its columns by header text, all of it can be filtered."""
    table = book[layout.sheet].tables[layout.table]
    headers = [c.value for c in book[layout.sheet][layout.first_row][: len(layout.columns)]]

    assert headers == [c.header for c in layout.columns]
    assert table.column_names == headers
    assert table.autoFilter.ref == table.ref


def test_taxes_holds_classes_and_rates_side_by_side(book: Workbook) -> None:
    """Each class of line says yes or no to each tax; each tax has its rate and first day."""
    sheet = book["Taxes"]
    rows = sheet.iter_rows(min_row=TAX_TABLES_ROW, values_only=True)
    cells = [row[:10] for row in rows]

    assert sheet.tables[TAX_CLASSES_TABLE].column_names == [TAX_CLASS_HEADER, "GST", "QST"]
    assert sheet.tables[TAX_RATES_TABLE.table].column_names == [
        c.header for c in TAX_RATES_TABLE.columns
    ]
    assert cells[1][:3] == ("labour", "yes", "yes")
    assert cells[7][:3] == ("untaxed", "no", "no")
    assert cells[2][6:9] == ("QST", datetime(2013, 1, 1), 0.09975)  # noqa: DTZ001 - a cell's day


def test_a_book_without_taxes_still_lists_its_classes() -> None:
    """The profile `none` has no component, and a table of classes all the same."""
    profile = PROFILE._replace(name="none", components=(), rates=(), sources=())
    book = openpyxl.load_workbook(io.BytesIO(create_book(replace(BOOK, profile=profile))))

    assert book["Taxes"].tables[TAX_CLASSES_TABLE].column_names == [TAX_CLASS_HEADER]
    assert book["Taxes"].cell(TAX_TABLES_ROW + 1, 1).value == "labour"


def test_every_setting_has_a_named_cell_in_sand(book: Workbook) -> None:
    """A setting is found by its name and shows that it is to be typed."""
    for setting in SETTINGS:
        sheet, cell = book.defined_names[setting.name].attr_text.split("!")
        assert book[sheet][cell.replace("$", "")].fill.fgColor.rgb == SAND, setting.name
    assert named(book, "shop_name") == "Alder Street Metalworks"
    assert named(book, "shop_hour_step") == 6
    assert named(book, "shop_require_authorisation") == "no"


def test_facts_of_day_numbers_and_profile_are_named(book: Workbook) -> None:
    """What recompute writes and what the profile says is found by name."""
    assert named(book, NAME_AS_OF) == datetime(2025, 3, 14)  # noqa: DTZ001 - a cell's day
    assert named(book, NAME_LAST_JOB) == 0
    assert named(book, NAME_TAX_PROFILE) == "example"
    assert named(book, NAME_TAX_SOURCES) == "\n".join(PROFILE.sources)


def test_states_kinds_and_repairs_are_chosen_from_lists(book: Workbook) -> None:
    """States are fixed words; repair codes come from the catalogue and may be new."""
    rules = {str(rule.sqref): rule for rule in book["Jobs"].data_validations.dataValidation}
    column = {key: next(r for a, r in rules.items() if a.startswith(key)) for key in "EFH"}

    assert column["F"].formula1 == f'"{",".join(TYPED_STATES)}"'
    assert column["F"].errorStyle in (None, "stop")
    assert column["E"].formula1 == "repair_codes"
    assert column["E"].errorStyle == "warning"
    assert column["E"].prompt == JOBS_TABLE.columns[4].hint
    assert (column["H"].type, column["H"].errorStyle) == ("custom", "warning")
    assert set(LIST_NAMES) <= set(book.defined_names)


def test_cells_to_type_in_are_sand_and_computed_ones_white(book: Workbook) -> None:
    """Empty rows of a table show already where to type."""
    row = JOBS_TABLE.first_row + 3
    for col, column in enumerate(JOBS_TABLE.columns, 1):
        fill = book["Jobs"].cell(row, col).fill.fgColor.rgb
        assert (fill == SAND) is column.typed, column.header


def test_text_that_looks_like_a_formula_stays_text(book: Workbook) -> None:
    """A remark that begins with an equals sign is a remark."""
    cell = book["Materials"].cell(MATERIALS_TABLE.first_row + 2, 5)

    assert (cell.value, cell.data_type) == ("=cost with a third on top", "s")


def test_no_sheet_of_a_new_book_is_protected(book: Workbook) -> None:
    """Protection would keep tables from growing and owners from adding columns."""
    assert not any(sheet.protection.sheet for sheet in book.worksheets)


def test_sheets_print_on_the_shop_s_paper_one_page_across(book: Workbook) -> None:
    """Paper of the settings, headers on every page, page numbers in the book's font."""
    for sheet in book.worksheets:
        assert sheet.page_setup.paperSize == 9, sheet.title
        assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
        assert "&P of &N" in sheet.oddFooter.right.text
        assert not sheet.sheet_view.showGridLines
    assert book["Jobs"].print_title_rows == "$4:$4"
    assert book["Jobs"].freeze_panes == "B5"


def test_the_format_number_is_a_document_property(book: Workbook) -> None:
    """By this number a later version knows an older book."""
    assert book.custom_doc_props[FORMAT_PROPERTY].value == BOOK_FORMAT


def test_the_same_book_gives_the_same_bytes(content: bytes) -> None:
    """Nothing depends on the clock: the date of creation is the as-of day."""
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        core = package.read("docProps/core.xml").decode()

    assert create_book(BOOK) == content
    assert core.count("2025-03-14T00:00:00Z") == 2


def test_the_standard_s_schemas_find_no_error(content: bytes, tmp_path: Path) -> None:
    """openxml-audit checks every part against ECMA-376's rules."""
    from openxml_audit import OpenXmlValidator  # noqa: PLC0415 - slow to load

    path = tmp_path / "book.xlsx"
    path.write_bytes(content)

    assert not OpenXmlValidator().validate(path).errors


@pytest.mark.libreoffice
def test_each_repair_code_is_offered_once(content: bytes, tmp_path: Path) -> None:
    """The list that `Jobs` chooses from holds every code once, in the catalogue's order."""
    path = tmp_path / "book.xlsx"
    path.write_bytes(content)
    repairs = libreoffice.recalculated(path, tmp_path)["Repairs"]
    listed = [repairs.get(f"R{row}") or "" for row in range(5, 85)]

    assert [code for code in listed if code] == [r.code for r in CATALOGUE.repairs]
    assert listed[: len(CATALOGUE.repairs)] == [r.code for r in CATALOGUE.repairs]
