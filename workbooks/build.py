"""Write the blank starter book again: `python workbooks/build.py`."""  # noqa: INP001 - a script

import sys
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from ledger_tools.book.create import create_book
from ledger_tools.settings import load_seed

STARTER = Path(__file__).resolve().parent / "shop-book.xlsx"
AS_OF = date(2025, 1, 1)


def starter() -> bytes:
    """Return the bytes of the starter book: no taxes, the shipped catalogue, no jobs."""
    return create_book(load_seed("none", as_of=AS_OF))


if __name__ == "__main__":
    STARTER.write_bytes(starter())
