"""Small tables of work: sublets by vendor, what was not billed, estimate against actual."""

from decimal import ROUND_HALF_UP, Decimal

from ledger_tools.billing.summaries import Comparison, NotBilled, PeriodSummary, VendorSublets
from ledger_tools.book.layout import Look
from ledger_tools.documents.blocks import Block, Content, Field, Formula
from ledger_tools.documents.pack import Pack
from ledger_tools.documents.period_blocks import NO_REASON, column_sum, keyed, total
from ledger_tools.shop.snapshot import column_letters

NO_REPAIR = "no repair type"
NO_VENDOR = "no vendor named"
SHARE_PLACES = Decimal("0.0001")
_AMOUNT_HEADS = ("Estimated", "Billed", "Difference")

_VENDOR_FIELDS = (
    ("Vendor", Look.TEXT),
    ("Lines", Look.MINUTES),
    ("Billed", Look.MONEY),
    ("Cost", Look.MONEY),
    ("Margin", Look.MONEY),
    ("No cost known", Look.MINUTES),
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

    totals = (
        "Total",
        column_sum(pack, cols[1], sum(v.lines for v in sublets), money=False),
        column_sum(pack, cols[2], total(v.billed for v in sublets)),
        column_sum(pack, cols[3], total(v.cost for v in sublets)),
        column_sum(pack, cols[4], total(v.margin for v in sublets)),
        column_sum(pack, cols[-1], sum(v.without_cost for v in sublets), money=False),
    )
    return Block(
        "Sublet work by vendor",
        cols[0],
        last_col,
        tuple(Field(col, *field) for col, field in zip(cols, _VENDOR_FIELDS, strict=False)),
        tuple(row(vendor) for vendor in sublets),
        totals[: len(cols)],
        link="Lines",
        empty="No sublet work was billed.",
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
            column_sum(pack, value, total(r.value for r in reasons)),
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
            names.get(repair.key, repair.key or NO_REPAIR),
            Formula(pack.rounded(f"SUMPRODUCT({own},Jobs[Estimated])"), repair.estimated),
            Formula(pack.rounded(f"SUMPRODUCT({own},Jobs[Billed])"), repair.billed),
            Formula(over, repair.billed - repair.estimated),
        )

    estimated = total(r.estimated for r in summary.repairs)
    billed = total(r.billed for r in summary.repairs)
    return Block(
        "The same jobs, net amounts",
        cols[0],
        cols[-1],
        (Field(cols[0], "", Look.TEXT), *map(Field, cols[1:], _AMOUNT_HEADS)),
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
