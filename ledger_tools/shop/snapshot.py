"""A workbook as it was read: values and formulas by cell, tables, names; not yet understood."""

from collections.abc import Mapping
from functools import cache, lru_cache
from types import MappingProxyType
from typing import Generic, NamedTuple, TypeVar

Scalar = str | float | int | bool | None
"""What a cell shows. Text, number, truth value, or None for an empty cell."""

Held = TypeVar("Held")
"""What cells hold: values, or the text of formulas."""

Place = tuple[int, int]
"""Row and column of a cell, both counted from 1."""


class CellError(str):
    """An error value such as ``#REF!``, which is text to look at and never a number."""

    __slots__ = ()


Corners = tuple[int, int, int, int]
"""First row and column of a range of cells, last row and column, all counted from 1."""


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


class Packed(Generic[Held]):
    """What cells hold, kept small: thousands of sheets fill the same places.

    Args:
        places: Which cells; one tuple for all sheets that fill the same.
        held: What each of them holds, in the same order.
    """

    __slots__ = ("held", "places")

    def __init__(self, places: tuple[Place, ...], held: tuple[Held, ...]) -> None:
        self.places = places
        self.held = held


@lru_cache(maxsize=8)
def _spread(packed: Packed[Held]) -> Mapping[Place, Held]:
    """Return what cells hold by place, for as long as a sheet is looked at."""
    return dict(zip(packed.places, packed.held, strict=True))


class SheetSnapshot:
    """One sheet as read.

    Args:
        name: Name on the tab.
        values: What cells show; empty cells are absent.
        formulas: Formula text without the leading ``=``, for cells that have one.
        tables: Tables on the sheet.
        links: Target inside the book of cells that carry a link, such as ``'25-0001'!A1``.
        merged: Ranges that are merged into one cell each.
    """

    __slots__ = ("_formulas", "_values", "links", "merged", "name", "tables")

    def __init__(  # noqa: PLR0913 - what a sheet holds
        self,
        name: str,
        values: Mapping[Place, Scalar] | Packed[Scalar],
        formulas: Mapping[Place, str] | Packed[str],
        tables: tuple[TableArea, ...] = (),
        links: Mapping[Place, str] = MappingProxyType({}),
        *,
        merged: tuple[Corners, ...] = (),
    ) -> None:
        self.name = name
        self.tables = tables
        self.links = links
        self.merged = merged
        self._values = values
        self._formulas = formulas

    __hash__ = None  # type: ignore[assignment] # holds mappings

    def __eq__(self, other: object) -> bool:
        """Return whether two sheets hold the same."""
        return isinstance(other, SheetSnapshot) and all(
            getattr(self, what) == getattr(other, what)
            for what in ("name", "tables", "values", "formulas", "links", "merged")
        )

    @property
    def values(self) -> Mapping[Place, Scalar]:
        """What cells show; empty cells are absent."""
        held = self._values
        return _spread(held) if isinstance(held, Packed) else held

    @property
    def formulas(self) -> Mapping[Place, str]:
        """Formula text without the leading ``=``, for cells that have one."""
        held = self._formulas
        return _spread(held) if isinstance(held, Packed) else held

    def replaced(
        self,
        *,
        name: str | None = None,
        values: Mapping[Place, Scalar] | None = None,
        formulas: Mapping[Place, str] | None = None,
        tables: tuple[TableArea, ...] | None = None,
        links: Mapping[Place, str] | None = None,
    ) -> "SheetSnapshot":
        """Return the same sheet with what is given in the place of what it has."""
        return SheetSnapshot(
            self.name if name is None else name,
            self._values if values is None else values,
            self._formulas if formulas is None else formulas,
            self.tables if tables is None else tables,
            self.links if links is None else links,
            merged=self.merged,
        )


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
