"""A sheet that is printed: words and figures from the top down, in the look of the house.

Words are always written as text, never as a formula or a link, and their rows are as high as the
words need: a program that opens the file does not have to find that out by itself.
"""

import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any, NamedTuple

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from ledger_tools.book import look
from ledger_tools.documents.font import BOLD as BOLD_FILE
from ledger_tools.documents.font import font, wrapped
from ledger_tools.documents.letters import clean, clean_line

Style = Mapping[str, str | int | bool]

PLAIN: Style = {}
BOLD: Style = {"bold": True}
QUIET: Style = {"font_color": look.STEEL}
SMALL: Style = {"font_color": look.STEEL, "font_size": look.SIZE_SMALL}
LARGE: Style = {"font_size": look.SIZE_TITLE, "bold": True}
RIGHT: Style = {"align": "right"}
LINE_BELOW: Style = {"bottom": 1, "bottom_color": look.LINE}
INK_BELOW: Style = {"bottom": 1, "bottom_color": look.INK}
INK_ABOVE: Style = {"top": 1, "top_color": look.INK}
RUST_ABOVE: Style = {"top": 2, "top_color": look.RUST}

LEADING = {look.SIZE_SMALL: 11.25, look.SIZE_BODY: 12.75, look.SIZE_TITLE: 20.25}
"""Points from line to line at each type size."""

GAP = 7
"""Points of an empty row between parts."""

TALLEST = 19
"""Lines of text in one cell; the file format has no row higher than 409 points."""

POINTS_A_CHARACTER = 5.25
"""Width of a digit of the body font, as spreadsheets measure columns: 7 of 96 to the inch."""

DOUBT = 6
"""Points of a column that words do not use: padding, and programs that draw them wider."""

PAPER_CODES = {"a4": 9, "us-letter": 1}
"""The file format's codes for paper sizes (ECMA-376 Part 1, 18.3.1.63, pageSetup)."""

FOOTER_LETTERS = 80


class _Piece(NamedTuple):
    """Words for one row and how many lines they take."""

    text: str
    lines: int


class Description(NamedTuple):
    """What the file says of itself."""

    title: str
    author: str
    day: date


