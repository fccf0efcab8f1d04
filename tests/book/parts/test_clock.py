"""What `1:30` leaves behind: cells that show clock times, in which minutes are to stand."""

from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from ledger_tools.book.parts.clock import is_clock_time
from ledger_tools.book.patch import patched_book
from ledger_tools.shop.plan import Content, Plan, SetCell


@pytest.mark.parametrize(
    ("code", "clock"),
    [
        (r"hh:mm:ss\ AM/PM", True),
        ("[h]:mm", True),
        ("mm:ss.0", True),
        ("h:mm;@", True),
        ("yyyy-mm-dd hh:mm", False),
        ("dd/mm/yyyy", False),
        ('0.0" hours"', False),
        ("[$$-409]#,##0.00", False),
        ("[Red]0.00", False),
        ("General", False),
        ("@", False),
    ],
)
def test_hours_without_a_day_are_a_clock_time(code: str, *, clock: bool) -> None:
    """Quoted words, colours and currencies are not taken for hours."""
    assert is_clock_time(code) is clock


def test_minutes_put_into_a_clock_cell_show_as_minutes(tmp_path: Path) -> None:
    """The number format becomes General, the owner's colour stays, other cells are as before."""
    path = tmp_path / "book.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Lines")
        clock = book.add_format({"num_format": "hh:mm:ss AM/PM", "bg_color": "#FFE600"})
        for row in range(2):
            sheet.write_number(row, 0, 0.0625, clock)
        sheet.write_number(2, 0, 0.25, book.add_format({"num_format": 20}))
        sheet.write_number(3, 0, 45000, book.add_format({"num_format": "yyyy-mm-dd"}))
        sheet.write_number(4, 0, 0.5, clock)
    cells = [(1, 0.0625, 90), (2, 0.0625, 15), (3, 0.25, 360), (4, 45000, 45001)]
    plan = Plan(tuple(SetCell("Lines", r, 1, Content(old), Content(new)) for r, old, new in cells))

    path.write_bytes(patched_book(path.read_bytes(), path.name, plan))

    after = openpyxl.load_workbook(path)["Lines"]
    shown = [after.cell(row, 1).number_format for row in range(1, 6)]
    assert shown == ["General", "General", "General", "yyyy-mm-dd", "hh:mm:ss AM/PM"]
    assert [after.cell(row, 1).fill.fgColor.rgb for row in (1, 2, 5)] == ["FFFFE600"] * 3
