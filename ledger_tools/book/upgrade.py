"""What brings a book of an older format up to date: columns, labels, settings, names.

Everything is planned with the rest of the book, so one run leaves it whole; figures of the new
cells are wanted like those of all others.
"""

from collections.abc import Iterable, Iterator

from ledger_tools.book.contents import cell_value, setting_value
from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.job_layout import JOB_HEADER, JOB_HIDDEN, JOB_LINES, job_table
from ledger_tools.book.layout import (
    BOOK_FORMAT,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    RATES_TABLE,
    START,
    TOLERANCES_TABLE,
)
from ledger_tools.book.names import (
    NAME_JOB_NUMBERS,
    NAME_PART_STATUS,
    SETTINGS,
    Setting,
    filled_part,
)
from ledger_tools.book.parse_settings import late_settings, place_of
from ledger_tools.book.places import ALWAYS, WHEN_NEEDED, Late, book_format, quoted
from ledger_tools.book.planning import Planning
from ledger_tools.costing.lines import PART_STATUSES
from ledger_tools.errors import Severity
from ledger_tools.shop.plan import Content, DefineName, Extend, Later, Operation, SetProperty
from ledger_tools.shop.snapshot import Place, SheetSnapshot, TableArea, column_letters

_JOB = job_table("")


def plan_upgrade(planning: Planning) -> list[Operation]:
    """Return what an older book gets that newer ones have, and say so; nothing for a new one."""
    snapshot = planning.parsed.snapshot
    before = book_format(snapshot)
    late = planning.places.late.values()
    operations: list[Operation] = [_extend(planning, there) for there in late]
    if before >= BOOK_FORMAT:
        return operations
    settings = late_settings(snapshot)
    operations += _settings(planning, settings)
    operations += _names(planning)
    operations += _part_words(planning)
    operations.append(SetProperty(FORMAT_PROPERTY, str(BOOK_FORMAT)))
    said = "; ".join(_said(planning, settings))
    planning.gathered.add(
        Severity.NOTE,
        "book-upgraded",
        f"The book was made by an older version, in format {before}; it gets what format "
        f"{BOOK_FORMAT} has{': ' + said if said else ''}",
        "",
        passing=True,
    )
    return operations


def _extend(planning: Planning, late: Late) -> Extend:
    """Return the operation that draws what one table and its sheet lack."""
    is_job = late.table in planning.places.jobs
    grid = planning.places.jobs[late.table] if is_job else planning.places.grids[late.table]
    columns = tuple((col, key) for key, col in late.columns.items())
    cells = tuple((key, *places) for key, places in late.cells.items())
    hidden = tuple(col for col, key in columns if key in _hidden(planning, late.table))
    hidden = tuple(col for col in hidden if _is_empty(planning.sheets[late.sheet], col))
    digits = planning.book.settings.digits
    table = _JOB if is_job else late.table
    later = Later(table, grid.header_row, columns, cells, hidden, digits)
    if not columns:
        return Extend(late.sheet, later)
    first = min(grid.columns.values())
    area = TableArea(late.table, grid.header_row, first, grid.last_row, late.end)
    return Extend(late.sheet, later, area)


def _is_empty(sheet: SheetSnapshot, col: int) -> bool:
    """Whether a column holds nothing anywhere on a sheet."""
    return not any(c == col for _, c in (*sheet.values, *sheet.formulas))


def _hidden(planning: Planning, table: str) -> tuple[str, ...]:
    """Return the columns of a table that a new book of this shop would hide."""
    if table != JOBS_TABLE.table:
        return JOB_HIDDEN if table in planning.places.jobs else ()
    rules = any(planning.places.has(sheet) for sheet in (TOLERANCES_TABLE, GUARANTEES_TABLE))
    return () if rules else ("object_class",)


