"""A small workbook with some of what owners put into theirs, and sheets to add to it."""

import io
import re
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

import xlsxwriter

from ledger_tools.shop.plan import AddSheet, Content, SheetKind
from tests.parts import png, share_formulas

JOBS_HEADER = 4
JOBS_LAST = 9
_CREATED = datetime(2025, 1, 1, tzinfo=UTC).replace(tzinfo=None)


def mixed_book(path: Path) -> Path:
    """Write the workbook to `path`: jobs, the owner's own sheets, a chart sheet, notes."""
    workbook = xlsxwriter.Workbook(path)
    workbook.set_properties({"created": _CREATED, "title": "Shop"})
    workbook.set_custom_property("Shop book format", 1)
    workbook.set_custom_property("Owner's word", "kept & true")
    _jobs(workbook)
    _own(workbook)
    chart_sheet = workbook.add_chartsheet("Picture")
    chart = workbook.add_chart({"type": "line"})
    chart.add_series({"values": "=Jobs!$C$5:$C$9"})
    chart_sheet.set_chart(chart)
    notes = workbook.add_worksheet("Last & least")
    notes.write("A1", "Nothing to see")
    notes.print_area("A1:C9")
    workbook.define_name("shop_name", "='Last & least'!$A$1")
    workbook.define_name("job_numbers", "=Jobs!$A$5:$A$9")
    workbook.close()
    share_formulas(path)
    return path


def _jobs(workbook: xlsxwriter.Workbook) -> None:
    sheet = workbook.add_worksheet("Jobs")
    figure = workbook.add_format({"num_format": "#,##0.00", "bg_color": "#F5F0E6", "border": 1})
    word = workbook.add_format({"font_name": "Arial", "border": 1})
    headers = ("Job", "Customer", "Hours", "Price", "Amount", "State")
    sheet.add_table(
        JOBS_HEADER - 1, 0, JOBS_LAST - 1, 5,
        {"name": "Jobs", "columns": [{"header": h} for h in headers]},
    )  # fmt: skip
    sheet.write("A1", "Jobs")
    for row in range(JOBS_HEADER, JOBS_LAST):
        sheet.set_row(row, 21)
        sheet.write_string(row, 0, f"25-000{row}", word)
        sheet.write_string(row, 1, f"Customer {row}", word)
        sheet.write_number(row, 2, row / 4, figure)
        sheet.write_number(row, 3, 100, figure)
        sheet.write_formula(row, 4, f"=ROUND(C{row + 1}*D{row + 1},2)", figure, row * 25)
        sheet.write_blank(row, 5, None, word)
    sheet.write_rich_string(4, 1, "Bold ", workbook.add_format({"bold": True}), "man", word)
    sheet.write_url(4, 0, "internal:'Own sheet'!B2", word, "25-0004")
    sheet.write_url(5, 0, "https://example.org/a", word, "25-0005")
    sheet.conditional_format("C5:C9", {"type": "data_bar", "data_bar_2010": True})
    rust = workbook.add_format({"font_color": "#B4532A"})
    sheet.conditional_format(
        "E5:E9", {"type": "cell", "criteria": ">", "value": 99, "format": rust}
    )
    sheet.data_validation("F5:F9", {"validate": "list", "source": ["in work", "to invoice"]})
    sheet.data_validation("C1:C2", {"validate": "decimal", "criteria": ">", "value": 0})
    sheet.write_comment("B6", "Calls on Mondays")
    sheet.add_sparkline("H5", {"range": "Jobs!C5:C9"})
    sheet.insert_image("J2", "red.png", {"image_data": io.BytesIO(png())})
    sheet.set_header("&C&G", {"image_center": "red.png", "image_data_center": io.BytesIO(png())})
    sheet.insert_textbox("J9", "Owner's words")
    sheet.insert_button("J16", {"caption": "Press"})
    sheet.freeze_panes(JOBS_HEADER, 1)
    sheet.repeat_rows(JOBS_HEADER - 1)


