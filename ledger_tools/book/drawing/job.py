"""A job sheet: title and totals on top and frozen, lines last, nothing below them."""

from collections.abc import Mapping

from ledger_tools.book.drawing.pen import (
    HEADING,
    LABEL,
    LINK,
    TITLE,
    UNREADABLE,
    WARNING,
    WARNS,
    Page,
    Props,
)
from ledger_tools.book.drawing.table import Placing, draw_grid
from ledger_tools.book.formulas.time import FED
from ledger_tools.book.job_layout import (
    JOB_BACK,
    JOB_BLOCK_TITLES,
    JOB_FLAG,
    JOB_HEADER,
    JOB_HEADER_ROW,
    JOB_HIDDEN,
    JOB_ITEM,
    JOB_LINES,
    JOB_TITLE,
    HeaderCell,
)
from ledger_tools.book.layout import JOBS, Look
from ledger_tools.book.look import INK, LINE, RIGHT_ALIGNED, STEEL, WHITE, number_format
from ledger_tools.costing.lines import Kind
from ledger_tools.shop.plan import AddSheet, Content
from ledger_tools.shop.results import ABOVE_CEILING
from ledger_tools.shop.snapshot import Place, column_letters

_LAST_MARKED_ROW = 500
_TOP_POINTS = 13.5
_SUM_RULE: Props = {"top": 1, "top_color": LINE}
_SUMS: Mapping[str, Props] = {
    "Net": {"bold": True, "font_color": INK} | _SUM_RULE,
    "Tax": _SUM_RULE,
    "Total": {"bold": True, "font_color": INK} | _SUM_RULE,
}
"""How labels and figures of sums differ from the others."""
_BLOCKS = ((4, 7), (9, 13), (15, 18))
"""First and last column of the blocks of figures above the lines."""


def draw_job(page: Page, add: AddSheet) -> None:
    """Draw the sheet of one job."""
    page.widths({i: c.width for i, c in enumerate(JOB_LINES, 1)})
    _draw_title(page, add)
    _draw_block_titles(page)
    _draw_figures(page, add)
    placing = Placing(
        add.table,
        (JOB_HEADER_ROW, 1),
        add.rows,
        add.contents,
        add.links,
        autofilter=False,
        header_points=28.5,
        by_look={Look.TEXT: {"shrink": True}},
    )
    draw_grid(page, JOB_LINES, placing)
    for col, column in enumerate(JOB_LINES, 1):
        if column.key in JOB_HIDDEN:
            page.hide(col)
    _mark_top(page)
    _mark_lines(page)
    page.sheet.freeze_panes(JOB_HEADER_ROW, 0)
    page.sheet.set_selection(JOB_HEADER_ROW, 2, JOB_HEADER_ROW, 2)
    page.print_set_up(wide=True, repeat_row=JOB_HEADER_ROW)


def _draw_title(page: Page, add: AddSheet) -> None:
    page.height(JOB_TITLE[0], 27)
    page.put(*JOB_TITLE, add.contents.get(JOB_TITLE, Content(add.name)), TITLE)
    page.put(*JOB_ITEM, add.contents.get(JOB_ITEM, Content()), TITLE | {"bold": False})
    page.link(*JOB_BACK, add.links.get(JOB_BACK, f"{JOBS}!A1"), f"Back to {JOBS}", LINK)
    page.height(JOB_FLAG[0], 18)
    page.put(*JOB_FLAG, add.contents.get(JOB_FLAG, Content()), WARNING)


def _draw_block_titles(page: Page) -> None:
    """Write the titles of the blocks over a rule that runs the width of each."""
    page.height(2, 16.5)
    for first, last in _BLOCKS:
        for col in range(first, last + 1):
            title = JOB_BLOCK_TITLES.get((2, col), "")
            align = "left" if col == first else "right"
            page.value(2, col, title, HEADING | {"align": align})


