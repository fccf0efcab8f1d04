"""Accepted estimates in a book: the authorisations they become, and what is said of them."""

from collections.abc import Mapping

from ledger_tools.book.parse import Parsed
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE, ESTIMATES_TABLE
from ledger_tools.errors import Severity
from ledger_tools.shop.acceptance import WRITTEN, settle_acceptances
from ledger_tools.shop.declined import worked_though_declined
from ledger_tools.shop.model import Authorisation, ShopBook
from ledger_tools.shop.options import with_choices
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import Scalar


def say_acceptances(parsed: Parsed, book: ShopBook) -> tuple[tuple[Authorisation, ...], ShopBook]:
    """Return the authorisations to be written and the book with the choices made.

    What the acceptances give rise to is noted.
    """
    if not book.estimates:
        return (), book
    settled = settle_acceptances(book)
    grid = parsed.places.grid(ESTIMATES_TABLE)
    rows = _rows(parsed)
    for number, said in settled.findings:
        parsed.gathered.add(
            said.severity, said.code, said.what, said.remedy,
            sheet=grid.sheet, place=(rows[number], grid.columns[_beside(said.code)]), job=said.job,
            passing=said.code == WRITTEN,
        )  # fmt: skip
    return settled.given, with_choices(book, settled.chosen)


def _beside(code: str) -> str:
    """Return the column that what is said of a paper is about."""
    return {"declined-before": "declined_on", "extra-work-waits": "stands"}.get(
        code, "accepted_on"
    )


def say_declined(parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult]) -> None:
    """Warn of work that goes on though it was declined, where it was declined."""
    for number, said in worked_though_declined(results, book):
        row = _rows(parsed)[number]
        grid = parsed.places.grid(ESTIMATES_TABLE)
        parsed.gathered.add(
            said.severity, said.code, said.what, said.remedy,
            sheet=grid.sheet, place=(row, grid.columns["declined_on"]), job=said.job,
        )  # fmt: skip


def _rows(parsed: Parsed) -> dict[Scalar, int]:
    """Return the row of every paper in the register of estimates, by number."""
    grid = parsed.places.grid(ESTIMATES_TABLE)
    sheet = next(s for s in parsed.snapshot.sheets if s.name == grid.sheet)
    col = grid.columns["number"]
    return {sheet.values.get((row, col)): row for row in reversed(grid.rows)}


def registers_sound(parsed: Parsed) -> bool:
    """Whether every row of the registers of estimates can be read or names the job it is of.

    Where one does not, a revision could be given twice.
    """
    grids = parsed.places.grids
    registers = (ESTIMATES_TABLE.table, ESTIMATE_LINES_TABLE.table)
    sheets = {grids[table].sheet for table in registers if table in grids}
    lost = [
        f
        for f in parsed.gathered.findings
        if f.severity is Severity.ERROR and f.sheet in sheets and not f.job
    ]
    if lost:
        parsed.gathered.add(
            Severity.ERROR, "nothing-estimated",
            "A row in the registers of estimates does not say what job it is of",
            "Mend it first; no estimate was written", sheet=lost[0].sheet, passing=True,
        )  # fmt: skip
    return not lost
