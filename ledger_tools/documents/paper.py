"""What stands on a paper, and in which order: the same for the PDF and the workbook.

An estimate and an invoice are laid out alike; where they differ it is said here.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from babel import Locale

from ledger_tools.billing.advised import advised_in
from ledger_tools.billing.estimate import Estimate, share_more
from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.costing.lines import Kind
from ledger_tools.documents import figures
from ledger_tools.documents.letters import BOX, clean, clean_line, missing, printable
from ledger_tools.documents.texts import Paper, label
from ledger_tools.errors import ConfigError, Finding, Severity
from ledger_tools.money import ZERO

SECTIONS: dict[str, tuple[Kind, ...]] = {
    "work": (Kind.LABOUR,),
    "materials": (Kind.MATERIAL, Kind.PART),
    "sublet": (Kind.SUBLET,),
    "charges": (Kind.FEE, Kind.DISCOUNT),
}
"""The sections of a paper by the key of their heading, in order, and the kinds they hold."""

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


def sections(paper: Paper) -> tuple[Section, ...]:
    """Return the sections that have lines."""
    asks = isinstance(paper, Estimate) and paper.request
    told = paper.changed if isinstance(paper, Estimate) else paper.lines
    found = tuple(
        _section(label(paper, key), lines)
        for key, kinds in SECTIONS.items()
        if (lines := tuple(line for line in told if line.kind in kinds))
    )
    return (*found, *_as_agreed(paper)) if asks and isinstance(paper, Estimate) else found


def _as_agreed(request: Estimate) -> Iterator[Section]:
    """Yield the section of the lines a request leaves as they were agreed: one line for all."""
    same = [line for line in request.lines if line not in request.changed]
    amount = sum((line.amount for line in same), ZERO)
    if same:
        words = label(request, "as_agreed").replace(
            "{number}", request.wording.get("agreed_in", "")
        )
        one = InvoiceLine(0, Kind.FEE, words, Decimal(1), "", None, amount, "")
        yield Section(label(request, "unchanged"), (one,), amount, 0)


def _section(heading: str, lines: tuple[InvoiceLine, ...]) -> Section:
    least = 1 if lines[0].kind is Kind.LABOUR else 0
    places = max(least, *(figures.places_of(line.quantity) for line in lines))
    return Section(heading, lines, sum((line.amount for line in lines), ZERO), places)


def has_subtotal(paper: Paper, section: Section) -> bool:
    """Return whether the section's sum says more than its one line or the net amount."""
    return len(section.lines) > 1 and len(sections(paper)) > 1


def shown_price(line: InvoiceLine) -> Decimal | None:
    """Return the price of a unit with the sign of the amount, None where a price was agreed.

    A discount's price is typed positive and subtracts; on paper it says so.
    """
    if line.price is None:
        return None
    return -line.price if line.amount < 0 < line.price * line.quantity else line.price


def sublet_by(paper: Paper, line: InvoiceLine) -> str:
    """Return the words that name who did sublet work, empty where nobody is named."""
    if line.kind is not Kind.SUBLET or not line.vendor:
        return ""
    key = "sublet_to" if isinstance(paper, Estimate) else "sublet_by"
    return label(paper, key).replace("{vendor}", line.vendor)


def note_on(paper: Paper, line: InvoiceLine) -> str:
    """Return the words under a line: who did sublet work, or that a part is not new.

    On a request for extra work also what the line was agreed at.
    """
    told = [sublet_by(paper, line)]
    if line.kind is Kind.PART and line.part_status:
        told = [paper.wording.get(f"label.part_{line.part_status}", line.part_status)]
    if isinstance(paper, Estimate) and paper.request and line.before is not None:
        was = amount_text(paper, line.before)
        told.append(label(paper, "agreed_at").replace("{amount}", was))
    return "\n".join(text for text in told if text)


def note_under(paper: Paper, section: Section) -> str:
    """Return the words under a section: what parts are of which nothing is said.

    Papers from before these words were printed do not have them.
    """
    parts = any(line.kind is Kind.PART for line in section.lines)
    return paper.wording.get("label.parts_new", "") if parts else ""


