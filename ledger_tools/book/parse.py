"""From a snapshot to the typed shop book, with everything that should be mended on the way."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import Gathered
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    NAME_AS_OF,
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    PAYMENTS_TABLE,
    START,
)
from ledger_tools.book.locate import find_places
from ledger_tools.book.parse_catalogue import read_catalogue
from ledger_tools.book.parse_invoices import read_invoices
from ledger_tools.book.parse_jobs import read_jobs
from ledger_tools.book.parse_lines import JobLines
from ledger_tools.book.parse_settings import place_of, read_profile, read_settings, whole_at
from ledger_tools.book.places import Places
from ledger_tools.book.rows import Reading
from ledger_tools.costing.catalogue import Catalogue
from ledger_tools.errors import NotAShopBookError, Severity
from ledger_tools.money import Rounding
from ledger_tools.shop.model import (
    Authorisation,
    Customer,
    Job,
    Payment,
    ShopBook,
)
from ledger_tools.shop.snapshot import Snapshot


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
    invoices = read_invoices(reading, settings.currency, Rounding(settings.digits))
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
    jobs, lines = read_jobs(reading, book)
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
    book = ShopBook(settings, as_of, profile, Catalogue((), (), ()))
    return Parsed(snapshot, places, book, gathered, {}, sound=False)


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


def _authorisations(reading: Reading) -> Iterator[Authorisation]:
    for row in reading.rows(AUTHORISATIONS_TABLE, "job", "amount"):
        job = row.needed("job", row.name, "job-missing", "The authorisation names no job")
        row.job = job or ""
        day = row.needed("day", row.day, "date-missing", "The authorisation has no date")
        amount = row.needed("amount", row.number, "amount-missing", "No amount is authorised")
        words = [row.text(key) for key in ("who", "how", "scope", "taken_by", "evidence")]
        if job and day and amount is not None:
            yield Authorisation(job, day, amount, *words)


def _check_authorisations(reading: Reading, book: ShopBook) -> None:
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
