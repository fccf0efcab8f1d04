"""The book of the next financial year, opened from the old one, which stays as it is."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from ledger_tools.billing.periods import financial_year
from ledger_tools.book.archive_book import link_back
from ledger_tools.book.create import create_book
from ledger_tools.book.formulas.shapes import is_own
from ledger_tools.book.layout import BOOK_FORMAT, JOBS_TABLE
from ledger_tools.book.parse import parse
from ledger_tools.book.parts.graft import Taken, take_sheets
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.settle import (
    Alone,
    settle_rules,
    settled_cells,
    unfit_to_move,
)
from ledger_tools.book.parts.workbook import Workbook
from ledger_tools.book.patch import patched_book
from ledger_tools.book.places import book_format
from ledger_tools.book.planner import plan_entries
from ledger_tools.book.planning import Additions
from ledger_tools.book.reader import BookRead, read_content
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.errors import Finding, Severity
from ledger_tools.shop.carry import Carried, Compared, carry, compared, year_to_open
from ledger_tools.shop.intake import highest_job
from ledger_tools.shop.issue import highest_invoice
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.plan import Content, Plan, SetCell
from ledger_tools.shop.snapshot import SheetSnapshot, Snapshot, address


@dataclass(frozen=True, slots=True)
class NextYear:
    """The new year's book; nothing is written yet.

    Attributes:
        outcome: What the new book comes to; the old one where none is made.
        findings: Everything to look at.
        checks: What both books say of what must be the same.
        content: The new book's file; empty where an error stands in the way.
        year: Name of the new financial year.
    """

    outcome: Outcome
    findings: tuple[Finding, ...]
    checks: tuple[Compared, ...] = ()
    content: bytes = b""
    year: str = ""


def open_next_year(read: BookRead, file: str, *, as_of: date, year: int | None = None) -> NextYear:
    """Return the book of the next financial year, opened from an old book.

    Args:
        read: The old book.
        file: Name of the new file, for findings.
        as_of: The day figures that depend on a day are for.
        year: Calendar year the new financial year begins in; that nearest to `as_of` if None.
    """
    before = work_out(read.snapshot, as_of=as_of)
    in_way = tuple(_in_the_way(read, before))
    if not before.sound or in_way:
        return NextYear(before, (*before.findings, *in_way))
    month = before.book.settings.first_month
    period = year_to_open(as_of, first_month=month)
    if year is not None:
        period = financial_year(year, first_month=month)
    first_day = period.first
    carried = carry(before.book, before.results, first_day=first_day)
    content, kept = _with_sheets(_blank(before.book, as_of), read, carried, before)
    content = _with_entries(content, file, carried, as_of)
    outcome = work_out(read_content(content, file), as_of=as_of)
    if outcome.plan.operations:
        content = patched_book(content, file, outcome.plan)
    now = work_out(read_content(content, file), as_of=as_of)
    checks = compared((before.book, before.results), (now.book, now.results), first_day=first_day)
    lost = tuple(_lost(check, file) for check in checks if not check.same)
    findings = (*before.findings, *kept, *lost)
    errors = any(f.severity is Severity.ERROR for f in (*now.findings, *lost))
    return NextYear(now, findings, checks, b"" if errors else content, period.name)


def _in_the_way(read: BookRead, outcome: Outcome) -> list[Finding]:
    """Return why a new book cannot be opened before the old one is put in order."""
    file = read.snapshot.file
    found: list[Finding] = []
    if any(f.severity is Severity.ERROR for f in outcome.findings):
        found.append(_waits(file, "Errors in the old book would go along", "Mend them first"))
    before = book_format(read.snapshot)
    if before < BOOK_FORMAT:
        what = f"The old book has format {before}, and sheets of it would go along"
        found.append(_waits(file, what, "Run recompute first"))
    if outcome.opened:
        count = len(outcome.opened)
        found.append(
            _waits(file, f"{count} jobs typed in Jobs have no number yet", "Run recompute first")
        )
    package = Package(read.content, file)
    tabs = {tab.name: tab for tab in Workbook(package).tabs}
    for grid in outcome.places.jobs.values():
        reason = unfit_to_move(package, tabs[grid.sheet])
        if reason:
            found.append(_stays(file, grid.sheet, reason))
    return found


def _waits(file: str, what: str, remedy: str) -> Finding:
    return Finding(Severity.ERROR, "next-year-waits", what, f"{remedy}; no book was made", file)


def _stays(file: str, sheet: str, reason: str) -> Finding:
    return Finding(
        Severity.ERROR,
        "sheet-stays",
        f"This sheet cannot leave the book: {reason}",
        "Take it off the sheet, save, and try again",
        file,
        sheet,
    )


def _blank(book: ShopBook, as_of: date) -> bytes:
    """Return a new book with the old one's settings, price lists, tax rules and last numbers."""
    return create_book(
        ShopBook(
            book.settings,
            as_of,
            book.profile,
            book.catalogue,
            book.tolerances,
            last_job=highest_job(book),
            last_invoice=highest_invoice(book),
            guarantees=book.guarantees,
        )
    )


