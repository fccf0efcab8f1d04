"""Asking for extra work: what was found, what the job will come to, and what was agreed before."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.basis import Basis
from ledger_tools.billing.estimate import (
    Estimate,
    Request,
    estimate_number,
    promises_the_same,
)
from ledger_tools.billing.invoice import InvoiceLine
from ledger_tools.billing.tax import TaxAmount, taxes_on
from ledger_tools.costing.job_cost import LineCost, expected_costs
from ledger_tools.costing.lines import Kind
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import ZERO, Rounding, plain
from ledger_tools.shop.choosing import is_of_lines
from ledger_tools.shop.declined import declined_wording
from ledger_tools.shop.issue import customer_of, unnamed
from ledger_tools.shop.model import Authorisation, Customer, Job, ShopBook
from ledger_tools.shop.papers import is_over, last_estimates
from ledger_tools.shop.promise import MAY_BE_ESTIMATED, Promised
from ledger_tools.shop.results import TO_INVOICE, JobResult, Limit, limit_by

MAY_ASK = (*MAY_BE_ESTIMATED, TO_INVOICE)
"""Where a job stands when more may be asked for."""


class Standing(NamedTuple):
    """What a job may come to before more is asked for.

    Attributes:
        authorised: The amount of the authorisation that allows most.
        limit: What it allows.
        with_tax: Whether the job's work is held against it with tax.
        agreed: The last accepted paper, whose lines were agreed to; None where there is none.
    """

    authorised: Decimal
    limit: Limit
    with_tax: bool
    agreed: Estimate | None


Wording = Callable[[Customer, Standing, bool], Mapping[str, str]]
"""Gives the words on a request; the last says whether any tax falls on the work."""


class Expected(NamedTuple):
    """What a job is expected to come to, amounts in whole minor units."""

    costs: tuple[LineCost, ...]
    taxes: tuple[TaxAmount, ...]
    net: Decimal
    total: Decimal


def expected_of(result: JobResult, book: ShopBook) -> Expected:
    """Return what a job is expected to come to on the book's as-of day."""
    money = Rounding(book.settings.digits)
    costs = expected_costs(result.job.lines, policy=book.settings.hours, rounding=money)
    net = sum((c.amount for c in costs), start=money.amount(ZERO))
    amounts = ((c.line.taxed_as, c.amount) for c in costs)
    taxes = taxes_on(amounts, profile=book.profile, day=book.as_of)
    return Expected(costs, taxes, net, sum((t.amount for t in taxes), start=net))


def standing_before(job: Job, book: ShopBook) -> Standing | None:
    """Return what is authorised for a job, None where nothing is."""
    own = job.number.casefold()
    given = [a for a in book.authorisations if a.job.casefold() == own]
    if not given:
        return None
    limits = [(limit_by(a, job.object_class, book), a) for a in given]
    limit, most = max(limits, key=_most)
    with_tax = any(each.with_tax for each, _ in limits)
    money = Rounding(book.settings.digits)
    return Standing(money.amount(most.amount), limit, with_tax, agreed_paper(job.number, book))


def _most(limit: tuple[Limit, Authorisation]) -> tuple[Decimal, Decimal]:
    return limit[0].amount, limit[1].amount


def agreed_paper(job: str, book: ShopBook) -> Estimate | None:
    """Return the last accepted paper of a job whose lines are what was agreed to."""
    own = [e for e in book.estimates.values() if e.job == job and e.accepted and is_of_lines(e)]
    return max(own, key=lambda e: (e.accepted, e.revision), default=None)


def ask_for_extra(  # noqa: PLR0913 - what a request hangs on
    results: Mapping[str, JobResult],
    book: ShopBook,
    wording: Wording,
    *,
    job: str,
    found: tuple[str, ...] = (),
    valid_days: int | None = None,
    fingerprint: str = "",
) -> Promised:
    """Return the request for extra work of a job, new or the last one again.

    Args:
        results: What the readable jobs come to.
        book: The book; its as-of day is the date of the request.
        wording: The words on the paper.
        job: Job number.
        found: What was found; where nothing is named, what an unanswered request says stands.
        valid_days: Days it can be accepted; None for what the shop's settings say.
        fingerprint: Digest of what the paper is made with.
    """
    result = results.get(job)
    if result is None:
        return Promised()
    before = standing_before(result.job, book)
    expected = expected_of(result, book)
    last = last_estimates(book).get(job)
    waiting = last.request if last and not last.accepted else None
    held = _held_back(result, before, expected, found=bool(found or waiting))
    if before is None or held:
        return Promised(findings=tuple(held))
    if valid_days:
        book = replace(book, settings=replace(book.settings, valid_days=valid_days))
    said = "\n".join(found) or (waiting.found if waiting else "")
    request = Request(said, before.authorised, before.with_tax)
    revision = last.revision + 1 if last else 1
    new = _request(result.job, book, before, expected, wording)
    new = replace(
        new,
        number=estimate_number(job, revision),
        revision=revision,
        request=request,
        fingerprint=fingerprint,
    )
    if last and promises_the_same(last, new) and not is_over(last, book):
        return Promised(again=(last.number,))
    return Promised((new,), findings=(*_counts_from(result, before), *unnamed(book)))


