"""Reading the rows of `Jobs`, each with the lines on its sheet."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from ledger_tools.billing.authorisation import classes_of
from ledger_tools.billing.basis import Basis
from ledger_tools.billing.guarantee import guaranteed_classes
from ledger_tools.book.cells import serial_of
from ledger_tools.book.job_layout import job_table
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.parse_archived import ArchivedJobs
from ledger_tools.book.parse_lines import JobLines, read_job_lines
from ledger_tools.book.registers import INVOICES_TABLE
from ledger_tools.book.rows import Reading, Row
from ledger_tools.costing.time import LineTime, by_line
from ledger_tools.errors import Severity
from ledger_tools.money import plain
from ledger_tools.shop.intake import WITHOUT_NUMBER, known_repair, near_match
from ledger_tools.shop.model import TYPED_STATES, Band, Job, ShopBook

_NEW_STATE = "estimated"
"""State of a row that says none."""


def read_jobs(
    reading: Reading, book: ShopBook, archived: ArchivedJobs
) -> tuple[tuple[Job, ...], dict[str, JobLines]]:
    """Return the jobs by row, with their lines, and the line rows of each sheet by job number.

    A job with an error is marked as unreadable; so are all rows of a number that stands twice.
    """
    jobs: list[Job] = []
    lines: dict[str, JobLines] = {}
    seen: dict[str, int] = {}
    unsure = _unsure_whether_billed(reading)
    names = {customer.name.casefold(): customer.name for customer in book.customers}
    time = by_line(book.time)
    for row in reading.rows(JOBS_TABLE, "number", "customer", "item", "repair", "state"):
        job = _job(row, book, names)
        if job.number.casefold() not in unsure:
            job = replace(job, unreadable=_invoice_gone(row, book) or job.unreadable)
        if job.number and job.number.casefold() in seen:
            _say_twice(row, job.number, seen[job.number.casefold()])
            job = replace(job, unreadable=True)
        seen.setdefault(job.number.casefold(), row.row)
        if job.number and not job.unreadable:
            has_sheet = job_table(job.number) in reading.places.jobs
            if not has_sheet and job.number in archived.costs:
                job = _from_archive(job, archived)
            else:
                own = time.get(job.number.casefold(), {})
                job = _with_lines(job, row, reading, (book, own), lines)
        jobs.append(replace(job, unreadable=True) if job.number.casefold() in unsure else job)
    twice = {j.number.casefold() for j in jobs if j.number and j.unreadable}
    held = tuple(replace(j, unreadable=True) if j.number.casefold() in twice else j for j in jobs)
    return held, lines


def _unsure_whether_billed(reading: Reading) -> set[str]:
    """Return the jobs whose row in Invoices has an error; they are left as they are."""
    if not reading.places.has(INVOICES_TABLE):
        return set()
    sheet = reading.places.grid(INVOICES_TABLE).sheet
    return {
        finding.job.casefold()
        for finding in reading.gathered.findings
        if finding.severity is Severity.ERROR and finding.sheet == sheet and finding.job
    }


def _say_twice(row: Row, number: str, first: int) -> None:
    row.error(
        "number",
        "job-number-twice",
        f"Job number '{number}' stands in row {first} already",
        "Clear the number in the row that was copied; recompute gives it the next one",
    )


def _customer(row: Row, names: Mapping[str, str]) -> str:
    """Return the customer's name, put back as Customers writes it."""
    said = row.text("customer")
    name = names.get(said.casefold(), said)
    row.put_back("customer", name)
    return name


def _job(row: Row, book: ShopBook, names: Mapping[str, str]) -> Job:
    number = row.name("number")
    row.job = number
    opened = row.day("opened") or _filled_in(row, book.as_of)
    customer = row.needed(
        "customer", lambda _: _customer(row, names), "customer-missing", "The job has no customer"
    )
    repair = row.text("repair")
    state = row.choice("state", TYPED_STATES, "state-unknown") or _NEW_STATE
    known = known_repair(repair, book)
    if known is not None:
        repair = known.code
        row.put_back("repair", repair)
    elif repair:
        codes = ", ".join(r.code for r in book.catalogue.repairs)
        row.error(
            "repair",
            "repair-unknown",
            f"Repair code '{repair}' is not in the sheet Repairs",
            f"Type one of: {codes}; or leave it empty",
        )
    job = Job(
        number=number,
        row=row.row,
        opened=opened,
        customer=customer or "",
        item=row.name("item"),
        repair=repair,
        state=state,
        promised=row.day("promised"),
        object_class=_object_class(row, book),
        basis=_basis(row),
        agreed_price=row.number("agreed_price"),
        note=row.text("note"),
        told=_told(row),
    )
    _look_for_near_name(row, job, names)
    return replace(job, unreadable=row.broken)


