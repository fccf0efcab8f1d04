"""What stands on an invoice, and in which order: the same for the PDF and the workbook."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from babel import Locale

from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.costing.lines import Kind
from ledger_tools.documents import figures
from ledger_tools.documents.letters import BOX, clean, clean_line, missing, printable
from ledger_tools.documents.texts import label
from ledger_tools.errors import ConfigError, Finding, Severity
from ledger_tools.money import ZERO

SECTIONS: dict[str, tuple[Kind, ...]] = {
    "work": (Kind.LABOUR,),
    "materials": (Kind.MATERIAL, Kind.PART),
    "sublet": (Kind.SUBLET,),
    "charges": (Kind.FEE, Kind.DISCOUNT),
}
"""The sections of an invoice by the key of their heading, in order, and the kinds they hold."""

PAPERS = {"a4": "a4", "letter": "us-letter"}
"""Paper sizes by the word in the settings, and their names in the template."""


@dataclass(frozen=True, slots=True)
class Section:
    """One section of the lines.

    Attributes:
        heading: Words above it.
        lines: In order of line id.
        amount: Their sum, whole minor units.
        places: Decimal places that all its quantities need.
    """

    heading: str
    lines: tuple[InvoiceLine, ...]
    amount: Decimal
    places: int


def sections(invoice: Invoice) -> tuple[Section, ...]:
    """Return the sections that have lines."""
    return tuple(
        _section(label(invoice, key), lines)
        for key, kinds in SECTIONS.items()
        if (lines := tuple(line for line in invoice.lines if line.kind in kinds))
    )


def _section(heading: str, lines: tuple[InvoiceLine, ...]) -> Section:
    least = 1 if lines[0].kind is Kind.LABOUR else 0
    places = max(least, *(figures.places_of(line.quantity) for line in lines))
    return Section(heading, lines, sum((line.amount for line in lines), ZERO), places)


def has_subtotal(invoice: Invoice, section: Section) -> bool:
    """Return whether the section's sum says more than its one line or the net amount."""
    return len(section.lines) > 1 and len(sections(invoice)) > 1


def shown_price(line: InvoiceLine) -> Decimal | None:
    """Return the price of a unit with the sign of the amount, None where a price was agreed.

    A discount's price is typed positive and subtracts; on paper it says so.
    """
    if line.price is None:
        return None
    return -line.price if line.amount < 0 < line.price * line.quantity else line.price


def sublet_by(invoice: Invoice, line: InvoiceLine) -> str:
    """Return the words that name who did sublet work, empty where nobody is named."""
    if line.kind is not Kind.SUBLET or not line.vendor:
        return ""
    return label(invoice, "sublet_by").replace("{vendor}", line.vendor)


def charged(invoice: Invoice) -> tuple[TaxAmount, ...]:
    """Return the taxes that fall on something; a rate of nothing is a tax not in use here."""
    return tuple(tax for tax in invoice.taxes if tax.base and tax.rate)


def digits(invoice: Invoice) -> int:
    """Return the decimal places amounts are printed with, never fewer than they have."""
    amounts = [invoice.subtotal, invoice.tax, invoice.total]
    amounts += [line.amount for line in invoice.lines]
    amounts += [each for tax in invoice.taxes for each in (tax.base, tax.amount)]
    needed = max(figures.places_of(amount) for amount in amounts)
    return max(figures.minor_digits(invoice.currency), needed)


def where(invoice: Invoice) -> Locale:
    """Return how the invoice writes figures: its locale, or else its language's."""
    return figures.locale_of(
        invoice.wording.get("locale") or invoice.wording.get("language") or "en_US"
    )


def paper(invoice: Invoice) -> str:
    """Return ``a4`` or ``us-letter``.

    Raises:
        ConfigError: The invoice's wording names another paper.
    """
    named = invoice.wording.get("paper", "A4")
    if named.lower() not in PAPERS:
        raise ConfigError(
            f"invoice {invoice.number}", f"'{named}' is not a paper size", "Use A4 or Letter"
        )
    return PAPERS[named.lower()]


