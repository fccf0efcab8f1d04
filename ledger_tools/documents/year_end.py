"""The year-end pack in its first form: four quarters, sales register, taxes, sublets, debts."""

import textwrap
from dataclasses import replace
from datetime import date
from decimal import Decimal

from xlsxwriter.worksheet import Worksheet

from ledger_tools.billing.periods import Period, financial_year, quarters_of
from ledger_tools.billing.summaries import PeriodSummary, summarise
from ledger_tools.book.look import INK, STEEL
from ledger_tools.documents.blocks import Detail, Formula
from ledger_tools.documents.pack import Pack, place_of
from ledger_tools.documents.period_blocks import (
    during,
    sum_in,
)
from ledger_tools.documents.period_checks import CHECKS, Check, checks_sheet, register_checks
from ledger_tools.documents.period_details import (
    details,
    receipts_of,
    registers,
)
from ledger_tools.documents.period_front import BELOW_HEAD, LEFT, RIGHT_END, WIDTHS, head, strip
from ledger_tools.documents.work_blocks import sublet_block
from ledger_tools.documents.year_quarters import SHEET as QUARTERS
from ledger_tools.documents.year_quarters import QuarterRows, quarter_charts, quarters_sheet
from ledger_tools.documents.year_receivables import SHEET as RECEIVABLES
from ledger_tools.documents.year_receivables import receivables_sheet
from ledger_tools.money import ZERO
from ledger_tools.shop.model import ShopBook

SHEET = "Year-end"
SUBLETS = "Sublets"
CONTENTS = (
    (
        QUARTERS,
        "Income, tax, money owed, sublet work and minutes of the four quarters and the year",
    ),
    (RECEIVABLES, "What was owed at the end of the year, by age and by invoice"),
    (SUBLETS, "Sublet work by vendor: billed, cost and margin"),
    ("Invoices", "Sales register: every invoice of the year, and older ones open when it began"),
    ("Lines", "Every line of the year's invoices"),
    ("Taxes", "Every tax of the year's invoices, with rate and taxable amount"),
    ("Payments", "Every payment of the year, and later ones on invoices open at its end"),
    (CHECKS, "Four quarters make the year, and the year ties to the register"),
)
NOT_IN_IT = (
    "Purchases, wages and other expenses, tools and machines: the book holds sales only.",
    "Tax paid to suppliers. Tax collected is shown as invoiced, not as a return.",
    "Work begun but not invoiced, and materials in stock.",
    "Bank and cash accounts: payments are those typed in the book, not those on a statement.",
    "Any decision on what is taxable: rates and rules are the book's; check with your authority.",
)
_SUBLET_WIDTHS = (30, 9, 13, 13, 13, 14)
_TOP = 5
LINE_LETTERS = 118


def year_end_workbook(book: ShopBook, year: int, *, today: date | None = None) -> bytes:
    """Return the year-end pack, the same bytes for the same book and day.

    Args:
        book: The shop book.
        year: Calendar year in which the financial year begins.
        today: Debts are aged on this day while the year still runs; the book's as-of day if
            not given.
    """
    first_month, day = book.settings.first_month, today or book.as_of
    receipts = receipts_of(book)

    def summed(period: Period) -> PeriodSummary:
        return summarise(period, book.invoices.values(), receipts, today=day)

    whole = summed(financial_year(year, first_month=first_month))
    quarters = tuple(summed(q) for q in quarters_of(year, first_month=first_month))
    rows = registers(book, whole, later_payments=True)
    pack = Pack(f"Year-end {whole.period.name}", settings=book.settings, day=whole.period.last)
    front = pack.sheet(SHEET, WIDTHS)
    placed = quarters_sheet(pack, quarters, whole, back=SHEET)
    listed = receivables_sheet(pack, whole, rows, back=SHEET)
    checks = [
        *register_checks(pack, book, whole, rows),
        *_quarter_checks(pack, quarters, whole, placed),
        listed,
    ]
    below = _cover(pack, front, book, whole, checks)
    if whole.invoices:
        quarter_charts(pack, front, whole, placed, top=below + 1)
    _sublets(pack, whole)
    for detail in details(book, whole, rows):
        pack.detail(_titled(detail), back=SHEET)
    checks_sheet(pack, checks, back=SHEET)
    return pack.finish()


