"""A paper as a workbook: the same words and figures as the PDF, ready to print.

Sums are live formulas where the formula gives the figure that was issued, to the last digit;
where it does not (another rounding, a price agreed for the whole line) the issued figure stands
as a number.
"""

import io
from collections.abc import Callable
from decimal import Decimal

import xlsxwriter

from ledger_tools.billing.invoice import InvoiceLine
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.book.formulas.text import rounded
from ledger_tools.documents import figures, paper
from ledger_tools.documents import printed_sheet as look
from ledger_tools.documents.letters import clean_line
from ledger_tools.documents.names import file_stem
from ledger_tools.documents.printed_sheet import Description, PrintedSheet, Style
from ledger_tools.documents.texts import Paper, label
from ledger_tools.money import ZERO, Rounding

WIDTHS = (46, 9, 8, 12, 15)
"""Column widths in characters: description, quantity, unit, price, amount."""

WORDS, QUANTITY, UNIT, PRICE, AMOUNT = range(5)
LONGEST_TAB = 31
"""Letters the file format allows in the name of a sheet."""

INDENTED: Style = {"align": "left", "indent": 1}


def paper_workbook(
    document: Paper,
    below: Callable[[PrintedSheet], None],
    beside: Callable[[xlsxwriter.Workbook], None] | None = None,
    *,
    above: Callable[[PrintedSheet], None] | None = None,
) -> bytes:
    """Return the paper as an .xlsx file; the same paper gives the same bytes.

    Args:
        document: What is printed.
        below: Writes what stands under the total.
        beside: Writes further sheets.
        above: Writes what stands over the lines.
    """
    made = io.BytesIO()
    shop = clean_line(document.wording.get("shop_name", ""))
    title = paper.title(document)
    with look.new_book(made, Description(title, shop, document.day)) as book:
        tab = book.add_worksheet(file_stem(document.number)[:LONGEST_TAB])
        page = PrintedSheet(tab, book, WIDTHS, paper.digits(document))
        _shop(page, document)
        _customer(page, document)
        if above is not None:
            above(page)
        heads = _column_heads(page, document)
        amounts = [_section(page, document, part) for part in paper.sections(document)]
        net = _net(page, document, amounts)
        taxes = [_tax(page, document, tax, net) for tax in paper.charged(document)]
        _total(page, document, [net, *taxes])
        below(page)
        page.set_up_page(paper.page_size(document), heads)
        page.set_footer(f"{shop} · {title}" if shop else title, label(document, "page"))
        if beside is not None:
            beside(book)
    return made.getvalue()


def _shop(page: PrintedSheet, document: Paper) -> None:
    wording = document.wording
    page.word(AMOUNT, paper.title(document), look.LARGE, look.RIGHT)
    page.headline(wording.get("shop_name", ""), UNIT)
    page.block(wording.get("shop_address", ""))
    for key in ("shop_contact", "shop_tax_number"):
        page.block(wording.get(key, ""), look.SMALL)
    page.gap(look.LINE_BELOW)
    page.gap()


def _customer(page: PrintedSheet, document: Paper) -> None:
    """Write whom and what the paper is for, with date, due and job to the right."""
    first = page.row
    page.block(label(document, "customer"), look.SMALL)
    page.block(document.customer, look.BOLD)
    for key in ("customer_address", "customer_tax_number"):
        page.block(document.wording.get(key, ""))
    facts = paper.facts(document)
    for row, (name, text) in enumerate(facts, first):
        page.word(PRICE, name, look.SMALL, row=row)
        page.word(AMOUNT, text, look.RIGHT, row=row)
    page.row = max(page.row, first + len(facts))
    if document.item:
        page.gap()
        page.block(label(document, "item"), look.SMALL)
        page.block(document.item)
    page.gap()


def _column_heads(page: PrintedSheet, document: Paper) -> int:
    """Write the heads of the columns and return their row."""
    names = [label(document, key) for key in ("description", "quantity", "unit", "price")]
    aligned = [look.PLAIN, look.RIGHT, INDENTED, look.RIGHT, look.RIGHT]
    told = zip([*names, paper.amount_label(document)], aligned, strict=True)
    for col, (name, align) in enumerate(told):
        page.word(col, name, look.SMALL, look.INK_BELOW, align)
    page.row += 1
    return page.row - 1


