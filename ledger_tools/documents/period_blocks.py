"""Small tables of a period's figures, shared by the quarter and the year.

Words the owner typed are compared with EXACT: a vendor called ``A*`` or ``>5`` is a name here,
where SUMIFS would read it as a pattern.
"""

from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from ledger_tools.billing.summaries import (
    Comparison,
    KindIncome,
    NotBilled,
    PeriodSummary,
    TaxCollected,
    VendorSublets,
)
from ledger_tools.book.layout import Look
from ledger_tools.costing.lines import Kind
from ledger_tools.documents.pack import Block, Content, Field, Formula, Pack
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
NO_REPAIR = "no repair type"
NO_VENDOR = "no vendor named"
NO_REASON = "no reason given"
SHARE_PLACES = Decimal("0.0001")

_VENDOR_FIELDS = (
    ("Vendor", Look.TEXT),
    ("Lines", Look.MINUTES),
    ("Billed", Look.MONEY),
    ("Cost", Look.MONEY),
    ("Margin", Look.MONEY),
    ("No cost known", Look.MINUTES),
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

    totals = [_total(k.by_month[n] for k in summary.income) for n in range(len(months))]
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
            column_sum(pack, end, _total(totals)),
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
        ("Total", None, None, column_sum(pack, amount, _total(t.amount for t in taxes))),
        link="Taxes",
        empty="No tax was charged.",
    )


