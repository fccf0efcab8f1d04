"""Moving paid jobs out of the shop book: lines to a register, sheets to the archive book."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ledger_tools.book.archive_book import Leaving, new_archive, with_jobs
from ledger_tools.book.locks import refuse_if_open
from ledger_tools.book.parts.carriers import Carrier, carriers, tables_with_slicers
from ledger_tools.book.parts.mentions import Going, speaks_of
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.settle import unfit_to_move
from ledger_tools.book.parts.workbook import Workbook
from ledger_tools.book.patch import foreign_formulas, patched_book
from ledger_tools.book.places import owned_cells
from ledger_tools.book.reader import BookRead, read_content, read_file
from ledger_tools.book.save import save_book, save_new
from ledger_tools.book.whole import is_there
from ledger_tools.book.work import Outcome, archive_jobs, work_out
from ledger_tools.errors import Finding, Severity
from ledger_tools.shop.closing import Chosen, to_archive
from ledger_tools.shop.plan import Content, Plan, RemoveSheet, SetCell
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Place, SheetSnapshot, Snapshot, address


@dataclass(frozen=True, slots=True)
class Archiving:
    """What archiving comes to; nothing is written yet.

    Attributes:
        outcome: The book without the jobs' sheets; the book as it is where nothing moves.
        findings: Everything to look at.
        book: The new shop book; empty where nothing moves.
        archive: The new archive book; empty where nothing moves.
        archive_before: The archive book it was made from; empty where there was none.
    """

    outcome: Outcome
    findings: tuple[Finding, ...]
    book: bytes = b""
    archive: bytes = b""
    archive_before: bytes = b""


def archive_path(book: Path) -> Path:
    """Return the archive book beside the shop book at `book`, whatever links lead to that."""
    if book.is_symlink():
        book = book.resolve()
    return book.with_name(f"{book.stem}-archive.xlsx")


def plan_archive(
    read: BookRead,
    archive: Path,
    *,
    as_of: date,
    named: Collection[str] = (),
    anyway: bool = False,
) -> Archiving:
    """Return what moving paid jobs to the archive book comes to.

    The book is worked out first, as by recompute, so that what leaves it is up to date.

    Args:
        read: The shop book.
        archive: Path of the archive book, whether it is there or not.
        as_of: Day of archiving.
        named: Job numbers, where only these are meant; they must be paid.
        anyway: Whether sheets go though the owner's own sheets refer to them.
    """
    before = work_out(read.snapshot, as_of=as_of)
    if not before.sound:
        return Archiving(before, before.findings)
    content, snapshot = read.content, read.snapshot
    if before.plan.operations:
        content = patched_book(content, snapshot.file, before.plan)
        snapshot = read_content(content, snapshot.file)
    workbook = Workbook(Package(content, snapshot.file))
    unfit = _unfit(workbook, before)

    def choose(results: Mapping[str, JobResult]) -> Chosen:
        return to_archive(results, named=named, unfit=unfit)

    outcome = archive_jobs(snapshot, choose, as_of=as_of)
    references = _references(workbook, snapshot, outcome, anyway=anyway)
    findings = (*before.findings, *(f for f in outcome.findings if f not in before.findings))
    findings = (*findings, *(finding for finding, _ in references))
    if outcome.archived and workbook.single("vbaProject"):
        findings = (*findings, _macros_unread(snapshot.file))
    if not outcome.archived or (references and not anyway):
        return Archiving(before._replace(plan=Plan(())), findings)
    kept = tuple(op for _, op in references if op)
    outcome = outcome._replace(plan=_with(outcome.plan, kept))
    stale = foreign_formulas(snapshot, owned_cells(outcome.places))
    settled = {(op.sheet, (op.row, op.col)) for op in kept}
    stale = {name: [p for p in cells if (name, p) not in settled] for name, cells in stale.items()}
    book = patched_book(content, snapshot.file, outcome.plan, stale=stale)
    there = read_file(archive) if is_there(archive) else b""
    grown = _grown(there, archive.name, (content, snapshot), outcome, as_of)
    return Archiving(outcome, findings, book, grown, there)


def save_archive(path: Path, read: BookRead, archive: Path, archiving: Archiving) -> None:
    """Write the archive book, then the shop book.

    A run that is cut off in between leaves the sheets in both; the next one finds them in the
    archive book and goes on.

    Raises:
        BookLockedError: One of the books is open in a spreadsheet program.
        BookChangedError: The shop book is not the one that was read.
        FileInTheWayError: A file cannot be written.
    """
    refuse_if_open(path)
    refuse_if_open(archive)
    if not archiving.archive_before:
        save_new(archive, archiving.archive)
    elif archiving.archive_before != archiving.archive:
        save_book(archive, archiving.archive, old=archiving.archive_before)
    save_book(path, archiving.book, old=read.content)


def _unfit(workbook: Workbook, outcome: Outcome) -> dict[str, str]:
    """Return the job sheets that cannot leave the book, each with the reason."""
    package = workbook.package
    tabs = {tab.name: tab for tab in workbook.tabs}
    sliced = tables_with_slicers(workbook)
    found = {}
    for number in outcome.results:
        grid = outcome.places.job(number)
        reason = unfit_to_move(package, tabs[grid.sheet]) if grid else ""
        tables = package.related(tabs[grid.sheet].part, "table") if grid and sliced else ()
        if any(package.root_attributes(table).get("id") in sliced for table in tables):
            reason = reason or "a slicer on another sheet filters its lines"
        if reason:
            found[number] = reason
    return found


def _grown(
    there: bytes, file: str, source: tuple[bytes, Snapshot], outcome: Outcome, day: date
) -> bytes:
    """Return the archive book with the sheets that go; a new one where there is none."""
    settings = outcome.book.settings
    there = there or new_archive(day, digits=settings.digits, paper=settings.paper)
    gone = {op.sheet for op in outcome.plan.operations if isinstance(op, RemoveSheet)}
    leaving = [
        Leaving(grid.sheet, outcome.results[number])
        for number in outcome.archived
        if (grid := outcome.places.job(number)) and grid.sheet in gone
    ]
    return with_jobs(there, file, source, leaving, day)


def _with(plan: Plan, kept: tuple[SetCell, ...]) -> Plan:
    """Return `plan` with the cells of the owner's that keep what they show, before sheets go."""
    last = next(i for i, op in enumerate(plan.operations) if isinstance(op, RemoveSheet))
    return Plan((*plan.operations[:last], *kept, *plan.operations[last:]))


