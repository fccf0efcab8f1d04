"""One book, read once and written at most once."""

from pathlib import Path
from typing import NamedTuple

from ledger_tools.book.places import owned_cells
from ledger_tools.book.reader import BookRead, read_book
from ledger_tools.book.work import Outcome
from ledger_tools.commands.report import counted, listed
from ledger_tools.shop.plan import AddSheet, Plan, SetCell
from ledger_tools.shop.snapshot import Snapshot


class Session(NamedTuple):
    """A book as it was read from its file.

    Attributes:
        path: The file.
        read: What stands in it, and the file itself.
    """

    path: Path
    read: BookRead

    @property
    def snapshot(self) -> Snapshot:
        """What stands in the book."""
        return self.read.snapshot

    def save(self, outcome: Outcome) -> bool:
        """Write what was worked out into the file; return False where nothing is to be."""
        if not outcome.plan.operations:
            return False
        from ledger_tools.book.patch import (
            apply_plan,
            foreign_formulas,
        )

        stale = foreign_formulas(self.snapshot, owned_cells(outcome.places))
        apply_plan(self.path, outcome.plan, read=self.read, stale=stale)
        return True


def open_session(path: Path) -> Session:
    """Return the book at `path` as read."""
    return Session(path, read_book(path))


def described(plan: Plan) -> str:
    """Return in words how much a plan writes."""
    cells = sum(isinstance(op, SetCell) for op in plan.operations)
    sheets = [op.name for op in plan.operations if isinstance(op, AddSheet)]
    new = f", new sheets: {listed(sheets)}" if sheets else ""
    return f"{counted(cells, 'cell')}{new}" if cells or sheets else "nothing"
