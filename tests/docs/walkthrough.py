"""Doing what a page says: its commands are run, what it has the owner type is typed.

A page tells it in its own blocks, in their order. A block marked `console` holds commands after
`$ ` and what they print; a table headed *Sheet, Cell, Type* holds what the owner types with the
book open, and is saved at its end.
"""

import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ledger_tools.book.cells import serial_of
from ledger_tools.book.patch import apply_plan
from ledger_tools.book.reader import read_book
from ledger_tools.shop.plan import Content, Plan, SetCell
from ledger_tools.shop.snapshot import Scalar
from tests.docs.markdown import CHECKOUT, Block, Table, parts

TYPED = ("Sheet", "Cell", "Type")
PROGRAM = "ledger-tools"
MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True, slots=True)
class Command:
    """A command of a page and what the page says it prints."""

    line: str
    prints: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Typing:
    """Cells an owner types in: sheet, address, what is typed."""

    cells: tuple[tuple[str, str, str], ...]


def steps(page: str) -> list[Command | Typing]:
    """Return what a page has its reader do, in order."""
    found: list[Command | Typing] = []
    for part in parts(page):
        if isinstance(part, Table) and part.heads == TYPED:
            cells = ((s.strip("`"), c.strip("`"), t.strip("`")) for s, c, t in part.rows)
            found.append(Typing(tuple(cells)))
        elif isinstance(part, Block) and part.language == "console":
            found += _commands(part.lines)
    return found


def _commands(lines: tuple[str, ...]) -> list[Command]:
    said = "\n".join(lines)
    starts = re.split(r"^\$ ", said, flags=re.MULTILINE)[1:]
    parted = (start.rstrip().split("\n") for start in starts)
    return [Command(line, tuple(prints)) for line, *prints in parted]


def run(command: Command, folder: Path) -> tuple[str, ...]:
    """Run a command of Ledger Tools in `folder` and return the lines it prints."""
    program, *words = shlex.split(command.line)
    assert program == PROGRAM, command.line
    done = subprocess.run(
        [sys.executable, "-m", "ledger_tools", *words],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(CHECKOUT), "PYTHONUTF8": "1"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        encoding="utf-8",
        check=False,
    )
    return tuple(done.stdout.replace(os.sep, "/").splitlines())


def type_in(book: Path, typing: Typing) -> None:
    """Type into cells of the closed book what a spreadsheet program would make of the words."""
    read = read_book(book)
    sheets = {sheet.name: sheet for sheet in read.snapshot.sheets}
    operations = []
    for sheet, cell, words in typing.cells:
        place = _place(cell)
        there = sheets[sheet]
        old = Content(there.values.get(place), there.formulas.get(place))
        operations.append(SetCell(sheet, *place, old, Content(_value(words))))
    apply_plan(book, Plan(tuple(operations)), read=read)


def _place(cell: str) -> tuple[int, int]:
    letters, row = re.fullmatch(r"([A-Z]+)(\d+)", cell).groups()  # type: ignore[union-attr]
    col = 0
    for letter in letters:
        col = col * 26 + ord(letter) - 64
    return int(row), col


def _value(words: str) -> Scalar:
    """Return what a cell holds after these words: number, share, clock time, day, text."""
    if re.fullmatch(r"\d+(\.\d+)?", words):
        return float(words)
    if percent := re.fullmatch(r"(\d+)%", words):
        return int(percent[1]) / 100
    if clock := re.fullmatch(r"(\d+):(\d\d)", words):
        return (int(clock[1]) * 60 + int(clock[2])) / MINUTES_A_DAY
    if re.fullmatch(r"\d{4}-\d\d-\d\d", words):
        return serial_of(date.fromisoformat(words))
    return words
