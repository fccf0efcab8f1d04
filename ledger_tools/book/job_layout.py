"""Where everything stands on a job sheet: totals on top, lines last."""

from typing import NamedTuple

from ledger_tools.billing.tax import MOST_COMPONENTS
from ledger_tools.book.layout import KIND_WORDS, Column, Look, class_choices
from ledger_tools.costing.lines import REASONS, Kind

JOB_HEADER_ROW = 11
"""Row of the line headers on a new job sheet; lines begin below it."""
JOB_LINES = (
    Column("line_id", "Line", 4, Look.WHOLE, typed=False),
    Column("kind", "Kind", 8, choices=KIND_WORDS),
    Column("description", "Description", 21),
    Column(
        "labour_class",
        "Class",
        6.5,
        choices=class_choices(f"$B{JOB_HEADER_ROW + 1}"),
        hint="Labour: a class from Rates. Part: new, used or reconditioned; empty: new.",
    ),
    Column("unit", "Unit", 4),
    Column(
        "estimate", "Estimate", 8.5, Look.MINUTES, hint="Labour: minutes. Other kinds: quantity."
    ),
    Column(
        "actual",
        "Actual",
        8.5,
        Look.MINUTES,
        hint="Labour: minutes in all, as 90, 1:30, 1h30 or 1.5h.",
    ),
    Column(
        "non_billable",
        "Not billable",
        7,
        Look.MINUTES,
        hint="The part of Actual the customer does not pay.",
    ),
    Column("reason", "Reason", 11.5, choices=REASONS, hint="Why it is not billable."),
    Column(
        "billed",
        "Billed",
        6.5,
        Look.HOURS,
        typed=False,
        hint="Labour: hours. Other kinds: quantity.",
    ),
    Column(
        "price",
        "Price",
        8,
        Look.PRICE,
        hint="An hour or a unit. Labour: empty takes the rate of its class.",
    ),
    Column(
        "agreed_price",
        "Agreed price",
        8,
        Look.MONEY,
        hint="Replaces billed x price for this line.",
    ),
    Column("amount", "Amount", 9, Look.MONEY, typed=False),
    Column("mark", "Mark", 8.5, Look.MARK, typed=False),
    Column("vendor", "Vendor", 7.5, hint="Who does sublet work or supplied the part."),
    Column("cost", "Cost", 7, Look.PRICE, hint="What a unit costs the shop."),
    Column("tax_class", "Tax class", 6, choices="=tax_classes", hint="Empty: taxed as its kind."),
    Column("estimated", "Estimated", 9, Look.MONEY, typed=False, hint="Amount of the estimate."),
    Column(
        "adjusted",
        "Adjusted",
        14,
        Look.MONEY,
        typed=False,
        hint="What the line bears of the difference between work and bill.",
        since=2,
    ),
    Column(
        "remainder",
        "Remainder",
        11,
        Look.WHOLE,
        typed=False,
        hint="What was left of that when it was cut to whole cents.",
        since=2,
    ),
)
JOB_HIDDEN = ("adjusted", "remainder")
"""Columns that a new sheet hides: they serve jobs billed otherwise than as worked."""
JOB_SPARE_LINES = 6
"""Empty, numbered line rows below the filled ones on a new job sheet."""


def job_table(number: str) -> str:
    """Return the table name of a job's lines.

    >>> job_table("25-0001")
    'Job_25_0001'
    """
    return "Job_" + "".join(c if c.isalnum() and c.isascii() else "_" for c in number)


class HeaderCell(NamedTuple):
    """A label in the top block of a job sheet and where its figure stands.

    Attributes:
        key: Name the tools use.
        label: Text of the label, by which it is found; empty where the tools fill it in.
        row: Row of both on a new sheet.
        label_col: Column of the label.
        value_col: Column of the figure.
        look: Format of the figure.
        since: Book format it came with.
    """

    key: str
    label: str
    row: int
    label_col: int
    value_col: int
    look: Look = Look.TEXT
    since: int = 1


JOB_TITLE = (1, 1)
"""The job number, in large type."""
JOB_ITEM = (1, 4)
"""Item and customer, in large type, beside the number."""
JOB_BACK = (1, 15)
"""The link back to `Jobs`."""
JOB_FLAG = (10, 1)
"""What the owner must see: the ceiling, overruns, words that could not be read."""

