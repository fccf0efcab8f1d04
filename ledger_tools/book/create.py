"""A new shop book, drawn whole."""

import io
from collections.abc import Mapping

from ledger_tools.billing.guarantee import guaranteed_classes
from ledger_tools.book.drawing.catalogue import (
    CODES_COL,
    WORDS_COL,
    draw_codes,
    draw_part_words,
    filled,
    guarantee_rows,
    material_rows,
    rate_rows,
    repair_rows,
    tolerance_rows,
)
from ledger_tools.book.drawing.pen import Hand, Page, lines_of, new_workbook
from ledger_tools.book.drawing.registers import mark_jobs
from ledger_tools.book.drawing.start import draw_start
from ledger_tools.book.drawing.table import draw_table_sheet
from ledger_tools.book.drawing.taxes import draw_taxes
from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import (
    BOOK_FORMAT,
    CUSTOMERS_TABLE,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    MATERIALS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    START,
    TAX_CLASSES_COL,
    TAX_RATES_TABLE,
    TAX_TABLES_ROW,
    TOLERANCES_TABLE,
    TableLayout,
)
from ledger_tools.book.names import LIST_NAMES, NAME_PART_STATUS, filled_part
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place, column_letters

_LINE_POINTS = 13.5
_SOURCE_LETTERS = 62
"""What a line of the column of sources holds."""
_LAW_LETTERS, _READ_LETTERS = 50, 26
"""Likewise of the two on `Guarantees`."""


def create_book(book: ShopBook) -> bytes:
    """Return a new shop book with settings, tax profile and catalogue; no jobs yet.

    The same `book` gives the same bytes: the date of creation is its as-of day.
    """
    target = io.BytesIO()
    workbook = new_workbook(target, created=book.as_of)
    workbook.set_custom_property(FORMAT_PROPERTY, BOOK_FORMAT)
    hand = Hand(workbook, book.settings.digits, book.settings.paper)
    draw_start(hand.page(START), book)
    jobs = _table(hand, JOBS_TABLE)
    mark_jobs(jobs)
    if not (book.tolerances or guaranteed_classes(book.guarantees)):
        jobs.hide(JOBS_TABLE.col("object_class"))
    _table(hand, CUSTOMERS_TABLE)
    _table(hand, PAYMENTS_TABLE)
    draw_part_words(_table(hand, RATES_TABLE, rate_rows(book.catalogue)))
    draw_codes(_table(hand, REPAIRS_TABLE, repair_rows(book.catalogue)), book.catalogue)
    _table(hand, MATERIALS_TABLE, material_rows(book.catalogue))
    draw_taxes(hand.page(TAX_RATES_TABLE.sheet), book.profile)
    _draw_rules(hand, book)
    _name_lists(hand)
    workbook.close()
    return target.getvalue()


def _draw_rules(hand: Hand, book: ShopBook) -> None:
    """Draw the rules of the place, as far as it has any."""
    if book.tolerances:
        page = _table(hand, TOLERANCES_TABLE, tolerance_rows(book.tolerances))
        for row, rule in enumerate(book.tolerances, TOLERANCES_TABLE.first_row + 1):
            page.height(row, _LINE_POINTS * lines_of(rule.source, _SOURCE_LETTERS))
    if book.guarantees:
        page = _table(hand, GUARANTEES_TABLE, guarantee_rows(book.guarantees))
        for row, law in enumerate(book.guarantees, GUARANTEES_TABLE.first_row + 1):
            lines = lines_of(law.source, _LAW_LETTERS), lines_of(law.read, _READ_LETTERS)
            page.height(row, _LINE_POINTS * max(lines))


def _table(
    hand: Hand, layout: TableLayout, contents: Mapping[Place, Content] | None = None
) -> Page:
    page = hand.page(layout.sheet)
    cells = contents or {}
    rows = filled(cells, layout) + layout.spare
    draw_table_sheet(page, layout, rows=rows, contents=cells)
    return page


def _name_lists(hand: Hand) -> None:
    """Name the columns that choices are taken from, as far down as they are filled."""
    tops = (
        (REPAIRS_TABLE.sheet, (REPAIRS_TABLE.first_row + 1, CODES_COL)),
        (RATES_TABLE.sheet, (RATES_TABLE.first_row + 1, RATES_TABLE.col("labour_class"))),
        (TAX_RATES_TABLE.sheet, (TAX_TABLES_ROW + 1, TAX_CLASSES_COL)),
        (JOBS_TABLE.sheet, (JOBS_TABLE.first_row + 1, JOBS_TABLE.col("number"))),
    )
    for name, (sheet, top) in zip(LIST_NAMES, tops, strict=True):
        hand.workbook.define_name(name, f"={filled_part(sheet, top)}")
    first, last = (f"${column_letters(WORDS_COL)}${RATES_TABLE.first_row + n}" for n in (1, 3))
    hand.workbook.define_name(NAME_PART_STATUS, f"={RATES_TABLE.sheet}!{first}:{last}")
