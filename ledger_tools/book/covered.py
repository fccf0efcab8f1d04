"""Cells of our tables that lie under merged ones: what stands there counts, and nobody sees it."""

from ledger_tools.book.places import Grid
from ledger_tools.book.rows import Reading
from ledger_tools.errors import Severity
from ledger_tools.shop.snapshot import Corners, address


def say_covered(reading: Reading) -> None:
    """Warn of merged cells that cover others of a table of the tools."""
    for grid in (*reading.places.grids.values(), *reading.places.jobs.values()):
        for merged in reading.sheets[grid.sheet].merged:
            if _covers(merged, grid):
                first_row, first_col, last_row, last_col = merged
                cells = f"{address(first_row, first_col)}:{address(last_row, last_col)}"
                reading.gathered.add(
                    Severity.WARNING,
                    "cells-merged",
                    f"The cells {cells} are merged: what stands under the first of them counts, "
                    "but cannot be seen",
                    "Split them; beside the table cells may be merged",
                    sheet=grid.sheet,
                    place=(first_row, first_col),
                )


def _covers(merged: Corners, grid: Grid) -> bool:
    """Whether merged cells hide a cell of a table, their first cell being the one that shows."""
    first_row, first_col, last_row, last_col = merged
    top, bottom = max(first_row, grid.header_row + 1), min(last_row, grid.last_row)
    cols = [col for col in grid.columns.values() if first_col <= col <= last_col]
    shows = first_row == top and first_col in cols
    return top <= bottom and (bottom - top + 1) * len(cols) > shows
