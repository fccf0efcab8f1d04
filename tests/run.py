"""All tests, from a bare machine: `python tests/run.py`.

Needs Python 3.11 or newer, and the network the first time. Makes `.venv` in the checkout, installs
Ledger Tools and what its tests need, then runs pytest; further arguments go to pytest. Where
LibreOffice is missing, the tests that ask it are skipped and listed at the end; with
`--require-libreoffice`, or LEDGER_TOOLS_REQUIRE_LIBREOFFICE=1, they fail instead.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo import environment

REQUIRE = "--require-libreoffice"


def main() -> int:
    """Run the tests and return pytest's exit code."""
    arguments = [argument for argument in sys.argv[1:] if argument != REQUIRE]
    if REQUIRE in sys.argv:
        os.environ["LEDGER_TOOLS_REQUIRE_LIBREOFFICE"] = "1"
    python = environment.python_with("test")
    return environment.run(python, "-m", "pytest", *arguments)


if __name__ == "__main__":
    sys.exit(main())
