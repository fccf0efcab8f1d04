"""What a formula speaks of is found, whatever stands around it."""

import pytest

from ledger_tools.book.parts.mentions import Going, mentions, speaks_of, without_sheets

GOING = Going(
    {"25-0002": "25-0002", "o'neil": "O'Neil"},
    {"job_25_0002": "25-0002"},
    ["start", "25-0001", "25-0002", "25-0003", "o'neil"],
)


@pytest.mark.parametrize(
    ("formula", "sheet"),
    [
        ("'25-0002'!A1", "25-0002"),
        ("1+'25-0002'!$A$1:$B$9", "25-0002"),
        ("SUM(Job_25_0002[Amount])", "25-0002"),
        ("SUM(JOB_25_0002[[#Totals],[Amount]])", "25-0002"),
        ("'O''Neil'!B2", "O'Neil"),
        ("SUM('25-0001:25-0003'!A1)", "25-0002"),
        ("SUM('25-0003:25-0001'!A1)", "25-0002"),
        ("""INDIRECT("'25-0002'!A1")""", "25-0002"),
        ("""HYPERLINK("#'25-0002'!A1","go")""", "25-0002"),
        ("'25-0002'!A:A", "25-0002"),
        ("'25-0001'!A1", ""),
        ("'25-00021'!A1", ""),
        ("""IF(A1="25-0002",1,0)""", ""),
        ("""IF(A1="see 25-0002!",1,0)""", ""),
        ("'[other.xlsx]25-0002'!A1", ""),
        ("Job_25_00021[Amount]", ""),
        ("T['25-0002'!x]", ""),
        ("SUM('start:25-0001'!A1)", ""),
    ],
)
def test_a_sheet_that_goes_is_found(formula: str, sheet: str) -> None:
    """By its name, by its table, in a run of sheets or in a text for INDIRECT; not by likeness."""
    assert speaks_of(formula, GOING) == sheet


@pytest.mark.parametrize(
    ("formula", "names"),
    [
        ("ROUND(A1*rate,2)", {"rate"}),
        ("IF(TRUE,$B$2,Sheet!C3)", set()),
        ("SUM(A:A,$B:$B,1:1)+1.5E-6", set()),
        ("_xlfn.MAXIFS(A1:A9,B1:B9,shop_as_of)", {"shop_as_of"}),
        ('IF(A1="rate",#N/A,1)', set()),
        ("T[rate]", set()),
        ("größe+a.b_c", {"größe", "a.b_c"}),
    ],
)
def test_names_are_told_from_places_functions_and_words(formula: str, names: set[str]) -> None:
    """Only a defined name is one."""
    assert mentions(formula).names == names


@pytest.mark.parametrize(
    ("formula", "left"),
    [
        ("'25-0002'!$A$1+B2", "#REF!+B2"),
        ("SUM('25-0002'!$A$1:$A$9)", "SUM(#REF!)"),
        ("SUM(Job_25_0002[Amount])*2", "SUM(#REF!)*2"),
        ("""IF(A1="'25-0002'!",1)""", """IF(A1="'25-0002'!",1)"""),
        ("'25-0001'!A1", "'25-0001'!A1"),
    ],
)
def test_what_meant_a_sheet_that_is_gone_becomes_ref(formula: str, left: str) -> None:
    """The rest of the formula stays to the letter."""
    assert without_sheets(formula, {"25-0002"}, {"job_25_0002"}) == left
