"""Small books as values, to try the rules on: no file, no sheet."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from ledger_tools.costing.catalogue import LabourRate
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.settings import load_seed
from ledger_tools.shop.model import Authorisation, Job, Payment, ShopBook
from ledger_tools.shop.results import JobResult, result_of

TODAY = date(2025, 3, 31)


def book_of(profile: str, *jobs: Job) -> ShopBook:
    """Return a new book of a shipped tax profile, its shop named, with these jobs in it."""
    book = load_seed(profile, as_of=TODAY)
    settings = replace(book.settings, name="Ferrow Metal Repair", address="4 Quay Lane")
    return replace(book, settings=settings, jobs=jobs)


def job_of(*lines: Line, number: str = "25-0001", state: str = "to invoice") -> Job:
    """Return a job opened today."""
    return Job(number, 5, TODAY, "R. Calder", "Oil pan", "", state, lines=lines)


def work(line_id: int, minutes: int, **more: object) -> Line:
    """Return a bench line without typed price."""
    line = Line(line_id, Kind.LABOUR, "Weld", "min", actual=Decimal(minutes), labour_class="bench")
    return replace(line, **more)  # type: ignore[arg-type]


def goods(line_id: int, kind: Kind, quantity: str, price: str, **more: object) -> Line:
    """Return a line that was used."""
    line = Line(line_id, kind, "Thing", "pc", actual=Decimal(quantity), price=Decimal(price))
    return replace(line, **more)  # type: ignore[arg-type]


def rate(labour_class: str, first_day: date, amount: str) -> LabourRate:
    """Return a labour rate from a day on."""
    return LabourRate(labour_class, first_day, Decimal(amount))


def authorised(book: ShopBook, amount: str, job: str = "25-0001") -> ShopBook:
    """Return the book with one authorisation more."""
    given = Authorisation(job, TODAY, Decimal(amount))
    return replace(book, authorisations=(*book.authorisations, given))


def paid(book: ShopBook, amount: str, invoice: str = "25-0001") -> ShopBook:
    """Return the book with one payment more."""
    return replace(book, payments=(*book.payments, Payment(TODAY, invoice, Decimal(amount))))


def results_of(book: ShopBook) -> dict[str, JobResult]:
    """Return what the jobs of a book come to."""
    invoices = {invoice.job: invoice for invoice in book.invoices.values()}
    return {job.number: result_of(job, book, invoices.get(job.number)) for job in book.jobs}


def decided(book: ShopBook, **settings: object) -> ShopBook:
    """Return the book with other settings."""
    return replace(book, settings=replace(book.settings, **settings))  # type: ignore[arg-type]


def text(amounts: Iterable[Decimal]) -> list[str]:
    """Return amounts as they are written."""
    return [str(amount) for amount in amounts]
