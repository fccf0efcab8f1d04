"""The whole computation, from a snapshot to a plan: nothing is read or written on the way."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, NamedTuple

from ledger_tools.book.adjusted import pass_adjustments, say_adjustments
from ledger_tools.book.layout import (
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    RATES_TABLE,
    TAX_RATES_TABLE,
)
from ledger_tools.book.parse import Parsed, parse
from ledger_tools.book.places import Places, book_format
from ledger_tools.book.planner import plan_book
from ledger_tools.book.planning import Additions
from ledger_tools.book.registers import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.when_there import (
    open_requests,
    say_declined,
    settle_acceptances,
    with_options_priced,
)
from ledger_tools.errors import (
    Finding,
    RateMissingError,
    RequestError,
    Severity,
    UnknownTaxClassError,
)
from ledger_tools.shop.intake import (
    WITHOUT_NUMBER,
    fitted,
    near_match,
    new_customers,
    open_jobs,
    waiting_jobs,
)
from ledger_tools.shop.issue import Issued, with_invoices
from ledger_tools.shop.model import Authorisation, Customer, Job, ShopBook
from ledger_tools.shop.plan import Plan
from ledger_tools.shop.results import JobResult, result_of
from ledger_tools.shop.snapshot import Snapshot

if TYPE_CHECKING:
    from ledger_tools.billing.estimate import Estimate
    from ledger_tools.shop.closing import Chosen
    from ledger_tools.shop.promise import Promised

_BEAR_ON_ALL = (RATES_TABLE, TAX_RATES_TABLE, INVOICES_TABLE, INVOICE_LINES_TABLE)
Issue = Callable[[Mapping[str, JobResult], ShopBook], Issued]
Promise = Callable[[Mapping[str, JobResult], ShopBook], "Promised"]
Choose = Callable[[Mapping[str, JobResult]], "Chosen"]


class Outcome(NamedTuple):
    """What the book comes to.

    Attributes:
        book: As it will be.
        results: What each readable job comes to, by job number.
        plan: What to write.
        places: Where everything stood in the book as read.
        findings: Everything to look at, in the order it was met.
        invoices: Numbers of newly issued invoices.
        estimates: Numbers of new estimates.
        again: Numbers of estimates asked for that were there already.
        opened: Numbers of newly opened jobs.
        archived: Numbers of the jobs whose sheets go.
        sound: Whether sheets and headers are all there; if not, the plan is empty.
    """

    book: ShopBook
    results: Mapping[str, JobResult]
    plan: Plan
    places: Places
    findings: tuple[Finding, ...]
    invoices: tuple[str, ...] = ()
    estimates: tuple[str, ...] = ()
    again: tuple[str, ...] = ()
    opened: tuple[str, ...] = ()
    archived: tuple[str, ...] = ()
    sound: bool = True


def work_out(
    snapshot: Snapshot,
    *,
    as_of: date,
    issue: Issue | None = None,
    promise: Promise | None = None,
) -> Outcome:
    """Return what the book comes to as of a day, and the plan that brings the workbook up to it.

    Rows of `Jobs` without number are opened; accepted estimates become authorisations; with
    `issue`, invoices are issued, with `promise`, estimates are written. A job that cannot be
    read is left out and named; the others are worked out.
    """
    parsed = parse(snapshot, as_of=as_of)
    if not parsed.sound:
        return _unsound(parsed)
    book = open_jobs(parsed.book)
    given, book = settle_acceptances(parsed, book)
    book = replace(book, authorisations=(*book.authorisations, *given))
    return _worked_out(parsed, book, authorised=given, issue=issue, promise=promise)


def archive_jobs(snapshot: Snapshot, choose: Choose, *, as_of: date) -> Outcome:
    """Return the book without the sheets of the jobs that `choose` takes, and the plan for it.

    The snapshot is one that was worked out: nothing waits in it. `choose` is given the jobs that
    no error bears upon.
    """
    parsed = parse(snapshot, as_of=as_of)
    if not parsed.sound:
        return _unsound(parsed)
    return _worked_out(parsed, parsed.book, choose=choose)


def add_job(
    snapshot: Snapshot, draft: Job, *, as_of: date, authorised: Authorisation | None = None
) -> Outcome:
    """Return the book with one job more, and the plan that writes that job and nothing else.

    The draft's lines are taken where it has any, else those of its repair type.
    """
    parsed = parse(snapshot, as_of=as_of)
    if not parsed.sound:
        return _unsound(parsed)
    if draft.state in WITHOUT_NUMBER and (draft.lines or authorised):
        raise RequestError(
            "",
            f"a job in state '{draft.state}' has no number and no sheet yet",
            "Leave lines and authorised amount out, or open it in another state",
        )
    _say_near_name(parsed, draft)
    waiting = waiting_jobs(parsed.book)
    book = replace(parsed.book, jobs=(*parsed.book.jobs, fitted(draft, parsed.book)))
    book = open_jobs(book, drafts_only=True)
    if waiting:
        parsed.gathered.add(
            Severity.NOTE,
            "jobs-waiting",
            f"{waiting} typed rows of Jobs have no number yet",
            "Run recompute to open them",
            sheet=parsed.places.grid(JOBS_TABLE).sheet,
        )
    given = () if authorised is None else (authorised._replace(job=book.jobs[-1].number),)
    book = replace(book, authorisations=(*book.authorisations, *given))
    # A book that is brought to another format is worked out whole: new cells get their figures.
    older = book_format(snapshot) < BOOK_FORMAT
    only = None if older else book.jobs[-1].number
    return _worked_out(parsed, book, only=only, authorised=given)


def _say_near_name(parsed: Parsed, draft: Job) -> None:
    """Warn of a new customer who may be one that is known already."""
    names = {customer.name.casefold(): customer.name for customer in parsed.book.customers}
    near = near_match(draft.customer, names.values())
    if near and draft.customer.casefold() not in names:
        parsed.gathered.add(
            Severity.WARNING,
            "customer-near",
            f"'{draft.customer}' is new, but much like '{near}'",
            "If they are one customer, correct the name in Jobs and clear the row in Customers",
            sheet=parsed.places.grid(CUSTOMERS_TABLE).sheet,
            passing=True,
        )


def _unsound(parsed: Parsed) -> Outcome:
    findings = tuple(parsed.gathered.findings)
    return Outcome(parsed.book, {}, Plan(()), parsed.places, findings, sound=False)


def _worked_out(  # noqa: PLR0913 - what the verbs add to working out
    parsed: Parsed,
    book: ShopBook,
    *,
    only: str | None = None,
    authorised: tuple[Authorisation, ...] = (),
    issue: Issue | None = None,
    promise: Promise | None = None,
    choose: Choose | None = None,
) -> Outcome:
    before = {job.number for job in parsed.book.jobs}
    opened = tuple(job.number for job in book.jobs if job.number and job.number not in before)
    customers = new_customers(book)
    _say_added(parsed, customers)
    book = replace(book, customers=(*book.customers, *customers))
    wanted = [j for j in book.jobs if _to_work_out(j, parsed) and only in (None, j.number)]
    results = _results(parsed, book, wanted)
    _say_ceilings(parsed, results)
    say_adjustments(parsed, results)
    _say_drift(parsed, book, results)
    say_declined(parsed, book, results)
    issued = Issued((), book.last_invoice, ())
    if issue is not None:
        issued = issue(_billable(parsed, results), book)
        book = with_invoices(book, issued)
        billed = {invoice.job for invoice in issued.invoices}
        results |= _results(parsed, book, [job for job in wanted if job.number in billed])
        _say_issued(parsed, issued)
        pass_adjustments(parsed, billed)
    book = with_options_priced(parsed, book, results)
    new: tuple[Estimate, ...] = ()
    again: tuple[str, ...] = ()
    if promise:
        from ledger_tools.shop.promise import with_estimates  # noqa: PLC0415 - few runs promise

        promised = _promised(parsed, book, results, promise)
        new, again = promised.new, promised.again
        book = with_estimates(book, promised)
        written = {estimate.job for estimate in new}
        results |= _results(parsed, book, [job for job in wanted if job.number in written])
    moving: tuple[str, ...] = ()
    if choose is not None:
        chosen = choose(_billable(parsed, results, "no job was archived"))
        moving = chosen.jobs
        from ledger_tools.shop.closing import with_archived  # noqa: PLC0415 - few runs archive

        book = with_archived(book, moving, results)
        moved = [job for job in book.jobs if job.number in moving]
        results |= _results(parsed, book, moved)
        _say_not_moved(parsed, chosen)
    additions = Additions(customers, authorised, issued.invoices, estimates=new)
    plan = plan_book(parsed, book, results, additions)
    return Outcome(
        book,
        results,
        plan,
        parsed.places,
        tuple(parsed.gathered.findings),
        tuple(i.number for i in issued.invoices),
        tuple(e.number for e in new),
        again,
        opened,
        moving,
    )


def _promised(
    parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult], promise: Promise
) -> "Promised":
    """Return the estimates of the jobs no error bears upon, and note what was said of them."""
    from ledger_tools.book.acceptances import registers_sound  # noqa: PLC0415 - few runs promise

    sound = registers_sound(parsed)
    billable = _billable(parsed, results, "no estimate was written") if sound else {}
    promised = promise(billable, book)
    for finding in promised.findings:
        parsed.gathered.passing[finding.severity] += 1
        parsed.gathered.findings.append(replace(finding, file=parsed.snapshot.file))
    return promised


def _say_added(parsed: Parsed, customers: tuple[Customer, ...]) -> None:
    for customer in customers:
        parsed.gathered.add(
            Severity.NOTE,
            "customer-added",
            f"'{customer.name}' was added to Customers",
            "Fill in the address before an invoice goes out",
            passing=True,
        )


def _to_work_out(job: Job, parsed: Parsed) -> bool:
    """Whether a job has a number and lines to work out; an old job may have lost its sheet."""
    gone = job.row and job.number not in parsed.lines and parsed.had(job) and not job.archived
    return bool(job.number) and not job.unreadable and not gone


def _billable(
    parsed: Parsed, results: Mapping[str, JobResult], else_said: str = "no invoice was issued"
) -> Mapping[str, JobResult]:
    """Return the jobs that no error bears upon; settings, rates and taxes bear upon all."""
    errors = [f for f in parsed.gathered.findings if f.severity is Severity.ERROR]
    grids = parsed.places.grids
    for_all = {grids[table.table].sheet for table in _BEAR_ON_ALL if table.table in grids}
    if any(f.sheet in for_all or f.code == "setting-unreadable" for f in errors):
        parsed.gathered.add(
            Severity.ERROR,
            "nothing-billed",
            "An error in settings, rates, taxes or invoices bears upon every job",
            f"Mend it first; {else_said}",
            passing=True,
        )
        return {}
    held = {f.job for f in errors}
    return {number: result for number, result in results.items() if number not in held}


def _results(parsed: Parsed, book: ShopBook, jobs: list[Job]) -> dict[str, JobResult]:
    invoices = {invoice.job: invoice for invoice in book.invoices.values()}
    requests = open_requests(book)
    results: dict[str, JobResult] = {}
    for job in jobs:
        try:
            results[job.number] = result_of(
                job, book, invoices.get(job.number), asked=job.number in requests
            )
        except (RateMissingError, UnknownTaxClassError) as problem:
            parsed.gathered.add(
                Severity.ERROR, problem.code, problem.what, problem.remedy,
                sheet="" if job.archived else job.number, job=job.number,
            )  # fmt: skip
    return results


def _say_ceilings(parsed: Parsed, results: Mapping[str, JobResult]) -> None:
    for number, result in results.items():
        taxed = "with tax" if result.held_against == result.total else "before tax"
        worked = f"{result.held_against} {taxed}"
        if result.above_ceiling and not result.invoice:
            grid = parsed.places.job(number)
            parsed.gathered.add(
                Severity.WARNING,
                "above-ceiling",
                f"The work comes to {worked}, authorised are {result.ceiling}",
                "Stop and have the rest authorised: a new row in Authorisations",
                sheet=grid.sheet if grid else number,
                place=grid.cells.get("flag") if grid else None,
                job=number,
            )


def _say_drift(parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult]) -> None:
    """Warn where a job comes to something else than the invoice that went out for it."""
    for number, result in results.items():
        invoice = book.invoices.get(result.invoice)
        if invoice is None or result.total == invoice.total:
            continue
        grid = parsed.places.job(number)
        parsed.gathered.add(
            Severity.WARNING,
            "invoice-differs",
            f"The job comes to {result.total} with tax, but its invoice {invoice.number} "
            f"went out with {invoice.total}",
            "The invoice stays as it is: undo what was changed since, be it a line, a rate or a "
            "setting on Start, or bill what was added as a new job",
            sheet=grid.sheet if grid else number,
            place=grid.cells.get("total_billed") if grid else None,
            job=number,
        )


def _say_not_moved(parsed: Parsed, chosen: "Chosen") -> None:
    """Add why a job was not archived, which does not stay in the book.

    Neither does what is to be said of a sheet that leaves it.
    """
    grids = [parsed.places.job(number) for number in chosen.jobs]
    gone = {grid.sheet for grid in grids if grid}
    for finding in parsed.gathered.findings:
        parsed.gathered.passing[finding.severity] += finding.sheet in gone
    for finding in chosen.findings:
        parsed.gathered.passing[finding.severity] += 1
        parsed.gathered.findings.append(replace(finding, file=parsed.snapshot.file))


def _say_issued(parsed: Parsed, issued: Issued) -> None:
    """Add what stood against billing; it was said of this batch and does not stay in the book."""
    gathered = parsed.gathered
    said = {f.job: n for n, f in enumerate(gathered.findings) if f.code == "above-ceiling"}
    for finding in issued.findings:
        gathered.passing[finding.severity] += 1
        if finding.code == "above-ceiling" and finding.job in said:
            # The refusal stands where the warning stood; the warning is what stays in the book.
            warning = gathered.findings[said[finding.job]]
            gathered.findings[said[finding.job]] = replace(
                finding, file=warning.file, sheet=warning.sheet, cell=warning.cell
            )
            gathered.passing[warning.severity] -= 1
        else:
            gathered.findings.append(replace(finding, file=parsed.snapshot.file))
