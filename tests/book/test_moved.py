"""What an owner moves: columns, rows, names of sheets; done on the book as read.

The patch only types into cells, so a rearranged sheet is made from what was read.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import pytest

from ledger_tools.book.work import work_out
from ledger_tools.shop.snapshot import Place, Scalar, SheetSnapshot, TableArea
from tests.book.shop import BAD, GOOD, LABOUR, TODAY, Shop, typed_cells, with_sheet


@dataclass(frozen=True)
class Moved:
    """How an owner rearranged a sheet: where each row and column went."""

    row: Callable[[int], int] = field(default=lambda row: row)
    col: Callable[[int], int] = field(default=lambda col: col)

    def sheet(self, sheet: SheetSnapshot) -> SheetSnapshot:
        """Return the sheet as it is then; formula texts are left to be written anew."""
        return sheet.replaced(
            values={self._to(p): v for p, v in sheet.values.items()},
            formulas={self._to(p): v for p, v in sheet.formulas.items()},
            links={self._to(p): v for p, v in sheet.links.items()},
            tables=tuple(self._area(t) for t in sheet.tables),
        )

    def _to(self, place: tuple[int, int]) -> tuple[int, int]:
        return self.row(place[0]), self.col(place[1])

    def _area(self, area: TableArea) -> TableArea:
        cols = [self.col(c) for c in range(area.first_col, area.last_col + 1)]
        return TableArea(
            area.name, self.row(area.first_row), min(cols), self.row(area.last_row), max(cols)
        )


def _after(n: int) -> Callable[[int], int]:
    return lambda at: at + 1 if at >= n else at


def _swapped(one: int, other: int) -> Callable[[int], int]:
    return lambda at: {one: other, other: one}.get(at, at)


MOVES: list[Any] = [
    pytest.param(Moved(row=_after(1)), id="row-inserted-at-the-top"),
    pytest.param(Moved(row=_after(6)), id="row-inserted-among-the-figures"),
    pytest.param(Moved(row=_after(10)), id="row-inserted-above-the-flag"),
    pytest.param(Moved(row=_after(11)), id="row-inserted-above-the-lines"),
    pytest.param(Moved(row=_after(14)), id="row-inserted-between-lines"),
    pytest.param(Moved(col=_after(1)), id="column-inserted-at-the-left"),
    pytest.param(Moved(col=_after(5)), id="column-inserted-between-label-and-figure"),
    pytest.param(Moved(col=_after(10)), id="column-inserted-between-tax-and-rate"),
    pytest.param(Moved(col=_swapped(6, 7)), id="columns-swapped"),
    pytest.param(Moved(col=_swapped(3, 17)), id="far-columns-swapped"),
]


@pytest.mark.parametrize("moved", MOVES)
def test_inserted_rows_and_columns_take_figures_and_lines_along(shop: Shop, moved: Moved) -> None:
    """Every figure of a rearranged job sheet is the same, and is written where it moved to."""
    shop.fill(BAD, LABOUR, actual=98)
    shop.recompute()
    snapshot = shop.snapshot()
    before = shop.parsed().places.job(BAD)
    sheet = next(s for s in snapshot.sheets if s.name == BAD)
    assert before is not None

    outcome = work_out(with_sheet(snapshot, BAD, moved.sheet(sheet)), as_of=TODAY)

    after = outcome.places.job(BAD)
    assert after is not None
    assert outcome.findings == ()
    assert after.cells == {k: (moved.row(r), moved.col(c)) for k, (r, c) in before.cells.items()}
    assert outcome.results[BAD].billed_hours == Decimal("1.6")
    for op in typed_cells(outcome):
        if op.new.formula is not None:
            assert op.old.value in (op.new.value, None), op


def test_columns_moved_within_the_table_leave_the_figures_above(shop: Shop) -> None:
    """Only the lines' columns are exchanged; figures above stay where their labels are."""
    grid = shop.grid(BAD)
    one, other = grid.columns["estimate"], grid.columns["actual"]
    sheet = shop.sheet(BAD)
    rows = range(grid.header_row, grid.last_row + 1)
    shop.write(
        BAD,
        {(r, one): sheet.values.get((r, other)) for r in rows}
        | {(r, other): sheet.values.get((r, one)) for r in rows},
    )
    shop.fill(BAD, LABOUR, actual=98)

    outcome = shop.recompute()

    assert outcome.findings == ()
    assert shop.grid(BAD).cells == grid.cells
    assert outcome.results[BAD].billed_hours == Decimal("1.6")
    assert shop.head(BAD, "labour_billed") == 160
    assert shop.recompute().plan.operations == ()


