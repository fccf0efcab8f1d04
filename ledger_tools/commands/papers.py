"""What the verbs that print papers share: the book first, the papers second, none forgotten."""

from collections.abc import Collection, Mapping, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import NamedTuple

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.work import Outcome
from ledger_tools.commands.report import Report, with_progress
from ledger_tools.commands.session import Session
from ledger_tools.errors import (
    BookChangedError,
    BookLockedError,
    FileInTheWayError,
    Finding,
    LedgerError,
    RequestError,
    Severity,
)

_Paper = Invoice | Estimate


def refuse_unknown(jobs: tuple[str, ...], outcome: Outcome) -> None:
    """Refuse job numbers that the book does not have."""
    known = {job.number for job in outcome.book.jobs}
    unknown = [job for job in jobs if job not in known]
    if unknown and outcome.sound:
        raise RequestError(
            "", f"there is no job {', '.join(unknown)}", "Give numbers as they stand in Jobs"
        )


def refuse_sent_before(new: Sequence[Invoice | Estimate], folder: Path, raised: str) -> None:
    """Refuse to give a number anew whose papers are there: the book may be an older copy.

    Args:
        new: Papers whose numbers the book does not have yet.
        folder: Where papers go.
        raised: What to do where the papers did go out.
    """
    from ledger_tools.documents.names import paper_files

    sent = [p.number for p in new if any(file.exists() for file in paper_files(p, folder))]
    if sent:
        raise FileInTheWayError(
            str(folder),
            f"the papers of {', '.join(sent)} are there already, so these numbers went out once: "
            "perhaps the book was taken from a backup",
            f"{raised}, or move the papers away if they were never sent; nothing was issued",
        )


def own_turn(book: Path) -> ExitStack:
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


def left_over(
    numbers: tuple[str, ...], there: Mapping[str, _Paper], new: Collection[str], folder: Path
) -> list[_Paper]:
    """Return the papers given before, among `numbers`, of which a file lacks in the folder."""
    from ledger_tools.documents.names import paper_files

    before = [there[n] for n in numbers if n in there and n not in new]
    return [p for p in before if not all(f.exists() for f in paper_files(p, folder))]


def save_noted(
    session: Session, outcome: Outcome, new: tuple[str, ...], left: tuple[str, ...]
) -> None:
    """Save the book with its new numbers, whose papers are noted first as still to be made."""
    from ledger_tools.documents.pending import note_pending

    if new:
        note_pending(session.path, (*left, *new))
    try:
        session.save(outcome)
    except (BookLockedError, BookChangedError):
        note_pending(session.path, left)  # these two say for certain that nothing was issued
        raise


def make_papers(
    papers: Sequence[_Paper], folder: Path, report: Report, verb: str
) -> dict[str, list[Path]]:
    """Write papers until one cannot be written, and return the files of each by number."""
    from ledger_tools.documents.store import write_paper

    made: dict[str, list[Path]] = {}
    for paper in with_progress(papers, "Papers"):
        try:
            made[paper.number] = write_paper(paper, folder)
        except LedgerError as problem:
            left = ", ".join(p.number for p in papers if p.number not in made)
            report.findings.append(
                Finding(
                    Severity.ERROR,
                    "papers-not-made",
                    f"The papers of {left} are not made: {problem.what}",
                    f"{problem.remedy}. The numbers are saved in the book; run {verb} again "
                    "and it makes the papers",
                    problem.where,
                )
            )
            break
    return made


class Numbered(NamedTuple):
    """What a run gives numbers to, and where the papers go.

    Attributes:
        session: The open book.
        outcome: What it comes to.
        there: All papers of the register, the new ones among them, by number.
        new: Numbers that are new.
        again: Numbers of papers that are made again.
        folder: Where papers go.
    """

    session: Session
    outcome: Outcome
    there: Mapping[str, Invoice | Estimate]
    new: tuple[str, ...]
    again: tuple[str, ...]
    folder: Path


def save_and_make(
    run: Numbered, report: Report, verb: str, *, raised: str, dry_run: bool
) -> dict[str, list[Path]]:
    """Save the book with its new numbers, make their papers, and return their files by number.

    Args:
        run: What gets numbers.
        report: Where findings, late papers and the book are said.
        verb: The verb that makes papers that are left over.
        raised: What to do where a number went out before.
        dry_run: Whether nothing is written, and files are only named.
    """
    from ledger_tools.documents.names import paper_files
    from ledger_tools.documents.pending import note_pending, pending

    book, folder, there = run.session.path, run.folder, run.there
    left = pending(book)
    refuse_sent_before([there[n] for n in run.new if n not in left], folder, raised)
    numbers = (*run.new, *run.again)
    late = left_over(left, there, numbers, folder)
    papers = [*(there[number] for number in numbers), *late]
    report.findings += run.outcome.findings
    if run.new:
        report.files.append(book)
    if late:
        say_late(late, report)
    if dry_run:
        return {paper.number: paper_files(paper, folder) for paper in papers}
    save_noted(run.session, run.outcome, run.new, left)
    made = make_papers(papers, folder, report, verb)
    if len(made) == len(papers):
        issued = {*run.outcome.book.invoices, *run.outcome.book.estimates}
        note_pending(book, (n for n in left if n in issued and n not in there))
    return made


def say_late(late: Sequence[Invoice | Estimate], report: Report) -> None:
    """Say that an earlier run left papers to be made."""
    numbers = ", ".join(paper.number for paper in late)
    report.findings.append(
        Finding(
            Severity.NOTE,
            "papers-late",
            f"{numbers}: an earlier run was cut off before these papers were made",
            "None needed: they are made now",
        )
    )
