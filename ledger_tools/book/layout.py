"""Where everything stands in a shop book: sheets, tables, headers, names.

Columns are found again by their header text and tables by their name, so an owner may move
them. What stands here is how the tools lay a new sheet out.
"""

from enum import StrEnum
from typing import NamedTuple

from ledger_tools.billing.authorisation import RuleKind
from ledger_tools.billing.basis import Basis
from ledger_tools.costing.lines import Kind
from ledger_tools.costing.time import CLASSES
from ledger_tools.shop.model import TYPED_STATES

BOOK_FORMAT = 2
"""What is new in a format carries its number; `recompute` adds it to books of an older one."""
FORMAT_PROPERTY = "Shop book format"

RULED_ROWS = 2000
"""Rows below the headers that choices, hints and marks already wait in."""
START = "Start"
JOBS = "Jobs"


class Look(StrEnum):
    """How the cells of a column are shown and what may be typed in them.

    STORED is long text that is kept, not read: only its beginning shows.
    """

    TEXT = "text"
    WRAPPED = "wrapped"
    DATE = "date"
    MONEY = "money"
    PRICE = "price"
    QUANTITY = "quantity"
    MINUTES = "minutes"
    CLOCK = "clock"
    HOURS = "hours"
    RATE = "rate"
    WHOLE = "whole"
    LINK = "link"
    MARK = "mark"
    STORED = "stored"


class Column(NamedTuple):
    """One column of a table.

    Attributes:
        key: Name the tools use.
        header: Text in the header row, by which the column is found.
        width: In characters of the body font.
        look: Format of its cells.
        typed: Whether people type in it; otherwise the tools compute it.
        choices: What may be chosen from: words, or ``=`` and a range.
        hint: Message shown when a cell is selected.
        since: Book format it came with.
    """

    key: str
    header: str
    width: float
    look: Look = Look.TEXT
    typed: bool = True
    choices: tuple[str, ...] | str = ()
    hint: str = ""
    since: int = 1


class TableLayout(NamedTuple):
    """A sheet that holds one table below a title.

    Attributes:
        sheet: Name on the tab.
        table: Name of the table.
        title: First row of the sheet.
        says: Second row: what the sheet is for.
        columns: From the left.
        spare: Empty rows a new table has.
        frozen: Columns that stay when scrolling sideways.
        protected: Whether the sheet is protected (without password) against slips.
        first_row: Row of the headers.
    """

    sheet: str
    table: str
    title: str
    says: str
    columns: tuple[Column, ...]
    spare: int = 12
    frozen: int = 1
    protected: bool = False
    first_row: int = 4

    def col(self, key: str) -> int:
        """Return the column of `key` on a new sheet, counted from 1."""
        return next(i for i, c in enumerate(self.columns, 1) if c.key == key)


KIND_WORDS = tuple(k.value for k in Kind)


def class_choices(kind: str) -> str:
    """Return what may be chosen in a column of classes; `kind` is the cell of the row's kind."""
    return f'=IF({kind}="{Kind.PART}",part_status,labour_classes)'


YES_NO = ("yes", "no")

JOBS_TABLE = TableLayout(
    JOBS,
    "Jobs",
    "Jobs",
    "One row a job. Type customer, item and repair type in the next empty row, save, recompute: "
    "number and job sheet appear.",
    (
        Column("number", "Job", 9.5, Look.LINK, typed=False),
        Column(
            "opened", "Opened", 10.5, Look.DATE, hint="Day the job was opened. Empty: as-of day."
        ),
        Column("customer", "Customer", 19, hint="A new name is added to Customers."),
        Column("item", "Item", 22),
        Column(
            "repair", "Repair", 13, choices="=repair_codes", hint="A code from the sheet Repairs."
        ),
        Column(
            "state",
            "State",
            10.5,
            choices=TYPED_STATES,
            hint="Set 'to invoice' when it may be billed.",
        ),
        Column("promised", "Promised", 10.5, Look.DATE),
        Column("stands", "Stands at", 10.5, Look.TEXT, typed=False),
        Column("flag", "Flag", 13, Look.MARK, typed=False),
        Column("estimate", "Estimate", 10, Look.MONEY, typed=False),
        Column("subtotal", "So far", 10, Look.MONEY, typed=False),
        Column("total", "With tax", 10, Look.MONEY, typed=False),
        Column("ceiling", "Ceiling", 10, Look.MONEY, typed=False),
        Column("invoice", "Invoice", 9.5, Look.TEXT, typed=False),
        Column("balance", "Owing", 10, Look.MONEY, typed=False),
        Column(
            "object_class",
            "Object class",
            13,
            hint="A class from the sheet Tolerances; empty: nothing above the authorised amount.",
            since=2,
        ),
        Column(
            "basis",
            "Basis",
            10,
            choices=tuple(Basis),
            hint="actual: as worked. capped: written down to the ceiling. fixed: the agreed or "
            "authorised price. Empty: actual.",
            since=2,
        ),
        Column(
            "agreed_price",
            "Agreed price",
            11,
            Look.MONEY,
            hint="Net price of the whole job, where the basis is fixed.",
            since=2,
        ),
        Column(
            "told_from",
            "Told from",
            10,
            Look.MONEY,
            hint="What was named on the telephone, at least. Printed on the estimate.",
            since=2,
        ),
        Column("told_to", "Told to", 10, Look.MONEY, hint="At most.", since=2),
        Column("note", "Note", 30),
    ),
    spare=20,
)

