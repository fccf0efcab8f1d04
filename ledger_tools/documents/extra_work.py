"""A request for extra work as PDF."""

from ledger_tools.billing.estimate import Estimate
from ledger_tools.documents import paper
from ledger_tools.documents.page import (
    TEMPLATES,
    consent_content,
    line,
    lines,
    page_content,
    pairs,
    typeset,
)

TEMPLATE = TEMPLATES / "extra-work.typ"


def extra_work_pdf(request: Estimate) -> bytes:
    """Return the request as a PDF file; the same request gives the same bytes."""
    heading, found = paper.found(request)
    return typeset(
        TEMPLATE,
        {
            **page_content(request),
            "found": {"heading": line(heading), "words": lines("\n".join(found))},
            "sums": [
                [line(words), paper.amount_text(request, amount)]
                for words, amount in paper.request_sums(request)
            ],
            "closing": pairs([paper.rule(request), *paper.closing(request)]),
            "consent": consent_content(request),
        },
    )
