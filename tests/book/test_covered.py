"""Merged cells: those that hide a cell of a table are named, others are nobody's concern."""

import pytest

from ledger_tools.book.work import work_out
from tests.book.shop import TODAY, Shop, by_code, with_sheet


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """Return a shop with a new book: `Jobs` has its headers in row 4, the table ends in row 24."""
    return Shop.new(tmp_path_factory.mktemp("merged"))


@pytest.mark.parametrize(
    ("merged", "cell"),
    [
        ((8, 3, 8, 4), "C8"),
        ((5, 1, 6, 1), "A5"),
        ((24, 4, 25, 4), None),
        ((23, 4, 24, 4), "D23"),
        ((4, 3, 5, 3), "C4"),
        ((3, 3, 4, 3), None),
        ((25, 1, 26, 4), None),
        ((8, 30, 9, 31), None),
        ((1, 1, 1_048_576, 16_384), "A1"),
    ],
)
def test_cells_of_a_table_under_merged_ones_are_named(
    shop: Shop, merged: tuple[int, int, int, int], cell: str | None
) -> None:
    """The first cell of a merged range shows; its headers and what lies beside are left out."""
    snapshot = shop.snapshot()
    sheet = shop.sheet("Jobs").replaced()
    sheet.merged = (merged,)

    outcome = work_out(with_sheet(snapshot, "Jobs", sheet), as_of=TODAY)

    found = [(f.sheet, f.cell) for f in by_code(outcome, "cells-merged")]
    assert found == ([("Jobs", cell)] if cell else [])
