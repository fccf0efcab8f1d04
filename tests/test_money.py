"""Amounts are rounded in one place, by the profile's rule, and never half to even."""

from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.money import ROUNDING_MODES, Rounding, from_cell, plain
from tests.published import decimal, published, said


@pytest.mark.parametrize("value", published("rounding"))
def test_rounds_as_published(value: dict[str, Any]) -> None:
    """A value goes to the published digits, the last place included."""
    rule = Rounding(value["inputs"]["digits"], value["inputs"]["mode"])

    rounded = rule.amount(decimal(value, "inputs", "value"))

    assert str(rounded) == value["expected"]["result"], said(value)


@pytest.mark.parametrize(
    ("exact", "mode", "rounded"),
    [
        ("2.675", "half-up", "2.68"),
        ("-2.675", "half-up", "-2.68"),
        ("2.675", "half-down", "2.67"),
        ("-2.675", "half-down", "-2.67"),
        ("2.6751", "half-down", "2.68"),
        ("2.679", "down", "2.67"),
        ("-2.679", "down", "-2.67"),
    ],
)
def test_half_a_cent_goes_where_the_mode_says(exact: str, mode: str, rounded: str) -> None:
    """Up is away from zero, down towards it, and a credit mirrors its invoice."""
    assert str(Rounding(2, mode).amount(Decimal(exact))) == rounded


@pytest.mark.parametrize("mode", ROUNDING_MODES)
@pytest.mark.parametrize("exact", ["-0.001", "-0", "-0.00"])
def test_nothing_is_never_negative(exact: str, mode: str) -> None:
    """A small credit that rounds away prints 0.00, not -0.00."""
    assert str(Rounding(2, mode).amount(Decimal(exact))) == "0.00"


@pytest.mark.parametrize(
    ("digits", "rounded"), [(0, "1235"), (2, "1234.57"), (3, "1234.568"), (4, "1234.5678")]
)
def test_minor_unit_is_the_currency_s(digits: int, rounded: str) -> None:
    """Yen have no decimals, dinars three."""
    assert str(Rounding(digits).amount(Decimal("1234.5678"))) == rounded


@given(st.decimals(-(10**9), 10**9, places=6), st.sampled_from(ROUNDING_MODES))
def test_rounding_mirrors_and_stays_near(exact: Decimal, mode: str) -> None:
    """A credit is its invoice with the sign turned, and at most a cent is moved, once."""
    rule = Rounding(2, mode)
    rounded = rule.amount(exact)

    assert rule.amount(-exact) == -rounded
    assert abs(rounded - exact) < Decimal("0.01")
    assert rule.amount(rounded) == rounded


@pytest.mark.parametrize(
    ("cell", "typed"),
    [
        (0.1, "0.1"),
        (19.99, "19.99"),
        (1.005, "1.005"),
        (1200.0, "1200"),
        (1200, "1200"),
        (-0.0, "0"),
        (1e-7, "1E-7"),
        (1e22, "10000000000000000000000"),
        (123456789.012345, "123456789.012345"),
        (3 * 0.1, "0.3"),
        (1.15 * 100, "115"),
        (0.29 * 100, "29"),
        (1 / 3, "0.333333333333333"),
    ],
)
def test_a_cell_s_number_is_what_was_typed_or_is_seen(cell: float, typed: str) -> None:
    """The float 1.005 is the typed 1.005 and not 1.00499999999999989; `=3*0.1` shows 0.3."""
    assert str(from_cell(cell)) == typed


def test_plain_digits_have_no_exponent() -> None:
    """Neither hundreds nor ten-thousandths are written with an E."""
    assert plain(Decimal("1E+2")) == "100"
    assert plain(Decimal("1E-7")) == "0.0000001"
