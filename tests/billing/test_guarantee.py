"""Which guarantee a law gives: by class of object and day, one for any object last."""

from datetime import date

import pytest

from ledger_tools.billing.guarantee import (
    GuaranteeRule,
    figures_needed,
    guarantee_for,
    guaranteed_classes,
    says_no_guarantee,
)

DAY = date(2025, 7, 1)
OLD = GuaranteeRule("Road vehicle", "old")
NEW = GuaranteeRule("road vehicle", "new", first_day=DAY)
EVERY = GuaranteeRule("any", "care")


@pytest.mark.parametrize(
    ("object_class", "day", "rule"),
    [
        ("road vehicle", date(2025, 6, 30), OLD),
        (" ROAD Vehicle ", DAY, NEW),
        ("boat", DAY, EVERY),
        ("", DAY, EVERY),
        ("any", DAY, EVERY),
    ],
)
def test_the_rule_of_class_and_day(object_class: str, day: date, rule: GuaranteeRule) -> None:
    """The newest that has begun; a rule for the class goes before one for any object."""
    assert guarantee_for(object_class, day, (EVERY, NEW, OLD)) == rule


def test_no_rule_gives_none() -> None:
    """Neither a class that no rule names, nor a day before the first."""
    assert guarantee_for("boat", DAY, (OLD, NEW)) is None
    assert guarantee_for("road vehicle", date(2025, 6, 30), (NEW,)) is None


def test_classes_and_words() -> None:
    """Any is no class of its own; a text of the tools and own words say what they fill in."""
    assert guaranteed_classes((EVERY, OLD)) == ("Road vehicle",)
    assert figures_needed("Days or  distance") == ("days", "distance", "unit")
    assert figures_needed("For {distance} {unit}.") == ("distance", "unit")
    assert [says_no_guarantee(line) for line in (" None ", "none at all", "")] == [
        True, False, False,
    ]  # fmt: skip
