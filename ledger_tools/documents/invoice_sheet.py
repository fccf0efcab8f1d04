"""An invoice as a workbook, ready to print."""

from ledger_tools.billing.invoice import Invoice
from ledger_tools.documents import paper
from ledger_tools.documents.consent_sheet import advised
from ledger_tools.documents.paper_sheet import paper_workbook
from ledger_tools.documents.printed_sheet import PrintedSheet


def invoice_workbook(invoice: Invoice) -> bytes:
    """Return the invoice as an .xlsx file; the same invoice gives the same bytes."""

    def below(page: PrintedSheet) -> None:
        page.headed(*paper.payment(invoice))
        page.gap()
        advised(page, invoice)
        for heading, text in paper.closing(invoice):
            page.headed(heading, text)
            page.gap()

    return paper_workbook(invoice, below)
