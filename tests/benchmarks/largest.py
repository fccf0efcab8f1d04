"""Every verb on one large book: 2,000 job sheets, over 20,000 lines billed, all of them paid."""

import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ledger_tools.book.layout import PAYMENTS_TABLE
from ledger_tools.book.parse import parse
from ledger_tools.book.patch import apply_plan
from ledger_tools.book.reader import read_book
from ledger_tools.book.registers import INVOICES_TABLE
from ledger_tools.shop.plan import Content, Plan, SetCell
from tests.benchmarks.scale import number_said

_INVOICED, _PAID, _CLOSED = "2025-04-02", "2025-05-03", "2026-01-10"
_PAID_ON = 45780.0
"""2025-05-03 as a spreadsheet counts days."""


@dataclass(frozen=True, slots=True)
class Took:
    """What a verb took: seconds, and MiB at most."""

    verb: str
    seconds: float
    memory: float


def every_verb(book: Path) -> Iterator[Took]:
    """Yield what each verb takes on a copy of `book`, one after the other as in a year."""
    folder = book.with_suffix(".year")
    folder.mkdir()
    copy = folder / "shop.xlsx"
    shutil.copy(book, copy)
    yield _took("invoice", copy, "--today", _INVOICED)
    _pay(copy)
    yield _took("recompute", copy, "--today", _PAID)
    yield _took("check", copy, "--today", _PAID)
    yield _took("quarter", copy, "2025-Q2", "--today", _PAID)
    yield _took("year-end", copy, "2025", "--today", _CLOSED)
    yield _took("archive", copy, "--today", _CLOSED)
    yield _took("next-year", copy, folder / "next.xlsx", "--today", _CLOSED)
    shutil.rmtree(folder)


def lines_billed(book: Path) -> int:
    """Return how many lines of labour, material and all else the jobs of a book have."""
    parsed = parse(read_book(book).snapshot, as_of=date.fromisoformat(_INVOICED))
    return sum(len(job.lines) for job in parsed.book.jobs)


def verbs_table(sheets: int, lines: int, took: list[Took]) -> str:
    """Return what the verbs took as a Markdown table."""
    head = (
        f"With {sheets:,} job sheets and {lines:,} lines, all invoiced and paid on the way:\n\n"
        "| Verb | Seconds | Memory (MiB) |\n| --- | --: | --: |\n"
    )
    return head + "".join(f"| `{t.verb}` | {t.seconds:.1f} | {t.memory:,.0f} |\n" for t in took)


def _took(verb: str, *words: object) -> Took:
    begun = time.perf_counter()
    memory = number_said("memory", verb, *words)
    return Took(verb, time.perf_counter() - begun, memory)


def _pay(path: Path) -> None:
    """Type a payment of every invoice in full."""
    read = read_book(path)
    places = parse(read.snapshot, as_of=date.fromisoformat(_PAID)).places
    invoices, payments = places.grid(INVOICES_TABLE), places.grid(PAYMENTS_TABLE)
    sheets = {sheet.name: sheet for sheet in read.snapshot.sheets}
    issued, there = sheets[invoices.sheet].values, sheets[payments.sheet].values
    typed: list[SetCell] = []
    for row, bill in enumerate(invoices.rows, payments.header_row + 1):
        cells = {
            "day": _PAID_ON,
            "invoice": issued[bill, invoices.columns["number"]],
            "amount": issued[bill, invoices.columns["total"]],
        }
        for key, value in cells.items():
            place = row, payments.columns[key]
            old = Content(there.get(place))
            typed.append(SetCell(payments.sheet, *place, old, Content(value)))
    apply_plan(path, Plan(tuple(typed)), read=read)
