"""Let every call of every run fail in every way: `python -m tests.faults.run`.

Then cut the power at every call, on a disk that keeps no order of what it was told. Run it in the
checkout, with the Python of `.venv`. The tests try a part of this each time. Exit code 1 where
something was lost.
"""

import sys
import traceback
from collections.abc import Callable
from functools import partial

from tests.faults.runs import SCENARIOS
from tests.faults.sweep import power_cuts, tries


def main() -> int:
    """Try everything, print how many tries there were and which lost something."""
    lost: list[str] = []
    for name, scenario in SCENARIOS.items():
        made = [_lost(str(each), each.make) for each in tries(name, everything=True)]
        cut = [
            _lost(f"{name}, power cut {number}", partial(each.meet, scenario))
            for number, each in enumerate(power_cuts(name, everything=True))
        ]
        print(f"{name}: {len(made)} faults, {len(cut)} states after a power cut", flush=True)
        lost += filter(None, made + cut)
    for each in lost:
        print(f"LOST: {each}")
    return int(bool(lost))


def _lost(what: str, happen: Callable[[], None]) -> str:
    """Return `what` if something is lost when it happens, else ''."""
    try:
        happen()
    except Exception:  # noqa: BLE001 - whatever goes wrong is what is looked for
        traceback.print_exc()
        return what
    return ""


if __name__ == "__main__":
    sys.exit(main())
