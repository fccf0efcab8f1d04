"""What follows from the book: each job's totals, tax, ceiling, and where it stands."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from ledger_tools.billing.authorisation import ToleranceRule, limit_of, rule_for
from ledger_tools.billing.basis import (
    Adjustment,
    Basis,
    Bill,
    Billed,
    Bound,
    Taxed,
    Terms,
    bill_of,
)
from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.tax import TaxAmount, taxes_on
from ledger_tools.costing.catalogue import labour_rate_on
from ledger_tools.costing.job_cost import LineCost, by_kind, cost_lines, value_not_billed
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.money import ZERO, Rounding
from ledger_tools.shop.model import Authorisation, Job, ShopBook

INVOICED = "invoiced"
PAID = "paid"
ARCHIVED = "archived"
TO_INVOICE = "to invoice"
SETTLED = (TO_INVOICE, INVOICED, PAID, ARCHIVED)
"""Where a job stands when goods without an actual quantity count as estimated."""
ABOVE_CEILING = "above ceiling"
ASKED = "asked"
AT_CEILING = "at ceiling"
WRITTEN_DOWN = "written down"
OVER_ESTIMATE = "over estimate"
NO_PRICE = "price?"


class JobResult(NamedTuple):
    """What one job comes to. All amounts are whole minor units.

    Attributes:
        job: The job, its labour lines priced.
        costs: What each line comes to, by line id.
        estimated: Net estimate by kind.
        billed: Net of the work so far by kind.
        estimate_net: Net estimate.
        estimate_taxes: Tax on it by component.
        estimate_total: Estimate with tax.
        worked: Net of the work so far, as the lines come to.
        bill: What the bill is held to; None where it is simply what was worked.
        adjustment: What is billed above or below that; None where it is billed as worked.
        subtotal: Net that is billed for the work so far.
        taxes: Tax on it by component.
        tax: Sum of the components.
        total: What is billed for the work so far, with tax.
        invoiced: Day of the invoice, None while there is none; then tax is that of the as-of day.
        actual_minutes: Minutes worked in all.
        estimate_minutes: Minutes promised.
        non_billable_minutes: Minutes the customer does not pay.
        billed_hours: Hours billed.
        non_billable_value: What is not billed would have come to.
        ceiling: What may be billed at most, None where nothing was authorised.
        held_against: What of the bill so far is held against the ceiling: its net, or with tax.
        invoice: Number of the job's invoice, empty for none.
        balance: Still owing on it, None without invoice.
        stands: Typed state, or invoiced, paid or archived.
        flag: What the owner must see, empty for nothing.
    """

    job: Job
    costs: tuple[LineCost, ...]
    estimated: Mapping[Kind, Decimal]
    billed: Mapping[Kind, Decimal]
    estimate_net: Decimal
    estimate_taxes: tuple[TaxAmount, ...]
    estimate_total: Decimal
    worked: Decimal
    bill: Bill | None
    adjustment: Adjustment | None
    subtotal: Decimal
    taxes: tuple[TaxAmount, ...]
    tax: Decimal
    total: Decimal
    invoiced: date | None
    actual_minutes: int
    estimate_minutes: int
    non_billable_minutes: int
    billed_hours: Decimal
    non_billable_value: Decimal
    ceiling: Decimal | None
    held_against: Decimal
    invoice: str
    balance: Decimal | None
    stands: str
    flag: str

    @property
    def above_ceiling(self) -> bool:
        """Whether more was worked than is authorised."""
        return self.flag == ABOVE_CEILING


def priced(line: Line, *, day: date, book: ShopBook) -> Line:
    """Return `line` with the price of its labour class in force on `day`, where none is typed."""
    if line.kind is not Kind.LABOUR or line.price is not None:
        return line
    return replace(line, price=labour_rate_on(day, line.labour_class, book.catalogue.rates))


class Limit(NamedTuple):
    """What one authorisation allows.

    Attributes:
        rule: The rule in force for the job's object on the day it was given.
        amount: What may be billed at most.
        with_tax: Whether the bill is held against it with tax.
        authorised: What the customer agreed to.
    """

    rule: ToleranceRule
    amount: Decimal
    with_tax: bool
    authorised: Decimal


def limit_by(given: Authorisation, object_class: str, book: ShopBook) -> Limit:
    """Return what an authorisation allows for a job of that class of object."""
    rule = rule_for(object_class, given.day, book.tolerances)
    counted = book.settings.authorised_with_tax if rule.with_tax is None else rule.with_tax
    amount = limit_of(given.amount, rule, digits=book.settings.digits)
    return Limit(rule, amount, counted, given.amount)


def limits_of(job: Job, book: ShopBook) -> list[Limit]:
    """Return what each authorisation of a job allows, none where nobody authorised anything."""
    own = job.number.casefold()
    given = (a for a in book.authorisations if a.job.casefold() == own)
    return [limit_by(a, job.object_class, book) for a in given]


def paid_on(invoice: str, book: ShopBook) -> Decimal:
    """Return what was received for `invoice`, less what was given back."""
    return sum((p.amount for p in book.payments if p.invoice == invoice), start=ZERO)


def _standing(job: Job, invoice: Invoice | None, balance: Decimal | None) -> str:
    if invoice is None or balance is None:
        return ARCHIVED if job.archived else job.state
    if balance > 0:
        return INVOICED
    return ARCHIVED if job.archived else PAID


def _frozen_taxes(job: Job, invoice: Invoice | None, subtotal: Decimal) -> tuple[TaxAmount, ...]:
    """Return the taxes of an archived job as its invoice has them; none where it does not say."""
    if job.archived and invoice is not None and invoice.subtotal == subtotal:
        return invoice.taxes
    return ()


def terms_of(job: Job, book: ShopBook, limits: Sequence[Limit]) -> Terms:
    """Return what a job's bill is held to, its authorisations allowing `limits`.

    Where they differ in whether they count tax, the stricter reading holds: with it. A fixed
    price is the one agreed for the job, net, or else the highest amount authorised.
    """
    price = ceiling = None
    if limits:
        with_tax = any(limit.with_tax for limit in limits)
        ceiling = Bound(max(limit.amount for limit in limits), with_tax)
        price = Bound(max(limit.authorised for limit in limits), with_tax)
    if job.agreed_price is not None:
        price = Bound(job.agreed_price, with_tax=False)
    return Terms(job.basis, price, ceiling, book.settings.minimum_charge)


def _bill(
    job: Job, costs: Sequence[LineCost], terms: Terms, book: ShopBook, taxed: Taxed
) -> Bill | None:
    """Return what the bill for a job is held to; None where it is simply what was worked."""
    if job.archived or (terms.basis is Basis.ACTUAL and not terms.minimum):
        return None
    lines = [Billed(c.line.line_id, c.line.taxed_as, c.amount) for c in costs]
    return bill_of(terms, lines, taxed, digits=book.settings.digits)


def _billed_adjustment(job: Job, invoice: Invoice | None) -> Adjustment | None:
    """Return what the bill of an archived job was adjusted by: nothing of it changes any more."""
    if not (job.archived and invoice):
        return None
    rows = tuple((line.taxed_as, line.amount) for line in invoice.lines if line.adjusts)
    total = sum((amount for _, amount in rows), ZERO)
    return Adjustment(total, (), ZERO, rows) if rows else None


def _flag(  # noqa: PLR0913 - what an owner must see
    terms: Terms,
    held: Decimal,
    adjustment: Adjustment | None,
    *,
    asked: bool,
    over: bool,
    settled: bool,
) -> str:
    """Return what the owner must see of a job, the most pressing first.

    Args:
        terms: What its bill is held to.
        held: What of the bill is held against the ceiling.
        adjustment: What it is adjusted by.
        asked: Whether more was asked for, and the customer has not answered.
        over: Whether more was worked than was estimated.
        settled: Whether it is to be invoiced or was.
    """
    ceiling = terms.ceiling.amount if terms.ceiling else None
    if ceiling is not None and held > ceiling:
        return ABOVE_CEILING
    if asked:
        return ASKED
    if terms.basis is Basis.FIXED:
        return "" if terms.price else NO_PRICE
    if adjustment and adjustment.total < 0:
        return WRITTEN_DOWN
    if held == ceiling and held > 0 and not settled:
        return AT_CEILING
    return OVER_ESTIMATE if over else ""


def _costs(job: Job, book: ShopBook, *, settled: bool) -> tuple[LineCost, ...]:
    if job.archived:
        return job.archived
    rounding = Rounding(book.settings.digits)
    return cost_lines(job.lines, policy=book.settings.hours, rounding=rounding, settled=settled)


def result_of(
    job: Job, book: ShopBook, invoice: Invoice | None = None, *, asked: bool = False
) -> JobResult:
    """Return what `job` comes to on the book's as-of day, or on the day of its `invoice`.

    `asked` says whether a request for extra work waits for an answer.

    The lines of an archived job come to what they came to when it was archived.

    Raises:
        RateMissingError: A tax falls on the job but has no rate on that day.
        UnknownTaxClassError: A line is taxed as a class that the sheet Taxes does not have.
    """
    rounding = Rounding(book.settings.digits)
    balance = (invoice.total - paid_on(invoice.number, book)) if invoice else None
    stands = _standing(job, invoice, balance)
    job = replace(job, lines=tuple(priced(line, day=job.opened, book=book) for line in job.lines))
    settled = stands in SETTLED
    costs = _costs(job, book, settled=settled)
    taxed = partial(taxes_on, profile=book.profile, day=invoice.day if invoice else book.as_of)
    estimate_taxes = taxed((c.line.taxed_as, c.estimated) for c in costs)
    zero = rounding.amount(ZERO)
    estimate_net = sum((c.estimated for c in costs), start=zero)
    worked = sum((c.amount for c in costs), start=zero)
    limits = limits_of(job, book)
    terms = terms_of(job, book, limits)
    bill = _bill(job, costs, terms, book, taxed)
    adjustment = bill.adjustment if bill else _billed_adjustment(job, invoice)
    rows = adjustment.by_class if adjustment else ()
    subtotal = sum((amount for _, amount in rows), start=worked)
    taxes = _frozen_taxes(job, invoice, subtotal)
    taxes = taxes or taxed([*((c.line.taxed_as, c.amount) for c in costs), *rows])
    tax = sum((t.amount for t in taxes), start=zero)
    ceiling = terms.ceiling
    with_tax = ceiling.with_tax if ceiling else book.settings.authorised_with_tax
    held = subtotal + tax if with_tax else subtotal
    labour = [c for c in costs if c.line.kind is Kind.LABOUR]
    return JobResult(
        job=job,
        costs=costs,
        estimated=by_kind((c.line.kind, c.estimated) for c in costs),
        billed=by_kind((c.line.kind, c.amount) for c in costs),
        estimate_net=estimate_net,
        estimate_taxes=estimate_taxes,
        estimate_total=sum((t.amount for t in estimate_taxes), start=estimate_net),
        worked=worked,
        bill=bill,
        adjustment=adjustment,
        subtotal=subtotal,
        taxes=taxes,
        tax=tax,
        total=subtotal + tax,
        invoiced=invoice.day if invoice else None,
        actual_minutes=int(sum(c.line.actual or ZERO for c in labour)),
        estimate_minutes=int(sum(c.line.estimate or ZERO for c in labour)),
        non_billable_minutes=int(sum(c.line.non_billable or ZERO for c in labour)),
        billed_hours=sum((c.billed for c in labour), start=ZERO),
        non_billable_value=rounding.amount(value_not_billed(job.lines)),
        ceiling=ceiling.amount if ceiling else None,
        held_against=held,
        invoice=invoice.number if invoice else "",
        balance=balance,
        stands=stands,
        flag=_flag(
            terms,
            held,
            adjustment,
            asked=asked and invoice is None,
            over=worked > estimate_net > 0,
            settled=settled,
        ),
    )
