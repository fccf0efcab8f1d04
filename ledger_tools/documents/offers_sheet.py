"""The options of an estimate on a sheet of their own, side by side, ready to print and to tick."""

from collections.abc import Sequence

import xlsxwriter

from ledger_tools.billing.estimate import Estimate
from ledger_tools.book.look import INK, SIZE_BODY, SIZE_SMALL
from ledger_tools.documents import paper
from ledger_tools.documents import printed_sheet as look
from ledger_tools.documents.font import wrapped
from ledger_tools.documents.letters import clean, clean_line
from ledger_tools.documents.offers import Offers
from ledger_tools.documents.printed_sheet import PrintedSheet, Style
from ledger_tools.documents.texts import label

LONGEST_TAB = 31
"""Letters the file format allows in the name of a sheet."""
_FORBIDDEN = str.maketrans(dict.fromkeys("[]:*?/\\'", " "))
_LABELS, _BOX, _OPTION = 18, 3, 22
"""Widths in characters: labels, a box to tick, an option."""
_UPRIGHT = 3
"""Options that an upright page is wide enough for."""
_INDENTED: Style = {"align": "left", "indent": 1}
_BORDER: Style = {"border": 1, "border_color": INK}


def options_sheet(book: xlsxwriter.Workbook, estimate: Estimate, block: Offers) -> None:
    """Write the options of an estimate into a sheet of their own."""
    name = clean_line(block.heading).translate(_FORBIDDEN).strip()[:LONGEST_TAB] or "Options"
    widths = (_LABELS, *((_BOX, _OPTION) * len(block.heads)))
    page = PrintedSheet(book.add_worksheet(name), book, widths, paper.digits(estimate))
    page.headline(paper.title(estimate), len(widths))
    for text, style in ((block.heading, look.BOLD), (block.says, look.SMALL)):
        page.word(0, text, style)
        page.row += 1
    page.gap()
    _heads(page, block)
    for label_of_row, texts in block.rows:
        _across(page, label_of_row, texts, look.LINE_BELOW)
    page.set_up_page(paper.page_size(estimate), page.row - len(block.rows) - 1)
    if len(block.heads) > _UPRIGHT:
        page.sheet.set_landscape()
    shop, title = clean_line(estimate.wording.get("shop_name", "")), paper.title(estimate)
    page.set_footer(f"{shop} · {title}" if shop else title, label(estimate, "page"))


def _heads(page: PrintedSheet, block: Offers) -> None:
    """Write letter, kind and marks above each option, with a box to tick beside the letter."""
    for at, head in enumerate(block.heads):
        if block.tick:
            page.sheet.write_blank(page.row, 1 + 2 * at, None, page.style(_BORDER))
        page.word(2 + 2 * at, head.letter, look.BOLD, _INDENTED if block.tick else look.PLAIN)
    page.row += 1
    _across(page, "", [head.kind for head in block.heads])
    _across(page, "", [head.marks for head in block.heads], look.BOLD, look.INK_BELOW)


def _across(page: PrintedSheet, name: str, texts: Sequence[str], *styles: Style) -> None:
    """Write a label and a text for each option, in as many rows as show all of them."""
    bold = look.BOLD in styles
    cells = [(0, _lines(page, 0, name, SIZE_SMALL), (look.SMALL, *styles))]
    for col, text in enumerate(texts, 1):
        cells.append((2 * col, _lines(page, 2 * col, text, SIZE_BODY, bold=bold), styles))
    tallest = max(len(lines) for _, lines, _ in cells)
    for start in range(0, max(tallest, 1), look.TALLEST):
        page.empty(*styles)
        for col, lines, told in cells:
            part = "\n".join(lines[start : start + look.TALLEST])
            page.sheet.write_string(page.row, col, part, page.style({"text_wrap": True}, *told))
        shown = max(1, min(tallest - start, look.TALLEST))
        page.sheet.set_row(page.row, shown * look.LEADING[SIZE_BODY] + 2)
        page.row += 1


def _lines(page: PrintedSheet, col: int, text: str, size: int, *, bold: bool = False) -> list[str]:
    """Return words in lines that fit into a column."""
    width = page.widths[col] * look.POINTS_A_CHARACTER - look.DOUBT
    words = clean(text).strip("\n")
    return wrapped(words, width, size=size, bold=bold) if words else []
