"""An issued invoice: every word and figure on the paper, given once and kept."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal
from typing import Protocol

from ledger_tools.billing.tax import TaxAmount
from ledger_tools.costing.lines import Kind
from ledger_tools.money import ZERO


@dataclass(frozen=True, slots=True)
class InvoiceLine:
    """One billed line, with what the quarter needs to know about it.

    Attributes:
        line_id: Line id within the job; 0 for a row by which the bill is adjusted.
        kind: What the line is for.
        description: The words on the paper.
        quantity: Hours for labour, else units.
        unit: ``h`` for labour.
        price: Money an hour or unit; None where a price was agreed for the whole line.
        amount: Whole minor units; negative for a discount.
        taxed_as: Class in the tax profile.
        labour_class: Class of labour; empty for other kinds.
        vendor: Who did sublet work.
        cost: What the whole line cost the shop, whole minor units; None where unknown.
        estimate: Promised minutes (labour) or quantity.
        actual: Minutes worked or quantity used.
        non_billable: The part of `actual` not billed.
        reason: Why.
        non_billable_value: What that part would have come to, whole minor units.
        estimated: Estimated amount, whole minor units.
        part_status: ``used`` or ``reconditioned``; empty for a new part and for other kinds.
        before: Amount agreed before a request for extra work, whole minor units; None where
            nothing was.
    """

    line_id: int
    kind: Kind
    description: str
    quantity: Decimal
    unit: str
    price: Decimal | None
    amount: Decimal
    taxed_as: str
    labour_class: str = ""
    vendor: str = ""
    cost: Decimal | None = None
    estimate: Decimal | None = None
    actual: Decimal | None = None
    non_billable: Decimal | None = None
    reason: str = ""
    non_billable_value: Decimal = Decimal(0)
    estimated: Decimal = Decimal(0)
    part_status: str = ""
    before: Decimal | None = None

    @property
    def class_word(self) -> str:
        """What the column of classes holds: class of labour, or what a part is."""
        return self.labour_class or self.part_status

    @property
    def adjusts(self) -> bool:
        """Whether this is no line of the job, but what its bill is adjusted by in a tax class."""
        return not self.line_id


@dataclass(frozen=True, slots=True)
class Invoice:
    """An invoice as issued.

    Attributes:
        number: Given once, no gaps, never reused.
        job: Job number.
        day: Date of the invoice, which decides the tax rates.
        due: Last day to pay.
        customer: Name.
        item: What was repaired.
        repair: Code of the repair type, empty for none.
        lines: Billed lines in order of line id.
        taxes: Every component of the profile with a taxable amount.
        subtotal: Sum of the lines.
        tax: Sum of the components.
        total: What is to be paid.
        currency: ISO 4217 code.
        wording: All other words on the paper, frozen on the day of issue: `shop_name`,
            `shop_address` (lines parted by newline), `shop_tax_number`, `shop_contact`,
            `customer_address`, `customer_tax_number`, `job_note`, `payment`, `hours_policy`,
            `language`, `locale`, `paper`, and each label of the document texts under
            `label.<key>`.
        fingerprint: Digest of template, fonts, logo and tool version at issue.
    """

    number: str
    job: str
    day: date
    due: date
    customer: str
    item: str
    repair: str
    lines: tuple[InvoiceLine, ...]
    taxes: tuple[TaxAmount, ...]
    subtotal: Decimal
    tax: Decimal
    total: Decimal
    currency: str
    wording: Mapping[str, str] = field(default_factory=dict)
    fingerprint: str = ""


class Summed(Protocol):
    """A paper with lines, taxes and what they come to: an invoice or an estimate."""

    @property
    def lines(self) -> tuple[InvoiceLine, ...]:
        """Lines with their amounts."""

    @property
    def taxes(self) -> tuple[TaxAmount, ...]:
        """Components of the tax."""

    @property
    def subtotal(self) -> Decimal:
        """Sum of the lines."""

    @property
    def tax(self) -> Decimal:
        """Sum of the taxes."""

    @property
    def total(self) -> Decimal:
        """Both together."""


def wrong_sums(paper: Summed) -> Iterator[tuple[str, Decimal, Decimal]]:
    """Yield each sum kept with a paper that is not that of its parts, and what they come to.

    What was issued adds up; only rows that were changed by hand since do not.
    """
    lines = sum((line.amount for line in paper.lines), ZERO)
    taxes = sum((tax.amount for tax in paper.taxes), ZERO)
    for name, kept, comes_to in (
        ("net amount", paper.subtotal, lines),
        ("tax", paper.tax, taxes),
        ("total", paper.total, paper.subtotal + paper.tax),
    ):
        if kept != comes_to:
            yield name, kept, comes_to
