"""The quarter's summary workbook: one page of figures, the rows behind them, and the checks."""

from datetime import date
from decimal import Decimal

from xlsxwriter.worksheet import Worksheet

from ledger_tools.billing.periods import Period
from ledger_tools.billing.receivables import BUCKETS
from ledger_tools.billing.summaries import PeriodSummary, summarise
from ledger_tools.book.look import STEEL, money_format
from ledger_tools.documents.blocks import Block, Formula
from ledger_tools.documents.charts import BARS, COLUMNS, STACKED, Frame, Series, draw
from ledger_tools.documents.pack import Pack
from ledger_tools.documents.period_blocks import (
    age_block,
    during,
    income_block,
    roll_forward_block,
    sum_in,
    tax_block,
)
from ledger_tools.documents.period_checks import (
    Check,
    checks_sheet,
    register_checks,
    worked_minutes_check,
)
from ledger_tools.documents.period_details import details, jobs_detail, receipts_of, registers
from ledger_tools.documents.period_front import (
    BELOW_HEAD,
    HALF_WIDTH,
    LEFT,
    LEFT_END,
    RIGHT,
    RIGHT_END,
    WIDTHS,
    head,
    strip,
)
from ledger_tools.documents.work_blocks import (
    not_billed_block,
    repair_amounts_block,
    repair_minutes_block,
    sublet_block,
)
from ledger_tools.shop.model import ShopBook

SHEET = "Quarter"
_AGE_WIDTH = 231
_CHART_ROWS = 14
_ROW_PIXELS = 19
_TALLEST_PAGE = 84
"""Rows that still print well on one page; more run on to a second."""


def quarter_workbook(book: ShopBook, period: Period, *, today: date | None = None) -> bytes:
    """Return the summary workbook of `period`, the same bytes for the same book and day.

    Args:
        book: The shop book.
        period: The quarter.
        today: Debts are aged on this day while the period still runs; the book's as-of day
            if not given.
    """
    receipts = receipts_of(book)
    summary = summarise(period, book.invoices.values(), receipts, today=today or book.as_of)
    rows = registers(book, summary)
    pack = Pack(f"Quarter {period.name}", settings=book.settings, day=period.last)
    checks = [
        *register_checks(pack, book, summary, rows),
        worked_minutes_check(rows),
        _income_check(pack, summary),
    ]
    _front(pack, book, summary, checks)
    for detail in (*details(book, summary, rows), jobs_detail(book, summary, rows)):
        pack.detail(detail, back=SHEET)
    checks_sheet(pack, checks, back=SHEET)
    return pack.finish()


def _income_check(pack: Pack, summary: PeriodSummary) -> Check:
    total = f"{SHEET}!$E${BELOW_HEAD + 2 + len(summary.income)}"
    return Check(
        "Income by kind and month is the net",
        "Table on the front sheet, against net of the invoices",
        Formula(total, sum((kind.total for kind in summary.income), Decimal(0))),
        Formula(sum_in(pack, "Invoices[Net]", during("Invoices[Date]")), summary.net),
        where="Lines: a kind of line that is not on the front sheet",
    )


def _front(pack: Pack, book: ShopBook, summary: PeriodSummary, checks: list[Check]) -> None:
    sheet = pack.sheet(SHEET, WIDTHS)
    head(pack, sheet, book, summary, checks)
    strip(pack, sheet, summary)
    income = income_block(pack, summary, col=LEFT)
    income_rows = pack.block(sheet, income, BELOW_HEAD)
    _income_chart(pack, sheet, summary, income_rows)
    row = BELOW_HEAD + income.height() + 2
    row, (age_rows, *_) = _pair(
        pack,
        sheet,
        row,
        [
            tax_block(pack, summary.taxes, cols=(1, 2, 4, 5), last_col=LEFT_END),
            roll_forward_block(pack, summary, cols=(LEFT, LEFT_END)),
        ],
        [age_block(pack, summary, cols=(7, 10, 11), last_col=RIGHT_END)],
    )
    row, (idle_rows, *_) = _pair(
        pack,
        sheet,
        row,
        [sublet_block(pack, summary.sublets, cols=(1, 2, 3, 4, 5), last_col=LEFT_END)],
        [not_billed_block(pack, summary.not_billed, cols=(7, 10, 11), last_col=RIGHT_END)],
    )
    names = {repair.code: repair.name for repair in book.catalogue.repairs}
    repairs = repair_minutes_block(pack, summary, cols=(1, 2, 3, 4, 5))
    repair_rows = pack.block(sheet, repairs, row)
    if summary.repairs:
        amounts = repair_amounts_block(pack, summary, names, cols=(7, 9, 10, 11), key_col=1)
        pack.block(sheet, amounts, row)
    last = row + repairs.height() - 1
    if summary.invoices:
        _lower_charts(pack, sheet, summary, (repair_rows, age_rows, idle_rows), last + 2)
        last += 1 + _CHART_ROWS
    sheet.print_area(0, 0, last, RIGHT_END - 1)
    if last <= _TALLEST_PAGE:
        sheet.fit_to_pages(1, 1)
    sheet.activate()