CUSTOMERS_TABLE = TableLayout(
    "Customers",
    "Customers",
    "Customers",
    "Names as jobs use them; the address goes on the invoice.",
    (
        Column("name", "Customer", 26),
        Column("address", "Address", 36, Look.WRAPPED),
        Column("contact", "Contact", 26),
        Column("tax_number", "Tax number", 18),
        Column("note", "Note", 30),
        Column("jobs", "Jobs", 8, Look.WHOLE, typed=False),
        Column("owing", "Owing", 12, Look.MONEY, typed=False),
    ),
)

PAYMENTS_TABLE = TableLayout(
    "Payments",
    "Payments",
    "Payments",
    "One row for each payment received. Money given back is typed with a minus.",
    (
        Column("day", "Date", 11, Look.DATE),
        Column("invoice", "Invoice", 11),
        Column("amount", "Amount", 12, Look.MONEY),
        Column("how", "How", 14, choices=("bank", "cash", "card", "cheque", "other")),
        Column("note", "Note", 30),
        Column("customer", "Customer", 26, typed=False),
        Column("owing", "Still owing", 12, Look.MONEY, typed=False),
    ),
    frozen=2,
)

RATES_TABLE = TableLayout(
    "Rates",
    "Rates",
    "Labour rates",
    "What an hour is billed at. A new rate is a new row with its first day; old rows stay.",
    (
        Column("labour_class", "Class", 14),
        Column("first_day", "First day", 12, Look.DATE),
        Column("rate", "Rate an hour", 13, Look.MONEY),
        Column("note", "Note", 50),
    ),
)

REPAIRS_TABLE = TableLayout(
    "Repairs",
    "Repairs",
    "Repair catalogue",
    "Usual steps of each repair type, in working order; a new job gets them as its lines. "
    "Minutes for labour, quantities for the rest.",
    (
        Column("code", "Repair", 14),
        Column("name", "Name", 28),
        Column("kind", "Kind", 10, choices=KIND_WORDS),
        Column("description", "Step", 38),
        Column(
            "labour_class",
            "Class",
            10,
            choices=class_choices("$C5"),
            hint="Labour: a class from Rates. Part: new, used or reconditioned; empty: new.",
        ),
        Column("low", "Low min", 10, Look.MINUTES),
        Column("likely", "Likely min", 11, Look.MINUTES),
        Column("high", "High min", 10, Look.MINUTES),
        Column("quantity", "Quantity", 9, Look.QUANTITY),
        Column("unit", "Unit", 7),
        Column("price", "Price", 10, Look.PRICE),
        Column("cost", "Cost", 10, Look.PRICE),
        Column("markup", "Markup", 8, Look.RATE),
        Column("vendor", "Vendor", 20),
        Column("hot_work", "Hot work", 9, choices=YES_NO),
        Column("tax_class", "Tax class", 12),
    ),
    frozen=2,
)

CODES_HEADER = "Codes in use"
"""Heads the live list of repair codes beside the table on `Repairs`, which `Jobs` offers."""

WORDS_HEADER = "A part is"
"""Heads the words for a part beside the table on `Rates`, which lines offer."""

