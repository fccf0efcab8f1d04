"""`invoice`: issue invoices for the jobs that are to be billed."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.commands import options
from ledger_tools.commands.report import Report, invoice_json, with_progress
from ledger_tools.commands.session import open_session
from ledger_tools.errors import RequestError
from ledger_tools.shop.issue import Issued, issue_invoices
from ledger_tools.shop.model import Customer, Job, ShopBook
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Snapshot


def _worked_out(book: Path, snapshot: Snapshot, today: date, jobs: tuple[str, ...]) -> Outcome:
    from ledger_tools.documents.fingerprint import fingerprint
    from ledger_tools.documents.texts import invoice_wording, text_findings
    from ledger_tools.settings import load_texts

    def issue(results: Mapping[str, JobResult], shop: ShopBook) -> Issued:
        texts = load_texts(shop.settings.language, book.parent)

        def wording(customer: Customer, job: Job) -> Mapping[str, str]:
            del job
            return invoice_wording(shop.settings, customer, texts)

        issued = issue_invoices(results, shop, wording, named=jobs, fingerprint=fingerprint())
        lacking = text_findings(shop.settings.language, texts)
        return replace(issued, findings=(*issued.findings, *lacking))

    return work_out(snapshot, as_of=today, issue=issue)


def _refuse_unknown(jobs: tuple[str, ...], outcome: Outcome) -> None:
    known = {job.number for job in outcome.book.jobs}
    unknown = [job for job in jobs if job not in known]
    if unknown and outcome.sound:
        raise RequestError(
            "", f"There is no job {', '.join(unknown)}", "Give numbers as they stand in Jobs"
        )


def _papers(invoice: Invoice, folder: Path, *, dry_run: bool) -> list[Path]:
    from ledger_tools.documents.names import invoice_files
    from ledger_tools.documents.store import write_invoice

    return invoice_files(invoice.number, folder) if dry_run else write_invoice(invoice, folder)


@click.command(name="invoice")
@options.book
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@options.out("invoices")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    jobs: tuple[str, ...],
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Issue an invoice for every job in state 'to invoice', or for the jobs named.

    The numbers are saved in the book first, the papers (PDF and .xlsx) are made second: if
    anything stops in between, `reprint` makes the papers.

    \b
    Example:
      ledger-tools invoice shop-2025.xlsx
      ledger-tools invoice shop-2025.xlsx 25-0007 --out papers
    """
    from ledger_tools.documents.paper import paper_findings

    session = open_session(book)
    outcome = _worked_out(book, session.snapshot, today, jobs)
    _refuse_unknown(jobs, outcome)
    folder = out or book.parent / "invoices"
    if not dry_run:
        session.save(outcome)
    report = Report(as_json=as_json, findings=list(outcome.findings))
    report.said["invoices"] = []
    if outcome.invoices:
        report.files.append(book)
    for number in with_progress(outcome.invoices, "Papers"):
        invoice = outcome.book.invoices[number]
        report.findings += paper_findings(invoice)
        files = _papers(invoice, folder, dry_run=dry_run)
        report.files += files
        report.said["invoices"].append(invoice_json(invoice, files))
        verb = "Would issue" if dry_run else "Issued"
        report.lines.append(
            f"{verb} {number} for job {invoice.job}, {invoice.customer}: "
            f"{invoice.total} {invoice.currency}"
        )
    if not outcome.invoices:
        report.lines.append("No job is to be invoiced.")
    elif not dry_run:
        report.lines.append(f"Papers are in {folder}.")
    return report.close()
