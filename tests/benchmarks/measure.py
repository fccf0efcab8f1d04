"""Ratios measured in one run: what we do against a yardstick, on the same machine, in turn."""

import statistics
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Comparison:
    """One thing to measure and what it is held against.

    Attributes:
        what: What is done, as it stands in the table.
        against: What the yardstick does.
        ours: Does it once.
        yardstick: Does the yardstick's work once.
        goal: The ratio of ours to the yardstick that must not be passed.
        rounds: How often each is done, in turn.
    """

    what: str
    against: str
    ours: Callable[[], object]
    yardstick: Callable[[], object]
    goal: float
    rounds: int = 3


@dataclass(frozen=True, slots=True)
class Measured:
    """What a comparison came to: median seconds of each, and their ratio."""

    comparison: Comparison
    ours: float
    yardstick: float

    @property
    def ratio(self) -> float:
        """Return how many times the yardstick's time we took."""
        return self.ours / self.yardstick

    @property
    def holds(self) -> bool:
        """Return whether the goal is reached."""
        return self.ratio <= self.comparison.goal


def measure(comparison: Comparison) -> Measured:
    """Return the median times of ours and the yardstick, done in turn so that load hits both."""
    times = [
        (_seconds(comparison.ours), _seconds(comparison.yardstick))
        for _ in range(comparison.rounds)
    ]
    ours, yardstick = zip(*times, strict=True)
    return Measured(comparison, statistics.median(ours), statistics.median(yardstick))


def _seconds(task: Callable[[], object]) -> float:
    begun = time.perf_counter()
    task()
    return time.perf_counter() - begun


def table(measured: Iterable[Measured]) -> str:
    """Return the results as a Markdown table."""
    head = (
        "| What | Against | Ours (s) | Yardstick (s) | Ratio | Goal | Holds |\n"
        "| --- | --- | --: | --: | --: | --: | --- |\n"
    )
    return head + "".join(
        f"| {m.comparison.what} | {m.comparison.against} | {m.ours:.2f} | {m.yardstick:.2f} "
        f"| {m.ratio:.2f} | {m.comparison.goal:g} | {'yes' if m.holds else 'NO'} |\n"
        for m in measured
    )
