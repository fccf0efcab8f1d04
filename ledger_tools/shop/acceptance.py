"""Accepted estimates: which become a job's first authorisation, and which raise a doubt."""

from collections import defaultdict
from collections.abc import Iterator
from typing import NamedTuple

from ledger_tools.billing.estimate import Acceptance, Estimate
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import ZERO
from ledger_tools.shop.choosing import (
    about_choice,
    amount_of,
    choice_of,
    option_doubts,
    recorded_choice,
    refuses,
)
from ledger_tools.shop.declined import about_requests
from ledger_tools.shop.model import Authorisation, Job, ShopBook
from ledger_tools.shop.options import Recorded
from ledger_tools.shop.papers import called
from ledger_tools.shop.promise import ESTIMATED
from ledger_tools.shop.results import limit_by, limits_of

WRITTEN = "authorised-by-estimate"
"""Code of what is said once, when the authorisation is written."""
AboutEstimate = tuple[str, Finding]
"""The number of an estimate, and what is to be said at its acceptance."""


class Settled(NamedTuple):
    """What the acceptances in a book come to.

    Attributes:
        given: New authorisations.
        findings: What is to be said, each with the number of its estimate.
        chosen: Options that were chosen, to be written beside them.
    """

    given: tuple[Authorisation, ...]
    findings: tuple[AboutEstimate, ...]
    chosen: tuple[Recorded, ...] = ()


def settle_acceptances(book: ShopBook) -> Settled:
    """Return the authorisations that follow from accepted estimates and are not written yet.

    The first acceptance of an estimate of a job without any authorisation becomes its first
    one, once. Every accepted request for extra work becomes the next one, once. The owner writes
    every other one.
    """
    given: list[Authorisation] = []
    findings: list[AboutEstimate] = []
    chosen: list[Recorded] = []
    accepted: dict[str, list[Estimate]] = defaultdict(list)
    for estimate in book.estimates.values():
        if estimate.accepted:
            accepted[estimate.job].append(estimate)
    jobs = {job.number: job for job in book.jobs if job.number}
    for number, estimates in accepted.items():
        estimates.sort(key=lambda e: (e.accepted or Acceptance(e.day), e.revision))
        offered = [e for e in estimates if not e.request]
        doubts = [(e.number, f) for e in estimates for f in _doubts(e, offered[:1], book)]
        findings += doubts
        wrong = any(f.severity is Severity.ERROR for _, f in doubts)
        if number in jobs and not jobs[number].unreadable and not wrong:
            for estimate in (e for e in estimates if e.request or e is offered[0]):
                found, said = _settle(estimate, jobs[number], book)
                given += found
                findings += said
            chosen += [each for e in offered[:1] for each in recorded_choice(e, book)]
    findings += about_requests(book)
    return Settled(tuple(given), tuple(findings), tuple(chosen))


def _settle(
    estimate: Estimate, job: Job, book: ShopBook
) -> tuple[list[Authorisation], list[AboutEstimate]]:
    """Return the authorisation an acceptance becomes, and what to say of it.

    The choice to leave the item as it is authorises nothing.
    """
    if refuses(estimate):
        return [], [(estimate.number, finding) for finding in about_choice(estimate, job)]
    given, said = _authorised(estimate, job, book)
    if job.state == ESTIMATED and estimate.accepted:
        said.append(
            Finding(
                Severity.NOTE, "estimate-accepted",
                f"{called(estimate).capitalize()} is accepted, and job {job.number} stands at "
                f"'{ESTIMATED}'",
                "Set its state in Jobs to 'authorised'; the tools leave it to you", job=job.number,
            )
        )  # fmt: skip
    return given, [(estimate.number, finding) for finding in said]


def _authorised(
    estimate: Estimate, job: Job, book: ShopBook
) -> tuple[list[Authorisation], list[Finding]]:
    own = [a for a in book.authorisations if a.job.casefold() == job.number.casefold()]
    if _is_authorised(estimate, book):
        return [], []
    invoice = next((i for i in book.invoices.values() if i.job == job.number), None)
    if invoice or (own and not estimate.request):
        why = f"is billed by invoice {invoice.number}" if invoice else "has authorisations already"
        return [], [
            Finding(
                Severity.WARNING, "accepted-beside",
                f"Job {job.number} {why}, so none was written for {called(estimate)}",
                "Where it says more than they do, add a row to Authorisations; else clear the "
                "acceptance",
                job=job.number,
            )
        ]  # fmt: skip
    return _written(estimate, job, book)


