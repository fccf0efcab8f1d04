"""Small tables of a period's figures, shared by the quarter and the year.

Words the owner typed are compared with EXACT: a vendor called ``A*`` or ``>5`` is a name here,
where SUMIFS would read it as a pattern.
"""

from collections.abc import Iterable
from decimal import Decimal

from ledger_tools.billing.summaries import (
    KindIncome,
    PeriodSummary,
    TaxCollected,
)
from ledger_tools.book.layout import Look
from ledger_tools.costing.lines import Kind
from ledger_tools.documents.blocks import Block, Content, Field, Formula
from ledger_tools.documents.pack import Pack
from ledger_tools.documents.period_details import AHEAD, OVERPAID, UNKNOWN
from ledger_tools.money import ZERO
from ledger_tools.shop.snapshot import column_letters

KIND_NAMES = {
    Kind.LABOUR: "Labour",
    Kind.MATERIAL: "Materials",
    Kind.PART: "Parts",
    Kind.SUBLET: "Sublet work",
    Kind.FEE: "Fees",
    Kind.DISCOUNT: "Discounts",
}
NO_REASON = "no reason given"
_OVERPAID = f'SUMPRODUCT(EXACT(Invoices[Age],"{OVERPAID}")*1,Invoices[Owing])'
_AHEAD = (
    f'-SUMPRODUCT(EXACT(Payments[Stands for],"{AHEAD}")'
    f'+EXACT(Payments[Stands for],"{UNKNOWN}"),Payments[Amount])'
)


def during(column: str, first: str = "period_first", until: str = "period_last+1") -> str:
    """Return SUMIFS conditions: the date in `column` is `first` or later, before `until`."""
    return f'{column},">="&{first},{column},"<"&{until}'


def sum_in(pack: Pack, column: str, *conditions: str) -> str:
    """Return the rounded sum of a table's column where all conditions hold."""
    return pack.rounded(f"SUMIFS({column},{','.join(conditions)})")


def keyed(column: str, cell: str, key: str) -> str:
    """Return a SUMPRODUCT factor: the words in `column` are those in `cell`, none if none."""
    wanted = cell if key else '""'
    return f"EXACT({column},{wanted})"


def column_sum(pack: Pack, col: int, value: Decimal | int, *, money: bool = True) -> Formula:
    """Return the sum of a block's column, for its last row."""
    letters = column_letters(col)
    text = f"SUM({letters}{{first}}:{letters}{{last}})"
    return Formula(pack.rounded(text) if money else text, value)


def income_block(pack: Pack, summary: PeriodSummary, *, col: int) -> Block:
    """Return net income by kind of line and month, from column `col`."""
    months = summary.period.months()
    cols = range(col + 1, col + 1 + len(months))
    end = col + 1 + len(months)

    def row(income: KindIncome) -> tuple[Content, ...]:
        own = f'Lines[Kind],"{income.kind.value}"'
        by_month = (
            Formula(sum_in(pack, "Lines[Amount]", own, _month(month_col)), amount)
            for month_col, amount in zip(cols, income.by_month, strict=True)
        )
        across = f"SUM({column_letters(cols[0])}{{row}}:{column_letters(cols[-1])}{{row}})"
        return (
            KIND_NAMES[income.kind],
            *by_month,
            Formula(pack.rounded(across), income.total),
        )

    totals = [total(k.by_month[n] for k in summary.income) for n in range(len(months))]
    return Block(
        "Net income by kind and month",
        col,
        end,
        (
            Field(col, "", Look.TEXT),
            *(Field(c, month) for c, month in zip(cols, months, strict=True)),
            Field(end, "Total"),
        ),
        tuple(row(income) for income in summary.income),
        (
            "Net",
            *(column_sum(pack, c, total) for c, total in zip(cols, totals, strict=True)),
            column_sum(pack, end, total(totals)),
        ),
        link="Lines",
    )


def _month(col: int) -> str:
    head = f"{column_letters(col)}{{head}}"
    return during("Lines[Date]", head, f"EDATE({head},1)")


