"""Finding tables, columns and labels again in a book whose owner moved them.

Tables are known by name, columns and figures by the text that heads or stands beside them.
"""

from collections import Counter
from collections.abc import Callable, Container, Iterable, Iterator, Mapping
from dataclasses import replace

from ledger_tools.book.job_layout import (
    JOB_BLOCK_TITLES,
    JOB_FLAG,
    JOB_HEADER,
    JOB_HEADER_ROW,
    JOB_ITEM,
    JOB_LINES,
    JOB_TITLE,
    job_table,
)
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
from ledger_tools.book.places import ALWAYS, NEW_CELLS, WHEN_NEEDED, Grid, Places
from ledger_tools.book.under import lines_end, total_rows, typed_end
from ledger_tools.shop.snapshot import Place, SheetSnapshot, Snapshot, TableArea

_LOOK_FOR_HEADERS = 40
"""Rows from the top in which the headers of a dissolved table are looked for."""
_DRAWN_COLUMNS = {column.key: col for col, column in enumerate(JOB_LINES, 1)}
_DRAWN_WORDS = JOB_BLOCK_TITLES | {
    (cell.row, cell.label_col): cell.label for cell in JOB_HEADER if cell.label
}
"""Titles and labels above the lines of a job sheet, where the tools put them."""


def find_places(snapshot: Snapshot) -> Places:
    """Return where everything stands in `snapshot`, and what is missing."""
    areas = {t.name.casefold(): (s, t) for s in snapshot.sheets for t in s.tables}
    sheets = {s.name.casefold(): s for s in snapshot.sheets}
    grids: dict[str, Grid] = {}
    missing: list[tuple[str, str]] = []
    for layout in (*ALWAYS, *WHEN_NEEDED):
        found = areas.get(layout.table.casefold()) or _by_headers(
            sheets.get(layout.sheet.casefold()), layout
        )
        if found is None:
            if layout in ALWAYS:
                missing.append((layout.sheet, ""))
            continue
        grid, lost = _grid(*found, layout.columns)
        missing += [(found[0].name, header) for header in lost]
        grids[layout.table] = grid
    classes = areas.get(TAX_CLASSES_TABLE.casefold())
    if classes is None and TAX_RATES_TABLE.table in grids:
        missing.append((grids[TAX_RATES_TABLE.table].sheet, TAX_CLASS_HEADER))
    jobs: dict[str, Grid] = {}
    lines = {name: found for name, found in areas.items() if name.startswith("job_")}
    for sheet, area in (*lines.values(), *_dissolved(snapshot, grids, lines)):
        grid, lost = _grid(sheet, area, JOB_LINES)
        missing += [(sheet.name, header) for header in lost]
        jobs[area.name] = _with_cells(_lines_grid(grid, sheet, lines), sheet)
    codes = _codes(grids.get(REPAIRS_TABLE.table), snapshot)
    class_grid = _class_grid(*classes) if classes else None
    return Places(grids, jobs, class_grid, tuple(missing), codes)


def _codes(repairs: Grid | None, snapshot: Snapshot) -> tuple[str, int]:
    """Return where the list of repair codes stands: the column below its heading."""
    for sheet in snapshot.sheets:
        if repairs is not None and sheet.name == repairs.sheet:
            row = repairs.header_row
            return sheet.name, _column_of(CODES_HEADER, row, sheet)
    return "", 0


def _lines_grid(grid: Grid, sheet: SheetSnapshot, tables: Container[str]) -> Grid:
    """Return the grid of a job's lines, with those that were typed further down."""
    end = grid.last_row
    if "kind" in grid.columns:
        end = lines_end(sheet, grid.columns["kind"], end, grid.totals)
    return replace(grid, last_row=end, is_table=grid.table.casefold() in tables)


def _dissolved(
    snapshot: Snapshot, grids: Mapping[str, Grid], tables: Container[str]
) -> Iterator[tuple[SheetSnapshot, TableArea]]:
    """Yield the sheets of jobs whose lines are no table any more, known by number and headers.

    LibreOffice dissolves the table of the sheet to the left when a sheet is deleted.
    """
    register = grids.get(JOBS_TABLE.table)
    if register is None or "number" not in register.columns:
        return
    sheets = {sheet.name: sheet for sheet in snapshot.sheets}
    named = sheets[register.sheet].values
    cells = (named.get((row, register.columns["number"])) for row in register.rows)
    numbers = {n for n in cells if isinstance(n, str) and job_table(n).casefold() not in tables}
    bare = [sheet for sheet in snapshot.sheets if not sheet.tables] if numbers else []
    for sheet in bare:
        found = _header_area(sheet, JOB_LINES)
        if found is None:
            continue
        above = (v for (r, _), v in sheet.values.items() if r < found.first_row)
        for number in sorted(numbers.intersection(v for v in above if isinstance(v, str))):
            numbers.discard(number)
            yield sheet, found._replace(name=job_table(number))


