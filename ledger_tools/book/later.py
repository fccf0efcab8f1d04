"""Places for what newer books have and an older one lacks: columns, labelled cells.

Nothing of the owner's is written over: columns go right of their table, into columns that are
free, and labels to the first free cells right of where a new sheet has them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import NamedTuple

from ledger_tools.book.job_layout import HeaderCell
from ledger_tools.book.layout import Column
from ledger_tools.book.places import Grid, Missing
from ledger_tools.shop.snapshot import Place, SheetSnapshot


class Found(NamedTuple):
    """Where the columns go that a table lacks.

    Attributes:
        columns: Column of each key, as far as there is room.
        end: Last column of the table with them.
        taken: First cell of what stands in the way of the others, None where all have room.
    """

    columns: Mapping[str, int]
    end: int
    taken: Place | None = None


def find_late(lacking: Sequence[Column], grid: Grid, end: int, sheet: SheetSnapshot) -> Found:
    """Return where columns go right of a table whose last column is `end`.

    A column of the owner's that stands beside it under a header of its own becomes part of the
    table, as it does where a spreadsheet program lets a table grow. What else stands there stays
    outside: computed columns then go right of it, apart from the table; those that people type
    in have to be sorted with it, and have no room.
    """
    found: dict[str, int] = {}
    known = {_header(sheet, grid, c) for c in range(min(grid.columns.values()), end + 1)}
    col, apart = end, False
    for number, column in enumerate(lacking):
        col += 1
        while (taken := _taken(grid, col, sheet)) is not None:
            header = _header(sheet, grid, col)
            alone = not header or header in known or _in_other(grid, col, sheet) is not None
            if alone and any(c.typed for c in lacking[number:]):
                return Found(found, end, taken)
            apart |= alone
            known.add(header)
            col += 1
        found[column.key] = col
        end = end if apart else col
    return Found(found, end)


def _header(sheet: SheetSnapshot, grid: Grid, col: int) -> str:
    """Return the text over a column; none where a formula or a number stands there."""
    place = grid.header_row, col
    text = sheet.values.get(place)
    plain = isinstance(text, str) and text.isprintable() and place not in sheet.formulas
    return str(text).strip().casefold() if plain else ""


def _taken(grid: Grid, col: int, sheet: SheetSnapshot) -> Place | None:
    """Return the first cell of a column that stands beside the rows of a table."""
    rows = range(grid.header_row, grid.last_row + 1)
    cells = [p for p in (*sheet.values, *sheet.formulas) if p[1] == col and p[0] in rows]
    return min(cells) if cells else _in_other(grid, col, sheet)


def _in_other(grid: Grid, col: int, sheet: SheetSnapshot) -> Place | None:
    """Return where another table or merged cells reach into a column beside a table."""
    tables = [t[1:5] for t in sheet.tables if t.name != grid.table]
    return next(
        (
            (max(top, grid.header_row), col)
            for top, left, bottom, right in (*tables, *sheet.merged)
            if left <= col <= right and top <= grid.last_row and bottom >= grid.header_row
        ),
        None,
    )


def not_ours(newer: Iterable[Column], grid: Grid, sheet: SheetSnapshot) -> Iterator[Missing]:
    """Yield columns of the owner's that are headed like one the tools compute in newer books."""
    values, formulas = sheet.values, sheet.formulas
    for column in newer:
        col = grid.columns.get(column.key)
        if column.typed or col is None:
            continue
        typed = ((r, col) for r in grid.rows if (r, col) in values and (r, col) not in formulas)
        first = next(typed, None)
        if first is not None:
            yield Missing(sheet.name, column.header, grid.header_row, taken=first)


def find_cells(
    lacking: Sequence[tuple[HeaderCell, Place, Place]], sheet: SheetSnapshot
) -> dict[str, tuple[Place, Place]]:
    """Return places of label and figure for cells that a job sheet lacks.

    Args:
        lacking: The cells, each with the places that a new sheet has them at.
        sheet: The job's sheet.
    """
    taken = {*sheet.values, *sheet.formulas}
    found: dict[str, tuple[Place, Place]] = {}
    for cell, label, value in lacking:
        by = 0
        while any(_moved(p, by) in taken or _merged(_moved(p, by), sheet) for p in (label, value)):
            by += 1
        found[cell.key] = _moved(label, by), _moved(value, by)
        taken.update(found[cell.key])
    return found


def _moved(place: Place, by: int) -> Place:
    return place[0], place[1] + by


def _merged(place: Place, sheet: SheetSnapshot) -> bool:
    row, col = place
    return any(
        top <= row <= bottom and left <= col <= right for top, left, bottom, right in sheet.merged
    )
