"""Whatever verb comes between the reading and the writing of another: nothing is lost."""

import contextlib
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import replace
from functools import cache
from itertools import product
from pathlib import Path
from unittest import mock

import pytest

from ledger_tools.book import next_year, turns
from ledger_tools.book.archive import archive_path
from ledger_tools.book.reader import read_book
from ledger_tools.shop.snapshot import Snapshot
from tests.book.shop import Shop
from tests.faults.books import FEE, issued, paid
from tests.faults.scenario import BOOK, Ran, empty_folder, put, verb

LATER = ("--today", "2025-03-04")
NEW, NEXT = "another.xlsx", "shop-2026.xlsx"
PAID, READY = ("25-0001", "25-0002", "25-0003"), ("25-0004", "25-0005")
ASKED = "25-0006"
"""A job that an estimate is to be written for, and that comes to more than is authorised."""
PROMISING = ("estimate", "extra-work")
VERBS = ("add-job", "recompute", *PROMISING, "invoice", "archive", "next-year", "new")
REFUSED = "run the command again|another run of these tools|is there already"


@cache
def _busy() -> bytes:
    """Return a book in which every verb has something to do."""
    with empty_folder() as folder:
        shop = Shop(folder / BOOK)
        shop.path.write_bytes(paid().whole)
        for customer in ("E. Frey", "G. Holm"):
            shop.add(customer=customer, state="to invoice", lines=FEE)
        promised = (replace(FEE[0], estimate=FEE[0].actual, actual=None),)
        shop.add(customer="I. Low", lines=promised, authorised="1.00")
        return shop.path.read_bytes()


def _run(word: str, folder: Path, customer: str) -> Ran:
    book = str(folder / BOOK)
    words = {
        "add-job": (book, "--customer", customer, "--item", "Rack"),
        "next-year": (book, str(folder / NEXT), "--year", "2026"),
        "new": (str(folder / NEW),),
        "extra-work": (book, ASKED, "--found", "Another crack"),
    }
    return verb(word, *words.get(word, (book,)), *LATER)


@contextlib.contextmanager
def _comes_between(other: Callable[[], None]) -> Iterator[None]:
    """Let `other` happen when a run has read all it reads and first goes to write."""
    waiting = [other]
    ask = turns.turn

    def late(path: Path, *, named: str = "") -> AbstractContextManager[bool]:
        if waiting:
            waiting.pop()()
        return ask(path, named=named)

    with (
        mock.patch("ledger_tools.book.save.turn", late),
        mock.patch("ledger_tools.documents.store.turn", late),
        mock.patch.object(turns, "PATIENCE", 0.05),
    ):
        yield
    assert not waiting


@contextlib.contextmanager
def _after_the_new_book_is_worked_out(other: Callable[[], object]) -> Iterator[None]:
    """Let `other` happen when the next year's book is made and not yet written."""
    original = next_year.open_next_year
    with mock.patch.object(next_year, "open_next_year") as patched:
        patched.side_effect = lambda *given, **named: (original(*given, **named), other())[0]
        yield
        patched.assert_called_once()


def _sheets(path: Path) -> set[str]:
    snapshot = read_book(path).snapshot if path.exists() else Snapshot("", (), {}, {})
    return {sheet.name for sheet in snapshot.sheets if sheet.name.startswith("25-")}


def _nothing_lost(folder: Path, added: set[str], billed: set[str], promised: int) -> None:
    """Each job is there once, with a sheet in one of the books, and each paper once."""
    book = Shop(folder / BOOK)
    jobs = book.parsed().book.jobs
    numbers = [f"25-{n:04}" for n in range(1, 7 + len(added))]
    assert [job.number for job in jobs] == numbers
    assert {job.customer for job in jobs[6:]} == added
    revisions = [f"{ASKED}/{n}" for n in range(1, promised + 1)]
    assert list(book.parsed().book.estimates) == revisions
    papers = {p.stem[-len(ASKED) - 2 :] for p in (folder / "estimates").glob("*.pdf")}
    assert papers == {number.replace("/", "-") for number in revisions}
    given = issued(folder / BOOK)
    assert list(given) == [f"25-{n:04}" for n in range(1, 4 + len(billed))]
    assert set(given.values()) == {*PAID, *billed}
    here, archived = _sheets(folder / BOOK), _sheets(archive_path(folder / BOOK))
    assert here | archived == set(numbers)
    assert archived in (set(), set(PAID))
    papers = {p.name[8:15] for p in (folder / "invoices").glob("*.pdf")}
    assert papers == (set(given) - set(PAID))
    assert verb("check", str(folder / BOOK), *LATER).code == 0


def _again(word: str, folder: Path, customer: str, ran: Ran) -> bool:
    """Do as a refused run says, and return whether the verb did its work in the end."""
    if ran.code == 0:
        return True
    if "is there already" in ran.said:
        return False
    return _run(word, folder, customer).code == 0


@pytest.mark.parametrize(("first", "second"), list(product(VERBS, VERBS)))
def test_a_verb_between_reading_and_writing_loses_nothing(first: str, second: str) -> None:
    """The later one is done, or refused with a word; run again as told, both are done."""
    with empty_folder() as folder:
        put(folder / BOOK, _busy())
        between: list[Ran] = []
        with _comes_between(lambda: between.append(_run(second, folder, "Second"))):
            later = _run(first, folder, "First")
        runs = {"First": (first, later), "Second": (second, between[0])}
        for _, ran in runs.values():
            assert ran.code == 0 or any(word in ran.said for word in REFUSED.split("|")), ran
        assert sum(ran.code == 0 for _, ran in runs.values()) >= 1
        made = {who for who, (word, ran) in runs.items() if _again(word, folder, who, ran)}
        words = [word for who, (word, _) in runs.items() if who in made]

        added = {who for who in made if runs[who][0] == "add-job"}
        promised = len({*words} & {*PROMISING})
        _nothing_lost(folder, added, set(READY) if "invoice" in words else set(), promised)
        assert ("archive" in words) == bool(_sheets(archive_path(folder / BOOK)))
        assert (folder / NEXT).exists() == ("next-year" in words)
        assert (folder / NEW).exists() == ("new" in words)


def test_a_new_book_takes_the_place_of_none_that_came_meanwhile() -> None:
    """Whoever put a file there first keeps it."""
    with empty_folder() as folder:
        with _comes_between(lambda: put(folder / NEW, b"theirs")):
            ran = _run("new", folder, "")

        assert ran.code == 2
        assert "the file is there already" in ran.said
        assert (folder / NEW).read_bytes() == b"theirs"


@pytest.mark.parametrize("second", ["add-job", "recompute", "invoice", "archive"])
def test_the_next_year_is_not_opened_from_a_book_that_was_changed_meanwhile(second: str) -> None:
    """What came between would be in neither: it is said, and no book is made."""
    with empty_folder() as folder:
        put(folder / BOOK, _busy())
        with _after_the_new_book_is_worked_out(lambda: _run(second, folder, "Second")):
            ran = _run("next-year", folder, "First")

        assert "saved by another program since it was read" in ran.said
        assert ran.code == 1
        assert not (folder / NEXT).exists()
