"""The archive book: sheets of archived jobs, each standing alone, and a list of them in front."""

import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ledger_tools.book.cells import serial_of
from ledger_tools.book.contents import cell_value
from ledger_tools.book.drawing.pen import SAYS, TITLE, Hand, new_workbook
from ledger_tools.book.drawing.table import Placing, draw_grid
from ledger_tools.book.job_layout import JOB_BACK
from ledger_tools.book.layout import Column, Look, TableLayout
from ledger_tools.book.parse_settings import value_at
from ledger_tools.book.parts.graft import Taken, take_sheets
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.settle import Alone, names_in_rules, settle_rules, settled_cells
from ledger_tools.book.parts.workbook import Workbook
from ledger_tools.book.patch import patched_book
from ledger_tools.book.places import quoted
from ledger_tools.book.reader import read_content
from ledger_tools.errors import FileInTheWayError
from ledger_tools.shop.plan import Content, GrowTable, Plan, SetCell
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Place, SheetSnapshot, Snapshot

ARCHIVE_PROPERTY = "Shop archive format"
ARCHIVE_FORMAT = 1
ARCHIVE_TABLE = TableLayout(
    "Jobs",
    "ArchivedJobs",
    "Archived jobs",
    "Jobs whose sheets were moved here from the shop book, with the figures they had then.",
    (
        Column("job", "Job", 11, Look.LINK, typed=False),
        Column("customer", "Customer", 26, typed=False),
        Column("item", "Item", 30, typed=False),
        Column("opened", "Opened", 11, Look.DATE, typed=False),
        Column("invoice", "Invoice", 11, typed=False),
        Column("invoiced", "Invoiced on", 12, Look.DATE, typed=False),
        Column("subtotal", "Net", 12, Look.MONEY, typed=False),
        Column("total", "With tax", 12, Look.MONEY, typed=False),
        Column("archived", "Archived on", 12, Look.DATE, typed=False),
        Column("book", "From", 24, typed=False),
    ),
    spare=1,
)


@dataclass(frozen=True, slots=True)
class Leaving:
    """A job that is moved to the archive book.

    Attributes:
        sheet: Name of its sheet in the shop book.
        result: What it comes to.
    """

    sheet: str
    result: JobResult


@dataclass(frozen=True, slots=True)
class _Move:
    name: str
    sheet: SheetSnapshot
    result: JobResult
    cells: Mapping[Place, Content]


def new_archive(day: date, *, digits: int, paper: str) -> bytes:
    """Return an archive book without jobs."""
    target = io.BytesIO()
    workbook = new_workbook(target, created=day)
    workbook.set_custom_property(ARCHIVE_PROPERTY, ARCHIVE_FORMAT)
    page = Hand(workbook, digits, paper).page(ARCHIVE_TABLE.sheet)
    page.height(1, 27)
    page.value(1, 1, ARCHIVE_TABLE.title, TITLE)
    page.value(2, 1, ARCHIVE_TABLE.says, SAYS)
    page.widths({i: c.width for i, c in enumerate(ARCHIVE_TABLE.columns, 1)})
    placing = Placing(ARCHIVE_TABLE.table, (ARCHIVE_TABLE.first_row, 1), ARCHIVE_TABLE.spare, {})
    draw_grid(page, ARCHIVE_TABLE.columns, placing)
    page.sheet.freeze_panes(ARCHIVE_TABLE.first_row, 1)
    page.print_set_up(wide=True, repeat_row=ARCHIVE_TABLE.first_row)
    workbook.close()
    return target.getvalue()


def with_jobs(
    archive: bytes,
    file: str,
    source: tuple[bytes, Snapshot],
    leaving: Sequence[Leaving],
    day: date,
) -> bytes:
    """Return the archive book `archive` with the sheets of the jobs that leave the shop book.

    Formulas that speak of other sheets of the shop book become what they showed. A sheet that is
    there already, as it is, is not taken in twice; one that differs is kept beside it.

    Args:
        archive: The archive book as it is.
        file: Its file name, for messages and for the list.
        source: The shop book: file and snapshot.
        leaving: The jobs, in order of their numbers.
        day: Day of archiving.

    Raises:
        FileInTheWayError: The file is a workbook, but not an archive book.
    """
    content, snapshot = source
    there = read_content(archive, file)
    if ARCHIVE_PROPERTY not in there.properties:
        raise FileInTheWayError(
            file, "there is a file of this name, and it is no archive book", "Move it away first"
        )
    target = Workbook(Package(archive, file))
    own = Workbook(Package(content, snapshot.file))
    names = _constants(own, snapshot, leaving)
    moves = _moves(there, snapshot, leaving, names)
    if not moves:
        return archive
    _define(target, names)
    tabs = {tab.name: tab for tab in own.tabs}
    taken = [Taken(tabs[m.sheet.name], m.name, ARCHIVE_TABLE.sheet) for m in moves]
    for part, move in zip(take_sheets(target, own, taken), moves, strict=True):
        root = target.package.edit(part)
        settle_rules(root, _alone(move.sheet, names), link_back(move.sheet))
    grafted = target.package.content()
    plan = _plan(read_content(grafted, file), moves, snapshot.file, day)
    return patched_book(grafted, file, plan)


