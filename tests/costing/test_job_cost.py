"""What lines come to: billed hours and quantities, amounts, what is not billed."""

from dataclasses import replace
from decimal import Decimal
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.costing.job_cost import (
    LineCost,
    billable_minutes,
    by_kind,
    cost_lines,
    value_not_billed,
)
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.hours import HourPolicy, hours_of
from ledger_tools.money import Rounding
from tests.published import decimal, published, said

CENTS = Rounding(2)
TENTHS = HourPolicy(6)
D = Decimal


def labour(line_id: int, actual: int | None, off: int | None = None, **more: Any) -> Line:  # noqa: ANN401
    """Return a labour line at 100.00 an hour."""
    line = Line(
        line_id,
        Kind.LABOUR,
        "Weld",
        "min",
        actual=None if actual is None else D(actual),
        non_billable=None if off is None else D(off),
        price=D("100.00"),
    )
    return replace(line, **more)


def goods(kind: Kind, quantity: str | None, price: str, **more: Any) -> Line:  # noqa: ANN401
    """Return a line of another kind."""
    actual = None if quantity is None else D(quantity)
    return replace(Line(1, kind, "Thing", "pc", actual=actual, price=D(price)), **more)


def cost(
    *lines: Line, policy: HourPolicy = TENTHS, settled: bool = True, rounding: Rounding = CENTS
) -> tuple[LineCost, ...]:
    """Return what lines come to, by tenths of an hour and cents."""
    return cost_lines(lines, policy=policy, rounding=rounding, settled=settled)


@pytest.mark.parametrize("value", published("jobs", prefix="time"))
def test_minutes_of_common_practice(value: dict[str, Any]) -> None:
    """60 minutes and 38 more are 1.6 h and 160.00; demonstration is not billed."""
    lines = [
        labour(n, done, off, price=decimal(value, "inputs", "rate"))
        for n, (done, off) in enumerate(value["inputs"]["minutes"], 1)
    ]

    costs = cost(*lines)

    assert sum(c.billed for c in costs) == decimal(value, "expected", "hours"), said(value)
    assert sum(c.amount for c in costs) == decimal(value, "expected", "amount"), said(value)
    assert [str(c.amount) for c in costs] == ["100.00", "60.00", "0.00"]
    assert costs[2].non_billable_value == 20


@pytest.mark.parametrize("value", published("hours", prefix="time-round"))
def test_scope_and_direction_of_rounding(value: dict[str, Any]) -> None:
    """7, 14, 22 and 3 minutes: once for the job or each line, to the nearest tenth or up."""
    inputs = value["inputs"]
    policy = HourPolicy(6, inputs["direction"], inputs["scope"])

    costs = cost(*(labour(n, m) for n, m in enumerate(inputs["minutes"], 1)), policy=policy)

    assert sum(c.billed for c in costs) == decimal(value, "expected", "hours"), said(value)


@pytest.mark.parametrize("value", published("jobs", prefix="en-"))
def test_published_line_amounts(value: dict[str, Any]) -> None:
    """Quantity times price, rounded once, line by line; a tie goes away from zero."""
    for line in value["inputs"]["lines"]:
        (got,) = cost(goods(Kind.PART, line["quantity"], line["price"]))
        assert got.amount == D(line["net"]), said(value)


@pytest.mark.parametrize(
    ("quantity", "price", "amount"),
    [
        ("1", "1.005", "1.01"),
        ("1", "1.004999", "1.00"),
        ("0.5", "0.01", "0.01"),
        ("3", "0.3333", "1.00"),
        ("0", "12.00", "0.00"),
    ],
)
def test_the_price_of_a_unit_is_not_rounded(quantity: str, price: str, amount: str) -> None:
    """Only the amount of the line is, once."""
    (got,) = cost(goods(Kind.MATERIAL, quantity, price))

    assert str(got.amount) == amount


@pytest.mark.parametrize(("digits", "amount"), [(0, "13"), (2, "12.50"), (3, "12.500")])
def test_amounts_have_the_places_of_the_currency(digits: int, amount: str) -> None:
    """Yen have none, some currencies have three."""
    (got,) = cost(goods(Kind.PART, "1", "12.5"), rounding=Rounding(digits))

    assert str(got.amount) == amount


