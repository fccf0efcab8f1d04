"""What a plan does not name is missed when it is lost: the check of the long run can fail."""

import pytest

from ledger_tools.shop.plan import Content, GrowTable, Plan, SetCell
from ledger_tools.shop.snapshot import SheetSnapshot, Snapshot
from tests.fuzz.verbs import lost_cells

OWN = SheetSnapshot("Own", {(1, 1): "word", (2, 1): 5.0}, {(2, 1): "SUM(Jobs!A1:A9)"})
PLAN = Plan((SetCell("Own", 3, 1, Content(), Content("new")),))
WRITTEN = OWN.replaced(values={**OWN.values, (3, 1): "new"})


def _book(*sheets: SheetSnapshot) -> Snapshot:
    return Snapshot("shop.xlsx", sheets, {}, {})


def _without(sheet: SheetSnapshot, place: tuple[int, int]) -> SheetSnapshot:
    return sheet.replaced(values={p: v for p, v in sheet.values.items() if p != place})


def test_a_plan_carried_out_loses_nothing() -> None:
    """Every cell is as it was or as planned; a formula may wait to be computed."""
    assert lost_cells(_book(OWN), PLAN, _book(WRITTEN)) == []
    assert lost_cells(_book(OWN), PLAN, _book(_without(WRITTEN, (2, 1)))) == []


@pytest.mark.parametrize(
    ("after", "said"),
    [
        pytest.param([], "the sheet Own", id="sheet"),
        pytest.param([_without(WRITTEN, (1, 1))], "(1, 1)", id="owner's value"),
        pytest.param([WRITTEN.replaced(formulas={})], "(2, 1)", id="owner's formula"),
        pytest.param([OWN], "(3, 1)", id="planned value"),
        pytest.param(
            [WRITTEN.replaced(values={**WRITTEN.values, (9, 9): 1.0})], "(9, 9)", id="not planned"
        ),
        pytest.param(
            [WRITTEN.replaced(formulas={(2, 1): "SUM(Jobs!A1:A8)"})], "(2, 1)", id="other formula"
        ),
    ],
)
def test_whatever_is_lost_is_named(after: list[SheetSnapshot], said: str) -> None:
    """A sheet, a value, a formula; and what nobody asked for."""
    (lost,) = lost_cells(_book(OWN), PLAN, _book(*after))

    assert said in lost


def test_a_formula_may_grow_with_a_table_and_not_otherwise_change() -> None:
    """More rows are other numbers; another function is another formula."""
    grown = Plan((*PLAN.operations, GrowTable("Jobs", "Jobs", 9, 1)))
    more = WRITTEN.replaced(formulas={(2, 1): "SUM(Jobs!A1:A10)"})
    other = WRITTEN.replaced(formulas={(2, 1): "MAX(Jobs!A1:A10)"})

    assert lost_cells(_book(OWN), grown, _book(more)) == []
    assert len(lost_cells(_book(OWN), grown, _book(other))) == 1
