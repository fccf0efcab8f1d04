"""`new`: make a shop book."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.commands import options
from ledger_tools.commands.report import Report
from ledger_tools.errors import FileInTheWayError


@click.command(name="new")
@click.argument("book", type=click.Path(dir_okay=False, path_type=Path), metavar="BOOK")
@click.option(
    "--tax",
    default="none",
    show_default=True,
    metavar="PROFILE",
    help="Tax profile: a file in config/taxes, such as none, us-ca, gb, ca-qc.",
)
@click.option(
    "--rules",
    default="strict",
    show_default=True,
    metavar="PLACE",
    help="Place whose rules say what may be billed above the authorised amount and what its law "
    "guarantees: a file in config/authorisation, such as strict, us-mi, us-fl, ca-on, gb, au.",
)
@options.today
@options.dry_run
@options.as_json
def command(*, book: Path, tax: str, rules: str, today: date, dry_run: bool, as_json: bool) -> int:
    """Make a new shop book from the shop's configuration.

    A folder `config` beside the book stands in for the shipped one, file by file.

    \b
    Example:
      ledger-tools new shop-2025.xlsx --tax us-ca
    """
    from ledger_tools.book.create import create_book
    from ledger_tools.book.save import save_new
    from ledger_tools.book.whole import is_there
    from ledger_tools.settings import load_seed

    if book.suffix.casefold() != ".xlsx":
        raise click.BadParameter(f"'{book}' does not end in .xlsx", param_hint="BOOK")
    if is_there(book):
        raise FileInTheWayError(
            str(book), "the file is there already", "Choose another name, or move it away first"
        )
    content = create_book(load_seed(tax, as_of=today, beside=book.parent, rules=rules))
    if not dry_run:
        save_new(book, content)
    return Report(
        as_json=as_json,
        files=[book],
        lines=[
            f"{'Would make' if dry_run else 'Made'} {book} with tax profile '{tax}'.",
            "Open it, fill in your shop on the sheet Start, and type your first job in Jobs.",
        ],
    ).close()
