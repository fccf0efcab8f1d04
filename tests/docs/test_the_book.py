"""The page on the book names every sheet, column, setting and choice as the book has them."""

import pytest

from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.job_layout import JOB_LINES
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    MATERIALS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    TAX_RATES_TABLE,
    TIME_TABLE,
    TOLERANCES_TABLE,
    Column,
)
from ledger_tools.book.names import SETTINGS
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.registers import (
    ARCHIVED_LINES_TABLE,
    ESTIMATE_LINES_TABLE,
    ESTIMATES_TABLE,
    INVOICE_LINES_TABLE,
    INVOICES_TABLE,
)
from ledger_tools.shop.model import TYPED_STATES
from tests.docs.markdown import DOCS, Table, tables

COLUMN_HEADS = ("Column", "Filled by", "What")
SHEETS = (
    JOBS_TABLE,
    CUSTOMERS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    MATERIALS_TABLE,
    TAX_RATES_TABLE,
    TIME_TABLE,
    AUTHORISATIONS_TABLE,
    TOLERANCES_TABLE,
    GUARANTEES_TABLE,
    OPTIONS_TABLE,
    ESTIMATES_TABLE,
    ESTIMATE_LINES_TABLE,
    INVOICES_TABLE,
    INVOICE_LINES_TABLE,
    ARCHIVED_LINES_TABLE,
)
COLUMNS = {layout.sheet: layout.columns for layout in SHEETS} | {"A job sheet": JOB_LINES}


@pytest.fixture(scope="module")
def page() -> list[Table]:
    """Return the tables of the page."""
    return tables((DOCS / "the-book.md").read_text(encoding="utf-8"))


@pytest.mark.parametrize("sheet", COLUMNS)
def test_columns_are_those_of_the_sheet(sheet: str, page: list[Table]) -> None:
    """Headers stand in their order, each with who fills it."""

    def filled(column: Column) -> str:
        return "you" if column.typed else "tools"

    (listed,) = (t for t in page if t.under == sheet and t.heads == COLUMN_HEADS)

    assert [row[:2] for row in listed.rows] == [(c.header, filled(c)) for c in COLUMNS[sheet]]


def test_no_other_sheet_is_described(page: list[Table]) -> None:
    """A sheet that is gone from the book is gone from the page."""
    assert {t.under for t in page if t.heads == COLUMN_HEADS} == set(COLUMNS)


def test_settings_are_those_on_start(page: list[Table]) -> None:
    """Every setting stands on the page by its label, in its order."""
    (listed,) = (table for table in page if table.heads[0] == "Setting")

    assert [row[0] for row in listed.rows] == [setting.label for setting in SETTINGS]


def test_states_are_those_to_choose_from(page: list[Table]) -> None:
    """Every state stands on the page, in its order."""
    (listed,) = (table for table in page if table.heads[0] == "State")

    assert tuple(row[0] for row in listed.rows) == TYPED_STATES


@pytest.mark.parametrize(
    ("sheet", "header"),
    [
        ("Payments", "How"),
        ("Authorisations", "How reached"),
        ("Time", "Class"),
        ("Estimates", "How reached"),
        ("Options", "Kind"),
        ("A job sheet", "Reason"),
    ],
)
def test_choices_are_named(sheet: str, header: str, page: list[Table]) -> None:
    """The words of a list to choose from stand beside its column, all of them, in their order."""
    (listed,) = (t for t in page if t.under == sheet and t.heads == COLUMN_HEADS)
    (choices,) = (c.choices for c in COLUMNS[sheet] if c.header == header)
    *most, last = (str(word) for word in choices)
    said = {row[0]: row[2] for row in listed.rows}[header]

    assert said.endswith(f"{', '.join(most)} or {last}")
