"""How saving, recomputing and memory grow with the number of job sheets."""

import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

SHEETS = (100, 500, 1000, 2000)
JUDGED = 1000
"""Number of job sheets at which the ratios have their goals."""
CHANGE_GOAL, RECOMPUTE_GOAL = 3, 60
MEMORY_GOAL = 100
"""MiB, at the largest number of sheets."""


@dataclass(frozen=True, slots=True)
class Taken:
    """What a task took: seconds, and the most memory of its process in MiB."""

    seconds: float
    memory: float


@dataclass(frozen=True, slots=True)
class Scale:
    """One book and what each task took on it.

    Attributes:
        sheets: How many job sheets it has.
        size: Bytes of its file.
        copy: Copying its parts' compressed bytes, the yardstick.
        change: Saving a cell, a row and a new sheet.
        recompute: Reading, working out and saving the whole book.
        openpyxl: The change by a general library; None where it was not tried.
    """

    sheets: int
    size: int
    copy: Taken
    change: Taken
    recompute: Taken
    openpyxl: Taken | None

    def times(self, taken: Taken) -> float:
        """Return how many times the yardstick's time was taken."""
        return taken.seconds / self.copy.seconds


def scale_of(book: Path, sheets: int) -> Scale:
    """Return what the tasks take on a book."""
    return Scale(
        sheets,
        book.stat().st_size,
        _taken("copy", book, 9),
        _taken("change", book, 5),
        _taken("recompute", book, 3 if sheets <= JUDGED else 1),
        _taken("openpyxl", book, 1) if sheets == JUDGED else None,
    )


def _taken(task: str, book: Path, rounds: int) -> Taken:
    words = [sys.executable, "-m", "tests.benchmarks.task", task, str(book), str(rounds)]
    said = subprocess.run(words, check=True, capture_output=True, text=True).stdout
    return Taken(**json.loads(said))


def missed(scales: list[Scale]) -> list[str]:
    """Return the goals that are missed, in words."""
    found = []
    for scale in scales:
        if scale.sheets == JUDGED:
            for what, taken, goal in (
                ("a change saved", scale.change, CHANGE_GOAL),
                ("a recompute", scale.recompute, RECOMPUTE_GOAL),
            ):
                if scale.times(taken) > goal:
                    found.append(f"{what} takes {scale.times(taken):.1f} times, goal {goal}")
    largest = max(scales, key=lambda scale: scale.sheets)
    most = max(largest.change.memory, largest.recompute.memory)
    if most > MEMORY_GOAL:
        found.append(f"{most:.0f} MiB with {largest.sheets} sheets, goal {MEMORY_GOAL}")
    return found


def scale_table(scales: list[Scale]) -> str:
    """Return the results as a Markdown table, and the goals that are missed below it."""
    head = (
        "| Job sheets | File (MiB) | Copy (s) | Change saved | Recompute | openpyxl, same change "
        "| Change (MiB) | Recompute (MiB) |\n"
        "| --: | --: | --: | --: | --: | --: | --: | --: |\n"
    )
    rows = "".join(
        f"| {s.sheets:,} | {s.size / 1024**2:.1f} | {s.copy.seconds:.3f} "
        f"| {s.times(s.change):.1f}x | {s.times(s.recompute):.0f}x "
        f"| {f'{s.times(s.openpyxl):.0f}x' if s.openpyxl else ''} "
        f"| {s.change.memory:.0f} | {s.recompute.memory:.0f} |\n"
        for s in scales
    )
    goals = (
        f"\nGoals: with {JUDGED:,} sheets a change at most {CHANGE_GOAL}x and a recompute at most "
        f"{RECOMPUTE_GOAL}x; with {max(SHEETS):,} at most {MEMORY_GOAL} MiB. "
    )
    told = missed(scales)
    return head + rows + goals + (f"Missed: {'; '.join(told)}.\n" if told else "All hold.\n")
