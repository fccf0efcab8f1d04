"""Writing estimates: which jobs get a new revision, and what is frozen when they do."""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.estimate import (
    Estimate,
    deposit_of,
    estimate_number,
    promises_the_same,
)
from ledger_tools.billing.invoice import InvoiceLine
from ledger_tools.billing.offer import offers_wording
from ledger_tools.costing.job_cost import LineCost, promised_hours
from ledger_tools.costing.lines import Kind
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import ZERO, Rounding, plain
from ledger_tools.shop.guarantee import left_off
from ledger_tools.shop.issue import adjusting_lines, customer_of, in_turn, unnamed
from ledger_tools.shop.model import Customer, ShopBook
from ledger_tools.shop.options import offers_of, unfit_to_offer
from ledger_tools.shop.papers import is_over, last_estimates
from ledger_tools.shop.promised_bill import promised_bill
from ledger_tools.shop.results import JobResult

Wording = Callable[[Customer, JobResult], Mapping[str, str]]
"""Gives the words on an estimate for a customer and what the job comes to."""

ESTIMATED = "estimated"
MAY_BE_ESTIMATED = (ESTIMATED, "authorised", "in work", "halted")
"""Where a job stands when it may get an estimate, if it is named."""


class Promised(NamedTuple):
    """What a run of estimates came to.

    Attributes:
        new: New revisions, in order of their jobs.
        again: Numbers of revisions that already say what the job says now.
        findings: Why a job got none, and what to know of those that did.
    """

    new: tuple[Estimate, ...] = ()
    again: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()


def write_estimates(  # noqa: PLR0913 - what a run of estimates hangs on
    results: Mapping[str, JobResult],
    book: ShopBook,
    wording: Wording,
    *,
    named: tuple[str, ...] = (),
    valid_days: int | None = None,
    fingerprint: str = "",
) -> Promised:
    """Return the next revision for every job in state *estimated* that its last does not fit.

    Args:
        results: What the readable jobs come to.
        book: The book; its as-of day is the date of the estimates.
        wording: The words on the paper.
        named: Job numbers, where only these are meant. A named job may be past its estimate, and
            gets a new revision where the last one is no longer valid.
        valid_days: Days they can be accepted; None for what the shop's settings say.
        fingerprint: Digest of what the paper is made with.
    """
    findings: list[Finding] = []
    new: list[Estimate] = []
    again: list[str] = []
    newest, offered = last_estimates(book), last_estimates(book, requests=False)
    if valid_days:
        book = replace(book, settings=replace(book.settings, valid_days=valid_days))
    for number in sorted({*named} or results, key=lambda job: in_turn(job, book)):
        result = results.get(number)
        if result is None or (not named and result.stands != ESTIMATED):
            continue
        held = _held_back(result, named=bool(named))
        findings += held or _agreed(result)
        unfit = [] if held else unfit_to_offer(number, offers_of(result, book))
        findings += unfit
        if held or any(f.severity is Severity.ERROR for f in unfit):
            continue
        last, before = newest.get(number), offered.get(number)
        estimate = _estimate(result, book, last, wording, fingerprint)
        if (
            before
            and promises_the_same(before, estimate)
            and not (named and is_over(before, book))
        ):
            again += [before.number] if named else []
        else:
            new.append(estimate)
    if new:
        findings += (*unnamed(book), *left_off((estimate.job for estimate in new), book))
        findings += (f for estimate in new for f in _above_told(estimate, results, book))
    return Promised(tuple(new), tuple(again), tuple(findings))


def _above_told(
    estimate: Estimate, results: Mapping[str, JobResult], book: ShopBook
) -> Iterator[Finding]:
    """Yield a warning where an estimate lies above what was named on the telephone."""
    told = results[estimate.job].job.told
    amount = estimate.total if book.settings.authorised_with_tax else estimate.subtotal
    if told is not None and amount > told.most:
        yield Finding(
            Severity.WARNING, "above-told",
            f"Estimate {estimate.number} comes to {plain(amount)}; {plain(told.least)} to "
            f"{plain(told.most)} were named on the telephone",
            "Tell the customer why before it goes out", sheet=estimate.job, job=estimate.job,
        )  # fmt: skip


