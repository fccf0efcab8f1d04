"""One hand for book and paper: fonts, colours and number formats, the same in every sheet."""

from collections.abc import Sequence
from typing import Any

from ledger_tools.book.layout import Look

FONT = "Arial"
SIZE_TITLE = 16
SIZE_BODY = 10
SIZE_SMALL = 8

INK = "#1F2A33"
STEEL = "#4F6272"
SAND = "#F5F0E6"
LINE = "#D8D2C4"
RUST = "#B4532A"
WHITE = "#FFFFFF"

PAPER_CODES = {"A4": 9, "Letter": 1}
"""The file format's codes for the papers a shop may choose (ECMA-376 Part 1, pageSetup)."""

DATE_FORMAT = "yyyy-mm-dd"
CLOCK_FORMAT = "hh:mm"
PERCENT_FORMAT = "0.00#%"

RIGHT_ALIGNED = frozenset(
    {
        Look.MONEY,
        Look.PRICE,
        Look.QUANTITY,
        Look.MINUTES,
        Look.CLOCK,
        Look.HOURS,
        Look.RATE,
        Look.WHOLE,
    }
)
_WORDS = {Look.TEXT, Look.WRAPPED}
"""Typed words are kept as text, so that a customer's ``=SUM`` stays a name."""


def money_format(digits: int) -> str:
    """Return the number format of an amount in a currency with `digits` decimal places.

    >>> money_format(2)
    '#,##0.00'
    """
    return "#,##0" + ("." + "0" * digits if digits else "")


def number_format(look: Look, digits: int = 2) -> str:
    """Return the number format of cells that look like `look`; minutes stay General."""
    return {
        Look.MONEY: money_format(digits),
        Look.PRICE: money_format(digits) + "##",
        Look.HOURS: "0.0###",
        Look.RATE: PERCENT_FORMAT,
        Look.WHOLE: "0",
        Look.DATE: DATE_FORMAT,
        Look.CLOCK: CLOCK_FORMAT,
    }.get(look, "General")


def indents(looks: Sequence[Look]) -> list[int]:
    """Return how far each column's words stand in: one step behind a column of figures."""
    behind = [False, *(look in RIGHT_ALIGNED for look in looks[:-1])]
    return [
        int(after and alignment(look) == "left") for after, look in zip(behind, looks, strict=True)
    ]


def alignment(look: Look) -> str:
    """Return where a cell's text stands; stored text may not run on over the next cells."""
    if look is Look.STORED:
        return "fill"
    return "right" if look in RIGHT_ALIGNED else "left"


def cell_format(look: Look, *, typed: bool, digits: int = 2) -> dict[str, Any]:
    """Return XlsxWriter format properties of a table cell.

    Cells where people type are filled with sand; computed cells are white with steel figures.
    Words that warn are rust.
    """
    return {
        "font_name": FONT,
        "font_size": SIZE_BODY,
        "font_color": RUST if look is Look.MARK else INK if typed else STEEL,
        "underline": look is Look.LINK,
        "bg_color": SAND if typed else WHITE,
        "border": 1,
        "border_color": LINE,
        "valign": "top" if look is Look.WRAPPED else "vcenter",
        "align": alignment(look),
        "text_wrap": look is Look.WRAPPED,
        "num_format": "@" if typed and look in _WORDS else number_format(look, digits),
        "locked": not typed,
    }
