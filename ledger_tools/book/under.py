"""What stands under and between the rows of a table: entries, the owner's totals, or neither."""

import re

from ledger_tools.costing.lines import Kind
from ledger_tools.shop.snapshot import SheetSnapshot, TableArea, column_letters

_SUMS = tuple(
    word for plain in ("SUM(", "SUBTOTAL(", "ROUND(SUM(") for word in (plain, plain.lower())
)
_COLUMN_SUM = re.compile(
    r"(?:ROUND\()?(?:SUM|SUBTOTAL)\((?:\d+[,;])?\$?([A-Z]+)\$?\d+:\$?([A-Z]+)\$?\d+\)(?:[,;]\d\))?",
    re.IGNORECASE,
)
_KINDS = frozenset(kind.value for kind in Kind)


def total_rows(sheet: SheetSnapshot, header_row: int, cols: frozenset[int]) -> frozenset[int]:
    """Return the rows below the headers in which one of `cols` is summed up.

    Such a row is the owner's own sum of the table, not an entry of it.
    """
    return frozenset(
        row
        for (row, col), formula in sheet.formulas.items()
        if formula.startswith(_SUMS)
        and row > header_row
        and col in cols
        and sums_column(formula, col)
    )


def sums_column(formula: str, col: int) -> bool:
    """Whether a formula is nothing but the sum of cells in its own column.

    >>> sums_column("SUM(L5:L27)", 12), sums_column("SUM(K5:K27)", 12), sums_column("L5*2", 12)
    (True, False, False)
    """
    found = _COLUMN_SUM.fullmatch(formula.replace(" ", ""))
    letters = column_letters(col)
    return found is not None and found[1].upper() == found[2].upper() == letters


def typed_end(
    sheet: SheetSnapshot, area: TableArea, typed: list[int], totals: frozenset[int]
) -> int:
    """Return the last row typed right under the table, or the table's end."""
    end = area.last_row
    values = sheet.values
    while end + 1 not in totals and any((end + 1, col) in values for col in typed):
        end += 1
    return end


def lines_end(sheet: SheetSnapshot, kind_col: int, end: int, totals: frozenset[int]) -> int:
    """Return the last row of a job's lines: one further down counts too where it has a kind."""
    return max(
        (
            row
            for (row, col), value in sheet.values.items()
            if col == kind_col
            and row > end
            and row not in totals
            and str(value).strip().casefold() in _KINDS
        ),
        default=end,
    )


def row_apart(sheet: SheetSnapshot, below: int, cols: tuple[int, ...]) -> int:
    """Return the first row under row `below` in which all of `cols` are typed, or 0."""
    values, formulas = sheet.values, sheet.formulas
    rows = {row for row, col in values if row > below and col in cols}
    typed = [
        row for row in rows if all((row, c) in values and (row, c) not in formulas for c in cols)
    ]
    return min(typed, default=0)


def first_taken(sheet: SheetSnapshot, below: int, cols: range) -> int:
    """Return the first row under row `below` in which anything stands in `cols`, or 0."""
    taken = [row for row, col in (*sheet.values, *sheet.formulas) if row > below and col in cols]
    return min(taken, default=0)