def _is_authorised(estimate: Estimate, book: ShopBook) -> bool:
    """Whether a row of Authorisations says that it is for this estimate."""
    own = estimate.job.casefold()
    return any(
        a.job.casefold() == own and estimate.number in a.scope.split() for a in book.authorisations
    )


def _written(
    estimate: Estimate, job: Job, book: ShopBook
) -> tuple[list[Authorisation], list[Finding]]:
    accepted = estimate.accepted
    if accepted is None:
        return [], []
    with_tax = (
        _counts_tax(job, accepted, book)
        if estimate.request
        else (book.settings.authorised_with_tax)
    )
    chosen = choice_of(estimate)
    option = f" option {chosen.option}" if chosen else ""
    given = Authorisation(
        job=estimate.job,
        day=accepted.day,
        amount=amount_of(estimate, with_tax=with_tax),
        who=accepted.who,
        how=accepted.how,
        scope=f"{called(estimate).capitalize()}{option}",
    )
    meant = "with tax" if with_tax else "before tax"
    return [given], [
        Finding(
            Severity.NOTE, "authorised-by-estimate",
            f"{called(estimate).capitalize()}{option} was accepted on {accepted.day}: "
            f"{given.amount} {meant} are authorised, in a new row of Authorisations",
            "", job=estimate.job,
        )
    ]  # fmt: skip


def _counts_tax(job: Job, accepted: Acceptance, book: ShopBook) -> bool:
    """Whether the work of a job will be held with tax against what is accepted."""
    given = Authorisation(job.number, accepted.day, ZERO)
    limits = (*limits_of(job, book), limit_by(given, job.object_class, book))
    return any(limit.with_tax for limit in limits)


def _doubts(estimate: Estimate, first: list[Estimate], book: ShopBook) -> Iterator[Finding]:
    """Yield what is doubtful about one acceptance."""
    accepted, number, job = estimate.accepted, estimate.number, estimate.job
    name = called(estimate).capitalize()
    if accepted is None:
        return
    if accepted.day < estimate.day:
        yield Finding(
            Severity.ERROR, "accepted-before",
            f"{name} is dated {estimate.day}, and accepted on {accepted.day}",
            "Correct the day under Accepted on", job=job,
        )  # fmt: skip
    if accepted.day > estimate.valid_until:
        yield Finding(
            Severity.WARNING, "accepted-late",
            f"{name} was valid until {estimate.valid_until}, and accepted on "
            f"{accepted.day}",
            "Stand by it, or write a new estimate and have that accepted", job=job,
        )  # fmt: skip
    lacking = [word for word, said in (("by", accepted.who), ("how", accepted.how)) if not said]
    if lacking:
        yield Finding(
            Severity.WARNING, "acceptance-incomplete",
            f"{name} is accepted; {' and '.join(lacking)} is empty",
            "Type who accepted and how they were reached: it is the proof of what may be billed",
            job=job,
        )  # fmt: skip
    yield from option_doubts(estimate, book)
    newer = [e.number for e in book.estimates.values() if _replaces(e, estimate)]
    if newer:
        yield Finding(
            Severity.WARNING, "accepted-replaced",
            f"{name} was accepted though {newer[-1]} was there by then",
            "Ask the customer which of them is meant", job=job,
        )  # fmt: skip
    if not (estimate.request or estimate in first or _is_authorised(estimate, book)):
        yield Finding(
            Severity.WARNING, "accepted-twice",
            f"Job {job} has two accepted estimates: {first[0].number} and {number}",
            "The first is the first authorisation; add a row to Authorisations for what was "
            "agreed later, or clear the acceptance that was a slip",
            job=job,
        )  # fmt: skip


def _replaces(newer: Estimate, estimate: Estimate) -> bool:
    """Whether a newer revision was there when `estimate` was accepted.

    A request for extra work that counts on what was accepted came after it.
    """
    if newer.request and not (estimate.request and newer.request.authorised < estimate.asked):
        return False
    return (
        newer.job == estimate.job
        and newer.revision > estimate.revision
        and estimate.accepted is not None
        and newer.day <= estimate.accepted.day
    )
