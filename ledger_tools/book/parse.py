"""From a snapshot to the typed shop book, with everything that should be mended on the way."""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date
from functools import partial
from typing import NamedTuple

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import Gathered
from ledger_tools.book.covered import say_covered
from ledger_tools.book.formulas.registers import TITLE
from ledger_tools.book.formulas.text import same_formula
from ledger_tools.book.job_layout import job_table
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    PAYMENTS_TABLE,
    START,
    TIME_TABLE,
    TableLayout,
)
from ledger_tools.book.locate import find_places
from ledger_tools.book.names import NAME_AS_OF
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.parse_archived import read_archived
from ledger_tools.book.parse_catalogue import read_catalogue
from ledger_tools.book.parse_invoices import read_invoices
from ledger_tools.book.parse_jobs import read_jobs
from ledger_tools.book.parse_lines import JobLines
from ledger_tools.book.parse_settings import place_of, read_counts, read_profile, read_settings
from ledger_tools.book.places import Missing, Places
from ledger_tools.book.rows import Reading, Row
from ledger_tools.book.under import row_apart
from ledger_tools.book.when_there import check_what_is_there, read_what_is_there
from ledger_tools.costing.catalogue import Catalogue
from ledger_tools.errors import NotAShopBookError, Severity
from ledger_tools.money import Rounding, plain
from ledger_tools.shop.model import (
    Authorisation,
    Customer,
    Job,
    Payment,
    ShopBook,
)
from ledger_tools.shop.snapshot import Snapshot

_TYPED_TOGETHER: Mapping[TableLayout, tuple[str, ...]] = {
    JOBS_TABLE: ("customer", "item"),
    CUSTOMERS_TABLE: ("name", "address"),
    PAYMENTS_TABLE: ("invoice", "amount"),
    AUTHORISATIONS_TABLE: ("job", "amount"),
    TIME_TABLE: ("day", "job"),
    OPTIONS_TABLE: ("job", "option"),
}
"""Columns that an entry has filled, whereas a remark under the table has not."""


class Parsed(NamedTuple):
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
    reading = Reading({s.name: s for s in snapshot.sheets}, places, gathered)
    profile = read_profile(snapshot, places, gathered, settings.digits)
    catalogue = read_catalogue(reading)
    money = Rounding(settings.digits)
    read = read_what_is_there(reading, settings.currency, money)
    invoices = read_invoices(reading, settings.currency, money)
    last_job, last_invoice = read_counts(snapshot, gathered)
    book = ShopBook(
        settings,
        as_of,
        profile,
        catalogue,
        read.tolerances,
        customers=tuple(_customers(reading)),
        payments=tuple(_payments(reading, invoices, as_of)),
        authorisations=tuple(_authorisations(reading)),
        invoices=invoices,
        estimates=read.estimates,
        last_job=last_job,
        last_invoice=last_invoice,
        time=tuple(found.entry for found in read.time),
        options=tuple(found.option for found in read.options),
        guarantees=read.guarantees,
    )
    archived = read_archived(reading.rows, money)
    jobs, lines = read_jobs(reading, book, archived)
    book = replace(book, jobs=jobs)
    _check_authorisations(reading, book)
    check_what_is_there(read, book)
    _say_rows_apart(reading)
    _say_rows_missing(reading, book)
    say_covered(reading)
    return Parsed(snapshot, places, book, gathered, lines, sound=True)


def _say_rows_apart(reading: Reading) -> None:
    """Warn of rows typed so far under a table that they are not taken for its own."""
    for layout, keys in _TYPED_TOGETHER.items():
        if not reading.places.has(layout):
            continue
        grid = reading.places.grid(layout)
        cols = tuple(grid.columns[key] for key in keys)
        row = row_apart(reading.sheets[grid.sheet], grid.last_row, cols)
        if row:
            reading.gathered.add(
                Severity.WARNING,
                "row-apart",
                f"What stands in row {row} is not read: the table ends in row {grid.last_row}",
                "Move it up, right under the last row of the table",
                sheet=grid.sheet,
                place=(row, cols[0]),
            )