def test_an_owner_s_own_column_inside_a_table_is_left_alone(shop: Shop) -> None:
    """A column with a header the tools do not know is the owner's, formulas too."""
    snapshot = shop.snapshot()
    jobs = next(s for s in snapshot.sheets if s.name == "Jobs")
    moved = Moved(col=_after(5)).sheet(jobs)
    own: dict[Place, Scalar] = {(4, 5): "Rack", (5, 5): "shelf 3", (6, 5): 7.0}
    changed = moved.replaced(
        values={**moved.values, **own}, formulas={**moved.formulas, (6, 5): "3+4"}
    )

    outcome = work_out(with_sheet(snapshot, "Jobs", changed), as_of=TODAY)

    assert outcome.findings == ()
    assert set(outcome.results) == {GOOD, BAD}
    assert not [op for op in typed_cells(outcome) if op.sheet == "Jobs" and op.col == 5]


def test_jobs_may_be_sorted_otherwise(shop: Shop) -> None:
    """Rows are known by the number in them, not by where they stand."""
    shop.fill(BAD, LABOUR, actual=98)
    shop.recompute()
    snapshot = shop.snapshot()
    jobs = next(s for s in snapshot.sheets if s.name == "Jobs")

    outcome = work_out(
        with_sheet(snapshot, "Jobs", Moved(row=_swapped(5, 6)).sheet(jobs)), as_of=TODAY
    )

    assert outcome.findings == ()
    assert {job.number: job.row for job in outcome.book.jobs} == {BAD: 5, GOOD: 6}
    assert outcome.results[BAD].billed_hours == Decimal("1.6")
    assert outcome.plan.operations == ()


def test_a_renamed_sheet_is_found_by_its_table(shop: Shop) -> None:
    """Jobs may be called Work: rows are read there, and formulas say so."""
    snapshot = shop.snapshot()
    jobs = next(s for s in snapshot.sheets if s.name == "Jobs")
    work = jobs.replaced(name="Work list")
    renamed = with_sheet(snapshot, "Jobs", work)

    outcome = work_out(renamed, as_of=TODAY)

    assert outcome.findings == ()
    assert set(outcome.results) == {GOOD, BAD}
    formulas = [op.new.formula for op in typed_cells(outcome) if op.sheet == BAD]
    assert any("'Work list'!" in (formula or "") for formula in formulas)


def test_a_renamed_sheet_of_rates_leaves_prices_to_the_class(shop: Shop) -> None:
    """The live price is known as ours, whatever the sheet it looks up is called."""
    snapshot = shop.snapshot()
    rates = next(s for s in snapshot.sheets if s.name == "Rates")
    sheet = next(s for s in snapshot.sheets if s.name == BAD)
    formulas = {p: f.replace("Rates!", "Wages!") for p, f in sheet.formulas.items()}
    renamed = with_sheet(snapshot, "Rates", rates.replaced(name="Wages"))
    renamed = with_sheet(renamed, BAD, sheet.replaced(formulas=formulas))

    outcome = work_out(renamed, as_of=TODAY)

    assert outcome.findings == ()
    price = next(job for job in outcome.book.jobs if job.number == BAD).lines[0].price
    assert price is None


def test_links_follow_a_renamed_sheet(shop: Shop) -> None:
    """From Jobs to the job sheet, back again, and from Start: no program follows a rename."""
    sheets = {GOOD: "Pan of R. Calder", "Jobs": "All jobs"}
    snapshot = shop.snapshot()
    for old, new in sheets.items():
        snapshot = with_sheet(snapshot, old, shop.sheet(old).replaced(name=new))

    cells = typed_cells(work_out(snapshot, as_of=TODAY))

    links = {(op.sheet, op.row, op.col): op.link for op in cells if op.link is not None}
    assert links["All jobs", 5, 1] == "'Pan of R. Calder'!A1"
    assert links["Pan of R. Calder", 1, 15] == links[BAD, 1, 15] == "'All jobs'!A1"
    assert {link for (sheet, *_), link in links.items() if sheet == "Start"} == {"'All jobs'!A1"}
    assert all(op.new == op.old for op in cells if op.link is not None)
    assert ("All jobs", 6, 1) not in links
