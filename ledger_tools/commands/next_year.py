"""`next-year`: open the new year's book."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.commands import options
from ledger_tools.commands.report import Report, counted, job_json
from ledger_tools.commands.session import open_session
from ledger_tools.errors import FileInTheWayError
from ledger_tools.shop.carry import Compared

_SHORT = 130


@click.command(name="next-year")
@options.book
@click.argument("new_book", type=click.Path(dir_okay=False, path_type=Path), metavar="NEWBOOK")
@click.option(
    "--year",
    type=click.IntRange(1901, 9998),
    metavar="YEAR",
    help="Calendar year the new financial year begins in.  [default: the one nearest to today]",
)
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    new_book: Path,
    year: int | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Open the new year's book from the old one, which stays as it is.

    Taken over are settings, rates, repairs, materials, taxes, customers, jobs not yet billed with
    their sheets, estimates and authorisations, invoices not yet settled with their payments, and
    the last numbers. A comparison of both books is printed; where they differ, no book is made.

    \b
    Example:
      ledger-tools next-year shop-2025.xlsx shop-2026.xlsx
    """
    from ledger_tools.book.next_year import open_next_year
    from ledger_tools.book.save import refuse_changed, save_new
    from ledger_tools.book.whole import is_there

    if new_book.suffix.casefold() != ".xlsx":
        raise click.BadParameter(f"'{new_book}' does not end in .xlsx", param_hint="NEWBOOK")
    if is_there(new_book):
        raise FileInTheWayError(
            str(new_book), "the file is there already", "Choose another name, or move it away"
        )
    session = open_session(book)
    made = open_next_year(session.read, new_book.name, as_of=today, year=year)
    if made.content and not dry_run:
        refuse_changed(book, session.read.content)
        save_new(new_book, made.content)
    outcome = made.outcome
    digits = outcome.book.settings.digits
    verb = "Would open" if dry_run else "Opened"
    jobs = counted(sum(bool(job.number) for job in outcome.book.jobs), "open job")
    invoices = counted(len(outcome.book.invoices), "invoice")
    said = [f"{verb} {new_book} for {made.year}: {jobs}, {invoices} carried over."]
    said += [f"{c.what}: {_brief(c)}" for c in made.checks]
    return Report(
        as_json=as_json,
        said={
            "jobs": [job_json(r, digits) for r in outcome.results.values() if made.content],
            "checks": [{"what": c.what, "old": c.old, "new": c.new} for c in made.checks],
        },
        findings=list(made.findings),
        files=[new_book] if made.content else [],
        lines=said if made.content else ["No book was made."],
    ).close()


def _brief(check: Compared) -> str:
    """Return what both books say, where it is short."""
    if not check.same:
        return "NOT the same in both books"
    told = f"{check.old}, " if 0 < len(check.old) <= _SHORT else ""
    return f"{told}the same in both books"
