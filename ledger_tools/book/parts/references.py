"""Addresses and ranges as a workbook writes them, and formulas moved to another cell."""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from ledger_tools.book.parts.markup import PartUnfitError
from ledger_tools.shop.snapshot import Place, address, column_letters

LAST_ROW = 1_048_576
LAST_COL = 16_384

_ADDRESS = re.compile(r"\$?([A-Za-z]{1,3})\$?([1-9][0-9]{0,6})")
_TOKEN = re.compile(
    r"""
    "(?:[^"]|"")*" | '(?:[^']|'')*' | \[(?:[^\[\]]|\[[^\[\]]*\])*\]
    | (?<![\w.\\$])(?P<col>\$?[A-Za-z]{1,3})(?P<row>\$?[1-9][0-9]{0,6})(?![\w.(!\[])
    | (?<![\w.\\$:])(?P<col1>\$?[A-Za-z]{1,3}):(?P<col2>\$?[A-Za-z]{1,3})(?![\w.(!\[:$])
    | (?<![\w.\\$:])(?P<row1>\$?[1-9][0-9]{0,6}):(?P<row2>\$?[1-9][0-9]{0,6})(?![\w.(!\[:$])
    """,
    re.VERBOSE,
)


class Places(dict[str, Place]):
    """Places by address, each address read once.

    Raises:
        PartUnfitError: The address is none, or lies outside the largest sheet.
    """

    def __missing__(self, text: str) -> Place:
        """Read the address `text`."""
        found = _ADDRESS.fullmatch(text)
        if not found:
            raise PartUnfitError(text)
        place = int(found[2]), column_number(found[1])
        if place[0] > LAST_ROW or place[1] > LAST_COL:
            raise PartUnfitError(text)
        self[text] = place
        return place


def column_number(letters: str) -> int:
    """Return the column of `letters`, counted from 1.

    >>> column_number("AB")
    28
    """
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


@dataclass(frozen=True, slots=True)
class Area:
    """A rectangle of cells, rows and columns counted from 1."""

    first_row: int
    first_col: int
    last_row: int
    last_col: int

    def __str__(self) -> str:
        """Return the range as a workbook writes it, such as ``A1:B2``."""
        first, last = (
            address(self.first_row, self.first_col),
            address(self.last_row, self.last_col),
        )
        return first if first == last else f"{first}:{last}"

    def __contains__(self, place: Place) -> bool:
        """Return whether `place` lies in the rectangle."""
        row, col = place
        return self.first_row <= row <= self.last_row and self.first_col <= col <= self.last_col

    def meets(self, other: "Area") -> bool:
        """Return whether the two rectangles share a cell."""
        return (
            self.first_row <= other.last_row
            and other.first_row <= self.last_row
            and self.first_col <= other.last_col
            and other.first_col <= self.last_col
        )

    def joined(self, place: Place) -> "Area":
        """Return the smallest rectangle that holds this one and `place`."""
        row, col = place
        return Area(
            min(self.first_row, row),
            min(self.first_col, col),
            max(self.last_row, row),
            max(self.last_col, col),
        )

    def ending(self, last_row: int) -> "Area":
        """Return the same rectangle with another last row."""
        return replace(self, last_row=last_row)

    def places(self) -> Iterator[Place]:
        """Yield the cells row by row."""
        for row in range(self.first_row, self.last_row + 1):
            for col in range(self.first_col, self.last_col + 1):
                yield row, col


def read_area(text: str, places: Places | None = None) -> Area | None:
    """Return the rectangle `text` names, such as ``A1:B2`` or ``$A$1``; None if it is none."""
    known = Places() if places is None else places
    first, _, last = text.partition(":")
    try:
        top, left = known[first]
        bottom, right = known[last or first]
    except PartUnfitError:
        return None
    if bottom < top or right < left:
        return None
    return Area(top, left, bottom, right)


@lru_cache(maxsize=8192)
def moved(formula: str, rows: int, cols: int) -> str:
    """Return `formula` as it reads `rows` further down and `cols` further right.

    References with ``$`` stay; one that leaves the sheet becomes ``#REF!``.

    >>> moved("A2*$B$1+SUM(C:C)", 1, 1)
    'B3*$B$1+SUM(D:D)'
    """

    def shift(found: re.Match[str]) -> str:
        if found["col"]:
            col, row = _column(found["col"], cols), _row(found["row"], rows)
            return f"{col}{row}" if col and row else "#REF!"
        for first, last, step, by in (
            ("col1", "col2", _column, cols),
            ("row1", "row2", _row, rows),
        ):
            if found[first]:
                ends = step(found[first], by), step(found[last], by)
                return ":".join(ends) if all(ends) else "#REF!"
        return found[0]

    return _TOKEN.sub(shift, formula)


def _column(text: str, by: int) -> str:
    """Return a column reference moved; empty when it leaves the sheet."""
    if text.startswith("$"):
        return text
    number = column_number(text) + by
    return column_letters(number) if 1 <= number <= LAST_COL else ""


def _row(text: str, by: int) -> str:
    """Return a row reference moved; empty when it leaves the sheet."""
    if text.startswith("$"):
        return text
    number = int(text) + by
    return str(number) if 1 <= number <= LAST_ROW else ""
