"""What a plan is made from, and what is wanted in each cell while it is made."""

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import Gathered
from ledger_tools.book.contents import Cells, Values, cell_value, row_cells
from ledger_tools.book.layout import JOBS_TABLE, TableLayout
from ledger_tools.book.parse import Parsed
from ledger_tools.book.places import Grid, Places
from ledger_tools.book.registers import ESTIMATES_TABLE
from ledger_tools.book.under import first_taken
from ledger_tools.costing.time import TimeEntry
from ledger_tools.errors import NotWritableError
from ledger_tools.money import Rounding
from ledger_tools.shop.model import Authorisation, Customer, Job, Option, Payment, ShopBook
from ledger_tools.shop.plan import AddSheet, Content, GrowTable
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Place

FEWEST_SPARE = 3
"""Empty rows that a table where people type has left at least."""
MORE_SPARE = 10
"""Empty rows that such a table gets when it has to grow."""


class Additions(NamedTuple):
    """What a command adds to the registers.

    Attributes:
        customers: New customers.
        authorisations: New rows of the authorisation register.
        invoices: Newly issued invoices.
        jobs: Jobs a new book takes over, with their numbers.
        payments: Payments a new book takes over.
        time: Entries of `Time` a new book takes over.
        estimates: New estimates, or those a new book takes over.
        options: Options a new book takes over.
    """

    customers: tuple[Customer, ...] = ()
    authorisations: tuple[Authorisation, ...] = ()
    invoices: tuple[Invoice, ...] = ()
    jobs: tuple[Job, ...] = ()
    payments: tuple[Payment, ...] = ()
    time: tuple[TimeEntry, ...] = ()
    estimates: tuple[Estimate, ...] = ()
    options: tuple[Option, ...] = ()


