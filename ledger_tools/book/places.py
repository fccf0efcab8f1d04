"""Where tables, columns and labels stand in one book.

An owner may move columns, insert rows and rename sheets; formulas are written for the places
found in a book, or for those of a new sheet.
"""

from collections.abc import Callable, Hashable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.job_layout import (
    JOB_FLAG,
    JOB_HEADER,
    JOB_HEADER_ROW,
    JOB_ITEM,
    JOB_LINES,
    JOB_TITLE,
    job_table,
)
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    MATERIALS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    TAX_RATES_TABLE,
    TIME_TABLE,
    TOLERANCES_TABLE,
    TableLayout,
)
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.registers import (
    ARCHIVED_LINES_TABLE,
    ESTIMATE_LINES_TABLE,
    ESTIMATES_TABLE,
    INVOICE_LINES_TABLE,
    INVOICES_TABLE,
)
from ledger_tools.shop.snapshot import Place, Snapshot, TableArea, column_letters

NEW_CELLS: Mapping[str, Place] = {
    "number": JOB_TITLE,
    "item": JOB_ITEM,
    "flag": JOB_FLAG,
    **{cell.key: (cell.row, cell.value_col) for cell in JOB_HEADER},
    **{
        cell.key.replace("_rate", "_name"): (cell.row, cell.label_col)
        for cell in JOB_HEADER
        if not cell.label and cell.key.endswith("_rate")
    },
}
"""Labelled cells of a new job sheet."""
ALWAYS = (
    JOBS_TABLE,
    CUSTOMERS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    MATERIALS_TABLE,
    TAX_RATES_TABLE,
)
"""Tables every shop book holds."""
WHEN_NEEDED = (
    TOLERANCES_TABLE,
    GUARANTEES_TABLE,
    TIME_TABLE,
    OPTIONS_TABLE,
    AUTHORISATIONS_TABLE,
    ESTIMATES_TABLE,
    ESTIMATE_LINES_TABLE,
    INVOICES_TABLE,
    INVOICE_LINES_TABLE,
    ARCHIVED_LINES_TABLE,
)
"""Tables that come with their first row."""
_LINES_END = 500


@dataclass(frozen=True, slots=True)
class Grid:
    """A table in one book.

    Attributes:
        sheet: Name on the tab.
        table: Name of the table.
        columns: Column of each key.
        header_row: Row of the headers.
        table_end: Last row of the table, above a row of totals of its own.
        last_row: Last row that holds anything, at least `table_end`; rows below the table's end
            were typed there and are taken in.
        is_table: Whether the workbook has a table there, or just its headers.
        cells: Labelled cells above the lines of a job sheet, by key.
        totals: Rows in which the owner sums up the table; they are no entries.
    """

    sheet: str
    table: str
    columns: Mapping[str, int]
    header_row: int
    table_end: int
    last_row: int
    is_table: bool = True
    cells: Mapping[str, Place] = field(default_factory=dict)
    totals: frozenset[int] = frozenset()

    @property
    def rows(self) -> Sequence[int]:
        """Rows below the headers, without the owner's totals."""
        below = range(self.header_row + 1, self.last_row + 1)
        return [row for row in below if row not in self.totals] if self.totals else below

    def letter(self, key: str) -> str:
        """Return the letters of a column."""
        return column_letters(self.columns[key])

    def whole(self, key: str) -> str:
        """Return a reference to a whole column, from any sheet."""
        letter = self.letter(key)
        return f"{quoted(self.sheet)}!${letter}:${letter}"

    def part(self, key: str, rows: int) -> str:
        """Return a reference to a column from its header down `rows` rows, from any sheet."""
        letter = self.letter(key)
        return (
            f"{quoted(self.sheet)}!${letter}${self.header_row}:${letter}${self.header_row + rows}"
        )

    def at(self, key: str, row: int | str) -> str:
        """Return a reference to a cell of this sheet, fixed column, moving row."""
        return f"${self.letter(key)}{row}"

    def lines(self, key: str) -> str:
        """Return a reference to a column of job lines, with room for lines to come."""
        letter = self.letter(key)
        return f"${letter}${self.header_row}:${letter}${self.lines_end}"

    @property
    def lines_end(self) -> int:
        """Row down to which the formulas of a job sheet look for lines."""
        return max(_LINES_END, self.last_row + 100)

    @property
    def shape(self) -> Hashable:
        """What the formulas of a job sheet hang on: sheets of one shape have the same."""
        columns, cells = tuple(self.columns.items()), tuple(self.cells.items())
        return columns, cells, self.header_row, self.lines_end

    def cell(self, key: str) -> str:
        """Return a fixed reference to a labelled cell of this sheet."""
        row, col = self.cells[key]
        return f"${column_letters(col)}${row}"


