"""The sheet `Guarantees`: what a law guarantees, by class of object."""

from ledger_tools.book.layout import YES_NO, Column, Look, TableLayout

GUARANTEES_TABLE = TableLayout(
    "Guarantees",
    "Guarantees",
    "Guarantees",
    "What a law guarantees, by class of object; printed with its source on estimates and "
    "invoices. Check with your authority.",
    (
        Column("object_class", "Object class", 24, hint="As in Jobs; any: every job."),
        Column("first_day", "First day", 12, Look.DATE, hint="Empty: from ever."),
        Column(
            "words",
            "Words",
            30,
            Look.WRAPPED,
            hint="Name of a text of the tools, such as days or care, or your own words.",
        ),
        Column("days", "Days", 8, Look.WHOLE),
        Column("distance", "Distance", 10, Look.WHOLE),
        Column("unit", "Unit", 8, hint="Of the distance: km or mi."),
        Column(
            "void",
            "No guarantee is void",
            12,
            choices=YES_NO,
            hint="yes: a line of yours that there is no guarantee is left off.",
        ),
        Column("source", "Source", 50, Look.WRAPPED, hint="Printed beside the words."),
        Column("read", "Read", 26, Look.WRAPPED, hint="How and when it was looked up."),
    ),
)
