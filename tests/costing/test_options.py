"""Repair or replace: expected cost, share of new, and a shop's own rule."""

from decimal import Decimal
from typing import Any

import pytest

from ledger_tools.costing.options import (
    OPTION_KINDS,
    expected_cost,
    repair_or_replace,
    share_of_new,
)
from ledger_tools.money import Rounding
from tests.published import decimal, published, said

D = Decimal
CENTS = Rounding(2)


@pytest.mark.parametrize("value", published("options"))
def test_expected_cost_is_the_price_and_the_chance_of_a_come_back(value: dict[str, Any]) -> None:
    """The chance times what a come-back costs is added to the price and rounded once."""
    price, chance, come_back = (
        decimal(value, "inputs", key) for key in ("price", "chance", "come_back")
    )

    assert expected_cost(price, chance, come_back, CENTS) == decimal(value, "expected", "cost"), (
        said(value)
    )


@pytest.mark.parametrize(
    ("price", "chance", "come_back", "cost"),
    [
        (None, D("0.1"), D(5), None),
        (D(10), None, D(5), None),
        (D(10), D("0.1"), None, None),
        (D(10), D(0), None, D("10.00")),
        (D(10), D("0.1"), D(0), D("10.00")),
    ],
    ids=["no price", "no chance", "no cost", "certain to hold", "free of charge"],
)
def test_what_nobody_has_said_is_not_taken_for_nothing(
    price: Decimal | None, chance: Decimal | None, come_back: Decimal | None, cost: Decimal | None
) -> None:
    """Only a chance of nothing needs no cost of a come-back."""
    assert expected_cost(price, chance, come_back, CENTS) == cost


def test_a_share_is_rounded_once_and_needs_a_price_of_new() -> None:
    """A third is 33.33 %; half of the last place goes up; nothing is divided by nothing."""
    assert share_of_new(D(100), D(300)) == D("0.3333")
    assert share_of_new(D("41.25"), D(1000)) == D("0.0413")
    assert share_of_new(D(100), D(0)) is None
    assert share_of_new(None, D(300)) is None
    assert share_of_new(D(100), None) is None


@pytest.mark.parametrize(
    ("share", "below", "says"),
    [
        ("0.5999", 60, "repair"),
        ("0.6", 60, "replace"),
        ("0.6001", 60, "replace"),
        ("0.1", 0, ""),
        (None, 60, ""),
    ],
)
def test_the_shop_s_rule_has_no_default(share: str | None, below: int, says: str) -> None:
    """Below the bound repair, at it replace; without bound or share it says nothing."""
    assert repair_or_replace(None if share is None else D(share), below) == says


def test_the_kinds_are_those_of_the_trade() -> None:
    """Repair, line, replace in three ways, or refuse: the list that a row is chosen from."""
    assert OPTION_KINDS == (
        "weld and reseal", "other repair", "line", "replace new", "replace used",
        "replace reconditioned", "refuse",
    )  # fmt: skip