def _draw_figures(page: Page, add: AddSheet) -> None:
    for row in range(3, JOB_FLAG[0]):
        page.height(row, _TOP_POINTS)
    for row, first, last in {_block_row(cell) for cell in JOB_HEADER if cell.label in _SUMS}:
        for col in range(first, last + 1):
            page.value(row, col, None, _SUM_RULE)
    for cell in JOB_HEADER:
        label, value = (cell.row, cell.label_col), (cell.row, cell.value_col)
        text = Content(cell.label) if cell.label else add.contents.get(label, Content())
        draw_figure(page, cell, (label, text), (value, add.contents.get(value, Content())))


def draw_figure(
    page: Page, cell: HeaderCell, label: tuple[Place, Content], value: tuple[Place, Content]
) -> None:
    """Draw a label and its figure, each at its place with what it holds."""
    (at, text), (there, shown) = label, value
    page.put(*at, text, LABEL | {"shrink": not cell.label} | _SUMS.get(cell.label, {}))
    page.put(*there, shown, _figure(page, cell))


def _block_row(cell: HeaderCell) -> tuple[int, int, int]:
    """Return the row of a cell and the first and last column of its block."""
    first, last = next(b for b in _BLOCKS if b[0] <= cell.label_col <= b[1])
    return cell.row, first, last


def _figure(page: Page, cell: HeaderCell) -> Props:
    """Return the format of a figure above the lines: steel, sums in ink."""
    return {
        "font_color": STEEL,
        "align": "right" if cell.look in RIGHT_ALIGNED else "left",
        "valign": "vcenter",
        "num_format": number_format(cell.look, page.hand.digits),
        "shrink": cell.look is Look.TEXT,
    } | _SUMS.get(cell.label, {})


def _mark_top(page: Page) -> None:
    """Show an exceeded ceiling and an estimate that is run over."""
    ceiling, over, promised = (_fixed(key) for key in ("ceiling", "over", "net_estimated"))
    flag = f"${column_letters(JOB_FLAG[1])}${JOB_FLAG[0]}"
    page.mark(ceiling.replace("$", ""), f'{flag}="{ABOVE_CEILING}"', WARNS)
    page.mark(over.replace("$", ""), f"AND(N({promised})>0,N({over})>0)", WARNS)


def _fixed(key: str) -> str:
    cell = next(c for c in JOB_HEADER if c.key == key)
    return f"${column_letters(cell.value_col)}${cell.row}"


def _mark_lines(page: Page) -> None:
    """Show minutes that cannot be read, and lines that took more than was estimated.

    The word beside stands in the line's mark; colour alone says nothing.
    """
    letter = {c.key: column_letters(i) for i, c in enumerate(JOB_LINES, 1)}
    top = JOB_HEADER_ROW + 1
    kind, estimate, actual = (f"${letter[key]}{top}" for key in ("kind", "estimate", "actual"))
    labour = f'{kind}="{Kind.LABOUR}"'
    for key in ("estimate", "actual", "non_billable"):
        unreadable = f"AND({labour},NOT({_readable(f'{letter[key]}{top}')}))"
        page.mark(_down(letter[key], top), unreadable, UNREADABLE)
    worked = f"IF(AND({labour},N({actual})<1),ROUND(N({actual})*1440,0),N({actual}))"
    page.mark(_down(letter["actual"], top), f"AND(N({estimate})>0,{worked}>N({estimate}))", WARNS)
    _mark_fed(page, letter)


def _mark_fed(page: Page, letter: Mapping[str, str]) -> None:
    """Show minutes that a formula brings from `Time` as what they are, computed."""
    top = JOB_HEADER_ROW + 1
    for key in FED:
        fed = f"_xlfn.ISFORMULA({letter[key]}{top})"
        page.mark(_down(letter[key], top), fed, {"font_color": STEEL, "bg_color": WHITE})


def _readable(cell: str) -> str:
    """Return a formula: nothing, whole minutes, or the fraction a typed clock time becomes."""
    clock = f"AND({cell}<1,ABS({cell}*1440-ROUND({cell}*1440,0))<0.000001)"
    whole = f"AND({cell}>=0,OR({cell}=INT({cell}),{clock}))"
    return f'IF(ISNUMBER({cell}),{whole},{cell}="")'


def _down(letter: str, top: int) -> str:
    return f"{letter}{top}:{letter}{_LAST_MARKED_ROW}"