def _basis(row: Row) -> Basis:
    """Return how the job is billed; an agreed price is for a job whose basis is *fixed*."""
    said = Basis(row.choice("basis", tuple(Basis), "basis-unknown") or Basis.ACTUAL)
    if said is not Basis.FIXED and row.raw("agreed_price") is not None:
        row.warning(
            "agreed_price",
            "agreed-price-unused",
            f"A price is agreed for the job, and it is billed as '{said}'",
            "Set Basis to 'fixed' where the job is billed at that price, or clear the price",
        )
    return said


def _told(row: Row) -> Band | None:
    """Return the band named on the telephone; where one end is empty, the other stands for it."""
    ends = row.number("told_from"), row.number("told_to")
    named = [end for end in ends if end is not None]
    if not named:
        return None
    band = Band(named[0], named[-1])
    if band.least > band.most:
        row.error(
            "told_to", "told-band",
            f"{plain(band.least)} was named at least and {plain(band.most)} at most",
            "Type the smaller amount under 'Told from'",
        )  # fmt: skip
        return None
    return band


def _object_class(row: Row, book: ShopBook) -> str:
    """Return the class as Tolerances writes it; one that no rule names allows nothing more."""
    said = row.name("object_class")
    named = (*classes_of(book.tolerances), *guaranteed_classes(book.guarantees))
    known: dict[str, str] = {}
    for name in named:
        known.setdefault(name.casefold(), name)
    if said and said.casefold() not in known:
        row.warning(
            "object_class",
            "object-class-unknown",
            f"No rule in Tolerances names '{said}', so nothing may be billed above what is "
            "authorised",
            f"Type one of: {', '.join(known.values())}; or leave it empty"
            if known
            else "Leave it empty; the book has no sheet Tolerances",
        )
        return said
    spelled = known.get(said.casefold(), said)
    row.put_back("object_class", spelled)
    return spelled


def _filled_in(row: Row, day: date) -> date:
    """Return the as-of day for a job without opening date; one with a number gets it written."""
    if row.job and row.raw("opened") is None:
        row.echoed(
            "opened",
            "date-filled-in",
            f"The job had no opening date; {day.isoformat()} was filled in",
            "Labour is billed at the rates of that day: put the right date in",
        )
        row.echo("opened", serial_of(day))
    return day


def _look_for_near_name(row: Row, job: Job, names: Mapping[str, str]) -> None:
    if not job.customer or job.customer.casefold() in names:
        return
    near = near_match(job.customer, names.values())
    if near:
        row.warning(
            "customer",
            "customer-near",
            f"'{job.customer}' is new, but much like '{near}'",
            "If they are one customer, type the name as it stands in Customers",
        )


def _invoice_gone(row: Row, book: ShopBook) -> bool:
    """Whether the invoice of a job is gone from the register; it would be billed once more."""
    said = row.raw("invoice")
    gone = isinstance(said, str) and said not in book.invoices
    if gone:
        row.error(
            "invoice",
            "invoice-gone",
            f"Invoice '{said}' stands here and is not in Invoices",
            "Take its rows in Invoices and Invoice lines from a backup; if it was never issued, "
            "delete the number here",
        )
    return gone


def _from_archive(job: Job, archived: ArchivedJobs) -> Job:
    """Return a job whose sheet was moved to the archive book, with the lines it had."""
    costs = archived.costs[job.number]
    return replace(
        job,
        lines=tuple(cost.line for cost in costs),
        last_line_id=costs[-1].line.line_id,
        unreadable=job.number in archived.broken,
        archived=costs,
    )


def _with_lines(
    job: Job,
    row: Row,
    reading: Reading,
    known: tuple[ShopBook, Mapping[int, LineTime]],
    lines: dict[str, JobLines],
) -> Job:
    """Return the job with the lines on its sheet; `known` is the book and its lines' minutes."""
    grid = reading.places.jobs.get(job_table(job.number))
    if grid is None:
        if job.state not in (*WITHOUT_NUMBER, "declined", "void"):
            row.error(
                "number",
                "job-sheet-missing",
                f"Job {job.number} has no sheet of lines",
                "Take the sheet from a backup, or clear the number to have a new one made",
            )
            return replace(job, unreadable=True)
        return job
    sheet = reading.sheets[grid.sheet]
    found = read_job_lines(sheet, grid, reading.gathered, job, *known)
    lines[job.number] = found
    return replace(
        job,
        lines=tuple(sorted(found.lines.values(), key=lambda line: line.line_id)),
        last_line_id=found.last_id,
        unreadable=found.broken,
    )