def roll_forward_block(pack: Pack, summary: PeriodSummary, *, cols: tuple[int, int]) -> Block:
    """Return how the balance at the start became the balance at the end."""
    label, amount = cols
    rolled = summary.roll_forward
    before = '"<"&period_first'
    opening = (
        f"SUMIFS(Invoices[Total],Invoices[Date],{before})"
        f"-SUMIFS(Payments[Amount],Payments[Date],{before})"
    )
    invoiced = sum_in(pack, "Invoices[Total]", during("Invoices[Date]"))
    received = sum_in(pack, "Payments[Amount]", during("Payments[Date]"))
    return Block(
        "Owed, from start to end",
        label,
        amount,
        (Field(label, "", Look.TEXT), Field(amount, "Amount")),
        (
            ("At the start", Formula(pack.rounded(opening), rolled.opening)),
            ("Invoiced with tax", Formula(invoiced, rolled.invoiced)),
            ("Less payments received", Formula(f"-{received}", -rolled.received)),
        ),
        ("At the end", column_sum(pack, amount, rolled.closing)),
        link="Payments",
    )


def tax_block(
    pack: Pack, taxes: tuple[TaxCollected, ...], *, cols: tuple[int, int, int, int], last_col: int
) -> Block:
    """Return tax by component and rate, with the amount it was charged on."""
    name, rate, base, amount = cols
    name_cell, rate_cell = f"${column_letters(name)}{{row}}", f"${column_letters(rate)}{{row}}"

    def row(tax: TaxCollected) -> tuple[Content, ...]:
        of_row = f"EXACT(Taxes[Tax],{name_cell})*(Taxes[Rate]={rate_cell})"
        return (
            tax.component,
            tax.rate,
            Formula(pack.rounded(f"SUMPRODUCT({of_row},Taxes[Taxable amount])"), tax.base),
            Formula(pack.rounded(f"SUMPRODUCT({of_row},Taxes[Amount])"), tax.amount),
        )

    return Block(
        "Tax collected",
        name,
        last_col,
        (
            Field(name, "Tax", Look.TEXT),
            Field(rate, "Rate", Look.RATE),
            Field(base, "Taxable"),
            Field(amount, "Tax"),
        ),
        tuple(row(tax) for tax in taxes),
        ("Total", None, None, column_sum(pack, amount, total(t.amount for t in taxes))),
        link="Taxes",
        empty="No tax was charged.",
    )


def age_block(
    pack: Pack, summary: PeriodSummary, *, cols: tuple[int, int, int], last_col: int
) -> Block:
    """Return what is owed by age from the due date, and money held for customers."""
    label, count, amount = cols
    cell = f"${column_letters(label)}{{row}}"
    owed = summary.receivables
    rows: list[tuple[Content, ...]] = [
        (
            debt.bucket,
            Formula(f"SUMPRODUCT(EXACT(Invoices[Age],{cell})*1)", debt.invoices),
            Formula(
                pack.rounded(f"SUMPRODUCT(EXACT(Invoices[Age],{cell})*1,Invoices[Owing])"),
                debt.amount,
            ),
        )
        for debt in owed.by_age
    ]
    rows.append(("overpaid", None, Formula(pack.rounded(_OVERPAID), owed.overpaid)))
    rows.append(("paid without invoice", None, Formula(pack.rounded(_AHEAD), owed.ahead)))
    return Block(
        "Owed by age, days past due",
        label,
        last_col,
        (
            Field(label, "Age", Look.TEXT),
            Field(count, "Invoices", Look.MINUTES),
            Field(amount, "Owing"),
        ),
        tuple(rows),
        (
            "Total",
            column_sum(pack, count, sum(d.invoices for d in owed.by_age), money=False),
            column_sum(pack, amount, owed.total),
        ),
        link="Invoices",
    )


def total(amounts: Iterable[Decimal]) -> Decimal:
    """Return the sum of amounts."""
    return sum(amounts, start=ZERO)
