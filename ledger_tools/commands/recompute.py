"""`recompute`: work the book out and bring it up to date."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.commands import options
from ledger_tools.commands.report import Report, counted, jobs_json
from ledger_tools.commands.session import described, open_session


@click.command(name="recompute")
@options.book
@options.today
@options.dry_run
@options.as_json
def command(*, book: Path, today: date, dry_run: bool, as_json: bool) -> int:
    """Work the book out: open typed jobs, put figures right, report what is to be mended.

    Jobs typed in the sheet Jobs get their number and sheet. What was read kindly (1h30) is put
    back plainly (90). An estimate that was accepted becomes the job's first authorisation. A job
    that cannot be read is left as it is and named; the others are done.

    \b
    Example:
      ledger-tools recompute shop-2025.xlsx
    """
    from ledger_tools.book.work import work_out

    session = open_session(book)
    outcome = work_out(session.snapshot, as_of=today)
    written = not dry_run and session.save(outcome)
    opened = f"Opened {', '.join(outcome.opened)}. " if outcome.opened else ""
    worked = f"{counted(len(outcome.results), 'job')} worked out"
    verb = "Would write" if dry_run else "Wrote"
    return Report(
        as_json=as_json,
        said=jobs_json(outcome.results, outcome.book.settings.digits),
        findings=list(outcome.findings),
        files=[book] if written or (dry_run and outcome.plan.operations) else [],
        lines=[f"{opened}{worked}. {verb} {described(outcome.plan)}."],
    ).close()
