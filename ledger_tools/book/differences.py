"""What is wanted in the book less what stands there: only differences become operations.

What an owner typed over a formula is named before it goes.
"""

from collections.abc import Iterator

from ledger_tools.book.cells import shown
from ledger_tools.book.contents import Cells
from ledger_tools.book.formulas.text import same_formula
from ledger_tools.book.formulas.time import is_line_time
from ledger_tools.book.planning import Planning
from ledger_tools.errors import Severity
from ledger_tools.shop.plan import Content, SetCell
from ledger_tools.shop.snapshot import Place, Scalar, SheetSnapshot

_NEAR = 1e-9
"""Two numbers no further apart are one: a spreadsheet keeps amounts in binary."""


def differences(planning: Planning) -> list[SetCell]:
    """Return the operations for all cells and links that are not as they are wanted."""
    job_sheets = frozenset(grid.sheet for grid in planning.parsed.places.jobs.values())
    operations: list[SetCell] = []
    for sheet, place, old, new in _pairs(planning):
        link = planning.links.get((sheet.name, place))
        if link == sheet.links.get(place, ""):
            link = None
        if same_content(old, new) and link is None:
            continue
        fed = old == Content() and new.formula is not None and is_line_time(new.formula)
        if (
            new.formula is not None
            and not fed
            and not _stays(old.formula, new.formula, job_sheets)
        ):
            _say_restored(planning, sheet, place, old)
        operations.append(SetCell(sheet.name, *place, old, new, link))
    return operations


def unlike(sheet: SheetSnapshot, wanted: Cells) -> Cells:
    """Return the cells of `wanted` that the sheet does not hold like that already."""
    values, formulas = sheet.values, sheet.formulas
    return {
        place: new
        for place, new in wanted.items()
        if not same_content(Content(values.get(place), formulas.get(place)), new)
    }


def quiet_differences(planning: Planning) -> list[SetCell]:
    """Return the operations for all cells that are not as they are wanted, without a finding."""
    return [
        SetCell(sheet.name, *place, old, new)
        for sheet, place, old, new in _pairs(planning)
        if not same_content(old, new)
    ]


def _pairs(planning: Planning) -> Iterator[tuple[SheetSnapshot, Place, Content, Content]]:
    """Yield what each wanted cell holds and what it is to hold, sheet by sheet."""
    for name, cells in planning.cells.items():
        sheet = planning.sheets[name]
        values, formulas = sheet.values, sheet.formulas
        for place, new in sorted(cells.items()):
            yield sheet, place, Content(values.get(place), formulas.get(place)), new


def _say_restored(planning: Planning, sheet: SheetSnapshot, place: Place, old: Content) -> None:
    """Name what stands where a formula of ours belongs, before it goes."""
    fresh = (sheet.name, place[0]) in planning.fresh or (sheet.name, place) in planning.late
    if old == Content() and (fresh or not _had_formula(sheet, place)):
        return
    said = "nothing" if old.value is None else shown(old.value)
    if old.formula is not None:
        said = shown("=" + old.formula)
    planning.gathered.add(
        Severity.WARNING,
        "formula-restored",
        f"A formula stood here; {said} was found in its place and the formula is put back",
        "To bill another amount, type it under Agreed price",
        sheet=sheet.name,
        place=place,
        passing=True,
    )


def _stays(formula: str | None, wanted: str, job_sheets: frozenset[str]) -> bool:
    """Whether a formula was the wanted one already, or another that the tools wrote themselves."""
    if not formula:
        return False
    if same_formula(formula, wanted):
        return True
    from ledger_tools.book.formulas.shapes import is_own  # noqa: PLC0415 - seldom needed

    return is_own(formula, job_sheets)


def _had_formula(sheet: SheetSnapshot, place: Place) -> bool:
    """Whether an empty cell had a formula: its row has some, and so has its column."""
    row, col = place
    rows = {r for r, c in sheet.formulas if c == col}
    return bool(rows - {row}) and any(r == row for r, _ in sheet.formulas)


def same_content(old: Content, new: Content) -> bool:
    """Whether a cell holds already what it is to hold; numbers within float residue."""
    if (old.formula is None) != (new.formula is None):
        return False
    if old.formula is not None and new.formula is not None:
        if not same_formula(old.formula, new.formula):
            return False
        if new.value == "" and old.value is None:
            return True
    return _same_value(old.value, new.value)


def _same_value(old: Scalar, new: Scalar) -> bool:
    if isinstance(old, int | float) and isinstance(new, int | float):
        return abs(old - new) < _NEAR
    return old == new and isinstance(old, bool) == isinstance(new, bool)
