"""An estimate as PDF."""

from typing import Any

from ledger_tools.billing.estimate import Estimate
from ledger_tools.documents import paper
from ledger_tools.documents.offers import Offers, offers
from ledger_tools.documents.page import (
    TEMPLATES,
    consent_content,
    line,
    lines,
    page_content,
    typeset,
)

TEMPLATE = TEMPLATES / "estimate.typ"


def estimate_pdf(estimate: Estimate) -> bytes:
    """Return the estimate as a PDF file; the same revision gives the same bytes."""
    block = offers(estimate)
    label_of_deposit, amount, says = paper.deposit(estimate)
    return typeset(
        TEMPLATE,
        {
            **page_content(estimate),
            "deposit": [lines(label_of_deposit), amount, lines(says)],
            "options": None if block is None else _options(block),
            "terms": [
                [line(heading), [lines(each) for each in text.splitlines()]]
                for heading, text in paper.terms(estimate)
            ],
            "consent": consent_content(estimate),
        },
    )


def _options(block: Offers) -> dict[str, Any]:
    """Return the block of options as texts."""
    return {
        "heading": line(block.heading),
        "says": lines(block.says),
        "tick": block.tick,
        "heads": [[line(h.letter), lines(h.kind), lines(h.marks)] for h in block.heads],
        "rows": [[lines(name), [lines(text) for text in texts]] for name, texts in block.rows],
    }
