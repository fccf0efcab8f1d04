"""Let every call of every run fail in every way: `python -m tests.faults.run`.

Run it in the checkout, with the Python of `.venv`. The tests try a part of this each time. Exit
code 1 where something was lost.
"""

import sys
import traceback

from tests.faults.runs import SCENARIOS
from tests.faults.sweep import Try, tries


def main() -> int:
    """Try everything, print how many tries there were and which lost something."""
    lost: list[Try] = []
    for name in SCENARIOS:
        made = 0
        for each in tries(name, everything=True):
            made += 1
            try:
                each.make()
            except Exception:  # noqa: BLE001 - whatever goes wrong is what is looked for
                traceback.print_exc()
                lost.append(each)
        print(f"{name}: {made} tries", flush=True)
    for each in lost:
        print(f"LOST: {each}")
    return int(bool(lost))


if __name__ == "__main__":
    sys.exit(main())
