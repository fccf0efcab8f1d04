"""From a snapshot to the typed shop book, with everything that should be mended on the way."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from ledger_tools.book.cells import Gathered, Row
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    PAYMENTS_TABLE,
    TableLayout,
    job_table,
)
from ledger_tools.book.parse_catalogue import read_catalogue
from ledger_tools.book.parse_invoices import read_invoices
from ledger_tools.book.parse_lines import JobLines, read_job_lines
from ledger_tools.book.parse_settings import read_profile, read_settings, whole_at
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
    places = find_places(snapshot)
    settings = read_settings(snapshot, gathered)
    if places.missing:
        return _unsound(snapshot, places, gathered, as_of)
    reading = _Reading(snapshot, places, gathered)
    profile = read_profile(snapshot, places, gathered, settings.digits)
    catalogue = read_catalogue(reading.rows)
    book = ShopBook(
        settings,
        as_of,
        profile,
        catalogue,
        customers=tuple(_customers(reading)),
        payments=tuple(_payments(reading)),
        authorisations=tuple(_authorisations(reading)),
        invoices=read_invoices(reading.rows, settings.currency, Rounding(settings.digits)),
        last_job=whole_at(snapshot, NAME_LAST_JOB),
        last_invoice=whole_at(snapshot, NAME_LAST_INVOICE),
    )
    jobs, lines = _jobs(reading, book)
    book = replace(book, jobs=jobs)
    _check_payments(reading, book)
    return Parsed(snapshot, places, book, gathered, lines, sound=True)


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
        name = row.needed("name", row.text, "customer-missing", "The customer has no name")
        words = [row.text(key) for key in ("address", "contact", "tax_number", "note")]
        if name and name.casefold() in seen:
            row.warning(
                "name", "customer-twice", f"'{name}' stands here twice", "Keep one of the rows"
            )
        elif name:
            seen.add(name.casefold())
            yield Customer(name, *words)


def _payments(reading: _Reading) -> Iterator[Payment]:
    for row in reading.rows(PAYMENTS_TABLE, "day", "invoice", "amount"):
        day = row.needed("day", row.day, "date-missing", "The payment has no date")
        invoice = row.text("invoice")
        amount = row.needed(
            "amount",
            partial(row.number, negative=True),
            "amount-missing",
            "The payment has no amount",
        )
        if day and amount is not None and not row.broken:
            yield Payment(day, invoice, amount, row.text("how"), row.text("note"))


def _check_payments(reading: _Reading, book: ShopBook) -> None:
    for row in reading.rows(PAYMENTS_TABLE, "amount"):
        number = row.text("invoice")
        if number not in book.invoices:
            what = f"No invoice '{number}' was issued" if number else "No invoice is named"
            row.warning(
                "invoice",
                "payment-without-invoice",
                f"{what}, so the payment counts for none",
                "Type the invoice number as it stands in Invoices",
            )


def _authorisations(reading: _Reading) -> Iterator[Authorisation]:
    for row in reading.rows(AUTHORISATIONS_TABLE, "job", "amount"):
        job = row.needed("job", row.text, "job-missing", "The authorisation names no job")
        day = row.needed("day", row.day, "date-missing", "The authorisation has no date")
        amount = row.needed("amount", row.number, "amount-missing", "No amount is authorised")
        if job and day and amount is not None:
            words = [row.text(key) for key in ("who", "how", "scope", "taken_by", "evidence")]
            yield Authorisation(job, day, amount, *words)


def _jobs(reading: _Reading, book: ShopBook) -> tuple[tuple[Job, ...], dict[str, JobLines]]:
    jobs: list[Job] = []
    lines: dict[str, JobLines] = {}
    seen: dict[str, int] = {}
    for row in reading.rows(JOBS_TABLE, "number", "customer", "item", "repair", "state"):
        job = _job(row, book)
        if job.number and job.number.casefold() in seen:
            _say_twice(row, job.number, seen[job.number.casefold()])
            job = replace(job, unreadable=True)
        seen.setdefault(job.number.casefold(), row.row)
        if job.number and not job.unreadable:
            job = _with_lines(job, row, reading, book, lines)
        jobs.append(job)
    twice = {j.number.casefold() for j in jobs if j.number and j.unreadable}
    held = tuple(replace(j, unreadable=True) if j.number.casefold() in twice else j for j in jobs)
    return held, lines


def _say_twice(row: Row, number: str, first: int) -> None:
    row.error(
        "number",
        "job-number-twice",
        f"Job number '{number}' stands in row {first} already",
        "Clear the number in the row that was copied; recompute gives it the next one",
    )


def _job(row: Row, book: ShopBook) -> Job:
    number = row.text("number")
    row.job = number
    opened = row.day("opened") or book.as_of
    customer = (
        row.needed("customer", row.text, "customer-missing", "The job has no customer") or ""
    )
    repair = row.text("repair")
    state = row.choice("state", TYPED_STATES, "state-unknown") or _NEW_STATE
    if repair and not known_repair(repair, book):
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
        item=row.text("item"),
        repair=repair,
        state=state,
        promised=row.day("promised"),
        note=row.text("note"),
    )
    _look_for_near_name(row, job, book)
    return replace(job, unreadable=row.broken)


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
