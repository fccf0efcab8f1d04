"""Which faults are tried where: all in the long run, a part of them each time the tests run."""

from collections.abc import Iterator
from typing import NamedTuple

from tests.faults.injection import ERRORS
from tests.faults.power import Cut, cuts
from tests.faults.runs import SCENARIOS
from tests.faults.scenario import fail_at, kill_at, points

KILLED = 0
"""Stands for kill -9 among the numbers of errors."""
FAULTS = (*ERRORS, KILLED)
QUICK = ("save", "save without links")
"""Runs short enough for every fault at every call each time; the others get one fault a call."""
ALIKE = ("invoice without links", "invoice, first papers")
"""Long runs much like another one, which get one fault at every fourth call each time."""
SPARING = 4


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
            kill_at(SCENARIOS[self.scenario], self.at)
        else:
            fail_at(SCENARIOS[self.scenario], self.at, self.fault)


def tries(name: str, *, everything: bool) -> Iterator[Try]:
    """Yield what is tried of a run: every fault at every call, or one after the other in turn."""
    sparing = SPARING if name in ALIKE else 1
    for at in range(len(points(SCENARIOS[name]))):
        for number, fault in enumerate(FAULTS):
            turn = not at % sparing and number == at // sparing % len(FAULTS)
            if everything or name in QUICK or turn:
                yield Try(name, at, fault)


def power_cuts(name: str, *, everything: bool) -> list[Cut]:
    """Return what power cuts during a run can leave: on any disk, or on one that keeps order.

    Of runs much like another one only a part is returned, unless everything is asked for.
    """
    found = [cut for cut in cuts(SCENARIOS[name]) if everything or not cut.disorder]
    if everything or name not in ALIKE:
        return found
    return [cut for at, cut in enumerate(found) if cut.done is not None or not at % SPARING]
