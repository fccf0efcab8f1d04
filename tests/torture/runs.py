"""The verbs, each run once on a book full of its owner's things, and what it planned."""

import os
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any
from unittest import mock

from ledger_tools.book import patch
from ledger_tools.book.names import SETTINGS
from tests.faults.scenario import verb
from tests.torture.build import LATER, torture_book, typed_into
from tests.torture.planned import Planned

BOOK, MACRO_BOOK, NEW = "shop.xlsx", "shop.xlsm", "new.xlsx"
_ADD = ("--customer", "R. Calder", "--item", "Pan", "--repair", "OIL-PAN", "--authorised", "900")
_PAYMENT: Mapping[str, Mapping[str, str | float]] = {
    "Payments": {"A6": 45_730, "B6": "25-0002", "C6": 100},
    "Jobs": {"F7": "to invoice"},
}

_FIRST_SETTING = 5
_WEIGH = next(n for n, s in enumerate(SETTINGS, _FIRST_SETTING) if s.key == "offer_options")
_WITH_OPTIONS: Mapping[str, Mapping[str, str | float]] = {"Start": {f"K{_WEIGH}": "yes"}}
_OPTIONS: Mapping[str, Mapping[str, str | float]] = {
    "Options": {
        "A5": "25-0004", "B5": "A", "C5": "other repair", "I5": 0.1, "J5": 90, "K5": "yes",
        "A6": "25-0004", "B6": "B", "C6": "replace new", "D6": "=1+1 a new one", "E6": 900,
        "A7": "25-0004", "B7": "C", "C7": "refuse", "I7": 0, "Q7": "Été", "P7": 45_730,
    }
}  # fmt: skip


_GROWN: Mapping[str, Mapping[str, str | float]] = {
    "Estimates": {"L5": 45_730, "M5": "Été", "N5": "in person", "O5": "A"},
    "25-0004": {"F12": 3000},
}
_FIXED: Mapping[str, Mapping[str, str | float]] = {"Jobs": {"Q7": "fixed", "R7": 333.33}}
"""The job whose sheet has a column of the owner's beside the lines, right of hidden ones."""


@dataclass(frozen=True)
class Case:
    """A verb and how it is typed.

    Attributes:
        words: Everything behind the book.
        after: Case whose book it begins with; the torture book where it is empty.
        typed: What is typed into the book before, by sheet and cell.
    """

    verb: str
    words: tuple[str, ...] = ()
    after: str = ""
    typed: Mapping[str, Mapping[str, str | float]] = field(default_factory=dict)


CASES: Mapping[str, Case] = {
    "recompute": Case("recompute", LATER),
    "add-job": Case("add-job", (*_ADD, *LATER), after="recompute"),
    "invoice": Case("invoice", LATER),
    "invoice after a payment": Case("invoice", LATER, after="invoice", typed=_PAYMENT),
    "archive": Case("archive", ("--anyway", *LATER)),
    "recompute for options": Case("recompute", LATER, typed=_WITH_OPTIONS),
    "estimate": Case("estimate", LATER, after="recompute for options", typed=_OPTIONS),
    "extra-work": Case(
        "extra-work", ("25-0004", "--found", "=1+1 cracks", *LATER), after="estimate", typed=_GROWN
    ),
    "recompute for a fixed price": Case("recompute", LATER, after="recompute", typed=_FIXED),
}
"""Verbs that write the book."""
READING: Mapping[str, Case] = {
    "check": Case("check", LATER),
    "quarter": Case("quarter", ("2025-Q1", *LATER)),
    "year-end": Case("year-end", ("2025", *LATER)),
    "reprint": Case("reprint", LATER),
    "archive, refused": Case("archive", LATER),
    "next-year": Case("next-year", (NEW, "--year", "2026", *LATER), after="recompute"),
    "recompute a second time": Case("recompute", LATER, after="recompute"),
    "invoice a second time": Case("invoice", LATER, after="invoice"),
}
"""Runs that leave the book byte for byte."""


@dataclass(frozen=True)
class Run:
    """How a verb left a folder.

    Attributes:
        name: File name of the book.
        code: Exit code.
        said: Everything it said.
        before: The book before.
        files: All files afterwards, by name.
        plans: What was planned, by file.
    """

    name: str
    code: int
    said: str
    before: bytes
    files: Mapping[str, bytes]
    plans: Mapping[str, Planned]

    @property
    def book(self) -> bytes:
        """The book afterwards."""
        return self.files[self.name]

    @property
    def planned(self) -> Planned:
        """What was planned for the book."""
        return self.plans[self.name]


def ran(case: Case, content: bytes) -> Run:
    """Run a verb in a folder of its own that holds the book `content`."""
    with tempfile.TemporaryDirectory() as name, _planned() as planned:
        folder = Path(name)
        if case.typed:
            content = typed_into(content, case.typed)
        book = MACRO_BOOK if b"vbaProject.bin" in content else BOOK
        (folder / book).write_bytes(content)
        words = [str(folder / w) if w == NEW else w for w in case.words]
        done = verb(case.verb, str(folder / book), *words)
        files = {
            p.relative_to(folder).as_posix(): p.read_bytes()
            for p in folder.rglob("*")
            if p.is_file()
        }
        said = done.said.replace(name + os.sep, "")
        return Run(book, done.code, said, content, files, planned)


@contextmanager
def _planned() -> Iterator[dict[str, Planned]]:
    """Give what is planned, by file, while it is carried out as ever."""
    noted: dict[str, Planned] = {}
    real = patch._patch

    def noting(package: Any, plan: Any, stale: Any, draw: Callable[..., bytes]) -> None:  # noqa: ANN401
        noted.setdefault(package.file, Planned()).note(plan, stale.items())
        real(package, plan, stale, draw)

    with mock.patch.object(patch, "_patch", noting):
        yield noted


@cache
def run_of(name: str) -> Run:
    """Return the run of a case on the torture book, done once."""
    case = {**CASES, **READING}[name]
    return ran(case, run_of(case.after).book if case.after else torture_book())
