"""Which faults are tried where: all in the long run, a part of them each time the tests run."""

from collections.abc import Iterator
from typing import NamedTuple

from tests.faults.injection import ERRORS
from tests.faults.runs import SCENARIOS, fail_at, kill_at, points

KILLED = 0
"""Stands for kill -9 among the numbers of errors."""
FAULTS = (*ERRORS, KILLED)
QUICK = ("save", "save without links")
"""Runs short enough for every fault at every call each time; the others get one fault a call."""


class Try(NamedTuple):
    """One fault at one call of a run.

    Attributes:
        scenario: Name of the run.
        at: Which call, counted from 0.
        fault: Number of the error, or `KILLED`.
    """

    scenario: str
    at: int
    fault: int

    def make(self) -> None:
        """Let it happen, check what is left, and let the next run finish the work."""
        if self.fault == KILLED:
            kill_at(self.scenario, self.at)
        else:
            fail_at(SCENARIOS[self.scenario], self.at, self.fault)


def tries(name: str, *, everything: bool) -> Iterator[Try]:
    """Yield what is tried of a run: every fault at every call, or one after the other in turn."""
    for at in range(len(points(SCENARIOS[name]))):
        for number, fault in enumerate(FAULTS):
            if everything or name in QUICK or number == at % len(FAULTS):
                yield Try(name, at, fault)
