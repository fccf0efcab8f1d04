"""The raw rows behind a period's figures: invoices, lines, taxes, payments and jobs.

What comes from the registers is a plain value; what follows from other rows is a formula.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.numbering import sequence_of
from ledger_tools.billing.receivables import BUCKET_LAST_DAYS, BUCKETS, Receipt, bucket_of
from ledger_tools.billing.summaries import Comparison, PeriodSummary
from ledger_tools.book.formulas.text import rounded
from ledger_tools.documents.blocks import Content, Detail, Formula
from ledger_tools.documents.period_layouts import INVOICES, JOBS, LINES, PAYMENTS, TAXES
from ledger_tools.money import ZERO, Rounding
from ledger_tools.shop.model import Payment, ShopBook

ON_INVOICE = "invoice"
AHEAD = "ahead of invoice"
UNKNOWN = "no such invoice"
LATER = "paid later"
OVERPAID = "overpaid"
SETTLED = "settled"


@dataclass(frozen=True, slots=True)
class PeriodRegisters:
    """The rows of the book that a period's figures come from.

    Attributes:
        issued: Invoices of the period, by day and number.
        listed: Those and the older ones not settled when it began.
        payments: Payments that count, by day; with later ones if they are wanted.
        listed_numbers: Their numbers.
        known: Numbers of all invoices in the book.
    """

    issued: tuple[Invoice, ...]
    listed: tuple[Invoice, ...]
    payments: tuple[Payment, ...]
    listed_numbers: frozenset[str]
    known: frozenset[str]

    def stands_for(self, payment: Payment, last: date) -> str:
        """Return in a word what `payment` is set against at the end of `last`."""
        if payment.day > last:
            return LATER
        if payment.invoice not in self.known:
            return UNKNOWN
        return ON_INVOICE if payment.invoice in self.listed_numbers else AHEAD


def receipts_of(book: ShopBook) -> tuple[Receipt, ...]:
    """Return the payments of the book as billing takes them."""
    return tuple(Receipt(p.day, p.invoice, p.amount) for p in book.payments)


def registers(
    book: ShopBook, summary: PeriodSummary, *, later_payments: bool = False
) -> PeriodRegisters:
    """Return the rows that the figures of `summary` come from.

    Args:
        book: The shop book.
        summary: The period's figures.
        later_payments: Whether payments after the period on its open invoices are shown too.
    """
    period = summary.period
    known = sorted(book.invoices.values(), key=lambda i: (i.day, i.number))
    to_date = [i for i in known if i.day <= period.last]
    listed = tuple(
        i for i in to_date if i.day >= period.first or _unsettled(i, book, period.first)
    )
    listed_numbers = frozenset(i.number for i in listed)
    left_out = {i.number for i in to_date} - listed_numbers
    payments = [
        p
        for p in book.payments
        if p.invoice not in left_out
        and (p.day <= period.last or (later_payments and p.invoice in listed_numbers))
    ]
    return PeriodRegisters(
        issued=tuple(i for i in to_date if i.day >= period.first),
        listed=listed,
        payments=tuple(sorted(payments, key=lambda p: p.day)),
        listed_numbers=listed_numbers,
        known=frozenset(book.invoices),
    )


def _unsettled(invoice: Invoice, book: ShopBook, first: date) -> bool:
    """Return whether an older invoice was open at the beginning, or money moved on it since."""
    own = [p for p in book.payments if p.invoice == invoice.number]
    moved = any(p.day >= first for p in own)
    return moved or invoice.total != sum((p.amount for p in own), start=ZERO)


def details(
    book: ShopBook, summary: PeriodSummary, rows: PeriodRegisters
) -> tuple[Detail, Detail, Detail, Detail]:
    """Return the sheets of invoices, lines, taxes and payments."""
    rounding = Rounding(book.settings.digits)
    return (
        Detail(INVOICES, tuple(_invoice_row(i, book, summary, rows) for i in rows.listed)),
        Detail(LINES, tuple(row for i in rows.issued for row in _line_rows(i, rounding))),
        Detail(TAXES, tuple(row for i in rows.issued for row in _tax_rows(i, rounding))),
        Detail(PAYMENTS, tuple(_payment_row(p, summary, rows, book) for p in rows.payments)),
    )


def jobs_detail(book: ShopBook, summary: PeriodSummary, rows: PeriodRegisters) -> Detail:
    """Return the sheet that sets promise against outcome, job by job."""
    latest = {i.job: i for i in rows.issued}
    names = {repair.code: repair.name for repair in book.catalogue.repairs}
    digits = book.settings.digits
    return Detail(JOBS, tuple(_job_row(c, latest[c.key], names, digits) for c in summary.jobs))


def _invoice_row(
    invoice: Invoice, book: ShopBook, summary: PeriodSummary, rows: PeriodRegisters
) -> tuple[Content, ...]:
    last, digits = summary.period.last, book.settings.digits
    paid = sum(
        (p.amount for p in rows.payments if p.invoice == invoice.number and p.day <= last),
        start=ZERO,
    )
    owing = invoice.total - paid
    overdue = max(0, (summary.aged_on - invoice.due).days) if owing > 0 else 0
    return (
        invoice.number,
        invoice.job,
        invoice.day,
        invoice.due,
        invoice.customer,
        invoice.item,
        invoice.repair,
        invoice.subtotal,
        invoice.tax,
        invoice.total,
        Formula(
            f"ROUND(SUMPRODUCT(EXACT(Payments[Invoice],{_own('Invoice')})"
            f"*(Payments[Date]<=period_last),Payments[Amount]),{digits})",
            paid,
        ),
        Formula(f"ROUND({_own('Total')}-{_own('Paid')},{digits})", owing),
        Formula(f"IF({_own('Owing')}>0,MAX(0,aged_on-{_own('Due')}),0)", overdue),
        Formula(_age_formula(), _age(owing, overdue)),
        sequence_of(invoice.number, book.settings.number_pattern),
    )


def _own(header: str, table: str = "Invoices") -> str:
    return f"{table}[[#This Row],[{header}]]"


def _age(owing: Decimal, overdue: int) -> str:
    if not owing:
        return SETTLED
    return bucket_of(overdue) if owing > 0 else OVERPAID


def _age_formula() -> str:
    days, owing = _own("Days overdue"), _own("Owing")
    by_days = f'"{BUCKETS[-1]}"'
    for bucket, last in reversed(tuple(zip(BUCKETS, BUCKET_LAST_DAYS, strict=False))):
        by_days = f'IF({days}<={last},"{bucket}",{by_days})'
    return f'IF({owing}=0,"{SETTLED}",IF({owing}<0,"{OVERPAID}",{by_days}))'


def _line_rows(invoice: Invoice, rounding: Rounding) -> list[tuple[Content, ...]]:
    return [
        (
            invoice.number,
            invoice.day,
            invoice.job,
            line.line_id,
            line.kind.value,
            line.description,
            line.quantity,
            line.unit,
            line.price,
            line.amount,
            line.taxed_as,
            line.labour_class,
            line.vendor,
            line.cost,
            None
            if line.cost is None
            else Formula(
                f"ROUND({_own('Amount', 'Lines')}-{_own('Cost', 'Lines')},{rounding.digits})",
                line.amount - line.cost,
            ),
            line.estimate,
            line.actual,
            line.non_billable,
            line.reason,
            line.non_billable_value,
            line.estimated,
        )
        for line in invoice.lines
    ]


def _tax_rows(invoice: Invoice, rounding: Rounding) -> list[tuple[Content, ...]]:
    return [
        (
            invoice.number,
            invoice.day,
            tax.component,
            tax.rate,
            tax.base,
            tax.amount,
            Formula(
                rounded(f"{_own('Taxable amount', 'Taxes')}*{_own('Rate', 'Taxes')}", rounding),
                rounding.amount(tax.base * tax.rate),
            ),
        )
        for tax in invoice.taxes
    ]


def _payment_row(
    payment: Payment, summary: PeriodSummary, rows: PeriodRegisters, book: ShopBook
) -> tuple[Content, ...]:
    invoice = book.invoices.get(payment.invoice)
    return (
        payment.day,
        payment.invoice,
        invoice.customer if invoice else "",
        payment.amount,
        payment.how,
        payment.note,
        rows.stands_for(payment, summary.period.last),
    )


def _job_row(
    compared: Comparison, invoice: Invoice, names: dict[str, str], digits: int
) -> tuple[Content, ...]:
    of_job = f"EXACT(Lines[Job],{_own('Job', 'Jobs')})"
    labour = f'{of_job}*(Lines[Kind]="labour")'
    minutes, money = _own("Worked min", "Jobs"), _own("Billed", "Jobs")
    return (
        compared.key,
        invoice.day,
        invoice.customer,
        invoice.item,
        invoice.repair,
        names.get(invoice.repair, ""),
        Formula(f"SUMPRODUCT({labour},Lines[Estimate])", compared.estimated_minutes),
        Formula(f"SUMPRODUCT({labour},Lines[Actual])", compared.worked_minutes),
        Formula(
            f"{minutes}-{_own('Estimated min', 'Jobs')}",
            compared.worked_minutes - compared.estimated_minutes,
        ),
        Formula(f"SUMPRODUCT({labour},Lines[Not billable])", compared.idle_minutes),
        Formula(f"ROUND(SUMPRODUCT({of_job}*1,Lines[Estimated]),{digits})", compared.estimated),
        Formula(f"ROUND(SUMPRODUCT({of_job}*1,Lines[Amount]),{digits})", compared.billed),
        Formula(
            f"ROUND({money}-{_own('Estimated', 'Jobs')},{digits})",
            compared.billed - compared.estimated,
        ),
    )