def _say_rows_missing(reading: Reading, book: ShopBook) -> None:
    """Warn of job sheets whose row in Jobs is gone, and of copies: they are not billed."""
    if any(job.unreadable and not job.number for job in book.jobs):
        return  # One of them may be the row in question, and is named already.
    known = {job_table(job.number).casefold(): job.number for job in book.jobs}
    register = reading.places.grid(JOBS_TABLE).sheet
    for name, grid in reading.places.jobs.items():
        if name.casefold() in known:
            continue
        title = str(reading.sheets[grid.sheet].values.get(grid.cells["number"], ""))
        copied = job_table(title).casefold() in known
        what = f"This sheet is a copy of that of job {title}; nothing on it is billed"
        remedy = f"Delete it; another job begins with a row in '{register}' and gets its own sheet"
        if not copied:
            what = "This sheet holds the lines of a job that has no row in Jobs; it is not billed"
            remedy = f"Put the row back into '{register}' with its number, or delete this sheet"
        reading.gathered.add(
            Severity.WARNING,
            "job-sheet-copied" if copied else "job-row-missing",
            what,
            remedy,
            sheet=grid.sheet,
        )


def _with_start(places: Places, snapshot: Snapshot) -> Places:
    """Return `places`, with `Start` missing where its settings have no cell any more."""
    found = place_of(NAME_AS_OF, snapshot)
    if found is None:
        return replace(places, missing=(Missing(START), *places.missing))
    formulas = next((s.formulas for s in snapshot.sheets if s.name == found[0]), {})
    titles = (place for place, formula in formulas.items() if same_formula(formula, TITLE))
    title = next(titles, None)
    return replace(places, title=(found[0], title) if title else None)


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
    for missing in places.missing:
        what, remedy = _what_is_missing(missing)
        gathered.add(
            Severity.ERROR,
            "header-missing" if missing.header else "sheet-missing",
            what,
            f"{remedy}; nothing was written",
            sheet=missing.sheet,
            place=missing.taken or missing.apart,
        )
    settings = read_settings(snapshot, Gathered(snapshot.file))
    profile = read_profile(snapshot, None, gathered, settings.digits)
    book = ShopBook(settings, as_of, profile, Catalogue((), (), ()))
    return Parsed(snapshot, places, book, gathered, {}, sound=False)


def _what_is_missing(missing: Missing) -> tuple[str, str]:
    """Return what is to be said of something that should be there, and what to do."""
    sheet, header, row, apart, taken = missing
    if taken is not None:
        what = "something of yours stands there or has its name"
        remedy = "Move it some columns to the right, or give your own column another header"
        return f"A column '{header}' is to be added right of the table, and {what}", remedy
    if apart is not None:
        return (
            f"The column '{header}' stands outside the table",
            "Cut the column and insert it between those of the table",
        )
    if header:
        where = f"in row {row}, over its column or a new one inserted into the table"
        remedy = f"Type '{header}' again {where}, or take the book from its backups"
        return f"The column '{header}' is missing", remedy
    return (
        f"The sheet '{sheet}' is missing, or has lost its headers",
        "Put sheet and headers back as they were, or take the book from its backups",
    )


def _customers(reading: Reading) -> Iterator[Customer]:
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


def _payments(reading: Reading, invoices: Mapping[str, Invoice], as_of: date) -> Iterator[Payment]:
    """Yield the payments; money that came in counts, though its date be missing."""
    issued = {number.casefold(): number for number in invoices}
    for row in reading.rows(PAYMENTS_TABLE, "day", "invoice", "amount"):
        day = row.needed("day", row.day, "date-missing", "The payment has no date")
        said = row.text("invoice").strip()
        invoice = issued.get(said.casefold(), said)
        row.put_back("invoice", invoice)
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


