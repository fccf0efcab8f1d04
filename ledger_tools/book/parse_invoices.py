"""Reading issued invoices back from the registers, every word and figure."""

from decimal import Decimal

from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.book.layout import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.rows import Reading, Row
from ledger_tools.book.wording import from_text
from ledger_tools.costing.lines import Kind
from ledger_tools.money import ZERO, Rounding

TAX_KIND = "tax"
_Parts = tuple[list[InvoiceLine], list[TaxAmount]]


def read_invoices(reading: Reading, currency: str, money: Rounding) -> dict[str, Invoice]:
    """Return the issued invoices by number, in the order of their rows.

    An error in a row names its job, which is then neither computed, nor billed, nor printed.
    """
    parts, broken = _lines(reading, money)
    invoices: dict[str, Invoice] = {}
    for row in reading.rows(INVOICES_TABLE, "number", "job", "total"):
        row.job = row.text("job")
        invoice = _invoice(row, parts, currency, money)
        if invoice is None:
            continue
        if invoice.number in broken:
            row.error(
                "number", "invoice-lines-unreadable",
                f"Lines of invoice {invoice.number} cannot be read",
                "Take the rows from a backup: issued rows are not changed by hand",
            )  # fmt: skip
        if invoice.number in invoices:
            row.error(
                "number", "invoice-number-twice", f"Invoice {invoice.number} stands here twice",
                "Take the book from a backup: issued rows are not changed by hand",
            )  # fmt: skip
            continue
        invoices[invoice.number] = invoice
    return invoices


def _lines(reading: Reading, money: Rounding) -> tuple[dict[str, _Parts], set[str]]:
    """Return lines and taxes by invoice, and the invoices some of whose rows cannot be read."""
    parts: dict[str, _Parts] = {}
    broken: set[str] = set()
    for row in reading.rows(INVOICE_LINES_TABLE, "invoice", "kind"):
        number = row.text("invoice")
        lines, taxes = parts.setdefault(number, ([], []))
        if row.text("kind") == TAX_KIND:
            taxes.append(
                TaxAmount(
                    row.text("description"),
                    money.amount(_amount(row, "price")),
                    _amount(row, "quantity"),
                    money.amount(_amount(row, "amount")),
                )
            )
        elif line := _line(row, money):
            lines.append(line)
        if row.broken:
            broken.add(number)
    return parts, broken


def _amount(row: Row, key: str) -> Decimal:
    return row.number(key, negative=True) or ZERO


def _line(row: Row, money: Rounding) -> InvoiceLine | None:
    kind = row.choice("kind", tuple(k.value for k in Kind), "kind-unknown")
    if not kind:
        return None
    return InvoiceLine(
        line_id=int(_amount(row, "line_id")),
        kind=Kind(kind),
        description=row.text("description"),
        quantity=_amount(row, "quantity"),
        unit=row.text("unit"),
        price=row.number("price", negative=True),
        amount=money.amount(_amount(row, "amount")),
        taxed_as=row.text("taxed_as"),
        labour_class=row.text("labour_class"),
        vendor=row.text("vendor"),
        cost=row.number("cost", negative=True),
        estimate=row.number("estimate"),
        actual=row.number("actual"),
        non_billable=row.number("non_billable"),
        reason=row.text("reason"),
        non_billable_value=money.amount(_amount(row, "non_billable_value")),
        estimated=money.amount(_amount(row, "estimated")),
    )


def _invoice(row: Row, parts: dict[str, _Parts], currency: str, money: Rounding) -> Invoice | None:
    number = row.needed("number", row.text, "invoice-number-missing", "The invoice has no number")
    day = row.needed("day", row.day, "date-missing", "The invoice has no date")
    due = row.needed("due", row.day, "date-missing", "The invoice has no due date")
    if not (number and day and due):
        return None
    lines, taxes = parts.get(number, ([], []))
    return Invoice(
        number=number,
        job=row.text("job"),
        day=day,
        due=due,
        customer=row.text("customer"),
        item=row.text("item"),
        repair=row.text("repair"),
        lines=tuple(lines),
        taxes=tuple(taxes),
        subtotal=money.amount(_amount(row, "subtotal")),
        tax=money.amount(_amount(row, "tax")),
        total=money.amount(_amount(row, "total")),
        currency=currency,
        wording=_wording(row),
        fingerprint=row.text("fingerprint"),
    )


def _wording(row: Row) -> dict[str, str]:
    said = from_text(row.text("wording"))
    if said is None:
        row.error(
            "wording", "invoice-wording", "The wording of the paper cannot be read",
            "Take the row from a backup: issued rows are not changed by hand",
        )  # fmt: skip
        return {}
    return said
