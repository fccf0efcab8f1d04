"""Guarantees that a law gives, by place, class of object and day, beside the shop's own words."""

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

ANY = "any"
"""Class of object that stands for every object, also one without class."""
NO_GUARANTEE = "none"
"""Name of the shop's own text that says there is no guarantee."""


class GuaranteeRule(NamedTuple):
    """What a law guarantees, from a day on.

    Attributes:
        object_class: Class of object it holds for, or `ANY`.
        words: Name of a text of the tools, or words; `{days}`, `{distance}` are filled in.
        first_day: First day in force; None where the source does not say.
        days: Days it lasts; None where it names none.
        distance: Distance it lasts; None where it names none.
        unit: Unit of the distance.
        void: Whether a "no guarantee" line has no effect there.
        source: Title, publisher, section; printed beside the words.
        read: How and when the source was read; not printed.
    """

    object_class: str
    words: str
    first_day: date | None = None
    days: int | None = None
    distance: int | None = None
    unit: str = ""
    void: bool = False
    source: str = ""
    read: str = ""


NEEDS = {"days": ("days",), "days or distance": ("days", "distance", "unit")}
"""Figures that the texts of the tools fill in, by the name of the text."""


def figures_needed(words: str) -> tuple[str, ...]:
    """Return which figures of a rule its words fill in.

    >>> figures_needed("days"), figures_needed("For {days} days."), figures_needed("care")
    (('days',), ('days',), ())
    """
    named = tuple(key for key in ("days", "distance", "unit") if f"{{{key}}}" in words)
    return NEEDS.get(" ".join(words.casefold().split()), named)


def guarantee_for(
    object_class: str, day: date, rules: Iterable[GuaranteeRule]
) -> GuaranteeRule | None:
    """Return the rule in force for a class of object on a day, None where there is none.

    A rule for the class goes before one for any object; upper and lower case are the same.
    """
    wanted = object_class.strip().casefold()
    begun = [rule for rule in rules if (rule.first_day or date.min) <= day]
    for name in (wanted, ANY):
        own = [rule for rule in begun if name and rule.object_class.casefold() == name]
        if own:
            return max(own, key=lambda rule: rule.first_day or date.min)
    return None


def says_no_guarantee(line: str) -> bool:
    """Whether a line of the shop's wording names the text that there is no guarantee."""
    return " ".join(line.casefold().split()) == NO_GUARANTEE


def guaranteed_classes(rules: Iterable[GuaranteeRule]) -> tuple[str, ...]:
    """Return the classes of object that rules name, each once, without `ANY`."""
    names = dict.fromkeys(rule.object_class for rule in rules)
    return tuple(name for name in names if name.casefold() != ANY)
