"""Telling our formulas from an owner's: all of ours are known, none of theirs."""

from functools import partial
from pathlib import Path

import pytest

from ledger_tools.book.formulas.shapes import is_own, shape
from ledger_tools.book.registers import ESTIMATES_TABLE
from ledger_tools.book.work import work_out
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.promise import write_estimates
from tests.book.scenario import whole_book
from tests.book.shop import Shop, by_code

OWN_SHEETS = ("Start", "Repairs")
"""Their formulas stand outside the tables and are never planned."""


@pytest.mark.parametrize(
    ("profile", "hours", "rounds"),
    [
        ("gb", HourPolicy(15, "up", "line"), "down"),
        ("ca-qc", HourPolicy(6, "nearest", "job"), "half-down"),
    ],
)
def test_every_formula_of_a_book_is_known_as_ours(
    tmp_path: Path, profile: str, hours: HourPolicy, rounds: str
) -> None:
    """Whatever the settings; else a change of settings would be reported cell by cell."""
    snapshot = whole_book(tmp_path, profile, hours, start=31, rounds=rounds).snapshot()
    jobs = frozenset(sheet.name for sheet in snapshot.sheets if sheet.name.startswith("25-"))

    strange = {
        formula
        for sheet in snapshot.sheets
        if sheet.name not in OWN_SHEETS
        for formula in sheet.formulas.values()
        if not is_own(formula, jobs)
    }

    assert len(jobs) > 5
    assert strange == set()


def test_formulas_of_a_new_job_are_known_as_ours(tmp_path: Path) -> None:
    """Before there are registers of invoices they are shorter."""
    shop = Shop.new(tmp_path)
    number = shop.add(repair="GATE")

    assert all(
        is_own(formula, frozenset({number})) for formula in shop.sheet(number).formulas.values()
    )


@pytest.mark.parametrize("basis", ["", "capped"])
def test_formulas_of_a_job_with_an_estimate_are_known_as_ours(tmp_path: Path, basis: str) -> None:
    """A register that comes later changes them, and nobody is told that he typed them."""
    shop = Shop.new(tmp_path)
    number = shop.add(repair="GATE")
    shop.type_job(1, basis=basis or None)
    session = shop.session()
    promise = partial(write_estimates, wording=lambda customer, _: {"customer": customer.name})
    session.save(work_out(session.snapshot, as_of=shop.today, promise=promise))

    formulas = shop.sheet(number).formulas.values()

    assert [f for f in formulas if not is_own(f, frozenset({number}))] == []
    shop.fill(ESTIMATES_TABLE, 1, accepted_on=shop.today, accepted_by="A")
    assert not by_code(shop.recompute(), "formula-restored")


@pytest.mark.parametrize(
    "formula",
    ["1+1", "40*2", "SUM(M12:M20)", "Sheet9!$A$1", "$A$1", "M12*1.2", '"free"',
     'IF(B12="","",5)', "'My sheet'!B2", "#REF!+1"],
)  # fmt: skip
def test_what_an_owner_types_is_not_ours(formula: str) -> None:
    """It is named before it goes."""
    assert not is_own(formula, frozenset({"25-0001"}))


@pytest.mark.parametrize("gone", ["#REF!", "#REF!$A$5:$A$99"])
def test_a_formula_of_ours_whose_sheet_was_deleted_is_ours(gone: str) -> None:
    """LibreOffice leaves no place of the cells that are gone, Excel does; neither is typed."""
    formula = f'IF($B5="","",IFERROR(INDEX({gone},MATCH($B5,{gone},0)),""))'

    assert is_own(formula, frozenset())
    assert not is_own(formula + "+1", frozenset())


def test_a_reference_to_a_job_sheet_is_ours() -> None:
    """A row of Jobs refers to the sheet of its job, and a copied row to that of another."""
    assert is_own("'25-0001'!$G$9", frozenset({"25-0001"}))


def test_shapes_leave_out_where_and_how_much() -> None:
    """Moved columns, renamed sheets and other steps do not change a shape; words do."""
    assert shape("ROUND(SUM(Jobs!$A$1:$A$9),2)") == shape("round(SUM('My jobs'!$C$4:$C$77), 0)")
    assert shape('IF($A1="labour",1,2)') != shape('IF($A1="part",1,2)')
