"""What the sheet `Time` is to hold: rows taken over, and in every row what counts."""

from ledger_tools.book.contents import Values, time_values
from ledger_tools.book.formulas.time import (
    REMARK_JOB,
    REMARK_LINE,
    REMARK_MINUTES,
    REMARK_NIGHT,
    REMARK_NO_JOB,
    time_row,
)
from ledger_tools.book.layout import TIME_TABLE
from ledger_tools.book.planning import FEWEST_SPARE, MORE_SPARE, Planning
from ledger_tools.costing.time import TimeEntry


def plan_time(planning: Planning) -> None:
    """Want the entries a new book takes over, and the computed cells of all rows."""
    grid = planning.places.grid(TIME_TABLE)
    added = planning.additions.time
    rows = planning.append(TIME_TABLE, [time_values(entry) for entry in added])
    entries = {entry.row: entry for entry in planning.book.time} if not added else {}
    entries |= dict(zip(rows, added, strict=True))
    taken = max(planning.taken(TIME_TABLE), default=0)
    if not added:
        planning.grow(grid, taken + FEWEST_SPARE, more=MORE_SPARE)
    grown = next((g for g in planning.grown if g.table == grid.table), None)
    new = range(grown.last_row + 1, grown.last_row + grown.rows + 1) if grown else ()
    planning.fresh |= {(grid.sheet, row) for row in new}
    numbers = {job.number.casefold() for job in planning.book.jobs if job.number}
    for row in sorted({*grid.rows, *new}):
        formulas = time_row(row, planning.places)
        planning.put_computed(grid, row, formulas, _figures(entries.get(row), numbers))


def _figures(entry: TimeEntry | None, numbers: set[str]) -> Values:
    """Return what the formulas of a row come to."""
    if entry is None:
        return {"counted": "", "remark": ""}
    counted = "" if entry.minutes is None else entry.minutes
    return {"counted": counted, "remark": _remark(entry, numbers)}


def _remark(entry: TimeEntry, numbers: set[str]) -> str:
    if entry.minutes is None:
        return REMARK_MINUTES
    if not entry.job:
        return REMARK_NO_JOB
    if entry.job.casefold() not in numbers:
        return REMARK_JOB
    if entry.line_id is None and not entry.reason:
        return REMARK_LINE
    night = entry.start is not None and entry.stop is not None and entry.stop < entry.start
    return REMARK_NIGHT if night else ""
