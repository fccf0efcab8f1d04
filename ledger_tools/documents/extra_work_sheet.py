"""A request for extra work as a workbook, ready to print and to be signed."""

from ledger_tools.billing.estimate import Estimate
from ledger_tools.documents import paper
from ledger_tools.documents import printed_sheet as look
from ledger_tools.documents.consent_sheet import advised, consent
from ledger_tools.documents.paper_sheet import AMOUNT, PRICE, paper_workbook
from ledger_tools.documents.printed_sheet import PrintedSheet


def extra_work_workbook(request: Estimate) -> bytes:
    """Return the request as an .xlsx file; the same request gives the same bytes."""

    def above(page: PrintedSheet) -> None:
        heading, found = paper.found(request)
        if found:
            page.headed(heading, "\n".join(found))
            page.gap()

    def below(page: PrintedSheet) -> None:
        _sums(page, request)
        advised(page, request)
        # Before the small print, so that it is on the first page wherever it can be.
        consent(page, request)
        page.gap()
        for heading, text in [paper.rule(request), *paper.closing(request)]:
            page.block(heading, look.BOLD, look.SMALL)
            page.block(text, look.SMALL)

    return paper_workbook(request, below, above=above)


def _sums(page: PrintedSheet, request: Estimate) -> None:
    """Write what was authorised before, and what is asked for above it."""
    for (words, amount), style in zip(
        paper.request_sums(request), (look.QUIET, look.BOLD), strict=True
    ):
        page.word(PRICE, words, look.RIGHT, style)
        page.figure(AMOUNT, amount, page.digits, style)
        page.row += 1
    page.gap()