@pytest.mark.parametrize("kind", [k for k in Kind if k is not Kind.LABOUR])
def test_an_empty_actual_counts_as_estimated_once_the_job_is_to_be_billed(kind: Kind) -> None:
    """Before, nothing is used yet; the estimate is the same either way."""
    line = goods(kind, None, "10.00", estimate=D(3))
    sign = -1 if kind is Kind.DISCOUNT else 1

    (before,), (after,) = cost(line, settled=False), cost(line, settled=True)

    assert (before.billed, before.amount) == (D(0), D(0))
    assert (after.billed, after.amount) == (D(3), D(sign * 30))
    assert before.estimated == after.estimated == sign * 30


def test_an_empty_actual_of_labour_is_no_work() -> None:
    """Nobody worked, whatever was promised."""
    (got,) = cost(labour(1, None, estimate=D(60)))

    assert (got.billed, got.amount, got.estimated) == (D(0), D(0), D(100))


@pytest.mark.parametrize("settled", [True, False])
def test_a_typed_zero_is_not_used(settled: bool) -> None:  # noqa: FBT001
    """0 says that nothing was used, which an empty cell does not."""
    (got,) = cost(goods(Kind.PART, "0", "10.00", estimate=D(3)), settled=settled)

    assert (got.billed, got.amount) == (D(0), D(0))


def test_what_is_not_billable_comes_off() -> None:
    """Of 5 used 2 are not billed; of 3 estimated and not entered, 1 is not."""
    (used,) = cost(goods(Kind.PART, "5", "10.00", non_billable=D(2)))
    (promised,) = cost(goods(Kind.PART, None, "10.00", estimate=D(3), non_billable=D(1)))

    assert (used.billed, used.amount, used.non_billable_value) == (D(3), D(30), D(20))
    assert (promised.billed, promised.amount, promised.non_billable_value) == (D(2), D(20), D(10))


def test_what_is_not_billable_does_not_go_below_zero_before_billing() -> None:
    """Nothing entered yet is nothing, not less."""
    line = goods(Kind.PART, None, "10.00", estimate=D(3), non_billable=D(1))

    (got,) = cost(line, settled=False)

    assert (got.billed, got.amount) == (D(0), D(0))


def test_an_agreed_price_replaces_quantity_and_price() -> None:
    """Hours stay as worked, the amount is what was agreed; 0 is a price too."""
    (agreed,) = cost(labour(1, 98, agreed_price=D("150.00")))
    (free,) = cost(labour(1, 98, agreed_price=D(0)))

    assert (agreed.billed, agreed.amount) == (D("1.6"), D(150))
    assert (free.billed, free.amount) == (D("1.6"), D(0))


def test_an_agreed_price_is_rounded_to_cents() -> None:
    """A share typed as 33.335 is billed as 33.34."""
    (got,) = cost(goods(Kind.SUBLET, "1", "50.00", agreed_price=D("33.335")))

    assert got.amount == D("33.34")


def test_an_agreed_price_does_not_change_the_estimate() -> None:
    """What was promised stays to compare with."""
    (got,) = cost(goods(Kind.PART, "2", "10.00", estimate=D(3), agreed_price=D(5)))

    assert got.estimated == 30


@pytest.mark.parametrize(
    "line",
    [
        goods(Kind.DISCOUNT, "1", "20.00", estimate=D(1)),
        goods(Kind.DISCOUNT, "1", "99.00", estimate=D(1), agreed_price=D("20.00")),
    ],
)
def test_a_discount_is_typed_positive_and_subtracts(line: Line) -> None:
    """Its amount is negative, by price or by agreement."""
    (got,) = cost(line)

    assert got.amount == -20
    assert got.estimated == -line.price  # type: ignore[operator]


def test_half_a_cent_of_a_discount_goes_away_from_zero() -> None:
    """As with any amount: -1.005 is -1.01."""
    (got,) = cost(goods(Kind.DISCOUNT, "1", "1.005"))

    assert got.amount == D("-1.01")


def test_a_line_without_price_counts_as_nothing() -> None:
    """None is known, so none is charged; the finding is said elsewhere."""
    (got,) = cost(replace(goods(Kind.PART, "2", "0"), price=None))

    assert got.amount == 0


