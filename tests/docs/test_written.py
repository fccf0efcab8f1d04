"""What a program writes into the documentation is what it would write today."""

from pathlib import Path

import click
import pytest

from docs.write.commands import commands_part
from docs.write.pages import DOCS, PAGES, written
from docs.write.parts import MarkMissingError, with_part
from docs.write.taxes import taxes_part
from ledger_tools.commands.main import VERBS, ledger_tools
from ledger_tools.settings import profiles
from tests.docs.markdown import tables

PERFORMANCE = DOCS / "performance.md"


@pytest.mark.parametrize("path", PAGES, ids=lambda path: path.name)
def test_the_page_is_up_to_date(path: Path) -> None:
    """Options, help and tax profiles on the page are those of today."""
    said = "Run python -m docs.write"

    assert path.read_text(encoding="utf-8") == written(path), said


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_and_option_stands_on_the_page(verb: str) -> None:
    """The part has a section for the verb, with a row for each of its options."""
    command = ledger_tools.get_command(click.Context(ledger_tools), verb)
    assert command is not None
    options = {p.opts[0] for p in command.params if isinstance(p, click.Option)}
    (listed,) = (table for table in tables(commands_part()) if table.under == verb)

    assert {row[0].strip("`").split()[0] for row in listed.rows} == options
    assert f"ledger-tools {verb} shop-2025.xlsx" in commands_part()


def test_every_shipped_profile_stands_on_the_page() -> None:
    """Each profile has a section with its caution and a status for each source."""
    part = taxes_part()

    for name in profiles():
        assert f"### {name}: " in part
    assert part.casefold().count("check with") >= len(profiles())


def test_a_rate_stands_as_its_file_writes_it(tmp_path: Path) -> None:
    """A rate is taken digit for digit, with its day and how it was obtained."""
    (tmp_path / "xx.yaml").write_text(
        "name: xx\ntitle: Somewhere\nversion: 2025-01-01\n"
        "rounding: {mode: down, place: invoice, source: &s "
        "{title: T, publisher: P, section: S, status: from memory}}\n"
        "components: [Levy]\nclasses: {labour: [Levy], part: []}\n"
        "rates: [{component: Levy, first_day: 2024-07-01, rate: 7.50%, source: *s}]\n"
        "sources: [*s]\ncaution: Ask.\n",
        encoding="utf-8",
    )
    part = taxes_part(tmp_path)

    assert "| Levy | 2024-07-01 | 7.50% | T, P, S (*from memory*) |" in part
    assert "| labour | yes |\n| part | no |" in part


def test_a_page_without_its_marks_is_refused() -> None:
    """A part whose mark is lost is not put anywhere else."""
    with pytest.raises(MarkMissingError, match="written by python"):
        with_part("no marks here\n", "commands", "text")


def test_the_page_of_performance_can_be_written() -> None:
    """It holds, once and in order, the two marks that the benchmarks write between."""
    page = PERFORMANCE.read_text(encoding="utf-8")
    begin, end = "<!-- table: written by tests/benchmarks/run.py -->", "<!-- end of table -->"

    assert page.count(begin) == page.count(end) == 1
    assert page.index(begin) < page.index(end)
