"""What the sheet `Options` is to hold: rows taken over, choices made, and what each comes to."""

from dataclasses import replace

from ledger_tools.book.contents import Values, option_values, row_cells
from ledger_tools.book.formulas.options import option_row
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.places import Grid
from ledger_tools.book.planning import FEWEST_SPARE, MORE_SPARE, Planning
from ledger_tools.shop.model import Option
from ledger_tools.shop.options import Weighed, weighed_options
from ledger_tools.shop.snapshot import Scalar

_FILLED_IN = ("price", "chosen_on", "chosen_by", "chosen_how")
"""Typed cells that are filled in where they are empty, and never written over."""


def plan_options(planning: Planning) -> None:
    """Want the options a new book takes over, the choices made, and the computed cells."""
    grid = planning.places.grid(OPTIONS_TABLE)
    added = planning.additions.options
    rows = planning.append(OPTIONS_TABLE, [option_values(option) for option in added])
    if not added:
        taken = max(planning.taken(OPTIONS_TABLE), default=0)
        planning.grow(grid, taken + FEWEST_SPARE, more=MORE_SPARE)
    grown = next((g for g in planning.grown if g.table == grid.table), None)
    new = range(grown.last_row + 1, grown.last_row + grown.rows + 1) if grown else ()
    planning.fresh |= {(grid.sheet, row) for row in new}
    book = planning.book
    if added:
        placed = zip(rows, added, strict=True)
        book = replace(book, options=tuple(o._replace(row=row) for row, o in placed))
    typed = {option.row: option for option in book.options}
    weighed = weighed_options(book, planning.results)
    for row in sorted({*grid.rows, *new}):
        if row in typed and row not in weighed:
            continue
        _fill_in(planning, grid, row, typed.get(row))
        _plan_row(planning, grid, row, weighed.get(row))


def _fill_in(planning: Planning, grid: Grid, row: int, option: Option | None) -> None:
    """Want what is known of an option in those of its cells that are empty."""
    sheet = planning.sheets.get(grid.sheet)
    if option is None or sheet is None:
        return
    values = option_values(option)
    there = {key: sheet.values.get((row, grid.columns[key])) for key in _FILLED_IN}
    empty = {k: values[k] for k, shown in there.items() if not _stands(shown)}
    planning.put(grid.sheet, row_cells(row, grid, empty))


def _stands(shown: Scalar) -> bool:
    """Whether anything but blanks stands in a cell."""
    return bool(shown.strip()) if isinstance(shown, str) else shown is not None


def _plan_row(planning: Planning, grid: Grid, row: int, weighed: Weighed | None) -> None:
    sheet = planning.places.job(weighed.option.job) if weighed else None
    if sheet is not None and weighed is not None and _is_archived(planning, weighed.option.job):
        sheet = None
    formulas = option_row(row, planning.places, sheet, planning.money)
    planning.put_computed(grid, row, formulas, _figures(weighed))


def _is_archived(planning: Planning, number: str) -> bool:
    """Whether the sheet of a job is gone, or goes with this plan."""
    result = planning.results.get(number)
    return result is not None and bool(result.job.archived)


def _figures(weighed: Weighed | None) -> Values:
    """Return what the formulas of a row come to."""
    if weighed is None:
        return dict.fromkeys(("comes_to", "expected", "share", "rule", "stands"), "")
    return {
        "comes_to": "" if weighed.price is None else weighed.price,
        "expected": "" if weighed.expected is None else weighed.expected,
        "share": "" if weighed.share is None else weighed.share,
        "rule": weighed.rule,
        "stands": weighed.stands.value if weighed.stands else "",
    }