def test_hours_are_rounded_once_for_each_rate() -> None:
    """Two rates of 8 minutes are 0.1 h each; 16 at one rate are 0.3 h."""
    apart = cost(labour(1, 8), labour(2, 8, price=D("120.00")))
    together = cost(labour(1, 8), labour(2, 8))

    assert [c.billed for c in apart] == [D("0.1"), D("0.1")]
    assert sum(c.billed for c in together) == D("0.3")


def test_a_price_of_100_and_100_00_are_one_rate() -> None:
    """How a price is written does not part lines."""
    costs = cost(labour(1, 8, price=D(100)), labour(2, 8, price=D("100.00")))

    assert sum(c.billed for c in costs) == D("0.3")


def test_no_price_and_a_price_of_zero_are_one_rate() -> None:
    """The live formula cannot tell them apart either."""
    costs = cost(labour(1, 8, price=None), labour(2, 8, price=D(0)))

    assert sum(c.billed for c in costs) == D("0.3")


def test_billable_minutes_are_actual_less_not_billable() -> None:
    """98 worked of which 12 were shown to someone are 86; nothing entered is none."""
    assert billable_minutes(labour(1, 98, 12)) == 86
    assert billable_minutes(labour(1, None)) == 0


def test_the_value_not_billed_is_not_rounded_by_the_hour_step() -> None:
    """7 minutes at 100.00 are 11.67 lost, whatever is billed in steps."""
    (got,) = cost(labour(1, 20, 7))

    assert CENTS.amount(got.non_billable_value) == D("11.67")


def test_thirds_of_an_hour_make_an_exact_half_cent() -> None:
    """Three times 20 minutes at 40.015 are 40.02 lost and not 40.01; goods add to it."""
    thirds = [labour(n, 20, 20, price=D("40.015")) for n in (1, 2, 3)]
    part = goods(Kind.PART, "2", "1.50", non_billable=D(2))

    assert CENTS.amount(value_not_billed(thirds)) == D("40.02")
    assert value_not_billed([*thirds, part]) == D("43.015")


def test_sums_by_kind_name_every_kind() -> None:
    """A kind without lines is zero, not missing."""
    sums = by_kind([(Kind.PART, D("1.10")), (Kind.PART, D("2.20")), (Kind.FEE, D(5))])

    assert sums[Kind.PART] == D("3.30")
    assert set(sums) == set(Kind)
    assert sums[Kind.LABOUR] == 0


def test_costs_come_in_the_order_of_the_lines() -> None:
    """Whatever the line ids are."""
    assert [c.line.line_id for c in cost(labour(9, 1), labour(2, 1), labour(5, 1))] == [9, 2, 5]


MINUTES = st.lists(st.tuples(st.integers(0, 500), st.integers(0, 500)), min_size=1, max_size=12)
POLICIES = st.builds(
    HourPolicy,
    st.integers(1, 60),
    st.sampled_from(["nearest", "up"]),
    st.sampled_from(["job", "line"]),
)


@given(MINUTES, POLICIES, st.integers(0, 9))
def test_shares_do_not_depend_on_the_order_of_rows(
    minutes: list[tuple[int, int]], policy: HourPolicy, shuffle: int
) -> None:
    """Sorting a job sheet otherwise changes no line's hours or amount."""
    lines = [labour(n, max(pair), min(pair)) for n, pair in enumerate(minutes, 1)]
    mixed = lines[:]
    Random(shuffle).shuffle(mixed)  # noqa: S311 - an order, not a secret

    ordered = {c.line.line_id: c for c in cost(*lines, policy=policy)}
    shuffled = {c.line.line_id: c for c in cost(*mixed, policy=policy)}

    assert ordered == shuffled


@given(MINUTES, POLICIES)
def test_shares_add_up_to_the_minutes_rounded_once(
    minutes: list[tuple[int, int]], policy: HourPolicy
) -> None:
    """At job scope the lines' hours are those of the whole, and no line's are negative."""
    policy = policy._replace(scope="job", step=6)
    lines = [labour(n, max(pair), min(pair)) for n, pair in enumerate(minutes, 1)]

    costs = cost(*lines, policy=policy)

    whole = policy.billed(sum(billable_minutes(line) for line in lines))
    assert sum(c.billed for c in costs) == hours_of(whole)
    assert all(c.billed >= 0 for c in costs)