@dataclass(slots=True)
class PrintedSheet:
    """A sheet being filled from the top down; the first column holds long words.

    Attributes:
        sheet: The sheet.
        book: Its workbook.
        widths: Column widths in characters.
        digits: Decimal places of its amounts.
        row: Next free row, counted from 0.
        formats: Cell formats made so far, by their properties.
    """

    sheet: Worksheet
    book: xlsxwriter.Workbook
    widths: tuple[int, ...]
    digits: int
    row: int = 0
    formats: dict[tuple[tuple[str, Any], ...], Format] = field(default_factory=dict)

    def style(self, *styles: Style) -> Format:
        """Return the cell format of the house with `styles` on top."""
        told: dict[str, Any] = {
            "font_name": look.FONT,
            "font_size": look.SIZE_BODY,
            "font_color": look.INK,
            "valign": "top",
        }
        for style in styles:
            told.update(style)
        key = tuple(sorted(told.items()))
        if key not in self.formats:
            self.formats[key] = self.book.add_format(told)
        return self.formats[key]

    def word(self, col: int, text: str, *styles: Style, row: int | None = None) -> None:
        """Write words in one line as text."""
        at = self.row if row is None else row
        self.sheet.write_string(at, col, clean_line(text), self.style(*styles))

    def figure(self, col: int, value: Decimal, places: int, *styles: Style) -> str:
        """Write a number shown with `places` decimals and return its cell."""
        shown = {"num_format": look.money_format(places)}
        self.sheet.write_number(self.row, col, float(value), self.style(RIGHT, shown, *styles))
        return self.cell(col)

    def formula(self, col: int, formula: str, value: Decimal, *styles: Style) -> str:
        """Write a live amount with the value it has and return its cell."""
        shown = {"num_format": look.money_format(self.digits)}
        style = self.style(RIGHT, shown, *styles)
        self.sheet.write_formula(self.row, col, f"={formula}", style, float(value))
        return self.cell(col)

    def cell(self, col: int, row: int | None = None) -> str:
        """Return the address of a cell, by default in the row being filled."""
        return str(xl_rowcol_to_cell(self.row if row is None else row, col))

    def empty(self, *styles: Style) -> None:
        """Give every cell of the row a style; what is written later stands in its place."""
        for col in range(len(self.widths)):
            self.sheet.write_blank(self.row, col, None, self.style(*styles))

    def gap(self, *styles: Style) -> None:
        """Leave a little room."""
        self.empty(*styles)
        self.sheet.set_row(self.row, GAP)
        self.row += 1

    def block(self, text: str, *styles: Style) -> None:
        """Write words in the first column, in as many rows as show all of them; if any."""
        for piece in self._pieces(text, *styles):
            self._write(piece, *styles)

    def first_part(self, text: str, *styles: Style) -> list[_Piece]:
        """Write the first row of words, without leaving the row, and return what is left."""
        first, *more = self._pieces(text, *styles) or [_Piece("", 1)]
        self._write(first, *styles)
        self.row -= 1
        return more

    def rest(self, pieces: list[_Piece], *styles: Style) -> None:
        """Go to the next row and write what `first_part` left."""
        self.row += 1
        for piece in pieces:
            self.empty(*styles)
            self._write(piece, *styles)

    def headline(self, text: str, columns: int) -> None:
        """Write large words over the first `columns` in one line, or in more where needed."""
        room = sum(self.widths[:columns]) * POINTS_A_CHARACTER - DOUBT
        if font(BOLD_FILE).width(clean_line(text), look.SIZE_TITLE) > room:
            self.block(text, LARGE)
            return
        self._set_height(1, LARGE)
        self.word(0, text, LARGE)
        self.row += 1

    def headed(self, heading: str, text: str) -> None:
        """Write a heading and words under it, in one cell where they fit, to stay together."""
        pieces = self._pieces(f"{heading}\n{text}")
        if len(pieces) > 1 or not (clean(heading).strip() and clean(text).strip()):
            self.block(heading, BOLD)
            self.block(text)
            return
        self._set_height(pieces[0].lines)
        bold, plain = self.style(BOLD), self.style()
        wrap = self.style({"text_wrap": True})
        words = "\n" + _words(text)
        self.sheet.write_rich_string(self.row, 0, bold, clean_line(heading), plain, words, wrap)
        self.row += 1

    def _write(self, piece: _Piece, *styles: Style) -> None:
        self._set_height(piece.lines, *styles)
        wrap = self.style({"text_wrap": True}, *styles)
        self.sheet.write_string(self.row, 0, piece.text, wrap)
        self.row += 1

    def _set_height(self, lines: int, *styles: Style) -> None:
        self.sheet.set_row(self.row, lines * LEADING[_size(*styles)] + 2)

    def _pieces(self, text: str, *styles: Style) -> list[_Piece]:
        words = _words(text)
        if not words:
            return []
        bold = any(style.get("bold") for style in styles)
        width = self.widths[0] * POINTS_A_CHARACTER - DOUBT
        lines = wrapped(words, width, size=_size(*styles), bold=bold)
        if len(lines) <= TALLEST:
            return [_Piece(words, len(lines))]
        parts = [lines[at : at + TALLEST] for at in range(0, len(lines), TALLEST)]
        return [_Piece("\n".join(part), len(part)) for part in parts]

    def set_up_page(self, paper: str, repeated_row: int) -> None:
        """Set paper, margins, fit to width and the row that is repeated on every page."""
        for col, width in enumerate(self.widths):
            self.sheet.set_column(col, col, width, self.style())
        self.sheet.hide_gridlines(2)
        self.sheet.set_paper(PAPER_CODES[paper])
        self.sheet.set_margins(left=0.7, right=0.7, top=0.7, bottom=0.7)
        self.sheet.fit_to_pages(1, 0)
        self.sheet.repeat_rows(repeated_row)
        self.sheet.print_area(0, 0, self.row - 1, len(self.widths) - 1)

    def set_footer(self, left: str, page: str) -> None:
        """Set the foot of each page: words on the left, page and number of pages on the right.

        An ampersand in the words is doubled, or it would steer the page.
        """
        # The colour ends the code: digits right after the size would be read as part of it.
        code = f'&"{look.FONT},Regular"&{look.SIZE_SMALL}&K{look.STEEL[1:]}'
        pages = _footer_text(page).replace("{pages}", "&N").replace("{page}", "&P")
        self.sheet.set_footer(f"&L{code} {_footer_text(left)}&R{code} {pages}")


def new_book(made: io.BytesIO, description: Description) -> xlsxwriter.Workbook:
    """Return a workbook made in memory, with no clock in it and columns measured in our font."""
    plain = {"font_name": look.FONT, "font_size": look.SIZE_BODY}
    words = {"strings_to_formulas": False, "strings_to_urls": False}
    book = xlsxwriter.Workbook(
        made, {"in_memory": True, "default_format_properties": plain, **words}
    )
    day = description.day
    created = datetime(day.year, day.month, day.day, tzinfo=UTC)
    told = {"title": description.title, "author": description.author, "created": created}
    book.set_properties(told)
    return book


def _size(*styles: Style) -> int:
    sizes = [int(style["font_size"]) for style in styles if "font_size" in style]
    return sizes[-1] if sizes else look.SIZE_BODY


def _words(text: str) -> str:
    return clean(text).strip("\n")


def _footer_text(text: str) -> str:
    return clean_line(text)[:FOOTER_LETTERS].replace("&", "&&")
