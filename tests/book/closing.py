"""A shop at the end of its year: some jobs paid, some billed, some still in work."""

from pathlib import Path

from ledger_tools.book.archive import Archiving, archive_path, plan_archive, save_archive
from ledger_tools.book.layout import PAYMENTS_TABLE
from ledger_tools.book.reader import read_book
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.results import INVOICED
from tests.book.scenario import whole_book
from tests.book.shop import Shop, Typed

PAID = ("25-0002", "25-0004", "25-0010")
"""Jobs that are paid in the book below; 25-0010 is paid too much."""
OWING = ("25-0008", "25-0011")


def year_end_shop(folder: Path) -> Shop:
    """Return a shop with a dozen jobs: three paid, two billed and not paid, the others open."""
    shop = whole_book(folder, "ca-qc", HourPolicy(6, "nearest", "job"), start=11)
    results = shop.check().results
    for job in PAID:
        if results[job].stands == INVOICED:
            pay(shop, results[job].invoice, results[job].balance)
    shop.recompute()
    return shop


def pay(shop: Shop, invoice: str, amount: Typed) -> None:
    """Type a payment in the next free row."""
    grid = shop.grid(PAYMENTS_TABLE)
    there = shop.sheet(grid.sheet).values
    last = max((r for r, c in there if c == grid.columns["amount"]), default=grid.header_row)
    shop.fill(
        PAYMENTS_TABLE, last + 1 - grid.header_row, day=shop.today, invoice=invoice, amount=amount
    )


def archive(shop: Shop, *named: str, anyway: bool = False) -> Archiving:
    """Archive jobs and save both books."""
    read = read_book(shop.path)
    beside = archive_path(shop.path)
    archiving = plan_archive(read, beside, as_of=shop.today, named=named, anyway=anyway)
    if archiving.book:
        save_archive(shop.path, read, beside, archiving)
    return archiving
