"""An estimate as a workbook, ready to print and to be signed."""

import xlsxwriter

from ledger_tools.billing.estimate import Estimate
from ledger_tools.documents import paper
from ledger_tools.documents import printed_sheet as look
from ledger_tools.documents.consent_sheet import consent
from ledger_tools.documents.offers import offers
from ledger_tools.documents.offers_sheet import options_sheet
from ledger_tools.documents.paper_sheet import AMOUNT, paper_workbook
from ledger_tools.documents.printed_sheet import PrintedSheet


def estimate_workbook(estimate: Estimate) -> bytes:
    """Return the estimate as an .xlsx file; the same revision gives the same bytes."""

    def below(page: PrintedSheet) -> None:
        _deposit(page, estimate)
        for heading, text in paper.terms(estimate):
            items = "\n".join(f"\u2013 {each}" for each in text.splitlines())
            page.headed(heading, items)
            page.gap()
        for heading, text in paper.closing(estimate):
            page.headed(heading, text)
            page.gap()
        consent(page, estimate)

    def beside(book: xlsxwriter.Workbook) -> None:
        block = offers(estimate)
        if block is not None:
            options_sheet(book, estimate, block)

    return paper_workbook(estimate, below, beside)


def _deposit(page: PrintedSheet, estimate: Estimate) -> None:
    words, _, says = paper.deposit(estimate)
    if not words:
        return
    left = page.first_part(f"{words}\n{says}", look.QUIET)
    page.figure(AMOUNT, estimate.deposit, page.digits)
    page.rest(left, look.QUIET)
    page.gap()
