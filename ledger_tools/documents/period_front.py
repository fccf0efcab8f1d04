"""The head of a summary's first sheet: what it is, of which days, and the main figures."""

from xlsxwriter.worksheet import Worksheet

from ledger_tools.billing.summaries import PeriodSummary
from ledger_tools.book.layout import Look
from ledger_tools.book.look import RUST, SIZE_SMALL, SIZE_TITLE, STEEL
from ledger_tools.documents.blocks import Formula
from ledger_tools.documents.pack import Pack, place_of
from ledger_tools.documents.period_blocks import during, sum_in
from ledger_tools.documents.period_checks import CHECKS, Check, verdict
from ledger_tools.shop.model import ShopBook

WIDTHS = (20, 10.5, 10.5, 10.5, 11, 2, 20, 10.5, 10.5, 10.5, 11)
"""Two halves of five columns with a gap between them."""
LEFT, LEFT_END, RIGHT, RIGHT_END = 1, 5, 7, 11
HALF_WIDTH = 462
"""Pixels of one half."""
BELOW_HEAD = 8
"""First row below the head."""
_STRIP = ((1, 1), (2, 3), (4, 5), (7, 7), (8, 9), (10, 11))
_STRIP_ROW = 5


def head(
    pack: Pack, sheet: Worksheet, book: ShopBook, summary: PeriodSummary, checks: list[Check]
) -> None:
    """Write title, shop, currency, days and the word on the checks into the first three rows."""
    sheet.set_row(0, 24)
    grey = pack.style(font_color=STEEL)
    pack.put(sheet, 1, 1, pack.title, pack.style(font_size=SIZE_TITLE, bold=True))
    pack.put(sheet, 2, 1, book.settings.name, pack.style(bold=True))
    said = f"Amounts in {book.settings.currency}. Income counts on the invoice date, paid or not."
    pack.put(sheet, 3, 1, said, grey)
    days = (
        ("From", "period_first", summary.period.first),
        ("To", "period_last", summary.period.last),
        ("Debts aged on", "aged_on", summary.aged_on),
    )
    for row, (label, name, day) in enumerate(days, 1):
        pack.put(sheet, row, 10, label, pack.style(font_color=STEEL, align="right"))
        pack.put(sheet, row, 11, day, pack.figure_style(Look.DATE, align="right"))
        pack.name(name, sheet.get_name(), row, 11)
    pack.put(sheet, 2, 7, verdict(checks), pack.style(bold=True), link=place_of(CHECKS))
    count = f"COUNTIFS({during('Invoices[Date]')})"
    issued = Formula(f'"Invoices issued: "&{count}', f"Invoices issued: {summary.invoices}")
    pack.put(sheet, 3, 7, issued, grey, link=place_of("Invoices"))


def strip(pack: Pack, sheet: Worksheet, summary: PeriodSummary) -> None:
    """Write the figures people ask for first, in large type."""
    owed = summary.receivables
    dated, paid = during("Invoices[Date]"), during("Payments[Date]")
    overdue = 'SUMIFS(Invoices[Owing],Invoices[Owing],">0",Invoices[Due],"<"&aged_on)'
    figures = (
        ("Net income", sum_in(pack, "Invoices[Net]", dated), summary.net, "Invoices"),
        ("Tax collected", sum_in(pack, "Invoices[Tax]", dated), summary.tax, "Taxes"),
        ("Invoiced with tax", sum_in(pack, "Invoices[Total]", dated), summary.total, "Invoices"),
        (
            "Payments received",
            sum_in(pack, "Payments[Amount]", paid),
            summary.roll_forward.received,
            "Payments",
        ),
        (
            "Owed to the shop",
            pack.rounded('SUMIFS(Invoices[Owing],Invoices[Owing],">0")'),
            owed.owed,
            "Invoices",
        ),
        ("Of that overdue", pack.rounded(overdue), owed.overdue, "Invoices"),
    )
    sheet.set_row(_STRIP_ROW, 24)
    label = pack.style(font_size=SIZE_SMALL, font_color=STEEL)
    for (first, last), (name, text, value, link) in zip(_STRIP, figures, strict=True):
        colour = RUST if name == figures[-1][0] and value else None
        style = pack.figure_style(
            Look.MONEY,
            font_size=SIZE_TITLE,
            align="left",
            **({"font_color": colour} if colour else {}),
        )
        if last > first:
            sheet.merge_range(_STRIP_ROW, first - 1, _STRIP_ROW, last - 1, None, style)
        pack.put(sheet, _STRIP_ROW, first, name, label)
        figure = Formula(text, value)
        pack.put(sheet, _STRIP_ROW + 1, first, figure, style, link=place_of(link))
