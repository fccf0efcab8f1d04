"""What is billed of what was worked: as it came, never above a ceiling, or a fixed price.

What the lines come to is one thing, what is billed for them another. The difference between both
is spread over the billed lines in proportion to their amounts, and stands on the bill as a row of
its own for each tax class: lines keep the amounts they were worked at.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from decimal import Decimal
from enum import StrEnum
from typing import NamedTuple

from ledger_tools.billing.tax import TaxAmount
from ledger_tools.money import ZERO, Rounding


class Basis(StrEnum):
    """How a job is billed."""

    ACTUAL = "actual"
    CAPPED = "capped"
    FIXED = "fixed"


class Bound(NamedTuple):
    """An amount that a bill is held to.

    Attributes:
        amount: Money.
        with_tax: Whether the bill is held to it with tax.
    """

    amount: Decimal
    with_tax: bool


class Terms(NamedTuple):
    """What a job's bill is held to.

    Attributes:
        basis: How it is billed.
        price: The fixed price; None where none is known.
        ceiling: What may be billed at most; None where nothing was authorised.
        minimum: Least net of a job on which anything is billed; 0 for none.
    """

    basis: Basis = Basis.ACTUAL
    price: Bound | None = None
    ceiling: Bound | None = None
    minimum: Decimal = ZERO

    @property
    def limit(self) -> Bound | None:
        """The amount that an adjusted bill may not pass."""
        return self.price if self.basis is Basis.FIXED else self.ceiling


class Worked(NamedTuple):
    """What the lines of a job come to.

    Attributes:
        net: Sum of their amounts.
        tax: Tax on them, each component rounded.
        exact_tax: Tax on them, not rounded.
    """

    net: Decimal
    tax: Decimal
    exact_tax: Decimal

    def passes(self, bound: Bound) -> bool:
        """Whether it is more than a bound allows."""
        return (self.net + self.tax if bound.with_tax else self.net) > bound.amount


class Share(NamedTuple):
    """What one billed line bears of an adjustment.

    Attributes:
        line_id: Line id within the job.
        amount: Signed as the adjustment is.
        remainder: What was left of it when it was cut to whole minor units, in parts of the
            lines' sum: the largest remainders get the units that are left over.
    """

    line_id: int
    amount: Decimal
    remainder: int


class Adjustment(NamedTuple):
    """What is billed above or below what was worked.

    Attributes:
        spread: Spread over the lines.
        shares: What each line bears of it.
        rest: What is taken off besides, a minor unit or two, because tax is rounded; off the
            tax class of the line with the largest amount.
        by_class: Both together for each tax class, in order of line ids; they are the rows on
            the bill.
    """

    spread: Decimal
    shares: tuple[Share, ...]
    rest: Decimal
    by_class: tuple[tuple[str, Decimal], ...]

    @property
    def total(self) -> Decimal:
        """All of it: negative where less is billed than was worked."""
        return self.spread - self.rest


Taxed = Callable[[Iterable[tuple[str, Decimal]]], tuple[TaxAmount, ...]]
"""Gives the taxes on pairs of tax class and amount."""


class Billed(NamedTuple):
    """A line that counts for the bill.

    Attributes:
        line_id: Line id within the job.
        taxed_as: Class in the tax profile.
        amount: Whole minor units; negative for a discount.
    """

    line_id: int
    taxed_as: str
    amount: Decimal


class Bill(NamedTuple):
    """What lines come to, and what their bill is held to.

    Attributes:
        terms: What it is held to.
        worked: What the lines come to.
        largest_class: Tax class of the line with the largest amount, empty without lines.
        adjustment: What it is adjusted by; None where it is what was worked.
    """

    terms: Terms
    worked: Worked
    largest_class: str
    adjustment: Adjustment | None


def bill_of(terms: Terms, lines: Iterable[Billed], taxed: Taxed, *, digits: int) -> Bill:
    """Return what a bill is to be adjusted by, and all that hangs on it.

    Args:
        terms: What the bill is held to.
        lines: Every line with its amount.
        taxed: Gives the taxes of the day.
        digits: Decimal places of the currency's minor unit.
    """
    lines = sorted(lines)
    net = sum((line.amount for line in lines), ZERO)
    taxes = taxed((line.taxed_as, line.amount) for line in lines)
    exact = sum((tax.base * tax.rate for tax in taxes), ZERO)
    worked = Worked(net, sum((tax.amount for tax in taxes), ZERO), exact)
    first = _largest(lines)
    total = net_to_bill(terms, worked, digits=digits) - net
    bill = Bill(terms, worked, first, None)
    if net <= 0 or (terms.basis is Basis.ACTUAL and not total):
        return bill
    shares = spread(total, [(line.line_id, line.amount) for line in lines], digits=digits)
    return bill._replace(adjustment=_adjustment(bill, lines, shares if total else (), taxed))


def _adjustment(
    bill: Bill, lines: Sequence[Billed], shares: tuple[Share, ...], taxed: Taxed
) -> Adjustment | None:
    by_class: dict[str, Decimal] = defaultdict(lambda: ZERO)
    for line, share in zip(lines, shares, strict=False):
        by_class[line.taxed_as] += share.amount
    rest = _rest(bill.terms.limit, lines, by_class, taxed)
    by_class[bill.largest_class] -= rest
    rows = tuple((name, amount) for name, amount in by_class.items() if amount)
    total = sum((share.amount for share in shares), ZERO)
    return Adjustment(total, shares, rest, rows) if total or rest else None


def _rest(
    limit: Bound | None, lines: Iterable[Billed], by_class: dict[str, Decimal], taxed: Taxed
) -> Decimal:
    """Return what a bill still passes its limit by, once tax is rounded."""
    if limit is None or not limit.with_tax:
        return ZERO
    pairs = [*((line.taxed_as, line.amount) for line in lines), *by_class.items()]
    tax = sum((t.amount for t in taxed(pairs)), ZERO)
    return max(ZERO, sum((amount for _, amount in pairs), tax) - limit.amount)


def net_to_bill(terms: Terms, worked: Worked, *, digits: int) -> Decimal:
    """Return the net that is billed, before tax is rounded.

    Nothing is adjusted where nothing was billed, and nothing is written down where the basis
    is *actual*: such a bill above its ceiling is refused elsewhere.

    Args:
        terms: What the bill is held to.
        worked: What the lines come to.
        digits: Decimal places of the currency's minor unit.
    """
    if worked.net <= 0:
        return worked.net
    if terms.basis is Basis.FIXED:
        return net_within(terms.price, worked, digits=digits) if terms.price else worked.net
    least = max(worked.net, terms.minimum)
    if terms.ceiling is None:
        return least
    within = net_within(terms.ceiling, worked, digits=digits)
    if worked.passes(terms.ceiling):
        return min(within, worked.net) if terms.basis is Basis.CAPPED else worked.net
    return min(least, max(worked.net, within))


def net_within(bound: Bound, worked: Worked, *, digits: int) -> Decimal:
    """Return the net that comes up to a bound, the mix of the lines being what it is.

    Where the bound is with tax, it is parted as the worked value is, and parts of a minor unit
    count as a whole one: rounding of tax may swallow them. What then passes the bound is taken
    off again (`Adjustment.rest`).

    >>> worked = Worked(Decimal(400), Decimal(40), Decimal(40))
    >>> net_within(Bound(Decimal(330), with_tax=True), worked, digits=2)
    Decimal('300.00')
    """
    money = Rounding(digits, "down")
    if not bound.with_tax:
        return money.amount(bound.amount)
    whole = worked.net + worked.exact_tax
    # The sheet computes in binary: what is a whole cent there may be a hair beside it.
    parted = Rounding(8).amount(bound.amount * worked.net / whole if whole > 0 else worked.net)
    cut = money.amount(parted)
    return cut if cut == parted else cut + Decimal(1).scaleb(-digits)


def spread(
    total: Decimal, amounts: Iterable[tuple[int, Decimal]], *, digits: int
) -> tuple[Share, ...]:
    """Return what each line bears of `total`, in proportion to the lines' amounts.

    Shares are cut to whole minor units towards the lower; what is left over goes, a unit each,
    to the lines with the largest remainders, among equals to the smaller line id. They add up to
    the total whatever the order of the lines.

    Args:
        total: What is to be spread, positive or negative.
        amounts: Line ids and amounts in whole minor units; their sum is above zero.
        digits: Decimal places of the minor unit.

    >>> shares = spread(
    ...     Decimal("-0.10"), [(1, Decimal(1)), (2, Decimal(1)), (3, Decimal(1))], digits=2
    ... )
    >>> [str(share.amount) for share in shares]
    ['-0.04', '-0.03', '-0.03']
    """
    units = [(line_id, _units(amount, digits)) for line_id, amount in amounts]
    whole = sum(amount for _, amount in units)
    spare = abs(_units(total, digits))
    cut = [(line_id, *divmod(spare * amount, whole)) for line_id, amount in units]
    left = spare - sum(quotient for _, quotient, _ in cut)
    favoured = sorted(cut, key=lambda part: (-part[2], part[0]))[:left]
    more = {line_id for line_id, _, _ in favoured}
    sign = -1 if total < 0 else 1
    return tuple(
        Share(line_id, Decimal(sign * (q + (line_id in more))).scaleb(-digits), remainder)
        for line_id, q, remainder in cut
    )


def _units(amount: Decimal, digits: int) -> int:
    return int(amount.scaleb(digits))


def _largest(lines: Sequence[Billed]) -> str:
    """Return the tax class of the line with the largest amount, the smaller id among equals."""
    if not lines:
        return ""
    return min(lines, key=lambda line: (-line.amount, line.line_id)).taxed_as
