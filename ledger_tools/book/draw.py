"""New sheets for a book that is there already: drawn in a workbook of their own, to be grafted."""

import io
from collections.abc import Sequence
from datetime import date

from ledger_tools.book.drawing.job import draw_job
from ledger_tools.book.drawing.later import draw_later
from ledger_tools.book.drawing.pen import Hand, new_workbook
from ledger_tools.book.drawing.table import draw_table_sheet
from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import AUTHORISATIONS_TABLE, TIME_TABLE, TOLERANCES_TABLE
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.registers import (
    ARCHIVED_LINES_TABLE,
    ESTIMATE_LINES_TABLE,
    ESTIMATES_TABLE,
    INVOICE_LINES_TABLE,
    INVOICES_TABLE,
)
from ledger_tools.shop.plan import AddSheet, Content, Later, SheetKind

_CREATED = date(2025, 1, 1)
"""A donor's own date is thrown away with it; a fixed one keeps its bytes the same."""
_REGISTERS = {
    SheetKind.TIME: TIME_TABLE,
    SheetKind.TOLERANCES: TOLERANCES_TABLE,
    SheetKind.GUARANTEES: GUARANTEES_TABLE,
    SheetKind.OPTIONS: OPTIONS_TABLE,
    SheetKind.AUTHORISATIONS: AUTHORISATIONS_TABLE,
    SheetKind.ESTIMATES: ESTIMATES_TABLE,
    SheetKind.ESTIMATE_LINES: ESTIMATE_LINES_TABLE,
    SheetKind.INVOICES: INVOICES_TABLE,
    SheetKind.INVOICE_LINES: INVOICE_LINES_TABLE,
    SheetKind.ARCHIVED_LINES: ARCHIVED_LINES_TABLE,
}


def donor(adds: Sequence[AddSheet]) -> bytes:
    """Return a workbook that holds just the sheets asked for, in that order.

    Cells for formulas are drawn empty: the graft puts formulas and their values in.
    """
    target = io.BytesIO()
    workbook = new_workbook(target, created=_CREATED)
    hands = {key: Hand(workbook, *key) for key in dict.fromkeys((a.digits, a.paper) for a in adds)}
    for add in adds:
        contents = {p: c if c.formula is None else Content() for p, c in add.contents.items()}
        draw_sheet(hands[add.digits, add.paper], add._replace(contents=contents))
    workbook.close()
    return target.getvalue()


def drawn_later(parts: Sequence[Later]) -> bytes:
    """Return a workbook with a sheet for each of `parts`, in that order, drawn in its places."""
    target = io.BytesIO()
    workbook = new_workbook(target, created=_CREATED)
    hands = {digits: Hand(workbook, digits) for digits in dict.fromkeys(p.digits for p in parts)}
    for number, later in enumerate(parts, 1):
        draw_later(hands[later.digits].page(str(number)), later)
    workbook.close()
    return target.getvalue()


def draw_sheet(hand: Hand, add: AddSheet) -> None:
    """Draw one new sheet."""
    page = hand.page(add.name)
    if add.kind is SheetKind.JOB:
        draw_job(page, add)
        return
    draw_table_sheet(
        page, _REGISTERS[add.kind], rows=add.rows, contents=add.contents, links=add.links
    )
