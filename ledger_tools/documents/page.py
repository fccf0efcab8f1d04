"""A paper as PDF: archivable, tagged for screen readers, the same bytes at every printing.

This is what an estimate and an invoice have in common.

Everything goes to the template as one JSON string of finished texts. A customer's words are never
part of the template's source, so nothing in them is read as markup or as the name of a file.
"""

import json
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

import typst

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import InvoiceLine
from ledger_tools.book import look
from ledger_tools.documents import figures, paper
from ledger_tools.documents.font import FONTS
from ledger_tools.documents.letters import breakable, clean, clean_line, printable
from ledger_tools.documents.texts import Paper, label

TEMPLATES = Path(__file__).parent / "templates"
COMMON = TEMPLATES / "page.typ"
"""What the templates share."""
PAPER_FONT = "Liberation Sans"
"""As wide as the book's Arial, letter by letter, and free to ship."""

RUNNING_LETTERS = 60


def typeset(template: Path, content: Mapping[str, Any]) -> bytes:
    """Return the PDF file that `template` makes of `content`; the same gives the same bytes."""
    told = json.dumps(content, sort_keys=True)
    made = _typesetter().compile(
        template, sys_inputs={"paper": told}, format="pdf", pdf_standards=["a-3b", "ua-1"]
    )
    if not isinstance(made, bytes):
        raise TypeError(f"the typesetter gave {type(made).__name__} for one PDF file")
    return made


@cache
def _typesetter() -> typst.Compiler:
    """Return the typesetter, which reads the shipped fonts once and no file but the templates."""
    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS]
    )
    return typst.Compiler(COMMON, root=TEMPLATES, font_paths=fonts, ignore_system_fonts=True)


def page_content(document: Paper) -> dict[str, Any]:
    """Return what every template prints, as texts."""
    place = paper.where(document)
    return {
        "look": _look(),
        "paper": paper.page_size(document),
        "language": place.language,
        "region": place.territory if len(place.territory or "") == 2 else "",  # noqa: PLR2004 - ISO 3166
        "date": [document.day.year, document.day.month, document.day.day],
        **_frame(document),
        "labels": {key: line(label(document, key)) for key in ("customer", "item", "subtotal")},
        "shop": {
            key: lines(document.wording.get(f"shop_{key}", ""))
            for key in ("name", "address", "contact", "tax_number")
        },
        "customer": _customer(document),
        "item": lines(document.item),
        "facts": pairs(paper.facts(document)),
        "columns": _columns(document),
        "sections": [_section(document, section) for section in paper.sections(document)],
        "totals": pairs(_totals(document)),
        "total": _total(document),
        "advised": {
            "heading": line(paper.advised_heading(document)),
            "rows": [
                [lines(words), paper.amount_text(document, amount)]
                for words, amount in paper.advised(document)
            ],
        },
        "closing": pairs(paper.closing(document)),
    }


def consent_content(document: Estimate) -> dict[str, Any]:
    """Return what is consented to, and the labels of the lines to write on."""
    return {
        "heading": line(label(document, "consent")),
        "says": lines(paper.consent(document)),
        "refusal": lines(paper.refusal(document)),
        "old_parts": [line(each) for each in paper.old_parts(document)],
        "fields": [line(each) for each in paper.consent_fields(document)],
    }


def _look() -> dict[str, Any]:
    return {
        "font": PAPER_FONT,
        "ink": look.INK,
        "steel": look.STEEL,
        "line": look.LINE,
        "rust": look.RUST,
        "large": look.SIZE_TITLE,
        "body": look.SIZE_BODY,
        "small": look.SIZE_SMALL,
    }


def _frame(document: Paper) -> dict[str, str]:
    """Return title, whose it is, the line on top of later pages and the words at the foot."""
    title = line(paper.title(document))
    running = printable(clean_line(f"{title} · {document.customer}"))
    shop = printable(clean_line(document.wording.get("shop_name", "")))
    return {
        "title": title,
        "author": _cut(shop),
        "running": _cut(running),
        "foot": _cut(f"{shop} · {title}" if shop else title),
        "page": printable(clean_line(label(document, "page"))),
    }


def _customer(document: Paper) -> dict[str, str]:
    return {
        "name": lines(document.customer),
        "address": lines(document.wording.get("customer_address", "")),
        "tax_number": lines(document.wording.get("customer_tax_number", "")),
    }


def _columns(document: Paper) -> list[str]:
    names = [label(document, key) for key in ("description", "quantity", "unit", "price")]
    return [line(name) for name in [*names, paper.amount_label(document)]]


def _section(document: Paper, section: paper.Section) -> dict[str, Any]:
    summed = paper.has_subtotal(document, section)
    return {
        "heading": line(section.heading),
        "rows": [_row(document, each, section.places) for each in section.lines],
        "note": lines(paper.note_under(document, section)),
        "subtotal": paper.amount_text(document, section.amount) if summed else "",
    }


def _row(document: Paper, each: InvoiceLine, places: int) -> dict[str, Any]:
    price = paper.shown_price(each)
    return {
        "description": lines(each.description),
        "note": lines(paper.note_on(document, each)),
        "quantity": printable(figures.number(each.quantity, places, paper.where(document))),
        "unit": line(each.unit),
        "agreed": price is None,
        "price": line(label(document, "agreed"))
        if price is None
        else paper.amount_text(document, price),
        "amount": paper.amount_text(document, each.amount),
    }


def _totals(document: Paper) -> list[tuple[str, str]]:
    """Return label and amount of the net amount and of each tax."""
    taxes = [
        (paper.tax_label(document, tax), paper.amount_text(document, tax.amount))
        for tax in paper.charged(document)
    ]
    return [(label(document, "net"), paper.amount_text(document, document.subtotal)), *taxes]


def _total(document: Paper) -> list[str]:
    words = line(paper.total_label(document))
    return [words, paper.money_text(document, document.total)]


def pairs(told: list[tuple[str, str]]) -> list[list[str]]:
    """Return labels, each in one line, with their texts."""
    return [[line(name), lines(text)] for name, text in told]


def lines(text: str) -> str:
    """Return words as they can be set, in lines."""
    return breakable(printable(clean(text).strip("\n")))


def line(text: str) -> str:
    """Return words as they can be set, in one line."""
    return breakable(printable(clean_line(text)))


def _cut(text: str) -> str:
    return text if len(text) <= RUNNING_LETTERS else text[: RUNNING_LETTERS - 1] + "…"