def _titled(detail: Detail) -> Detail:
    if detail.layout.sheet != "Invoices":
        return detail
    return replace(detail, layout=detail.layout._replace(title="Sales register"))


def _cover(
    pack: Pack, sheet: Worksheet, book: ShopBook, year: PeriodSummary, checks: list[Check]
) -> int:
    """Draw the first page: figures, what is in the pack and what is not; return the row below."""
    head(pack, sheet, book, year, checks)
    strip(pack, sheet, year)
    row = _heading(pack, sheet, BELOW_HEAD, "What is in it")
    for name, says in CONTENTS:
        pack.put(sheet, row, LEFT, name, pack.style(bold=True), link=place_of(name))
        pack.put(sheet, row, LEFT + 1, says)
        row += 1
    row = _heading(pack, sheet, row + 1, "What is not in it")
    for says in NOT_IN_IT:
        pack.put(sheet, row, LEFT, says)
        row += 1
    row = _heading(pack, sheet, row + 1, "Tax rules of the book")
    profile = book.profile
    for says in (f"{profile.title}, {profile.version}", *profile.sources, profile.caution):
        for line in textwrap.wrap(says, LINE_LETTERS):
            pack.put(sheet, row, LEFT, line, pack.style(font_color=STEEL))
            row += 1
    sheet.fit_to_pages(1, 1)
    sheet.activate()
    return row


def _heading(pack: Pack, sheet: Worksheet, row: int, words: str) -> int:
    """Write a heading across the page; return the row below it."""
    ruled = pack.style(bold=True, bottom=1, bottom_color=INK)
    for col in range(LEFT, RIGHT_END + 1):
        pack.put(sheet, row, col, None, ruled)
    pack.put(sheet, row, LEFT, words, ruled)
    return row + 1


def _sublets(pack: Pack, year: PeriodSummary) -> None:
    sheet = pack.sheet(SUBLETS, _SUBLET_WIDTHS)
    says = f"Amounts in {pack.currency}, net. Margin is of lines whose cost is known."
    pack.heading(sheet, "Sublet work by vendor", says)
    pack.back(sheet, SHEET)
    block = sublet_block(pack, year.sublets, cols=(1, 2, 3, 4, 5, 6), last_col=6)
    pack.block(sheet, block, _TOP)


def _quarter_checks(
    pack: Pack, quarters: tuple[PeriodSummary, ...], year: PeriodSummary, at: QuarterRows
) -> list[Check]:
    """Return whether the four quarters make the year, and the year's end its balances."""
    dated, paid = during("Invoices[Date]"), during("Payments[Date]")

    def four(name: str, row: int | None, parts: list[Decimal], column: str, sign: str) -> Check:
        conditions = paid if column.startswith("Payments") else dated
        across = f"SUM({QUARTERS}!$C${row}:$F${row})" if row else "0"
        total = sum(parts, start=ZERO)
        return Check(
            f"Four quarters make the year: {name}",
            "Sum of the quarters, against the register of the year",
            Formula(pack.rounded(f"{sign}{across}"), total),
            Formula(sum_in(pack, column, conditions), _whole(year, column)),
            where=QUARTERS,
        )

    closing = f"{QUARTERS}!$F${at.closing}"
    return [
        four("net", at.net, [q.net for q in quarters], "Invoices[Net]", ""),
        four("tax", at.tax, [q.tax for q in quarters], "Invoices[Tax]", ""),
        four("with tax", at.invoiced, [q.total for q in quarters], "Invoices[Total]", ""),
        four(
            "payments",
            at.received,
            [q.roll_forward.received for q in quarters],
            "Payments[Amount]",
            "-",
        ),
        Check(
            "The last quarter ends as the year does",
            "Owed at the end of the fourth quarter, against the year's",
            Formula(closing, quarters[-1].roll_forward.closing),
            Formula(f"{QUARTERS}!$G${at.closing}", year.roll_forward.closing),
            where=QUARTERS,
        ),
    ]


def _whole(year: PeriodSummary, column: str) -> Decimal:
    return {
        "Invoices[Net]": year.net,
        "Invoices[Tax]": year.tax,
        "Invoices[Total]": year.total,
        "Payments[Amount]": year.roll_forward.received,
    }[column]
