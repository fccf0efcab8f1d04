"""An estimate as a workbook, ready to print and to be signed."""

import xlsxwriter

from ledger_tools.billing.estimate import Estimate
from ledger_tools.documents import paper
from ledger_tools.documents import printed_sheet as look
from ledger_tools.documents.offers import offers
from ledger_tools.documents.offers_sheet import options_sheet
from ledger_tools.documents.paper_sheet import AMOUNT, QUANTITY, paper_workbook
from ledger_tools.documents.printed_sheet import PrintedSheet
from ledger_tools.documents.texts import label

WRITING_ROOM = 30
"""Points above a line that is written on by hand."""


_TO_TICK = "   [   ] "
"""Stands before each answer to a question; one is ticked by hand."""


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
        page.headed(label(estimate, "consent"), paper.consent(estimate))
        if asked := paper.old_parts(estimate):
            page.block(_TO_TICK.join(asked))
        _fields(page, paper.consent_fields(estimate))

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


def _fields(page: PrintedSheet, labels: list[str]) -> None:
    """Write lines to sign on, two beside each other, each with what it is for below it."""
    for left, right in zip(labels[::2], labels[1::2], strict=True):
        page.sheet.set_row(page.row, WRITING_ROOM)
        page.word(0, "", look.INK_BELOW)
        for col in range(QUANTITY + 1, AMOUNT + 1):
            page.word(col, "", look.INK_BELOW)
        page.row += 1
        page.word(0, left, look.SMALL)
        page.word(QUANTITY + 1, right, look.SMALL)
        page.row += 1