def sublet_block(
    pack: Pack, sublets: tuple[VendorSublets, ...], *, cols: tuple[int, ...], last_col: int
) -> Block:
    """Return sublet work by vendor: lines, billed, cost, margin, lines whose cost is missing."""
    cell = f"${column_letters(cols[0])}{{row}}"

    def row(vendor: VendorSublets) -> tuple[Content, ...]:
        own = f'{keyed("Lines[Vendor]", cell, vendor.vendor)}*(Lines[Kind]="sublet")'
        return (
            vendor.vendor or NO_VENDOR,
            Formula(f"SUMPRODUCT({own})", vendor.lines),
            Formula(pack.rounded(f"SUMPRODUCT({own},Lines[Amount])"), vendor.billed),
            Formula(pack.rounded(f"SUMPRODUCT({own},Lines[Cost])"), vendor.cost),
            Formula(pack.rounded(f"SUMPRODUCT({own},Lines[Margin])"), vendor.margin),
            Formula(f'SUMPRODUCT({own}*(Lines[Cost]=""))', vendor.without_cost),
        )[: len(cols)]

    total = (
        "Total",
        column_sum(pack, cols[1], sum(v.lines for v in sublets), money=False),
        column_sum(pack, cols[2], _total(v.billed for v in sublets)),
        column_sum(pack, cols[3], _total(v.cost for v in sublets)),
        column_sum(pack, cols[4], _total(v.margin for v in sublets)),
        column_sum(pack, cols[-1], sum(v.without_cost for v in sublets), money=False),
    )
    return Block(
        "Sublet work by vendor",
        cols[0],
        last_col,
        tuple(Field(col, *field) for col, field in zip(cols, _VENDOR_FIELDS, strict=False)),
        tuple(row(vendor) for vendor in sublets),
        total[: len(cols)],
        link="Lines",
        empty="No sublet work was billed.",
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
    overpaid = f'SUMPRODUCT(EXACT(Invoices[Age],"{OVERPAID}")*1,Invoices[Owing])'
    ahead = (
        f'-SUMPRODUCT(EXACT(Payments[Stands for],"{AHEAD}")'
        f'+EXACT(Payments[Stands for],"{UNKNOWN}"),Payments[Amount])'
    )
    rows.append(("overpaid", None, Formula(pack.rounded(overpaid), owed.overpaid)))
    rows.append(("paid without invoice", None, Formula(pack.rounded(ahead), owed.ahead)))
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


def not_billed_block(
    pack: Pack, reasons: tuple[NotBilled, ...], *, cols: tuple[int, int, int], last_col: int
) -> Block:
    """Return minutes and value not billed, by reason."""
    label, minutes, value = cols
    cell = f"${column_letters(label)}{{row}}"

    def row(of_reason: NotBilled) -> tuple[Content, ...]:
        own = keyed("Lines[Reason]", cell, of_reason.reason)
        return (
            of_reason.reason or NO_REASON,
            Formula(
                f'SUMPRODUCT({own}*(Lines[Kind]="labour"),Lines[Not billable])', of_reason.minutes
            ),
            Formula(pack.rounded(f"SUMPRODUCT({own}*1,Lines[Value not billed])"), of_reason.value),
        )

    return Block(
        "Not billed, by reason",
        label,
        last_col,
        (
            Field(label, "Reason", Look.TEXT),
            Field(minutes, "Minutes", Look.MINUTES),
            Field(value, "Value"),
        ),
        tuple(row(reason) for reason in reasons),
        (
            "Total",
            column_sum(pack, minutes, sum(r.minutes for r in reasons), money=False),
            column_sum(pack, value, _total(r.value for r in reasons)),
        ),
        link="Lines",
        empty="Everything worked was billed.",
    )


def repair_minutes_block(pack: Pack, summary: PeriodSummary, *, cols: tuple[int, ...]) -> Block:
    """Return estimated and worked minutes of labour by repair type."""
    cell = f"${column_letters(cols[0])}{{row}}"
    letters = [column_letters(col) for col in cols]

    def row(repair: Comparison) -> tuple[Content, ...]:
        own = keyed("Jobs[Repair]", cell, repair.key) + "*1"
        return (
            repair.key or NO_REPAIR,
            Formula(f'SUMPRODUCT({own}*(Jobs[Job]<>""))', repair.jobs),
            Formula(f"SUMPRODUCT({own},Jobs[Estimated min])", repair.estimated_minutes),
            Formula(f"SUMPRODUCT({own},Jobs[Worked min])", repair.worked_minutes),
            _share_over(letters[2], letters[3], repair.estimated_minutes, repair.worked_minutes),
        )

    jobs, estimated, worked = (
        sum(r.jobs for r in summary.repairs),
        sum(r.estimated_minutes for r in summary.repairs),
        sum(r.worked_minutes for r in summary.repairs),
    )
    heads = ("Repair type", "Jobs", "Estimated", "Worked", "Over / under")
    looks = (Look.TEXT, Look.MINUTES, Look.MINUTES, Look.MINUTES, Look.MARK)
    return Block(
        "Labour by repair type, minutes",
        cols[0],
        cols[-1],
        tuple(Field(*field) for field in zip(cols, heads, looks, strict=True)),
        tuple(row(repair) for repair in summary.repairs),
        (
            "Total",
            column_sum(pack, cols[1], jobs, money=False),
            column_sum(pack, cols[2], estimated, money=False),
            column_sum(pack, cols[3], worked, money=False),
            _share_over(letters[2], letters[3], estimated, worked),
        ),
        link="Jobs",
        empty="No job was invoiced.",
    )


def repair_amounts_block(
    pack: Pack,
    summary: PeriodSummary,
    names: dict[str, str],
    *,
    cols: tuple[int, int, int, int],
    key_col: int,
) -> Block:
    """Return estimated and billed amounts by repair type, beside the minutes in `key_col`."""
    cell = f"${column_letters(key_col)}{{row}}"
    _, estimated_col, billed_col, _ = (column_letters(col) for col in cols)
    over = pack.rounded(f"{billed_col}{{row}}-{estimated_col}{{row}}")

    def row(repair: Comparison) -> tuple[Content, ...]:
        own = keyed("Jobs[Repair]", cell, repair.key) + "*1"
        return (
            names.get(repair.key, ""),
            Formula(pack.rounded(f"SUMPRODUCT({own},Jobs[Estimated])"), repair.estimated),
            Formula(pack.rounded(f"SUMPRODUCT({own},Jobs[Billed])"), repair.billed),
            Formula(over, repair.billed - repair.estimated),
        )

    estimated = _total(r.estimated for r in summary.repairs)
    billed = _total(r.billed for r in summary.repairs)
    return Block(
        "The same jobs, net amounts",
        cols[0],
        cols[-1],
        (
            Field(cols[0], "", Look.TEXT),
            Field(cols[1], "Estimated"),
            Field(cols[2], "Billed"),
            Field(cols[3], "Difference"),
        ),
        tuple(row(repair) for repair in summary.repairs),
        (
            "Total",
            column_sum(pack, cols[1], estimated),
            column_sum(pack, cols[2], billed),
            Formula(over, billed - estimated),
        ),
        link="Jobs",
    )


def _share_over(estimated_col: str, worked_col: str, estimated: int, worked: int) -> Formula:
    text = f'IF({estimated_col}{{row}}=0,"",ROUND({worked_col}{{row}}/{estimated_col}{{row}}-1,4))'
    if not estimated:
        return Formula(text, "")
    return Formula(text, (Decimal(worked) / estimated - 1).quantize(SHARE_PLACES, ROUND_HALF_UP))


def _total(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, start=ZERO)
