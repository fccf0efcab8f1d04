"""What stays in the book of jobs that are archived: their lines, and their rows in `Jobs`."""

from ledger_tools.book.contents import Values, archived_line_values, cell_value
from ledger_tools.book.formulas.registers import archived_row
from ledger_tools.book.places import Grid
from ledger_tools.book.planning import Planning
from ledger_tools.book.registers import ARCHIVED_LINES_TABLE, INVOICES_TABLE
from ledger_tools.money import ZERO
from ledger_tools.shop.plan import Content
from ledger_tools.shop.results import JobResult


def plan_archived_lines(planning: Planning) -> None:
    """Want the lines of jobs that are moved in their register, each line once."""
    values = [
        archived_line_values(number, cost)
        for number in planning.moving
        for cost in planning.results[number].costs
    ]
    if not values:
        return
    grid = planning.places.grid(ARCHIVED_LINES_TABLE)
    there = _rows_there(planning, grid)
    new = [line for line in values if (line["job"], line["line_id"]) not in there]
    planning.append(ARCHIVED_LINES_TABLE, new)
    for line in values:
        row = there.get((line["job"], line["line_id"]))
        if row is not None:
            _put_plainly(planning, grid, row, line)


def _rows_there(planning: Planning, grid: Grid) -> dict[tuple[object, object], int]:
    """Return the rows of lines that were archived before, by job number and line id."""
    sheet = planning.sheets.get(grid.sheet)
    if sheet is None:
        return {}
    job, line = grid.columns["job"], grid.columns["line_id"]
    return {(sheet.values.get((r, job)), sheet.values.get((r, line))): r for r in grid.rows}


def plan_archived_row(planning: Planning, grid: Grid, row: int, result: JobResult) -> None:
    """Keep what is owing live; a job that is moved now leaves its other figures as values."""
    number = result.job.number
    if planning.places.has(INVOICES_TABLE):
        formulas = archived_row(row, planning.places, planning.money)
        live: Values = {"balance": result.balance or ZERO, "stands": result.stands}
        planning.put_computed(grid, row, formulas, live)
    if number not in planning.moving:
        return
    figures: Values = {
        "number": number,
        "estimate": result.estimate_net,
        "subtotal": result.subtotal,
        "total": result.total,
        "ceiling": result.ceiling,
        "flag": result.flag,
        "invoice": result.invoice,
    }
    _put_plainly(planning, grid, row, figures)
    planning.links[grid.sheet, (row, grid.columns["number"])] = ""


def _put_plainly(planning: Planning, grid: Grid, row: int, values: Values) -> None:
    """Want values in a row, by column key; an empty text empties its cell."""
    for key, value in values.items():
        content = Content() if value == "" else Content(cell_value(value))
        planning.put(grid.sheet, {(row, grid.columns[key]): content})
