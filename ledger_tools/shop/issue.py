"""Issuing invoices: which jobs may go out, and what is frozen when they do."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import timedelta
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.basis import Adjustment, Basis
from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.numbering import number_from, sequence_of
from ledger_tools.costing.job_cost import LineCost
from ledger_tools.costing.lines import Kind
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import ZERO, Rounding, plain
from ledger_tools.shop.declined import declined_wording
from ledger_tools.shop.guarantee import left_off
from ledger_tools.shop.model import Customer, Job, ShopBook
from ledger_tools.shop.papers import open_request
from ledger_tools.shop.results import NO_PRICE, TO_INVOICE, JobResult

_HEADINGS = {
    Kind.LABOUR.value: "work",
    Kind.MATERIAL.value: "only_materials",
    Kind.PART.value: "only_parts",
    Kind.SUBLET.value: "sublet",
    Kind.FEE.value: "charges",
    Kind.DISCOUNT.value: "charges",
}
"""The labels of a paper that name the tax classes of the kinds."""

Wording = Callable[[Customer, Job], Mapping[str, str]]
"""Gives the words on an invoice for a customer and a job."""


class Issued(NamedTuple):
    """What a batch came to.

    Attributes:
        invoices: Newly issued, in order of their numbers.
        last_invoice: Highest sequence number now given.
        findings: Why a job was held back, and what to know of those that went out.
    """

    invoices: tuple[Invoice, ...]
    last_invoice: int
    findings: tuple[Finding, ...]


def issue_invoices(
    results: Mapping[str, JobResult],
    book: ShopBook,
    wording: Wording,
    *,
    named: tuple[str, ...] = (),
    fingerprint: str = "",
) -> Issued:
    """Return an invoice for every job that is to be invoiced, numbered in order of job numbers.

    Args:
        results: What the readable jobs come to.
        book: The book; its as-of day is the date of the invoices.
        wording: The words on the paper.
        named: Job numbers, where only these are meant; they must be in state *to invoice*.
        fingerprint: Digest of what the paper is made with.
    """
    findings: list[Finding] = []
    invoices: list[Invoice] = []
    n = highest_invoice(book)
    for number in sorted({*named} or results, key=lambda job: in_turn(job, book)):
        result = results.get(number)
        if result is None or result.stands != TO_INVOICE:
            findings += _not_due(number, result) if named else ()
            continue
        held = _held_back(result, book)
        findings += held
        if any(f.severity is Severity.ERROR for f in held):
            continue
        n += 1
        invoices.append(_invoice(result, book, n, wording, fingerprint))
    if invoices:
        findings += (*unnamed(book), *_dated_before(book))
        findings += left_off((invoice.job for invoice in invoices), book)
    return Issued(tuple(invoices), n, tuple(findings))


def unnamed(book: ShopBook) -> tuple[Finding, ...]:
    """Return a warning where the papers would not say whose they are."""
    if book.settings.name and book.settings.address:
        return ()
    return (
        Finding(
            Severity.WARNING,
            "shop-unnamed",
            "The shop has no name or no address, so the papers carry none",
            "Fill in 'The shop' on Start; papers already issued stay as they are",
            sheet="Start",
        ),
    )


def _dated_before(book: ShopBook) -> tuple[Finding, ...]:
    """Return a warning where an invoice issued before bears a later date than those of today."""
    last = max(book.invoices.values(), key=lambda invoice: invoice.day, default=None)
    if last is None or last.day <= book.as_of:
        return ()
    return (
        Finding(
            Severity.WARNING,
            "date-set-back",
            f"Invoices are dated {book.as_of}, and {last.number} was issued on {last.day}",
            "Check the clock of the computer, or the day given with --today",
        ),
    )


def customer_of(job: Job, book: ShopBook) -> Customer:
    """Return whom a job is for, as Customers has them."""
    name = job.customer.casefold()
    known = (c for c in book.customers if c.name.casefold() == name)
    return next(known, Customer(job.customer))


def in_turn(number: str, book: ShopBook) -> tuple[int, str]:
    """Return what puts job numbers in the order they were given in."""
    return sequence_of(number, book.settings.number_pattern) or 0, number


def highest_invoice(book: ShopBook) -> int:
    """Return the highest sequence number any invoice has or ever had."""
    pattern = book.settings.number_pattern
    given = (sequence_of(number, pattern) for number in book.invoices)
    return max([book.last_invoice, *(n for n in given if n)])


def _not_due(number: str, result: JobResult | None) -> tuple[Finding, ...]:
    if result is None:
        return ()
    return (
        _finding(
            result,
            Severity.ERROR,
            "job-not-to-invoice",
            f"Job {number} stands at '{result.stands}'",
            "Set its state to 'to invoice' in Jobs"
            if not result.invoice
            else f"Invoice {result.invoice} billed it; a mistake is mended by a credit note",
        ),
    )


def _finding(result: JobResult, severity: Severity, code: str, what: str, remedy: str) -> Finding:
    return Finding(severity, code, what, remedy, sheet=result.job.number, job=result.job.number)


def _held_back(result: JobResult, book: ShopBook) -> list[Finding]:
    """Return what stands against billing the job, or should be known."""
    return [
        finding
        for finding in (
            _above_ceiling(result),
            _without_price(result),
            _not_authorised(result, book),
            _request_open(result, book),
            _nothing_to_bill(result),
            _no_minutes(result),
            _negative(result),
        )
        if finding
    ]


def _above_ceiling(result: JobResult) -> Finding | None:
    if not result.above_ceiling or result.ceiling is None:
        return None
    return _finding(
        result,
        Severity.ERROR,
        "above-ceiling",
        f"The work comes to {plain(result.held_against)}, authorised are {plain(result.ceiling)}",
        "Ask for the rest with extra-work, or set Basis to 'capped' in Jobs to write it down",
    )


def _without_price(result: JobResult) -> Finding | None:
    if result.flag != NO_PRICE:
        return None
    return _finding(
        result,
        Severity.ERROR,
        "fixed-without-price",
        f"Job {result.job.number} is billed at a fixed price, and none is known",
        "Type it under Agreed price in Jobs, or have the job authorised",
    )


def _not_authorised(result: JobResult, book: ShopBook) -> Finding | None:
    if result.ceiling is not None:
        return None
    return _finding(
        result,
        Severity.ERROR if book.settings.require_authorisation else Severity.WARNING,
        "not-authorised",
        f"Nobody's authorisation is on record for job {result.job.number}",
        "Add a row to Authorisations: when, who, how reached, amount",
    )


def _request_open(result: JobResult, book: ShopBook) -> Finding | None:
    request = open_request(result.job.number, book)
    if request is None:
        return None
    return _finding(
        result,
        Severity.WARNING,
        "extra-work-open",
        f"The request for extra work {request.number} is not answered",
        "Ask the customer, and type the answer in Estimates; what it asks for is not billed "
        "unless it was authorised",
    )


def _nothing_to_bill(result: JobResult) -> Finding | None:
    if any(_counts(cost) for cost in result.costs):
        return None
    return _finding(
        result,
        Severity.ERROR,
        "nothing-to-bill",
        f"Job {result.job.number} has no line with anything done",
        "Enter what was done, or set the state to 'void'",
    )


def _no_minutes(result: JobResult) -> Finding | None:
    agreed = any(c.line.agreed_price is not None for c in result.costs)
    empty = not any(_counts(cost) for cost in result.costs)
    if result.actual_minutes or not result.estimate_minutes or agreed or empty:
        return None
    return _finding(
        result,
        Severity.WARNING,
        "no-minutes",
        f"Labour was estimated for job {result.job.number}, and no minutes were entered",
        "Enter the minutes before the invoice goes out: labour is billed by them",
    )


def _negative(result: JobResult) -> Finding | None:
    if result.total >= 0:
        return None
    return _finding(
        result,
        Severity.ERROR,
        "negative-total",
        f"The invoice would come to {plain(result.total)}",
        "Lower the discount; money given back is a credit note",
    )


def _counts(cost: LineCost) -> bool:
    return bool(cost.amount or cost.billed or cost.line.actual)


def _invoice(
    result: JobResult, book: ShopBook, n: int, wording: Wording, fingerprint: str
) -> Invoice:
    job = result.job
    words = wording(customer_of(job, book), job)
    money = Rounding(book.settings.digits)
    lines = tuple(_line(cost, money) for cost in result.costs if _kept(cost))
    return Invoice(
        number=number_from(book.settings.number_pattern, n, book.as_of),
        job=job.number,
        day=book.as_of,
        due=book.as_of + timedelta(days=book.settings.terms_days),
        customer=job.customer,
        item=job.item,
        repair=job.repair,
        lines=(*lines, *adjusting_lines(result.adjustment, job.basis, words)),
        taxes=result.taxes,
        subtotal=result.subtotal,
        tax=result.tax,
        total=result.total,
        currency=book.settings.currency,
        wording={**words, **declined_wording(job.number, book)},
        fingerprint=fingerprint,
    )


def adjusting_lines(
    adjustment: Adjustment | None, basis: Basis, words: Mapping[str, str]
) -> list[InvoiceLine]:
    """Return the rows by which a bill or an estimate is adjusted, one for each tax class.

    Args:
        adjustment: What it is adjusted by; None for nothing.
        basis: How the job is billed.
        words: The words on the paper; those for an adjustment stand under ``label.<key>``.
    """
    if not adjustment:
        return []
    rows = adjustment.by_class
    key = _adjusted_by(adjustment, basis)
    said = words.get(f"label.{key}", key)
    return [
        InvoiceLine(
            line_id=0,
            kind=Kind.DISCOUNT if amount < 0 else Kind.FEE,
            description=f"{said}: {_called(taxed_as, words)}" if len(rows) > 1 else said,
            quantity=Decimal(1),
            unit="",
            price=abs(amount),
            amount=amount,
            taxed_as=taxed_as,
        )
        for taxed_as, amount in rows
    ]


def _adjusted_by(adjustment: Adjustment, basis: Basis) -> str:
    """Return the key of the words that say why a bill is adjusted."""
    if basis is Basis.FIXED:
        return "fixed_price"
    return "written_down" if adjustment.total < 0 else "minimum_charge"


def _called(taxed_as: str, words: Mapping[str, str]) -> str:
    """Return what a paper calls a tax class: the heading of its kind, or the owner's word."""
    return words.get(f"label.{_HEADINGS.get(taxed_as, '')}", taxed_as)


