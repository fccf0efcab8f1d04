"""`invoice`: issue invoices for the jobs that are to be billed."""

from collections.abc import Mapping
from contextlib import nullcontext
from datetime import date
from pathlib import Path

import click

from ledger_tools.book.work import Outcome, work_out
from ledger_tools.commands import options
from ledger_tools.commands.papers import Numbered, own_turn, refuse_unknown, save_and_make
from ledger_tools.commands.report import Report, paper_json
from ledger_tools.commands.session import open_session
from ledger_tools.shop.guarantee import law_for
from ledger_tools.shop.issue import Issued, issue_invoices
from ledger_tools.shop.model import Customer, Job, ShopBook
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Snapshot


def _worked_out(book: Path, snapshot: Snapshot, today: date, jobs: tuple[str, ...]) -> Outcome:
    from ledger_tools.documents.figures import locale_of
    from ledger_tools.documents.fingerprint import fingerprint
    from ledger_tools.documents.terms import guarantee_terms
    from ledger_tools.documents.texts import invoice_wording, text_findings, with_basis
    from ledger_tools.settings import load_texts

    def issue(results: Mapping[str, JobResult], shop: ShopBook) -> Issued:
        texts = load_texts(shop.settings.language, book.parent)
        locale_of(shop.settings.locale)  # once frozen, a wrong one could not be printed

        def wording(customer: Customer, job: Job) -> Mapping[str, str]:
            law = law_for(job.object_class, shop.as_of, shop)
            words = with_basis(invoice_wording(shop.settings, customer, texts), job.basis, texts)
            return words | guarantee_terms(shop.settings, texts, law)

        issued = issue_invoices(results, shop, wording, named=jobs, fingerprint=fingerprint())
        lacking = text_findings(shop.settings.language, texts)
        return issued._replace(findings=(*issued.findings, *lacking))

    return work_out(snapshot, as_of=today, issue=issue)


def _say(outcome: Outcome, made: Mapping[str, list[Path]], report: Report, verb: str) -> None:
    """Say which invoices are new and which files there are."""
    from ledger_tools.documents.paper import paper_findings

    for number in outcome.invoices:
        invoice = outcome.book.invoices[number]
        report.findings += paper_findings(invoice)
        report.said["invoices"].append(paper_json(invoice, made.get(number, ())))
        report.lines.append(
            f"{verb} {number} for job {invoice.job}, {invoice.customer}: "
            f"{invoice.total} {invoice.currency}"
        )
    report.files += [file for files in made.values() for file in files]


def _issue(
    book: Path, jobs: tuple[str, ...], folder: Path, today: date, *, report: Report, dry_run: bool
) -> int:
    """Issue, save, make the papers, and say so."""
    session = open_session(book)
    outcome = _worked_out(book, session.snapshot, today, jobs)
    refuse_unknown(jobs, outcome)
    report.said["invoices"] = []
    run = Numbered(session, outcome, outcome.book.invoices, outcome.invoices, (), folder)
    raised = "Raise 'Last invoice' on Start to the last number that went out"
    made = save_and_make(run, report, "invoice", raised=raised, dry_run=dry_run)
    _say(outcome, made, report, "Would issue" if dry_run else "Issued")
    if not outcome.invoices:
        report.lines.append("No job is to be invoiced.")
    if made and not dry_run:
        report.lines.append(f"Papers are in {folder}.")
    return report.close()


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
    anything stops in between, the next `invoice` makes the papers that are missing.

    \b
    Example:
      ledger-tools invoice shop-2025.xlsx
      ledger-tools invoice shop-2025.xlsx 25-0007 --out papers
    """
    folder = out or book.parent / "invoices"
    report = Report(as_json=as_json)
    with nullcontext() if dry_run else own_turn(book):
        return _issue(book, jobs, folder, today, report=report, dry_run=dry_run)
