"""Customers' letters where the terminal or pipe has no place for them."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

CUSTOMER = "山田 Öl"


def _run(*words: str, encoding: str, folder: Path) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "ledger_tools", *words, "--today", "2025-01-03"],
        capture_output=True,
        cwd=folder,
        env={**os.environ, "PYTHONUTF8": "0", "PYTHONIOENCODING": encoding,
             "PYTHONPATH": str(Path(__file__).resolve().parents[2])},
        check=False,
    )  # fmt: skip


@pytest.fixture
def book(tmp_path: Path) -> str:
    """Return a book with a job for a customer whose name is in two scripts."""
    _run("new", "shop.xlsx", encoding="utf-8", folder=tmp_path)
    job = ("--customer", CUSTOMER, "--item", "Oil pan", "--repair", "OIL-PAN")
    _run("add-job", "shop.xlsx", *job, "--state", "to invoice", encoding="utf-8", folder=tmp_path)
    return "shop.xlsx"


def test_a_letter_that_cannot_be_shown_is_spelled_out(book: str, tmp_path: Path) -> None:
    """The invoice is issued and said to be, on a terminal that knows western letters only."""
    done = _run("invoice", book, encoding="cp1252", folder=tmp_path)

    assert done.returncode == 0, done.stderr
    assert b"\\u5c71\\u7530 \xd6l" in done.stdout
    assert b"Papers are in" in done.stdout


@pytest.mark.parametrize("encoding", ["cp1252", "utf-8"])
def test_json_is_read_back_whatever_the_pipe(book: str, tmp_path: Path, encoding: str) -> None:
    """A program that reads UTF-8 gets the name as it stands."""
    done = _run("check", book, "--json", encoding=encoding, folder=tmp_path)

    assert json.loads(done.stdout.decode("utf-8"))["jobs"][0]["customer"] == CUSTOMER
