"""The four quarters of a year side by side, each figure a formula over the detail sheets."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal

from xlsxwriter.worksheet import Worksheet

from ledger_tools.billing.summaries import PeriodSummary
from ledger_tools.book.layout import Look
from ledger_tools.book.look import INK, STEEL, money_format
from ledger_tools.costing.lines import Kind
from ledger_tools.documents.blocks import Block, Content, Field, Formula
from ledger_tools.documents.charts import COLUMNS, STACKED, Frame, Series, draw
from ledger_tools.documents.pack import Pack
from ledger_tools.documents.period_blocks import (
    KIND_NAMES,
    NO_REASON,
    column_sum,
    during,
    keyed,
    sum_in,
)
from ledger_tools.documents.period_front import HALF_WIDTH, LEFT, RIGHT
from ledger_tools.money import ZERO
from ledger_tools.shop.snapshot import column_letters

SHEET = "Quarters"
_WIDTHS = (28, 9, 12.5, 12.5, 12.5, 12.5, 13.5)
_LABEL, _RATE, _YEAR = 1, 2, 7
_COLS = (3, 4, 5, 6, 7)
_NAMES_ROW, _FIRST_ROW, _LAST_ROW, _TOP = 5, 6, 7, 9
_CHART_HEIGHT = 300


@dataclass(frozen=True, slots=True)
class _Row:
    """One figure across quarters and year.

    Attributes:
        label: Words at its left, by which formulas find it.
        text: Formula for the column of these letters.
        value: What it comes to in a period.
        rate: Tax rate, where the row is for one.
    """

    label: str
    text: Callable[[str], str]
    value: Callable[[PeriodSummary], Decimal | int]
    rate: Decimal | None = None


@dataclass(frozen=True, slots=True)
class _Table:
    """Rows under one heading; `total` names their sum, which is left out where it is empty."""

    title: str
    rows: tuple[_Row, ...]
    link: str
    total: str = ""
    look: Look = Look.MONEY


@dataclass(frozen=True, slots=True)
class QuarterRows:
    """Rows on the sheet that checks refer to."""

    net: int
    tax: int | None
    invoiced: int
    received: int
    closing: int


def quarters_sheet(
    pack: Pack, quarters: tuple[PeriodSummary, ...], year: PeriodSummary, *, back: str
) -> QuarterRows:
    """Add the sheet `Quarters` and return where its totals stand."""
    sheet = pack.sheet(SHEET, _WIDTHS)
    pack.heading(sheet, "Four quarters side by side", f"Amounts in {pack.currency}.")
    pack.back(sheet, back)
    periods = (*quarters, year)
    _days(pack, sheet, periods)
    row = _TOP
    tops: dict[str, tuple[int, int]] = {}
    for table in _tables(pack, year):
        block = _block(pack, table, periods)
        tops[table.title] = pack.block(sheet, block, row)
        row += block.height() + 1
    income, owed = tops["Net income by kind"], tops["Owed, from start to end"]
    sheet.fit_to_pages(1, 1)
    return QuarterRows(
        net=income[1] + 1,
        tax=tops["Tax collected"][1] + 1 if year.taxes else None,
        invoiced=owed[0] + 1,
        received=owed[0] + 2,
        closing=owed[1] + 1,
    )


def _days(pack: Pack, sheet: Worksheet, periods: tuple[PeriodSummary, ...]) -> None:
    """Write the heads of the columns, with first and last day: formulas read these."""
    head = pack.style(bold=True, align="right", bottom=1, bottom_color=INK)
    for col in range(1, _YEAR + 1):
        pack.put(sheet, _NAMES_ROW, col, None, head)
    grey = pack.style(font_color=STEEL)
    pack.put(sheet, _FIRST_ROW, _LABEL, "From", grey)
    pack.put(sheet, _LAST_ROW, _LABEL, "To", grey)
    day = pack.figure_style(Look.DATE, align="right", font_color=STEEL)
    for col, summary in zip(_COLS, periods, strict=True):
        pack.put(sheet, _NAMES_ROW, col, summary.period.name, head)
        pack.put(sheet, _FIRST_ROW, col, summary.period.first, day)
        pack.put(sheet, _LAST_ROW, col, summary.period.last, day)


def _tables(pack: Pack, year: PeriodSummary) -> tuple[_Table, ...]:
    return (
        _Table("Net income by kind", _income(pack), "Lines", total="Net"),
        _Table("Tax collected", _taxes(pack, year, "Amount"), "Taxes", total="Tax"),
        _Table("Taxable amounts", _taxes(pack, year, "Taxable amount"), "Taxes"),
        _Table("Owed, from start to end", _owed(pack), "Payments", total="At the end"),
        _Table("Sublet work", _sublets(pack), "Sublets"),
        _Table("Value not billed, by reason", _reasons(pack, year), "Lines", total="Total"),
        _Table("Invoices and minutes of labour", _counts(), "Lines", look=Look.MINUTES),
    )


def _block(pack: Pack, table: _Table, periods: tuple[PeriodSummary, ...]) -> Block:
    def contents(row: _Row) -> tuple[Content, ...]:
        figures = (
            Formula(row.text(column_letters(col)), row.value(summary))
            for col, summary in zip(_COLS, periods, strict=True)
        )
        return (row.label, row.rate, *figures)

    def summed(col: int, summary: PeriodSummary) -> Formula:
        return column_sum(pack, col, sum((row.value(summary) for row in table.rows), start=ZERO))

    totals = (summed(col, summary) for col, summary in zip(_COLS, periods, strict=True))
    rates = any(row.rate is not None for row in table.rows)
    return Block(
        table.title,
        _LABEL,
        _YEAR,
        (
            Field(_LABEL, "", Look.TEXT),
            Field(_RATE, "Rate" if rates else "", Look.RATE),
            *(Field(c, p.period.name, table.look) for c, p in zip(_COLS, periods, strict=True)),
        ),
        tuple(contents(row) for row in table.rows),
        (table.total, None, *totals) if table.total else None,
        link=table.link,
    )


def _within(column: str, col: str) -> str:
    return during(column, f"{col}${_FIRST_ROW}", f"{col}${_LAST_ROW}+1")


def _among(column: str, col: str) -> str:
    return f"({column}>={col}${_FIRST_ROW})*({column}<={col}${_LAST_ROW})"


def _income(pack: Pack) -> tuple[_Row, ...]:
    def row(place: int, kind: Kind) -> _Row:
        own = f'Lines[Kind],"{kind.value}"'
        return _Row(
            KIND_NAMES[kind],
            lambda col: sum_in(pack, "Lines[Amount]", own, _within("Lines[Date]", col)),
            lambda summary: summary.income[place].total,
        )

    return tuple(row(place, kind) for place, kind in enumerate(Kind))


def _taxes(pack: Pack, year: PeriodSummary, header: str) -> tuple[_Row, ...]:
    own = "EXACT(Taxes[Tax],$A{row})*(Taxes[Rate]=$B{row})"

    def row(component: str, rate: Decimal) -> _Row:
        def value(summary: PeriodSummary) -> Decimal:
            found = [t for t in summary.taxes if (t.component, t.rate) == (component, rate)]
            amounts = (t.amount if header == "Amount" else t.base for t in found)
            return sum(amounts, start=ZERO)

        return _Row(
            component,
            lambda col: pack.rounded(
                f"SUMPRODUCT({own}*{_among('Taxes[Date]', col)},Taxes[{header}])"
            ),
            value,
            rate,
        )

    return tuple(row(tax.component, tax.rate) for tax in year.taxes)


def _owed(pack: Pack) -> tuple[_Row, ...]:
    def opening(col: str) -> str:
        before = f'"<"&{col}${_FIRST_ROW}'
        return pack.rounded(
            f"SUMIFS(Invoices[Total],Invoices[Date],{before})"
            f"-SUMIFS(Payments[Amount],Payments[Date],{before})"
        )

    return (
        _Row("At the start", opening, lambda s: s.roll_forward.opening),
        _Row(
            "Invoiced with tax",
            lambda col: sum_in(pack, "Invoices[Total]", _within("Invoices[Date]", col)),
            lambda s: s.roll_forward.invoiced,
        ),
        _Row(
            "Less payments received",
            lambda col: "-" + sum_in(pack, "Payments[Amount]", _within("Payments[Date]", col)),
            lambda s: -s.roll_forward.received,
        ),
    )


def _sublets(pack: Pack) -> tuple[_Row, ...]:
    def of(header: str) -> Callable[[str], str]:
        own = 'Lines[Kind],"sublet"'
        return lambda col: sum_in(pack, f"Lines[{header}]", own, _within("Lines[Date]", col))

    return (
        _Row("Billed", of("Amount"), lambda s: sum((v.billed for v in s.sublets), ZERO)),
        _Row("Cost", of("Cost"), lambda s: sum((v.cost for v in s.sublets), ZERO)),
        _Row("Margin", of("Margin"), lambda s: sum((v.margin for v in s.sublets), ZERO)),
    )


def _reasons(pack: Pack, year: PeriodSummary) -> tuple[_Row, ...]:
    def row(reason: str) -> _Row:
        own = keyed("Lines[Reason]", "$A{row}", reason)
        return _Row(
            reason or NO_REASON,
            lambda col: pack.rounded(
                f"SUMPRODUCT({own}*{_among('Lines[Date]', col)},Lines[Value not billed])"
            ),
            lambda s: sum((r.value for r in s.not_billed if r.reason == reason), ZERO),
        )

    return tuple(row(of_reason.reason) for of_reason in year.not_billed)


def _counts() -> tuple[_Row, ...]:
    def minutes(header: str) -> Callable[[str], str]:
        own = 'Lines[Kind],"labour"'
        return lambda col: f"SUMIFS(Lines[{header}],{own},{_within('Lines[Date]', col)})"

    return (
        _Row(
            "Invoices",
            lambda col: f"COUNTIFS({_within('Invoices[Date]', col)})",
            lambda s: s.invoices,
        ),
        _Row(
            "Minutes estimated",
            minutes("Estimate"),
            lambda s: sum(job.estimated_minutes for job in s.jobs),
        ),
        _Row(
            "Minutes worked",
            minutes("Actual"),
            lambda s: sum(job.worked_minutes for job in s.jobs),
        ),
        _Row(
            "Minutes not billable",
            minutes("Not billable"),
            lambda s: sum(job.idle_minutes for job in s.jobs),
        ),
    )


def quarter_charts(
    pack: Pack, sheet: Worksheet, year: PeriodSummary, at: QuarterRows, *, top: int
) -> None:
    """Draw on `sheet` income by quarter, and what was owed at the end of each."""
    first, last = _COLS[0], _COLS[3]
    names = (_NAMES_ROW, first, _NAMES_ROW, last)
    draw(
        pack,
        sheet,
        kind=STACKED,
        title=f"Net income by quarter, {pack.currency}",
        series=[
            Series((row, _LABEL), names, (row, first, row, last))
            for row, kind in enumerate(year.income, at.net - len(year.income))
            if any(kind.by_month)
        ],
        frame=Frame(top, LEFT, HALF_WIDTH, _CHART_HEIGHT),
        number_format=money_format(0),
        source=SHEET,
    )
    draw(
        pack,
        sheet,
        kind=COLUMNS,
        title=f"Owed at the end of the quarter, {pack.currency}",
        series=[Series("Owed", names, (at.closing, first, at.closing, last))],
        frame=Frame(top, RIGHT, HALF_WIDTH, _CHART_HEIGHT),
        number_format=money_format(0),
        source=SHEET,
    )
