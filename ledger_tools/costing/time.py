"""Minutes kept one entry at a time: what counts, what each line of a job gets, what overlaps."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import date
from typing import NamedTuple

from ledger_tools.costing.lines import REASONS
from ledger_tools.hours import MINUTES_A_DAY

BILLABLE = "billable"
CLASSES = (BILLABLE, *REASONS)
"""What an entry may be: billable, or the reason why it is not."""
COME_BACK = "warranty"
"""The one class in which minutes may still be put on a job that was invoiced before that day."""
LONGEST_NIGHT = 16 * 60
"""Minutes from a start to a stop on the next day, above which one of them is taken for a slip."""


class TimeEntry(NamedTuple):
    """One entry of `Time`.

    Attributes:
        row: Row of the sheet.
        day: Day it began; None where it cannot be read.
        who: Who worked; empty where the shop does not say.
        job: Job number; empty for time of the shop.
        line_id: Line of the job; None for none.
        minutes: Whole minutes that count; None where they cannot be told.
        start: Minutes after midnight; None where no time of day is kept.
        reason: Why it is not billable, one of `REASONS`; empty where it is.
        note: The shop's words.
        typed: Minutes as typed beside start and stop, None where they follow from those.
        stop: Minutes after midnight, on the next day where that is before `start`.
    """

    row: int
    day: date | None
    who: str
    job: str
    line_id: int | None
    minutes: int | None
    start: int | None = None
    reason: str = ""
    note: str = ""
    typed: int | None = None
    stop: int | None = None

    @property
    def span(self) -> tuple[int, int] | None:
        """From when to when it lasted, in minutes from the first of all days; None if unknown."""
        if self.day is None or self.start is None or self.minutes is None:
            return None
        begun = self.day.toordinal() * MINUTES_A_DAY + self.start
        return begun, begun + self.minutes


class LineTime(NamedTuple):
    """What the entries of one line come to.

    Attributes:
        actual: Minutes in all.
        non_billable: The part the customer does not pay.
        reason: The reason most of that part has, empty for none.
        rows: Rows of the entries, in their order.
    """

    actual: int
    non_billable: int
    reason: str
    rows: tuple[int, ...]


def counted(start: int | None, stop: int | None, minutes: int | None) -> int | None:
    """Return the minutes that count, None where what is given makes no sense.

    A stop before the start is one on the next day. Minutes given beside both must agree.

    >>> counted(22 * 60, 60, None)
    180
    >>> counted(480, 540, 45) is None
    True
    """
    if start is None or stop is None:
        return minutes if minutes is not None and 1 <= minutes <= MINUTES_A_DAY else None
    span = stop - start + (MINUTES_A_DAY if stop < start else 0)
    most = LONGEST_NIGHT if stop < start else MINUTES_A_DAY
    return span if 1 <= span <= most and minutes in (None, span) else None


def by_line(entries: Iterable[TimeEntry]) -> Mapping[str, Mapping[int, LineTime]]:
    """Return what each line gets, by job number in small letters and by line id.

    The order of the entries changes nothing.
    """
    found: dict[str, dict[int, list[TimeEntry]]] = defaultdict(lambda: defaultdict(list))
    for entry in entries:
        if entry.job and entry.line_id is not None:
            found[entry.job.casefold()][entry.line_id].append(entry)
    return {job: {n: _summed(own) for n, own in lines.items()} for job, lines in found.items()}


def _summed(entries: list[TimeEntry]) -> LineTime:
    off = dict.fromkeys(REASONS, 0)
    for entry in entries:
        if entry.reason:
            off[entry.reason] += entry.minutes or 0
    # The first of REASONS wins a tie: `max` keeps to their order.
    reason = max(off, key=lambda word: off[word])
    return LineTime(
        sum(entry.minutes or 0 for entry in entries),
        sum(off.values()),
        reason if off[reason] else "",
        tuple(sorted(entry.row for entry in entries)),
    )


def overlaps(entries: Iterable[TimeEntry]) -> Iterator[tuple[TimeEntry, TimeEntry, int]]:
    """Yield each entry that begins before another of the same person ends, that one, and how long.

    Of several that reach that far, the one that ends last is named.
    """
    for own in _by_person(entries).values():
        last: TimeEntry | None = None
        for entry in own:
            if last is not None and entry.span and last.span and entry.span[0] < last.span[1]:
                yield entry, last, min(entry.span[1], last.span[1]) - entry.span[0]
            if last is None or (entry.span and last.span and entry.span[1] > last.span[1]):
                last = entry


def gaps(entries: Iterable[TimeEntry], *, least: int) -> Iterator[tuple[TimeEntry, int]]:
    """Yield each entry before which a person has no entry for `least` minutes of that day."""
    for own in _by_person(entries).values():
        day: date | None = None
        end = 0
        for entry in own:
            if entry.span is None:
                continue
            if entry.day == day and entry.span[0] - end >= least:
                yield entry, entry.span[0] - end
            end = max(end, entry.span[1])
            day = entry.day


def _by_person(entries: Iterable[TimeEntry]) -> dict[str, list[TimeEntry]]:
    """Return the entries that have a time of day, by person and in its order."""
    found: dict[str, list[TimeEntry]] = defaultdict(list)
    for entry in entries:
        if entry.span is not None:
            found[entry.who.casefold()].append(entry)
    return {
        who: sorted(own, key=lambda e: (e.span or (0, 0), e.row)) for who, own in found.items()
    }
