"""The pen every sheet is drawn with: formats made once, cells written so that text stays text."""

import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from math import ceil
from typing import TYPE_CHECKING, Any

from ledger_tools.book.look import (
    FONT,
    INK,
    LINE,
    PAPER_CODES,
    RUST,
    SIZE_BODY,
    SIZE_SMALL,
    SIZE_TITLE,
    STEEL,
    WHITE,
)
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Scalar

if TYPE_CHECKING:
    from xlsxwriter.format import Format
    from xlsxwriter.workbook import Workbook
    from xlsxwriter.worksheet import Worksheet

Props = dict[str, Any]
"""XlsxWriter format properties."""

TITLE: Props = {"font_size": SIZE_TITLE, "bold": True, "valign": "vcenter"}
SAYS: Props = {"font_color": STEEL, "valign": "vcenter"}
LABEL: Props = {"font_color": STEEL, "valign": "vcenter"}
HEADING: Props = {"bold": True, "bottom": 1, "bottom_color": INK, "valign": "vcenter"}
HEADER: Props = {
    "bold": True,
    "bottom": 1,
    "bottom_color": INK,
    "text_wrap": True,
    "valign": "top",
    "left": 1,
    "left_color": LINE,
    "right": 1,
    "right_color": LINE,
}
LINK: Props = {"font_color": STEEL, "underline": 1, "valign": "vcenter"}
WARNING: Props = {"font_color": RUST, "bold": True, "valign": "vcenter"}
WARNS: Props = {"font_color": RUST, "bold": True}
UNREADABLE: Props = {"font_color": WHITE, "bold": True, "bg_color": RUST}

ROW_POINTS = 15
_SMALL_PRINT = f'&"{FONT},Regular"&{SIZE_SMALL}'


@dataclass(frozen=True, slots=True)
class Hand:
    """One workbook being drawn: its formats, decimals and paper.

    Attributes:
        workbook: Where formats are made.
        digits: Decimal places of the currency's minor unit.
        paper: ``A4`` or ``Letter``.
    """

    workbook: "Workbook"
    digits: int = 2
    paper: str = "Letter"
    _formats: dict[frozenset[tuple[str, Any]], "Format"] = field(default_factory=dict)

    def cell(self, props: Props) -> "Format":
        """Return the format of a cell: the book's font and ink, and what `props` says."""
        return self._made({"font_name": FONT, "font_size": SIZE_BODY, "font_color": INK} | props)

    def mark(self, props: Props) -> "Format":
        """Return a conditional format, which changes only what `props` names."""
        return self._made({"font_name": "", "font_size": 0} | props)

    def _made(self, props: Props) -> "Format":
        key = frozenset(props.items())
        if key not in self._formats:
            self._formats[key] = self.workbook.add_format(
                {name: value for name, value in props.items() if value not in ("", 0)}
            )
        return self._formats[key]

    def page(self, name: str) -> "Page":
        """Return a new sheet, without gridlines, at 100 %."""
        worksheet = self.workbook.add_worksheet(name)
        worksheet.hide_gridlines(2)
        worksheet.set_zoom(100)
        return Page(self, worksheet)


@dataclass(frozen=True, slots=True)
class Page:
    """One sheet being drawn. Rows and columns are counted from 1."""

    hand: Hand
    sheet: "Worksheet"

    def put(self, row: int, col: int, content: Content, props: Props) -> None:
        """Write a value, or a formula with its computed result."""
        if content.formula is None:
            self.value(row, col, content.value, props)
            return
        shown = "" if content.value is None else content.value
        form = self.hand.cell(props)
        self.sheet.write_formula(row - 1, col - 1, "=" + content.formula, form, shown)

    def value(self, row: int, col: int, value: Scalar | Decimal | date, props: Props) -> None:
        """Write a plain value; text is never taken for a formula or a link."""
        at = (row - 1, col - 1)
        form = self.hand.cell(props)
        if value is None or value == "":
            self.sheet.write_blank(*at, None, form)
        elif isinstance(value, str):
            self.sheet.write_string(*at, str(value), form)
        elif isinstance(value, bool):
            self.sheet.write_boolean(*at, value, form)
        elif isinstance(value, date):
            self.sheet.write_datetime(*at, value, form)
        else:
            self.sheet.write_number(*at, value, form)

    def link(self, row: int, col: int, target: str, text: str, props: Props = LINK) -> None:
        """Write `text` with a link to `target` inside the book, such as ``'25-0001'!A1``."""
        form = self.hand.cell(props)
        self.sheet.write_url(row - 1, col - 1, f"internal:{target}", form, text)

    def widths(self, widths: Mapping[int, float]) -> None:
        """Set column widths in characters."""
        plain = self.hand.cell({})
        for col, width in widths.items():
            self.sheet.set_column(col - 1, col - 1, width, plain)

    def hide(self, col: int) -> None:
        """Hide a column; whoever wants it shows it again."""
        self.sheet.set_column(col - 1, col - 1, None, self.hand.cell({}), {"hidden": True})

    def height(self, row: int, points: float) -> None:
        """Set the height of a row."""
        self.sheet.set_row(row - 1, points)

    def mark(self, area: str, formula: str, props: Props, *, last: bool = False) -> None:
        """Show the cells of `area` by `props` where `formula` is true for its first cell.

        Where two marks fit, the one written first wins; after a `last` one no other is tried.
        """
        self.sheet.conditional_format(
            area,
            {
                "type": "formula",
                "criteria": "=" + formula,
                "format": self.hand.mark(props),
                "stop_if_true": last,
            },
        )

    def print_set_up(self, *, wide: bool, repeat_row: int = 0) -> None:
        """Set paper, margins (inches), one page across, repeated header row and the footer."""
        sheet = self.sheet
        sheet.set_paper(PAPER_CODES[self.hand.paper])
        sheet.set_margins(left=0.5, right=0.5, top=0.5, bottom=0.7)
        sheet.fit_to_pages(1, 0)
        sheet.set_footer(f"&L{_SMALL_PRINT}&A&R{_SMALL_PRINT}Page &P of &N", {"margin": 0.35})
        if wide:
            sheet.set_landscape()
        if repeat_row:
            sheet.repeat_rows(repeat_row - 1)


def lines_of(text: str, length: int) -> int:
    """Return how many lines a text takes that is broken at `length` characters."""
    return sum(max(1, ceil(len(part) / length)) for part in text.split("\n"))


def new_workbook(target: io.BytesIO, *, created: date) -> "Workbook":
    """Return an empty workbook; the fixed `created` keeps its bytes the same every time."""
    import xlsxwriter  # noqa: PLC0415 - heavy, and only needed where sheets are drawn

    workbook = xlsxwriter.Workbook(
        target,
        {
            "in_memory": True,
            "default_format_properties": {"font_name": FONT, "font_size": SIZE_BODY},
        },
    )
    workbook.set_properties({"created": datetime(created.year, created.month, created.day)})  # noqa: DTZ001 - the file format knows no zone
    workbook.set_size(1920, 1080)
    workbook.set_calc_mode("auto")
    return workbook
