"""What an older book gets later: columns of tables, labelled cells, settings of `Start`.

Each is drawn at the places it gets there, as a new book has it.
"""

from collections.abc import Sequence

from ledger_tools.book.contents import setting_value
from ledger_tools.book.drawing.catalogue import draw_part_words
from ledger_tools.book.drawing.job import draw_figure
from ledger_tools.book.drawing.pen import Page, lines_of
from ledger_tools.book.drawing.start import draw_setting
from ledger_tools.book.drawing.table import Placing, draw_later_column
from ledger_tools.book.job_layout import JOB_HEADER, JOB_LINES, job_table
from ledger_tools.book.layout import Column, Look
from ledger_tools.book.look import indents
from ledger_tools.book.names import SETTINGS
from ledger_tools.book.places import ALWAYS, WHEN_NEEDED
from ledger_tools.shop.model import ShopSettings
from ledger_tools.shop.plan import Content, Later

_LINE_POINTS = 12.75
_SETTING_LETTERS = 33


def draw_later(page: Page, later: Later) -> None:
    """Draw what a sheet of an older book gets; the first row of a table stands for all."""
    if not later.table:
        _draw_settings(page, later)
        return
    if later.table != job_table(""):
        layout = next(t for t in (*ALWAYS, *WHEN_NEEDED) if t.table == later.table)
        _draw_columns(page, later, layout.columns)
        for _, header, _ in later.cells:
            draw_part_words(page, header)
        return
    _draw_columns(page, later, JOB_LINES)
    headers = {cell.key: cell for cell in JOB_HEADER}
    for key, label, value in later.cells:
        cell = headers[key]
        draw_figure(page, cell, (label, Content(cell.label)), (value, Content()))


def _draw_columns(page: Page, later: Later, columns: Sequence[Column]) -> None:
    by_key = {column.key: column for column in columns}
    wrapped = any(c.look is Look.WRAPPED for c in columns)
    shrunk = {Look.TEXT: {"shrink": True}} if columns is JOB_LINES else {}
    looks = [by_key[key].look for _, key in later.columns]
    steps = indents([Look.TEXT, *looks])[1:]
    for (col, key), step in zip(later.columns, steps, strict=True):
        placing = Placing(
            later.table,
            (later.header_row, col),
            1,
            {},
            row_points=None if wrapped else 0,
            by_look=shrunk,
        )
        draw_later_column(page, by_key[key], placing, indent=step)
        if col in later.hidden:
            page.hide(col)


def _draw_settings(page: Page, later: Later) -> None:
    settings = {setting.key: setting for setting in SETTINGS}
    for key, label, cell in later.cells:
        setting = settings[key]
        usual = setting_value(ShopSettings(), setting)
        lines = lines_of(str(usual), _SETTING_LETTERS)
        if lines > 1:
            page.height(cell[0], _LINE_POINTS * lines + 1.5)
        draw_setting(page, setting, None, (label, cell), {"valign": "top"})
