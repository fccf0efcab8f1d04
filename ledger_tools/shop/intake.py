"""Opening a job: its number, its lines from the catalogue, its customer."""

from collections.abc import Iterable
from dataclasses import replace
from decimal import Decimal
from difflib import get_close_matches

from ledger_tools.billing.numbering import number_from, sequence_of
from ledger_tools.costing.catalogue import Operation, RepairType
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.shop.model import Customer, Job, ShopBook

WITHOUT_NUMBER = ("enquiry",)
"""States in which a job has neither number nor sheet yet."""


def lines_of(repair: RepairType, default_class: str) -> tuple[Line, ...]:
    """Return the usual lines of a repair type, with standard minutes and quantities."""
    return tuple(
        _line_of(operation, line_id, default_class)
        for line_id, operation in enumerate(repair.operations, 1)
    )


def _line_of(step: Operation, line_id: int, default_class: str) -> Line:
    labour = step.kind is Kind.LABOUR
    estimate = step.likely if labour else step.quantity
    return Line(
        line_id=line_id,
        kind=step.kind,
        description=step.description,
        unit="min" if labour else step.unit,
        estimate=None if estimate is None else Decimal(estimate),
        price=None if labour else price_of(step.price, step.cost, step.markup),
        labour_class=(step.labour_class or default_class) if labour else "",
        vendor=step.vendor,
        cost=step.cost,
        tax_class=step.tax_class,
    )


def price_of(price: Decimal | None, cost: Decimal | None, markup: Decimal | None) -> Decimal | None:
    """Return the unit price: the price itself, else cost with its markup, else None.

    A unit price is never rounded; the line's amount is, once.
    """
    if price is not None or cost is None:
        return price
    return cost * (1 + (markup or 0))


def known_repair(code: str, book: ShopBook) -> RepairType | None:
    """Return the repair type with this code, however its letters are cased."""
    wanted = code.casefold()
    return next((r for r in book.catalogue.repairs if r.code.casefold() == wanted), None)


def highest_job(book: ShopBook) -> int:
    """Return the highest sequence number any job has or ever had."""
    pattern = book.settings.number_pattern
    given = (sequence_of(job.number, pattern) for job in book.jobs)
    return max([book.last_job, *(n for n in given if n)])


def open_jobs(book: ShopBook) -> ShopBook:
    """Return the book with a number and lines for every job that has none and needs them.

    Jobs are numbered in the order of their rows. A job that cannot be read gets no number.
    """
    n = highest_job(book)
    jobs = []
    for job in book.jobs:
        opened = job
        if not job.number and not job.unreadable and job.state not in WITHOUT_NUMBER:
            n += 1
            opened = _opened(job, n, book)
        jobs.append(opened)
    return replace(book, jobs=tuple(jobs), last_job=n)


def _opened(job: Job, n: int, book: ShopBook) -> Job:
    repair = known_repair(job.repair, book) if job.repair else None
    lines = job.lines or (lines_of(repair, book.settings.default_class) if repair else ())
    return replace(
        job,
        number=number_from(book.settings.number_pattern, n, job.opened),
        repair=repair.code if repair else "",
        lines=lines,
        last_line_id=max((line.line_id for line in lines), default=0),
    )


def new_customers(book: ShopBook) -> tuple[Customer, ...]:
    """Return the customers that jobs name and the book does not hold, in the order of the jobs."""
    known = {c.name.casefold() for c in book.customers}
    new: dict[str, Customer] = {}
    for job in book.jobs:
        key = job.customer.casefold()
        if job.customer and key not in known and not job.unreadable:
            new.setdefault(key, Customer(job.customer, note="Added from a job"))
    return tuple(new.values())


def near_match(name: str, known: Iterable[str]) -> str:
    """Return a known name that `name` may be a slip of, or nothing."""
    folded = {k.casefold(): k for k in known}
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.85)
    return folded[close[0]] if close else ""