def _held_back(
    result: JobResult, before: Standing | None, expected: Expected, *, found: bool
) -> list[Finding]:
    """Return why nothing is asked for, empty where something is."""
    number = result.job.number
    if result.stands not in MAY_ASK:
        return [
            Finding(
                Severity.ERROR, "job-not-to-extend", f"Job {number} stands at '{result.stands}'",
                f"Only a job that is {', '.join(MAY_ASK)} gets a request for extra work",
                sheet=number, job=number,
            )
        ]  # fmt: skip
    if before is None:
        return [
            Finding(
                Severity.ERROR, "nothing-authorised",
                f"Nothing is authorised for job {number} that could be extended",
                f"Write an estimate: ledger-tools estimate BOOK {number}; or add the row to "
                "Authorisations that is missing",
                sheet=number, job=number,
            )
        ]  # fmt: skip
    if result.job.basis is Basis.FIXED and result.job.agreed_price is not None:
        return [
            Finding(
                Severity.ERROR, "price-agreed",
                f"Job {number} is billed at the price agreed in Jobs, "
                f"{plain(result.job.agreed_price)}, whatever its lines come to",
                "Clear Agreed price in Jobs: the job is then billed at the highest amount "
                "authorised, which a request raises",
                sheet=number, job=number,
            )
        ]  # fmt: skip
    asked = expected.total if before.with_tax else expected.net
    enough = before.authorised if found else before.limit.amount
    if asked > enough:
        return []
    return [
        Finding(
            Severity.ERROR, "nothing-to-ask-for",
            f"There is nothing to ask for: job {number} is expected to come to {plain(asked)}, "
            f"and {plain(before.authorised)} are authorised, which allows "
            f"{plain(before.limit.amount)}",
            "Enter the extra work on the job sheet, under Estimate, and run this again"
            if asked <= before.authorised
            else "To ask all the same, say what was found with --found",
            sheet=number, job=number,
        )
    ]  # fmt: skip


def _counts_from(result: JobResult, before: Standing) -> list[Finding]:
    """Return a note where no lines are known to have been agreed to."""
    if before.agreed is not None:
        return []
    number = result.job.number
    return [
        Finding(
            Severity.NOTE, "extra-work-whole",
            f"No accepted paper says what lines of job {number} were authorised, so the request "
            f"lists all of them beside the {plain(before.authorised)} authorised",
            "", sheet=number, job=number,
        )
    ]  # fmt: skip


def _request(
    job: Job, book: ShopBook, before: Standing, expected: Expected, wording: Wording
) -> Estimate:
    """Return the paper but its number, and what was found."""
    taxed = any(tax.base and tax.rate for tax in expected.taxes)
    words = wording(customer_of(job, book), before, taxed)
    lines = _lines(expected.costs, before.agreed)
    asked = {x.line_id for x in lines if x.before != x.amount}
    return Estimate(
        number="",
        job=job.number,
        revision=0,
        day=book.as_of,
        valid_until=book.as_of + timedelta(days=book.settings.valid_days),
        customer=job.customer,
        item=job.item,
        lines=lines,
        taxes=expected.taxes,
        subtotal=expected.net,
        tax=expected.total - expected.net,
        total=expected.total,
        deposit=Rounding(book.settings.digits).amount(ZERO),
        currency=book.settings.currency,
        wording={**words, **declined_wording(job.number, book, but=asked)},
    )


def _lines(costs: Iterable[LineCost], agreed: Estimate | None) -> tuple[InvoiceLine, ...]:
    """Return the lines as expected, each with what it was agreed at, and those that fell away."""
    were = {line.line_id: line for line in agreed.lines} if agreed else {}
    lines = [_line(cost, were.pop(cost.line.line_id, None)) for cost in costs]
    lines = [line for line in lines if line.quantity or line.amount or line.before]
    gone = [_gone(line) for line in were.values() if line.amount]
    return tuple(sorted([*lines, *gone], key=lambda line: line.line_id))


def _gone(line: InvoiceLine) -> InvoiceLine:
    nothing = line.amount - line.amount
    return replace(line, quantity=ZERO, amount=nothing, estimate=ZERO, before=line.amount)


def _line(cost: LineCost, was: InvoiceLine | None) -> InvoiceLine:
    line = cost.line
    labour = line.kind is Kind.LABOUR
    return InvoiceLine(
        line_id=line.line_id,
        kind=line.kind,
        description=line.description,
        quantity=cost.billed,
        unit="h" if labour else line.unit,
        price=None if line.agreed_price is not None else line.price or ZERO,
        amount=cost.amount,
        taxed_as=line.taxed_as,
        labour_class=line.labour_class,
        vendor=line.vendor,
        part_status=line.part_status,
        estimate=line.actual,
        estimated=cost.amount,
        before=was.amount if was else None,
    )
