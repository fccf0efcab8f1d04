"""What is to be said of options once all is worked out: choices against advice, odd prices."""

from collections.abc import Mapping

from ledger_tools.billing.offer import Choice
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.parse import Parsed
from ledger_tools.errors import Severity
from ledger_tools.money import plain
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.options import CLOSED, by_job, standing_of, weighed_options
from ledger_tools.shop.results import JobResult


def say_choices(parsed: Parsed, book: ShopBook) -> None:
    """Note every choice against advice of a job that is still open."""
    billed = {invoice.job.casefold() for invoice in book.invoices.values()}
    closed = {job.number.casefold() for job in book.jobs if job.state in CLOSED}
    for job, options in by_job(book).items():
        for option in options if job not in billed | closed else ():
            if standing_of(option, options) is Choice.AGAINST:
                grid = parsed.places.grid(OPTIONS_TABLE)
                advised = " and ".join(other.option for other in options if other.advised)
                parsed.gathered.add(
                    Severity.NOTE, "chosen-against-advice",
                    f"Job {option.job}: option {option.option} is chosen, {advised} was advised",
                    "", sheet=grid.sheet, place=(option.row, grid.columns["stands"]),
                    job=option.job,
                )  # fmt: skip


def say_sublets(parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult]) -> None:
    """Warn of options whose sublet part is more than they come to."""
    for row, weighed in weighed_options(book, results).items():
        sublet = weighed.option.sublet
        if sublet is not None and weighed.price is not None and sublet > weighed.price:
            grid = parsed.places.grid(OPTIONS_TABLE)
            parsed.gathered.add(
                Severity.WARNING, "option-sublet",
                f"{plain(sublet)} of sublet work is more than the price of {plain(weighed.price)}",
                "The sublet part is what other shops do of it, at the price the customer pays",
                sheet=grid.sheet, place=(row, grid.columns["sublet"]), job=weighed.option.job,
            )  # fmt: skip
