"""Finding tables, columns and labels again in a book whose owner moved them.

Tables are known by name, which no one sees and every program keeps while it keeps the table;
without it by their headers. Columns are known by the text that heads them.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from ledger_tools.book.job_layout import JOB_HIDDEN, JOB_LINES, job_table
from ledger_tools.book.labels import column_of, with_cells
from ledger_tools.book.later import find_late, not_ours
from ledger_tools.book.layout import (
    CODES_HEADER,
    JOBS_TABLE,
    REPAIRS_TABLE,
    TAX_CLASS_HEADER,
    TAX_CLASSES_TABLE,
    TAX_RATES_TABLE,
    Column,
    TableLayout,
)
from ledger_tools.book.lost_tables import (
    bare_sheets,
    class_area,
    header_area,
    may_be_table,
    register_area,
    widened,
)
from ledger_tools.book.places import (
    ALWAYS,
    WHEN_NEEDED,
    Grid,
    Late,
    Missing,
    Places,
    book_format,
)
from ledger_tools.book.under import lines_end, total_rows, typed_end
from ledger_tools.shop.snapshot import SheetSnapshot, Snapshot, TableArea

_JOB = job_table("").casefold()
_CLASSES = TAX_CLASSES_TABLE.casefold()
_BESIDE_EACH_OTHER = {_CLASSES, TAX_RATES_TABLE.table.casefold()}
"""Two tables of one sheet: where one of them is gone, the other may still be there."""


def find_places(snapshot: Snapshot) -> Places:
    """Return where everything stands in `snapshot`, and what is missing."""
    finder = _Finder(snapshot)
    for layout in (*ALWAYS, *WHEN_NEEDED):
        finder.register(layout)
    classes = finder.classes()
    finder.job_sheets()
    codes = _codes(finder.grids.get(REPAIRS_TABLE.table), snapshot)
    return Places(
        finder.grids,
        finder.jobs,
        classes,
        tuple(finder.missing),
        codes,
        tuple(finder.lost),
        late=finder.late,
    )


class _Finder:
    """One search through a book, table by table; what was found already is looked for no more.

    Attributes:
        grids: Registers found, by table name.
        jobs: Grids of the job sheets, by table name.
        missing: What should be there and is not.
        lost: Tables that are to be made again, with their sheets.
        late: What the book lacks because it is older, by name of the table.
    """

    def __init__(self, snapshot: Snapshot) -> None:
        self.snapshot = snapshot
        self.grids: dict[str, Grid] = {}
        self.jobs: dict[str, Grid] = {}
        self.missing: list[Missing] = []
        self.lost: list[tuple[str, TableArea]] = []
        self.late: dict[str, Late] = {}
        self._format = book_format(snapshot)
        self._names = {name.casefold() for name in snapshot.names}
        self._areas = {t.name.casefold(): (s, t) for s in snapshot.sheets for t in s.tables}
        self._job_areas = {n: a for n, a in self._areas.items() if n.startswith(_JOB)}
        ours = {t.table.casefold() for t in (*ALWAYS, *WHEN_NEEDED)} - _BESIDE_EACH_OTHER
        known = frozenset(ours | self._job_areas.keys())
        self._bare = bare_sheets(snapshot.sheets, known)

    def register(self, layout: TableLayout) -> None:
        """Find a register, by its table or else by its headers."""
        found = self._areas.get(layout.table.casefold()) or register_area(self._bare, layout)
        if found is None:
            if layout in ALWAYS:
                self.missing.append(Missing(layout.sheet))
            return
        grid = self._grid(*found, layout.columns)
        self.grids[layout.table] = self._with_late(grid, found[0], layout.columns)

    def classes(self) -> Grid | None:
        """Find the table of tax classes, whose columns are the taxes."""
        rates = self.grids.get(TAX_RATES_TABLE.table)
        first = min(rates.columns.values(), default=0) if rates else 0
        found = self._areas.get(_CLASSES) or class_area(self._bare, first, TAX_CLASSES_TABLE)
        if found is None:
            if rates is not None:
                self.missing.append(Missing(rates.sheet, TAX_CLASS_HEADER, rates.header_row))
            return None
        return self._class_grid(*found)

    def job_sheets(self) -> None:
        """Find the lines of the jobs, by their tables or else by number and headers."""
        adopted = list(self._without_table())
        copies = {sheet.name for sheet, _ in adopted}
        own = (found for found in self._job_areas.values() if found[0].name not in copies)
        for sheet, area in (*own, *adopted):
            grid = self._grid(sheet, area, JOB_LINES)
            grid = self._with_late(_lines_grid(grid, sheet), sheet, JOB_LINES)
            grid, cells = with_cells(grid, sheet, self._format)
            self.jobs[area.name] = grid
            if cells:
                late = self.late.get(area.name) or Late(sheet.name, area.name, {}, {}, 0)
                self.late[area.name] = late._replace(cells=cells)

    def _without_table(self) -> Iterator[tuple[SheetSnapshot, TableArea]]:
        """Yield the sheets of jobs whose own table is gone."""
        register = self.grids.get(JOBS_TABLE.table)
        if register is None or "number" not in register.columns:
            return
        rows, col = register.rows, register.columns["number"]
        sheet = next(s for s in self.snapshot.sheets if s.name == register.sheet)
        cells = (sheet.values.get((row, col)) for row in rows)
        tables = {job_table(n).casefold(): n for n in cells if isinstance(n, str)}
        numbers = {n for table, n in tables.items() if table not in self._job_areas}
        held = {s.name for n, (s, _) in self._job_areas.items() if n in tables}
        free = [s for s in self.snapshot.sheets if s.name not in held] if numbers else []
        # A sheet that is called like its job is more likely the first one than a copy.
        for sheet in sorted(free, key=lambda s: s.name not in numbers):
            found = header_area(sheet, JOB_LINES, len(JOB_LINES) // 2 + 1)
            above = (v for (r, _), v in sheet.values.items() if found and r < found.first_row)
            for number in sorted(numbers.intersection(v for v in above if isinstance(v, str))):
                if found is not None:
                    numbers.discard(number)
                    yield sheet, found._replace(name=job_table(number))

    def _grid(self, sheet: SheetSnapshot, area: TableArea, columns: Sequence[Column]) -> Grid:
        found = _columns(sheet, area, columns)
        there = next((t for t in sheet.tables if t.name == area.name), None)
        if len(found) < len(columns):
            area = widened(sheet, area, columns)
            found = _columns(sheet, area, columns)
            found |= self._beside(sheet, area, columns, found)
        is_table = self._again(sheet, area, there)
        end = area.last_row - area.totals
        totals = total_rows(sheet, area.first_row, frozenset(found.values()))
        totals |= {area.last_row} if area.totals else frozenset()
        typed = [found[c.key] for c in columns if c.typed and c.key in found]
        typed_to = typed_end(sheet, area._replace(last_row=end), typed, totals)
        return Grid(
            sheet.name,
            area.name,
            found,
            area.first_row,
            end,
            typed_to,
            is_table=is_table,
            totals=totals,
        )

    def _beside(
        self,
        sheet: SheetSnapshot,
        area: TableArea,
        columns: Sequence[Column],
        found: Mapping[str, int],
    ) -> dict[str, int]:
        """Return computed columns that an older book got apart from the table; note the missing.

        What a book is too old to have is not missing.
        """
        apart: dict[str, int] = {}
        for column in columns:
            if column.key in found or column.since > self._format:
                continue
            missing = _missing(sheet, column.header, area.first_row)
            if missing.apart and column.since > 1 and not column.typed:
                apart[column.key] = missing.apart[1]
            elif column.key not in JOB_HIDDEN:
                self.missing.append(missing)
        return apart

    def _with_late(self, grid: Grid, sheet: SheetSnapshot, columns: Sequence[Column]) -> Grid:
        """Return a table with the columns that its book is too old to have, right of it.

        Hidden columns that are gone come again without a word.
        """
        newer = [c for c in columns if c.since > self._format or c.key in JOB_HIDDEN]
        if not newer:
            return grid
        named = {t.name: t for t in sheet.tables} | {
            area.name: area for name, area in self.lost if name == sheet.name
        }
        end = named[grid.table].last_col if grid.table in named else max(grid.columns.values())
        self.missing += not_ours(newer, grid, sheet)
        lacking = [c for c in newer if c.key not in grid.columns]
        late, last, taken = find_late(lacking, grid, end, sheet)
        if taken is not None:
            header = next(c.header for c in lacking if c.key not in late)
            self.missing.append(Missing(sheet.name, header, grid.header_row, taken=taken))
        elif late:
            self.late[grid.table] = Late(sheet.name, grid.table, late, {}, last)
        return replace(grid, columns={**grid.columns, **late})

    def _again(self, sheet: SheetSnapshot, area: TableArea, there: TableArea | None) -> bool:
        """Note a table that is to be made again or wider; return whether there will be one."""
        if there == area:
            return True
        named = area.name.casefold() in self._names
        if named or not may_be_table(sheet, area):
            return there is not None
        self.lost.append((sheet.name, area))
        return True

    def _class_grid(self, sheet: SheetSnapshot, area: TableArea) -> Grid:
        there = next((t for t in sheet.tables if t.name == area.name), None)
        columns = {
            str(sheet.values.get((area.first_row, c), "")): c
            for c in range(area.first_col, area.last_col + 1)
        }
        is_table = self._again(sheet, area, there)
        end = typed_end(sheet, area, [area.first_col], frozenset())
        return Grid(
            sheet.name, area.name, columns, area.first_row, area.last_row, end, is_table=is_table
        )


def _columns(sheet: SheetSnapshot, area: TableArea, columns: Sequence[Column]) -> dict[str, int]:
    """Return the columns of a table by key; the left one of two that are headed alike."""
    values, row = sheet.values, area.first_row
    headers = {
        str(values[row, c]).strip().casefold(): c
        for c in range(area.last_col, area.first_col - 1, -1)
        if (row, c) in values
    }
    return {c.key: headers[c.header.casefold()] for c in columns if c.header.casefold() in headers}


def _missing(sheet: SheetSnapshot, header: str, row: int) -> Missing:
    """Return a column that is missing from a table, with where its header stands instead."""
    there = (
        place
        for place, value in sheet.values.items()
        if place[0] == row and str(value).strip().casefold() == header.casefold()
    )
    return Missing(sheet.name, header, row, next(there, None))


def _codes(repairs: Grid | None, snapshot: Snapshot) -> tuple[str, int]:
    """Return where the list of repair codes stands: the column below its heading."""
    for sheet in snapshot.sheets:
        if repairs is not None and sheet.name == repairs.sheet:
            row = repairs.header_row
            return sheet.name, column_of(CODES_HEADER, row, sheet)
    return "", 0


def _lines_grid(grid: Grid, sheet: SheetSnapshot) -> Grid:
    """Return the grid of a job's lines, with those that were typed further down."""
    if "kind" not in grid.columns:
        return grid
    end = lines_end(sheet, grid.columns["kind"], grid.last_row, grid.totals)
    return replace(grid, last_row=end)
