"""Repair or replace: what each way of going on may be expected to cost, come-backs included."""

from decimal import Decimal
from enum import StrEnum

from ledger_tools.money import Rounding

REPAIR, REPLACE = "repair", "replace"
"""What a shop's own rule says of a repair."""
_SHARE = Rounding(4)
"""A hundredth of a percent is as fine as a share is told."""


class OptionKind(StrEnum):
    """The ways to go on with an item, in the trade's words."""

    WELD = "weld and reseal"
    OTHER_REPAIR = "other repair"
    LINE = "line"
    NEW = "replace new"
    USED = "replace used"
    RECONDITIONED = "replace reconditioned"
    REFUSE = "refuse"


OPTION_KINDS = tuple(kind.value for kind in OptionKind)
REPAIRS = (OptionKind.WELD, OptionKind.OTHER_REPAIR, OptionKind.LINE)
"""Options that keep the part; a shop's rule on repair or replace speaks of these."""


def expected_cost(
    price: Decimal | None,
    chance: Decimal | None,
    come_back: Decimal | None,
    money: Rounding,
) -> Decimal | None:
    """Return price + chance x cost of a come-back, rounded once; None while one is not known.

    Common practice, the expected value of the two ways it can go. A chance of nothing needs no
    cost; a chance that nobody has named is not taken for nothing.

    Args:
        price: What the customer would pay.
        chance: Of a come-back, a fraction from 0 to 1.
        come_back: What one would cost.
        money: How amounts become whole minor units.

    >>> cents = Rounding(2)
    >>> expected_cost(Decimal("240"), Decimal("0.15"), Decimal("180"), cents)
    Decimal('267.00')
    """
    if price is None or chance is None or (chance and come_back is None):
        return None
    return money.amount(price + chance * (come_back or 0))


def share_of_new(price: Decimal | None, new: Decimal | None) -> Decimal | None:
    """Return `price` as a fraction of that of replacing new, four places; None without one.

    >>> share_of_new(Decimal(240), Decimal(400))
    Decimal('0.6000')
    """
    return None if price is None or not new else _SHARE.amount(price / new)


def repair_or_replace(share: Decimal | None, below: int) -> str:
    """Return what the shop's rule says of a repair, empty where there is no rule or no share.

    No authority sets such a bound; a shop may set its own.

    Args:
        share: Of the price of replacing new, a fraction.
        below: Percent below which the shop repairs; 0 for no rule.

    >>> repair_or_replace(Decimal("0.6"), 60), repair_or_replace(Decimal("0.5999"), 60)
    ('replace', 'repair')
    """
    if not below or share is None:
        return ""
    return REPAIR if share * 100 < below else REPLACE