def charged(paper: Paper) -> tuple[TaxAmount, ...]:
    """Return the taxes that fall on something; a rate of nothing is a tax not in use here."""
    return tuple(tax for tax in paper.taxes if tax.base and tax.rate)


def digits(paper: Paper) -> int:
    """Return the decimal places amounts are printed with, never fewer than they have."""
    amounts = [paper.subtotal, paper.tax, paper.total]
    amounts += [paper.deposit] if isinstance(paper, Estimate) else []
    amounts += _amounts_offered(paper) if isinstance(paper, Estimate) else []
    amounts += _amounts_of_request(paper) if isinstance(paper, Estimate) else []
    amounts += [each.amount for each in advised_in(paper.wording)]
    amounts += [line.amount for line in paper.lines]
    amounts += [each for tax in paper.taxes for each in (tax.base, tax.amount)]
    needed = max(figures.places_of(amount) for amount in amounts)
    return max(figures.minor_digits(paper.currency), needed)


def _amounts_offered(estimate: Estimate) -> list[Decimal]:
    told = ((each.price, each.sublet, each.come_back, each.expected) for each in estimate.offers)
    return [amount for amounts in told for amount in amounts if amount is not None]


def _amounts_of_request(estimate: Estimate) -> list[Decimal]:
    before = [line.before for line in estimate.lines if line.before is not None]
    return [*before, estimate.request.authorised] if estimate.request else []


def where(paper: Paper) -> Locale:
    """Return how the paper writes figures: its locale, or else its language's."""
    return figures.locale_of(
        paper.wording.get("locale") or paper.wording.get("language") or "en_US"
    )


def page_size(paper: Paper) -> str:
    """Return ``a4`` or ``us-letter``.

    Raises:
        ConfigError: The paper's wording names another paper.
    """
    named = paper.wording.get("paper", "A4")
    if named.lower() not in PAPERS:
        raise ConfigError(called(paper), f"'{named}' is not a paper size", "Use A4 or Letter")
    return PAPERS[named.lower()]


def amount_text(paper: Paper, amount: Decimal) -> str:
    """Return a price or an amount as text; a price keeps all its decimal places."""
    places = max(digits(paper), figures.places_of(amount))
    return printable(clean(figures.number(amount, places, where(paper))))


def amount_label(paper: Paper) -> str:
    """Return the head of the amounts with their currency."""
    return f"{label(paper, 'amount')}, {paper.currency}"


def tax_label(paper: Paper, tax: TaxAmount) -> str:
    """Return which tax it is, its rate and what it falls on."""
    rate = figures.percent(tax.rate, where(paper))
    return f"{tax.component} {rate} {label(paper, 'tax_base')} {amount_text(paper, tax.base)}"


class _Kind(NamedTuple):
    """What a kind of paper is called: keys of its labels, and the word in findings."""

    key: str
    total: str
    called: str


def _kind(paper: Paper) -> _Kind:
    if isinstance(paper, Invoice):
        return _Kind("invoice", "total", "Invoice")
    if paper.request:
        return _Kind("extra_work", "new_total", "Extra work")
    return _Kind("estimate", "estimate_total", "Estimate")


def title(paper: Paper) -> str:
    """Return what the paper is, with its number."""
    return clean_line(f"{label(paper, _kind(paper).key)} {paper.number}")


def total_label(paper: Paper) -> str:
    """Return the words beside the total."""
    return label(paper, _kind(paper).total)


def called(paper: Paper) -> str:
    """Return what a finding calls the paper."""
    return f"{_kind(paper).called} {clean_line(paper.number)}"


def _last_day(paper: Paper) -> tuple[str, date]:
    """Return the last day to pay an invoice or to accept an estimate, with its label's key."""
    if isinstance(paper, Estimate):
        return "valid_until", paper.valid_until
    return "due", paper.due


