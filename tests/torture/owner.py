"""What an owner makes in a spreadsheet program: sheets of their own, and things put on ours."""

import io
from pathlib import Path
from typing import Any

import xlsxwriter

from ledger_tools.book.job_layout import JOB_LINES
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.shop.snapshot import column_letters
from tests.parts import png, share_formulas

PAID, IN_WORK = "25-0001", "25-0003"
"""Two jobs whose sheets the owner has put things on: one can be archived, one goes on."""
FIGURES, PICTURE, RACK = "Own figures", "Own picture", "Rack & list"
OURS = ("Start", "Jobs", PAID, IN_WORK, "Customers", "Invoices")
"""Sheets of the tools that carry things of the owner's."""
JOB_COLUMN = len(JOB_LINES)
JOB_BESIDE = JOB_COLUMN + 1
"""Columns, counted from 0, that a job sheet gets: one in the table, one beside it."""
JOBS_COLUMN = JOBS_TABLE.col("note") - 1
JOBS_BESIDE = len(JOBS_TABLE.columns) + 1
"""And those that `Jobs` gets: one in the table before the note, one beside it."""
THREAD = "{6A1B0C3E-0001-4000-8000-00000000000%d}"
"""Id of a thread of comments, by the number of its sheet."""
THREADED = {PAID: 1, IN_WORK: 2, RACK: 3}


def letter(col: int) -> str:
    """Return the letters of a column counted from 0."""
    return column_letters(col + 1)


def owner_workbook(path: Path) -> Path:
    """Write a workbook that holds all that, to be merged into a shop book sheet by sheet."""
    workbook = xlsxwriter.Workbook(path)
    figures = workbook.add_worksheet(FIGURES)
    figures.set_first_sheet()
    _figures(workbook, figures)
    _rack(workbook, workbook.add_worksheet(RACK))
    # Last, because openpyxl writes names of sheets right of a chart sheet for a wrong sheet.
    picture = workbook.add_chartsheet(PICTURE)
    picture.set_chart(_chart(workbook, "line", f"'{PAID}'!$M$12:$M$20"))
    for name in OURS:
        _on_ours(workbook, workbook.add_worksheet(name))
    workbook.define_name("own_name", f"='{FIGURES}'!$B$2")
    workbook.define_name("own_paid", f"='{PAID}'!$A$1")
    workbook.define_name("own_job", f"='{IN_WORK}'!$G$9")
    workbook.define_name(f"'{RACK}'!own_scope", f"='{RACK}'!$A$5:$A$9")
    workbook.close()
    share_formulas(path)
    return path


def _chart(workbook: Any, kind: str, values: str) -> Any:  # noqa: ANN401 - the writer is untyped
    chart = workbook.add_chart({"type": kind})
    chart.add_series({"values": f"={values}"})
    return chart


def _image() -> io.BytesIO:
    return io.BytesIO(png())