def quoted(sheet: str) -> str:
    """Return a sheet name as it stands in a formula.

    >>> quoted("Jobs"), quoted("25-0001")
    ('Jobs', "'25-0001'")
    """
    if sheet.isascii() and sheet.isalpha():
        return sheet
    return "'" + sheet.replace("'", "''") + "'"


class Missing(NamedTuple):
    """What should be in a book and is not.

    Attributes:
        sheet: Name of the sheet.
        header: Header of a column that its table lacks; empty where all of it is missing.
        row: Row of the headers.
        apart: Where that header stands outside the table, None for nowhere.
        taken: What stands where a column belongs that newer books have, None for nothing.
    """

    sheet: str
    header: str = ""
    row: int = 0
    apart: Place | None = None
    taken: Place | None = None


class Late(NamedTuple):
    """What newer books have and a sheet of an older one lacks, with the places it gets.

    Until it is drawn there, these places are read like any other: they are empty.

    Attributes:
        sheet: Name on the tab.
        table: Name of the table.
        columns: Column of each key, right of the table.
        cells: Places of label and figure above the lines of a job, by key.
        end: Last column of the table with its new columns; some may stand apart from it.
    """

    sheet: str
    table: str
    columns: Mapping[str, int]
    cells: Mapping[str, tuple[Place, Place]]
    end: int


@dataclass(frozen=True, slots=True)
class Places:
    """All the places of one book.

    Attributes:
        grids: By name of the table; those always there, and the others once they exist.
        jobs: Grids of the job sheets, by table name.
        tax_classes: The table of tax classes, its columns keyed by component.
        missing: What should be there and is not.
        codes: Sheet and column of the live list of repair codes.
        lost: Tables that another program dissolved or left a column out of, with their sheets.
        title: Sheet and place of the shop's name on top of `Start`.
        late: What an older book lacks, by name of the table.
    """

    grids: Mapping[str, Grid]
    jobs: Mapping[str, Grid]
    tax_classes: Grid | None
    missing: tuple[Missing, ...]
    codes: tuple[str, int] = ("", 0)
    lost: tuple[tuple[str, TableArea], ...] = ()
    title: tuple[str, Place] | None = None
    late: Mapping[str, Late] = field(default_factory=dict)

    def grid(self, layout: TableLayout) -> Grid:
        """Return the grid of a table that is there."""
        return self.grids[layout.table]

    def has(self, layout: TableLayout) -> bool:
        """Whether the book holds this table."""
        return layout.table in self.grids

    def job(self, number: str) -> Grid | None:
        """Return the grid of a job's lines, or None where the job has no sheet."""
        return self.jobs.get(job_table(number))


def book_format(snapshot: Snapshot) -> int:
    """Return the format a book was made in, or brought to since."""
    said = snapshot.properties.get(FORMAT_PROPERTY, "")
    return int(said) if said.isdigit() else BOOK_FORMAT


def owned_cells(places: Places) -> Callable[[str, int, int], bool]:
    """Return whether a cell, by sheet, row and column, is one the tools read or compute.

    Columns an owner added to a table are not, nor are the owner's totals in it or below it.
    """
    grids: dict[str, list[tuple[Grid, frozenset[int], frozenset[Place]]]] = {}
    # Job sheets mostly have the same columns and cells: one set for all of them.
    known: dict[tuple[int, ...], frozenset[int]] = {}
    labelled: dict[tuple[Place, ...], frozenset[Place]] = {}
    for grid in (*places.grids.values(), *places.jobs.values()):
        cols, cells = tuple(grid.columns.values()), tuple(grid.cells.values())
        sets = (
            known.setdefault(cols, frozenset(cols)),
            labelled.setdefault(cells, frozenset(cells)),
        )
        grids.setdefault(grid.sheet, []).append((grid, *sets))

    def owned(sheet: str, row: int, col: int) -> bool:
        for grid, cols, cells in grids.get(sheet, ()):
            if (row, col) in cells:
                return True
            if col in cols and grid.header_row < row <= grid.last_row and row not in grid.totals:
                return True
        return (sheet, col) == places.codes or (sheet, (row, col)) == places.title

    return owned


def new_grid(layout: TableLayout, rows: int) -> Grid:
    """Return the grid of a sheet as the tools lay it out, with room for `rows`."""
    return Grid(
        layout.sheet,
        layout.table,
        {c.key: i for i, c in enumerate(layout.columns, 1)},
        layout.first_row,
        layout.first_row + rows,
        layout.first_row + rows,
    )


def new_job_grid(number: str, rows: int) -> Grid:
    """Return the grid of a new job sheet with room for `rows` lines."""
    return Grid(
        number,
        job_table(number),
        {c.key: i for i, c in enumerate(JOB_LINES, 1)},
        JOB_HEADER_ROW,
        JOB_HEADER_ROW + rows,
        JOB_HEADER_ROW + rows,
        cells=NEW_CELLS,
    )
