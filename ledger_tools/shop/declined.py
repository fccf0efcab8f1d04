"""Work that was advised and declined: it stays on record, and later papers say so."""

from collections.abc import Collection, Iterator, Mapping
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.advised import Advised, advised_wording
from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import InvoiceLine
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import ZERO, plain
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.papers import called, open_requests
from ledger_tools.shop.results import JobResult

_GOING_ON = ("authorised", "in work")


class Declined(NamedTuple):
    """One line the customer did not want.

    Attributes:
        request: The request it was asked for in.
        line: As asked for, with what was agreed before.
    """

    request: Estimate
    line: InvoiceLine

    @property
    def amount(self) -> Decimal:
        """What it would have added, whole minor units."""
        return self.line.amount - (self.line.before or ZERO)


def declined_lines(job: str, book: ShopBook) -> list[Declined]:
    """Return what was advised for a job and declined, by line; what was accepted later is not.

    Of a line that was declined more than once the last request counts.
    """
    found: dict[int, Declined] = {}
    papers = (e for e in book.estimates.values() if e.job == job)
    for paper in sorted(papers, key=lambda e: e.revision):
        for line in paper.changed:
            if paper.accepted:
                found.pop(line.line_id, None)
            elif paper.declined and paper.request and line.amount > (line.before or ZERO):
                found[line.line_id] = Declined(paper, line)
    return [found[line_id] for line_id in sorted(found)]


def declined_wording(job: str, book: ShopBook, *, but: Collection[int] = ()) -> Mapping[str, str]:
    """Return the entries that keep the declined lines of a job among the words of a paper.

    Args:
        job: Job number.
        book: The book.
        but: Lines that the paper asks for again.
    """
    return advised_wording(
        Advised(d.line.description, d.amount, d.request.day)
        for d in declined_lines(job, book)
        if d.line.line_id not in but
    )


def about_requests(book: ShopBook) -> Iterator[tuple[str, Finding]]:
    """Yield what is to be said of papers that were declined or wait, each with its number."""
    for paper in book.estimates.values():
        if paper.declined and paper.declined < paper.day:
            yield paper.number, Finding(
                Severity.ERROR, "declined-before",
                f"{called(paper).capitalize()} is dated {paper.day}, and declined on "
                f"{paper.declined}",
                "Correct the day under Declined on", job=paper.job,
            )  # fmt: skip
    jobs = {job.number: job for job in book.jobs if job.state in _GOING_ON}
    for number, request in open_requests(book).items():
        if number in jobs:
            yield request.number, Finding(
                Severity.NOTE, "extra-work-waits",
                f"{called(request).capitalize()} waits for the customer's answer, and job "
                f"{number} stands at '{jobs[number].state}'",
                "Set its state in Jobs to 'halted' until the customer answers; the tools leave "
                "it to you",
                job=number,
            )  # fmt: skip


def worked_though_declined(
    results: Mapping[str, JobResult], book: ShopBook
) -> Iterator[tuple[str, Finding]]:
    """Yield a warning for each declined line that is worked on, with the number of its request."""
    asked = {estimate.job for estimate in book.estimates.values() if estimate.declined}
    for number in sorted(asked & {*results}):
        result = results[number]
        if result.invoice:
            continue
        billed = {cost.line.line_id: cost.amount for cost in result.costs}
        for declined in declined_lines(number, book):
            line = declined.line
            amount = billed.get(line.line_id, ZERO)
            agreed = line.amount - declined.amount
            if amount > agreed:
                yield declined.request.number, Finding(
                    Severity.WARNING, "declined-worked",
                    f"Line {line.line_id} of job {number} comes to {plain(amount)}; the customer "
                    f"declined more than {plain(agreed)} on it",
                    "Type what was done as not billable, 0 under Actual for goods not used, or "
                    "ask again with extra-work",
                    job=number,
                )  # fmt: skip
