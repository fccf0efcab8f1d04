"""Labelled figures above the lines of a job sheet, found again where an owner moved them."""

from collections import Counter
from collections.abc import Callable, Mapping
from dataclasses import replace

from ledger_tools.book.job_layout import (
    JOB_BLOCK_TITLES,
    JOB_FLAG,
    JOB_HEADER,
    JOB_HEADER_ROW,
    JOB_ITEM,
    JOB_LINES,
    JOB_TITLE,
    HeaderCell,
    job_table,
)
from ledger_tools.book.later import find_cells
from ledger_tools.book.places import NEW_CELLS, Grid
from ledger_tools.shop.snapshot import Place, SheetSnapshot

_DRAWN_COLUMNS = {column.key: col for col, column in enumerate(JOB_LINES, 1)}
_DRAWN_WORDS = JOB_BLOCK_TITLES | {
    (cell.row, cell.label_col): cell.label for cell in JOB_HEADER if cell.label
}
"""Titles and labels above the lines of a job sheet, where the tools put them."""


Late = Mapping[str, tuple[Place, Place]]
"""Places of label and figure of cells that a sheet of an older book gets, by key."""


def with_cells(grid: Grid, sheet: SheetSnapshot, book_format: int) -> tuple[Grid, Late]:
    """Return the grid with its labelled cells, where inserted rows and columns moved them to.

    With it come those that the sheet lacks because its book is older.
    """
    if _is_as_drawn(grid, sheet):
        return replace(grid, cells=NEW_CELLS), {}
    rows = _rows_now(grid, sheet)
    column = _columns_now(grid, sheet, rows)
    cells: dict[str, Place] = {}
    lacking: list[tuple[HeaderCell, Place, Place]] = []
    for cell in JOB_HEADER:
        row, label = rows[cell.row], column(cell.label_col)
        if cell.label and sheet.values.get((row, label)) != cell.label:
            there = column_of(cell.label, row, sheet)
            label = there or label
            if not there and cell.since > book_format:
                lacking.append((cell, (row, label), (row, label + _apart(cell, column))))
                continue
        cells[cell.key] = (row, label + _apart(cell, column))
        if not cell.label and cell.key.endswith("_rate"):
            cells[cell.key.replace("_rate", "_name")] = (row, label)
    title = _title_row(grid, sheet, column(JOB_TITLE[1])) or max(1, min(rows.values()) - 2)
    cells["number"] = (title, column(JOB_TITLE[1]))
    cells["item"] = (title, column(JOB_ITEM[1]))
    cells["flag"] = (rows[JOB_FLAG[0]], column(JOB_FLAG[1]))
    late = find_cells(lacking, sheet)
    cells |= {key: value for key, (_, value) in late.items()}
    return replace(grid, cells=cells), late


def _apart(cell: HeaderCell, column: Callable[[int], int]) -> int:
    """Return how many columns a figure stands right of its label."""
    return column(cell.value_col) - column(cell.label_col)


def _is_as_drawn(grid: Grid, sheet: SheetSnapshot) -> bool:
    """Whether a job sheet stands as the tools drew it, as most do: every word in its place."""
    values = sheet.values
    return (
        grid.header_row == JOB_HEADER_ROW
        and grid.columns == _DRAWN_COLUMNS
        and all(values.get(place) == word for place, word in _DRAWN_WORDS.items())
        and job_table(str(values.get(JOB_TITLE))) == grid.table
    )


def _rows_now(grid: Grid, sheet: SheetSnapshot) -> dict[int, int]:
    """Return where each row above the lines stands now: where most of its labels do."""
    there: dict[str, list[int]] = {}
    for (row, _), value in sheet.values.items():
        if row < grid.header_row and isinstance(value, str):
            there.setdefault(value, []).append(row)
    rows: dict[int, int] = {}
    for row in sorted({cell.row for cell in JOB_HEADER}):
        labels = [cell.label for cell in JOB_HEADER if cell.row == row and cell.label]
        votes = Counter(found for label in labels for found in there.get(label, ()))
        rows[row] = max(votes, key=lambda r: votes[r], default=0)
        rows[row] = rows[row] or max(1, row + grid.header_row - JOB_HEADER_ROW)
    return rows


def _columns_now(
    grid: Grid, sheet: SheetSnapshot, rows: Mapping[int, int]
) -> Callable[[int], int]:
    """Return where a column above the lines stands now.

    Columns moved in the whole sheet take figures and headers of lines along; columns moved within
    the table leave the figures where they were. Titles of blocks and formulas tell.
    """

    def along(col: int) -> int:
        return grid.columns.get(JOB_LINES[col - 1].key, col) if col <= len(JOB_LINES) else col

    def stayed(col: int) -> int:
        return col

    def fits(column: Callable[[int], int]) -> int:
        titles = sum(
            any(sheet.values.get((r, column(col))) == title for r in range(1, grid.header_row))
            for (_, col), title in JOB_BLOCK_TITLES.items()
        )
        figures = ((rows[cell.row], column(cell.value_col)) for cell in JOB_HEADER)
        return titles + sum(place in sheet.formulas for place in figures)

    return along if fits(along) > fits(stayed) else stayed


def _title_row(grid: Grid, sheet: SheetSnapshot, col: int) -> int:
    """Return the row of the job number in large type, 0 where there is none."""
    for row in range(1, grid.header_row):
        value = sheet.values.get((row, col))
        if isinstance(value, str) and job_table(value) == grid.table:
            return row
    return 0


def column_of(label: str, row: int, sheet: SheetSnapshot) -> int:
    """Return the first column of a row in which `label` stands, 0 for none."""
    return next((c for (r, c), v in sheet.values.items() if r == row and v == label), 0)
