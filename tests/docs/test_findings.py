"""The page of findings names every code the program says, with its severity, and no other."""

from pathlib import Path

import pytest

from tests.docs.codes import error_codes, finding_codes
from tests.docs.markdown import DOCS, tables

STOPS = "What stops a command"
NEVER_RAISED = {"stopped"}
"""The code of the class the others are made from."""


@pytest.fixture(scope="module")
def page() -> str:
    """Return the page of findings."""
    return (DOCS / "findings.md").read_text(encoding="utf-8")


def test_every_finding_stands_on_the_page(page: str) -> None:
    """Codes and severities are those of the source, none missing and none made up."""
    listed = {
        row[0].strip("`"): set(row[1].split(" or "))
        for table in tables(page)
        if table.under != STOPS
        for row in table.rows
    }

    assert listed == finding_codes()


def test_no_finding_stands_there_twice(page: str) -> None:
    """Each code has one row."""
    codes = [row[0] for t in tables(page) if t.under != STOPS for row in t.rows]

    assert len(codes) == len(set(codes))


def test_every_error_that_stops_stands_on_the_page(page: str) -> None:
    """The codes of the errors that end a command are those of the source."""
    (stops,) = (table for table in tables(page) if table.under == STOPS)

    assert {row[0].strip("`") for row in stops.rows} == error_codes() - NEVER_RAISED


def test_codes_are_found_in_every_way_they_are_said(tmp_path: Path) -> None:
    """The search knows a code as a word, as one of two, with a remedy, and as a class's own."""
    (tmp_path / "said.py").write_text(
        "row.error('price', 'a-one', 'what', 'remedy')\n"
        "row.echoed('price', 'a-two', 'what')\n"
        "row.echoed('price', 'a-three', 'what', 'remedy')\n"
        "gathered.add(Severity.ERROR, 'a-four' if x else 'a-five', 'what', 'remedy')\n"
        "Finding(Severity.ERROR if x else Severity.NOTE, 'a-six', 'what', 'remedy')\n"
        "row.needed('day', row.day, 'a-seven', 'what')\n"
        "class AnError(LedgerError):\n    code = 'a-eight'\n",
        encoding="utf-8",
    )

    assert finding_codes(tmp_path) == {
        "a-one": {"error"},
        "a-two": {"note"},
        "a-three": {"warning"},
        "a-four": {"error"},
        "a-five": {"error"},
        "a-six": {"error", "note"},
        "a-seven": {"error"},
    }
    assert error_codes(tmp_path) == {"a-eight"}
