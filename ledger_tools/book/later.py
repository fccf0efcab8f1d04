"""Places for what newer books have and an older one lacks: columns, labelled cells.

Nothing of the owner's is written over: columns go right of their table where that is free, and
labels to the first free cells right of where a new sheet has them.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from ledger_tools.book.job_layout import HeaderCell
from ledger_tools.book.layout import Column
from ledger_tools.book.places import Grid, Missing
from ledger_tools.shop.snapshot import Place, SheetSnapshot


def find_late(newer: Iterable[Column], grid: Grid, end: int) -> dict[str, int]:
    """Return the columns that a table lacks, side by side right of its last column `end`."""
    lacking = (c.key for c in newer if c.key not in grid.columns)
    return {key: col for col, key in enumerate(lacking, end + 1)}


def in_the_way(grid: Grid, late: Mapping[str, int], sheet: SheetSnapshot) -> Place | None:
    """Return the first cell that stands where new columns of a table are to go."""
    if not late:
        return None
    cols = range(min(late.values()), max(late.values()) + 1)
    rows = range(grid.header_row, grid.last_row + 1)
    cells = (p for p in (*sheet.values, *sheet.formulas) if p[0] in rows and p[1] in cols)
    tables = [t[1:5] for t in sheet.tables if t.name != grid.table]
    areas = (
        (max(top, rows[0]), max(left, cols[0]))
        for top, left, bottom, right in (*tables, *sheet.merged)
        if top <= rows[-1] and bottom >= rows[0] and left <= cols[-1] and right >= cols[0]
    )
    return min((*cells, *areas), default=None)


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
