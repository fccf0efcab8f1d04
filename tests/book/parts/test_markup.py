"""Whole numbers as parts of a workbook hold them."""

import re

import pytest

from ledger_tools.book.parts.markup import PartUnfitError, whole_number


@pytest.mark.parametrize(
    ("text", "number"), [("0", 0), ("-1", -1), ("+7", 7), (" 12\n", 12), ("4294967295", 2**32 - 1)]
)
def test_a_whole_number_is_read(text: str, number: int) -> None:
    """With a sign, and with blanks around it, as XML Schema allows."""
    assert whole_number(text) == number


@pytest.mark.parametrize(
    "text",
    ["", "-", "--1", "1.0", "1e3", "0x10", "1_0", "\u0661\u0662", "\u00b2", "1" * 11, "1 2"],
)
def test_what_is_no_whole_number_is_refused(text: str) -> None:
    """What Python would read as one besides is none of a workbook."""
    with pytest.raises(PartUnfitError, match=f"^{re.escape(repr(text))} is no whole number$"):
        whole_number(text)
