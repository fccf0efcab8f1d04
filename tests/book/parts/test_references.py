"""Formulas moved to another cell, judged by an independent translator."""

import re

import pytest
from openpyxl.formula.translate import Translator

from ledger_tools.book.parts.markup import PartUnfitError
from ledger_tools.book.parts.references import Area, Places, moved, read_area

_FORMULAS = (
    "A2*2+$A$2",
    "SUM($A2:B$9)",
    "SUM(A:A,$B:$B,C:$D)",
    "SUM(5:5,$6:6)",
    "'A1 & Co'!B2+Jobs!C3",
    'IF(A2="A2",LOG10(B2),"say ""B2""")',
    "SUM(Jobs[Hours])+Jobs[[#This Row],[Net A1]]",
    "TAX_2025+A10",
    "1E5+E5",
    "B2^2",
)


@pytest.mark.parametrize("formula", _FORMULAS)
def test_a_formula_moves_as_another_translator_moves_it(formula: str) -> None:
    """Texts, sheet names, table columns and functions stay; relative references move."""
    judged = Translator(f"={formula}", origin="B2").translate_formula("D7")

    assert f"={moved(formula, 5, 2)}" == judged


@pytest.mark.parametrize(
    ("formula", "rows", "cols"), [("A1", -1, 0), ("A1", 0, -1), ("XFD1", 0, 1), ("B:B", 0, -2)]
)
def test_a_reference_that_leaves_the_sheet_is_an_error(formula: str, rows: int, cols: int) -> None:
    """No reference wraps round to the other side of the sheet."""
    assert moved(formula, rows, cols) == "#REF!"


@pytest.mark.parametrize("text", ["A0", "XFE1", "A1048577", "1", "A", "", "A1B", "AAAA1", "É1"])
def test_what_is_no_cell_of_a_sheet_is_refused(text: str) -> None:
    """Addresses outside the largest sheet are no addresses."""
    with pytest.raises(PartUnfitError, match=f"{re.escape(text)}$"):
        Places()[text]


def test_ranges_are_read_and_written_alike() -> None:
    """One cell, a rectangle, and what is neither."""
    assert str(read_area("$B$2:D9")) == "B2:D9"
    assert str(read_area("XFD1048576")) == "XFD1048576"
    assert read_area("B9:B2") is None
    assert read_area("A:A") is None


def test_rectangles_meet_only_where_they_share_a_cell() -> None:
    """Touching edges do not share a cell."""
    one = Area(2, 2, 5, 5)

    assert one.meets(Area(5, 5, 9, 9))
    assert not one.meets(Area(6, 2, 9, 5))
    assert not one.meets(Area(2, 6, 5, 9))
