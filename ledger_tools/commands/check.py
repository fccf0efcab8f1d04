"""`check`: say what is to be mended, write nothing."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.book.work import work_out
from ledger_tools.commands import options
from ledger_tools.commands.report import Report, counted, jobs_json
from ledger_tools.commands.session import described, open_session


@click.command(name="check")
@options.book
@options.today
@options.as_json
def command(*, book: Path, today: date, as_json: bool) -> int:
    """Say what is to be mended in the book, and write nothing.

    \b
    Example:
      ledger-tools check shop-2025.xlsx
    """
    outcome = work_out(open_session(book).snapshot, as_of=today)
    worked = f"{counted(len(outcome.results), 'job')} worked out"
    return Report(
        as_json=as_json,
        said=jobs_json(outcome.results, outcome.book.settings.digits),
        findings=list(outcome.findings),
        lines=[f"{worked}; recompute would write {described(outcome.plan)}."],
    ).close()
