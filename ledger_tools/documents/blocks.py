"""What a summary workbook is put together from: live figures, small tables, sheets of raw rows.

Rows and columns count from 1, as in the book's layout.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ledger_tools.book.layout import Look, TableLayout


@dataclass(frozen=True, slots=True)
class Formula:
    """A live figure.

    Attributes:
        text: Formula without ``=``; ``{row}`` stands for its row, ``{first}`` and ``{last}``
            for the rows of its block, ``{head}`` for the row of its headings.
        value: What it comes to.
    """

    text: str
    value: Decimal | int | str

    def at(self, row: int, first: int, last: int) -> str:
        """Return the formula as written in `row` of a block with rows `first` to `last`."""
        placed = {"{row}": row, "{first}": first, "{last}": last, "{head}": first - 1}
        text = self.text
        for mark, number in placed.items():
            text = text.replace(mark, str(number))
        return "=" + text


Content = str | int | Decimal | date | Formula | None


@dataclass(frozen=True, slots=True)
class Detail:
    """A sheet of raw rows in one table.

    Attributes:
        layout: Sheet, table and columns.
        rows: Contents in order of the columns.
    """

    layout: TableLayout
    rows: tuple[tuple[Content, ...], ...]


@dataclass(frozen=True, slots=True)
class Field:
    """One column of a block: where it stands, its heading and the look of its cells."""

    col: int
    head: str | date
    look: Look = Look.MONEY


@dataclass(frozen=True, slots=True)
class Block:
    """A small table on a summary sheet.

    Attributes:
        title: Heading.
        first_col: Leftmost column its rules cover.
        last_col: Rightmost column its rules cover.
        fields: Columns with a heading.
        rows: Contents in order of the fields.
        total: Contents of the last row; None for none.
        link: Sheet the figures come from; empty for none.
        empty: Said where there are no rows.
    """

    title: str
    first_col: int
    last_col: int
    fields: tuple[Field, ...]
    rows: tuple[tuple[Content, ...], ...]
    total: tuple[Content, ...] | None = None
    link: str = ""
    empty: str = "None."

    def height(self) -> int:
        """Return how many rows the block takes, headings included."""
        return 2 + max(1, len(self.rows)) + (self.total is not None and bool(self.rows))
