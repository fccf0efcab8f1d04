"""What `quarter` and `year-end` have in common: sum up the book in a workbook of its own."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

from ledger_tools.book.work import work_out
from ledger_tools.commands.report import Report
from ledger_tools.commands.session import open_session
from ledger_tools.shop.model import ShopBook

Summary = tuple[str, Callable[[], bytes]]
"""The file's name, and what makes its content."""


def write_summary(
    book: Path,
    summed: Callable[[ShopBook], Summary],
    *,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Write what `summed` makes of the book and return the exit code; the book stays as it is."""
    from ledger_tools.documents.store import write_document

    outcome = work_out(open_session(book).snapshot, as_of=today)
    report = Report(as_json=as_json, findings=list(outcome.findings))
    if outcome.sound:
        name, content = summed(outcome.book)
        path = (out or book.parent / "summaries") / name
        if not dry_run:
            write_document(path, content())
        report.files.append(path)
        report.lines.append(f"{'Would write' if dry_run else 'Wrote'} {path}.")
    return report.close()
