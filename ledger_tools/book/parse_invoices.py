"""Reading issued invoices back from the registers, every word and figure."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice, InvoiceLine, wrong_sums
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.book.registers import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.rows import Reading, Row
from ledger_tools.book.wording import from_text
from ledger_tools.costing.lines import Kind
from ledger_tools.money import ZERO, Rounding, plain

TAX_KIND = "tax"
_SUM_COLUMNS = {"net amount": "subtotal", "tax": "tax", "total": "total"}


@dataclass(slots=True)
class _Parts:
    """What the rows of one invoice hold.

    Attributes:
        first: The first of its rows.
        lines: Billed lines.
        taxes: Components of the tax.
        broken: Whether a row cannot be read.
    """

    first: Row
    lines: list[InvoiceLine] = field(default_factory=list)
    taxes: list[TaxAmount] = field(default_factory=list)
    broken: bool = False


def read_invoices(reading: Reading, currency: str, money: Rounding) -> dict[str, Invoice]:
    """Return the issued invoices by number, in the order of their rows.

    An error in a row names its job, which is then neither computed, nor billed, nor printed.
    """
    parts = _lines(reading, money)
    orphans = dict(parts)
    invoices: dict[str, Invoice] = {}
    for row in reading.rows(INVOICES_TABLE, "number", "job", "total"):
        row.job = row.text("job")
        orphans.pop(str(row.raw("number")), None)
        invoice = _invoice(row, parts, currency, money)
        if invoice is None:
            continue
        if invoice.number in parts and parts[invoice.number].broken:
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
        _check_sums(row, invoice)
        invoices[invoice.number] = invoice
    _say_orphans(orphans)
    return invoices


def _check_sums(row: Row, invoice: Invoice) -> None:
    """Warn of an invoice whose rows do not add up any more; it is printed as they stand."""
    for name, kept, comes_to in () if row.broken else wrong_sums(invoice):
        row.warning(
            _SUM_COLUMNS[name], "invoice-sum",
            f"Invoice {invoice.number}: the {name} kept is {plain(kept)}, "
            f"its parts come to {plain(comes_to)}",
            "Put its rows in Invoices and Invoice lines back as they were issued, or take them "
            "from a backup",
        )  # fmt: skip


def _say_orphans(orphans: Mapping[str, _Parts]) -> None:
    """Name the invoices that have lost their row in `Invoices`: their jobs look unbilled."""
    for number, parts in orphans.items():
        if number:
            parts.first.error(
                "invoice", "invoice-row-missing",
                f"Invoice {number} has its lines here and no row in Invoices",
                "Take its row in Invoices from a backup: issued rows are not changed by hand",
            )  # fmt: skip


def _lines(reading: Reading, money: Rounding) -> dict[str, _Parts]:
    """Return lines and taxes by invoice."""
    found: dict[str, _Parts] = {}
    for row in reading.rows(INVOICE_LINES_TABLE, "invoice", "kind"):
        parts = found.setdefault(row.text("invoice"), _Parts(row))
        if row.text("kind") == TAX_KIND:
            parts.taxes.append(
                TaxAmount(
                    row.text("description"),
                    money.amount(_amount(row, "price")),
                    _amount(row, "quantity"),
                    money.amount(_amount(row, "amount")),
                )
            )
        elif line := _line(row, money):
            parts.lines.append(line)
        parts.broken |= row.broken
    return found


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
        labour_class="" if kind == Kind.PART else row.text("labour_class"),
        part_status=row.text("labour_class") if kind == Kind.PART else "",
        vendor=row.text("vendor"),
        cost=row.number("cost", negative=True),
        estimate=row.number("estimate"),
        actual=row.number("actual"),
        non_billable=row.number("non_billable"),
        reason=row.text("reason"),
        non_billable_value=money.amount(_amount(row, "non_billable_value")),
        estimated=money.amount(_amount(row, "estimated")),
    )


def _invoice(
    row: Row, parts: Mapping[str, _Parts], currency: str, money: Rounding
) -> Invoice | None:
    number = row.needed("number", row.text, "invoice-number-missing", "The invoice has no number")
    day = row.needed("day", row.day, "date-missing", "The invoice has no date")
    due = row.needed("due", row.day, "date-missing", "The invoice has no due date")
    if not (number and day and due):
        return None
    kept = parts.get(number, _Parts(row))
    return Invoice(
        number=number,
        job=row.text("job"),
        day=day,
        due=due,
        customer=row.text("customer"),
        item=row.text("item"),
        repair=row.text("repair"),
        lines=tuple(kept.lines),
        taxes=tuple(kept.taxes),
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
