"""Sheets that hold one table below a title."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType

from ledger_tools.book.drawing.pen import HEADER, LINK, ROW_POINTS, SAYS, TITLE, Page, Props
from ledger_tools.book.drawing.rules import lay_rule, rule_for
from ledger_tools.book.layout import RULED_ROWS, START, Column, Look, TableLayout
from ledger_tools.book.look import RIGHT_ALIGNED, cell_format, indents
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place

_PORTRAIT_WIDTH = 105
"""Characters that can be read on an upright page."""

EMPTY = Content()


@dataclass(frozen=True, slots=True)
class Placing:
    """Where a table goes and what it holds.

    Attributes:
        table: Name of the table.
        at: Place of its first header.
        rows: Rows below the headers.
        contents: What cells hold, by place on the sheet.
        links: Targets inside the book, by place.
        autofilter: Whether its headers have filter buttons.
        header_points: Height of the header row.
        row_points: Height of the rows; None leaves them to the text they hold.
        by_look: What differs from the usual format in columns of one look.
    """

    table: str
    at: Place
    rows: int
    contents: Mapping[Place, Content]
    links: Mapping[Place, str] = field(default_factory=dict)
    autofilter: bool = True
    header_points: float = 31.5
    row_points: float | None = ROW_POINTS
    by_look: Mapping[Look, Props] = field(default_factory=dict)


def draw_table_sheet(
    page: Page,
    layout: TableLayout,
    *,
    rows: int,
    contents: Mapping[Place, Content],
    links: Mapping[Place, str] = MappingProxyType({}),
) -> None:
    """Draw a whole sheet: title, what it is for, table, print set-up."""
    draw_head(page, layout.title, layout.says)
    page.widths({i: c.width for i, c in enumerate(layout.columns, 1)})
    wrapped = any(c.look is Look.WRAPPED for c in layout.columns)
    at = (layout.first_row, 1)
    row_points = None if wrapped else ROW_POINTS
    placing = Placing(layout.table, at, rows, contents, links, row_points=row_points)
    draw_grid(page, layout.columns, placing)
    page.sheet.freeze_panes(layout.first_row, layout.frozen)
    page.sheet.set_selection(layout.first_row, 0, layout.first_row, 0)
    wide = sum(c.width for c in layout.columns) > _PORTRAIT_WIDTH
    page.print_set_up(wide=wide, repeat_row=layout.first_row)
    printed = sum(c.look is not Look.STORED for c in layout.columns)
    if printed < len(layout.columns):
        # LibreOffice counts the whole length of a stored text as wide, and prints all tiny.
        page.sheet.print_area(0, 0, layout.first_row + rows - 1, printed - 1)
    if layout.protected:
        protect(page)


def draw_head(page: Page, title: str, says: str) -> None:
    """Write title, purpose and the way back to `Start` above a table."""
    page.height(1, 27)
    page.height(2, 16.5)
    page.height(3, 18)
    page.value(1, 1, title, TITLE)
    page.value(2, 1, says, SAYS)
    page.link(3, 1, f"{START}!A1", f"Back to {START}", LINK | {"valign": "top"})


def draw_grid(page: Page, columns: Sequence[Column], placing: Placing) -> None:
    """Draw a table: headers, formatted rows, choices and hints."""
    top, left = placing.at
    last = top + placing.rows
    page.height(top, placing.header_points)
    steps = indents([c.look for c in columns])
    headers = [
        {"header": c.header, "header_format": page.hand.cell(header_props(c.look, indent=step))}
        for c, step in zip(columns, steps, strict=True)
    ]
    page.sheet.add_table(
        top - 1,
        left - 1,
        last - 1,
        left - 2 + len(columns),
        {
            "name": placing.table,
            "style": None,
            "banded_rows": False,
            "autofilter": placing.autofilter,
            "columns": headers,
        },
    )
    for col, column in enumerate(columns, left):
        _draw_column(page, column, col, placing, indent=steps[col - left])
        lay_rule(page, (top + 1, max(last, top + RULED_ROWS)), col, rule_for(column))
    if placing.row_points is not None:
        for row in range(top + 1, last + 1):
            page.height(row, placing.row_points)


def draw_later_column(page: Page, column: Column, placing: Placing, *, indent: int) -> None:
    """Draw a column for a table that is there: header, cells, choices and hint."""
    top, col = placing.at
    page.value(top, col, column.header, header_props(column.look, indent=indent))
    page.widths({col: column.width})
    _draw_column(page, column, col, placing, indent=indent)
    lay_rule(page, (top + 1, top + RULED_ROWS), col, rule_for(column))


def _draw_column(page: Page, column: Column, col: int, placing: Placing, *, indent: int) -> None:
    props = cell_format(column.look, typed=column.typed, digits=page.hand.digits)
    props["indent"] = indent
    if placing.row_points is None:
        props["valign"] = "top"
    props |= placing.by_look.get(column.look, {})
    first = placing.at[0] + 1
    for row in range(first, first + placing.rows):
        if (row, col) in placing.links:
            page.link(row, col, placing.links[row, col], "", props)
        page.put(row, col, placing.contents.get((row, col), EMPTY), props)


def header_props(look: Look, *, indent: int = 0) -> Props:
    """Return the format of a header: words left, figures right like the cells below them."""
    return {**HEADER, "align": "right" if look in RIGHT_ALIGNED else "left", "indent": indent}


def protect(page: Page) -> None:
    """Guard a register against slips, without password; it can still be filtered and widened."""
    page.sheet.protect(
        "", {"autofilter": True, "sort": True, "format_columns": True, "format_rows": True}
    )
