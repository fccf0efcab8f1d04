"""What follows from the book: each job's totals, tax, ceiling, and where it stands."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from functools import partial
from typing import NamedTuple

from ledger_tools.billing.authorisation import ToleranceRule, limit_of, rule_for
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
OVER_ESTIMATE = "over estimate"


@dataclass(frozen=True, slots=True)
class JobResult:
    """What one job comes to. All amounts are whole minor units.

    Attributes:
        job: The job, its labour lines priced.
        costs: What each line comes to, by line id.
        estimated: Net estimate by kind.
        billed: Net of the work so far by kind.
        estimate_net: Net estimate.
        estimate_taxes: Tax on it by component.
        estimate_total: Estimate with tax.
        subtotal: Net of the work so far.
        taxes: Tax on it by component.
        tax: Sum of the components.
        total: Work so far with tax.
        invoiced: Day of the invoice, None while there is none; then tax is that of the as-of day.
        actual_minutes: Minutes worked in all.
        estimate_minutes: Minutes promised.
        non_billable_minutes: Minutes the customer does not pay.
        billed_hours: Hours billed.
        non_billable_value: What is not billed would have come to.
        ceiling: What may be billed at most, None where nothing was authorised.
        held_against: What of the work so far is held against the ceiling: its net, or with tax.
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
    """

    rule: ToleranceRule
    amount: Decimal
    with_tax: bool


def limit_by(given: Authorisation, object_class: str, book: ShopBook) -> Limit:
    """Return what an authorisation allows for a job of that class of object."""
    rule = rule_for(object_class, given.day, book.tolerances)
    counted = book.settings.authorised_with_tax if rule.with_tax is None else rule.with_tax
    return Limit(rule, limit_of(given.amount, rule, digits=book.settings.digits), counted)


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


def _flag(net: Decimal, compared: Decimal, estimate: Decimal, ceiling: Decimal | None) -> str:
    if ceiling is not None and compared > ceiling:
        return ABOVE_CEILING
    return OVER_ESTIMATE if estimate > 0 and net > estimate else ""


def _costs(job: Job, book: ShopBook, *, settled: bool) -> tuple[LineCost, ...]:
    if job.archived:
        return job.archived
    rounding = Rounding(book.settings.digits)
    return cost_lines(job.lines, policy=book.settings.hours, rounding=rounding, settled=settled)


def result_of(job: Job, book: ShopBook, invoice: Invoice | None = None) -> JobResult:
    """Return what `job` comes to on the book's as-of day, or on the day of its `invoice`.

    The lines of an archived job come to what they came to when it was archived.

    Raises:
        RateMissingError: A tax falls on the job but has no rate on that day.
        UnknownTaxClassError: A line is taxed as a class that the sheet Taxes does not have.
    """
    rounding = Rounding(book.settings.digits)
    balance = (invoice.total - paid_on(invoice.number, book)) if invoice else None
    stands = _standing(job, invoice, balance)
    job = replace(job, lines=tuple(priced(line, day=job.opened, book=book) for line in job.lines))
    costs = _costs(job, book, settled=stands in SETTLED)
    taxed = partial(taxes_on, profile=book.profile, day=invoice.day if invoice else book.as_of)
    estimate_taxes = taxed((c.line.taxed_as, c.estimated) for c in costs)
    zero = rounding.amount(ZERO)
    estimate_net = sum((c.estimated for c in costs), start=zero)
    subtotal = sum((c.amount for c in costs), start=zero)
    taxes = _frozen_taxes(job, invoice, subtotal)
    taxes = taxes or taxed((c.line.taxed_as, c.amount) for c in costs)
    tax = sum((t.amount for t in taxes), start=zero)
    limits = limits_of(job, book)
    ceiling = max((limit.amount for limit in limits), default=None)
    # The stricter reading where authorisations differ in it.
    with_tax = any(li.with_tax for li in limits) if limits else book.settings.authorised_with_tax
    compared = subtotal + tax if with_tax else subtotal
    labour = [c for c in costs if c.line.kind is Kind.LABOUR]
    return JobResult(
        job=job,
        costs=costs,
        estimated=by_kind((c.line.kind, c.estimated) for c in costs),
        billed=by_kind((c.line.kind, c.amount) for c in costs),
        estimate_net=estimate_net,
        estimate_taxes=estimate_taxes,
        estimate_total=sum((t.amount for t in estimate_taxes), start=estimate_net),
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
        ceiling=ceiling,
        held_against=compared,
        invoice=invoice.number if invoice else "",
        balance=balance,
        stands=stands,
        flag=_flag(subtotal, compared, estimate_net, ceiling),
    )
