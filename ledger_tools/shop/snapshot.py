"""A workbook as it was read: values and formulas by cell, tables, names; not yet understood."""

from collections.abc import Mapping
from functools import cache
from types import MappingProxyType
from typing import NamedTuple

Scalar = str | float | int | bool | None
"""What a cell shows. Text, number, truth value, or None for an empty cell."""

Place = tuple[int, int]
"""Row and column of a cell, both counted from 1."""


class CellError(str):
    """An error value such as ``#REF!``, which is text to look at and never a number."""

    __slots__ = ()


class TableArea(NamedTuple):
    """A table's name and where it stands.

    Attributes:
        name: Display name, unique in the book.
        first_row: Row of the headers, counted from 1.
        first_col: First column, counted from 1.
        last_row: Last row of the table, totals row included.
        last_col: Last column.
        totals: Whether the last row is the table's own row of totals.
    """

    name: str
    first_row: int
    first_col: int
    last_row: int
    last_col: int
    totals: bool = False


class SheetSnapshot(NamedTuple):
    """One sheet as read.

    Attributes:
        name: Name on the tab.
        values: What cells show; empty cells are absent.
        formulas: Formula text without the leading ``=``, for cells that have one.
        tables: Tables on the sheet.
        links: Target inside the book of cells that carry a link, such as ``'25-0001'!A1``.
    """

    name: str
    values: Mapping[Place, Scalar]
    formulas: Mapping[Place, str]
    tables: tuple[TableArea, ...] = ()
    links: Mapping[Place, str] = MappingProxyType({})


class Snapshot(NamedTuple):
    """A workbook as read.

    Attributes:
        file: File name for findings, without folder.
        sheets: In tab order.
        names: Defined names of the whole book, with what they refer to, such as ``Start!$C$5``.
        properties: Custom document properties as text.
    """

    file: str
    sheets: tuple[SheetSnapshot, ...]
    names: Mapping[str, str]
    properties: Mapping[str, str]


@cache
def column_letters(col: int) -> str:
    """Return the letters of column `col`, counted from 1.

    >>> column_letters(28)
    'AB'
    """
    letters = ""
    while col:
        col, rest = divmod(col - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def address(row: int, col: int) -> str:
    """Return the address of a cell, such as ``F12``."""
    return f"{column_letters(col)}{row}"
