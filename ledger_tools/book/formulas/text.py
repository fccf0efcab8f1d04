"""Formula text: rounding in it, and whether two say the same."""

import re

from ledger_tools.money import Rounding

_PLAIN_SHEET = re.compile(r"'([A-Z]+)'!")


def rounded(exact: str, rounding: Rounding) -> str:
    """Return a formula that rounds as `rounding` does; float residue never tips a tie.

    LibreOffice clears the residue itself, except where it rounds to whole numbers.
    """
    if rounding.mode == "half-down":
        return f"ROUND({exact}-SIGN({exact})*1E-6,{rounding.digits})"
    if rounding.mode == "down":
        return f"ROUNDDOWN(ROUND({exact},8),{rounding.digits})"
    if rounding.digits == 0:
        return f"ROUND(ROUND({exact},8),0)"
    return f"ROUND({exact},{rounding.digits})"


def same_formula(one: str, other: str) -> bool:
    """Whether two formula texts say the same, as far as writers differ in blanks and quotes.

    >>> same_formula("SUM('Jobs'!A1, 2)", "sum(Jobs!A1,2)")
    True
    """
    return one == other or canonical(one) == canonical(other)


def canonical(formula: str) -> str:
    """Return a formula text without the liberties that writers take with it."""
    parts = formula.split('"')
    for i in range(0, len(parts), 2):
        part = parts[i].upper().replace("_XLFN.", "").replace(" ", "")
        parts[i] = _PLAIN_SHEET.sub(r"\1!", part)
    return '"'.join(parts)
