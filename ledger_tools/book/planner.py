"""From the typed book and its results to the plan: which cells are to hold what.

Everything the tools own is written down as wanted, then compared with what was read; only the
differences become operations.
"""

from collections.abc import Mapping

from ledger_tools.book.cells import serial_of
from ledger_tools.book.contents import customer_values, job_values, payment_values
from ledger_tools.book.differences import differences, quiet_differences
from ledger_tools.book.formulas.registers import TITLE
from ledger_tools.book.job_layout import job_table
from ledger_tools.book.layout import (
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    PAYMENTS_TABLE,
    TAX_CLASSES_TABLE,
    TAX_RATES_TABLE,
)
from ledger_tools.book.names import (
    NAME_AS_OF,
    NAME_ERRORS,
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    NAME_NOTES,
    NAME_WARNINGS,
)
from ledger_tools.book.parse import Parsed
from ledger_tools.book.parse_settings import count_at, place_of
from ledger_tools.book.places import ALWAYS, quoted
from ledger_tools.book.plan_jobs import JobSheets, plan_job_rows
from ledger_tools.book.plan_registers import (
    places_to_be,
    plan_codes,
    plan_customers,
    plan_payments,
    plan_registers,
)
from ledger_tools.book.planning import Additions, Planning
from ledger_tools.book.upgrade import plan_upgrade
from ledger_tools.errors import NotWritableError, Severity
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.plan import Content, MakeTable, Plan, RemoveSheet
from ledger_tools.shop.results import JobResult

_WITHOUT_FILTERS = {TAX_CLASSES_TABLE, TAX_RATES_TABLE.table}
"""Two tables side by side: filtering one would hide rows of the other."""
_LAST_GIVEN = (NAME_LAST_JOB, NAME_LAST_INVOICE)


def plan_book(
    parsed: Parsed,
    book: ShopBook,
    results: Mapping[str, JobResult],
    additions: Additions,
) -> Plan:
    """Return the operations that bring the workbook up to `book` and `results`.

    Formulas that were typed over or deleted are restored; `parsed.gathered` gets a finding for
    each, so the counts on `Start` are planned last.
    """
    planning = _planning(parsed, book, results, additions)
    plan_registers(planning)
    JobSheets(planning).plan()
    plan_job_rows(planning)
    plan_customers(planning)
    plan_payments(planning)
    plan_codes(planning)
    for (sheet, place), content in parsed.gathered.echoes.items():
        planning.put(sheet, {place: content})
    _plan_links(planning)
    made = _tables_again(planning)
    newer = plan_upgrade(planning)
    cells = differences(planning)
    planning.cells.clear()
    _plan_start(planning)
    start = quiet_differences(planning)
    _refuse_names_taken(planning)
    grids = [parsed.places.job(number) for number in planning.moving]
    gone = [RemoveSheet(grid.sheet) for grid in grids if grid]
    return Plan((*planning.added, *made, *newer, *planning.grown, *cells, *start, *gone))


def plan_entries(parsed: Parsed, book: ShopBook, entries: Additions) -> Plan:
    """Return the operations that write `entries` into a book that holds nothing yet.

    Only what people type and what was issued is written; the rest follows when the book is
    worked out.
    """
    planning = _planning(parsed, book, {}, entries)
    plan_registers(planning)
    planning.append(CUSTOMERS_TABLE, [customer_values(c) for c in entries.customers])
    planning.append(PAYMENTS_TABLE, [payment_values(p) for p in entries.payments])
    rows = planning.append(JOBS_TABLE, [job_values(job) for job in entries.jobs])
    grid = planning.places.grid(JOBS_TABLE)
    for row, job in zip(rows, entries.jobs, strict=True):
        sheet = planning.places.job(job.number) if job.number else None
        if sheet is not None:
            number = (row, grid.columns["number"])
            planning.links[grid.sheet, number] = f"{quoted(sheet.sheet)}!A1"
    cells = differences(planning)
    return Plan((*planning.added, *planning.grown, *cells))


def _planning(
    parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult], additions: Additions
) -> Planning:
    places = places_to_be(parsed.places, book, additions, results)
    return Planning(parsed, book, results, additions, places)


def _refuse_names_taken(planning: Planning) -> None:
    """Refuse a plan with a sheet whose name the owner has given to another one."""
    there = {name.casefold(): name for name in planning.sheets}
    for add in planning.added:
        if add.name.casefold() in there:
            raise NotWritableError(
                f"{planning.parsed.snapshot.file}, sheet '{there[add.name.casefold()]}'",
                "a sheet of this name is to be added, but there is one already",
                "Rename the one that is there, save and try again",
            )


def _tables_again(planning: Planning) -> list[MakeTable]:
    """Return the tables to be made again that another program took apart, and say so."""
    made = []
    moving = {number.casefold() for number in map(job_table, planning.moving)}
    for name, area in planning.places.lost:
        if area.name.casefold() in moving:
            continue
        values = planning.sheets[name].values
        cols = range(area.first_col, area.last_col + 1)
        headers = tuple(str(values[area.first_row, col]) for col in cols)
        filters = area.name not in _WITHOUT_FILTERS and area.name not in planning.places.jobs
        made.append(MakeTable(name, area, headers, filters))
        planning.gathered.add(
            Severity.NOTE,
            "table-restored",
            "The table here had come apart and is put together again; LibreOffice does that when "
            "the sheet to its right is deleted or a column is moved to its edge",
            "",
            sheet=name,
            place=(area.first_row, area.first_col),
            passing=True,
        )
    return made


def _plan_links(planning: Planning) -> None:
    """Want links to sheets that were renamed to lead to the new name; no program follows one."""
    places = planning.places
    now = {layout.sheet: places.grid(layout).sheet for layout in ALWAYS}
    for job in planning.book.jobs:
        grid = places.job(job.number)
        if grid is not None:
            now[job.number] = grid.sheet
    renamed = {f"{quoted(old)}!A1": new for old, new in now.items() if old not in planning.sheets}
    for sheet in planning.sheets.values() if renamed else ():
        for place, link in sheet.links.items():
            if link in renamed:
                planning.links[sheet.name, place] = f"{quoted(renamed[link])}!A1"
                held = Content(sheet.values.get(place), sheet.formulas.get(place))
                planning.cells.setdefault(sheet.name, {}).setdefault(place, held)


def _plan_start(planning: Planning) -> None:
    """Want the as-of day, the counts and the shop's name on `Start`.

    A last number that cannot be read stays as it stands, for the owner to mend.
    """
    book, gathered = planning.book, planning.gathered
    snapshot = planning.parsed.snapshot
    values = {
        NAME_AS_OF: serial_of(book.as_of),
        NAME_LAST_JOB: book.last_job,
        NAME_LAST_INVOICE: book.last_invoice,
        NAME_ERRORS: gathered.lasting(Severity.ERROR),
        NAME_WARNINGS: gathered.lasting(Severity.WARNING),
        NAME_NOTES: gathered.lasting(Severity.NOTE),
    }
    _plan_title(planning)
    for name, value in values.items():
        place = place_of(name, snapshot)
        unread = name in _LAST_GIVEN and count_at(snapshot, name) is None
        if place is not None and not unread:
            planning.put(place[0], {place[1]: Content(value)})


def _plan_title(planning: Planning) -> None:
    if planning.places.title is not None:
        sheet, place = planning.places.title
        planning.put(sheet, {place: Content(planning.book.settings.name or "Shop book", TITLE)})