def _authorisations(reading: Reading) -> Iterator[Authorisation]:
    for row in reading.rows(AUTHORISATIONS_TABLE, "job", "amount"):
        job = row.needed("job", row.name, "job-missing", "The authorisation names no job")
        row.job = job or ""
        day = row.needed("day", row.day, "date-missing", "The authorisation has no date")
        amount = row.needed("amount", row.number, "amount-missing", "No amount is authorised")
        who, how, scope, taken_by, evidence = (
            row.text(key) for key in ("who", "how", "scope", "taken_by", "evidence")
        )
        if job and day and amount is not None:
            yield Authorisation(job, day, amount, who, how, scope, taken_by, evidence, row.row)


def _check_authorisations(reading: Reading, book: ShopBook) -> None:
    """Find authorisations of no job, below an earlier one, or given once all was done.

    What stands against a job that is to be invoiced is an error, and holds it back.
    """
    known = {job.number.casefold(): job for job in book.jobs}
    rows: dict[int, Row] = {}
    for row in reading.rows(AUTHORISATIONS_TABLE, "job"):
        rows[row.row] = row
        said = row.raw("job")
        if isinstance(said, str) and said.casefold() not in known and not row.has_formula("job"):
            row.warning(
                "job",
                "authorisation-without-job",
                f"There is no job '{said}', so the authorisation counts for none",
                "Type the job number as it stands in Jobs",
            )
    issued = {invoice.job.casefold(): invoice for invoice in book.invoices.values()}
    highest: dict[str, Authorisation] = {}
    worked: dict[str, date] = {}
    for entry in book.time:
        if entry.day is not None:
            key = entry.job.casefold()
            worked[key] = max(entry.day, worked.get(key, entry.day))
    for given in sorted(book.authorisations, key=lambda a: (a.day, a.row)):
        key = given.job.casefold()
        before = highest.get(key)
        row, invoice, job = rows[given.row], issued.get(key), known.get(key)
        if before is None or given.amount > before.amount:
            highest[key] = given
        due = invoice is None and job is not None and job.state == "to invoice"
        if due and job is not None:
            row.job = job.number
        _check_authorisation(row, given, before, invoice, due=due)
        if due and before is None:
            _check_consent(row, given, worked.get(key), book.as_of)


def _check_consent(row: Row, first: Authorisation, worked: date | None, as_of: date) -> None:
    """Refuse a first authorisation that is dated after all the work it is to cover."""
    if worked is not None and first.day > worked:
        row.error(
            "day",
            "authorisation-late",
            f"It is dated after the last work on the job, of {worked.isoformat()} in Time",
            "Put the right day in; consent given later does not cover what was done before",
        )
    elif first.day > as_of:
        row.error(
            "day",
            "authorisation-late",
            f"The job is to be invoiced on {as_of.isoformat()}, before the day of its consent",
            "Put the right day in; consent given later does not cover what was done before",
        )


def _check_authorisation(
    row: Row,
    given: Authorisation,
    before: Authorisation | None,
    invoice: Invoice | None,
    *,
    due: bool,
) -> None:
    """Say where one authorisation makes no sense beside the one before it and the invoice."""
    if before is not None and given.amount < before.amount:
        what = (
            f"{plain(given.amount)} is less than the {plain(before.amount)} authorised on "
            f"{before.day.isoformat()}, which stay the limit"
        )
        remedy = "Type the total now authorised, not the addition"
        if due:
            row.error("amount", "authorisation-lower", what, remedy)
        else:
            row.warning("amount", "authorisation-lower", what, remedy)
    if invoice is not None and given.day > invoice.day:
        row.warning(
            "day",
            "authorisation-late",
            f"It was given after invoice {invoice.number} of {invoice.day.isoformat()} went out",
            "Put the right day in; consent given later does not cover what was billed before",
        )
