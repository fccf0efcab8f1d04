"""What owners do to a book in a spreadsheet program, and what must come of it.

The book has three jobs: `25-0001` billed and paid in part, `25-0002` in work, `25-0003` to be
invoiced. Steps are those of `tests/hands.py`.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ledger_tools.book.job_layout import JOB_LINES
from ledger_tools.book.layout import JOBS_TABLE, PAYMENTS_TABLE
from ledger_tools.shop.snapshot import column_letters
from tests.book.shop import LABOUR, TODAY, Shop
from tests.libreoffice import Steps

_JOBS_END, _WORK_END = (column_letters(len(c)) for c in (JOBS_TABLE.columns, JOB_LINES))
"""Letters of the last columns of the tables of jobs and of lines."""
JOBS, BILLED, WORK, WAITING = "Jobs", "25-0001", "25-0002", "25-0003"
SHEETS = (
    *("Start", JOBS, WAITING, WORK, BILLED, "Customers", "Payments", "Rates", "Repairs"),
    *("Materials", "Taxes", "Authorisations", "Invoices", "Invoice lines"),
)


@dataclass(frozen=True)
class Edit:
    """What an owner does, and what the tools are to say of it.

    Attributes:
        steps: What is done.
        says: Findings of the first `recompute`: code, sheet and cell.
        stays: Findings of the second.
        changes: Jobs whose figures are others than before; None for any of them.
        kept: Cells of the owner's that must still hold the same, by sheet.
        goes_on: Whether a job is added and one is billed afterwards.
        grows: Whether a table takes in rows, which get its formats.
    """

    steps: Steps
    says: frozenset[tuple[str, str, str]] = frozenset()
    stays: frozenset[tuple[str, str, str]] = frozenset()
    changes: frozenset[str] = frozenset()
    kept: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    goes_on: bool = False
    grows: bool = False


def _says(*findings: tuple[str, str, str]) -> frozenset[tuple[str, str, str]]:
    return frozenset(findings)


def _rename_all() -> list[list[str]]:
    return [["rename", sheet, f"{n}. {sheet}'s"] for n, sheet in enumerate(SHEETS, 1)]


def kept_shop(folder: Path) -> Shop:
    """Return the shop whose book is edited."""
    shop = Shop.new(folder, "ca-qc")
    shop.add(item="Pan", repair="OIL-PAN", state="to invoice", authorised="1000.00")
    shop.fill(BILLED, LABOUR, actual=60)
    shop.invoice()
    shop.fill(PAYMENTS_TABLE, 1, day=TODAY, invoice="25-0001", amount=10)
    shop.add(customer="Ann Bell", item="Other pan", repair="OIL-PAN", state="in work")
    shop.fill(WORK, LABOUR, actual=98, non_billable=10, reason="rework")
    shop.fill(WORK, LABOUR + 1, actual=31)
    shop.add(customer="O'Neil & Sons", item="Tank", repair="OIL-PAN", state="to invoice")
    shop.fill(WAITING, LABOUR, actual=125)
    shop.recompute()
    return shop


EDITS: dict[str, Edit] = {
    "only saved": Edit([]),
    "rows inserted": Edit(
        [
            ["insert_rows", BILLED, 1],
            ["insert_rows", BILLED, 12],
            ["insert_rows", WORK, 6, 2],
            ["insert_rows", WORK, 16, 2],
            ["insert_rows", WAITING, 12],
            ["insert_rows", JOBS, 6],
            ["insert_rows", JOBS, 1, 2],
            *(["insert_rows", sheet, 3] for sheet in ("Start", "Taxes", "Rates", "Customers")),
            *(["insert_rows", sheet, 5] for sheet in ("Payments", "Repairs", "Materials")),
        ],
        goes_on=True,
    ),
    "columns inserted": Edit(
        [
            ["insert_column", BILLED, "A"],
            ["insert_column", WORK, "G"],
            ["type", WORK, {"G11": "Bay", "G12": "3"}],
            ["insert_column", WAITING, "E"],
            ["insert_column", JOBS, "E"],
            ["type", JOBS, {"E4": "Rack", "E5": "shelf 3", "E6": "=2+3"}],
            ["insert_column", "Start", "A"],
            *(["insert_column", sheet, "B"] for sheet in ("Rates", "Customers", "Taxes")),
            *(["insert_column", sheet, "A"] for sheet in ("Payments", "Repairs", "Materials")),
            ["insert_column", "Customers", "A"],
            ["delete_column", "Customers", "A"],
        ],
        kept={WORK: ("G11", "G12"), JOBS: ("E4", "E5", "E6")},
        goes_on=True,
    ),
    "columns moved": Edit(
        [
            ["move_column", JOBS, "D", "B"],
            ["move_column", WORK, "G", "C"],
            ["move_column", WAITING, "R", "D"],
            ["move_column", "Payments", "C", "A"],
            ["move_column", "Customers", "A", "H"],
        ],
        says=_says(("table-restored", "Customers", "A4"), ("table-restored", "Payments", "A4")),
        goes_on=True,
    ),
    "every sheet renamed": Edit(_rename_all(), goes_on=True),
    "sheets renamed and tables dissolved": Edit(
        [
            *_rename_all(),
            *(
                step
                for n in (2, 4, 6, 11, 13, 14)
                for step in (["add_sheet", "Mine", n + 1], ["delete_sheet", "Mine"])
            ),
        ],
        says=_says(
            ("table-restored", "2. Jobs's", "A4"),
            ("table-restored", "4. 25-0002's", "A11"),
            ("table-restored", "6. Customers's", "A4"),
            ("table-restored", "11. Taxes's", "A12"),
            ("table-restored", "11. Taxes's", "G12"),
            ("table-restored", "13. Invoices's", "A4"),
            ("table-restored", "14. Invoice lines's", "A4"),
        ),
        goes_on=True,
    ),
    "sorted, filtered, hidden, grouped": Edit(
        [
            ["sort", JOBS, f"A5:{_JOBS_END}7", 3],
            ["sort", WORK, f"A12:{_WORK_END}25", 3],
            ["filter", JOBS, f"A4:{_JOBS_END}24", 3, "Ann Bell"],
            ["hide_rows", WORK, 14, 2],
            ["hide_column", WORK, "O"],
            ["hide_column", JOBS, "H"],
            ["group_rows", WAITING, 13, 4],
            ["freeze", JOBS, 3, 6],
            ["move_sheet", JOBS, 7],
            ["move_sheet", "Rates", 1],
        ],
        goes_on=True,
    ),
    "coloured, formatted, merged, noted": Edit(
        [
            ["colour", WORK, "A12:R14", 0xFFCC00],
            ["number_format", WORK, "M12:M20", "0.000"],
            ["number_format", WORK, "G12:G20", "HH:MM"],
            ["number_format", JOBS, "B5:B9", "YYYY-MM-DD"],
            ["note", WORK, "C12", "look twice"],
            ["type", JOBS, {"R2": "mine"}],
            ["merge", JOBS, "R2:T3"],
            ["merge", WORK, "D3:E3"],
        ],
        kept={JOBS: ("R2",)},
        goes_on=True,
    ),
    "cells of tables merged": Edit(
        [["merge", JOBS, "C8:E8"], ["merge", WORK, "Y12:Z12"], ["merge", WORK, "C30:C31"]],
        says=_says(("cells-merged", JOBS, "C8"), ("cells-merged", WORK, "C30")),
        stays=_says(("cells-merged", JOBS, "C8"), ("cells-merged", WORK, "C30")),
        goes_on=True,
    ),
    "things of the owner's beside and below": Edit(
        [
            ["type", JOBS, {"Y4": "Rack", "Z4": "Twice", "Y5": "1", "Z5": "=O5*2"}],
            ["type", JOBS, {"C30": "Remark", "C31": "and another"}],
            ["type", JOBS, {"A25": "Total", "K25": "=SUM(K5:K24)"}],
            ["type", WORK, {"C32": "Total", "M32": "=SUM(M12:M31)", "R32": "=SUM(R12:R31)"}],
            ["type", "Payments", {"C17": "=SUM(C5:C16)"}],
            ["add_sheet", "Mine", 1],
            ["type", "Mine", {"A1": "=$Jobs.K6", "A2": "=SUM($Jobs.K5:K24)"}],
        ],
        kept={
            JOBS: ("Y4", "Z4", "Y5", "Z5", "C30", "C31", "A25", "K25"),
            WORK: ("C32", "M32", "R32"),
            "Payments": ("C17",),
            "Mine": ("A1", "A2"),
        },
        goes_on=True,
    ),
    "formulas typed over and deleted": Edit(
        [
            ["type", WORK, {"M12": "77", "M13": "=K13*2"}],
            ["clear", WORK, "J14"],
            ["clear", WORK, "M7"],
            ["type", JOBS, {"K6": "5"}],
        ],
        says=_says(
            *(("formula-restored", WORK, cell) for cell in ("M7", "M12", "M13", "J14")),
            ("formula-restored", JOBS, "K6"),
        ),
    ),
    "formulas dragged down": Edit(
        [["fill_down", WORK, "M12:N31"], ["fill_down", WORK, "J12:J31"]],
    ),
    "a sheet copied": Edit(
        [["copy_sheet", WORK, "Copy", 4], ["copy_sheet", JOBS, "Old jobs", 2]],
        says=_says(("job-sheet-copied", "Copy", "")),
        stays=_says(("job-sheet-copied", "Copy", "")),
    ),
    "the copy kept and the sheet deleted": Edit(
        [["copy_sheet", WORK, "Copy", 5], ["delete_sheet", WORK]],
        says=_says(("table-restored", WAITING, "A11")),
    ),
    "a row copied": Edit(
        [["copy", JOBS, "A6:Q6", "A8"], ["copy", WAITING, "A12:R12", "A26"]],
        says=_says(("job-number-twice", JOBS, "A8"), ("line-number-given", WAITING, "A26")),
        stays=_says(("job-number-twice", JOBS, "A8")),
        changes=frozenset({WORK, WAITING}),
    ),
    "lines deleted": Edit(
        [["delete_rows", WORK, 12], ["delete_rows", WAITING, 14]],
        changes=frozenset({WORK, WAITING}),
    ),
    "rows typed under the tables": Edit(
        [
            ["type", JOBS, {"C25": "Ann Bell", "D25": "Pot", "E25": "OIL-PAN"}],
            ["type", WORK, {"B32": "fee", "C32": "Disposal", "G32": "1", "K32": "12"}],
            ["type", "Payments", {"A17": "2025-03-03", "B17": "25-0001", "C17": "5"}],
        ],
        changes=frozenset({BILLED, WORK, "25-0004"}),
        grows=True,
    ),
    "a customer renamed": Edit(
        [["type", "Customers", {"A6": "A. Bell"}], ["type", JOBS, {"C6": "A. Bell"}]],
        changes=frozenset({WORK}),
    ),
    "a job sheet deleted": Edit(
        [["delete_sheet", WORK]],
        says=_says(("job-sheet-missing", JOBS, "A6"), ("table-restored", WAITING, "A11")),
        stays=_says(("job-sheet-missing", JOBS, "A6")),
        changes=frozenset({WORK}),
    ),
}
"""Edits that the tools cope with; `recompute` writes what is needed."""

REFUSED: dict[str, tuple[Steps, str]] = {
    "a column deleted": (
        [["delete_column", JOBS, "G"]],
        "sheet 'Jobs': The column 'Promised' is missing. Type 'Promised' again in row 4,",
    ),
    "a column moved far out": (
        [["move_column", WORK, "B", "V"]],
        "sheet '25-0002', cell U11: The column 'Kind' stands outside the table. Cut the column",
    ),
    "headers merged": (
        [["merge", WORK, "B11:C11"]],
        "sheet '25-0002': The column 'Description' is missing. Type 'Description' again in row 11",
    ),
    "Rates deleted": (
        [["delete_sheet", "Rates"]],
        "sheet 'Rates': The sheet 'Rates' is missing, or has lost its headers. Put sheet and",
    ),
}
"""Edits after which nothing can be relied on: what is said of them, and nothing is written."""
