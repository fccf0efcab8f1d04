"""`year-end`: sum up the year in a workbook."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.periods import year_from, year_of
from ledger_tools.book.work import work_out
from ledger_tools.commands import options
from ledger_tools.commands.report import Report
from ledger_tools.commands.session import open_session


@click.command(name="year-end")
@options.book
@click.argument("year", required=False, metavar="[YEAR]")
@options.out("summaries")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    year: str | None,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Sum up a financial year in a workbook for the accountant: quarters, sales, sublet vendors.

    \b
    Example:
      ledger-tools year-end shop-2025.xlsx 2025
    """
    from ledger_tools.documents.store import write_document
    from ledger_tools.documents.year_end import year_end_workbook

    outcome = work_out(open_session(book).snapshot, as_of=today)
    report = Report(as_json=as_json, findings=list(outcome.findings))
    if outcome.sound:
        first = outcome.book.settings.first_month
        chosen = year_from(year, first_month=first) if year else year_of(today, first_month=first)
        path = (out or book.parent / "summaries") / f"year-end-{chosen.name}.xlsx"
        if not dry_run:
            write_document(path, year_end_workbook(outcome.book, chosen.first.year))
        report.files.append(path)
        report.lines.append(f"{'Would write' if dry_run else 'Wrote'} {path}.")
    return report.close()
