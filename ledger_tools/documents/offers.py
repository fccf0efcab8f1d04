"""The options on an estimate, side by side: the same words for the PDF and the workbook."""

from dataclasses import dataclass
from decimal import Decimal

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.offer import CHOSEN, Choice, Offered
from ledger_tools.costing.options import OPTION_KINDS, OptionKind
from ledger_tools.documents import figures, paper
from ledger_tools.documents.texts import label
from ledger_tools.money import Rounding

NOTHING = "\u2013"
"""Stands where an option has no figure and another has."""

_HUNDREDTHS = Rounding(2)


@dataclass(frozen=True, slots=True)
class Head:
    """What stands above an option.

    Attributes:
        letter: Such as *Option A*.
        kind: Its kind in the language of the paper.
        marks: *advised*, and how it was chosen; empty for nothing.
    """

    letter: str
    kind: str
    marks: str


@dataclass(frozen=True, slots=True)
class Offers:
    """The block of options.

    Attributes:
        heading: Words above it.
        says: What is to be known of it; empty for nothing.
        tick: Whether one is to be ticked.
        heads: One for each option.
        rows: A label, and a text for each option; only rows in which any option has one.
    """

    heading: str
    says: str
    tick: bool
    heads: tuple[Head, ...]
    rows: tuple[tuple[str, tuple[str, ...]], ...]


def offers(estimate: Estimate) -> Offers | None:
    """Return the block of options of an estimate; None where it offers none."""
    offered = estimate.offers
    if not offered:
        return None
    tick = not any(each.stands in CHOSEN for each in offered)
    rows = [(name, texts) for name, texts in _rows(estimate, offered) if any(texts)]
    expected = any(each.expected is not None for each in offered)
    told = (("options_tick", tick), ("options_expected", expected))
    return Offers(
        heading=label(estimate, "options"),
        says=" ".join(label(estimate, key) for key, said in told if said),
        tick=tick,
        heads=tuple(_head(estimate, each) for each in offered),
        rows=tuple((name, tuple(text or NOTHING for text in texts)) for name, texts in rows),
    )


def _head(estimate: Estimate, offered: Offered) -> Head:
    marks = [label(estimate, "option_advised")] if offered.advised else []
    if offered.stands is not Choice.OPEN:
        marks.append(label(estimate, f"option_{offered.stands.value.replace(' ', '_')}"))
    kind = offered.kind
    if kind in OPTION_KINDS:
        kind = label(estimate, f"option_{kind.replace(' ', '_')}")
    letter = label(estimate, "option").replace("{option}", offered.option)
    return Head(letter, kind, ", ".join(marks))


def _rows(estimate: Estimate, offered: tuple[Offered, ...]) -> list[tuple[str, list[str]]]:
    """Return every row there can be, an empty text where an option has nothing to say."""

    def money(amount: Decimal | None) -> str:
        return "" if amount is None else paper.money_text(estimate, amount)

    def percent(part: Decimal | None) -> str:
        return "" if part is None else figures.percent(part, paper.where(estimate))

    def whole_percent(part: Decimal | None) -> str:
        return percent(None if part is None else _HUNDREDTHS.amount(part))

    def row(key: str, texts: list[str]) -> tuple[str, list[str]]:
        return label(estimate, key), texts

    return [
        row("description", [each.description for each in offered]),
        (estimate.wording.get("option_price", ""), [_price(estimate, each) for each in offered]),
        row("option_sublet", [money(each.sublet) for each in offered]),
        row("option_lead", ["" if o.lead_days is None else str(o.lead_days) for o in offered]),
        row("option_guarantee", [_guarantee(estimate, each) for each in offered]),
        row("option_chance", [percent(each.chance) for each in offered]),
        row("option_come_back", [money(each.come_back) for each in offered]),
        row("option_expected", [money(each.expected) for each in offered]),
        row("option_share", [whole_percent(each.share) for each in offered]),
    ]


def _price(estimate: Estimate, offered: Offered) -> str:
    if offered.kind == OptionKind.REFUSE and not offered.price:
        return ""
    price = paper.money_text(estimate, offered.price)
    if not offered.as_estimated:
        return price
    return f"{price}\n{label(estimate, 'option_as_estimated')}"


def _guarantee(estimate: Estimate, offered: Offered) -> str:
    """Return the words of a guarantee; a bare number is so many days."""
    if not offered.guarantee.isdecimal():
        return offered.guarantee
    return label(estimate, "option_days").replace("{days}", offered.guarantee)
