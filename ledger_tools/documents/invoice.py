"""An invoice as PDF."""

from ledger_tools.billing.invoice import Invoice
from ledger_tools.documents import paper
from ledger_tools.documents.page import TEMPLATES, page_content, pairs, typeset

TEMPLATE = TEMPLATES / "invoice.typ"


def invoice_pdf(invoice: Invoice) -> bytes:
    """Return the invoice as a PDF file; the same invoice gives the same bytes."""
    (payment,) = pairs([paper.payment(invoice)])
    return typeset(TEMPLATE, {**page_content(invoice), "payment": payment})
