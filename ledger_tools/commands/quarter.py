"""`quarter`: sum up a quarter in a workbook."""

from datetime import date
from pathlib import Path

import click

from ledger_tools.billing.periods import period_from
from ledger_tools.commands import options
from ledger_tools.commands.summary import Summary, write_summary
from ledger_tools.shop.model import ShopBook


@click.command(name="quarter")
@options.book
@click.argument("period", metavar="QUARTER")
@options.out("summaries")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    period: str,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Sum up a quarter of the financial year, such as 2025-Q3, in a workbook of its own.

    \b
    Example:
      ledger-tools quarter shop-2025.xlsx 2025-Q3
    """

    def summed(shop: ShopBook) -> Summary:
        from ledger_tools.documents.quarter import quarter_workbook

        chosen = period_from(period, first_month=shop.settings.first_month)
        return f"quarter-{chosen.name}.xlsx", lambda: quarter_workbook(shop, chosen)

    return write_summary(book, summed, out=out, today=today, dry_run=dry_run, as_json=as_json)
