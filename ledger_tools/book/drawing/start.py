"""The sheet `Start`: how a job goes through the book, how things stand, the shop's settings."""

from datetime import date
from decimal import Decimal
from math import ceil

from ledger_tools.book.contents import setting_value
from ledger_tools.book.drawing.pen import (
    HEADING,
    LABEL,
    LINK,
    SAYS,
    TITLE,
    WARNING,
    WARNS,
    Page,
    Props,
)
from ledger_tools.book.drawing.rules import hint_rule, lay_rule
from ledger_tools.book.formulas.registers import TITLE as SHOP
from ledger_tools.book.layout import START, Look
from ledger_tools.book.look import cell_format
from ledger_tools.book.names import (
    NAME_AS_OF,
    NAME_ERRORS,
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    NAME_NOTES,
    NAME_WARNINGS,
    SETTINGS,
    Setting,
)
from ledger_tools.shop.model import ShopBook, ShopSettings
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place, Scalar, column_letters

_NUMBER, _STEP, _TEXT, _GOTO = 2, 3, 4, 5
_TODAY, _FIGURE = 7, 8
_SETTING, _TYPED = 10, 11
_WIDTHS = {
    1: 1.5, _NUMBER: 2.5, _STEP: 10, _TEXT: 42, _GOTO: 9.5, 6: 2.5,
    _TODAY: 11.5, _FIGURE: 11, 9: 2.5, _SETTING: 26, _TYPED: 31,
}  # fmt: skip
_FIRST = 5
"""Row of the first step, the first figure and the first setting."""
_STEP_POINTS = 27
_LINE_POINTS = 12.75
_SETTING_POINTS = 14.25
_LINE_LENGTH = 33

STEPS = (
    ("Take in", "Jobs", "Type customer, item, repair type in a new row.",
     "Save, recompute: number and sheet appear."),
    ("Estimate", "Repairs", "The usual steps come from Repairs; put minutes",
     "and quantities right on the job sheet."),
    ("Authorise", "Jobs", "Work begins when the customer has said yes.",
     "What they allow is the ceiling of the bill."),
    ("Work", "Rates", "Type minutes worked (90, 1:30, 1h30), the part",
     "not billable and why. Sublet work is a line."),
    ("Invoice", "Customers", "Set the state 'to invoice', save, close, run",
     "invoice. The address comes from Customers."),
    ("Collect", "Payments", "One row for each payment received.",
     "Jobs shows what is still owing."),
)  # fmt: skip
"""How a job goes through the book: what is done, the sheet to go to, how, in two lines."""

COMMANDS = (
    ("recompute", "computes, writes back"),
    ("check", "says what to mend, writes nothing"),
    ("estimate", "writes what waits for a yes"),
    ("invoice", "bills what is to invoice"),
)
CAUTIONS = {
    "Tax": "Rates and rules in this book are examples. Check them with your tax authority or "
    "accountant before you bill.",
    "Hot work": "A container that held fuel can explode when it is heated. This book records; it "
    "does not judge whether hot work may begin. Follow local law and the licensed or competent "
    "person.",
}


def draw_start(page: Page, book: ShopBook) -> None:
    """Draw the first sheet of the book."""
    page.widths(_WIDTHS)
    page.height(1, 28.5)
    name = book.settings.name or "Shop book"
    page.put(1, _NUMBER, Content(name, SHOP), TITLE)
    page.value(2, _NUMBER, "Every job from intake to payment: promised, done, billed, owed.", SAYS)
    page.height(3, 6)
    _draw_steps(page)
    _draw_commands(page, _FIRST + len(STEPS) + 1)
    _draw_cautions(page, _FIRST + len(STEPS) + len(COMMANDS) + 3)
    _draw_today(page, book)
    _draw_legend(page, _FIRST + len(STEPS) + 1)
    _draw_settings(page, book.settings)
    page.sheet.set_selection(_FIRST - 1, _TYPED - 1, _FIRST - 1, _TYPED - 1)
    page.print_set_up(wide=True)


def _heading(page: Page, row: int, first: int, last: int, text: str) -> None:
    for col in range(first, last + 1):
        page.value(row, col, text if col == first else None, HEADING)


def _draw_steps(page: Page) -> None:
    page.height(_FIRST - 1, 16.5)
    _heading(page, _FIRST - 1, _NUMBER, _GOTO, "How a job goes through this book")
    for row, (n, (step, sheet, *lines)) in enumerate(enumerate(STEPS, 1), _FIRST):
        page.value(row, _NUMBER, n, LABEL | {"valign": "top", "align": "left"})
        page.value(row, _STEP, step, {"bold": True, "valign": "top"})
        page.value(row, _TEXT, "\n".join(lines), {"text_wrap": True, "valign": "top"})
        page.link(row, _GOTO, f"{sheet}!A1", sheet, LINK | {"valign": "top", "align": "right"})


