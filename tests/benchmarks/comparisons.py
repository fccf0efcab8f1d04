"""What is measured: the commands, as the shop starts them, on books typed as the shop types."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import openpyxl

from ledger_tools.book.job_layout import JOB_HEADER_ROW, JOB_LINES
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.patch import apply_plan
from ledger_tools.book.reader import read_book
from ledger_tools.costing.lines import Kind
from ledger_tools.settings import load_seed
from ledger_tools.shop.plan import Content, Plan, SetCell
from tests.benchmarks.measure import Comparison
from tests.benchmarks.scale import SHEETS

OPENED = date(2025, 3, 3)


def comparisons(folder: Path) -> Iterator[Comparison]:
    """Yield every comparison, its books made in `folder` just before."""
    ten = _book(folder / "ten.xlsx", jobs=10)
    yield Comparison(
        "`check` on a ten-job book",
        "starting Python and importing lxml",
        lambda: _ledger("check", ten),
        lambda: _run(sys.executable, "-c", "import lxml.etree"),
        goal=4,
        rounds=9,
    )
    many = _book(folder / "200.xlsx", jobs=200)
    fewer = _book(folder / "50.xlsx", jobs=50)
    yield Comparison(
        "200 invoices, PDF and .xlsx",
        "four times 50 invoices",
        _invoicing(many, times=1),
        _invoicing(fewer, times=4),
        goal=1.25,
    )
    thousand = _book(folder / "1000.xlsx", jobs=1000)
    yield Comparison(
        "`recompute` of a 1,000-job book, on another day",
        "openpyxl loading and saving it",
        _recomputing(thousand),
        lambda: openpyxl.load_workbook(thousand).save(folder / "saved.xlsx"),
        goal=0.2,
    )


def books(folder: Path) -> Iterator[tuple[int, Path]]:
    """Yield books of growing size with their number of job sheets, each made just before."""
    for sheets in SHEETS:
        yield sheets, _book(folder / f"{sheets}.xlsx", jobs=sheets)


def _book(path: Path, *, jobs: int) -> Path:
    """Return a book with this many jobs, all to be invoiced: rows and minutes typed, recomputed.

    One that was made before is there already.
    """
    if path.exists():
        return path
    _ledger("new", path, "--tax", "us-ca", "--today", OPENED)
    book = openpyxl.load_workbook(path)
    catalogue = load_seed("us-ca", as_of=OPENED).catalogue
    # A repair of labour alone comes to nothing while no minutes are typed.
    repairs = [
        r for r in catalogue.repairs if any(s.kind is not Kind.LABOUR for s in r.operations)
    ]
    for n in range(jobs):
        repair = repairs[n % len(repairs)].code
        typed = {"customer": f"Farm {n % 40}", "item": f"Housing {n}", "repair": repair}
        typed["state"] = "to invoice"
        for key, word in typed.items():
            row = JOBS_TABLE.first_row + 1 + n
            book[JOBS_TABLE.sheet].cell(row, JOBS_TABLE.col(key), word)
    book.save(path)
    _ledger("recompute", path, "--today", OPENED)
    _work(path)
    _ledger("recompute", path, "--today", OPENED)
    return path


def _work(path: Path) -> None:
    """Type minutes on every line of labour, so that no two jobs are alike."""
    read = read_book(path)
    col = {column.key: number for number, column in enumerate(JOB_LINES, 1)}
    typed = [
        SetCell(sheet.name, row, col["actual"], Content(), Content(float(minutes)))
        for number, sheet in enumerate(read.snapshot.sheets)
        for row in range(JOB_HEADER_ROW + 1, JOB_HEADER_ROW + 40)
        if sheet.values.get((row, col["kind"])) == Kind.LABOUR.value
        for minutes in [5 + (number * 7 + row * 13) % 85]
    ]
    apply_plan(path, Plan(tuple(typed)), read=read)


def _recomputing(book: Path) -> Callable[[], None]:
    copy = book.with_stem(f"{book.stem} copy")

    def recompute() -> None:
        shutil.copy(book, copy)
        _ledger("recompute", copy, "--today", date(2025, 4, 1))

    return recompute


def _invoicing(book: Path, *, times: int) -> Callable[[], None]:
    copy = book.with_stem(f"{book.stem} copy")
    out = book.with_suffix(".papers")

    def invoice() -> None:
        for _ in range(times):
            shutil.copy(book, copy)
            shutil.rmtree(out, ignore_errors=True)
            _ledger("invoice", copy, "--out", out, "--today", OPENED)

    return invoice


def _ledger(*words: object) -> None:
    _run(sys.executable, "-m", "ledger_tools", *words)


def _run(*words: object) -> None:
    # An installed program has its bytecode, whatever the environment says.
    env = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
    subprocess.run([str(word) for word in words], check=True, stdout=subprocess.DEVNULL, env=env)
