"""The sheet `Taxes`: what the profile says, which classes are taxed, the rates by day."""

from collections.abc import Mapping

from ledger_tools.billing.tax import TaxProfile
from ledger_tools.book.cells import serial_of
from ledger_tools.book.drawing.pen import LABEL, ROW_POINTS, Page, lines_of
from ledger_tools.book.drawing.table import Placing, draw_grid, draw_head
from ledger_tools.book.layout import (
    TAX_CLASS_HEADER,
    TAX_CLASSES_COL,
    TAX_CLASSES_TABLE,
    TAX_RATES_COL,
    TAX_RATES_TABLE,
    TAX_TABLES_ROW,
    YES_NO,
    Column,
    Look,
)
from ledger_tools.book.look import SIZE_SMALL, STEEL
from ledger_tools.book.names import (
    NAME_TAX_CAUTION,
    NAME_TAX_PROFILE,
    NAME_TAX_ROUNDING,
    NAME_TAX_SOURCES,
    NAME_TAX_TITLE,
    NAME_TAX_VERSION,
)
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place

_SAYS = (
    "Which kinds of line each tax falls on, and its rate from its first day. "
    "A new rate is a new row."
)
_FACTS_ROW = 5
_SPARE_CLASSES = 3
_CLASS_WIDTHS = {1: 14, 2: 11, 3: 11, 4: 11, 5: 11, 6: 3}
_WIDE = 160
"""Characters that fit beside a fact's label."""
_SOURCE_WIDTH = 72
"""Characters of a source that fit on one line of its cell."""
_SMALL_LINE_POINTS = 10.5
_LINE_POINTS = 13.5
_HEADER_POINTS = 18


def draw_taxes(page: Page, profile: TaxProfile) -> None:
    """Draw the sheet of tax rules."""
    draw_head(page, TAX_RATES_TABLE.title, _SAYS)
    rates = {TAX_RATES_COL + i: c.width for i, c in enumerate(TAX_RATES_TABLE.columns)}
    page.widths(_CLASS_WIDTHS | rates)
    _draw_facts(page, profile)
    _draw_classes(page, profile)
    _draw_rates(page, profile)
    page.sheet.set_selection(TAX_TABLES_ROW, 0, TAX_TABLES_ROW, 0)
    page.print_set_up(wide=True, repeat_row=TAX_TABLES_ROW)


def _draw_facts(page: Page, profile: TaxProfile) -> None:
    facts = (
        ("Profile", NAME_TAX_PROFILE, profile.name),
        ("Title", NAME_TAX_TITLE, profile.title),
        ("Version", NAME_TAX_VERSION, profile.version),
        ("Rounding", NAME_TAX_ROUNDING, profile.rounding.mode),
        ("Sources", NAME_TAX_SOURCES, "\n".join(profile.sources)),
        ("Caution", NAME_TAX_CAUTION, profile.caution),
    )
    last = TAX_RATES_COL + len(TAX_RATES_TABLE.columns) - 2
    for row, (label, name, text) in enumerate(facts, _FACTS_ROW):
        props = {"font_color": STEEL, "text_wrap": True, "valign": "top"}
        page.value(row, 1, label, LABEL | {"valign": "top"})
        page.sheet.merge_range(row - 1, 1, row - 1, last, "", page.hand.cell(props))
        page.value(row, 2, text, props)
        page.height(row, _LINE_POINTS * lines_of(text, _WIDE))
        page.hand.workbook.define_name(name, f"={TAX_RATES_TABLE.sheet}!$B${row}")


def _draw_classes(page: Page, profile: TaxProfile) -> None:
    columns = (
        Column("class", TAX_CLASS_HEADER, 14, hint="Kind of line, or a class named on a line."),
        *(Column(name, name, 11, choices=YES_NO) for name in profile.components),
    )
    contents: dict[Place, Content] = {}
    for row, (taxed_as, falls) in enumerate(profile.taxable.items(), TAX_TABLES_ROW + 1):
        contents[row, TAX_CLASSES_COL] = Content(taxed_as)
        for col, name in enumerate(profile.components, TAX_CLASSES_COL + 1):
            contents[row, col] = Content("yes" if name in falls else "no")
    rows = len(profile.taxable) + _SPARE_CLASSES
    at = (TAX_TABLES_ROW, TAX_CLASSES_COL)
    draw_grid(page, columns, _side_by_side(TAX_CLASSES_TABLE, at, rows, contents))


def _draw_rates(page: Page, profile: TaxProfile) -> None:
    contents: dict[Place, Content] = {}
    for row, rate in enumerate(profile.rates, TAX_TABLES_ROW + 1):
        contents[row, TAX_RATES_COL] = Content(rate.component)
        contents[row, TAX_RATES_COL + 1] = Content(serial_of(rate.first_day))
        contents[row, TAX_RATES_COL + 2] = Content(float(rate.rate))
        contents[row, TAX_RATES_COL + 3] = Content(rate.source)
        lines = lines_of(rate.source, _SOURCE_WIDTH)
        page.height(row, max(ROW_POINTS, _SMALL_LINE_POINTS * lines + 2))
    rows = len(profile.rates) + TAX_RATES_TABLE.spare
    at = (TAX_TABLES_ROW, TAX_RATES_COL)
    placing = _side_by_side(TAX_RATES_TABLE.table, at, rows, contents)
    draw_grid(page, TAX_RATES_TABLE.columns, placing)


def _side_by_side(table: str, at: Place, rows: int, contents: Mapping[Place, Content]) -> Placing:
    """Return a table without filter buttons: filtering it would hide rows of its neighbour."""
    return Placing(
        table,
        at,
        rows,
        contents,
        autofilter=False,
        header_points=_HEADER_POINTS,
        row_points=None,
        by_look={Look.WRAPPED: {"font_size": SIZE_SMALL}},
    )
