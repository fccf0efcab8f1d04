"""The most memory a command takes: `python -m tests.benchmarks.memory VERB BOOK ...`.

Runs the command in this process, which has nothing else loaded, and prints MiB on the last line.
"""

import sys
from pathlib import Path

from ledger_tools.commands.main import main

_MIB = 1024 * 1024


def peak() -> float:
    """Return the most memory this process ever had, in MiB; not known on Windows."""
    if sys.platform == "win32":
        return float("nan")
    status = Path("/proc/self/status")
    if status.exists():
        # Linux's own count below includes what the parent held when this process was begun.
        high = next(s for s in status.read_text("ascii").splitlines() if s.startswith("VmHWM"))
        return int(high.split()[1]) * 1024 / _MIB
    import resource  # noqa: PLC0415 - exists on Unix only

    unit = 1 if sys.platform == "darwin" else 1024
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * unit / _MIB


if __name__ == "__main__":
    try:
        main()
    except SystemExit as stop:
        if stop.code:
            raise
    print(peak())