def _by_headers(
    sheet: SheetSnapshot | None, layout: TableLayout
) -> tuple[SheetSnapshot, TableArea] | None:
    """Return the area below a row that holds most headers, where a table was dissolved."""
    if sheet is None:
        return None
    found = _header_area(sheet, layout.columns)
    if found is None and layout in ALWAYS:
        found = TableArea("", 1, 1, 1, 1)
    return None if found is None else (sheet, found)


def _header_area(sheet: SheetSnapshot, columns: Iterable[Column]) -> TableArea | None:
    """Return the area below the first row that holds most headers of `columns`."""
    wanted = {c.header.casefold() for c in columns if c.typed}
    for row in range(1, _LOOK_FOR_HEADERS):
        cols = [c for (r, c), v in sheet.values.items() if r == row and isinstance(v, str)]
        there = {str(sheet.values[row, c]).casefold() for c in cols}
        if len(wanted & there) > len(wanted) // 2:
            end = max((r for r, c in sheet.values if c in cols), default=row)
            return TableArea("", row, min(cols), max(end, row), max(cols))
    return None


def _grid(
    sheet: SheetSnapshot, area: TableArea, columns: Iterable[Column]
) -> tuple[Grid, list[str]]:
    headers = {
        str(sheet.values[area.first_row, c]).strip().casefold(): c
        for c in range(area.last_col, area.first_col - 1, -1)
        if (area.first_row, c) in sheet.values
    }
    found = {
        c.key: headers[c.header.casefold()] for c in columns if c.header.casefold() in headers
    }
    lost = [c.header for c in columns if c.key not in found]
    typed = [found[c.key] for c in columns if c.typed and c.key in found]
    totals = total_rows(sheet, area.first_row, frozenset(found.values()))
    end = typed_end(sheet, area, typed, totals)
    grid = Grid(
        sheet.name,
        area.name,
        found,
        area.first_row,
        area.last_row,
        end,
        is_table=bool(area.name),
        totals=totals,
    )
    return grid, lost


def _class_grid(sheet: SheetSnapshot, area: TableArea) -> Grid:
    columns = {
        str(sheet.values.get((area.first_row, c), "")): c
        for c in range(area.first_col, area.last_col + 1)
    }
    end = typed_end(sheet, area, [area.first_col], frozenset())
    return Grid(sheet.name, area.name, columns, area.first_row, area.last_row, end)


def _with_cells(grid: Grid, sheet: SheetSnapshot) -> Grid:
    """Return the grid with its labelled cells, where inserted rows and columns moved them to."""
    if _is_as_drawn(grid, sheet):
        return replace(grid, cells=NEW_CELLS)
    rows = _rows_now(grid, sheet)
    column = _columns_now(grid, sheet, rows)
    cells: dict[str, Place] = {}
    for cell in JOB_HEADER:
        row, label = rows[cell.row], column(cell.label_col)
        if cell.label and sheet.values.get((row, label)) != cell.label:
            label = _column_of(cell.label, row, sheet) or label
        cells[cell.key] = (row, label + column(cell.value_col) - column(cell.label_col))
        if not cell.label and cell.key.endswith("_rate"):
            cells[cell.key.replace("_rate", "_name")] = (row, label)
    title = _title_row(grid, sheet, column(JOB_TITLE[1])) or max(1, min(rows.values()) - 2)
    cells["number"] = (title, column(JOB_TITLE[1]))
    cells["item"] = (title, column(JOB_ITEM[1]))
    cells["flag"] = (rows[JOB_FLAG[0]], column(JOB_FLAG[1]))
    return replace(grid, cells=cells)


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
        return grid.columns.get(JOB_LINES[col - 1].key, col)

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


def _column_of(label: str, row: int, sheet: SheetSnapshot) -> int:
    return next((c for (r, c), v in sheet.values.items() if r == row and v == label), 0)
