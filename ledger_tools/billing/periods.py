"""Quarters and financial years, counted from the first month of the shop's year.

>>> quarter = period_from("2025-Q3")
>>> quarter.first, quarter.last
(datetime.date(2025, 7, 1), datetime.date(2025, 9, 30))
"""

import re
from dataclasses import dataclass
from datetime import date, timedelta

from ledger_tools.errors import RequestError

QUARTERS = (1, 2, 3, 4)
MONTHS_A_QUARTER = 3
MONTHS_A_YEAR = 12
FIRST_YEAR = 1901
"""A spreadsheet knows no day before 1900-01-01, and the day before a period must exist too."""

_QUARTER = re.compile(r"(\d{4})-?\s?[Qq]([1-4])", re.ASCII)
_YEAR = re.compile(r"\d{4}", re.ASCII)


@dataclass(frozen=True, slots=True)
class Period:
    """A run of whole months.

    Attributes:
        name: As people write it, ``2025-Q3`` or ``2025``.
        first: First day.
        last: Last day, which still belongs to it.
    """

    name: str
    first: date
    last: date

    def holds(self, day: date) -> bool:
        """Return whether `day` belongs to the period."""
        return self.first <= day <= self.last

    def aged_on(self, today: date) -> date:
        """Return the day debts are aged on: the last one, or `today` while it still runs."""
        return min(self.last, today)

    def months(self) -> tuple[date, ...]:
        """Return the first day of each month of the period."""
        months = (self.last.year - self.first.year) * MONTHS_A_YEAR
        months += self.last.month - self.first.month + 1
        return tuple(month_after(self.first, n) for n in range(months))

    def days(self) -> int:
        """Return the number of days, first and last included."""
        return (self.last - self.first).days + 1


def month_after(first: date, months: int) -> date:
    """Return the first day of the month that begins `months` after the month of `first`.

    >>> month_after(date(2025, 11, 1), 3)
    datetime.date(2026, 2, 1)
    """
    year, month = divmod(first.year * MONTHS_A_YEAR + first.month - 1 + months, MONTHS_A_YEAR)
    return date(year, month + 1, 1)


def financial_year(year: int, *, first_month: int = 1) -> Period:
    """Return the financial year named after the calendar year it begins in.

    >>> financial_year(2025, first_month=4).last
    datetime.date(2026, 3, 31)
    """
    begins = date(year, first_month, 1)
    return _period(f"{year:04}", begins, MONTHS_A_YEAR)


def quarters_of(year: int, *, first_month: int = 1) -> tuple[Period, ...]:
    """Return the four quarters of the financial year that begins in `year`."""
    begins = date(year, first_month, 1)
    return tuple(
        _period(
            f"{year:04}-Q{n}", month_after(begins, (n - 1) * MONTHS_A_QUARTER), MONTHS_A_QUARTER
        )
        for n in QUARTERS
    )


def period_from(written: str, *, first_month: int = 1) -> Period:
    """Return the quarter that `written` names.

    Raises:
        RequestError: `written` is no quarter; nothing is guessed.
    """
    found = _QUARTER.fullmatch(written.strip())
    if not found or not _within_calendar(int(found[1])):
        raise RequestError("", f"'{written}' is not a quarter", "Write it like 2025-Q3")
    return quarters_of(int(found[1]), first_month=first_month)[int(found[2]) - 1]


def year_from(written: str, *, first_month: int = 1) -> Period:
    """Return the financial year that `written` names.

    Raises:
        RequestError: `written` is no year.
    """
    found = _YEAR.fullmatch(written.strip())
    if not found or not _within_calendar(int(found[0])):
        raise RequestError("", f"'{written}' is not a year", "Write it like 2025")
    return financial_year(int(found[0]), first_month=first_month)


def year_of(day: date, *, first_month: int = 1) -> Period:
    """Return the financial year that holds `day`.

    >>> year_of(date(2026, 2, 3), first_month=4).name
    '2025'
    """
    return financial_year(day.year - (day.month < first_month), first_month=first_month)


def _within_calendar(year: int) -> bool:
    return FIRST_YEAR <= year < date.max.year


def _period(name: str, begins: date, months: int) -> Period:
    return Period(name, begins, month_after(begins, months) - timedelta(days=1))
