"""`reprint`: make the papers of invoices and estimates again."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.parse import Parsed, parse
from ledger_tools.book.registers import (
    ESTIMATE_LINES_TABLE,
    ESTIMATES_TABLE,
    INVOICE_LINES_TABLE,
    INVOICES_TABLE,
)
from ledger_tools.commands import options
from ledger_tools.commands.report import Report, counted, paper_json, with_progress
from ledger_tools.commands.session import open_session
from ledger_tools.errors import Finding, RequestError, Severity
from ledger_tools.shop.model import ShopBook

_REGISTERS = (INVOICES_TABLE, INVOICE_LINES_TABLE, ESTIMATES_TABLE, ESTIMATE_LINES_TABLE)


@click.command(name="reprint")
@options.book
@click.argument("papers", nargs=-1, metavar="[NUMBER]...")
@options.out("invoices or estimates")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    papers: tuple[str, ...],
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Make the papers of all issued invoices again, or of the invoices and estimates named.

    They come from the frozen rows: words and figures are those of the day of issue, whatever
    has changed in the book since.

    \b
    Example:
      ledger-tools reprint shop-2025.xlsx 25-0007 25-0009/1
    """
    from ledger_tools.documents.names import paper_files
    from ledger_tools.documents.paper import paper_findings
    from ledger_tools.documents.store import write_paper

    session = open_session(book)
    parsed = parse(session.snapshot, as_of=today)
    report = Report(as_json=as_json, said={"invoices": [], "estimates": []})
    report.findings = _of_papers(parsed)
    if not parsed.sound:
        return report.close()
    held = {f.job for f in report.findings if f.severity is Severity.ERROR}
    chosen = [p for p in _chosen(papers, parsed.book) if p.job not in held]
    report.findings += _made_otherwise(chosen, book.name)
    for paper in with_progress(chosen, "Papers"):
        report.findings += paper_findings(paper)
        kind = "estimates" if isinstance(paper, Estimate) else "invoices"
        folder = out or book.parent / kind
        files = paper_files(paper, folder) if dry_run else write_paper(paper, folder)
        report.files += files
        report.said[kind].append(paper_json(paper, files))
    invoices = sum(isinstance(paper, Invoice) for paper in chosen)
    estimates = len(chosen) - invoices
    counts = [counted(invoices, "invoice")] if invoices or not estimates else []
    counts += [counted(estimates, "estimate")] if estimates else []
    verb = "Would make" if dry_run else "Made"
    report.lines.append(f"{verb} the papers of {' and '.join(counts)}.")
    return report.close()


def _of_papers(parsed: Parsed) -> list[Finding]:
    """Return what was found in the registers of papers, or in a book with parts missing."""
    grids = parsed.places.grids
    sheets = {"", *(grids[layout.table].sheet for layout in _REGISTERS if layout.table in grids)}
    return [f for f in parsed.gathered.findings if f.sheet in sheets or not parsed.sound]


def _chosen(numbers: tuple[str, ...], book: ShopBook) -> list[Invoice | Estimate]:
    """Return the papers of these numbers, or those of all invoices."""
    there: dict[str, Invoice | Estimate] = {**book.estimates, **book.invoices}
    unknown = [number for number in numbers if number not in there]
    if unknown:
        raise RequestError(
            "sheets 'Invoices' and 'Estimates'",
            f"no invoice or estimate {', '.join(unknown)} was issued",
            "Give numbers as they stand there: 25-0007 an invoice, 25-0007/1 an estimate",
        )
    return [there[number] for number in numbers or book.invoices]


def _made_otherwise(papers: list[Invoice | Estimate], file: str) -> list[Finding]:
    """Return a note where today's templates or fonts differ from those of the day of issue."""
    from ledger_tools.documents.fingerprint import fingerprint

    now = fingerprint()
    other = [p.number for p in papers if p.fingerprint != now]
    if not other:
        return []
    return [
        Finding(
            Severity.NOTE,
            "made-otherwise",
            f"{', '.join(other)}: template, fonts or program differ from the day of issue",
            "Words and figures are the same; the page may be set a little differently",
            file,
        )
    ]