def _moves(
    there: Snapshot, snapshot: Snapshot, leaving: Sequence[Leaving], names: Mapping[str, str]
) -> list[_Move]:
    """Return the sheets the archive does not hold yet, each with the name it gets."""
    sheets = {sheet.name: sheet for sheet in snapshot.sheets}
    known = {sheet.name: sheet for sheet in there.sheets}
    names_taken = {name.lower() for name in known}
    moves: list[_Move] = []
    for job in leaving:
        sheet = sheets[job.sheet]
        cells = settled_cells(sheet, _alone(sheet, names))
        if not _is_there(known, sheet, cells):
            name = _free_name(job.sheet, names_taken)
            names_taken.add(name.lower())
            moves.append(_Move(name, sheet, job.result, cells))
    return moves


def _alone(sheet: SheetSnapshot, names: Mapping[str, str]) -> Alone:
    return Alone(sheet.name, [table.name for table in sheet.tables], list(names))


def link_back(sheet: SheetSnapshot) -> dict[str, str]:
    """Return where the link back to `Jobs` leads now, by where it led."""
    target = sheet.links.get(JOB_BACK)
    return {target: f"{ARCHIVE_TABLE.sheet}!A1"} if target else {}


def _is_there(
    known: Mapping[str, SheetSnapshot],
    sheet: SheetSnapshot,
    cells: Mapping[Place, Content],
) -> bool:
    """Whether the archive holds this sheet already, under its name or one given to a second."""
    values = {**sheet.values, **{place: c.value for place, c in cells.items()}}
    values = {place: value for place, value in values.items() if value is not None}
    formulas = {place: text for place, text in sheet.formulas.items() if place not in cells}
    name, number = sheet.name, 2
    while name in known:
        if known[name].values == values and known[name].formulas == formulas:
            return True
        name, number = f"{sheet.name} ({number})", number + 1
    return False


def _free_name(wanted: str, taken: set[str]) -> str:
    name, number = wanted, 2
    while name.lower() in taken:
        name, number = f"{wanted} ({number})", number + 1
    return name


def _constants(own: Workbook, snapshot: Snapshot, leaving: Sequence[Leaving]) -> dict[str, str]:
    """Return names of single cells that marks of the sheets speak of, each as a constant."""
    parts = {tab.name: tab.part for tab in own.tabs}
    used = {name for job in leaving for name in names_in_rules(own.package.root(parts[job.sheet]))}
    found: dict[str, str] = {}
    for name in snapshot.names:
        value = value_at(snapshot, name) if name.lower() in used else None
        if isinstance(value, str):
            found[name] = '"' + value.replace('"', '""') + '"'
        elif value is not None:
            found[name] = repr(value).upper() if isinstance(value, bool) else f"{value:g}"
    return found


def _define(target: Workbook, names: Mapping[str, str]) -> None:
    there = {name.lower() for name in target.names()}
    for name, constant in names.items():
        if name.lower() not in there:
            target.define(name, constant, {})


def _plan(archive: Snapshot, moves: Sequence[_Move], book: str, day: date) -> Plan:
    """Return what is written in the grafted sheets, and in the list of them."""
    sheets = {sheet.name: sheet for sheet in archive.sheets}
    front, area = next(
        (sheet, table)
        for sheet in archive.sheets
        for table in sheet.tables
        if table.name == ARCHIVE_TABLE.table
    )
    filled = [row for row, _ in front.values if area.first_row < row <= area.last_row]
    first = max(filled, default=area.first_row) + 1
    growth = first + len(moves) - 1 - area.last_row
    operations: list[SetCell | GrowTable] = []
    if growth > 0:
        operations.append(GrowTable(front.name, area.name, area.last_row, growth))
    for row, move in enumerate(moves, first):
        operations += _settling(sheets[move.name], move.cells)
        operations += _listing(front.name, (row, area.first_col), move, _listed(move, book, day))
    return Plan(tuple(operations))


def _settling(sheet: SheetSnapshot, cells: Mapping[Place, Content]) -> list[SetCell]:
    """Return what turns cells of a grafted sheet into what they showed."""
    return [
        SetCell(
            sheet.name, *place, Content(sheet.values.get(place), sheet.formulas.get(place)), new
        )
        for place, new in cells.items()
    ]


def _listing(
    sheet: str, first: Place, move: _Move, values: Mapping[str, Decimal | str | int | None]
) -> list[SetCell]:
    """Return what writes a job into the list in front."""
    row, left = first
    return [
        SetCell(
            sheet,
            row,
            col,
            Content(),
            Content(cell_value(values[column.key])),
            f"{quoted(move.name)}!A1" if column.key == "job" else None,
        )
        for col, column in enumerate(ARCHIVE_TABLE.columns, left)
    ]


def _listed(move: _Move, book: str, day: date) -> dict[str, Decimal | str | int | None]:
    result = move.result
    job = result.job
    return {
        "job": job.number,
        "customer": job.customer,
        "item": job.item,
        "opened": serial_of(job.opened),
        "invoice": result.invoice,
        "invoiced": None if result.invoiced is None else serial_of(result.invoiced),
        "subtotal": result.subtotal,
        "total": result.total,
        "archived": serial_of(day),
        "book": book,
    }
