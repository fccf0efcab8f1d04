"""What sublet work is sold at: cost plus markup, or cost at a margin. The two are not the same.

Markup is a fraction of the cost, margin a fraction of the price:

>>> price_from_markup(Decimal("380"), markup=Decimal("0.20"))
Decimal('456.00')
>>> price_from_margin(Decimal("380"), margin=Decimal("0.20"))
Decimal('475')
"""

import re
from decimal import Decimal

_PERCENT = re.compile(r"(\d{1,4}(?:\.\d{1,6})?)\s*%", re.ASCII)
_FRACTION = re.compile(r"(?:0?\.\d{1,8}|0)", re.ASCII)


class FractionUnreadableError(ValueError):
    """What was written is neither a percentage such as 20% nor a fraction such as 0.20."""


class MarginTooHighError(ValueError):
    """A margin is a part of the price, so it stays below the whole."""


def fraction_from(written: str) -> Decimal:
    """Return the fraction that `written` stands for; `20%` and `0.20` are the same.

    >>> fraction_from("20%")
    Decimal('0.2')

    Raises:
        FractionUnreadableError: `written` is neither. Nothing is guessed: a bare 20 may be
            20 % or twenty times, and a bare 1.5 may be 150 % or 1.5 %.
    """
    text = written.strip()
    if percent := _PERCENT.fullmatch(text):
        return (Decimal(percent[1]) / 100).normalize() + 0
    if _FRACTION.fullmatch(text):
        return Decimal(text)
    raise FractionUnreadableError(written)


def price_from_markup(cost: Decimal, *, markup: Decimal) -> Decimal:
    """Return the unit price for a unit that costs `cost`, not rounded; `markup` is of the cost."""
    return cost * (1 + markup)


def price_from_margin(cost: Decimal, *, margin: Decimal) -> Decimal:
    """Return the unit price for a unit that costs `cost`, not rounded; `margin` is of the price.

    Raises:
        MarginTooHighError: `margin` is 1 or more: no price leaves it.
    """
    return cost / _left_for_cost(margin)


def markup_from_margin(margin: Decimal) -> Decimal:
    """Return the markup on cost that leaves `margin` of the price.

    >>> markup_from_margin(Decimal("0.20"))
    Decimal('0.25')

    Raises:
        MarginTooHighError: `margin` is 1 or more.
    """
    return margin / _left_for_cost(margin)


def margin_from_markup(markup: Decimal) -> Decimal:
    """Return the part of the price that is left over a cost marked up by `markup`.

    >>> margin_from_markup(Decimal("0.25"))
    Decimal('0.2')
    """
    return markup / (1 + markup)


def _left_for_cost(margin: Decimal) -> Decimal:
    if margin >= 1:
        raise MarginTooHighError(margin)
    return 1 - margin
