"""The demonstration, from a bare machine: `python demo/run.py`.

Needs Python 3.11 or newer, and the network the first time. Makes `.venv` in the checkout, installs
Ledger Tools in it, then makes a year of an invented repair shop: its book, all invoices, four
quarters and the year-end, in `demo/out`.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo import environment


def main() -> int:
    """Run the demonstration and return its exit code."""
    python = environment.python_with()
    return environment.run(python, environment.CHECKOUT / "demo" / "year.py", *sys.argv[1:])


if __name__ == "__main__":
    sys.exit(main())
