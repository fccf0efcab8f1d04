"""The sheet `Options`: repair or replace, side by side."""

from ledger_tools.book.layout import REACHED, YES_NO, Column, Look, TableLayout
from ledger_tools.costing.options import OPTION_KINDS

OPTIONS_TABLE = TableLayout(
    "Options",
    "Options",
    "Options",
    "One row a way to go on: repair, replace or refuse. For fuel containers HSE (INDG314) and HSA "
    "put replacing before repairing: follow the code and authority where you are.",
    (
        Column("job", "Job", 10, choices="=job_numbers"),
        Column("option", "Option", 9, hint="A letter, by which the customer names it: A, B, C."),
        Column("kind", "Kind", 19, choices=OPTION_KINDS),
        Column("description", "Description", 34, hint="Printed on the estimate."),
        Column(
            "price",
            "Price",
            11,
            Look.MONEY,
            hint="What the customer would pay, with tax unless Start says otherwise. Empty: what "
            "the lines of the job are estimated at.",
        ),
        Column("sublet", "Sublet part", 12, Look.MONEY, hint="Work of other shops in the price."),
        Column("lead_days", "Lead days", 8, Look.WHOLE, hint="Until it is done."),
        Column("guarantee", "Guarantee", 18, hint="In words, or a number of days."),
        Column(
            "chance",
            "Come-back chance",
            14,
            Look.RATE,
            hint="As 15 %. 0 % where none is expected; empty where nobody can tell.",
        ),
        Column(
            "come_back", "Come-back costs", 14, Look.MONEY, hint="What one come-back would cost."
        ),
        Column("advised", "Advised", 9, choices=YES_NO, hint="yes for the one the shop advises."),
        Column("comes_to", "Comes to", 11, Look.MONEY, typed=False),
        Column("expected", "Expected cost", 11, Look.MONEY, typed=False),
        Column("share", "Of new", 9, Look.RATE, typed=False),
        Column("rule", "Rule says", 10, typed=False),
        Column(
            "chosen_on",
            "Chosen on",
            11,
            Look.DATE,
            hint="recompute fills it in from the accepted estimate; type it where there is none.",
        ),
        Column("chosen_by", "Chosen by", 18),
        Column("chosen_how", "How reached", 12, choices=REACHED),
        Column("stands", "Stands at", 19, typed=False),
        Column("note", "Note", 30),
    ),
    frozen=2,
)
