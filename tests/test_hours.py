"""Minutes are read kindly, nothing is guessed, and they are rounded once where the policy says."""

from decimal import Decimal
from random import Random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.hours import (
    MOST_MINUTES,
    HourPolicy,
    MinutesUnreadableError,
    hours_of,
    minutes_from,
)
from tests.published import decimal, published, said


@pytest.mark.parametrize("value", published("hours", prefix="time-decimal"))
def test_tenths_of_an_hour(value: dict[str, Any]) -> None:
    """A begun tenth counts where the policy rounds up: 6 minutes are 0.1, 7 are 0.2."""
    policy = HourPolicy(6, value["inputs"]["direction"])

    hours = [str(hours_of(policy.billed(m))) for m in value["inputs"]["minutes"]]

    assert hours == value["expected"]["hours"], said(value)


@pytest.mark.parametrize(
    "value", [v for v in published("hours", prefix="time-") if v.id != "time-decimal-6min"]
)
def test_entries_of_a_job(value: dict[str, Any]) -> None:
    """The same card comes to different hours by entry and by job, so the scope is policy."""
    policy = HourPolicy(6, value["inputs"]["direction"], value["inputs"]["scope"])

    shares = policy.shares(enumerate(value["inputs"]["minutes"], 1))

    assert str(hours_of(sum(shares.values()))) == value["expected"]["hours"], said(value)


@pytest.mark.parametrize("value", published("hours", prefix="trap-"))
def test_a_tie_never_goes_to_the_even_tenth(value: dict[str, Any]) -> None:
    """Round half to even would lose the three minutes that make the exact tie."""
    policy = HourPolicy(6, value["inputs"]["direction"], value["inputs"]["scope"])

    hours = [hours_of(policy.billed(m)) for m in value["inputs"]["minutes"]]

    assert sum(hours) - decimal(value, "expected", "never") == Decimal("0.1"), said(value)
    assert hours[-1] == Decimal("0.1")


@pytest.mark.parametrize(
    ("minutes", "step", "nearest", "up"),
    [
        (0, 6, 0, 0),
        (2, 6, 0, 6),
        (3, 6, 6, 6),
        (8, 6, 6, 12),
        (9, 6, 12, 12),
        (7, 15, 0, 15),
        (8, 15, 15, 15),
        (15, 30, 30, 30),
        (14, 30, 0, 30),
        (2, 5, 0, 5),
        (3, 5, 5, 5),
        (17, 1, 17, 17),
    ],
)
def test_a_tie_goes_up(minutes: int, step: int, nearest: int, up: int) -> None:
    """Half a step is a whole one; a minute less is not, also where the step is odd."""
    assert HourPolicy(step, "nearest").billed(minutes) == nearest
    assert HourPolicy(step, "up").billed(minutes) == up


def test_shares_by_line_id() -> None:
    """Each line gets what the running sum gains by it: 7, 14, 22 and 3 become 6, 18, 18 and 6."""
    shares = HourPolicy(6).shares([(4, 3), (1, 7), (3, 22), (2, 14)])

    assert shares == {1: 6, 2: 18, 3: 18, 4: 6}


_LINES = st.dictionaries(st.integers(1, 999), st.integers(0, 3000), max_size=12).map(
    lambda lines: sorted(lines.items())
)
_POLICIES = st.builds(
    HourPolicy, st.sampled_from([1, 5, 6, 10, 15, 30]), st.sampled_from(["nearest", "up"])
)


@given(_LINES, _POLICIES, st.randoms(use_true_random=False))
def test_shares_add_up_in_any_order(
    lines: list[tuple[int, int]], policy: HourPolicy, shuffler: Random
) -> None:
    """At job scope shares add up to the sum rounded once, and rows may stand in any order."""
    shuffled = list(lines)
    shuffler.shuffle(shuffled)

    shares = policy.shares(shuffled)

    assert sum(shares.values()) == policy.billed(sum(own for _, own in lines))
    assert shares == policy.shares(lines)
    assert all(share >= 0 and share % policy.step == 0 for share in shares.values())


@pytest.mark.parametrize(
    ("written", "minutes"),
    [
        ("90", 90),
        (" 90 ", 90),
        ("90 min", 90),
        ("90m", 90),
        ("1:30", 90),
        ("1:30:00", 90),
        ("1h30", 90),
        ("1h 30m", 90),
        ("1 h 30 min", 90),
        ("1H30", 90),
        ("1.5h", 90),
        ("1,5 h", 90),
        ("1.5 hours", 90),
        ("2h", 120),
        ("0", 0),
        (90, 90),
        (90.0, 90),
        (0, 0),
        (0.0625, 90),
        (1 / 1440, 1),
        (1439 / 1440, 1439),
        (MOST_MINUTES, MOST_MINUTES),
    ],
)
def test_minutes_as_people_write_them(written: float | str, minutes: int) -> None:
    """Words, clock times and what a spreadsheet makes of a clock time are the same minutes."""
    assert minutes_from(written) == minutes


@pytest.mark.parametrize(
    "written",
    [
        1.5,
        "1.5",
        "0.0625",
        "abc",
        "",
        "  ",
        -5,
        "-5",
        -0.0625,
        0.0626,
        "1:60",
        "1:5",
        "1h60",
        "0.33h",
        "1e3",
        "٩٠",
        "=90",
        100_000,
        float("inf"),
        True,
        "999999",
    ],
)
def test_nothing_is_guessed(written: float | str) -> None:
    """A bare fraction may be hours or a slip; words, negatives and absurd figures are refused."""
    with pytest.raises(MinutesUnreadableError):
        minutes_from(written)


@pytest.mark.parametrize(
    ("minutes", "hours"), [(0, "0"), (90, "1.5"), (600, "10"), (20, "0.3333")]
)
def test_hours_in_plain_digits(minutes: int, hours: str) -> None:
    """Ten hours keep their nought, a third of an hour has four places."""
    assert hours_of(minutes) == Decimal(hours)
    assert str(hours_of(minutes)) == hours
