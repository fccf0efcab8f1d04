"""`year-end`: sum up the year in a workbook."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.periods import year_from, year_of
from ledger_tools.commands import options
from ledger_tools.commands.summary import Summary, write_summary
from ledger_tools.shop.model import ShopBook


@click.command(name="year-end")
@options.book
@click.argument("year", required=False, metavar="[YEAR]")
@options.out("summaries")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    year: str | None,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Sum up a financial year in a workbook for the accountant: quarters, sales, sublet vendors.

    \b
    Example:
      ledger-tools year-end shop-2025.xlsx 2025
    """

    def summed(shop: ShopBook) -> Summary:
        from ledger_tools.documents.year_end import year_end_workbook

        first = shop.settings.first_month
        chosen = year_from(year, first_month=first) if year else year_of(today, first_month=first)
        return f"year-end-{chosen.name}.xlsx", lambda: year_end_workbook(shop, chosen.first.year)

    return write_summary(book, summed, out=out, today=today, dry_run=dry_run, as_json=as_json)
