"""From one financial year to the next: what a new book takes over, and that nothing is lost."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.periods import Period, year_of
from ledger_tools.billing.receivables import Receipt, Receivables, receivables_on
from ledger_tools.costing.time import TimeEntry
from ledger_tools.money import ZERO, plain
from ledger_tools.shop.intake import highest_job
from ledger_tools.shop.issue import highest_invoice
from ledger_tools.shop.model import Authorisation, Customer, Job, Option, Payment, ShopBook
from ledger_tools.shop.results import JobResult, paid_on

_CLOSED = ("declined", "void")
_HALF_A_YEAR = timedelta(days=183)


@dataclass(frozen=True, slots=True)
class Carried:
    """What the new book takes over beside settings, price lists and tax rules.

    Attributes:
        customers: All of them.
        jobs: Jobs not billed yet, enquiries too.
        authorisations: Of those jobs.
        invoices: Those that are not settled, and those the new year has a share in.
        estimates: Of those jobs.
        payments: On those invoices, and those that belong to no invoice.
        time: Entries of those jobs.
        options: Of those jobs.
    """

    customers: tuple[Customer, ...]
    jobs: tuple[Job, ...]
    authorisations: tuple[Authorisation, ...]
    invoices: tuple[Invoice, ...]
    payments: tuple[Payment, ...]
    time: tuple[TimeEntry, ...]
    estimates: tuple[Estimate, ...] = ()
    options: tuple[Option, ...] = ()


@dataclass(frozen=True, slots=True)
class Compared:
    """One thing that must be the same in both books, in words.

    Attributes:
        what: What is compared.
        old: What the old book says.
        new: What the new book says.
    """

    what: str
    old: str
    new: str

    @property
    def same(self) -> bool:
        """Whether the books agree."""
        return self.old == self.new


def year_to_open(today: date, *, first_month: int) -> Period:
    """Return the financial year whose first day lies nearest to `today`.

    >>> year_to_open(date(2025, 12, 19), first_month=1).name
    '2026'
    """
    return year_of(today + _HALF_A_YEAR, first_month=first_month)


def is_open(job: Job, results: Mapping[str, JobResult]) -> bool:
    """Whether a job is still to be billed."""
    result = results.get(job.number)
    return job.state not in _CLOSED and not job.archived and not (result and result.invoice)


def carry(book: ShopBook, results: Mapping[str, JobResult], *, first_day: date) -> Carried:
    """Return what the book of the year that begins on `first_day` takes over from `book`.

    An invoice goes along while anything is owing on it or was paid too much, and also where its
    day or a payment lies in the new year, which has to sum it up.
    """
    jobs = tuple(job for job in book.jobs if is_open(job, results))
    numbers = {job.number.casefold() for job in jobs if job.number}
    late = {p.invoice for p in book.payments if p.day >= first_day}
    invoices = tuple(
        invoice
        for number, invoice in book.invoices.items()
        if invoice.total != paid_on(number, book) or invoice.day >= first_day or number in late
    )
    kept = {invoice.number for invoice in invoices}
    return Carried(
        book.customers,
        jobs,
        tuple(a for a in book.authorisations if a.job.casefold() in numbers),
        invoices,
        tuple(p for p in book.payments if p.invoice in kept or p.invoice not in book.invoices),
        tuple(t for t in book.time if t.job.casefold() in numbers),
        tuple(e for e in book.estimates.values() if e.job.casefold() in numbers),
        tuple(o for o in book.options if o.job.casefold() in numbers),
    )


def compared(
    old: tuple[ShopBook, Mapping[str, JobResult]],
    new: tuple[ShopBook, Mapping[str, JobResult]],
    *,
    first_day: date,
) -> tuple[Compared, ...]:
    """Return what must be the same in the old book and in the new one, as both say it."""
    last_day = first_day - timedelta(days=1)
    (was, was_results), (now, now_results) = old, new

    def both(what: str, one: object, other: object) -> Compared:
        return Compared(what, str(one), str(other))

    return (
        both("Open jobs", _jobs(was, was_results), _jobs(now, now_results)),
        both("Each open job", _each(was, was_results), _each(now, now_results)),
        both(
            "Minutes in Time of open jobs", _minutes(was, was_results), _minutes(now, now_results)
        ),
        both("Their estimates", _estimates(was, was_results), _estimates(now, now_results)),
        both("Options", _options(was, was_results), _options(now, now_results)),
        both("Enquiries", _enquiries(was), _enquiries(now)),
        *(
            both(f"Owed on {day.isoformat()}", _owed(was, day), _owed(now, day))
            for day in dict.fromkeys((last_day, was.as_of))
        ),
        both("Highest job number", highest_job(was), highest_job(now)),
        both("Highest invoice number", highest_invoice(was), highest_invoice(now)),
        both("Customers", len(was.customers), len(now.customers)),
        both("Settings", was.settings, now.settings),
        both("Tax rules", _profile(was), _profile(now)),
        both("Price lists", was.catalogue, now.catalogue),
        both("Tolerances", _tolerances(was), _tolerances(now)),
        both("Guarantees", was.guarantees, now.guarantees),
    )


def _tolerances(book: ShopBook) -> tuple[object, ...]:
    return tuple(rule._replace(row=0) for rule in book.tolerances)


def _still_open(book: ShopBook, results: Mapping[str, JobResult]) -> list[JobResult]:
    return [results[j.number] for j in book.jobs if j.number and is_open(j, results)]


def _jobs(book: ShopBook, results: Mapping[str, JobResult]) -> str:
    """Return how many jobs are open and what they come to."""
    still_open = _still_open(book, results)
    promised = sum((r.estimate_total for r in still_open), start=ZERO)
    done = sum((r.total for r in still_open), start=ZERO)
    return f"{len(still_open)}, estimated {plain(promised)}, work so far {plain(done)}"


def _each(book: ShopBook, results: Mapping[str, JobResult]) -> str:
    """Return every open job with its figures."""
    return "; ".join(
        f"{r.job.number} {r.stands}: estimate {plain(r.estimate_total)}, work so far "
        f"{plain(r.total)}, {r.actual_minutes} min, "
        f"ceiling {'none' if r.ceiling is None else plain(r.ceiling)}"
        for r in sorted(_still_open(book, results), key=lambda r: r.job.number)
    )


def _minutes(book: ShopBook, results: Mapping[str, JobResult]) -> str:
    """Return how many entries of `Time` the open jobs have, and their minutes."""
    numbers = {r.job.number.casefold() for r in _still_open(book, results)}
    own = [entry for entry in book.time if entry.job.casefold() in numbers]
    return f"{len(own)} rows, {sum(entry.minutes or 0 for entry in own)} min"


def _estimates(book: ShopBook, results: Mapping[str, JobResult]) -> str:
    """Return the estimates of open jobs with their totals and acceptances."""
    still_open = {r.job.number for r in _still_open(book, results)}
    return "; ".join(
        f"{e.number} {plain(e.total)}{f' accepted {e.accepted.day}' if e.accepted else ''}"
        f"{f' declined {e.declined}' if e.declined else ''}"
        for e in sorted(book.estimates.values(), key=lambda e: e.number)
        if e.job in still_open
    )


def _options(book: ShopBook, results: Mapping[str, JobResult]) -> str:
    """Return the options of open jobs with their prices and what was chosen."""
    still_open = {r.job.number.casefold() for r in _still_open(book, results)}
    return "; ".join(
        f"{o.job} {o.option} {o.kind} {'' if o.price is None else plain(o.price)}"
        f"{f' chosen {o.chosen.day}' if o.chosen else ''}"
        for o in sorted(book.options, key=lambda o: (o.job, o.option))
        if o.job.casefold() in still_open
    )


def _enquiries(book: ShopBook) -> int:
    return sum(not job.number and job.state not in _CLOSED for job in book.jobs)


def owed_on(book: ShopBook, day: date) -> Receivables:
    """Return what customers owe at the end of `day`."""
    receipts = [Receipt(p.day, p.invoice, p.amount) for p in book.payments]
    return receivables_on(day, book.invoices.values(), receipts)


def _owed(book: ShopBook, day: date) -> str:
    owed = owed_on(book, day)
    ages = ", ".join(f"{debt.bucket}: {plain(debt.amount)}" for debt in owed.by_age)
    return (
        f"{plain(owed.total)} ({ages}, overpaid: {plain(owed.overpaid)}, "
        f"without invoice: {plain(owed.ahead)})"
    )


def _profile(book: ShopBook) -> str:
    profile = book.profile
    taxable = [(name, sorted(falls)) for name, falls in profile.taxable.items()]
    rates = [(r.component, r.first_day, r.rate.normalize(), r.source) for r in profile.rates]
    return repr((profile.name, profile.version, profile.rounding, taxable, rates))
