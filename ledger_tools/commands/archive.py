"""`archive`: move paid jobs to the archive book."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.commands import options
from ledger_tools.commands.report import Report, counted, job_json, listed
from ledger_tools.commands.session import open_session
from ledger_tools.errors import RequestError


@click.command(name="archive")
@options.book
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@click.option(
    "--anyway",
    is_flag=True,
    help="Move sheets though your own sheets refer to them; these cells keep what they show.",
)
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    jobs: tuple[str, ...],
    anyway: bool,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Move the sheets of all paid jobs, or of those named, to the archive book beside the book.

    Their lines go to the sheet Archived lines, their rows in Jobs stay with their figures, and no
    figure of invoices, payments, quarter or year changes. The archive book is written first: if
    anything stops in between, run it again.

    \b
    Example:
      ledger-tools archive shop-2025.xlsx
      ledger-tools archive shop-2025.xlsx 25-0007 25-0011
    """
    from ledger_tools.book.archive import archive_path, plan_archive, save_archive

    session = open_session(book)
    archive = archive_path(book)
    archiving = plan_archive(session.read, archive, as_of=today, named=jobs, anyway=anyway)
    outcome = archiving.outcome
    known = {job.number for job in outcome.book.jobs}
    unknown = [job for job in jobs if job not in known]
    if unknown and outcome.sound:
        raise RequestError(
            "", f"There is no job {', '.join(unknown)}", "Give numbers as they stand in Jobs"
        )
    if archiving.book and not dry_run:
        save_archive(book, session.read, archive, archiving)
    digits = outcome.book.settings.digits
    moved = [outcome.results[number] for number in outcome.archived if archiving.book]
    verb = "Would move" if dry_run else "Moved"
    named = listed([result.job.number for result in moved])
    return Report(
        as_json=as_json,
        said={"jobs": [job_json(result, digits) for result in moved]},
        findings=list(archiving.findings),
        files=[archive, book] if archiving.book else [],
        lines=[
            f"{verb} {counted(len(moved), 'job')} to {archive}: {named}."
            if moved
            else "No job was moved."
        ],
    ).close()
