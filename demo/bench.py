"""What the owner types into a job sheet once the work is done: minutes, bills, extras.

Nothing is read and nothing is written here; a job's lines go in, typed cells come out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from demo.chance import happens, one_of, spread, stream
from demo.scenario import Idle, Story

MARKUP = 1.2
"""Sublet work that turned out dearer is passed on at cost and a fifth."""
_MINUTES_A_DAY = 1440
_AN_HOUR = 60
_CHECKS = ("test", "check", "inspect", "alignment")

Typed = str | float
Cells = dict[tuple[int, str], Typed]
"""What is typed, by row and column key of the job sheet."""


@dataclass(frozen=True, slots=True)
class SheetLine:
    """A line as it stands on the job sheet before the work.

    Attributes:
        row: Row of the sheet.
        kind: Word of the column Kind.
        description: The shop's words.
        estimate: Minutes for labour, quantity for the rest.
        cost: What a unit costs the shop; 0 for nothing known.
        price: What an hour or a unit is billed at; 0 for nothing known.
    """

    row: int
    kind: str
    description: str
    estimate: float
    cost: float = 0
    price: float = 0


def work_on(story: Story, lines: Sequence[SheetLine], free: Sequence[int]) -> Cells:
    """Return everything that is typed on the sheet of one job.

    Args:
        story: How the job went.
        lines: Lines that stand there, from the top.
        free: Empty rows below them.
    """
    chance = stream(2, story.n)
    cells: Cells = {}
    labour = [line for line in lines if line.kind == "labour"]
    minutes = _minutes(story, labour, chance)
    for line in labour:
        _log(line, minutes[line.row], _off(story, line, labour), cells, chance)
    if story.warranty:
        _bill_nothing(lines, minutes, cells)
    elif labour and story.agreed:
        longest = _by_length(labour)[0]
        cells[longest.row, "agreed_price"] = round(longest.estimate / 60 * longest.price, 2)
    for line in lines:
        if not story.warranty:
            _use(story, line, cells, chance)
    _extras(story, free, cells)
    return cells


def overran(lines: Sequence[SheetLine], cells: Mapping[tuple[int, str], Typed]) -> bool:
    """Return whether the minutes typed are more than a tenth above the estimate."""
    rows = [line.row for line in lines if line.kind == "labour"]
    worked = sum(minutes_meant(cells[row, "actual"]) for row in rows if (row, "actual") in cells)
    return worked > 1.1 * sum(line.estimate for line in lines if line.kind == "labour")


def minutes_meant(typed: Typed) -> int:
    """Return the minutes that one of this module's ways of writing stands for."""
    if isinstance(typed, str):
        hours, _, rest = typed.removesuffix(" min").replace("h", ":").partition(":")
        return int(hours) * _AN_HOUR + int(rest) if rest else int(hours)
    return round(typed * _MINUTES_A_DAY) if 0 < typed < 1 else int(typed)


def _minutes(story: Story, labour: Sequence[SheetLine], chance: Random) -> dict[int, int]:
    """Return the billable minutes of every labour line: near the estimate, skewed upwards."""
    pace = 0.91 * spread(0.08, chance)
    longest = {line.row for line in _by_length(labour)[:1]}
    minutes = {}
    for line in labour:
        factor = pace * spread(0.16, chance) * (story.overrun if line.row in longest else 1)
        minutes[line.row] = max(2, round(line.estimate * factor)) if line.estimate else 0
    return minutes


def _by_length(labour: Sequence[SheetLine]) -> list[SheetLine]:
    return sorted(labour, key=lambda line: -line.estimate)


def _off(story: Story, line: SheetLine, labour: Sequence[SheetLine]) -> Idle | None:
    """Return what was worked on this line and is not billed."""
    for idle in story.idle:
        if _by_length(_fitting(idle.reason, labour))[idle.step : idle.step + 1] == [line]:
            return idle
    return None


def _fitting(reason: str, labour: Sequence[SheetLine]) -> Sequence[SheetLine]:
    """Return the steps a reason makes sense for; waiting and showing happen at tests."""
    if reason not in ("waiting", "demonstration"):
        return labour
    checks = [line for line in labour if any(w in line.description.casefold() for w in _CHECKS)]
    return checks if len(checks) > 1 else labour


def _log(line: SheetLine, minutes: int, idle: Idle | None, cells: Cells, chance: Random) -> None:
    if not minutes:
        return
    cells[line.row, "actual"] = _written(minutes + (idle.minutes if idle else 0), chance)
    if idle:
        cells[line.row, "non_billable"] = idle.minutes
        cells[line.row, "reason"] = idle.reason


def _written(minutes: int, chance: Random) -> Typed:
    """Return minutes as the owner happens to write them."""
    hours, rest = divmod(minutes, _AN_HOUR)
    ways: tuple[Typed, ...] = (minutes,) * 12 + (f"{minutes} min",)
    if hours:
        ways = (minutes,) * 3 + (
            f"{hours}h{rest:02}",
            f"{hours}:{rest:02}",
            minutes / _MINUTES_A_DAY,
        )
    return one_of(ways, chance)


def _bill_nothing(lines: Sequence[SheetLine], minutes: Mapping[int, int], cells: Cells) -> None:
    for line in lines:
        used: Typed = minutes.get(line.row, line.estimate)
        cells[line.row, "actual"] = used
        cells[line.row, "non_billable"] = used
        cells[line.row, "reason"] = "warranty"


def _use(story: Story, line: SheetLine, cells: Cells, chance: Random) -> None:
    """Type what was used or billed to the shop, where it is not as estimated."""
    if line.kind == "material" and happens(0.25, chance):
        cells[line.row, "actual"] = round(line.estimate * one_of((0.5, 1.5, 2), chance), 3)
    elif line.kind == "part" and happens(0.12, chance):
        cells[line.row, "actual"] = 0
    elif line.kind == "sublet" and line.cost:
        bill = round(line.cost * (0.92 + 0.4 * chance.random()) * 2) / 2
        cells[line.row, "cost"] = bill
        if story.passed_on and bill > line.cost:
            cells[line.row, "agreed_price"] = round(bill * MARKUP, 2)
        cells[line.row, "actual"] = 1


def _extras(story: Story, free: Sequence[int], cells: Cells) -> None:
    """Type lines of their own into the next empty rows."""
    rows = iter(free)
    for new in _new_lines(story):
        row = next(rows)
        cells.update({(row, key): value for key, value in new.items()})


def _new_lines(story: Story) -> Iterator[dict[str, Typed]]:
    if story.worse:
        yield {
            "kind": "labour",
            "description": "Damage not seen before",
            "labour_class": "welding",
            "actual": story.worse,
        }
        yield {"kind": "material", "description": "Welding consumables", "actual": 1}
    if story.delivery:
        yield {
            "kind": "fee",
            "description": "Collect and deliver",
            "unit": "trip",
            "actual": 1,
            "price": float(story.delivery),
        }
    if story.discount:
        yield {
            "kind": "discount",
            "description": "Regular customer",
            "unit": "job",
            "actual": 1,
            "price": float(story.discount),
        }


def halfway(cells: Cells) -> Cells:
    """Return what is typed of unfinished work: the upper half of the lines, no extras."""
    rows = sorted({row for row, key in cells if key == "actual"})
    done = set(rows[: len(rows) // 2])
    kept = ("actual", "non_billable", "reason")
    return {(row, key): v for (row, key), v in cells.items() if row in done and key in kept}