def _figures(workbook: Any, sheet: Any) -> None:  # noqa: ANN401 - the writer is untyped
    """Formulas of every kind, among them such that rest on job sheets and registers."""
    for row in range(1, 7):
        sheet.write_number(row, 0, row)
        sheet.write_formula(row, 1, f"=A{row + 1}*2+$A$2", value=row * 2 + 1)
    sheet.write_array_formula("F2:F4", "{=A2:A4*3}", value=3)
    sheet.write_number("F3", 6)
    sheet.write_number("F4", 9)
    formulas = {
        "D2": f"='{IN_WORK}'!G9",
        "D3": f"=SUM('{PAID}'!M12:M40)",
        "D4": "=SUM(Jobs!J5:J24)",
        "D5": "=SUM(Invoices[Total])",
        "D6": '=COUNTIF(Customers!A:A,"R*")',
        "D7": "=own_name+own_job",
        "D8": "=1/0",
        "D9": '=IF(D4>0,"some","")',
        "D10": f"=SUM('{IN_WORK}:{PAID}'!G9)",
        "D11": f"=SUM('{IN_WORK}'!$M$11:$M$23)",
    }
    for cell, formula in formulas.items():
        sheet.write_formula(cell, formula, None, 0)
    bold = workbook.add_format({"bold": True, "font_color": "#114477"})
    sheet.write_rich_string("H1", "Plain ", bold, "bold", " end")
    sheet.write_boolean("H2", boolean=True)
    sheet.write_string("H3", "=not a formula")
    sheet.embed_image("H4", "cell.png", {"image_data": _image()})
    sheet.insert_chart("I2", _chart(workbook, "column", f"'{IN_WORK}'!$M$12:$M$23"))
    sheet.insert_image("I20", "red.png", {"image_data": _image()})
    sheet.insert_textbox("J9", "Owner's words")
    sheet.insert_button("J30", {"caption": "Press", "macro": "Press"})
    sheet.write_comment("A2", "Mine", {"author": "Anna"})
    sheet.add_sparkline("G2", {"range": f"'{FIGURES}'!A2:A7"})
    sheet.conditional_format("A2:A7", {"type": "data_bar", "data_bar_2010": True})
    sheet.conditional_format(
        "B2:B7", {"type": "cell", "criteria": ">", "value": 5, "format": bold}
    )
    sheet.conditional_format("A2:A7", {"type": "icon_set", "icon_style": "3_traffic_lights"})
    sheet.data_validation("A2:A7", {"validate": "integer", "criteria": ">", "value": 0})
    sheet.write_url("H6", "https://example.org/own", string="outside")
    sheet.write_url("H7", f"internal:'{RACK}'!A1", string="inside")
    sheet.set_tab_color("#AA3311")


def _rack(workbook: Any, sheet: Any) -> None:  # noqa: ANN401 - the writer is untyped
    """A list: a table, groups, hidden rows and columns, merged cells, print area, header image."""
    rows = [[f"shelf {n}", n, n * 1.5] for n in range(1, 6)]
    columns = [
        {"header": "Place"},
        {"header": "Pieces", "total_function": "sum"},
        {"header": "Worth", "formula": "=[@Pieces]*1.5"},
    ]
    options = {"name": "OwnRack", "columns": columns, "data": rows, "total_row": True}
    sheet.add_table("A4:C10", options)
    sheet.set_row(5, 20, None, {"level": 1})
    sheet.set_row(6, 20, None, {"level": 1, "hidden": True})
    sheet.set_column("E:E", 9, None, {"hidden": True})
    sheet.set_column("F:F", 22, workbook.add_format({"num_format": "0.000", "italic": True}))
    sheet.merge_range("A12:C13", "Merged", workbook.add_format({"align": "center"}))
    for row, name in enumerate(("Thing", "a", "b", "a"), 14):
        sheet.write(row, 0, name)
    sheet.autofilter("A15:A18")
    sheet.filter_column("A", "x == a")
    sheet.set_row(16, options={"hidden": True})
    sheet.print_area("A1:F20")
    sheet.repeat_rows(3)
    sheet.set_header("&C&G", {"image_center": "red.png", "image_data_center": _image()})
    sheet.write_comment("B5", "Thread", {"author": f"tc={THREAD % THREADED[RACK]}"})
    sheet.freeze_panes(4, 1)
    sheet.protect("", {"sort": True})
    sheet.set_h_pagebreaks([11])
    sheet.data_validation("G5:G9", {"validate": "list", "source": f"='{PAID}'!$B$12:$B$17"})
    sheet.conditional_format("G5:G9", {"type": "no_errors"})


def _on_ours(workbook: Any, sheet: Any) -> None:  # noqa: ANN401 - the writer is untyped
    """What an owner puts on a sheet of the tools: only what stands here is merged into it."""
    if sheet.name in (PAID, IN_WORK):
        _on_job(workbook, sheet)
    elif sheet.name == "Jobs":
        _on_jobs(workbook, sheet)
    else:
        sheet.insert_image("P30", "red.png", {"image_data": _image()})
        sheet.insert_textbox("P34", "Ask Anna")
        sheet.write_comment("Q4", "Mine", {"author": "Anna"})
        sheet.write_string("Q4", "Own words", workbook.add_format({"italic": True}))
        sheet.write_formula("Q5", "=COUNTA(Jobs!C5:C24)", None, 4)