_UNCOMPUTED = "it has not been computed since the tools last wrote"
_FORMULA, _LINK = "The formula here", "The link here"
_Reference = tuple[Finding, SetCell | None]


def _references(
    workbook: Workbook, snapshot: Snapshot, outcome: Outcome, *, anyway: bool
) -> list[_Reference]:
    """Return where the owner's own sheets refer to the sheets that would go.

    With each cell comes what it is to hold when the sheets go all the same: what it shows now.
    """
    going = _going(workbook, snapshot, outcome)
    if not going.sheets:
        return []
    sheets = [s for s in snapshot.sheets if s.name.lower() not in going.sheets]
    written = {
        (op.sheet, (op.row, op.col)) for op in outcome.plan.operations if isinstance(op, SetCell)
    }
    found: list[_Reference] = []
    for sheet in sheets:
        for place in sorted({*sheet.links, *sheet.formulas}):
            if (sheet.name, place) not in written:
                found += _of_cell(snapshot.file, sheet, place, going, anyway=anyway)
    for carrier in carriers(workbook, going.sheets):
        target = speaks_of(carrier.text, going)
        if target:
            finding = _said(snapshot.file, target, carrier, anyway=anyway)
            found.append((finding, None))
    return list(dict.fromkeys(found))


def _of_cell(
    file: str, sheet: SheetSnapshot, place: Place, going: Going, *, anyway: bool
) -> list[_Reference]:
    """Return what a cell says of sheets that go, by its formula or by its link."""
    value, formula = sheet.values.get(place), sheet.formulas.get(place)
    meant = speaks_of(formula or "", going)
    led_to = speaks_of(sheet.links.get(place, ""), going)
    if not meant and not led_to:
        return []
    shown = not meant or place in sheet.values
    what = _FORMULA if meant else _LINK
    cell = Carrier(sheet.name, address(*place), what, "")
    # A formula nobody has computed stays as text.
    kept = Content(value, formula) if not meant else Content(value if shown else f"={formula}")
    link = "" if led_to else None
    op = SetCell(sheet.name, *place, Content(value, formula), kept, link)
    return [(_said(file, meant or led_to, cell, anyway=anyway, shown=shown), op)]


def _going(workbook: Workbook, snapshot: Snapshot, outcome: Outcome) -> Going:
    sheets = {
        op.sheet.lower(): op.sheet for op in outcome.plan.operations if isinstance(op, RemoveSheet)
    }
    leaving = [sheet for sheet in snapshot.sheets if sheet.name.lower() in sheets]
    tables = {table.name.lower(): sheet.name for sheet in leaving for table in sheet.tables}
    return Going(sheets, tables, [tab.name.lower() for tab in workbook.tabs])


def _macros_unread(file: str) -> Finding:
    return Finding(
        Severity.NOTE,
        "macros-unread",
        "The macros of the book are not read, and may speak of sheets that go",
        "Look through them if they name job sheets",
        file,
    )


def _said(
    file: str, target: str, carrier: Carrier, *, anyway: bool, shown: bool = True
) -> Finding:
    stays = carrier.what in {_FORMULA, _LINK}
    remedy = "Nothing was moved; with --anyway a cell keeps what it shows, a chart loses it"
    if anyway:
        remedy = "It keeps what it showed" if stays else "It means nothing any more: take it away"
    if not shown and anyway:
        remedy = f"Its formula is kept as text, for {_UNCOMPUTED}"
    elif not shown:
        remedy = (
            "Nothing was moved; open and save the book in your spreadsheet program first, "
            f"for {_UNCOMPUTED}"
        )
    return Finding(
        Severity.WARNING if anyway else Severity.ERROR,
        "sheet-referred-to",
        f"{carrier.what} refers to the sheet '{target}', which goes to the archive book",
        remedy,
        file,
        carrier.sheet,
        carrier.cell,
    )
