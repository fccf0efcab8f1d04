"""Telling the tools' own formulas from an owner's, by their shape: places and numbers left out.

A formula of ours that is not up to date (the hour step was changed, a register was added) is
written anew without a word; one that an owner typed in its place is named before it goes.
"""

import re
from collections.abc import Iterator
from functools import cache
from itertools import product
from pathlib import Path

from ledger_tools.billing.tax import MOST_COMPONENTS
from ledger_tools.book.formulas.authorisations import authorisation_row
from ledger_tools.book.formulas.job import JobFormulas
from ledger_tools.book.formulas.options import option_row
from ledger_tools.book.formulas.registers import (
    archived_row,
    customer_row,
    estimate_row,
    invoice_row,
    payment_row,
)
from ledger_tools.book.formulas.text import canonical
from ledger_tools.book.formulas.time import line_time, time_row
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    TAX_CLASSES_TABLE,
    TIME_TABLE,
    TOLERANCES_TABLE,
)
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.places import ALWAYS, Grid, Places, new_grid, new_job_grid
from ledger_tools.book.registers import ESTIMATES_TABLE, INVOICES_TABLE
from ledger_tools.hours import HourPolicy
from ledger_tools.money import ROUNDING_MODES, Rounding
from ledger_tools.shop.model import ShopSettings

_SHEET = re.compile(r"(?:'(?:[^']|'')*'|(?<![#\w])[^\W\d][\w.]*)!|#REF!(?=[$A-Z])")
_GONE = "#REF!"
"""Cells of a sheet that was deleted, as LibreOffice writes them: with no place left."""
_PLACE = re.compile(r"\$[A-Z]{1,3}(?:\$?\d+)?|\b[A-Z]{1,3}\d+\b")
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:E[-+]?\d+)?")
_ONE_CELL = "@"
_OLDER = Path(__file__).with_name("older.txt")
"""Shapes of the formulas of format 1, a line each; those of a format to come are added to it."""
_ROW = 5
_OPTIONAL = (AUTHORISATIONS_TABLE, ESTIMATES_TABLE, INVOICES_TABLE, TOLERANCES_TABLE)
"""Sheets that change the shape of formulas by being there."""


def shape(formula: str) -> str:
    """Return the shape of a formula: what is left without sheets, places and numbers.

    >>> shape("ROUND(SUM('25-0001'!$M$11:$M$500),2)")
    'ROUND(SUM(@:@),#)'
    """
    parts = canonical(formula).split('"')
    for i in range(0, len(parts), 2):
        part = _SHEET.sub("", parts[i])
        parts[i] = _NUMBER.sub("#", _PLACE.sub(_ONE_CELL, part))
    return '"'.join(parts)


def is_own(formula: str, job_sheets: frozenset[str]) -> bool:
    """Whether the tools may have written this formula, be it for settings that were changed since.

    Args:
        formula: The text, without the leading ``=``.
        job_sheets: Names of the job sheets, to whose cells a row of `Jobs` refers.
    """
    found = shape(formula)
    if found == _ONE_CELL:
        sheet = formula.rpartition("!")[0].strip("'").replace("''", "'")
        return sheet in job_sheets
    if _GONE in found:
        cells = re.escape(found).replace(re.escape(_GONE), f"{_ONE_CELL}(?::{_ONE_CELL})?")
        return found == _GONE or any(re.fullmatch(cells, own) for own in _own_shapes())
    return not found or found in _own_shapes() or found in _older_shapes()


@cache
def _older_shapes() -> frozenset[str]:
    """Return the shapes of all formulas that stand in books of older formats."""
    return frozenset(_OLDER.read_text(encoding="utf-8").splitlines())


@cache
def time_shapes() -> frozenset[str]:
    """Return the shapes of the formulas by which a line gets its minutes from `Time`."""
    formulas = line_time(_ROW, new_job_grid("1", 1), _places(with_all=True))
    return frozenset(shape(formula) for formula in formulas.values())


@cache
def _own_shapes() -> frozenset[str]:
    return frozenset(shape(formula) for formula in _all_formulas()) - {_ONE_CELL}


def _all_formulas() -> Iterator[str]:
    """Yield every formula the tools write, for every choice that changes its shape."""
    grid = new_job_grid("1", 1)
    yield from time_row(_ROW, _places(with_all=True)).values()
    yield from line_time(_ROW, grid, _places(with_all=True)).values()
    for sheet, digits in product((grid, None), (0, 2)):
        yield from option_row(_ROW, _places(with_all=True), sheet, Rounding(digits)).values()
    whole = _places(with_all=True)
    for digits in (0, 2):
        yield from invoice_row(_ROW, whole, Rounding(digits)).values()
        yield from archived_row(_ROW, whole, Rounding(digits)).values()
    yield from estimate_row(_ROW, whole).values()
    for places, digits in product(_all_places(), (0, 2)):
        yield from customer_row(_ROW, places, Rounding(digits)).values()
        yield from payment_row(_ROW, places).values()
        if places.has(AUTHORISATIONS_TABLE):
            yield from authorisation_row(_ROW, places, digits).values()
        yield from _above_lines(grid, places, Rounding(digits))
    for digits, mode in product((0, 2), ROUNDING_MODES):
        yield from _above_lines(grid, whole, Rounding(digits, mode))
    for scope, direction, digits in product(("job", "line"), ("nearest", "up"), (0, 2)):
        settings = ShopSettings(hours=HourPolicy(7, direction, scope), digits=digits)
        formulas = JobFormulas(grid, whole, settings, Rounding(digits), adjusting=True)
        yield from formulas.line(_ROW).values()
        yield from formulas.shares(_ROW).values()


def _above_lines(grid: Grid, places: Places, tax_rounding: Rounding) -> Iterator[str]:
    """Yield the formulas of a job that its lines' hours do not change, for any number of taxes."""
    settings = ShopSettings(digits=tax_rounding.digits)
    for adjusting in (False, True):
        formulas = JobFormulas(grid, places, settings, tax_rounding, adjusting=adjusting)
        yield from (formulas.price(_ROW), formulas.item(), formulas.flag())
        for count in range(MOST_COMPONENTS + 1):
            components = tuple(f"c{n}" for n in range(1, count + 1))
            yield from formulas.header(components).values()


def _all_places() -> Iterator[Places]:
    whole = _places(with_all=True)
    for kept in product((True, False), repeat=len(_OPTIONAL)):
        left_out = {layout.table for layout, keep in zip(_OPTIONAL, kept, strict=True) if not keep}
        grids = {table: grid for table, grid in whole.grids.items() if table not in left_out}
        yield Places(grids, {}, whole.tax_classes, ())


def _places(*, with_all: bool) -> Places:
    layouts = (*ALWAYS, *_OPTIONAL, TIME_TABLE, OPTIONS_TABLE) if with_all else ALWAYS
    columns = {"class": 1} | {f"c{n}": n + 1 for n in range(1, MOST_COMPONENTS + 1)}
    classes = Grid("Taxes", TAX_CLASSES_TABLE, columns, 12, 20, 20)
    return Places({layout.table: new_grid(layout, 1) for layout in layouts}, {}, classes, ())
