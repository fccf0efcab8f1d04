"""Minutes as people write them, and minutes as they are billed.

>>> minutes_from("1h30")
90
>>> HourPolicy(step=6).billed(98)
96
>>> HourPolicy(step=6, direction="up").billed(98)
102
"""

import re
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal
from functools import lru_cache
from math import isfinite
from typing import NamedTuple

MINUTES_A_DAY = 24 * 60
MOST_MINUTES = 99_999
_RESIDUE = 1e-6
"""Minutes by which a spreadsheet's part of a day may miss a whole minute."""

# Compiled where they are first met: most books hold nothing but plain minutes.
_PLAIN = r"(?a)(\d{1,5})"
_CLOCK = r"(?a)(\d{1,3}):([0-5]\d)(?::00)?"
_HOURS_AND_MINUTES = r"(?ai)(\d{1,3})\s*h\s*([0-5]?\d)\s*(?:m|min)?"
_HOURS = r"(?ai)(\d{1,3}(?:[.,]\d{1,4})?)\s*(?:h|hrs?|hours?)"
_MINUTES = r"(?ai)(\d{1,5})\s*(?:m|mins?|minutes?)"


_TIME_OF_DAY = r"(?ai)([01]?\d|2[0-4])\s*[:h]\s*([0-5]\d)(?::00)?"


class MinutesUnreadableError(ValueError):
    """What was written does not stand for whole minutes."""


def minutes_from(written: float | str) -> int:
    """Return the whole minutes that `written` stands for.

    `90`, `1:30`, `1h30`, `1.5h` and `90 min` are all ninety minutes. A number between 0 and 1
    that is a whole number of minutes of a day is what a spreadsheet makes of a typed `1:30`.

    Raises:
        MinutesUnreadableError: `written` is a bare fraction, a word, negative or absurd. Nothing
            is guessed: 1.5 may be hours or a slip.
    """
    minutes = _from_text(written.strip()) if isinstance(written, str) else _from_number(written)
    if not 0 <= minutes <= MOST_MINUTES:
        raise MinutesUnreadableError(written)
    return minutes


def clock_from(written: float | str) -> int:
    """Return the minutes after midnight that a time of day stands for.

    `8:15`, `08:15` and `8h15` are all 495, and so is the part of a day that a spreadsheet makes
    of a typed `8:15`. `24:00` is the end of the day.

    >>> clock_from("8:15")
    495

    Raises:
        MinutesUnreadableError: `written` is anything else. Nothing is guessed: 8.25 may be a
            quarter past eight or twenty-five past.
    """
    if isinstance(written, str):
        found = re.fullmatch(_TIME_OF_DAY, written.strip())
        minutes = int(found[1]) * 60 + int(found[2]) if found else -1
    elif isinstance(written, bool) or not 0 <= written <= 1:
        minutes = -1
    else:
        of_a_day = written * MINUTES_A_DAY
        minutes = round(of_a_day) if abs(of_a_day - round(of_a_day)) < _RESIDUE else -1
    if not 0 <= minutes <= MINUTES_A_DAY:
        raise MinutesUnreadableError(written)
    return minutes


def _from_number(number: float) -> int:
    if isinstance(number, bool) or not isfinite(number):
        raise MinutesUnreadableError(number)
    if number == int(number):
        return int(number)
    of_a_day = number * MINUTES_A_DAY
    nearest = round(of_a_day)
    if 0 < number < 1 and abs(of_a_day - nearest) < _RESIDUE:
        return nearest
    raise MinutesUnreadableError(number)


def _from_text(text: str) -> int:
    if found := re.fullmatch(_PLAIN, text) or re.fullmatch(_MINUTES, text):
        return int(found[1])
    if found := re.fullmatch(_CLOCK, text) or re.fullmatch(_HOURS_AND_MINUTES, text):
        return int(found[1]) * 60 + int(found[2])
    if found := re.fullmatch(_HOURS, text):
        minutes = Decimal(found[1].replace(",", ".")) * 60
        if minutes == int(minutes):
            return int(minutes)
    raise MinutesUnreadableError(text)


@lru_cache(maxsize=4096)
def hours_of(minutes: int) -> Decimal:
    """Return `minutes` as hours, to four places, half up.

    >>> hours_of(96)
    Decimal('1.6')
    """
    hours = (Decimal(minutes) / 60).quantize(Decimal("0.0001"), ROUND_HALF_UP)
    return Decimal(f"{hours:f}".rstrip("0").rstrip("."))


class HourPolicy(NamedTuple):
    """How billable minutes become billed hours, as printed on estimate and invoice.

    Attributes:
        step: Minutes that are billed as a whole, 6 for a tenth of an hour.
        direction: ``nearest`` (ties up) or ``up``.
        scope: ``job`` rounds once for each labour rate of a job, ``line`` rounds each line.
    """

    step: int = 6
    direction: str = "nearest"
    scope: str = "job"

    def billed(self, minutes: int) -> int:
        """Return `minutes` rounded to whole steps."""
        added = 2 * self.step - 2 if self.direction == "up" else self.step
        return (2 * minutes + added) // (2 * self.step) * self.step

    def shares(self, minutes: Iterable[tuple[int, int]]) -> dict[int, int]:
        """Return the billed minutes of each line, by line id.

        `minutes` are pairs of line id and billable minutes of lines at one rate. At job scope a
        line's share is the rounded sum of minutes up to and with it, less the rounded sum before
        it: shares add up to the rounded whole, whatever the order of the rows.
        """
        shares: dict[int, int] = {}
        before = 0
        for line_id, own in sorted(minutes):
            if self.scope == "line":
                shares[line_id] = self.billed(own)
                continue
            shares[line_id] = self.billed(before + own) - self.billed(before)
            before += own
        return shares