def _own(workbook: xlsxwriter.Workbook) -> None:
    sheet = workbook.add_worksheet("Own sheet")
    sheet.activate()
    for row in range(1, 7):
        sheet.write_number(row, 0, row)
        sheet.write_formula(row, 1, f"=A{row + 1}*2+$A$2", value=row * 2 + 1)
    sheet.write_formula("D2", "=SUM(Jobs!E5:E9)", value=812.5)
    sheet.write_formula("D3", '=IF(D2>0,"some","")', value="some")
    sheet.write_formula("D4", '=IF(D2>0,"","none")', value="")
    sheet.write_array_formula("F2:F4", "{=A2:A4*3}", value=3)
    sheet.write_number("F3", 6)
    sheet.write_number("F4", 9)
    sheet.write_formula("G2", "=1/0", value="#DIV/0!")
    sheet.write_boolean("G3", boolean=True)
    chart = workbook.add_chart({"type": "column"})
    chart.add_series({"values": "=Jobs!$E$5:$E$9", "categories": "=Jobs!$A$5:$A$9"})
    sheet.insert_chart("I2", chart)
    sheet.merge_range("A12:C13", "Merged")
    sheet.set_column("K:K", 20, workbook.add_format({"num_format": "0.000"}))


def drawn(adds: Sequence[AddSheet]) -> bytes:
    """Return a workbook of job sheets: formats, a table, links, rules, print set-up."""
    target = io.BytesIO()
    workbook = xlsxwriter.Workbook(target)
    workbook.set_properties({"created": _CREATED})
    workbook.formats[0].set_font_name("Arial")
    figure = workbook.add_format({"num_format": "0.0###", "font_name": "Arial", "italic": True})
    rust = workbook.add_format({"font_color": "#B4532A", "num_format": "0.000"})
    for add in adds:
        sheet = workbook.add_worksheet(add.name)
        head = workbook.add_format({"bold": True, "bottom": 2})
        sheet.add_table(
            10, 0, 10 + add.rows, 2,
            {"name": add.table, "style": None, "columns": [
                {"header": "Line", "format": figure},
                {"header": "Words", "header_format": head},
                {"header": "Amount"},
            ]},
        )  # fmt: skip
        for (row, col), content in add.contents.items():
            if content.formula is None:
                write = sheet.write_string if isinstance(content.value, str) else sheet.write
                write(row - 1, col - 1, content.value, figure)
            else:
                shown = "" if content.value is None else content.value
                sheet.write_formula(row - 1, col - 1, content.formula, figure, shown)
        sheet.write_rich_string(0, 2, "A ", rust, "rich", " end")
        sheet.write_url(0, 4, "internal:Jobs!A1", string="Back")
        sheet.write_formula(1, 0, f"=SUM({add.table}[Amount])", figure, 0)
        sheet.conditional_format(
            "C12:C20", {"type": "cell", "criteria": ">", "value": 5, "format": rust}
        )
        sheet.data_validation("B12:B20", {"validate": "list", "source": ["a", "b"]})
        sheet.insert_image("H1", "red.png", {"image_data": io.BytesIO(png())})
        sheet.set_column(1, 1, 30, figure)
        sheet.freeze_panes(11, 0)
        sheet.repeat_rows(10)
        sheet.print_area(0, 0, 30, 4)
    workbook.close()
    return target.getvalue()


def job_sheet(name: str, after: str = "Jobs", table: str = "") -> AddSheet:
    """Return a new job sheet with two lines."""
    contents = {
        (12, 1): Content(1),
        (12, 2): Content("  Weld seam & rim <1> "),
        (12, 3): Content(12.5),
        (13, 1): Content(2),
        (13, 2): Content("=not a formula"),
        (13, 3): Content(25.0, "ROUND(2*C12,2)"),
    }
    table = table or "Job_" + re.sub(r"\W", "_", name)
    return AddSheet(name, SheetKind.JOB, contents, rows=6, after=after, table=table)


Draw = Callable[[Sequence[AddSheet]], bytes]