def _held_back(result: JobResult, *, named: bool) -> list[Finding]:
    """Return why the job gets no estimate, empty where it may."""
    number = result.job.number
    if result.stands not in MAY_BE_ESTIMATED:
        return [
            Finding(
                Severity.ERROR, "job-not-to-estimate", f"Job {number} stands at '{result.stands}'",
                f"Only a job that is {', '.join(MAY_BE_ESTIMATED)} gets an estimate",
                sheet=number, job=number,
            )
        ]  # fmt: skip
    if not any(_is_promised(cost) for cost in result.costs):
        return [
            Finding(
                Severity.ERROR if named else Severity.WARNING, "nothing-to-estimate",
                f"Job {number} has no line with anything estimated",
                "Type minutes and quantities under Estimate on the job sheet",
                sheet=number, job=number,
            )
        ]  # fmt: skip
    if result.estimate_total < 0:
        return [
            Finding(
                Severity.ERROR, "negative-total",
                f"The estimate would come to {plain(result.estimate_total)}", "Lower the discount",
                sheet=number, job=number,
            )
        ]  # fmt: skip
    return []


def _agreed(result: JobResult) -> list[Finding]:
    """Return a warning where a line has an agreed price, which its estimate does not say."""
    number = result.job.number
    agreed = [
        str(c.line.line_id)
        for c in result.costs
        if c.line.agreed_price is not None and _is_promised(c)
    ]
    if not agreed:
        return []
    return [
        Finding(
            Severity.WARNING, "agreed-not-estimated",
            f"An agreed price stands in line {', '.join(agreed)}; the estimate says quantity x "
            "price, as its column on the job sheet does",
            "To promise the agreed price, put it under Price, for a quantity of 1",
            sheet=number, job=number,
        )
    ]  # fmt: skip


def _is_promised(cost: LineCost) -> bool:
    return bool(cost.line.estimate)


def _estimate(
    result: JobResult,
    book: ShopBook,
    last: Estimate | None,
    wording: Wording,
    fingerprint: str,
) -> Estimate:
    job, settings = result.job, book.settings
    revision = last.revision + 1 if last else 1
    hours = promised_hours((c.line for c in result.costs), settings.hours)
    money = Rounding(settings.digits)
    words = wording(customer_of(job, book), result)
    bill = promised_bill(result, book)
    taxes, net = bill.taxes, bill.net
    tax = sum((t.amount for t in taxes), start=money.amount(ZERO))
    lines = [_line(cost, hours) for cost in result.costs if _is_promised(cost)]
    return Estimate(
        number=estimate_number(job.number, revision),
        job=job.number,
        revision=revision,
        day=book.as_of,
        valid_until=book.as_of + timedelta(days=settings.valid_days),
        customer=job.customer,
        item=job.item,
        lines=(*lines, *adjusting_lines(bill.adjustment, job.basis, words)),
        taxes=taxes,
        subtotal=net,
        tax=tax,
        total=net + tax,
        deposit=deposit_of(net + tax, settings.deposit_percent, money),
        currency=settings.currency,
        wording={
            **words,
            **offers_wording(offers_of(result, book), with_tax=settings.authorised_with_tax),
        },
        fingerprint=fingerprint,
    )


def _line(cost: LineCost, hours: Mapping[int, Decimal]) -> InvoiceLine:
    line = cost.line
    labour = line.kind is Kind.LABOUR
    return InvoiceLine(
        line_id=line.line_id,
        kind=line.kind,
        description=line.description,
        quantity=hours[line.line_id] if labour else line.estimate or ZERO,
        unit="h" if labour else line.unit,
        price=line.price or ZERO,
        amount=cost.estimated,
        taxed_as=line.taxed_as,
        labour_class=line.labour_class,
        part_status=line.part_status,
        vendor=line.vendor,
        estimate=line.estimate,
        estimated=cost.estimated,
    )


def with_estimates(book: ShopBook, promised: Promised) -> ShopBook:
    """Return the book with new estimates in it."""
    return replace(book, estimates={**book.estimates, **{e.number: e for e in promised.new}})
