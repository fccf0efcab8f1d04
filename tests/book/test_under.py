"""What an owner types under and between the rows of a table: entries, totals, remarks."""

from decimal import Decimal
from pathlib import Path

import pytest

from ledger_tools.book.layout import JOBS_TABLE, PAYMENTS_TABLE
from ledger_tools.book.under import sums_column
from ledger_tools.book.work import work_out
from ledger_tools.errors import NotWritableError, Severity
from ledger_tools.shop.plan import MakeTable
from ledger_tools.shop.snapshot import address
from tests.book.shop import (
    BAD,
    GOOD,
    LABOUR,
    TODAY,
    Shop,
    Typed,
    by_code,
    changed,
    only,
    with_sheet,
)
from tests.book.test_patch import _audit
from tests.parts import read_parts, write_parts

TOTAL = "=SUM(K5:K24)"
CUSTOMER, BILLED = 3, 11
"""Columns of Jobs."""


@pytest.mark.parametrize(
    ("formula", "col", "sums"),
    [
        ("SUM(L5:L27)", 12, True),
        ("sum($L$5:$L$27)", 12, True),
        ("SUBTOTAL(109,L5:L27)", 12, True),
        ("ROUND(SUM(L5:L27),2)", 12, True),
        ("SUM(L5:L27)*2", 12, False),
        ("SUM(K5:K27)", 12, False),
        ("SUM(K5:L27)", 12, False),
        ("SUM(20,30)", 12, False),
    ],
)
def test_only_the_sum_of_its_own_column_is_a_total(formula: str, col: int, *, sums: bool) -> None:
    """A price or payment that the owner works out by a formula stays an entry."""
    assert sums_column(formula, col) is sums


@pytest.mark.parametrize("row", [8, 24, 25, 27], ids=["inside", "last", "right-under", "apart"])
def test_a_total_typed_into_jobs_is_no_job(shop: Shop, row: int) -> None:
    """It gets no number, its sum is left alone, and the jobs are worked out as before."""
    before = shop.check().results.keys()
    shop.write("Jobs", {(row, CUSTOMER): "Total", (row, BILLED): TOTAL})
    shop.fill(BAD, LABOUR, actual=60)

    outcome = shop.recompute()

    assert outcome.results.keys() == before
    assert not by_code(outcome, "formula-restored")
    sheet = shop.sheet("Jobs")
    assert (row, 1) not in sheet.values
    assert sheet.formulas[row, BILLED] == TOTAL[1:]
    assert (row, BILLED) not in sheet.values, "an old sum would stay on show in LibreOffice"


def test_a_total_of_payments_is_no_payment(billed: Shop) -> None:
    """The sum of what came in does not come in again."""
    before = billed.parsed().book.payments
    billed.fill(PAYMENTS_TABLE, 4, invoice="Total", amount="=SUM(C5:C7)")

    outcome = billed.check()

    assert outcome.book.payments == before
    assert not by_code(outcome, "payment-without-invoice")


def test_a_growing_table_stops_above_what_stands_below(shop: Shop) -> None:
    """A remark stands two rows below: spare rows do not take it in, then or later."""
    end = shop.grid(JOBS_TABLE).table_end
    shop.write("Jobs", {(end + 3, CUSTOMER): "Total", (end + 3, BILLED + 1): 12})
    for row in range(7, end + 1):
        shop.write("Jobs", {(row, CUSTOMER): "R. Calder", (row, CUSTOMER + 1): f"Pan {row}"})

    shop.recompute()

    assert shop.grid(JOBS_TABLE).table_end == end + 1
    assert not by_code(shop.recompute(), "customer-added")
    assert shop.sheet("Jobs").values[end + 3, CUSTOMER] == "Total"


def test_a_new_job_is_refused_where_the_owners_row_stands(tmp_path: Path) -> None:
    """The row is named and what to do about it; nothing is written over it."""
    shop = Shop.new(tmp_path)
    end = shop.grid(JOBS_TABLE).table_end
    shop.write("Jobs", {(end, CUSTOMER): "R. Calder", (end + 1, BILLED): TOTAL})

    with pytest.raises(NotWritableError, match=f"'Jobs', row {end + 1}: the table is full"):
        shop.add()


