"""Live formulas say what the tools compute: LibreOffice as second calculator, whole books."""

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from itertools import product
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import xlsxwriter

from ledger_tools.book.cells import serial_of
from ledger_tools.book.formulas.text import rounded
from ledger_tools.hours import HourPolicy
from ledger_tools.money import ROUNDING_MODES, Rounding
from tests import libreoffice
from tests.book.scenario import whole_book

BOOKS: list[Any] = [
    pytest.param("none", HourPolicy(6, "nearest", "job"), True, "", 1, id="none-6-nearest-job"),
    pytest.param(
        "us-ca", HourPolicy(15, "up", "line"), True, "half-down", 2, id="us-ca-15-up-line"
    ),
    pytest.param("gb", HourPolicy(1, "nearest", "job"), False, "down", 3, id="gb-1-job"),
    pytest.param("ca-qc", HourPolicy(6, "up", "job"), True, "", 4, id="ca-qc-6-up-job"),
]
"""Tax profile, hour policy, authorised with tax, rounding of tax, start of chance."""


def formula_cells(path: Path) -> dict[str, list[str]]:
    """Return the addresses of formula cells by sheet, as openpyxl reads them."""
    book = openpyxl.load_workbook(path)
    return {
        sheet.title: [c.coordinate for row in sheet.iter_rows() for c in row if c.data_type == "f"]
        for sheet in book.worksheets
    }


def plain(value: object) -> object:
    """Return a cell's value so that two programs' can be compared: numbers to nine places."""
    if isinstance(value, datetime):
        return float(serial_of(value.date()))
    if isinstance(value, int | float):
        return round(float(value), 9)
    return value or ""


def differences(path: Path, tmp: Path) -> list[str]:
    """Return every formula cell whose cached value is not what LibreOffice computes."""
    ours, theirs = libreoffice.cell_values(path), libreoffice.recalculated(path, tmp)
    return [
        f"{sheet}!{cell}: {mine!r} stands there, LibreOffice computes {other!r}"
        for sheet, cells in formula_cells(path).items()
        for cell in cells
        if (mine := plain(ours[sheet].get(cell))) != (other := plain(theirs[sheet].get(cell)))
    ]


@pytest.mark.libreoffice
@pytest.mark.parametrize(("profile", "hours", "with_tax", "rounds", "start"), BOOKS)
def test_libreoffice_computes_every_formula_cell_the_same(  # noqa: PLR0913 - parts of a case
    tmp_path: Path, *, profile: str, hours: HourPolicy, with_tax: bool, rounds: str, start: int
) -> None:
    """Amounts, hours, taxes, marks and words: no formula cell differs from its cached value."""
    shop = whole_book(tmp_path, profile, hours, start=start, with_tax=with_tax, rounds=rounds)

    assert sum(map(len, formula_cells(shop.path).values())) > 1000
    assert differences(shop.path, tmp_path) == []


def ties(digits: int) -> Iterator[tuple[Decimal, Decimal]]:
    """Yield bases and rates whose product is a number of half minor units, or a hair beside it."""
    unit = Decimal(1).scaleb(-digits)
    rates = ("0.0725", "0.09975", "0.05", "0.175", "0.15", "0.5")
    for rate, whole in product(rates, range(1, 8000)):
        base = whole * unit
        units = base * Decimal(rate) / unit * 2
        if abs(units - round(units)) < Decimal("0.0001"):
            yield base, Decimal(rate)
            yield -base, Decimal(rate)
            yield base + unit, Decimal(rate)


@pytest.mark.libreoffice
def test_a_formula_rounds_a_tie_as_decimal_does(tmp_path: Path) -> None:
    """Half up, half down and down, in cents, whole units and thousandths, credits as well."""
    cases = [
        (Rounding(digits, mode), base, rate)
        for digits, mode in product((0, 2, 3), ROUNDING_MODES)
        for base, rate in list(ties(digits))[::41]
    ]
    path = tmp_path / "ties.xlsx"
    with xlsxwriter.Workbook(path) as book:
        sheet = book.add_worksheet("Ties")
        for row, (rounding, base, rate) in enumerate(cases):
            sheet.write_row(row, 0, [float(base), float(rate)])
            formula = rounded(f"A{row + 1}*B{row + 1}", rounding)
            sheet.write_formula(row, 2, formula, value=float(rounding.amount(base * rate)))

    assert len(cases) > 300
    assert differences(path, tmp_path) == []
