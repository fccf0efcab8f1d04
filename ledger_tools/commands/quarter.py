"""`quarter`: sum up a quarter in a workbook."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.periods import period_from
from ledger_tools.book.work import work_out
from ledger_tools.commands import options
from ledger_tools.commands.report import Report
from ledger_tools.commands.session import open_session


@click.command(name="quarter")
@options.book
@click.argument("period", metavar="QUARTER")
@options.out("summaries")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    period: str,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Sum up a quarter of the financial year, such as 2025-Q3, in a workbook of its own.

    \b
    Example:
      ledger-tools quarter shop-2025.xlsx 2025-Q3
    """
    from ledger_tools.documents.quarter import quarter_workbook
    from ledger_tools.documents.store import write_document

    outcome = work_out(open_session(book).snapshot, as_of=today)
    report = Report(as_json=as_json, findings=list(outcome.findings))
    if outcome.sound:
        chosen = period_from(period, first_month=outcome.book.settings.first_month)
        path = (out or book.parent / "summaries") / f"quarter-{chosen.name}.xlsx"
        if not dry_run:
            write_document(path, quarter_workbook(outcome.book, chosen))
        report.files.append(path)
        report.lines.append(f"{'Would write' if dry_run else 'Wrote'} {path}.")
    return report.close()
