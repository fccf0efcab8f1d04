"""What may be billed on a customer's word: the amount authorised, and what a rule adds to it."""

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from ledger_tools.money import ZERO, Rounding


class RuleKind(StrEnum):
    """How a rule measures what may be billed above the amount authorised."""

    NONE = "none"
    PERCENT = "percent"
    LESSER = "lesser of"
    GREATER = "greater of"
    MAXIMUM = "named maximum"


class ToleranceRule(NamedTuple):
    """A rule of a place for one class of object, in force from a day on.

    Attributes:
        object_class: What is repaired, such as ``road vehicle``.
        kind: ``none`` and ``named maximum`` add nothing; ``percent`` adds a share; ``lesser of``
            and ``greater of`` take the smaller or larger of share and amount.
        first_day: First day in force; None where the source does not say, which is from ever.
        share: Share of the authorised amount, 0.1 for ten percent.
        amount: Money.
        most: What ``greater of`` never passes; None for no bound.
        with_tax: Whether amounts are compared with tax; None where no source says so, and the
            shop decides.
        source: Where the rule was read.
        row: Row of the sheet it stands in; 0 for one not yet written.
    """

    object_class: str
    kind: RuleKind
    first_day: date | None = None
    share: Decimal = ZERO
    amount: Decimal = ZERO
    most: Decimal | None = None
    with_tax: bool | None = None
    source: str = ""
    row: int = 0


STRICT = ToleranceRule("", RuleKind.NONE)
"""Nothing above the amount authorised: what holds where no rule claims an object."""


def rule_for(object_class: str, day: date, rules: Iterable[ToleranceRule]) -> ToleranceRule:
    """Return the rule in force for a class of object on a day, `STRICT` where there is none.

    Upper and lower case are the same.
    """
    wanted = object_class.strip().casefold()
    begun = [
        rule
        for rule in rules
        if wanted == rule.object_class.casefold() and (rule.first_day or date.min) <= day
    ]
    return max(begun, key=lambda rule: rule.first_day or date.min, default=STRICT)


def limit_of(authorised: Decimal, rule: ToleranceRule, *, digits: int) -> Decimal:
    """Return what may be billed at most where `authorised` was agreed.

    Parts of the minor unit are dropped: a limit is not to be passed.

    Args:
        authorised: Amount the customer agreed to.
        rule: The rule in force.
        digits: Decimal places of the currency's minor unit.

    >>> limit_of(
    ...     Decimal(80),
    ...     ToleranceRule("", RuleKind.LESSER, share=Decimal("0.1"), amount=Decimal(10)),
    ...     digits=2,
    ... )
    Decimal('88.00')
    """
    return Rounding(digits, "down").amount(authorised + _tolerance(authorised, rule))


def _tolerance(authorised: Decimal, rule: ToleranceRule) -> Decimal:
    share = authorised * rule.share
    match rule.kind:
        case RuleKind.PERCENT:
            return share
        case RuleKind.LESSER:
            return min(share, rule.amount)
        case RuleKind.GREATER:
            larger = max(share, rule.amount)
            return larger if rule.most is None else min(larger, rule.most)
        case _:
            return ZERO


def classes_of(rules: Sequence[ToleranceRule]) -> tuple[str, ...]:
    """Return the classes of object that rules name, each once, in their order."""
    return tuple(dict.fromkeys(rule.object_class for rule in rules))
