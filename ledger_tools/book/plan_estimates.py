"""What the registers of estimates are to hold."""

from ledger_tools.billing.estimate import Estimate, standing_of
from ledger_tools.book.contents import (
    Values,
    estimate_line_values,
    estimate_values,
    tax_line_values,
)
from ledger_tools.book.formulas.registers import estimate_row
from ledger_tools.book.places import Grid
from ledger_tools.book.planning import Planning
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE, ESTIMATES_TABLE
from ledger_tools.book.wording import as_text
from ledger_tools.shop.papers import last_estimates


def plan_estimates(planning: Planning) -> None:
    """Want the rows of new estimates, and where every estimate stands."""
    new = planning.additions.estimates
    rows = planning.append(ESTIMATES_TABLE, [estimate_values(e, as_text(e.wording)) for e in new])
    planning.append(ESTIMATE_LINES_TABLE, [values for e in new for values in _lines_and_taxes(e)])
    if not planning.places.has(ESTIMATES_TABLE):
        return
    grid = planning.places.grid(ESTIMATES_TABLE)
    newest = last_estimates(planning.book)
    there = _rows_there(planning, grid)
    for row, estimate in {**there, **dict(zip(rows, new, strict=True))}.items():
        stands = standing_of(
            estimate,
            accepted=bool(estimate.accepted) or _stands(planning, grid, row, "accepted_on"),
            declined=bool(estimate.declined) or _stands(planning, grid, row, "declined_on"),
            newest=newest[estimate.job].revision == estimate.revision,
            as_of=planning.book.as_of,
        )
        formulas = estimate_row(row, planning.places)
        planning.put_computed(grid, row, formulas, {"stands": stands})


def _stands(planning: Planning, grid: Grid, row: int, key: str) -> bool:
    """Whether anything stands in a cell, which the formula beside it takes for an answer."""
    sheet = planning.sheets.get(grid.sheet)
    typed = sheet.values.get((row, grid.columns[key])) if sheet else None
    return typed not in {None, ""}


def _lines_and_taxes(estimate: Estimate) -> list[Values]:
    lines = (estimate_line_values(estimate.number, line) for line in estimate.lines)
    return [*lines, *tax_line_values("estimate", estimate.number, estimate.taxes)]


def _rows_there(planning: Planning, grid: Grid) -> dict[int, Estimate]:
    sheet = planning.sheets.get(grid.sheet)
    if sheet is None:
        return {}
    known = planning.book.estimates
    numbers = {row: sheet.values.get((row, grid.columns["number"])) for row in grid.rows}
    return {
        row: known[number]
        for row, number in numbers.items()
        if isinstance(number, str) and number in known
    }