def _with_sheets(
    blank: bytes, read: BookRead, carried: Carried, outcome: Outcome
) -> tuple[bytes, tuple[Finding, ...]]:
    """Return the new book with the sheets of the open jobs, as they are, newest first.

    An owner's formula that speaks of another sheet becomes what it showed, and is named.
    """
    snapshot = read.snapshot
    sheets = {sheet.name: sheet for sheet in snapshot.sheets}
    grids = [outcome.places.job(job.number) for job in carried.jobs if job.number]
    moving = [sheets[grid.sheet] for grid in grids if grid]
    if not moving:
        return blank, ()
    target = Workbook(Package(blank, snapshot.file))
    own = Workbook(Package(read.content, snapshot.file))
    tabs = {tab.name: tab for tab in own.tabs}
    names = list(target.names())
    taken = [Taken(tabs[s.name], s.name, JOBS_TABLE.sheet) for s in moving]
    for part, sheet in zip(take_sheets(target, own, taken), moving, strict=True):
        settle_rules(target.package.edit(part), _alone(sheet, names), link_back(sheet))
    content = target.package.content()
    operations, findings = _settled(read_content(content, snapshot.file), moving, names)
    if operations:
        content = patched_book(content, snapshot.file, Plan(tuple(operations)))
    return content, tuple(findings)


def _alone(sheet: SheetSnapshot, names: Sequence[str]) -> Alone:
    return Alone(sheet.name, [table.name for table in sheet.tables], names)


def _settled(
    new: Snapshot, moving: Sequence[SheetSnapshot], names: Sequence[str]
) -> tuple[list[SetCell], list[Finding]]:
    there = {sheet.name: sheet for sheet in new.sheets}
    operations: list[SetCell] = []
    findings: list[Finding] = []
    for sheet in moving:
        formulas = {p: f for p, f in sheet.formulas.items() if not is_own(f, frozenset())}
        owners = sheet.replaced(formulas=formulas)
        for place, content in settled_cells(owners, _alone(sheet, names)).items():
            now = there[sheet.name]
            old = Content(now.values.get(place), now.formulas.get(place))
            operations.append(SetCell(sheet.name, *place, old, content))
            findings.append(_became_value(new.file, sheet.name, address(*place)))
    return operations, findings


def _became_value(file: str, sheet: str, cell: str) -> Finding:
    return Finding(
        Severity.NOTE,
        "formula-to-value",
        "Your formula speaks of another sheet of the old book; its value was taken",
        "",
        file,
        sheet,
        cell,
    )


def _with_entries(content: bytes, file: str, carried: Carried, as_of: date) -> bytes:
    """Return the new book with the rows it takes over."""
    parsed = parse(read_content(content, file), as_of=as_of)
    book = replace(
        parsed.book,
        customers=carried.customers,
        payments=carried.payments,
        invoices={invoice.number: invoice for invoice in carried.invoices},
        estimates={estimate.number: estimate for estimate in carried.estimates},
        options=carried.options,
    )
    entries = Additions(
        carried.customers,
        carried.authorisations,
        carried.invoices,
        carried.jobs,
        carried.payments,
        carried.time,
        carried.estimates,
        carried.options,
    )
    plan = plan_entries(parsed, book, entries)
    return patched_book(content, file, plan) if plan.operations else content


def _lost(check: Compared, file: str) -> Finding:
    return Finding(
        Severity.ERROR,
        "not-carried-over",
        f"{check.what}: the old book has {check.old[:300]}, the new one {check.new[:300]}",
        "No book was made; please report this with both figures",
        file,
    )