def facts(paper: Paper) -> list[tuple[str, str]]:
    """Return label and text of what is said once in the head: date, last day, job."""
    key, last = _last_day(paper)
    told = {
        "date": figures.day(paper.day, where(paper)),
        key: figures.day(last, where(paper)),
        "job": paper.job,
    }
    return [(label(paper, key), text) for key, text in told.items() if text]


def payment(invoice: Invoice) -> tuple[str, str]:
    """Return heading and text of how and until when to pay."""
    if invoice.total <= 0:
        return label(invoice, "payment"), ""
    due = figures.day(invoice.due, where(invoice))
    pay_by = label(invoice, "pay_by").replace("{due}", due)
    told = (invoice.wording.get("payment", ""), pay_by)
    return label(invoice, "payment"), "\n".join(text for text in told if text)


def closing(paper: Paper) -> list[tuple[str, str]]:
    """Return heading and text of what stands at the end, as far as there is any."""
    told = {
        "told": _named_beforehand(paper),
        "note": paper.wording.get("job_note", ""),
        "hours": _hours_policy(paper),
        "guarantee": paper.wording.get("guarantee", ""),
        "storage": _storage(paper),
    }
    return [(label(paper, key), text) for key, text in told.items() if text]


def _storage(paper: Paper) -> str:
    """Return what storage costs, empty where nothing is asked for it."""
    price = paper.wording.get("storage_price")
    words = paper.wording.get("storage", "")
    return words.replace("{price}", money_text(paper, Decimal(price))) if price else words


def _named_beforehand(paper: Paper) -> str:
    """Return the price named on the telephone, a band or one amount; empty for none."""
    words, least, most = (paper.wording.get(key, "") for key in ("told", "told_from", "told_to"))
    if not words:
        return ""
    ends = dict.fromkeys(money_text(paper, Decimal(end)) for end in (least, most) if end)
    return words.replace("{band}", "\u2013".join(ends))


def old_parts(estimate: Estimate) -> list[str]:
    """Return the question what becomes of parts that are replaced, and the two answers to tick.

    Empty for an estimate without parts, and for one from before this was asked.
    """
    parts = any(line.kind is Kind.PART for line in estimate.lines)
    if not parts or "label.old_parts" not in estimate.wording:
        return []
    return [label(estimate, key) for key in ("old_parts", "old_parts_back", "old_parts_leave")]


def terms(estimate: Estimate) -> list[tuple[str, str]]:
    """Return heading and text of what an estimate rests on and leaves out, a line each."""
    keys = ("assumptions", "exclusions")
    return [(label(estimate, k), estimate.wording[k]) for k in keys if estimate.wording.get(k)]


def deposit(estimate: Estimate) -> tuple[str, str, str]:
    """Return what is asked before work begins: label, amount, words; all empty for nothing."""
    if not estimate.deposit:
        return "", "", ""
    part = Decimal(estimate.wording.get("deposit_percent") or 0) / 100
    words = label(estimate, "deposit").replace("{percent}", figures.percent(part, where(estimate)))
    return words, money_text(estimate, estimate.deposit), label(estimate, "deposit_says")


def advised(paper: Paper) -> list[tuple[str, Decimal]]:
    """Return what was advised and declined, each with the day and what it would have added."""
    return [
        (
            label(paper, "advised_on")
            .replace("{work}", each.description)
            .replace("{day}", figures.day(each.day, where(paper))),
            each.amount,
        )
        for each in advised_in(paper.wording)
    ]


def advised_heading(paper: Paper) -> str:
    """Return the heading of what was advised and declined, empty where nothing was."""
    if not advised_in(paper.wording):
        return ""
    return f"{label(paper, 'advised')} ({label(paper, 'advised_says')})"


def found(request: Estimate) -> tuple[str, list[str]]:
    """Return heading and lines of what was found."""
    told = request.request.found if request.request else ""
    return label(request, "found"), told.splitlines()