def _on_job(workbook: Any, sheet: Any) -> None:  # noqa: ANN401 - the writer is untyped
    own = workbook.add_format({"num_format": '0.00" kg"', "bg_color": "#DDEEFF"})
    for row in range(11, 23):
        sheet.write_formula(row, JOB_COLUMN, f"=ROUND(M{row + 1}*2,2)", own, 0)
    sheet.write_string(8, JOB_BESIDE, "Photo")
    sheet.write_formula(9, JOB_BESIDE, f"='{FIGURES}'!B2+Jobs!J5", None, 3)
    sheet.write_formula(10, JOB_BESIDE, "=SUM(M12:M20)", None, 0)
    sheet.write_formula(12, JOB_BESIDE, "=SUM(M12:M23)", None, 0)
    sheet.insert_chart(
        f"{letter(JOB_BESIDE + 2)}3", _chart(workbook, "bar", f"'{sheet.name}'!$M$12:$M$20")
    )
    sheet.insert_image(f"{letter(JOB_BESIDE + 2)}20", "red.png", {"image_data": _image()})
    sheet.insert_textbox(f"{letter(JOB_BESIDE + 2)}24", "Ask before welding")
    sheet.write_comment("C13", "Customer waits", {"author": "Anna"})
    thread = f"tc={THREAD % THREADED[sheet.name]}"
    sheet.write_comment("C12", "[Threaded comment]", {"author": thread})
    sheet.add_sparkline(f"{letter(JOB_BESIDE + 1)}12", {"range": f"'{sheet.name}'!F12:H12"})
    sheet.conditional_format("M12:M23", {"type": "data_bar", "data_bar_2010": True})
    sheet.conditional_format(
        f"{letter(JOB_BESIDE)}1:{letter(JOB_BESIDE)}23", {"type": "blanks", "format": own}
    )
    sheet.data_validation(
        f"{letter(JOB_COLUMN)}12:{letter(JOB_COLUMN)}23",
        {"validate": "decimal", "criteria": ">=", "value": 0},
    )
    sheet.set_header("&C&G", {"image_center": "red.png", "image_data_center": _image()})
    sheet.set_row(29, 33)
    sheet.write_string(29, JOB_BESIDE, "far below", workbook.add_format({"bold": True}))


def _on_jobs(workbook: Any, sheet: Any) -> None:  # noqa: ANN401 - the writer is untyped
    own = workbook.add_format({"bold": True, "bg_color": "#EEDDFF"})
    sheet.write_string(3, JOBS_BESIDE, "Colour", own)
    sheet.write_string(4, JOBS_BESIDE, "red")
    sheet.write_formula(5, JOBS_BESIDE, "=J6*2", own, 0)
    sheet.embed_image(6, JOBS_BESIDE, "cell.png", {"image_data": _image()})
    sheet.insert_image(f"{letter(JOBS_BESIDE + 2)}2", "red.png", {"image_data": _image()})
    sheet.insert_chart(f"{letter(JOBS_BESIDE + 2)}8", _chart(workbook, "pie", "Jobs!$J$5:$J$9"))
    sheet.write_comment("C6", "Pays late", {"author": "Anna"})
    sheet.add_sparkline(f"{letter(JOBS_BESIDE + 1)}5", {"range": "Jobs!J5:K5"})
    sheet.conditional_format("J5:J24", {"type": "data_bar", "data_bar_2010": True})
    sheet.conditional_format("C5:C24", {"type": "duplicate", "format": own})
    sheet.data_validation(
        f"{letter(JOBS_BESIDE)}5:{letter(JOBS_BESIDE)}24",
        {"validate": "list", "source": ["red", "blue"]},
    )
