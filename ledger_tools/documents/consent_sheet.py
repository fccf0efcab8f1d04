"""The end of a paper in a workbook: what was declined, what is consented to, lines to sign on."""

from ledger_tools.billing.estimate import Estimate
from ledger_tools.documents import paper
from ledger_tools.documents import printed_sheet as look
from ledger_tools.documents.paper_sheet import AMOUNT, QUANTITY
from ledger_tools.documents.printed_sheet import PrintedSheet
from ledger_tools.documents.texts import Paper, label

WRITING_ROOM = 30
"""Points above a line that is written on by hand."""
TICK = "\u25a1 "
"""Stands before what is to be ticked."""
_TO_TICK = "   [   ] "
"""Stands before each answer to a question; one is ticked by hand."""


def consent(page: PrintedSheet, estimate: Estimate) -> None:
    """Write what the customer consents to, and lines to write on."""
    says, refusal = paper.consent(estimate), paper.refusal(estimate)
    if refusal:
        says = f"{TICK}{says}\n{TICK}{refusal}"
    page.headed(label(estimate, "consent"), says)
    if asked := paper.old_parts(estimate):
        page.block(_TO_TICK.join(asked))
    _fields(page, paper.consent_fields(estimate))


def advised(page: PrintedSheet, document: Paper) -> None:
    """Write what was advised and declined, each with what it would have added."""
    rows = paper.advised(document)
    if not rows:
        return
    page.block(paper.advised_heading(document), look.BOLD)
    for words, amount in rows:
        left = page.first_part(words)
        page.figure(AMOUNT, amount, page.digits)
        page.rest(left)
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
