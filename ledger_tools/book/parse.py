"""From a snapshot to the typed shop book, with everything that should be mended on the way."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import Gathered, Row, serial_of
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    INVOICES_TABLE,
    JOBS_TABLE,
    NAME_AS_OF,
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    PAYMENTS_TABLE,
    START,
    TableLayout,
    job_table,
)
from ledger_tools.book.parse_catalogue import read_catalogue
from ledger_tools.book.parse_invoices import read_invoices
from ledger_tools.book.parse_lines import JobLines, read_job_lines
from ledger_tools.book.parse_settings import place_of, read_profile, read_settings, whole_at
from ledger_tools.book.places import Places, find_places
from ledger_tools.errors import NotAShopBookError, Severity
from ledger_tools.money import Rounding
from ledger_tools.shop.intake import WITHOUT_NUMBER, known_repair, near_match
from ledger_tools.shop.model import (
    TYPED_STATES,
    Authorisation,
    Customer,
    Job,
    Payment,
    ShopBook,
)
from ledger_tools.shop.snapshot import Snapshot

_NEW_STATE = "estimated"


@dataclass(frozen=True, slots=True)
class Parsed:
    """A book as understood.

    Attributes:
        snapshot: The workbook as read.
        places: Where everything stands.
        book: The typed book.
        gathered: Findings and what is to be put back plainly.
        lines: For each job with a sheet, its line rows by job number.
        sound: Whether sheets and headers are all there; if not, nothing may be written.
    """

    snapshot: Snapshot
    places: Places
    book: ShopBook
    gathered: Gathered
    lines: Mapping[str, JobLines]
    sound: bool

    def had(self, job: Job) -> bool:
        """Whether the job's number stood in the workbook already."""
        return any(job.number == there.number for there in self.book.jobs)


class _Reading:
    def __init__(self, snapshot: Snapshot, places: Places, gathered: Gathered) -> None:
        self.sheets = {s.name: s for s in snapshot.sheets}
        self.places = places
        self.gathered = gathered

    def rows(self, layout: TableLayout, *keys: str) -> Iterator[Row]:
        """Yield the rows of a table that hold anything in `keys`."""
        if not self.places.has(layout):
            return
        grid = self.places.grid(layout)
        sheet = self.sheets[grid.sheet]
        for n in grid.rows:
            row = Row(sheet, grid, n, self.gathered)
            if row.holds(*keys):
                yield row


def parse(snapshot: Snapshot, *, as_of: date) -> Parsed:
    """Return the typed book in `snapshot`, as of a day, with all findings.

    Raises:
        NotAShopBookError: The workbook was not made as a shop book, or by a newer version.
    """
    _check_format(snapshot)
    gathered = Gathered(snapshot.file)
    places = _with_start(find_places(snapshot), snapshot)
    settings = read_settings(snapshot, Gathered("") if places.missing else gathered)
    if places.missing:
        return _unsound(snapshot, places, gathered, as_of)
    reading = _Reading(snapshot, places, gathered)
    profile = read_profile(snapshot, places, gathered, settings.digits)
    catalogue = read_catalogue(reading.rows)
    invoices = read_invoices(reading.rows, settings.currency, Rounding(settings.digits))
    book = ShopBook(
        settings,
        as_of,
        profile,
        catalogue,
        customers=tuple(_customers(reading)),
        payments=tuple(_payments(reading, invoices, as_of)),
        authorisations=tuple(_authorisations(reading)),
        invoices=invoices,
        last_job=whole_at(snapshot, NAME_LAST_JOB),
        last_invoice=whole_at(snapshot, NAME_LAST_INVOICE),
    )
    jobs, lines = _jobs(reading, book)
    book = replace(book, jobs=jobs)
    _check_authorisations(reading, book)
    return Parsed(snapshot, places, book, gathered, lines, sound=True)


def _with_start(places: Places, snapshot: Snapshot) -> Places:
    """Return `places`, with `Start` missing where its settings have no cell any more."""
    if place_of(NAME_AS_OF, snapshot) is not None:
        return places
    return replace(places, missing=((START, ""), *places.missing))


def _check_format(snapshot: Snapshot) -> None:
    said = snapshot.properties.get(FORMAT_PROPERTY, "")
    if not said.isdigit():
        raise NotAShopBookError(
            snapshot.file,
            f"the workbook lacks the property '{FORMAT_PROPERTY}', so it is not a shop book",
            "Give the file that 'ledger-tools new' made, or a copy of it",
        )
    if int(said) > BOOK_FORMAT:
        raise NotAShopBookError(
            snapshot.file,
            f"the shop book has format {said}, this program knows {BOOK_FORMAT}",
            "Install a newer version of ledger-tools",
        )


def _unsound(snapshot: Snapshot, places: Places, gathered: Gathered, as_of: date) -> Parsed:
    for sheet, header in places.missing:
        what = f"The column '{header}' is missing" if header else f"The sheet '{sheet}' is missing"
        gathered.add(
            Severity.ERROR,
            "header-missing" if header else "sheet-missing",
            what,
            "Put it back as it was, or take the book from its backups; nothing was written",
            sheet=sheet,
        )
    settings = read_settings(snapshot, Gathered(snapshot.file))
    profile = read_profile(snapshot, None, gathered, settings.digits)
    book = ShopBook(settings, as_of, profile, read_catalogue(lambda *_: iter(())))
    return Parsed(snapshot, places, book, gathered, {}, sound=False)


