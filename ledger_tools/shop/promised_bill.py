"""What an estimate promises to bill: its lines, or the price and the minimum they are held to."""

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.basis import Adjustment, Basis, Billed, Bound, Terms, bill_of
from ledger_tools.billing.tax import TaxAmount, taxes_on
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.results import JobResult


class PromisedBill(NamedTuple):
    """What an estimate comes to, amounts in whole minor units.

    Attributes:
        adjustment: What it is above or below the sum of its lines; None for nothing.
        taxes: Tax by component.
        net: What it comes to before tax.
    """

    adjustment: Adjustment | None
    taxes: tuple[TaxAmount, ...]
    net: Decimal


def promised_bill(result: JobResult, book: ShopBook) -> PromisedBill:
    """Return what a job's estimate comes to on the book's as-of day.

    A fixed job with an agreed price is promised at that price, and no job at less than the
    minimum charge: what the customer accepts is what may be billed.
    """
    job, digits = result.job, book.settings.digits
    fixed = job.basis is Basis.FIXED and job.agreed_price is not None
    if not fixed and not book.settings.minimum_charge:
        return PromisedBill(None, result.estimate_taxes, result.estimate_net)
    price = Bound(job.agreed_price, with_tax=False) if job.agreed_price is not None else None
    basis = Basis.FIXED if fixed else Basis.ACTUAL
    terms = Terms(basis, price, minimum=book.settings.minimum_charge)
    lines = [Billed(c.line.line_id, c.line.taxed_as, c.estimated) for c in result.costs]

    def taxed(pairs: Iterable[tuple[str, Decimal]]) -> tuple[TaxAmount, ...]:
        return taxes_on(pairs, profile=book.profile, day=book.as_of)

    adjustment = bill_of(terms, lines, taxed, digits=digits).adjustment
    rows = adjustment.by_class if adjustment else ()
    taxes = taxed([*((line.taxed_as, line.amount) for line in lines), *rows])
    return PromisedBill(adjustment, taxes, sum((a for _, a in rows), start=result.estimate_net))
