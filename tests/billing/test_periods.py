"""Quarters and years: first day, last day, and the words that name them."""

import itertools
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.billing.periods import (
    Period,
    financial_year,
    month_after,
    period_from,
    quarters_of,
    year_from,
    year_of,
)
from ledger_tools.errors import RequestError

Q3 = period_from("2025-Q3")


@pytest.mark.parametrize(
    ("written", "first_month", "first", "last"),
    [
        ("2025-Q1", 1, "2025-01-01", "2025-03-31"),
        ("2024-Q1", 1, "2024-01-01", "2024-03-31"),
        ("2025-Q4", 1, "2025-10-01", "2025-12-31"),
        ("2025-Q1", 4, "2025-04-01", "2025-06-30"),
        ("2025-Q4", 4, "2026-01-01", "2026-03-31"),
        ("2023-Q4", 4, "2024-01-01", "2024-03-31"),
        ("2025-Q1", 12, "2025-12-01", "2026-02-28"),
        ("2025-Q2", 7, "2025-10-01", "2025-12-31"),
    ],
)
def test_a_quarter_has_its_days(written: str, first_month: int, first: str, last: str) -> None:
    """The year is named after the calendar year it begins in."""
    quarter = period_from(written, first_month=first_month)

    assert (quarter.first, quarter.last) == (date.fromisoformat(first), date.fromisoformat(last))
    assert quarter.name == written


@pytest.mark.parametrize(
    ("day", "inside"),
    [("2025-06-30", False), ("2025-07-01", True), ("2025-09-30", True), ("2025-10-01", False)],
)
def test_a_quarter_ends_with_its_last_day(day: str, *, inside: bool) -> None:
    """The last day belongs to it, the next one does not."""
    assert Q3.holds(date.fromisoformat(day)) is inside


@pytest.mark.parametrize("written", ["2025-q3", "2025Q3", "2025 Q3", "  2025-Q3 "])
def test_usual_spellings_are_one_quarter(written: str) -> None:
    """Small letters, blanks and a missing hyphen do not matter."""
    assert period_from(written) == Q3


@pytest.mark.parametrize(
    "written", ["2025-Q5", "2025-Q0", "Q3", "2025", "25-Q3", "2025-Q33", "", "1900-Q1", "٢٠٢٥-Q3"]
)
def test_what_is_no_quarter_is_refused(written: str) -> None:
    """The error quotes what was written and shows the form."""
    with pytest.raises(RequestError) as refused:
        period_from(written)

    assert f"'{written}' is not a quarter" in str(refused.value)
    assert "2025-Q3" in refused.value.remedy


def test_a_year_is_read_or_refused() -> None:
    """Four digits are a year, a quarter is none."""
    assert year_from("2025", first_month=4) == Period("2025", date(2025, 4, 1), date(2026, 3, 31))
    with pytest.raises(RequestError, match="'2025-Q3' is not a year"):
        year_from("2025-Q3")


@pytest.mark.parametrize(
    ("day", "first_month", "year"),
    [
        (date(2025, 1, 1), 1, 2025),
        (date(2025, 12, 31), 1, 2025),
        (date(2025, 3, 31), 4, 2024),
        (date(2025, 4, 1), 4, 2025),
        (date(2025, 12, 31), 12, 2025),
        (date(2025, 11, 30), 12, 2024),
    ],
)
def test_a_day_belongs_to_the_year_that_holds_it(day: date, first_month: int, year: int) -> None:
    """The last day before the year begins is the old one's, its first day the new one's."""
    found = year_of(day, first_month=first_month)

    assert found == financial_year(year, first_month=first_month)
    assert found.holds(day)


def test_debts_age_to_the_last_day_or_to_today() -> None:
    """A quarter that is over is aged on its last day; one that runs, on the day given."""
    assert Q3.aged_on(date(2025, 10, 12)) == Q3.last
    assert Q3.aged_on(date(2025, 8, 5)) == date(2025, 8, 5)


def test_months_are_named_by_their_first_day() -> None:
    """A quarter over the turn of the year has three months too."""
    assert Q3.months() == (date(2025, 7, 1), date(2025, 8, 1), date(2025, 9, 1))
    winter = period_from("2025-Q1", first_month=12)
    assert winter.months() == (date(2025, 12, 1), date(2026, 1, 1), date(2026, 2, 1))
    assert len(financial_year(2025).months()) == 12


@given(year=st.integers(1901, 9000), first_month=st.integers(1, 12))
def test_four_quarters_fill_the_year(year: int, first_month: int) -> None:
    """They follow on each other without a gap and hold every day once."""
    whole = financial_year(year, first_month=first_month)
    quarters = quarters_of(year, first_month=first_month)

    assert quarters[0].first == whole.first
    assert quarters[-1].last == whole.last
    for before, after in itertools.pairwise(quarters):
        assert after.first == before.last + timedelta(days=1)
    assert sum(q.days() for q in quarters) == whole.days() in {365, 366}
    assert month_after(whole.first, 12) == whole.last + timedelta(days=1)