def _customers(reading: _Reading) -> Iterator[Customer]:
    seen: set[str] = set()
    for row in reading.rows(CUSTOMERS_TABLE, "name", "address", "contact"):
        name = row.needed("name", row.name, "customer-missing", "The customer has no name")
        words = [row.text(key) for key in ("address", "contact", "tax_number", "note")]
        if name and name.casefold() in seen:
            row.warning(
                "name", "customer-twice", f"'{name}' stands here twice", "Keep one of the rows"
            )
        elif name:
            seen.add(name.casefold())
            yield Customer(name, *words)


def _payments(
    reading: _Reading, invoices: Mapping[str, Invoice], as_of: date
) -> Iterator[Payment]:
    """Yield the payments; money that came in counts, though its date be missing."""
    issued = {number.casefold(): number for number in invoices}
    for row in reading.rows(PAYMENTS_TABLE, "day", "invoice", "amount"):
        day = row.needed("day", row.day, "date-missing", "The payment has no date")
        said = row.name("invoice")
        invoice = issued.get(said.casefold(), said)
        amount = row.needed(
            "amount",
            partial(row.number, negative=True),
            "amount-missing",
            "The payment has no amount",
        )
        words = [row.text(key) for key in ("how", "note")]
        if amount is None:
            continue
        if invoice not in invoices and not row.has_formula("invoice"):
            what = f"No invoice '{invoice}' was issued" if invoice else "No invoice is named"
            row.warning(
                "invoice",
                "payment-without-invoice",
                f"{what}, so the payment counts for none",
                "Type the invoice number as it stands in Invoices",
            )
        yield Payment(day or as_of, invoice, amount, *words)


def _authorisations(reading: _Reading) -> Iterator[Authorisation]:
    for row in reading.rows(AUTHORISATIONS_TABLE, "job", "amount"):
        job = row.needed("job", row.name, "job-missing", "The authorisation names no job")
        row.job = job or ""
        day = row.needed("day", row.day, "date-missing", "The authorisation has no date")
        amount = row.needed("amount", row.number, "amount-missing", "No amount is authorised")
        words = [row.text(key) for key in ("who", "how", "scope", "taken_by", "evidence")]
        if job and day and amount is not None:
            yield Authorisation(job, day, amount, *words)


def _check_authorisations(reading: _Reading, book: ShopBook) -> None:
    known = {job.number.casefold() for job in book.jobs}
    for row in reading.rows(AUTHORISATIONS_TABLE, "job"):
        said = row.raw("job")
        if isinstance(said, str) and said.casefold() not in known and not row.has_formula("job"):
            row.warning(
                "job",
                "authorisation-without-job",
                f"There is no job '{said}', so the authorisation counts for none",
                "Type the job number as it stands in Jobs",
            )


def _jobs(reading: _Reading, book: ShopBook) -> tuple[tuple[Job, ...], dict[str, JobLines]]:
    jobs: list[Job] = []
    lines: dict[str, JobLines] = {}
    seen: dict[str, int] = {}
    unsure = _unsure_whether_billed(reading)
    for row in reading.rows(JOBS_TABLE, "number", "customer", "item", "repair", "state"):
        job = _job(row, book)
        if job.number and job.number.casefold() in seen:
            _say_twice(row, job.number, seen[job.number.casefold()])
            job = replace(job, unreadable=True)
        seen.setdefault(job.number.casefold(), row.row)
        if job.number and not job.unreadable:
            job = _with_lines(job, row, reading, book, lines)
        jobs.append(replace(job, unreadable=True) if job.number.casefold() in unsure else job)
    twice = {j.number.casefold() for j in jobs if j.number and j.unreadable}
    held = tuple(replace(j, unreadable=True) if j.number.casefold() in twice else j for j in jobs)
    return held, lines


def _unsure_whether_billed(reading: _Reading) -> set[str]:
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


def _job(row: Row, book: ShopBook) -> Job:
    number = row.name("number")
    row.job = number
    opened = row.day("opened") or _filled_in(row, book.as_of)
    customer = (
        row.needed("customer", row.name, "customer-missing", "The job has no customer") or ""
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
        customer=customer,
        item=row.name("item"),
        repair=repair,
        state=state,
        promised=row.day("promised"),
        note=row.text("note"),
    )
    _look_for_near_name(row, job, book)
    return replace(job, unreadable=row.broken)


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


def _look_for_near_name(row: Row, job: Job, book: ShopBook) -> None:
    names = {c.name.casefold(): c.name for c in book.customers}
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


def _with_lines(
    job: Job, row: Row, reading: _Reading, book: ShopBook, lines: dict[str, JobLines]
) -> Job:
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
    found = read_job_lines(sheet, grid, reading.gathered, job, book)
    lines[job.number] = found
    return replace(
        job,
        lines=tuple(sorted(found.lines.values(), key=lambda line: line.line_id)),
        last_line_id=found.last_id,
        unreadable=found.broken,
    )
