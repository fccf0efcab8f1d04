"""The hand that draws summary workbooks: one look for the quarter and the year.

Rows and columns count from 1, as in the book's layout. A figure is a `Formula` over the detail
sheets with the value it comes to, so that a program which does not compute shows it too.
"""

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from ledger_tools.book.layout import Look, TableLayout
from ledger_tools.book.look import (
    FONT,
    INK,
    LINE,
    PAPER_CODES,
    SAND,
    SIZE_BODY,
    SIZE_SMALL,
    SIZE_TITLE,
    STEEL,
    money_format,
    number_format,
)
from ledger_tools.documents.blocks import Block, Content, Detail, Formula
from ledger_tools.shop.model import ShopSettings
from ledger_tools.shop.snapshot import column_letters

ROW_HEIGHT = 14.25
LONGEST_FOOTER = 90
DASH, BACK, ONWARD = "\u2013", "\u2039", "\u203a"
SHADES = (INK, STEEL, "#8FA1AD", "#C4CFD6", LINE, SAND)
"""Fills of chart series, from dark to light, told apart in black and white too."""

_RIGHT = frozenset(
    {
        Look.MONEY,
        Look.PRICE,
        Look.QUANTITY,
        Look.MINUTES,
        Look.HOURS,
        Look.RATE,
        Look.MARK,
    }
)
_MARGINS = {"left": 0.45, "right": 0.45, "top": 0.5, "bottom": 0.6}


