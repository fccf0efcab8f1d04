"""The command line as a person uses it, in this process: words in, exit code and text out."""

import gc
import json
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from ledger_tools.book.create import create_book
from ledger_tools.commands.main import main
from tests.book.shop import seed


@dataclass(frozen=True)
class Ran:
    """What a command ended with.

    Attributes:
        code: Exit code.
        out: What stood on stdout.
        err: What stood on stderr.
    """

    code: int
    out: str
    err: str

    def json(self) -> Any:  # noqa: ANN401 - JSON holds anything
        """Return the one JSON object on stdout; nothing may stand on stderr beside it."""
        assert not self.err
        return json.loads(self.out)


Lt = Callable[..., Ran]


@pytest.fixture
def lt(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Lt:
    """Return the command line, working in a folder of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(gc, "disable", lambda: None)

    def run(*words: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["ledger-tools", *map(str, words)])
        with pytest.raises(SystemExit) as stop:
            main()
        said = capsys.readouterr()
        assert isinstance(stop.value.code, int)
        return Ran(stop.value.code, said.out, said.err)

    return run


@pytest.fixture(scope="session")
def new_books() -> dict[str, bytes]:
    """Return new books of two tax profiles, made once."""
    return {profile: create_book(seed(profile)) for profile in ("none", "ca-qc")}


@pytest.fixture
def book(tmp_path: Path, new_books: dict[str, bytes]) -> Path:
    """Return a new book without taxes in the working folder."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(new_books["none"])
    return path


@pytest.fixture
def taxed_book(tmp_path: Path, new_books: dict[str, bytes]) -> Path:
    """Return a new book with two taxes in the working folder."""
    path = tmp_path / "taxed.xlsx"
    path.write_bytes(new_books["ca-qc"])
    return path


@pytest.fixture
def lines(tmp_path: Path) -> Callable[[str], Path]:
    """Return a maker of files of lines from their text."""

    def write(text: str) -> Path:
        path = tmp_path / "lines.csv"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def files_in(folder: Path) -> dict[str, bytes]:
    """Return every file below a folder with its bytes."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}
