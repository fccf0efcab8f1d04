"""How saving, recomputing and memory grow with the number of job sheets."""

import shutil
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
class Scale:
    """One book and what each task took on it.

    Attributes:
        sheets: How many job sheets it has.
        size: Bytes of its file.
        copy: Seconds of copying its parts' compressed bytes, the yardstick.
        change: Seconds of saving a cell, a row and a new sheet.
        recompute: Seconds of reading, working out and saving the whole book.
        openpyxl: Seconds of the change by a general library; None where it was not tried.
        adding: MiB that `add-job` takes at most.
        recomputing: MiB that `recompute` takes at most.
    """

    sheets: int
    size: int
    copy: float
    change: float
    recompute: float
    openpyxl: float | None
    adding: float
    recomputing: float

    def times(self, seconds: float) -> float:
        """Return how many times the yardstick's time was taken."""
        return seconds / self.copy


def scale_of(book: Path, sheets: int) -> Scale:
    """Return what the tasks take on a book."""
    return Scale(
        sheets,
        book.stat().st_size,
        number_said("task", "copy", book, 9),
        number_said("task", "change", book, 5),
        number_said("task", "recompute", book, 3 if sheets <= JUDGED else 1),
        number_said("task", "openpyxl", book, 1) if sheets == JUDGED else None,
        _memory("add-job", book, "--customer", "Farm 1", "--item", "Rack", "--repair", "GATE"),
        _memory("recompute", book),
    )


def _memory(verb: str, book: Path, *options: str) -> float:
    copy = shutil.copy(book, book.with_name(f"{book.stem} for memory.xlsx"))
    return number_said("memory", verb, copy, *options, "--today", "2025-04-01")


def number_said(module: str, *words: object) -> float:
    """Return the number that a module of this folder says last, run as a program of its own."""
    command = [sys.executable, "-m", f"tests.benchmarks.{module}", *map(str, words)]
    said = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    return float(said.split()[-1])


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
    most = max(largest.adding, largest.recomputing)
    if most > MEMORY_GOAL:
        found.append(f"{most:.0f} MiB with {largest.sheets} sheets, goal {MEMORY_GOAL}")
    return found


def scale_table(scales: list[Scale]) -> str:
    """Return the results as a Markdown table, and the goals that are missed below it."""
    head = (
        "| Job sheets | File (MiB) | Copy (s) | Change saved | Recompute | openpyxl, same change "
        "| `add-job` (MiB) | `recompute` (MiB) |\n"
        "| --: | --: | --: | --: | --: | --: | --: | --: |\n"
    )
    rows = "".join(
        f"| {s.sheets:,} | {s.size / 1024**2:.1f} | {s.copy:.3f} "
        f"| {s.times(s.change):.1f}x | {s.times(s.recompute):.0f}x "
        f"| {f'{s.times(s.openpyxl):.0f}x' if s.openpyxl else ''} "
        f"| {s.adding:.0f} | {s.recomputing:.0f} |\n"
        for s in scales
    )
    goals = (
        f"\nGoals: with {JUDGED:,} sheets a change at most {CHANGE_GOAL}x and a recompute at most "
        f"{RECOMPUTE_GOAL}x; with {max(SHEETS):,} at most {MEMORY_GOAL} MiB. "
    )
    told = missed(scales)
    return head + rows + goals + (f"Missed: {'; '.join(told)}.\n" if told else "All hold.\n")