class Pack:
    """A summary workbook being drawn; `finish` gives its bytes, the same for the same contents."""

    def __init__(self, title: str, *, settings: ShopSettings, day: date) -> None:
        self.title = title
        self.shop = settings.name
        self.digits = settings.digits
        self.currency = settings.currency
        self._paper = PAPER_CODES[settings.paper]
        self._buffer = BytesIO()
        self._styles: dict[tuple[tuple[str, Any], ...], Format] = {}
        self.workbook = Workbook(
            self._buffer,
            {
                "in_memory": True,
                "default_date_format": number_format(Look.DATE),
                "default_format_properties": {"font_name": FONT, "font_size": SIZE_BODY},
            },
        )
        created = datetime(day.year, day.month, day.day)  # noqa: DTZ001 - a fixed stamp, no clock
        self.workbook.set_properties({"title": title, "author": self.shop, "created": created})

    def finish(self) -> bytes:
        """Return the workbook."""
        self.workbook.close()
        return self._buffer.getvalue()

    def rounded(self, text: str) -> str:
        """Return the formula text rounded to the currency's minor unit."""
        return f"ROUND({text},{self.digits})"

    def style(self, **properties: object) -> Format:
        """Return the cell format with these properties over our plain text."""
        own = {
            "font_name": FONT,
            "font_size": SIZE_BODY,
            "font_color": INK,
            "valign": "vcenter",
            **properties,
        }
        key = tuple(sorted(own.items()))
        if key not in self._styles:
            self._styles[key] = self.workbook.add_format(own)
        return self._styles[key]

    def figure_style(self, look: Look, **properties: object) -> Format:
        """Return the cell format of a column that looks like `look`."""
        money = money_format(self.digits)
        shown = {
            Look.MONEY: f'{money};-{money};"{DASH}"',
            Look.MINUTES: f'#,##0;-#,##0;"{DASH}"',
            Look.RATE: "0.00###%",
            Look.MARK: "+0%;-0%;0%",
        }.get(look, number_format(look, self.digits))
        align = "right" if look in _RIGHT else "left"
        return self.style(**{"num_format": shown, "align": align, **properties})

    def sheet(self, name: str, widths: Iterable[float], *, landscape: bool = False) -> Worksheet:
        """Return a new sheet, ready to print one page wide."""
        sheet = self.workbook.add_worksheet(name)
        sheet.hide_gridlines(2)
        sheet.set_default_row(ROW_HEIGHT)
        for col, width in enumerate(widths):
            sheet.set_column(col, col, width, self.style())
        sheet.set_paper(self._paper)
        if landscape:
            sheet.set_landscape()
        sheet.set_margins(**_MARGINS)
        sheet.fit_to_pages(1, 0)
        said = f" {self.shop[:LONGEST_FOOTER]} · {self.title} · {name}".replace("&", "&&")
        font = f'&"{FONT}"&{SIZE_SMALL}'
        sheet.set_footer(f"&L{font}{said}&R{font}Page &P of &N")
        return sheet

    def put(  # noqa: PLR0913 - a cell is a place, a content and a format
        self,
        sheet: Worksheet,
        row: int,
        col: int,
        content: Content,
        style: Format | None = None,
        *,
        block: tuple[int, int] = (0, 0),
        link: str = "",
    ) -> None:
        """Write one cell; words are words, whatever they begin with."""
        at = (row - 1, col - 1)
        style = style or self.style()
        if link:
            sheet.write_url(*at, link, style, tip="Go to the rows behind it")
        if isinstance(content, Formula):
            value = content.value
            shown = float(value) if isinstance(value, Decimal) else value
            sheet.write_formula(*at, content.at(row, *block), style, shown)
        elif isinstance(content, str):
            sheet.write_string(*at, content, style)
        elif isinstance(content, date):
            sheet.write_datetime(*at, content, style)
        elif content is None:
            sheet.write_blank(*at, None, style)
        else:
            sheet.write_number(*at, float(content), style)

    def heading(self, sheet: Worksheet, title: str, says: str) -> None:
        """Write the title of a sheet and, below it, what it is for."""
        sheet.set_row(0, 24)
        self.put(sheet, 1, 1, title, self.style(font_size=SIZE_TITLE, bold=True))
        self.put(sheet, 2, 1, says, self.style(font_color=STEEL))

    def back(self, sheet: Worksheet, to: str) -> None:
        """Write the link to the front sheet below the title."""
        grey = self.style(font_color=STEEL)
        self.put(sheet, 3, 1, f"{BACK} {to}", grey, link=place_of(to))

    def block(self, sheet: Worksheet, block: Block, top: int) -> tuple[int, int]:
        """Draw `block` from row `top`; return the first and the last row of its figures."""
        self._block_head(sheet, block, top)
        first = top + 2
        if not block.rows:
            self.put(sheet, first, block.first_col, block.empty, self.style(font_color=STEEL))
            return first, first
        last = first + len(block.rows) - 1
        for row, contents in enumerate(block.rows, first):
            self._block_row(sheet, block, contents, row, (first, last))
        if block.total:
            self._block_row(sheet, block, block.total, last + 1, (first, last), total=True)
        return first, last

    def _block_head(self, sheet: Worksheet, block: Block, top: int) -> None:
        ruled = self.style(bold=True, bottom=1, bottom_color=INK)
        for col in range(block.first_col, block.last_col + 1):
            self.put(sheet, top, col, None, ruled)
        self.put(sheet, top, block.first_col, block.title, ruled)
        if block.link:
            style = self.style(
                font_size=SIZE_SMALL,
                font_color=STEEL,
                align="right",
                bottom=1,
                bottom_color=INK,
            )
            says = f"{block.link} {ONWARD}"
            self.put(sheet, top, block.last_col, says, style, link=f"internal:'{block.link}'!A1")
        for field in block.fields:
            indent = _indent(field.look, field.col - block.first_col + 1)
            style = self.figure_style(field.look, indent=indent, **_SMALL_HEAD)
            if isinstance(field.head, date):
                style = self.style(align="right", num_format="mmm yyyy", **_SMALL_HEAD_LEFT)
            self.put(sheet, top + 1, field.col, field.head, style)

    def _block_row(  # noqa: PLR0913 - one row of a block, with the rows it sums
        self,
        sheet: Worksheet,
        block: Block,
        contents: Sequence[Content],
        row: int,
        rows: tuple[int, int],
        *,
        total: bool = False,
    ) -> None:
        rule = {"top": 1, "top_color": STEEL} if total else {"bottom": 1, "bottom_color": LINE}
        for col in range(block.first_col, block.last_col + 1):
            self.put(sheet, row, col, None, self.style(**rule))
        for field, content in zip(block.fields, contents, strict=True):
            indent = _indent(field.look, field.col - block.first_col + 1)
            style = self.figure_style(field.look, bold=total, indent=indent, **rule)
            self.put(sheet, row, field.col, content, style, block=rows)

    def detail(self, detail: Detail, *, back: str) -> None:
        """Add the sheet of a `Detail`, with its table and a link `back` to the front sheet."""
        layout = detail.layout
        sheet = self.sheet(layout.sheet, (c.width for c in layout.columns), landscape=True)
        self.heading(sheet, layout.title, layout.says)
        self.back(sheet, back)
        top = layout.first_row
        for row, contents in enumerate(detail.rows or ((None,) * len(layout.columns),), top + 1):
            for col, (column, content) in enumerate(zip(layout.columns, contents, strict=True), 1):
                style = self.figure_style(
                    column.look,
                    font_color=STEEL if isinstance(content, Formula) else INK,
                    indent=_indent(column.look, col),
                    bottom=1,
                    bottom_color=LINE,
                )
                self.put(sheet, row, col, content, style)
        self._table(sheet, layout, max(1, len(detail.rows)))
        sheet.freeze_panes(top, layout.frozen)
        sheet.repeat_rows(top - 1)

    def _table(self, sheet: Worksheet, layout: TableLayout, rows: int) -> None:
        top = layout.first_row
        sheet.set_row(top - 1, 27)
        heads = [
            {
                "header": column.header,
                "header_format": self.style(
                    bold=True,
                    font_color=STEEL,
                    text_wrap=True,
                    bottom=1,
                    bottom_color=INK,
                    align="right" if column.look in _RIGHT else "left",
                    indent=_indent(column.look, col),
                ),
            }
            for col, column in enumerate(layout.columns, 1)
        ]
        sheet.add_table(
            top - 1,
            0,
            top - 1 + rows,
            len(layout.columns) - 1,
            {"name": layout.table, "columns": heads, "style": None, "autofilter": True},
        )

    def name(self, name: str, sheet: str, row: int, col: int) -> None:
        """Give one cell a name that formulas use."""
        self.workbook.define_name(name, f"='{sheet}'!${column_letters(col)}${row}")


def place_of(sheet: str) -> str:
    """Return the link target of a sheet of the same workbook."""
    return f"internal:'{sheet}'!A1"


def _indent(look: Look, col: int) -> int:
    """Return how far words stand in, so that they never touch the figures on their left."""
    return 0 if look in _RIGHT or col == 1 else 1


_SMALL_HEAD_LEFT = {"font_size": SIZE_SMALL, "font_color": STEEL, "text_wrap": True}
_SMALL_HEAD = {**_SMALL_HEAD_LEFT, "num_format": "General"}
