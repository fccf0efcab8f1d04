"""Amounts of money: exact decimals, rounded in this one place.

>>> cents = Rounding(2)
>>> cents.amount(Decimal("2.675"))
Decimal('2.68')
>>> cents.amount(Decimal("-2.675"))
Decimal('-2.68')
"""

import re
from decimal import ROUND_DOWN, ROUND_HALF_DOWN, ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import NamedTuple

ZERO = Decimal(0)
_PLAIN = r"(?a)[+-]?(?:\d{1,11}(?:\.\d{0,12})?|\.\d{1,12})"

_MODES = {
    "half-up": ROUND_HALF_UP,
    "half-down": ROUND_HALF_DOWN,
    "down": ROUND_DOWN,
}
ROUNDING_MODES = tuple(_MODES)
_REMEMBERED = 4096
"""Numbers that are kept: the same prices and amounts stand on many lines."""


class Rounding(NamedTuple):
    """How an amount becomes whole minor units of the currency.

    Attributes:
        digits: Decimal places of the currency's minor unit, 2 for cents.
        mode: ``half-up`` (away from zero), ``half-down`` or ``down`` (towards zero).
    """

    digits: int
    mode: str = "half-up"

    def amount(self, exact: Decimal) -> Decimal:
        """Return `exact` rounded to the minor unit by this rule; never a negative zero."""
        return _rounded(exact, self.digits, self.mode)


@lru_cache(maxsize=_REMEMBERED)
def _rounded(exact: Decimal, digits: int, mode: str) -> Decimal:
    rounded = exact.quantize(Decimal(1).scaleb(-digits), _MODES[mode])
    return rounded or abs(rounded)


@lru_cache(maxsize=_REMEMBERED)
def from_cell(number: float) -> Decimal:
    """Return the number a person typed or sees: a cell's float to fifteen digits.

    That many a spreadsheet keeps and shows. What is typed comes back as it was; what an owner's
    own formula computes loses the residue of binary numbers, which no invoice should print.

    >>> from_cell(0.1)
    Decimal('0.1')
    >>> from_cell(3 * 0.1)
    Decimal('0.3')
    >>> from_cell(1200.0)
    Decimal('1200')
    """
    if isinstance(number, float) and not number.is_integer():
        return Decimal(f"{number:.15g}")
    return Decimal(int(number))


def decimal_from(written: str) -> Decimal:
    """Return the number that plain digits stand for: a sign, a point, nothing else.

    >>> decimal_from("-12.50")
    Decimal('-12.50')

    Raises:
        ValueError: `written` is anything else, or a hundred thousand million or more.
    """
    if not re.fullmatch(_PLAIN, written):
        raise ValueError(written)
    return Decimal(written)


def plain(number: Decimal) -> str:
    """Return `number` in plain digits, without exponent.

    >>> plain(Decimal("1E+2"))
    '100'
    """
    return f"{number:f}"
