"""`reprint`: make the papers of issued invoices again."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.layout import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.parse import Parsed, parse
from ledger_tools.commands import options
from ledger_tools.commands.report import Report, counted, invoice_json, with_progress
from ledger_tools.commands.session import open_session
from ledger_tools.errors import Finding, RequestError, Severity


@click.command(name="reprint")
@options.book
@click.argument("invoices", nargs=-1, metavar="[INVOICE]...")
@options.out("invoices")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    invoices: tuple[str, ...],
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Make the papers of all issued invoices again, or of those named, from the frozen rows.

    Words and figures are those of the day of issue, whatever has changed in the book since.

    \b
    Example:
      ledger-tools reprint shop-2025.xlsx 25-0007
    """
    from ledger_tools.documents.names import invoice_files
    from ledger_tools.documents.paper import paper_findings
    from ledger_tools.documents.store import write_invoice

    session = open_session(book)
    parsed = parse(session.snapshot, as_of=today)
    report = Report(as_json=as_json, said={"invoices": []})
    report.findings = _of_invoices(parsed)
    if not parsed.sound:
        return report.close()
    held = {f.job for f in report.findings if f.severity is Severity.ERROR}
    chosen = [i for i in _chosen(invoices, parsed.book.invoices) if i.job not in held]
    report.findings += _made_otherwise(chosen, book.name)
    for invoice in with_progress(chosen, "Papers"):
        report.findings += paper_findings(invoice)
        folder = out or book.parent / "invoices"
        files = (
            invoice_files(invoice.number, folder) if dry_run else write_invoice(invoice, folder)
        )
        report.files += files
        report.said["invoices"].append(invoice_json(invoice, files))
    report.lines.append(
        f"{'Would make' if dry_run else 'Made'} the papers of {counted(len(chosen), 'invoice')}."
    )
    return report.close()


def _of_invoices(parsed: Parsed) -> list[Finding]:
    """Return what was found in the registers of invoices, or in a book with parts missing."""
    grids = parsed.places.grids
    registers = (INVOICES_TABLE.table, INVOICE_LINES_TABLE.table)
    sheets = {"", *(grids[table].sheet for table in registers if table in grids)}
    return [f for f in parsed.gathered.findings if f.sheet in sheets or not parsed.sound]


def _chosen(numbers: tuple[str, ...], issued: Mapping[str, Invoice]) -> list[Invoice]:
    unknown = [number for number in numbers if number not in issued]
    if unknown:
        raise RequestError(
            "sheet 'Invoices'",
            f"no invoice {', '.join(unknown)} was issued",
            "Give numbers as they stand in Invoices",
        )
    return [issued[number] for number in numbers or issued]


def _made_otherwise(invoices: list[Invoice], file: str) -> list[Finding]:
    """Return a note where today's templates or fonts differ from those of the day of issue."""
    from ledger_tools.documents.fingerprint import fingerprint

    now = fingerprint()
    other = [i.number for i in invoices if i.fingerprint != now]
    if not other:
        return []
    return [
        Finding(
            Severity.NOTE,
            "made-otherwise",
            f"{', '.join(other)}: template, fonts or program differ from the day of issue",
            "Words and figures are the same; the page may be set a little differently",
            file,
            "Invoices",
        )
    ]