def _draw_commands(page: Page, row: int) -> None:
    _heading(page, row, _NUMBER, _GOTO, "Commands, with the book saved and closed")
    for at, (verb, says) in enumerate(COMMANDS, row + 1):
        page.value(at, _STEP, verb.capitalize(), {"bold": True, "valign": "vcenter"})
        page.value(at, _TEXT, f"ledger-tools {verb} BOOK: {says}", LABEL)


def _draw_cautions(page: Page, row: int) -> None:
    _heading(page, row, _NUMBER, _GOTO, "Before you rely on it")
    wrapped = page.hand.cell({"text_wrap": True, "valign": "top"})
    first = row + 1
    for (word, text), rows in zip(CAUTIONS.items(), (2, 4), strict=True):
        page.value(first, _STEP, word, {"bold": True, "valign": "top"})
        page.sheet.merge_range(first - 1, _TEXT - 1, first + rows - 2, _GOTO - 1, "", wrapped)
        page.value(first, _TEXT, text, {"text_wrap": True, "valign": "top"})
        first += rows


def _draw_today(page: Page, book: ShopBook) -> None:
    _heading(page, _FIRST - 1, _TODAY, _FIGURE, "The book today")
    figures: tuple[tuple[str, str, Look, date | int], ...] = (
        ("As of", NAME_AS_OF, Look.DATE, book.as_of),
        ("Errors", NAME_ERRORS, Look.WHOLE, 0),
        ("Warnings", NAME_WARNINGS, Look.WHOLE, 0),
        ("Notes", NAME_NOTES, Look.WHOLE, 0),
        ("Last job", NAME_LAST_JOB, Look.WHOLE, book.last_job),
        ("Last invoice", NAME_LAST_INVOICE, Look.WHOLE, book.last_invoice),
    )
    for row, (label, name, look, value) in enumerate(figures, _FIRST):
        page.value(row, _TODAY, label, LABEL | {"valign": "top"})
        props = cell_format(look, typed=False) | {"border": 0, "valign": "top", "align": "right"}
        page.value(row, _FIGURE, value, props)
        _name(page, name, row, _FIGURE)
    errors = f"{column_letters(_FIGURE)}{_FIRST + 1}"
    page.mark(errors, f"N({errors})>0", WARNS)


def _draw_legend(page: Page, row: int) -> None:
    _heading(page, row, _TODAY, _FIGURE, "Colours")
    look: tuple[tuple[str, Props], ...] = (
        ("Type here", cell_format(Look.TEXT, typed=True)),
        ("Computed", cell_format(Look.TEXT, typed=False)),
        ("Look here", cell_format(Look.TEXT, typed=False) | WARNING),
    )
    for at, (word, props) in enumerate(look, row + 1):
        page.value(at, _TODAY, word, props)


def _draw_settings(page: Page, settings: ShopSettings) -> None:
    _heading(page, _FIRST - 1, _SETTING, _TYPED, "The shop")
    for row, setting in enumerate(SETTINGS, _FIRST):
        beside_step = row < _FIRST + len(STEPS)
        value = setting_value(settings, setting)
        room = max(_lines(value), 2 if setting.look is Look.WRAPPED else 1)
        tall = max(_SETTING_POINTS, _LINE_POINTS * room + 1.5)
        page.height(row, _points(value, setting) if beside_step else tall)
        top: Props = {"valign": "top"} if beside_step or tall > _SETTING_POINTS else {}
        draw_setting(page, setting, value, ((row, _SETTING), (row, _TYPED)), top)
        _name(page, setting.name, row, _TYPED)


def draw_setting(
    page: Page,
    setting: Setting,
    value: Scalar | Decimal,
    places: tuple[Place, Place],
    props: Props,
) -> None:
    """Draw a setting: label and cell at `places`, with what `props` adds to the usual format."""
    label, cell = places
    page.value(*label, setting.label, LABEL | props)
    usual = cell_format(setting.look, typed=True, digits=page.hand.digits)
    page.value(*cell, value, usual | {"align": "left"} | props)
    rule = hint_rule(setting.label, setting.hint, setting.choices)
    lay_rule(page, (cell[0], cell[0]), cell[1], rule)


def _points(value: Scalar | Decimal, setting: Setting) -> float:
    """Return the height of a row with a step's two lines and a setting's own, an address three."""
    room = max(_lines(value), 3 if setting.key == "address" else 2)
    return max(_STEP_POINTS, _LINE_POINTS * room + 1.5)


def _lines(value: Scalar | Decimal) -> int:
    """Return how many lines the words of a setting take."""
    return sum(max(1, ceil(len(line) / _LINE_LENGTH)) for line in str(value).split("\n"))


def _name(page: Page, name: str, row: int, col: int) -> None:
    page.hand.workbook.define_name(name, f"={START}!${column_letters(col)}${row}")