def request_sums(request: Estimate) -> list[tuple[str, Decimal]]:
    """Return what was authorised before, and what is asked for above it, with their labels."""
    authorised = request.request.authorised if request.request else ZERO
    share = share_more(request)
    more = label(request, "more")
    if share is not None:
        percent = figures.percent(share, where(request))
        more = label(request, "more_share").replace("{percent}", percent)
    return [(request.wording.get("authorised", ""), authorised), (more, request.more)]


def refusal(request: Estimate) -> str:
    """Return the sentence by which a customer leaves the work as agreed."""
    return filled_in(request, request.wording.get("refusal", ""))


def rule(request: Estimate) -> tuple[str, str]:
    """Return heading and text of what the rule of the place allows without asking."""
    words = request.wording
    marks = {
        "{limit}": money_text(request, Decimal(words.get("rule_limit") or 0)),
        "{share}": figures.percent(Decimal(words.get("rule_share") or 0), where(request)),
        "{amount}": money_text(request, Decimal(words.get("rule_amount") or 0)),
        "{source}": words.get("rule_source", ""),
    }
    told = (words.get("rule", ""), words.get("rule_read", ""), label(request, "rule_law"))
    text = " ".join(each for each in told if each)
    for mark, said in marks.items():
        text = text.replace(mark, said)
    return label(request, "rule"), text


def consent(estimate: Estimate) -> str:
    """Return the sentence that says what the customer consents to."""
    return filled_in(estimate, estimate.wording.get("consent", ""))


def filled_in(estimate: Estimate, text: str) -> str:
    """Return a sentence with number and amounts of the estimate in it."""
    filled = {
        "{number}": estimate.number,
        "{total}": money_text(estimate, estimate.total),
        "{net}": money_text(estimate, estimate.subtotal),
        "{authorised}": money_text(
            estimate, estimate.request.authorised if estimate.request else ZERO
        ),
    }
    for mark, told in filled.items():
        text = text.replace(mark, told)
    return text


def consent_fields(estimate: Estimate) -> list[str]:
    """Return the labels of what is written by hand when the customer consents."""
    keys = ("consent_name", "date", "consent_signature", "consent_how")
    return [label(estimate, key) for key in keys]


def money_text(paper: Paper, amount: Decimal) -> str:
    """Return an amount with the sign of its currency."""
    return printable(figures.money(amount, paper.currency, digits(paper), where(paper)))


def _hours_policy(paper: Paper) -> str:
    """Return how time is billed, which a paper without labour does not say."""
    labour = any(line.kind is Kind.LABOUR for line in paper.lines)
    return paper.wording.get("hours_policy", "") if labour else ""


def paper_findings(paper: Paper) -> list[Finding]:
    """Return what the owner should know about the paper: letters shown as a box."""
    return list(_letters_not_shown(paper))


def _letters_not_shown(paper: Paper) -> Iterator[Finding]:
    lacking = [(place, boxes) for place, text in _texts(paper) if (boxes := missing(text))]
    places = dict.fromkeys(place for place, _ in lacking)
    letters = dict.fromkeys("".join(boxes for _, boxes in lacking))
    if places:
        named = ", ".join(f"'{letter}' (U+{ord(letter):04X})" for letter in list(letters)[:5])
        more = f" and {len(letters) - 5} more" if len(letters) > 5 else ""  # noqa: PLR2004 - as many as are named
        yield Finding(
            Severity.WARNING,
            "letters-not-shown",
            f"{called(paper)}: the font of the PDF has no {named}{more}, "
            f"used in {', '.join(places)}; printed as {BOX}",
            "Write these words in Latin, Greek or Cyrillic letters, or send the workbook, "
            "which keeps the words as they are",
        )


def _texts(paper: Paper) -> Iterator[tuple[str, str]]:
    """Yield each text on the paper with the name of its place."""
    yield "the customer's name", paper.customer
    yield "the item", paper.item
    yield (
        "a date",
        "".join(text for _, text in facts(paper)[:2]),
    )
    for line in paper.lines:
        yield f"line {line.line_id}", line.description + line.unit + note_on(paper, line)
    for tax in charged(paper):
        yield "a tax", tax.component
    for key, text in paper.wording.items():
        yield f"the wording '{key}'", text
