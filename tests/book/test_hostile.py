"""Hostile and wrong files are refused, or do no harm, with little time and memory."""

import html
import multiprocessing
import sys
import tempfile
import time
from multiprocessing.connection import Connection
from pathlib import Path

import pytest

from ledger_tools.book.places import quoted
from ledger_tools.book.reader import read_book
from ledger_tools.errors import BookUnreadableError
from tests.book.hostile import FILES, MB, Hostile, parts, zipped
from tests.faults.books import book_with_invoice, issued
from tests.faults.scenario import BOOK, processes, verb

MOST_SECONDS = 10
"""Processor time that any of the files may take; most take hundredths of a second."""
MOST_MEMORY = 1024 * MB
"""Address space of the process that reads a file, all libraries included."""


def _read_limited(folder: str, word: str, answer: Connection) -> None:
    """Run a verb on the book in `folder` in this process, whose time and memory are limited."""
    if sys.platform != "win32":
        import resource  # noqa: PLC0415 - Windows has none

        resource.setrlimit(resource.RLIMIT_CPU, (MOST_SECONDS, MOST_SECONDS))
        resource.setrlimit(resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    began = time.process_time()
    ran = verb(word, str(Path(folder) / BOOK), "--today", "2025-03-20")
    answer.send((ran.code, ran.said, time.process_time() - began))


@pytest.mark.parametrize("hostile", FILES, ids=lambda hostile: hostile.name)
def test_a_hostile_file_is_refused_or_does_no_harm(hostile: Hostile) -> None:
    """One line says what is wrong with it; nothing is written beside it, time and memory hold."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / BOOK
        content = hostile.made()
        path.write_bytes(content)
        ours, theirs = multiprocessing.Pipe()
        run = processes().Process(target=_read_limited, args=(folder, "recompute", theirs))
        run.start()
        theirs.close()
        try:
            code, said, seconds = ours.recv()
        except EOFError:
            pytest.fail(f"it took more than {MOST_SECONDS} s or {MOST_MEMORY // MB} MB")
        run.join()

        assert seconds < MOST_SECONDS
        if not hostile.said:
            assert code == 0, said
            assert issued(path) == {"25-0001": "25-0001"}
            return
        assert code == 1, said
        assert hostile.said in said
        assert len(said) < 600
        assert BOOK in said
        if hostile.holds_a_job:
            assert "2 jobs worked out" in said
            return
        assert path.read_bytes() == content
        assert [p.name for p in Path(folder).iterdir()] == [BOOK]


def test_a_file_cut_off_anywhere_is_refused() -> None:
    """At each fiftieth of its length and one byte before its end: never half a book."""
    whole = book_with_invoice()
    lengths = [len(whole) * n // 50 for n in range(50)] + [len(whole) - 1]

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / BOOK
        for length in lengths:
            path.write_bytes(whole[:length])
            with pytest.raises(BookUnreadableError) as caught:
                read_book(path)
            assert caught.value.remedy


def test_every_part_cut_off_is_refused_or_left_alone() -> None:
    """Also where the zip is whole and one part in it is half: no traceback, no half sheet."""
    content = parts()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / BOOK
        for name, part in content.items():
            path.write_bytes(zipped({**content, name: part[: len(part) // 2]}))
            ran = verb("check", str(path), "--today", "2025-03-20")
            read = ran.code == 0 and "3 jobs worked out" in ran.said
            assert read or (ran.code == 1 and "Error" in ran.said), (name, ran.said)
            assert not (read and name.startswith("xl/worksheets/sheet")), name


NAMES = ["a'b", 'a"b', "=1+1", "a'!A1,b'", "{n}", "R1C1", "x" * 31, "\u202egnp", "A & <B>"]


@pytest.mark.parametrize("name", NAMES)
def test_a_sheet_s_name_is_never_part_of_a_formula(name: str) -> None:
    """Whatever an owner, or an owner's enemy, calls a sheet of ours: formulas still mean it."""
    content = parts()
    changed = html.escape(name).encode()
    content["xl/workbook.xml"] = content["xl/workbook.xml"].replace(
        b'name="Customers"', b'name="' + changed + b'"'
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / BOOK
        path.write_bytes(zipped(content))
        ran = verb("add-job", str(path), "--customer", "New Name", "--item", "x", "--today",
                   "2025-03-20")  # fmt: skip
        assert ran.code == 0, ran.said
        sheets = {s.name: s for s in read_book(path).snapshot.sheets}

    assert "New Name" in sheets[name].values.values()
    others = [f for s in sheets.values() for f in s.formulas.values() if "Customers!" in f]
    said = [f for s in sheets.values() for f in s.formulas.values() if quoted(name) in f]
    assert not (others and said)


@pytest.mark.parametrize(
    ("part", "old", "new"),
    [
        ("xl/styles.xml", b'numFmtId="164"', b'numFmtId="1e999"'),
        ("xl/workbook.xml", b'sheetId="2"', b'sheetId="two"'),
        ("xl/workbook.xml", b'localSheetId="', b'localSheetId="x'),
        ("xl/tables/table1.xml", b' id="1"', b' id=" "'),
    ],
)
def test_a_number_that_is_none_where_a_sheet_is_added(part: str, old: bytes, new: bytes) -> None:
    """What reading never needed is met when a sheet is added: refused, nothing written."""
    content = parts()
    assert old in content[part]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / BOOK
        path.write_bytes(zipped({**content, part: content[part].replace(old, new)}))
        before = path.read_bytes()
        ran = verb("add-job", str(path), "--customer", "Ann", "--item", "x", "--today",
                   "2025-03-20")  # fmt: skip

        assert path.read_bytes() == before
    assert ran.code == 1, ran.said
    assert "cannot be understood" in ran.said