def test_a_line_typed_further_down_is_a_line(shop: Shop) -> None:
    """With empty rows between: its price stays and it is billed, the rows between are spare."""
    before = shop.check().results[BAD].subtotal
    end = shop.grid(BAD).last_row
    line: dict[str, Typed] = {"kind": "Fee", "description": "Skip", "actual": 1, "price": 99}
    shop.fill(BAD, end - shop.grid(BAD).header_row + 4, **line)

    outcome = shop.recompute()

    assert outcome.results[BAD].subtotal - before == Decimal(99)
    assert not by_code(outcome, "formula-restored")
    assert shop.grid(BAD).table_end >= end + 4
    assert shop.recompute().plan.operations == ()


def test_a_job_typed_far_below_the_table_is_named(shop: Shop) -> None:
    """It is not read, so the owner hears of it; a remark in one cell is no job."""
    shop.write("Jobs", {(28, CUSTOMER): "remark", (30, CUSTOMER): "R. Calder", (30, 4): "Gate"})

    warned = only(shop.check(), "row-apart")

    assert (warned.severity, warned.sheet, warned.cell) == (Severity.WARNING, "Jobs", "C30")


def test_lines_that_are_no_table_any_more_are_found(shop: Shop) -> None:
    """LibreOffice dissolves a table when the sheet to its right is deleted: it is made again."""
    shop.fill(BAD, LABOUR, actual=98)
    shop.recompute()
    before = shop.check()
    snapshot = with_sheet(shop.snapshot(), BAD, shop.sheet(BAD).replaced(tables=()))

    outcome = work_out(snapshot, as_of=TODAY)

    assert outcome.results[BAD] == before.results[BAD]
    assert only(outcome, "table-restored").sheet == BAD
    (made,) = outcome.plan.operations
    assert isinstance(made, MakeTable)
    assert made.area == shop.sheet(BAD).tables[0]


def test_a_sheet_whose_row_is_gone_is_named(shop: Shop) -> None:
    """The job is billed no more, so its sheet is named; the other job is untouched."""
    row = shop.grid(JOBS_TABLE).header_row + 2
    gone = changed(shop.snapshot(), "Jobs", {(row, col): None for col in range(1, 17)})
    sheet = next(s for s in gone.sheets if s.name == "Jobs")
    values = {place: value for place, value in sheet.values.items() if place[0] != row}
    formulas = {place: value for place, value in sheet.formulas.items() if place[0] != row}
    gone = with_sheet(gone, "Jobs", sheet.replaced(values=values, formulas=formulas))

    outcome = work_out(gone, as_of=TODAY)

    assert only(outcome, "job-row-missing").sheet == BAD
    assert outcome.results.keys() == {GOOD}


def _own_column(shop: Shop, formula: str) -> int:
    """Give `Jobs` another column, computed in every row, and return it."""
    parts = read_parts(shop.path)
    name = next(n for n, c in parts.items() if b'displayName="Jobs"' in c)
    area = next(t for t in shop.sheet("Jobs").tables if t.name == "Jobs")
    col = area.last_col + 1
    text = parts[name].decode()
    ends = address(area.last_row, area.last_col), address(area.last_row, col)
    text = text.replace(f":{ends[0]}", f":{ends[1]}").replace(
        "</tableColumns>", '<tableColumn id="99" name="Mine"/></tableColumns>'
    )
    parts[name] = text.replace(f'count="{area.last_col}"', f'count="{col}"').encode()
    write_parts(shop.path, parts)
    rows = range(area.first_row + 1, area.last_row + 1)
    typed = {(row, col): f"={formula.format(row)}" for row in rows}
    shop.write("Jobs", {(area.first_row, col): "Mine", **typed})
    return col


def test_a_computed_column_of_the_owners_goes_on_when_jobs_grow(shop: Shop) -> None:
    """Each new row has its formula, ours are left to us, and nothing else is to be done then."""
    col = _own_column(shop, "K{0}*2")
    end = shop.grid(JOBS_TABLE).table_end
    for row in range(7, end + 1):
        shop.write("Jobs", {(row, CUSTOMER): "R. Calder", (row, CUSTOMER + 1): f"Pan {row}"})

    shop.recompute()

    grown = shop.grid(JOBS_TABLE).table_end
    formulas = shop.sheet("Jobs").formulas
    assert grown > end
    assert [formulas[row, col] for row in (end, end + 1, grown)] == [
        f"K{row}*2" for row in (end, end + 1, grown)
    ]
    assert not [place for place in formulas if place[0] > end and place[1] != col]
    assert shop.check().plan.operations == ()
    assert _audit(shop.path) == []