def _section(page: PrintedSheet, document: Paper, section: paper.Section) -> str:
    """Write one section and return the range of its amounts."""
    page.gap()
    page.empty(look.LINE_BELOW)
    page.word(WORDS, section.heading, look.BOLD, look.LINE_BELOW)
    page.row += 1
    first = page.row
    for line in section.lines:
        _line(page, document, line, section.places)
    last = page.row - 1
    page.block(paper.note_under(document, section), look.SMALL)
    amounts = f"{page.cell(AMOUNT, first)}:{page.cell(AMOUNT, last)}"
    if paper.has_subtotal(document, section):
        page.word(PRICE, label(document, "subtotal"), look.QUIET, look.RIGHT)
        _sum(page, amounts, section.amount, section.amount)
        page.row += 1
    return amounts


def _line(page: PrintedSheet, document: Paper, line: InvoiceLine, places: int) -> None:
    """Write a line, with more rows below it where its words need them."""
    told = (line.description, paper.note_on(document, line))
    left = page.first_part("\n".join(text for text in told if text), look.LINE_BELOW)
    quantity = page.figure(QUANTITY, line.quantity, places, look.LINE_BELOW)
    page.word(UNIT, line.unit, INDENTED, look.LINE_BELOW)
    price = paper.shown_price(line)
    if price is None:
        page.word(PRICE, label(document, "agreed"), look.QUIET, look.RIGHT, look.LINE_BELOW)
        page.figure(AMOUNT, line.amount, page.digits, look.LINE_BELOW)
    else:
        shown = max(page.digits, figures.places_of(price))
        cell = page.figure(PRICE, price, shown, look.LINE_BELOW)
        exact = line.quantity * price
        _product(page, f"{quantity}*{cell}", exact, line.amount, look.LINE_BELOW)
    page.rest(left, look.LINE_BELOW)


def _product(
    page: PrintedSheet, formula: str, exact: Decimal, issued: Decimal, *styles: Style
) -> str:
    """Write a live rounded product, or the amount issued if it is another."""
    rounding = Rounding(page.digits)
    if rounding.amount(exact) == issued:
        return page.formula(AMOUNT, rounded(formula, rounding), issued, *styles)
    return page.figure(AMOUNT, issued, page.digits, *styles)


def _sum(
    page: PrintedSheet, parts: str, comes_to: Decimal, issued: Decimal, *styles: Style
) -> str:
    """Write a live sum, or the amount issued if the parts do not come to it."""
    if parts and comes_to == issued:
        return page.formula(AMOUNT, f"ROUND(SUM({parts}),{page.digits})", issued, *styles)
    return page.figure(AMOUNT, issued, page.digits, *styles)


def _net(page: PrintedSheet, document: Paper, amounts: list[str]) -> str:
    """Write the net amount and return its cell."""
    page.gap()
    page.empty(look.INK_ABOVE)
    page.word(PRICE, label(document, "net"), look.QUIET, look.RIGHT, look.INK_ABOVE)
    comes_to = sum((line.amount for line in document.lines), ZERO)
    cell = _sum(page, ",".join(amounts), comes_to, document.subtotal, look.INK_ABOVE)
    page.row += 1
    return cell


def _tax(page: PrintedSheet, document: Paper, tax: TaxAmount, net: str) -> str:
    """Write one tax, its rate and what it falls on; return the cell of what it comes to."""
    page.block(tax.component, look.QUIET, look.RIGHT)
    page.row -= 1
    places = figures.places_of(tax.rate * 100)
    percent: Style = {"num_format": f"{'0.' + '0' * places if places else '0'}%"}
    rate = page.figure(QUANTITY, tax.rate, 0, look.QUIET, percent)
    page.word(UNIT, label(document, "tax_base"), look.QUIET, {"align": "center"})
    if tax.base == document.subtotal:
        base = page.formula(PRICE, net, tax.base, look.QUIET)
    else:
        base = page.figure(PRICE, tax.base, page.digits, look.QUIET)
    cell = _product(page, f"{base}*{rate}", tax.base * tax.rate, tax.amount)
    page.row += 1
    return cell


def _total(page: PrintedSheet, document: Paper, parts: list[str]) -> None:
    bold: tuple[Style, ...] = (look.RUST_ABOVE, {"bold": True, "valign": "vcenter"})
    page.empty(*bold)
    page.sheet.set_row(page.row, 24)
    words = f"{paper.total_label(document)}, {document.currency}"
    page.word(PRICE, words, look.RIGHT, *bold)
    charged = sum((tax.amount for tax in paper.charged(document)), ZERO)
    comes_to = document.subtotal + charged
    _sum(page, ",".join(parts), comes_to, document.total, *bold, look.LARGE)
    page.row += 1
    page.gap()
