"""Rates and tax classes that a live formula would read otherwise than the tools."""

from pathlib import Path

import pytest

from ledger_tools.book.layout import RATES_TABLE, TAX_RATES_TABLE, TableLayout
from ledger_tools.errors import Severity
from tests.book.shop import GOOD, LABOUR, TODAY, Shop, Typed, only
from tests.book.test_formulas import differences


@pytest.mark.parametrize(
    ("table", "typed"),
    [(RATES_TABLE, {"labour_class": "bench"}), (TAX_RATES_TABLE, {"component": "VAT"})],
)
def test_two_rates_of_one_day_are_refused(
    tmp_path: Path, table: TableLayout, typed: dict[str, Typed]
) -> None:
    """A formula adds the two up, so nothing is billed before one of the rows is gone."""
    shop = Shop.new(tmp_path, "gb")
    shop.add(repair="GATE", state="to invoice")
    last = len([row for row in range(1, 30) if shop.value(table, row, "rate") is not None])
    shop.fill(table, last + 1, **typed, first_day=TODAY, rate=0.5)
    assert "rate-twice" not in {f.code for f in shop.check().findings}
    shop.fill(table, last + 2, **typed, first_day=TODAY, rate=0.25)

    outcome = shop.invoice()

    found = only(outcome, "rate-twice")
    assert (found.severity, found.cell) == (Severity.ERROR, shop.cell(table, last + 2, "rate"))
    assert TODAY.isoformat() in found.what
    assert outcome.invoices == ()


@pytest.mark.libreoffice
def test_a_class_cased_otherwise_is_the_same_class(tmp_path: Path) -> None:
    """A new rate for `Bench ` is one for `bench`: formulas do not see capitals either."""
    shop = Shop.new(tmp_path)
    shop.fill(RATES_TABLE, 4, labour_class="Bench ", first_day=TODAY, rate=91.15)
    shop.add(repair="GATE")
    shop.fill(GOOD, LABOUR, actual=60, labour_class="bench")

    outcome = shop.recompute()

    assert shop.value(RATES_TABLE, 4, "labour_class") == "bench"
    bench = [c for c in outcome.results[GOOD].costs if c.line.labour_class == "bench"]
    assert {str(cost.line.price) for cost in bench} == {"91.15"}
    assert differences(shop.path, tmp_path) == []


def test_a_tax_class_that_stands_twice_is_an_error(tmp_path: Path) -> None:
    """Its lines would be taxed twice over on the sheet."""
    shop = Shop.new(tmp_path, "gb")
    grid = shop.parsed().places.tax_classes
    assert grid is not None
    first = min(grid.columns.values())
    shop.write(grid.sheet, {(grid.table_end + 1, first): "Labour"})

    found = only(shop.check(), "tax-unknown")

    assert (found.severity, found.what) == (
        Severity.ERROR, "The class 'labour' stands there twice",
    )  # fmt: skip
