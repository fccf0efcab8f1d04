"""`estimate`: write estimates for the jobs that wait for the customer's yes."""

from collections.abc import Mapping
from contextlib import nullcontext
from datetime import date
from pathlib import Path

import click

from ledger_tools.book.work import Outcome, work_out
from ledger_tools.commands import options
from ledger_tools.commands.papers import (
    left_over,
    make_papers,
    own_turn,
    refuse_sent_before,
    refuse_unknown,
    save_noted,
    say_late,
)
from ledger_tools.commands.report import Report, paper_json
from ledger_tools.commands.session import open_session
from ledger_tools.shop.guarantee import law_for
from ledger_tools.shop.model import Customer, ShopBook
from ledger_tools.shop.options import offers_of
from ledger_tools.shop.promise import Promised, write_estimates
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Snapshot


def _worked_out(
    book: Path, snapshot: Snapshot, today: date, jobs: tuple[str, ...], valid: int | None
) -> Outcome:
    from ledger_tools.documents.figures import locale_of
    from ledger_tools.documents.fingerprint import fingerprint
    from ledger_tools.documents.terms import Grounds, estimate_terms
    from ledger_tools.documents.texts import (
        ESTIMATE_LABELS,
        OPTION_LABELS,
        estimate_wording,
        text_findings,
        with_basis,
    )
    from ledger_tools.settings import load_texts

    def promise(results: Mapping[str, JobResult], shop: ShopBook) -> Promised:
        texts = load_texts(shop.settings.language, book.parent)
        locale_of(shop.settings.locale)  # once frozen, a wrong one could not be printed

        def wording(customer: Customer, result: JobResult) -> Mapping[str, str]:
            taxed = any(tax.base and tax.rate for tax in result.estimate_taxes)
            offers = offers_of(result, shop)
            law = law_for(result.job.object_class, shop.as_of, shop)
            terms = estimate_terms(shop.settings, texts, Grounds(result.job, law, taxed=taxed))
            words = with_basis(
                estimate_wording(shop.settings, customer, texts, taxed=taxed, offers=offers),
                result.job.basis,
                texts,
            )
            return words | terms

        promised = write_estimates(
            results, shop, wording, named=jobs, valid_days=valid, fingerprint=fingerprint()
        )
        offering = any(estimate.offers for estimate in promised.new)
        needed = (*ESTIMATE_LABELS, *OPTION_LABELS) if offering else ESTIMATE_LABELS
        lacking = text_findings(shop.settings.language, texts, needed)
        return promised._replace(findings=(*promised.findings, *lacking))

    return work_out(snapshot, as_of=today, promise=promise)


def _say(outcome: Outcome, made: Mapping[str, list[Path]], report: Report, verb: str) -> None:
    """Say which estimates are new, which are printed again, and which files there are."""
    from ledger_tools.documents.paper import paper_findings

    for number in (*outcome.estimates, *outcome.again):
        estimate = outcome.book.estimates[number]
        report.findings += paper_findings(estimate)
        report.said["estimates"].append(paper_json(estimate, made.get(number, ())))
        new = number in outcome.estimates
        report.lines.append(
            f"{verb} estimate {number}{'' if new else ' again, nothing in it changed'}: "
            f"{estimate.customer}, {estimate.total} {estimate.currency}, valid until "
            f"{estimate.valid_until}"
        )
    if not (outcome.estimates or outcome.again):
        report.lines.append("No job needs a new estimate.")
    report.files += [file for files in made.values() for file in files]


def _write(
    book: Path,
    jobs: tuple[str, ...],
    folder: Path,
    today: date,
    valid: int | None,
    *,
    report: Report,
    dry_run: bool,
) -> int:
    """Write the revisions into the book, save, make the papers, and say so."""
    from ledger_tools.documents.names import paper_files
    from ledger_tools.documents.pending import note_pending, pending

    session = open_session(book)
    outcome = _worked_out(book, session.snapshot, today, jobs, valid)
    refuse_unknown(jobs, outcome)
    left, there = pending(book), outcome.book.estimates
    new = [there[number] for number in outcome.estimates if number not in left]
    refuse_sent_before(new, folder, "Take the newest of its backups")
    numbers = (*outcome.estimates, *outcome.again)
    late = left_over(left, there, numbers, folder)
    papers = [*(there[number] for number in numbers), *late]
    report.findings += outcome.findings
    report.said["estimates"] = []
    if outcome.estimates:
        report.files.append(book)
    if late:
        say_late(late, report)
    if dry_run:
        made = {e.number: paper_files(e, folder) for e in papers}
    else:
        save_noted(session, outcome, outcome.estimates, left)
        made = make_papers(papers, folder, report, "estimate")
        if len(made) == len(papers):
            note_pending(book, (number for number in left if number in outcome.book.invoices))
    _say(outcome, made, report, "Would write" if dry_run else "Wrote")
    if made and not dry_run:
        report.lines.append(f"Papers are in {folder}.")
    return report.close()


@click.command(name="estimate")
@options.book
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@click.option(
    "--valid",
    type=click.IntRange(1, 999),
    metavar="DAYS",
    help="Days a new estimate can be accepted as it is.  [default: as Start says]",
)
@options.out("estimates")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    jobs: tuple[str, ...],
    valid: int | None,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Write an estimate for every job in state 'estimated', or for the jobs named.

    Each goes out as PDF and .xlsx, numbered by job and revision: 25-0007/1. Where the lines, the
    item or the customer changed, the next revision is written and the old ones stay; where
    nothing changed, nothing is written. For a job that is named and did not change, the last
    revision is printed again, byte for byte; one that ran out unaccepted gets a new date.

    The revision is saved in the book first, the papers are made second: if anything stops in
    between, the next `estimate` makes the papers that are missing.

    When the customer accepts, type the day, who and how in the sheet Estimates: `recompute`
    writes the job's first authorisation from it. Options of the job in the sheet Options are
    printed side by side; then type the letter of the one that was chosen, too.

    \b
    Example:
      ledger-tools estimate shop-2025.xlsx
      ledger-tools estimate shop-2025.xlsx 25-0007 --valid 14
    """
    folder = out or book.parent / "estimates"
    report = Report(as_json=as_json)
    with nullcontext() if dry_run else own_turn(book):
        return _write(book, jobs, folder, today, valid, report=report, dry_run=dry_run)