def _settings(planning: Planning, late: list[Setting]) -> Iterator[Operation]:
    """Yield what adds settings to `Start` below those that are there, each as usual."""
    places = [p for p in (place_of(s.name, planning.parsed.snapshot) for s in SETTINGS) if p]
    if not late or not places:
        return
    sheet = planning.sheets[places[-1][0]]
    lowest = max(place for name, place in places if name == sheet.name)
    label = _label_beside(sheet, lowest)
    rows = _free_rows(sheet, lowest, label, len(late))
    cells = []
    for row, setting in zip(rows, late, strict=True):
        value = row, lowest[1]
        cells.append((setting.key, (row, label), value))
        shown = cell_value(setting_value(planning.book.settings, setting))
        planning.put(sheet.name, {value: Content(shown)})
        yield DefineName(setting.name, f"{quoted(sheet.name)}!${column_letters(value[1])}${row}")
    digits = planning.book.settings.digits
    yield Extend(sheet.name, Later("", cells=tuple(cells), digits=digits))


def _label_beside(sheet: SheetSnapshot, place: Place) -> int:
    """Return the column of the label left of a setting."""
    labels = {setting.label for setting in SETTINGS}
    row = place[0]
    left = (col for col in range(place[1] - 1, 0, -1) if sheet.values.get((row, col)) in labels)
    return next(left, max(1, place[1] - 1))


def _free_rows(sheet: SheetSnapshot, below: Place, label: int, count: int) -> list[int]:
    """Return rows below the last setting in which nothing stands from its label to its cell."""
    first, last = sorted((label, below[1]))
    taken = {r for r, c in (*sheet.values, *sheet.formulas) if first <= c <= last}
    for top, left, bottom, right in sheet.merged:
        if left <= last and right >= first:
            taken.update(range(top, bottom + 1))
    rows: list[int] = []
    row = below[0]
    while len(rows) < count:
        row += 1
        if row not in taken:
            rows.append(row)
    return rows


def _names(planning: Planning) -> Iterator[Operation]:
    """Yield the name of the list of job numbers, where it is not there."""
    if NAME_JOB_NUMBERS in planning.parsed.snapshot.names:
        return
    grid = planning.places.grid(JOBS_TABLE)
    top = grid.header_row + 1, grid.columns["number"]
    yield DefineName(NAME_JOB_NUMBERS, filled_part(quoted(grid.sheet), top))


def _part_words(planning: Planning) -> Iterator[Operation]:
    """Yield what lists beside the labour rates what a part may be, in columns that are free."""
    if NAME_PART_STATUS in planning.parsed.snapshot.names:
        return
    grid = planning.places.grid(RATES_TABLE)
    sheet = planning.sheets[grid.sheet]
    last = len(PART_STATUSES) + grid.header_row
    beside = [t.last_col for t in sheet.tables]
    taken = [c for r, c in (*sheet.values, *sheet.formulas) if grid.header_row <= r <= last]
    merged = [right for top, _, _, right in sheet.merged if top <= last]
    col = max(*grid.columns.values(), *beside, *taken, *merged) + 2
    first = grid.header_row + 1, col
    words = (NAME_PART_STATUS, (grid.header_row, col), first)
    digits = planning.book.settings.digits
    yield Extend(grid.sheet, Later(grid.table, grid.header_row, (), (words,), digits=digits))
    cells = f"${column_letters(col)}${first[0]}:${column_letters(col)}${last}"
    yield DefineName(NAME_PART_STATUS, f"{quoted(grid.sheet)}!{cells}")


def _said(planning: Planning, settings: list[Setting]) -> Iterator[str]:
    """Yield in words what the book gets."""
    late = planning.places.late
    layouts = [layout for layout in (*ALWAYS, *WHEN_NEEDED) if layout.table in late]
    for layout in layouts:
        there = late[layout.table]
        headers = (c.header for c in layout.columns if c.key in there.columns)
        yield f"in {there.sheet} {_quoted(headers)}"
    jobs = [late[table] for table in planning.places.jobs if table in late]
    if jobs:
        headers = (c.header for c in JOB_LINES if any(c.key in job.columns for job in jobs))
        labels = (c.label for c in JOB_HEADER if any(c.key in job.cells for job in jobs))
        yield f"on job sheets {_quoted((*headers, *labels))}"
    if settings:
        yield f"on {START} {_quoted(s.label for s in settings)}"


def _quoted(words: Iterable[str]) -> str:
    return ", ".join(f"'{word}'" for word in dict.fromkeys(words))
