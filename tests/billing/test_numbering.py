"""Job and invoice numbers: one after another, by a pattern, never one twice."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.billing.numbering import number_from, sequence_of
from ledger_tools.errors import ConfigError

DAY = date(2025, 2, 3)
GOOD = ("{yy}-{n:04}", "{n}", "{yyyy}.{n:06}", "J{n:3}-{yy}", "R+{n}(a)", "{yy}{n:04}")


@pytest.mark.parametrize(
    ("pattern", "n", "number"),
    [
        ("{yy}-{n:04}", 1, "25-0001"),
        ("{yy}-{n:04}", 9999, "25-9999"),
        ("{yy}-{n:04}", 10000, "25-10000"),
        ("{n}", 12, "12"),
        ("{yyyy}/{n:02}".replace("/", "."), 3, "2025.03"),
        ("J{n:3}", 7, "J007"),
    ],
)
def test_a_number_is_written_by_the_pattern(pattern: str, n: int, number: str) -> None:
    """Padded to the width, and wider where it no longer fits."""
    assert number_from(pattern, n, DAY) == number


@pytest.mark.parametrize("day", [date(2000, 1, 1), date(2009, 12, 31)])
def test_years_keep_their_zeros(day: date) -> None:
    """The year 2000 is 00, 2009 is 09."""
    assert number_from("{yy}-{n}", 1, day) == f"{day.year - 2000:02}-1"


@pytest.mark.parametrize(
    "pattern",
    ["", "job", "{yy}", "{n}{n}", "{n:04}-{n}", "{m}-{n}", "{n:x}", "{n!r}", "{n.real}", "{}{n}",
     "{n}/{yy}", "a:{n}", "[{n}]", "{n}?", "*{n}", "it's {n}", "{n}\\", "{n"],
)  # fmt: skip
def test_a_pattern_that_cannot_number_is_refused(pattern: str) -> None:
    """No number, two, other fields, or what a sheet's name cannot hold."""
    with pytest.raises(ConfigError, match="cannot be used for numbers"):
        number_from(pattern, 1, DAY)


@pytest.mark.parametrize(
    ("number", "pattern", "n"),
    [
        ("25-0007", "{yy}-{n:04}", 7),
        ("24-0007", "{yy}-{n:04}", 7),
        ("25-10000", "{yy}-{n:04}", 10000),
        ("25-7", "{yy}-{n:04}", 7),
        ("X-0007", "{yy}-{n:04}", None),
        ("25-0007b", "{yy}-{n:04}", None),
        ("a25-0007", "{yy}-{n:04}", None),
        ("25-\u0661", "{yy}-{n:04}", None),
        ("25-", "{yy}-{n:04}", None),
        ("", "{n}", None),
        ("7", "job", None),
        ("RX7(a)", "R.{n}(a)", None),
    ],
)
def test_the_place_in_the_sequence_is_read_back(number: str, pattern: str, n: int | None) -> None:
    """Also of another year; a number of another kind has none."""
    assert sequence_of(number, pattern) == n


@given(st.sampled_from(GOOD), st.integers(1, 10**6), st.dates())
def test_a_number_written_is_a_number_read(pattern: str, n: int, day: date) -> None:
    """Whatever the day, the place in the sequence comes back."""
    assert sequence_of(number_from(pattern, n, day), pattern) == n


@given(st.sampled_from(GOOD), st.sets(st.integers(1, 10**6), min_size=2, max_size=20), st.dates())
def test_no_number_stands_for_two(pattern: str, ns: set[int], day: date) -> None:
    """On one day different places give different numbers."""
    assert len({number_from(pattern, n, day) for n in ns}) == len(ns)


def test_a_pattern_that_counts_twice_reads_no_number_and_takes_no_time() -> None:
    """It was never used to write one; trying all ways to split long digits would not end."""
    assert sequence_of("1" * 400 + "-", "{n}" * 9) is None
    assert sequence_of("12", "{n}{n:04}") is None
    assert sequence_of("12", "{yy}") is None
    assert sequence_of("1" * 5000, "{n}") is None
