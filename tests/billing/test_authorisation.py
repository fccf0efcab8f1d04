"""What may be billed on a customer's word, by the rules of places that publish one."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.billing.authorisation import (
    STRICT,
    RuleKind,
    ToleranceRule,
    classes_of,
    limit_of,
    rule_for,
)
from ledger_tools.settings.authorisation import read_tolerances
from tests.published import decimal, published, said

D = Decimal
DAY = date(2025, 3, 3)
TEN = ToleranceRule("road vehicle", RuleKind.PERCENT, share=D("0.1"))

AMOUNTS = st.decimals("0", "99999", places=2)
SHARES = st.decimals("0", "0.99", places=4)
RULES = st.builds(
    ToleranceRule,
    st.just("road vehicle"),
    st.sampled_from(RuleKind),
    st.none(),
    SHARES,
    AMOUNTS,
    st.none() | AMOUNTS,
)


@pytest.mark.parametrize("value", published("authorisation"))
def test_limits_are_those_of_the_published_rule(value: dict[str, Any]) -> None:
    """The shipped rules come to what their source says."""
    rules = read_tolerances(value["inputs"]["rules"], None)
    rule = rule_for(value["inputs"]["object_class"], DAY, rules)

    limit = limit_of(decimal(value, "inputs", "authorised"), rule, digits=2)

    assert limit == decimal(value, "expected", "limit"), said(value)


@pytest.mark.parametrize("place", ["strict", "us-mi", "us-fl", "ca-on", "us-ca", "us-ny"])
def test_an_object_that_no_rule_names_is_held_to_the_amount(place: str) -> None:
    """A loose tank is no road vehicle unless somebody says so."""
    rules = read_tolerances(place, None)

    assert rule_for("", DAY, rules) is STRICT
    assert rule_for("loose tank", DAY, rules) is STRICT
    assert limit_of(D("300.00"), STRICT, digits=2) == D("300.00")


def test_a_rule_holds_from_its_first_day_on() -> None:
    """The day before it is the rule before; without a first day it holds from ever."""
    later = TEN._replace(first_day=DAY, share=D("0.2"))
    rules = (later, TEN)

    assert rule_for("road vehicle", DAY - timedelta(1), rules) is TEN
    assert rule_for(" Road Vehicle ", DAY, rules) is later
    assert rule_for("road vehicle", DAY - timedelta(1), (later,)) is STRICT


@pytest.mark.parametrize(
    ("rule", "limit"),
    [
        (TEN, "110.00"),
        (TEN._replace(kind=RuleKind.LESSER, amount=D(9)), "109.00"),
        (TEN._replace(kind=RuleKind.LESSER, amount=D(10)), "110.00"),
        (TEN._replace(kind=RuleKind.LESSER, amount=D(11)), "110.00"),
        (TEN._replace(kind=RuleKind.GREATER, amount=D(11)), "111.00"),
        (TEN._replace(kind=RuleKind.GREATER, amount=D(9)), "110.00"),
        (TEN._replace(kind=RuleKind.GREATER, amount=D(11), most=D("10.50")), "110.50"),
        (TEN._replace(kind=RuleKind.NONE, amount=D(11)), "100.00"),
        (TEN._replace(kind=RuleKind.MAXIMUM, amount=D(11)), "100.00"),
    ],
    ids=lambda value: value if isinstance(value, str) else value.kind,
)
def test_each_kind_of_rule(rule: ToleranceRule, limit: str) -> None:
    """Share and amount on either side of each other, and a bound below both."""
    assert limit_of(D(100), rule, digits=2) == D(limit)


def test_a_part_of_a_cent_is_not_allowed() -> None:
    """Ten percent of 80.05 is 8.005: the limit is 88.05 and not 88.06."""
    assert limit_of(D("80.05"), TEN, digits=2) == D("88.05")
    assert limit_of(D("805"), TEN, digits=0) == D("885")


@given(AMOUNTS, AMOUNTS, RULES)
def test_a_larger_authorisation_never_allows_less(one: D, other: D, rule: ToleranceRule) -> None:
    """And none allows less than was authorised, or more than its own share and amount."""
    low, high = sorted((one, other))

    assert limit_of(low, rule, digits=2) <= limit_of(high, rule, digits=2)
    assert low <= limit_of(low, rule, digits=2) <= low + max(low * rule.share, rule.amount)


def test_classes_stand_once_in_their_order() -> None:
    """As choices for the owner."""
    rules = (TEN, TEN._replace(object_class="appliance"), TEN._replace(first_day=DAY))

    assert classes_of(rules) == ("road vehicle", "appliance")
