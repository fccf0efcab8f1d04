"""A year of the invented shop: its book, all its invoices, four quarters and the year-end.

    python demo/run.py [FOLDER]

Every date is fixed and chance begins at a fixed number, so that the same book comes out every
time. The owner's part is typed into the book's cells; the rest is done by the commands
themselves.
"""

from __future__ import annotations

import shutil
import sys
from datetime import date
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo.months import Year
from demo.scenario import YEAR, month_end
from ledger_tools.book.locks import refuse_if_open
from ledger_tools.errors import LedgerError

BOOK = f"shop-{YEAR}.xlsx"
ESTIMATES = "estimates"
INVOICES = "invoices"
SUMMARIES = "summaries"
PICTURED = "Yard gate, bent by a bull"
"""The item whose job sheet and invoice are shown in the documentation."""
_MONTHS_A_QUARTER = 3


def main(out: Path) -> int:
    """Make the year in the folder `out`, tell where to look, and return the exit code."""
    try:
        _clear(out)
    except (LedgerError, OSError) as problem:
        print(f"What an earlier run made cannot be replaced. {problem}", file=sys.stderr)
        return 1
    print(f"A year of an invented shop, in {_shown(out)}", flush=True)
    print(_tour(out, live(out)))
    return 0


def live(out: Path) -> Year:
    """Live through the year, telling each month in a line, and return the shop at its end."""
    shop = Year(out / BOOK)
    shop.open_shop()
    for month in range(1, 13):
        first = date(YEAR, month, 1)
        print(shop.month(first), flush=True)
        if month % _MONTHS_A_QUARTER == 0:
            quarter = f"{YEAR}-Q{month // _MONTHS_A_QUARTER}"
            shop.tool("quarter", quarter, today=month_end(first))
    last = date(YEAR, 12, 31)
    shop.tool("estimate", today=last)
    shop.tool("year-end", str(YEAR), today=last)
    shop.tool("check", today=last)
    return shop


def _clear(out: Path) -> None:
    """Take away what an earlier run made, and nothing else."""
    out.mkdir(parents=True, exist_ok=True)
    refuse_if_open(out / BOOK)
    (out / BOOK).unlink(missing_ok=True)
    for folder in (ESTIMATES, INVOICES, SUMMARIES, f"shop-{YEAR}-backups"):
        if (out / folder).is_dir():
            shutil.rmtree(out / folder)


def _shown(path: Path) -> str:
    here = Path.cwd()
    return str(path.relative_to(here) if path.is_relative_to(here) else path)


def _tour(out: Path, shop: Year) -> str:
    """Return where to look and what to see there."""
    places = [
        (BOOK, "the shop book, as the year left it"),
        ("  Start", "how a job goes through the book, and the shop's own words"),
        ("  Jobs", "one row a job; the last rows are in work, halted, estimated or enquiries"),
        (
            f"  {shop.job_of(PICTURED)}",
            "a gate: over its estimate, rework and teaching not billed, sublets",
        ),
        (
            f"  {shop.job_of('Screen deck frame')}",
            "met its ceiling: 'invoice' refused it until more was authorised",
        ),
        (
            f"  {shop.job_of('Lathe apron housing, come back')}",
            "a weld that opened again: warranty, nothing billed",
        ),
        ("  Authorisations", "each time a customer said what may be billed"),
        ("  Options", "repair or replace: one still to be chosen, one chosen against advice"),
        ("  Payments", "in parts, late, at the counter; Customers shows who owes what"),
        ("  Rates, Taxes", "dearer welding from July; an invented district tax from April"),
        (
            f"{INVOICES}/",
            f"{len(shop.till.billed)} invoices, each as PDF and as print-ready workbook",
        ),
        (f"{ESTIMATES}/", "for the jobs that wait for a yes; the sheet Estimates keeps them"),
        (f"{SUMMARIES}/", "four quarters and the year-end: live formulas, charts, a sheet Checks"),
    ]
    wide = max(len(place) for place, _ in places)
    return "\n".join(
        [
            "",
            f"Where to look in {_shown(out)}",
            *(f"  {place:<{wide}}  {what}" for place, what in places),
            "",
            "The tax rates are examples: check yours with your authority. Everyone is invented.",
            "Change a figure in the book, save it, close it, then:",
            f"  {_python()} -m ledger_tools recompute {_shown(out / BOOK)}",
        ]
    )


def _python() -> str:
    """Return the Python that has the tools, as it is typed here."""
    return _shown(Path(sys.executable))


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1] if sys.argv[1:] else Path(__file__).parent / "out").resolve()))