MATERIALS_TABLE = TableLayout(
    "Materials",
    "Materials",
    "Materials",
    "What is kept in stock. A job line with this name and no price takes the price from here.",
    (
        Column("name", "Material", 34),
        Column("unit", "Unit", 8),
        Column("cost", "Cost", 11, Look.PRICE),
        Column("price", "Price", 11, Look.PRICE),
        Column("note", "Note", 40),
    ),
)

TAX_RATES_TABLE = TableLayout(
    "Taxes",
    "TaxRates",
    "Taxes",
    "",
    (
        Column("component", "Tax", 16),
        Column("first_day", "First day", 12, Look.DATE),
        Column("rate", "Rate", 10, Look.RATE),
        Column("source", "Source", 55, Look.WRAPPED),
    ),
    spare=6,
)
"""Stands on `Taxes` beside the table of classes, whose columns are the components."""
TAX_TABLES_ROW = 12
"""Row of the headers of both tables on `Taxes`; facts of the profile stand above."""
TAX_CLASSES_COL = 1
TAX_RATES_COL = 7

TAX_CLASSES_TABLE = "TaxClasses"
TAX_CLASS_HEADER = "Taxed as"

REACHED = ("in person", "telephone", "mail", "message", "other")
"""How a customer was reached who gave their word."""

AUTHORISATIONS_TABLE = TableLayout(
    "Authorisations",
    "Authorisations",
    "Authorisations",
    "One row each time the customer says what may be billed. Rows are added, never changed.",
    (
        Column("job", "Job", 11),
        Column("day", "Date", 11, Look.DATE),
        Column(
            "amount", "Amount", 12, Look.MONEY, hint="The total now authorised, not the addition."
        ),
        Column("who", "Who", 24),
        Column(
            "how",
            "How reached",
            14,
            choices=REACHED,
        ),
        Column("scope", "For", 40),
        Column("taken_by", "Taken by", 16),
        Column("evidence", "Evidence file", 26),
        Column("rule_row", "Row of the rule", 9, Look.WHOLE, typed=False, since=2),
        Column("rule", "Rule", 15, typed=False, since=2),
        Column("limit", "Limit", 12, Look.MONEY, typed=False, since=2),
        Column("counted", "Counted", 10, typed=False, since=2),
    ),
    frozen=2,
)

TOLERANCES_TABLE = TableLayout(
    "Tolerances",
    "Tolerances",
    "Tolerances",
    "What may be billed above the authorised amount, by class of object. For any other object: "
    "nothing. Check with your authority.",
    (
        Column("object_class", "Object class", 24),
        Column("first_day", "First day", 12, Look.DATE, hint="Empty: from ever."),
        Column("kind", "Rule", 16, choices=tuple(RuleKind)),
        Column("share", "Share", 10, Look.RATE),
        Column("amount", "Amount", 12, Look.MONEY),
        Column("most", "At most", 12, Look.MONEY, hint="For 'greater of'. Empty: no bound."),
        Column("with_tax", "With tax", 10, choices=YES_NO, hint="Empty: as Start says."),
        Column("source", "Source", 60, Look.WRAPPED),
    ),
)

TIME_TABLE = TableLayout(
    "Time",
    "Time",
    "Time",
    "One row each time somebody works: start and stop, or minutes. Lines named here get their "
    "minutes from here.",
    (
        Column("day", "Date", 11, Look.DATE, hint="Day the work began."),
        Column("who", "Who", 14),
        Column(
            "job",
            "Job",
            11,
            choices="=job_numbers",
            hint="Empty: time of the shop, billed to none.",
        ),
        Column(
            "line_id",
            "Line",
            7,
            Look.WHOLE,
            hint="Number of the labour line on the job sheet. Empty only where not billable.",
        ),
        Column(
            "start",
            "Start",
            9,
            Look.CLOCK,
            hint="As 8:15. Where the clocks change in between, type minutes instead.",
        ),
        Column("stop", "Stop", 9, Look.CLOCK, hint="As 16:45. Before Start: on the next day."),
        Column(
            "minutes",
            "Minutes",
            10,
            Look.MINUTES,
            hint="Instead of start and stop: 90, 1:30, 1h30 or 1.5h.",
        ),
        Column(
            "reason",
            "Class",
            14,
            choices=CLASSES,
            hint="billable, or why it is not. Empty: billable.",
        ),
        Column("note", "Note", 34),
        Column("counted", "Counted", 10, Look.WHOLE, typed=False),
        Column("remark", "Remark", 13, Look.MARK, typed=False),
    ),
    spare=30,
    frozen=2,
)