def _kept(cost: LineCost) -> bool:
    """Whether the register keeps the line: anything promised, done or charged."""
    return _counts(cost) or bool(cost.line.estimate)


def _line(cost: LineCost, money: Rounding) -> InvoiceLine:
    line = cost.line
    used = cost.billed + (line.non_billable or ZERO)
    labour = line.kind is Kind.LABOUR
    spent: Decimal | None = None
    if line.cost is not None and not labour:
        spent = money.amount(line.cost * used)
    return InvoiceLine(
        line_id=line.line_id,
        kind=line.kind,
        description=line.description,
        quantity=cost.billed,
        unit="h" if labour else line.unit,
        price=None if line.agreed_price is not None else (line.price or ZERO),
        amount=cost.amount,
        taxed_as=line.taxed_as,
        labour_class=line.labour_class,
        part_status=line.part_status,
        vendor=line.vendor,
        cost=spent,
        estimate=line.estimate,
        actual=line.actual,
        non_billable=line.non_billable,
        reason=line.reason,
        non_billable_value=money.amount(cost.non_billable_value),
        estimated=cost.estimated,
    )


def with_invoices(book: ShopBook, issued: Issued) -> ShopBook:
    """Return the book with newly issued invoices in it."""
    invoices = {**book.invoices, **{i.number: i for i in issued.invoices}}
    return replace(book, invoices=invoices, last_invoice=issued.last_invoice)
