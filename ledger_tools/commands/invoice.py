"""`invoice`: issue invoices for the jobs that are to be billed."""

from collections.abc import Mapping
from contextlib import ExitStack, nullcontext
from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.commands import options
from ledger_tools.commands.report import Report, invoice_json, with_progress
from ledger_tools.commands.session import Session, open_session
from ledger_tools.errors import (
    BookChangedError,
    BookLockedError,
    FileInTheWayError,
    Finding,
    LedgerError,
    RequestError,
    Severity,
)
from ledger_tools.shop.issue import Issued, issue_invoices
from ledger_tools.shop.model import Customer, Job, ShopBook
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Snapshot


def _worked_out(book: Path, snapshot: Snapshot, today: date, jobs: tuple[str, ...]) -> Outcome:
    from ledger_tools.documents.figures import locale_of
    from ledger_tools.documents.fingerprint import fingerprint
    from ledger_tools.documents.texts import invoice_wording, text_findings
    from ledger_tools.settings import load_texts

    def issue(results: Mapping[str, JobResult], shop: ShopBook) -> Issued:
        texts = load_texts(shop.settings.language, book.parent)
        locale_of(shop.settings.locale)  # once frozen, a wrong one could not be printed

        def wording(customer: Customer, job: Job) -> Mapping[str, str]:
            del job
            return invoice_wording(shop.settings, customer, texts)

        issued = issue_invoices(results, shop, wording, named=jobs, fingerprint=fingerprint())
        lacking = text_findings(shop.settings.language, texts)
        return issued._replace(findings=(*issued.findings, *lacking))

    return work_out(snapshot, as_of=today, issue=issue)


def _refuse_unknown(jobs: tuple[str, ...], outcome: Outcome) -> None:
    known = {job.number for job in outcome.book.jobs}
    unknown = [job for job in jobs if job not in known]
    if unknown and outcome.sound:
        raise RequestError(
            "", f"there is no job {', '.join(unknown)}", "Give numbers as they stand in Jobs"
        )


def _refuse_sent_before(outcome: Outcome, folder: Path, left: tuple[str, ...]) -> None:
    """Refuse to give a number anew whose papers are there: the book may be an older copy."""
    from ledger_tools.documents.names import invoice_files

    new = (number for number in outcome.invoices if number not in left)
    sent = [n for n in new if any(file.exists() for file in invoice_files(n, folder))]
    if sent:
        raise FileInTheWayError(
            str(folder),
            f"the papers of {', '.join(sent)} are there already, so these numbers went out once: "
            "perhaps the book was taken from a backup",
            "Raise 'Last invoice' on Start to the last number that went out, or move the papers "
            "away if they were never sent; nothing was issued",
        )


def _left_over(numbers: tuple[str, ...], outcome: Outcome, folder: Path) -> list[Invoice]:
    """Return the invoices issued before, among `numbers`, that lack a paper in the folder."""
    from ledger_tools.documents.names import invoice_files

    issued = outcome.book.invoices
    before = [issued[n] for n in numbers if n in issued and n not in outcome.invoices]
    return [i for i in before if not all(f.exists() for f in invoice_files(i.number, folder))]


def _save(session: Session, outcome: Outcome, left: tuple[str, ...]) -> None:
    """Save the book with its new numbers, whose papers are noted first as still to be made."""
    from ledger_tools.documents.pending import note_pending

    if outcome.invoices:
        note_pending(session.path, (*left, *outcome.invoices))
    try:
        session.save(outcome)
    except (BookLockedError, BookChangedError):
        note_pending(session.path, left)  # these two say for certain that nothing was issued
        raise


def _make(papers: list[Invoice], folder: Path, report: Report) -> dict[str, list[Path]]:
    """Write papers until one cannot be written, and return the files of each invoice."""
    from ledger_tools.documents.store import write_invoice

    made: dict[str, list[Path]] = {}
    for invoice in with_progress(papers, "Papers"):
        try:
            made[invoice.number] = write_invoice(invoice, folder)
        except LedgerError as problem:
            left = ", ".join(i.number for i in papers if i.number not in made)
            report.findings.append(
                Finding(
                    Severity.ERROR,
                    "papers-not-made",
                    f"The papers of {left} are not made: {problem.what}",
                    f"{problem.remedy}. The numbers are saved in the book; run invoice again "
                    "and it makes the papers",
                    problem.where,
                )
            )
            break
    return made


def _say_late(late: list[Invoice], report: Report) -> None:
    numbers = ", ".join(i.number for i in late)
    report.findings.append(
        Finding(
            Severity.NOTE,
            "papers-late",
            f"{numbers}: an earlier run was cut off before these papers were made",
            "None needed: they are made now",
        )
    )


def _say(outcome: Outcome, made: Mapping[str, list[Path]], report: Report, verb: str) -> None:
    """Say which invoices are new and which files there are."""
    from ledger_tools.documents.paper import paper_findings

    for number in outcome.invoices:
        invoice = outcome.book.invoices[number]
        report.findings += paper_findings(invoice)
        report.said["invoices"].append(invoice_json(invoice, made.get(number, ())))
        report.lines.append(
            f"{verb} {number} for job {invoice.job}, {invoice.customer}: "
            f"{invoice.total} {invoice.currency}"
        )
    report.files += [file for files in made.values() for file in files]


def _own_turn(book: Path) -> ExitStack:
    """Hold the papers of the book alone among these tools, to be given back."""
    from ledger_tools.book.turns import turn
    from ledger_tools.documents.pending import note_of

    held = ExitStack()
    try:
        held.enter_context(turn(note_of(book), named=book.name))
    except OSError as error:
        raise FileInTheWayError(
            book.name,
            f"its folder cannot be written ({error.strerror or error})",
            "Check that you may write there; nothing was issued",
        ) from error
    return held


def _issue(
    book: Path, jobs: tuple[str, ...], folder: Path, today: date, *, report: Report, dry_run: bool
) -> int:
    """Issue, save, make the papers, and say so."""
    from ledger_tools.documents.names import invoice_files
    from ledger_tools.documents.pending import forget_pending, pending

    session = open_session(book)
    outcome = _worked_out(book, session.snapshot, today, jobs)
    _refuse_unknown(jobs, outcome)
    left = pending(book)
    _refuse_sent_before(outcome, folder, left)
    late = _left_over(left, outcome, folder)
    papers = [*(outcome.book.invoices[number] for number in outcome.invoices), *late]
    report.findings += outcome.findings
    report.said["invoices"] = []
    if outcome.invoices:
        report.files.append(book)
    if late:
        _say_late(late, report)
    if dry_run:
        made = {i.number: invoice_files(i.number, folder) for i in papers}
    else:
        _save(session, outcome, left)
        made = _make(papers, folder, report)
        if len(made) == len(papers):
            forget_pending(book)
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
    with nullcontext() if dry_run else _own_turn(book):
        return _issue(book, jobs, folder, today, report=report, dry_run=dry_run)
