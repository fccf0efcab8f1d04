"""One task on one book, alone: `python -m tests.benchmarks.task NAME BOOK ROUNDS`.

Prints the median of the seconds it took.
"""

import gc
import os
import shutil
import statistics
import sys
import time
import zipfile
from collections.abc import Callable
from datetime import date
from pathlib import Path

from ledger_tools.book.job_layout import JOB_HEADER_ROW
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.patch import apply_plan
from ledger_tools.book.reader import read_book
from ledger_tools.book.work import add_job, work_out
from ledger_tools.commands.session import open_session
from ledger_tools.shop.intake import draft_job
from ledger_tools.shop.plan import AddSheet, Content, Plan, SetCell

TODAY = date(2025, 4, 1)
_LOCAL_HEADER = 30


def copied(book: Path) -> Callable[[], None]:
    """Return the yardstick: every part's compressed bytes into a new file, down to the disk."""

    def copy() -> None:
        target = book.with_name(f"{book.stem} copied.xlsx")
        with zipfile.ZipFile(book) as opened, book.open("rb") as old, target.open("wb") as new:
            for info in opened.infolist():
                old.seek(info.header_offset)
                header = old.read(_LOCAL_HEADER)
                names = int.from_bytes(header[26:28], "little")
                extra = int.from_bytes(header[28:30], "little")
                new.write(header + old.read(names + extra + info.compress_size))
            old.seek(opened.start_dir)
            new.write(old.read())
            new.flush()
            os.fsync(new.fileno())

    return copy


def changed(book: Path) -> Callable[[], None]:
    """Return the saving of one planned change: a cell, a row of Jobs, a new job sheet."""
    read = read_book(book)
    draft = draft_job("R. Calder", "Rack", repair="GATE", state="estimated", opened=TODAY)
    plan = add_job(read.snapshot, draft, as_of=TODAY).plan
    assert any(isinstance(op, AddSheet) for op in plan.operations), plan
    sheet = next(s for s in read.snapshot.sheets if s.name == "25-0050")
    typed = (p for p in sorted(sheet.values) if p[0] > JOB_HEADER_ROW)
    place = next(p for p in typed if p not in sheet.formulas)
    cell = SetCell(sheet.name, *place, Content(sheet.values[place]), Content(77.0))
    plan = Plan((*plan.operations, cell))
    copy = book.with_name(f"{book.stem} changed.xlsx")

    def change() -> None:
        shutil.copy(book, copy)
        begun = time.perf_counter()
        apply_plan(copy, plan, read=read)
        change.seconds = time.perf_counter() - begun  # type: ignore[attr-defined]

    return change


def recomputed(book: Path) -> Callable[[], None]:
    """Return a whole recompute on another day: read, worked out, saved."""
    copy = book.with_name(f"{book.stem} recomputed.xlsx")

    def recompute() -> None:
        shutil.copy(book, copy)
        begun = time.perf_counter()
        session = open_session(copy)
        saved = session.save(work_out(session.snapshot, as_of=TODAY))
        recompute.seconds = time.perf_counter() - begun  # type: ignore[attr-defined]
        assert saved, "there was nothing to save, so nothing was measured"

    return recompute


def by_openpyxl(book: Path) -> Callable[[], None]:
    """Return the same change as `changed` makes, by a library that loads and saves the book."""

    def change() -> None:
        import openpyxl  # noqa: PLC0415 - only here

        opened = openpyxl.load_workbook(book)
        opened["25-0050"].cell(12, 6, 77.0)
        opened[JOBS_TABLE.sheet].append(["25-9999", None, "R. Calder", "Rack"])
        opened.create_sheet("25-9999", 2)["A1"] = "25-9999"
        opened.save(book.with_name(f"{book.stem} openpyxl.xlsx"))

    return change


TASKS = {"copy": copied, "change": changed, "recompute": recomputed, "openpyxl": by_openpyxl}


def main() -> None:
    """Do the task and print what it took."""
    gc.disable()  # as the commands do
    name, book, rounds = sys.argv[1:]
    task = TASKS[name](Path(book))
    seconds = []
    for _ in range(int(rounds)):
        begun = time.perf_counter()
        task()
        # What only prepares the round does not count.
        seconds.append(getattr(task, "seconds", time.perf_counter() - begun))
    print(statistics.median(seconds))


if __name__ == "__main__":
    main()
