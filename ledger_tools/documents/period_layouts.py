"""Sheets of raw rows behind a period's figures: tables, columns, widths.

Formulas name these headers, so a header changed here is changed in the formulas too.
"""

from ledger_tools.book.layout import Column, Look, TableLayout

INVOICES = TableLayout(
    "Invoices",
    "Invoices",
    "Invoices",
    "Every invoice of the period, and older ones that were not settled when it began. "
    "Grey figures are formulas.",
    (
        Column("number", "Invoice", 11),
        Column("job", "Job", 11),
        Column("day", "Date", 11, Look.DATE),
        Column("due", "Due", 11, Look.DATE),
        Column("customer", "Customer", 26),
        Column("item", "Item", 30),
        Column("repair", "Repair", 12),
        Column("net", "Net", 12, Look.MONEY),
        Column("tax", "Tax", 11, Look.MONEY),
        Column("total", "Total", 12, Look.MONEY),
        Column("paid", "Paid", 12, Look.MONEY),
        Column("owing", "Owing", 12, Look.MONEY),
        Column("overdue", "Days overdue", 9, Look.MINUTES),
        Column("age", "Age", 11),
        Column("sequence", "Number in sequence", 10, Look.MINUTES),
    ),
)

LINES = TableLayout(
    "Lines",
    "Lines",
    "Invoice lines",
    "Every line of the period's invoices. Estimate, actual and not billable are minutes for "
    "labour, else quantities.",
    (
        Column("invoice", "Invoice", 10.5),
        Column("day", "Date", 10.5, Look.DATE),
        Column("job", "Job", 10.5),
        Column("line_id", "Line", 6, Look.WHOLE),
        Column("kind", "Kind", 10),
        Column("description", "Description", 28),
        Column("quantity", "Quantity", 8.5, Look.QUANTITY),
        Column("unit", "Unit", 6),
        Column("price", "Price", 9, Look.PRICE),
        Column("amount", "Amount", 10, Look.MONEY),
        Column("taxed_as", "Taxed as", 10),
        Column("labour_class", "Class", 9.5),
        Column("vendor", "Vendor", 20),
        Column("cost", "Cost", 9.5, Look.MONEY),
        Column("margin", "Margin", 9.5, Look.MONEY),
        Column("estimate", "Estimate", 8.5, Look.QUANTITY),
        Column("actual", "Actual", 7.5, Look.QUANTITY),
        Column("non_billable", "Not billable", 8.5, Look.QUANTITY),
        Column("reason", "Reason", 14),
        Column("value", "Value not billed", 10, Look.MONEY),
        Column("estimated", "Estimated", 10, Look.MONEY),
    ),
    frozen=1,
)

TAXES = TableLayout(
    "Taxes",
    "Taxes",
    "Taxes",
    "Every tax of the period's invoices, as it stands on the paper, and worked out once more.",
    (
        Column("invoice", "Invoice", 11),
        Column("day", "Date", 11, Look.DATE),
        Column("component", "Tax", 20),
        Column("rate", "Rate", 10, Look.RATE),
        Column("base", "Taxable amount", 14, Look.MONEY),
        Column("amount", "Amount", 12, Look.MONEY),
        Column("again", "Rate x taxable", 14, Look.MONEY),
    ),
)

PAYMENTS = TableLayout(
    "Payments",
    "Payments",
    "Payments",
    "Every payment of the period, and older ones on the invoices listed here.",
    (
        Column("day", "Date", 11, Look.DATE),
        Column("invoice", "Invoice", 12),
        Column("customer", "Customer", 26),
        Column("amount", "Amount", 13, Look.MONEY),
        Column("how", "How", 12),
        Column("note", "Note", 34),
        Column("stands", "Stands for", 18),
    ),
)

JOBS = TableLayout(
    "Jobs",
    "Jobs",
    "Jobs: estimate against actual",
    "Every job invoiced in the period. Minutes are labour; amounts are net, all kinds of line.",
    (
        Column("job", "Job", 11),
        Column("day", "Invoiced", 11, Look.DATE),
        Column("customer", "Customer", 24),
        Column("item", "Item", 28),
        Column("repair", "Repair", 12),
        Column("name", "Repair type", 26),
        Column("estimated_minutes", "Estimated min", 11, Look.MINUTES),
        Column("worked_minutes", "Worked min", 10, Look.MINUTES),
        Column("over_minutes", "Minutes over", 11, Look.MINUTES),
        Column("idle_minutes", "Not billable min", 11, Look.MINUTES),
        Column("estimated", "Estimated", 12, Look.MONEY),
        Column("billed", "Billed", 12, Look.MONEY),
        Column("over", "Amount over", 12, Look.MONEY),
    ),
)