def amount_text(invoice: Invoice, amount: Decimal) -> str:
    """Return a price or an amount as text; a price keeps all its decimal places."""
    places = max(digits(invoice), figures.places_of(amount))
    return printable(clean(figures.number(amount, places, where(invoice))))


def amount_label(invoice: Invoice) -> str:
    """Return the head of the amounts with their currency."""
    return f"{label(invoice, 'amount')}, {invoice.currency}"


def tax_label(invoice: Invoice, tax: TaxAmount) -> str:
    """Return which tax it is, its rate and what it falls on."""
    rate = figures.percent(tax.rate, where(invoice))
    return f"{tax.component} {rate} {label(invoice, 'tax_base')} {amount_text(invoice, tax.base)}"


def facts(invoice: Invoice) -> list[tuple[str, str]]:
    """Return label and text of what is said once in the head: date, due, job."""
    told = {
        "date": figures.day(invoice.day, where(invoice)),
        "due": figures.day(invoice.due, where(invoice)),
        "job": invoice.job,
    }
    return [(label(invoice, key), text) for key, text in told.items() if text]


def payment(invoice: Invoice) -> tuple[str, str]:
    """Return heading and text of how and until when to pay."""
    if invoice.total <= 0:
        return label(invoice, "payment"), ""
    due = figures.day(invoice.due, where(invoice))
    pay_by = label(invoice, "pay_by").replace("{due}", due)
    told = (invoice.wording.get("payment", ""), pay_by)
    return label(invoice, "payment"), "\n".join(text for text in told if text)


def closing(invoice: Invoice) -> list[tuple[str, str]]:
    """Return heading and text of what stands at the end, as far as there is any."""
    told = {"note": invoice.wording.get("job_note", ""), "hours": _hours_policy(invoice)}
    return [(label(invoice, key), text) for key, text in told.items() if text]


def _hours_policy(invoice: Invoice) -> str:
    """Return how time is billed, which an invoice without labour does not say."""
    labour = any(line.kind is Kind.LABOUR for line in invoice.lines)
    return invoice.wording.get("hours_policy", "") if labour else ""


def paper_findings(invoice: Invoice) -> list[Finding]:
    """Return what the owner should know about the paper: letters shown as a box."""
    return list(_letters_not_shown(invoice))


def _letters_not_shown(invoice: Invoice) -> Iterator[Finding]:
    lacking = [(place, boxes) for place, text in _texts(invoice) if (boxes := missing(text))]
    places = dict.fromkeys(place for place, _ in lacking)
    letters = dict.fromkeys("".join(boxes for _, boxes in lacking))
    if places:
        named = ", ".join(f"'{letter}' (U+{ord(letter):04X})" for letter in list(letters)[:5])
        more = f" and {len(letters) - 5} more" if len(letters) > 5 else ""  # noqa: PLR2004 - as many as are named
        yield Finding(
            Severity.WARNING,
            "letters-not-shown",
            f"Invoice {clean_line(invoice.number)}: the font of the PDF has no {named}{more}, "
            f"used in {', '.join(places)}; printed as {BOX}",
            "Write these words in Latin, Greek or Cyrillic letters, or send the workbook, "
            "which keeps the words as they are",
        )


def _texts(invoice: Invoice) -> Iterator[tuple[str, str]]:
    """Yield each text on the paper with the name of its place."""
    yield "the customer's name", invoice.customer
    yield "the item", invoice.item
    yield (
        "a date",
        figures.day(invoice.day, where(invoice)) + figures.day(invoice.due, where(invoice)),
    )
    for line in invoice.lines:
        yield f"line {line.line_id}", line.description + line.unit + sublet_by(invoice, line)
    for tax in charged(invoice):
        yield "a tax", tax.component
    for key, text in invoice.wording.items():
        yield f"the wording '{key}'", text
