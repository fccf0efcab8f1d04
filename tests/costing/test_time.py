"""Minutes kept one entry at a time: what counts, whose line they are, what overlaps."""

from datetime import date

import pytest

from ledger_tools.costing.time import TimeEntry, by_line, counted, overlaps

DAY = date(2025, 3, 3)


def entry(row: int, minutes: int, reason: str = "", start: int | None = None) -> TimeEntry:
    """Return an entry of one line."""
    return TimeEntry(row, DAY, "Jo", "25-0001", 1, minutes, start, reason)


@pytest.mark.parametrize(
    ("start", "stop", "minutes", "comes_to"),
    [
        pytest.param(480, 540, None, 60, id="start-stop"),
        pytest.param(480, 540, 60, 60, id="both-agree"),
        pytest.param(480, 540, 61, None, id="both-disagree"),
        pytest.param(480, 480, None, None, id="no-length"),
        pytest.param(0, 1440, None, 1440, id="whole-day"),
        pytest.param(1200, 720, None, 960, id="longest-night"),
        pytest.param(1200, 721, None, None, id="too-long-a-night"),
        pytest.param(480, None, 45, 45, id="start-and-minutes"),
        pytest.param(None, None, 1440, 1440, id="most"),
        pytest.param(None, None, 1441, None, id="too-many"),
        pytest.param(None, None, 0, None, id="none"),
        pytest.param(None, None, None, None, id="nothing"),
    ],
)
def test_what_counts(
    start: int | None, stop: int | None, minutes: int | None, comes_to: int | None
) -> None:
    """Start and stop, or minutes, at their bounds."""
    assert counted(start, stop, minutes) == comes_to


def test_the_reason_is_that_of_most_minutes_whatever_the_order() -> None:
    """Added up by reason, not the longest entry; billable minutes have no say."""
    entries = [
        entry(5, 30, "teaching"), entry(6, 20, "rework"), entry(7, 15, "rework"), entry(8, 90),
    ]  # fmt: skip

    found = by_line(entries)["25-0001"][1]

    assert (found.actual, found.non_billable, found.reason) == (155, 65, "rework")
    assert by_line(entries[::-1]) == by_line(entries)


def test_a_tie_goes_to_the_first_of_the_list_of_reasons() -> None:
    """Waiting stands before warranty."""
    found = by_line([entry(5, 20, "warranty"), entry(6, 20, "waiting")])

    assert found["25-0001"][1].reason == "waiting"


def test_a_long_entry_overlaps_all_that_begin_within_it() -> None:
    """Not only the next one; one that begins as it ends is free of it."""
    entries = [
        entry(5, 120, start=480), entry(6, 10, start=490), entry(7, 10, start=550),
        entry(8, 10, start=600),
    ]  # fmt: skip

    assert [(e.row, other.row, n) for e, other, n in overlaps(entries)] == [
        (6, 5, 10), (7, 5, 10),
    ]  # fmt: skip
