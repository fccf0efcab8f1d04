"""Feed hostile input for a while: `python -m tests.fuzz.run [--seconds N] [--seed N] [WORD]...`.

Run it in the checkout, with the Python of `.venv`. A word picks the targets whose names hold it.
The same seed gives the same inputs. Memory is limited, so that whatever swells fails. `--write`
puts the counts in `docs/reliability.md`. Exit code 1 where something failed; the seed printed
there brings it back.
"""

import argparse
import sys
import time
import traceback
from pathlib import Path
from random import Random
from typing import NamedTuple

from tests.fuzz.targets import TARGETS, Target

WEIGHTS = {"altered part": 5, "altered structure": 10}
"""Where most can go wrong: how many times the seconds of the others these are fed."""
MOST_MEMORY = 2 * 1024**3
SHOWN = 5
PAGE = Path(__file__).resolve().parents[2] / "docs" / "reliability.md"
BEGIN = "<!-- fuzzing: written by tests/fuzz/run.py -->\n"
END = "<!-- end of fuzzing -->\n"


class Fed(NamedTuple):
    """What came of feeding one target.

    Attributes:
        name: The target.
        inputs: How many it was fed.
        failed: How many of them ended in a traceback.
        slowest: Seconds the slowest took.
    """

    name: str
    inputs: int
    failed: int
    slowest: float


def main() -> int:
    """Feed each target in turn, print how often and what failed."""
    asked = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    asked.add_argument("--seconds", type=float, default=60, help="for each target; more for some")
    asked.add_argument("--seed", type=int, default=0, help="of the first input")
    asked.add_argument("--write", action="store_true", help="put the counts in the documentation")
    asked.add_argument("words", nargs="*", help="parts of the names of targets")
    given = asked.parse_args()
    _limit_memory()
    chosen = [n for n in TARGETS if not given.words or any(word in n for word in given.words)]
    fed = [
        _feed(name, TARGETS[name], given.seed, given.seconds * WEIGHTS.get(name, 1))
        for name in chosen
    ]
    if given.write:
        _write(fed)
    return int(any(each.failed for each in fed))


def _write(fed: list[Fed]) -> None:
    rows = [f"| {f.name} | {f.inputs:,} | {f.failed} | {f.slowest:.2f} s |" for f in fed]
    head = ["| What is fed | Inputs | Tracebacks | Slowest |", "| --- | --- | --- | --- |"]
    before, _, rest = PAGE.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    table = "\n".join([*head, *rows])
    PAGE.write_text(f"{before}{BEGIN}\n{table}\n\n{END}{after}", encoding="utf-8", newline="\n")


def _limit_memory() -> None:
    """Let no more memory be had, where the system knows such limits."""
    if sys.platform != "win32":
        import resource  # noqa: PLC0415 - Windows has none

        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))


def _feed(name: str, target: Target, first: int, seconds: float) -> Fed:
    """Feed one target for some seconds."""
    until = time.monotonic() + seconds
    seed, slowest = first, (0.0, first)
    failed: dict[str, int] = {}
    while time.monotonic() < until:
        began = time.monotonic()
        try:
            target(Random(seed))  # noqa: S311 - to be brought back, not to be secret
        except Exception as problem:  # noqa: BLE001 - whatever goes wrong is what is looked for
            where = traceback.extract_tb(problem.__traceback__)[-1]
            said = f"{type(problem).__name__} at {where.filename}:{where.lineno}: {problem!s:.60}"
            if said not in failed and len(failed) < SHOWN:
                print(f"FAILED {name}, seed {seed}: {said}")
                traceback.print_exc(limit=-6)
            failed[said] = failed.get(said, 0) + 1
        slowest = max(slowest, (time.monotonic() - began, seed))
        seed += 1
    print(
        f"{name}: {seed - first} inputs, {sum(failed.values())} failed, "
        f"slowest {slowest[0]:.2f} s (seed {slowest[1]})",
        flush=True,
    )
    return Fed(name, seed - first, sum(failed.values()), slowest[0])


if __name__ == "__main__":
    sys.exit(main())
