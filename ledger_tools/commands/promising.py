"""What `estimate` and `extra-work` share: the revision in the book first, its papers second."""

from collections.abc import Mapping
from datetime import date
from pathlib import Path

import click

from ledger_tools.book.work import Outcome, Promise, work_out
from ledger_tools.commands.papers import Numbered, refuse_unknown, save_and_make
from ledger_tools.commands.report import Report, paper_json
from ledger_tools.commands.session import open_session
from ledger_tools.shop.model import ShopBook

valid_days = click.option(
    "--valid",
    type=click.IntRange(1, 999),
    metavar="DAYS",
    help="Days a new paper can be accepted as it is.  [default: as Start says]",
)


def texts_of(shop: ShopBook, book: Path) -> Mapping[str, str]:
    """Return the words of papers in the shop's language; refuse a locale that cannot be used."""
    from ledger_tools.documents.figures import locale_of
    from ledger_tools.settings import load_texts

    locale_of(shop.settings.locale)  # once frozen, a wrong one could not be printed
    return load_texts(shop.settings.language, book.parent)


def write_promised(
    book: Path,
    promise: Promise,
    folder: Path,
    today: date,
    *,
    jobs: tuple[str, ...],
    report: Report,
    verb: str,
    none: str,
    dry_run: bool,
) -> int:
    """Write the revisions into the book, save, make the papers, and say so.

    Args:
        book: The file.
        promise: Gives the revisions.
        folder: Where papers go.
        today: Their day.
        jobs: Job numbers that were named.
        report: Where all is said.
        verb: The verb as typed.
        none: What is said where there is no paper.
        dry_run: Whether nothing is written.
    """
    session = open_session(book)
    outcome = work_out(session.snapshot, as_of=today, promise=promise)
    refuse_unknown(jobs, outcome)
    report.said["estimates"] = []
    there = outcome.book.estimates
    run = Numbered(session, outcome, there, outcome.estimates, outcome.again, folder)
    raised = "Take the newest of its backups"
    made = save_and_make(run, report, verb, raised=raised, dry_run=dry_run)
    _say(outcome, made, report, "Would write" if dry_run else "Wrote")
    if not (outcome.estimates or outcome.again):
        report.lines.append(none)
    if made and not dry_run:
        report.lines.append(f"Papers are in {folder}.")
    return report.close()


def _say(outcome: Outcome, made: Mapping[str, list[Path]], report: Report, verb: str) -> None:
    """Say which papers are new, which are printed again, and which files there are."""
    from ledger_tools.documents.paper import called, paper_findings

    for number in (*outcome.estimates, *outcome.again):
        paper = outcome.book.estimates[number]
        report.findings += paper_findings(paper)
        report.said["estimates"].append(paper_json(paper, made.get(number, ())))
        new = number in outcome.estimates
        more = f", {paper.more} more than authorised" if paper.request else ""
        name = called(paper)
        report.lines.append(
            f"{verb} {name[0].lower()}{name[1:]}{'' if new else ' again, nothing in it changed'}: "
            f"{paper.customer}, {paper.total} {paper.currency}{more}, valid until "
            f"{paper.valid_until}"
        )
    report.files += [file for files in made.values() for file in files]