class Planning:
    """A plan in the making: what is there, what is to be, and what is wanted so far.

    Attributes:
        parsed: The workbook as understood.
        book: The typed book as it is to be.
        results: What each job comes to, by job number.
        additions: What a command adds to the registers.
        places: Where everything stands, new registers included.
        sheets: Sheets as read, by name.
        cells: What is wanted, by sheet and place.
        links: Links that are wanted, by sheet and place.
        grown: Tables that get more rows.
        added: Sheets that are new.
        fresh: Rows, by sheet, that hold nothing of the tools yet.
        late: Cells, by sheet, that an older book does not have yet.
    """

    def __init__(
        self,
        parsed: Parsed,
        book: ShopBook,
        results: Mapping[str, JobResult],
        additions: Additions,
        places: Places,
    ) -> None:
        self.parsed = parsed
        self.book = book
        self.results = results
        self.additions = additions
        self.places = places
        self.sheets = {sheet.name: sheet for sheet in parsed.snapshot.sheets}
        self.cells: dict[str, Cells] = {}
        self.links: dict[tuple[str, Place], str] = {}
        self.grown: list[GrowTable] = []
        self.added: list[AddSheet] = []
        self.fresh: set[tuple[str, int]] = set()
        late = [(s.sheet, places) for s in places.late.values() for places in s.cells.values()]
        self.late = {(sheet, value) for sheet, (_, value) in late}

    @property
    def gathered(self) -> Gathered:
        """Findings, and what is to be put back plainly."""
        return self.parsed.gathered

    @property
    def moving(self) -> tuple[str, ...]:
        """Jobs that are archived by this plan: they still have their sheets."""
        there = self.parsed.places
        return tuple(n for n, r in self.results.items() if r.job.archived and there.job(n))

    @property
    def money(self) -> Rounding:
        """How amounts become whole minor units."""
        return Rounding(self.book.settings.digits)

    def put(self, sheet: str, cells: Mapping[Place, Content]) -> None:
        """Want `cells` on a sheet."""
        self.cells.setdefault(sheet, {}).update(cells)

    def put_computed(
        self, grid: Grid, row: int, formulas: Mapping[str, str], values: Values
    ) -> None:
        """Want formulas with their computed values in a row, by column key."""
        self.put(
            grid.sheet,
            {
                (row, grid.columns[key]): Content(cell_value(values[key]), formula)
                for key, formula in formulas.items()
                if key in grid.columns
            },
        )

    def append(self, layout: TableLayout, rows: Sequence[Values]) -> list[int]:
        """Want new rows in a register, below what stands there, and return where they go."""
        if not rows:
            return []
        grid = self.places.grid(layout)
        free = self.free_rows(layout, len(rows))
        for row, values in zip(free, rows, strict=True):
            self.put(grid.sheet, row_cells(row, grid, values))
            self.fresh.add((grid.sheet, row))
        return free

    def free_rows(self, layout: TableLayout, count: int) -> list[int]:
        """Return rows for new entries, below everything that stands there, and grow the table."""
        grid = self.places.grid(layout)
        first = max(self.taken(layout), default=grid.header_row) + 1
        rows = list(range(first, first + count))
        self._refuse_taken(grid, rows[-1])
        spare, more = (FEWEST_SPARE, MORE_SPARE) if layout.spare else (0, 0)
        self.grow(grid, rows[-1] + spare, more=more)
        return rows

    def taken(self, layout: TableLayout) -> list[int]:
        """Return the rows of a table that hold anything but computed figures."""
        grid = self.places.grid(layout)
        sheet = self.sheets.get(grid.sheet)
        if sheet is None:
            return []
        always = {"number"} if layout in (JOBS_TABLE, ESTIMATES_TABLE) else set()
        keys = [c.key for c in layout.columns if c.typed or layout.protected or c.key in always]
        cols = {grid.columns[key] for key in keys if key in grid.columns}
        below = range(grid.header_row + 1, grid.last_row + 1)
        return [row for row, col in sheet.values if col in cols and row in below]

    def grow(self, grid: Grid, needed_end: int, *, more: int) -> None:
        """Let a table that is there reach `needed_end`, and `more` rows where it must grow.

        It stops before anything of the owner's that stands below, and leaves a row empty: what
        stands right under a table is taken in.
        """
        if not grid.is_table or grid.sheet not in self.sheets:
            return
        end = max(needed_end, grid.last_row)
        if end > grid.table_end:
            free = self._free_down_to(grid)
            end += more if needed_end > grid.table_end else 0
            if free is not None:
                end = max(min(end, free), grid.last_row)
            rows = end - grid.table_end
            if rows > 0:
                theirs = self._theirs(grid)
                self.grown.append(GrowTable(grid.sheet, grid.table, grid.table_end, rows, theirs))

    def _theirs(self, grid: Grid) -> tuple[int, ...]:
        """Return the columns of a table that are none of ours."""
        again = (area for sheet, area in self.places.lost if sheet == grid.sheet)
        tables = (*again, *self.sheets[grid.sheet].tables)
        table = next(t for t in tables if t.name == grid.table)
        known = set(grid.columns.values())
        return tuple(c for c in range(table.first_col, table.last_col + 1) if c not in known)

    def _free_down_to(self, grid: Grid) -> int | None:
        """Return the last row the table may have; None where nothing stands below it."""
        taken = self._taken_below(grid)
        if not taken:
            return None
        # What stands right under a table is taken in, save the owner's totals.
        return taken - (1 if taken in grid.totals else 2)

    def _taken_below(self, grid: Grid) -> int:
        """Return the first row below the table in which anything of the owner's stands, or 0."""
        cols = range(min(grid.columns.values()), max(grid.columns.values()) + 1)
        taken = first_taken(self.sheets[grid.sheet], grid.last_row, cols)
        totals = [row for row in grid.totals if row > grid.last_row]
        return min([row for row in (taken, *totals) if row], default=0)

    def _refuse_taken(self, grid: Grid, last: int) -> None:
        """Refuse new rows where something of the owner's stands."""
        free = self._free_down_to(grid) if grid.sheet in self.sheets else None
        if free is not None and last > free:
            raise NotWritableError(
                f"{self.parsed.snapshot.file}, sheet '{grid.sheet}', "
                f"row {self._taken_below(grid)}",
                "the table is full, and what stands under it is in the way of new rows",
                "Insert some empty rows above that row, save and try again",
            )
