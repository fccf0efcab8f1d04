"""What a new book's catalogue sheets hold: labour rates, repair types, materials, tolerances."""

from collections.abc import Iterable, Mapping

from ledger_tools.billing.authorisation import ToleranceRule
from ledger_tools.billing.guarantee import GuaranteeRule
from ledger_tools.book.contents import Values, cell_value
from ledger_tools.book.drawing.pen import HEADER, Page
from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import (
    CODES_HEADER,
    MATERIALS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    TOLERANCES_TABLE,
    WORDS_HEADER,
    TableLayout,
)
from ledger_tools.book.look import STEEL
from ledger_tools.costing.catalogue import Catalogue, LabourRate, Material, Operation, RepairType
from ledger_tools.costing.lines import PART_STATUSES
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place

_Listed = LabourRate | Operation | Material | ToleranceRule | GuaranteeRule
CODES_COL = len(REPAIRS_TABLE.columns) + 2
"""Column on `Repairs` that lists each code once, for the choices in `Jobs`."""
CODES_ROWS = 80
WORDS_COL = len(RATES_TABLE.columns) + 2
"""Column on `Rates` that lists what a part may be."""
_STEP_ROWS = 1000


def rate_rows(catalogue: Catalogue) -> Mapping[Place, Content]:
    """Return the cells of `Rates`."""
    return _cells(RATES_TABLE, ((rate, {}) for rate in catalogue.rates))


def repair_rows(catalogue: Catalogue) -> Mapping[Place, Content]:
    """Return the cells of `Repairs`: one row a step, code and name repeated."""
    steps = ((repair, step) for repair in catalogue.repairs for step in repair.operations)
    return _cells(REPAIRS_TABLE, ((step, _of_step(repair, step)) for repair, step in steps))


def material_rows(catalogue: Catalogue) -> Mapping[Place, Content]:
    """Return the cells of `Materials`."""
    return _cells(MATERIALS_TABLE, ((material, {}) for material in catalogue.materials))


def filled(cells: Mapping[Place, Content], layout: TableLayout) -> int:
    """Return how many rows of a table `cells` reach."""
    return max((row for row, _ in cells), default=layout.first_row) - layout.first_row


def _cells(layout: TableLayout, rows: Iterable[tuple[_Listed, Values]]) -> Mapping[Place, Content]:
    """Return the cells of rows: under each column what is given, else the field of its key."""
    return {
        (row, col): Content(cell_value(given[c.key] if c.key in given else getattr(listed, c.key)))
        for row, (listed, given) in enumerate(rows, layout.first_row + 1)
        for col, c in enumerate(layout.columns, 1)
    }


def _of_step(repair: RepairType, step: Operation) -> Values:
    return {
        "code": repair.code,
        "name": repair.name,
        "kind": step.kind.value,
        "labour_class": step.labour_class or step.part_status,
        "hot_work": "yes" if step.hot_work else "no",
    }


def tolerance_rows(rules: Iterable[ToleranceRule]) -> Mapping[Place, Content]:
    """Return the cells of `Tolerances`."""
    return _cells(TOLERANCES_TABLE, ((rule, _of_rule(rule)) for rule in rules))


def guarantee_rows(rules: Iterable[GuaranteeRule]) -> Mapping[Place, Content]:
    """Return the cells of `Guarantees`."""
    told = ((rule, {"void": "yes" if rule.void else "no"}) for rule in rules)
    return _cells(GUARANTEES_TABLE, told)


def _of_rule(rule: ToleranceRule) -> Values:
    return {
        "kind": rule.kind.value,
        "share": rule.share or None,
        "amount": rule.amount or None,
        "with_tax": {True: "yes", False: "no", None: None}[rule.with_tax],
    }


def draw_part_words(page: Page, at: Place = (RATES_TABLE.first_row, WORDS_COL)) -> None:
    """List beside the labour rates what a part may be, so that lines can offer it."""
    top, col = at
    page.widths({col - 1: 3, col: 16})
    page.value(top, col, WORDS_HEADER, HEADER | {"font_color": STEEL})
    for row, word in enumerate(PART_STATUSES, top + 1):
        page.value(row, col, word, _LISTED)


def draw_codes(page: Page, catalogue: Catalogue) -> None:
    """List each repair code once beside the steps, live, so that `Jobs` can offer it.

    The next code is that of the first row whose code the list does not hold yet.
    """
    top = REPAIRS_TABLE.first_row
    page.widths({CODES_COL - 1: 3, CODES_COL: 12})
    page.value(top, CODES_COL, CODES_HEADER, HEADER | {"font_color": STEEL})
    codes = [repair.code for repair in catalogue.repairs if repair.operations]
    for n in range(CODES_ROWS):
        shown = codes[n] if n < len(codes) else ""
        page.put(top + 1 + n, CODES_COL, Content(shown, _next_code(top + 1 + n)), _LISTED)


_LISTED = {"font_color": STEEL, "valign": "vcenter"}


def _next_code(row: int) -> str:
    top = REPAIRS_TABLE.first_row
    own = "R"
    steps = f"$A${top + 1}:$A${top + _STEP_ROWS}"
    listed = f"COUNTIF({own}${top}:{own}{row - 1},{steps})>0"
    first = f'SUMPRODUCT(MIN(ROW({steps})+1000000*(({listed})+({steps}=""))))'
    return f'IFERROR(INDEX($A$1:$A${top + _STEP_ROWS},{first})&"","")'
