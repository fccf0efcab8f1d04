"""An invoice as PDF: archivable, tagged for screen readers, the same bytes at every printing.

Everything goes to the template as one JSON string of finished texts. A customer's words are never
part of the template's source, so nothing in them is read as markup or as the name of a file.
"""

import json
from functools import cache
from pathlib import Path
from typing import Any

import typst

from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.book import look
from ledger_tools.documents import figures, paper
from ledger_tools.documents.font import FONTS
from ledger_tools.documents.letters import breakable, clean, clean_line, printable
from ledger_tools.documents.texts import label

TEMPLATES = Path(__file__).parent / "templates"
TEMPLATE = TEMPLATES / "invoice.typ"
PAPER_FONT = "Liberation Sans"
"""As wide as the book's Arial, letter by letter, and free to ship."""

RUNNING_LETTERS = 60


def invoice_pdf(invoice: Invoice) -> bytes:
    """Return the invoice as a PDF file; the same invoice gives the same bytes."""
    told = json.dumps(_content(invoice), sort_keys=True)
    made = _typesetter().compile(
        TEMPLATE, sys_inputs={"invoice": told}, format="pdf", pdf_standards=["a-3b", "ua-1"]
    )
    if not isinstance(made, bytes):
        raise TypeError(f"the typesetter gave {type(made).__name__} for one PDF file")
    return made


@cache
def _typesetter() -> typst.Compiler:
    """Return the typesetter, which reads the shipped fonts once and no file but the template."""
    fonts = typst.Fonts(
        include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONTS]
    )
    return typst.Compiler(TEMPLATE, root=TEMPLATES, font_paths=fonts, ignore_system_fonts=True)


def _content(invoice: Invoice) -> dict[str, Any]:
    """Return everything the template prints, as texts."""
    place = paper.where(invoice)
    return {
        "look": _look(),
        "paper": paper.paper(invoice),
        "language": place.language,
        "region": place.territory if len(place.territory or "") == 2 else "",  # noqa: PLR2004 - ISO 3166
        "date": [invoice.day.year, invoice.day.month, invoice.day.day],
        **_frame(invoice),
        "labels": {key: _line(label(invoice, key)) for key in ("customer", "item", "subtotal")},
        "shop": {
            key: _lines(invoice.wording.get(f"shop_{key}", ""))
            for key in ("name", "address", "contact", "tax_number")
        },
        "customer": _customer(invoice),
        "item": _lines(invoice.item),
        "facts": _pairs(paper.facts(invoice)),
        "columns": _columns(invoice),
        "sections": [_section(invoice, section) for section in paper.sections(invoice)],
        "totals": _pairs(_totals(invoice)),
        "total": _total(invoice),
        "payment": _pairs([paper.payment(invoice)])[0],
        "closing": _pairs(paper.closing(invoice)),
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


def _frame(invoice: Invoice) -> dict[str, str]:
    """Return title, whose it is, the line on top of later pages and the words at the foot."""
    title = _line(f"{label(invoice, 'invoice')} {invoice.number}")
    running = printable(clean_line(f"{title} · {invoice.customer}"))
    shop = printable(clean_line(invoice.wording.get("shop_name", "")))
    return {
        "title": title,
        "author": _cut(shop),
        "running": _cut(running),
        "foot": _cut(f"{shop} · {title}" if shop else title),
        "page": printable(clean_line(label(invoice, "page"))),
    }


def _customer(invoice: Invoice) -> dict[str, str]:
    return {
        "name": _lines(invoice.customer),
        "address": _lines(invoice.wording.get("customer_address", "")),
        "tax_number": _lines(invoice.wording.get("customer_tax_number", "")),
    }


def _columns(invoice: Invoice) -> list[str]:
    names = [label(invoice, key) for key in ("description", "quantity", "unit", "price")]
    return [_line(name) for name in [*names, paper.amount_label(invoice)]]


def _section(invoice: Invoice, section: paper.Section) -> dict[str, Any]:
    summed = paper.has_subtotal(invoice, section)
    return {
        "heading": _line(section.heading),
        "rows": [_row(invoice, line, section.places) for line in section.lines],
        "subtotal": paper.amount_text(invoice, section.amount) if summed else "",
    }


def _row(invoice: Invoice, line: InvoiceLine, places: int) -> dict[str, Any]:
    price = paper.shown_price(line)
    return {
        "description": _lines(line.description),
        "note": _lines(paper.sublet_by(invoice, line)),
        "quantity": printable(figures.number(line.quantity, places, paper.where(invoice))),
        "unit": _line(line.unit),
        "agreed": price is None,
        "price": _line(label(invoice, "agreed"))
        if price is None
        else paper.amount_text(invoice, price),
        "amount": paper.amount_text(invoice, line.amount),
    }


def _totals(invoice: Invoice) -> list[tuple[str, str]]:
    """Return label and amount of the net amount and of each tax."""
    taxes = [
        (paper.tax_label(invoice, tax), paper.amount_text(invoice, tax.amount))
        for tax in paper.charged(invoice)
    ]
    return [(label(invoice, "net"), paper.amount_text(invoice, invoice.subtotal)), *taxes]


def _total(invoice: Invoice) -> list[str]:
    amount = figures.money(
        invoice.total, invoice.currency, paper.digits(invoice), paper.where(invoice)
    )
    return [_line(label(invoice, "total")), printable(amount)]


def _pairs(pairs: list[tuple[str, str]]) -> list[list[str]]:
    return [[_line(name), _lines(text)] for name, text in pairs]


def _lines(text: str) -> str:
    return breakable(printable(clean(text).strip("\n")))


def _line(text: str) -> str:
    return breakable(printable(clean_line(text)))


def _cut(text: str) -> str:
    return text if len(text) <= RUNNING_LETTERS else text[: RUNNING_LETTERS - 1] + "…"
