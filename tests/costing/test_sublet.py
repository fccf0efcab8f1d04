"""Sublet work is priced by markup on cost or by margin on price, never one for the other."""

from decimal import Decimal
from typing import Any

import pytest

from ledger_tools.costing.sublet import (
    FractionUnreadableError,
    MarginTooHighError,
    fraction_from,
    margin_from_markup,
    markup_from_margin,
    price_from_margin,
    price_from_markup,
)
from tests.published import decimal, published, said


@pytest.mark.parametrize("value", published("pricing", prefix="sublet-markup"))
def test_price_from_markup(value: dict[str, Any]) -> None:
    """Twenty per cent on a cost of 380 is a price of 456."""
    price = price_from_markup(
        decimal(value, "inputs", "cost"), markup=decimal(value, "inputs", "fraction")
    )

    assert price == decimal(value, "expected", "price"), said(value)


@pytest.mark.parametrize("value", published("pricing", prefix="sublet-margin"))
def test_price_from_margin(value: dict[str, Any]) -> None:
    """Twenty per cent of the price left over a cost of 380 is a price of 475."""
    price = price_from_margin(
        decimal(value, "inputs", "cost"), margin=decimal(value, "inputs", "fraction")
    )

    assert price == decimal(value, "expected", "price"), said(value)


@pytest.mark.parametrize("value", published("pricing", prefix="mm-"))
def test_markup_for_a_margin(value: dict[str, Any]) -> None:
    """The published table of margins and markups, to a hundredth of a per cent, both ways."""
    margin = decimal(value, "inputs", "margin_percent") / 100

    markup = markup_from_margin(margin)

    percent = (markup * 100).quantize(Decimal("0.01"))
    assert percent == decimal(value, "expected", "markup_percent"), said(value)
    assert abs(margin_from_markup(markup) - margin) < Decimal("1e-20"), said(value)


def test_price_is_not_rounded() -> None:
    """A price a unit keeps its digits; only quantity times price is rounded."""
    assert price_from_markup(Decimal("0.333"), markup=Decimal("0.15")) == Decimal("0.38295")


@pytest.mark.parametrize("fraction", ["0", "0.00"])
def test_nothing_added_is_the_cost(fraction: str) -> None:
    """Without markup or margin the price is the cost."""
    assert price_from_markup(Decimal("12.34"), markup=Decimal(fraction)) == Decimal("12.34")
    assert price_from_margin(Decimal("12.34"), margin=Decimal(fraction)) == Decimal("12.34")


@pytest.mark.parametrize("margin", ["1", "1.2"])
def test_no_price_leaves_the_whole(margin: str) -> None:
    """A margin of the whole price or more is refused; just below is a price."""
    with pytest.raises(MarginTooHighError):
        price_from_margin(Decimal(100), margin=Decimal(margin))
    with pytest.raises(MarginTooHighError):
        markup_from_margin(Decimal(margin))
    assert price_from_margin(Decimal(1), margin=Decimal("0.99")) == 100


@pytest.mark.parametrize(
    ("written", "fraction"),
    [
        ("20%", "0.2"),
        ("20 %", "0.2"),
        (" 20% ", "0.2"),
        ("0.20", "0.20"),
        (".2", "0.2"),
        ("7.25%", "0.0725"),
        ("9.975%", "0.09975"),
        ("150%", "1.5"),
        ("1000%", "10"),
        ("0%", "0"),
        ("0", "0"),
    ],
)
def test_fraction_is_read_exactly(written: str, fraction: str) -> None:
    """Per cent or fraction, digit for digit."""
    assert fraction_from(written) == Decimal(fraction)
    assert "E" not in str(fraction_from(written))


@pytest.mark.parametrize(
    "written", ["20", "1.5", "1", "-20%", "-0.2", "", "%", "abc", "2O%", "1,5%"]
)
def test_fraction_is_not_guessed(written: str) -> None:
    """A bare 20 may be 20 % or twenty times: it is refused, as is anything below zero."""
    with pytest.raises(FractionUnreadableError):
        fraction_from(written)