JOB_HEADER = (
    HeaderCell("customer", "Customer", 3, 1, 3),
    HeaderCell("repair", "Repair", 4, 1, 3),
    HeaderCell("opened", "Opened", 5, 1, 3, Look.DATE),
    HeaderCell("promised", "Promised", 6, 1, 3, Look.DATE),
    HeaderCell("stands", "Stands at", 7, 1, 3),
    HeaderCell("invoice", "Invoice", 8, 1, 3),
    HeaderCell("invoiced", "Invoiced on", 9, 1, 3, Look.DATE),
    *(
        HeaderCell(f"{kind.value}_{part}", label, row, 4, col, Look.MONEY)
        for row, (kind, label) in enumerate(
            zip(
                Kind, ("Labour", "Materials", "Parts", "Sublet", "Fees", "Discounts"), strict=True
            ),
            3,
        )
        for part, col in (("estimated", 6), ("billed", 7))
    ),
    HeaderCell("net_estimated", "Net", 9, 4, 6, Look.MONEY),
    HeaderCell("net_billed", "Net", 9, 4, 7, Look.MONEY),
    *(
        HeaderCell(f"tax{n}_{part}", "", 2 + n, 9, col, look)
        for n in range(1, MOST_COMPONENTS + 1)
        for part, col, look in (
            ("rate", 10, Look.RATE),
            ("base", 11, Look.MONEY),
            ("estimated", 12, Look.MONEY),
            ("billed", 13, Look.MONEY),
        )
    ),
    HeaderCell("tax_estimated", "Tax", 7, 9, 12, Look.MONEY),
    HeaderCell("tax_billed", "Tax", 7, 9, 13, Look.MONEY),
    HeaderCell("total_estimated", "Total", 8, 9, 12, Look.MONEY),
    HeaderCell("total_billed", "Total", 8, 9, 13, Look.MONEY),
    HeaderCell("balance", "Owing", 9, 9, 13, Look.MONEY),
    HeaderCell("to_bill", "To bill", 10, 4, 7, Look.MONEY, since=2),
    HeaderCell("adjusted", "Adjusted, net", 10, 9, 13, Look.MONEY, since=2),
    HeaderCell("basis", "Basis", 3, 19, 20, since=2),
    HeaderCell("price", "Fixed price", 4, 19, 20, Look.MONEY, since=2),
    HeaderCell("counted", "Limit counted", 5, 19, 20, since=2),
    HeaderCell("worked_tax", "Tax as worked", 6, 19, 20, Look.MONEY, since=2),
    HeaderCell("exact_tax", "Tax not rounded", 7, 19, 20, Look.PRICE, since=2),
    HeaderCell("spread", "Spread over lines", 8, 19, 20, Look.MONEY, since=2),
    HeaderCell("rest", "Taken off besides", 9, 19, 20, Look.MONEY, since=2),
    HeaderCell("rest_class", "Off tax class", 10, 19, 20, since=2),
    HeaderCell("ceiling", "Ceiling", 3, 15, 18, Look.MONEY),
    HeaderCell("over", "Over estimate", 4, 15, 18, Look.MONEY),
    HeaderCell("estimate_minutes", "Minutes estimated", 5, 15, 18, Look.WHOLE),
    HeaderCell("actual_minutes", "Minutes worked", 6, 15, 18, Look.WHOLE),
    HeaderCell("non_billable_minutes", "Minutes not billable", 7, 15, 18, Look.WHOLE),
    HeaderCell("billed_hours", "Hours billed", 8, 15, 18, Look.HOURS),
    HeaderCell("non_billable_value", "Value not billed", 9, 15, 18, Look.MONEY),
    HeaderCell("last_line", "Last line number", 10, 15, 18, Look.WHOLE),
)
JOB_BLOCK_TITLES = {
    (2, 4): "By kind, net",
    (2, 6): "Estimate",
    (2, 7): "Billed",
    (2, 9): "Tax",
    (2, 10): "Rate",
    (2, 11): "On",
    (2, 12): "Estimate",
    (2, 13): "Billed",
    (2, 15): "Against the estimate",
}
