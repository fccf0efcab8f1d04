"""Opening a job: its number, its lines from the catalogue, its customer."""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from decimal import Decimal

from ledger_tools.billing.numbering import number_from, sequence_of
from ledger_tools.costing.catalogue import Catalogue, Operation, RepairType, material_named
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.costing.sublet import price_from_markup
from ledger_tools.errors import UnknownClassError, UnknownRepairError
from ledger_tools.money import ZERO
from ledger_tools.shop.model import Authorisation, Customer, Job, ShopBook

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
        part_status=step.part_status,
        vendor=step.vendor,
        cost=step.cost,
        tax_class=step.tax_class,
    )


def price_of(
    price: Decimal | None, cost: Decimal | None, markup: Decimal | None
) -> Decimal | None:
    """Return the unit price: the price itself, else cost with its markup, else None.

    A unit price is never rounded; the line's amount is, once.
    """
    if price is not None or cost is None:
        return price
    return price_from_markup(cost, markup=markup or ZERO)


def stocked(line: Line, catalogue: Catalogue) -> Line:
    """Return a material line with price, unit and cost from Materials where it has none."""
    if line.kind is not Kind.MATERIAL or line.price is not None:
        return line
    known = material_named(line.description, catalogue.materials)
    if known is None:
        return line
    cost = known.cost if line.cost is None else line.cost
    return replace(line, price=known.price, unit=line.unit or known.unit, cost=cost)


def known_repair(code: str, book: ShopBook) -> RepairType | None:
    """Return the repair type with this code, however its letters are cased."""
    wanted = code.casefold()
    return next((r for r in book.catalogue.repairs if r.code.casefold() == wanted), None)


def draft_job(  # noqa: PLR0913 - what a job is opened with
    customer: str,
    item: str,
    *,
    repair: str,
    state: str,
    opened: date,
    lines: tuple[Line, ...] = (),
) -> Job:
    """Return a job that is not in the book yet. Blanks around words are nothing."""
    return Job(
        number="",
        row=0,
        opened=opened,
        customer=" ".join(customer.split()),
        item=item.strip(),
        repair=repair.strip(),
        state=state,
        lines=lines,
    )


def fitted(draft: Job, book: ShopBook) -> Job:
    """Return `draft` with its codes and classes written as the book has them.

    Raises:
        UnknownRepairError: The repair type is not in the catalogue.
        UnknownClassError: A line names a labour or tax class the book does not have.
    """
    if draft.repair and known_repair(draft.repair, book) is None:
        codes = ", ".join(r.code for r in book.catalogue.repairs)
        raise UnknownRepairError(
            "sheet 'Repairs'", f"there is no repair code '{draft.repair}'", f"Give one of: {codes}"
        )
    return replace(draft, lines=tuple(_fitted_line(line, book) for line in draft.lines))


def _fitted_line(line: Line, book: ShopBook) -> Line:
    tax_class = _known(line.tax_class, book.profile.taxable, "tax class", "Taxes")
    if line.kind is not Kind.LABOUR:
        return replace(line, tax_class=tax_class)
    classes = dict.fromkeys(rate.labour_class for rate in book.catalogue.rates)
    said = line.labour_class or book.settings.default_class
    labour_class = _known(said, classes, "labour class", "Rates")
    return replace(line, tax_class=tax_class, labour_class=labour_class)


def _known(said: str, words: Iterable[str], what: str, sheet: str) -> str:
    words = tuple(words)
    for word in words:
        if word.casefold() == said.casefold():
            return word
    if said:
        raise UnknownClassError(
            f"sheet '{sheet}'", f"there is no {what} '{said}'", f"Give one of: {', '.join(words)}"
        )
    return ""


def first_authorisation(amount: Decimal, day: date) -> Authorisation:
    """Return the authorisation a job is opened with; the job's number is filled in later."""
    return Authorisation("", day, amount, scope="as estimated")


def highest_job(book: ShopBook) -> int:
    """Return the highest sequence number any job has or ever had."""
    pattern = book.settings.number_pattern
    given = (sequence_of(job.number, pattern) for job in book.jobs)
    return max([book.last_job, *(n for n in given if n)])


def open_jobs(book: ShopBook, *, drafts_only: bool = False) -> ShopBook:
    """Return the book with a number and lines for every job that has none and needs them.

    Jobs are numbered in the order of their rows. A job that cannot be read gets no number. With
    `drafts_only`, rows typed in the book are left waiting.
    """
    n = highest_job(book)
    jobs = []
    for job in book.jobs:
        opened = job
        if _to_open(job) and not (drafts_only and job.row):
            n += 1
            opened = _opened(job, n, book)
        jobs.append(opened)
    return replace(book, jobs=tuple(jobs), last_job=n)


def _to_open(job: Job) -> bool:
    return not job.number and not job.unreadable and job.state not in WITHOUT_NUMBER


def waiting_jobs(book: ShopBook) -> int:
    """Return how many typed rows have no number yet and need one."""
    return sum(_to_open(job) for job in book.jobs)


def _opened(job: Job, n: int, book: ShopBook) -> Job:
    repair = known_repair(job.repair, book) if job.repair else None
    lines = job.lines or (lines_of(repair, book.settings.default_class) if repair else ())
    lines = tuple(stocked(line, book.catalogue) for line in lines)
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
    from difflib import get_close_matches  # noqa: PLC0415 - seldom needed

    folded = {k.casefold(): k for k in known}
    close = get_close_matches(name.casefold(), folded, n=1, cutoff=0.85)
    return folded[close[0]] if close else ""