def _pair(
    pack: Pack, sheet: Worksheet, row: int, left: list[Block], right: list[Block]
) -> tuple[int, list[tuple[int, int]]]:
    """Draw blocks in two columns; return where the next may begin, and rows of the right ones."""
    ends = []
    drawn: list[tuple[int, int]] = []
    for column in (left, right):
        at = row
        drawn = []
        for block in column:
            drawn.append(pack.block(sheet, block, at))
            at += block.height() + 1
        ends.append(at)
    return max(ends), drawn


def _income_chart(
    pack: Pack, sheet: Worksheet, summary: PeriodSummary, rows: tuple[int, int]
) -> None:
    """Draw income by month, stacked by kind, from the rows of its block."""
    months = len(summary.period.months())
    head = rows[0] - 1
    series = [
        Series((row, 1), (head, 2, head, 1 + months), (row, 2, row, 1 + months))
        for row, kind in enumerate(summary.income, rows[0])
        if any(kind.by_month)
    ]
    if series:
        draw(
            pack,
            sheet,
            kind=STACKED,
            title=f"Net income by month, {pack.currency}",
            series=series,
            frame=Frame(BELOW_HEAD, RIGHT, HALF_WIDTH, 10 * _ROW_PIXELS),
            number_format=money_format(0),
            category_format="mmm yyyy",
        )
    else:
        said = "Nothing was invoiced in this quarter."
        pack.put(sheet, BELOW_HEAD, RIGHT, said, pack.style(font_color=STEEL))


def _lower_charts(
    pack: Pack,
    sheet: Worksheet,
    summary: PeriodSummary,
    rows: tuple[tuple[int, int], tuple[int, int], tuple[int, int]],
    top: int,
) -> None:
    """Draw minutes by repair type, debts by age and work not billed, from their blocks' rows."""
    (first, last), (age, _), (idle, idle_last) = rows
    codes = (first, LEFT, last, LEFT)
    buckets = (age, RIGHT, age + len(BUCKETS) - 1, RIGHT)
    height = _CHART_ROWS * _ROW_PIXELS
    draw(
        pack,
        sheet,
        kind=COLUMNS,
        title="Minutes by repair type",
        series=[
            Series("Estimated", codes, (first, 3, last, 3)),
            Series("Worked", codes, (first, 4, last, 4)),
        ],
        frame=Frame(top, LEFT, HALF_WIDTH, height),
        number_format="#,##0",
    )
    draw(
        pack,
        sheet,
        kind=COLUMNS,
        title=f"Owed by age, {pack.currency}",
        series=[Series("Owing", buckets, (age, RIGHT_END, buckets[2], RIGHT_END))],
        frame=Frame(top, RIGHT, _AGE_WIDTH, height),
        number_format=money_format(0),
    )
    if summary.not_billed:
        _idle_chart(pack, sheet, top, (idle, idle_last))


def _idle_chart(pack: Pack, sheet: Worksheet, top: int, rows: tuple[int, int]) -> None:
    first, last = rows
    reasons = (first, RIGHT, last, RIGHT)
    draw(
        pack,
        sheet,
        kind=BARS,
        title=f"Value not billed, {pack.currency}",
        series=[Series("Value", reasons, (first, RIGHT_END, last, RIGHT_END))],
        frame=Frame(
            top, RIGHT, HALF_WIDTH - _AGE_WIDTH, _CHART_ROWS * _ROW_PIXELS, right=_AGE_WIDTH
        ),
        number_format=money_format(0),
    )
