"""Two runs on one book at once: they take turns or one is refused, and nothing is lost."""

import errno
import os
import subprocess
import sys
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from ledger_tools.book import disk, turns
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.save import backup_folder, save_book
from ledger_tools.errors import BookLockedError
from tests.book.shop import Shop
from tests.faults.books import ALL_ISSUED, issued
from tests.faults.runs import SCENARIOS
from tests.faults.scenario import BOOK, prepared

ROOT = Path(__file__).resolve().parents[2]
HOLDER = """
import sys, time
from pathlib import Path
from ledger_tools.book.turns import turn
with turn(Path(sys.argv[1])):
    print("held", flush=True)
    time.sleep(60)
"""


def at_once(runs: Sequence[Sequence[str]]) -> list[tuple[int, str]]:
    """Begin several runs of the command line together; return exit code and words of each."""
    begun = [
        subprocess.Popen(
            [sys.executable, "-m", "ledger_tools", *words, "--today", "2025-03-03"],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd=ROOT,
        )
        for words in runs
    ]  # fmt: skip
    return [(run.wait(60), run.communicate()[0]) for run in begun]


def test_two_invoice_runs_issue_every_number_once() -> None:
    """Each job has one invoice, the numbers have no gap, and both runs end well."""
    with prepared(SCENARIOS["invoice"]) as folder:
        ended = at_once([("invoice", str(folder / BOOK))] * 2)

        assert issued(folder / BOOK) == ALL_ISSUED
        assert [code for code, _ in ended] == [0, 0], ended
        said = "".join(words for _, words in ended)
        assert [said.count(f"Issued {n}") for n in ("25-0002", "25-0003")] == [1, 1]
        assert len(list((folder / "invoices").glob("[!.]*"))) == 2 * len(ALL_ISSUED)


def test_jobs_added_at_once_are_all_there_or_refused_with_a_word() -> None:
    """A run that read the book before another one saved it writes nothing and says so."""
    with prepared(SCENARIOS["invoice"]) as folder:
        book = str(folder / BOOK)
        names = [f"Customer {letter}" for letter in "ABCD"]
        added = [("add-job", book, "--customer", name, "--item", "Rack") for name in names]
        ended = at_once([*added, ("recompute", book)])

        shop = Shop(folder / BOOK)
        jobs = [(job.number, job.customer) for job in shop.parsed().book.jobs]
        done = [name for name, (code, _) in zip(names, ended, strict=False) if code == 0]
        assert {name for _, name in jobs} == {"R. Calder", "Ann Bell", "C. Dorn", *done}
        assert [number for number, _ in jobs] == [f"25-{n:04}" for n in range(1, 4 + len(done))]
        assert done
        for code, said in ended:
            assert code == 0 or "run the command again" in said, said
        assert shop.grid(JOBS_TABLE).table_end
        kept = [p for p in backup_folder(folder / BOOK).iterdir() if "(" in p.name]
        assert len(kept) >= len(done)


@pytest.fixture
def other_run(tmp_path: Path) -> subprocess.Popen[str]:
    """Return another process that holds the book in `tmp_path`."""
    held = subprocess.Popen(
        [sys.executable, "-c", HOLDER, str(tmp_path / BOOK)],
        stdout=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    assert held.stdout is not None
    assert held.stdout.readline() == "held\n"
    return held


def _end(run: subprocess.Popen[str]) -> None:
    run.kill()
    run.communicate()


def test_a_book_that_another_run_writes_is_refused_after_a_while(
    tmp_path: Path, other_run: subprocess.Popen[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The message says that another run holds it; the book is not touched."""
    monkeypatch.setattr(turns, "PATIENCE", 0.1)
    (tmp_path / BOOK).write_bytes(b"old")
    began = time.monotonic()

    with pytest.raises(BookLockedError, match="another run of these tools is writing it"):
        save_book(tmp_path / BOOK, b"new", old=b"old")

    assert 0.1 <= time.monotonic() - began < 5
    assert (tmp_path / BOOK).read_bytes() == b"old"
    _end(other_run)


def test_a_killed_run_holds_up_nobody(tmp_path: Path, other_run: subprocess.Popen[str]) -> None:
    """Its lock file lies there still, but the system has let the lock go."""
    (tmp_path / BOOK).write_bytes(b"old")
    _end(other_run)
    assert turns.lock_of(tmp_path / BOOK).exists()

    save_book(tmp_path / BOOK, b"new", old=b"old")

    assert (tmp_path / BOOK).read_bytes() == b"new"
    assert not turns.lock_of(tmp_path / BOOK).exists()


def test_a_run_waits_for_another_one_to_finish(
    tmp_path: Path, other_run: subprocess.Popen[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """It goes on as soon as the other one has let go."""
    (tmp_path / BOOK).write_bytes(b"old")
    waits: list[float] = []

    def wait(seconds: float) -> None:
        waits.append(seconds)
        if len(waits) == 3:
            _end(other_run)

    monkeypatch.setattr(time, "sleep", wait)
    save_book(tmp_path / BOOK, b"new", old=b"old")

    assert len(waits) >= 3
    assert (tmp_path / BOOK).read_bytes() == b"new"


def test_a_lock_that_its_holder_removed_is_not_taken(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between opening and holding, the last holder may remove the file: then it is opened anew."""
    lock = turns.lock_of(tmp_path / BOOK)
    open_lock, opened = disk.open_lock, []

    def removed_at_first(path: Path) -> int:
        handle = open_lock(path)
        opened.append(handle)
        if len(opened) == 1 and os.name != "nt":
            path.unlink()
        return handle

    monkeypatch.setattr(disk, "open_lock", removed_at_first)
    with turns.turn(tmp_path / BOOK) as alone:
        assert alone
        assert lock.exists()

    assert len(opened) == (1 if os.name == "nt" else 2)


@pytest.mark.parametrize("error", [errno.ENOLCK, errno.ENOTSUP])
def test_a_folder_that_knows_no_locks_is_written_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: int
) -> None:
    """Some network folders know none; the bytes still tell of another run's save."""

    def none(_: int) -> None:
        raise OSError(error, os.strerror(error))

    monkeypatch.setattr(disk, "lock", none)
    book = tmp_path / BOOK
    book.write_bytes(b"old")
    (tmp_path / f".{BOOK}-0123abcd.part").write_bytes(b"another run's")

    save_book(book, b"new", old=b"old")

    assert book.read_bytes() == b"new"
    assert (tmp_path / f".{BOOK}-0123abcd.part").exists()
