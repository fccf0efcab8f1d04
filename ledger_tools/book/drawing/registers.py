"""What single registers add to the common table: states and flags that are seen at a glance."""

from collections.abc import Mapping

from ledger_tools.book.drawing.pen import Page, Props
from ledger_tools.book.layout import JOBS_TABLE, RULED_ROWS, TableLayout
from ledger_tools.book.look import INK, LINE, STEEL, WHITE
from ledger_tools.shop.snapshot import column_letters

_STATES: Mapping[str, Props] = {
    "to invoice": {"font_color": WHITE, "bg_color": INK, "bold": True},
    "halted": {"font_color": INK, "bg_color": LINE, "bold": True},
    "in work": {"font_color": INK, "bold": True},
    "invoiced": {"font_color": INK, "bold": True},
    "enquiry": {"font_color": STEEL, "italic": True},
    "paid": {"font_color": STEEL},
    "archived": {"font_color": STEEL, "italic": True},
    "declined": {"font_color": STEEL, "font_strikeout": True},
    "void": {"font_color": STEEL, "font_strikeout": True},
}
"""How a state stands out beside its word; told apart without colour too."""


def mark_jobs(page: Page) -> None:
    """Make states, exceeded ceilings and closed jobs readable at a glance."""
    first = JOBS_TABLE.first_row + 1
    state, stands = _cell("state", first), _cell("stands", first)
    billed = f'OR({stands}="invoiced",{stands}="paid",{stands}="archived")'
    page.mark(_area(JOBS_TABLE, "state"), billed, {"font_color": STEEL}, last=True)
    for key in ("state", "stands"):
        for word, props in _STATES.items():
            page.mark(_area(JOBS_TABLE, key), f'{_cell(key, first)}="{word}"', props)
    closed = f'OR({stands}="paid",{stands}="archived",{state}="declined",{state}="void")'
    last = column_letters(len(JOBS_TABLE.columns))
    page.mark(f"A{first}:{last}{first + RULED_ROWS}", closed, {"font_color": STEEL})


def _cell(key: str, row: int) -> str:
    return f"${column_letters(JOBS_TABLE.col(key))}{row}"


def _area(layout: TableLayout, key: str) -> str:
    letter = column_letters(layout.col(key))
    return f"{letter}{layout.first_row + 1}:{letter}{layout.first_row + RULED_ROWS}"
