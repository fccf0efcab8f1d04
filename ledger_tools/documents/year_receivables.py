"""What was owed at the end of a year: by age, and invoice by invoice."""

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.receivables import Receipt, balance_on
from ledger_tools.billing.summaries import PeriodSummary
from ledger_tools.book.layout import Look
from ledger_tools.documents.blocks import Block, Content, Field, Formula
from ledger_tools.documents.pack import Pack
from ledger_tools.documents.period_blocks import age_block, column_sum
from ledger_tools.documents.period_blocks import total as total_of
from ledger_tools.documents.period_checks import Check
from ledger_tools.documents.period_details import PeriodRegisters

SHEET = "Receivables"
_WIDTHS = (14, 28, 11, 11, 13, 13, 13, 11, 13)
_FIELDS = (
    Field(1, "Invoice", Look.TEXT),
    Field(2, "Customer", Look.TEXT),
    Field(3, "Date", Look.DATE),
    Field(4, "Due", Look.DATE),
    Field(5, "Total"),
    Field(6, "Paid"),
    Field(7, "Owing"),
    Field(8, "Days overdue", Look.MINUTES),
    Field(9, "Paid since"),
)
_TOP = 5


def receivables_sheet(
    pack: Pack, year: PeriodSummary, rows: PeriodRegisters, *, back: str
) -> Check:
    """Add the sheet of debts; return the check that its list is what is owed by age.

    `back` names the front sheet.
    """
    sheet = pack.sheet(SHEET, _WIDTHS, landscape=True)
    pack.heading(
        sheet,
        f"Receivables on {year.period.last.isoformat()}",
        f"Amounts in {pack.currency}, with tax. Age is counted from the due date "
        f"to {year.aged_on.isoformat()}.",
    )
    pack.back(sheet, back)
    ages = age_block(pack, year, cols=(1, 3, 5), last_col=5)
    first, _ = pack.block(sheet, ages, _TOP)
    debts = _open_block(pack, year, rows)
    top = _TOP + ages.height() + 1
    _, last = pack.block(sheet, debts, top)
    owing = f"{SHEET}!$G${last + 1}" if debts.rows else "0"
    aged = f"{SHEET}!$E${first}:$E${first + len(year.receivables.by_age) - 1}"
    listed = total_of(balance for _, balance in _debts(year, rows))
    return Check(
        "Open invoices make the debts by age",
        "Sum of the list of open invoices, against debts by age",
        Formula(owing, listed),
        Formula(pack.rounded(f"SUM({aged})"), year.receivables.owed),
        where="Receivables",
    )


def _debts(year: PeriodSummary, rows: PeriodRegisters) -> list[tuple[Invoice, Decimal]]:
    """Return the open invoices with what is owed on each, the oldest debt first."""
    receipts = tuple(Receipt(p.day, p.invoice, p.amount) for p in rows.payments)
    balances = ((i, balance_on(year.period.last, i, receipts)) for i in rows.listed)
    return sorted(
        ((invoice, owing) for invoice, owing in balances if owing > 0),
        key=lambda debt: (debt[0].due, debt[0].number),
    )


def _paid_since(year: PeriodSummary, rows: PeriodRegisters) -> Mapping[str, Decimal]:
    since: defaultdict[str, Decimal] = defaultdict(Decimal)
    for payment in rows.payments:
        if payment.day > year.period.last:
            since[payment.invoice] += payment.amount
    return since


def _open_block(pack: Pack, year: PeriodSummary, rows: PeriodRegisters) -> Block:
    since = _paid_since(year, rows)

    def row(invoice: Invoice, owing: Decimal) -> tuple[Content, ...]:
        own = "EXACT(Invoices[Invoice],$A{row})*1"
        later = "EXACT(Payments[Invoice],$A{row})*(Payments[Date]>period_last)"
        return (
            invoice.number,
            invoice.customer,
            invoice.day,
            invoice.due,
            Formula(pack.rounded(f"SUMPRODUCT({own},Invoices[Total])"), invoice.total),
            Formula(pack.rounded(f"SUMPRODUCT({own},Invoices[Paid])"), invoice.total - owing),
            Formula(pack.rounded(f"SUMPRODUCT({own},Invoices[Owing])"), owing),
            Formula(
                f"SUMPRODUCT({own},Invoices[Days overdue])",
                max(0, (year.aged_on - invoice.due).days),
            ),
            Formula(pack.rounded(f"SUMPRODUCT({later},Payments[Amount])"), since[invoice.number]),
        )

    debts = _debts(year, rows)
    total, owed = total_of(i.total for i, _ in debts), total_of(owing for _, owing in debts)
    return Block(
        "Open invoices",
        _FIELDS[0].col,
        _FIELDS[-1].col,
        _FIELDS,
        tuple(row(invoice, owing) for invoice, owing in debts),
        (
            *("Total", None, None, None),
            column_sum(pack, 5, total),
            column_sum(pack, 6, total - owed),
            column_sum(pack, 7, owed),
            None,
            column_sum(pack, 9, total_of(since[i.number] for i, _ in debts)),
        ),
        link="Invoices",
        empty="Nothing was owed.",
    )
