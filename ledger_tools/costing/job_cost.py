"""What the lines of a job come to: billed hours and quantities, amounts, what was not billed.

The rule for a line: billed is actual less not billable; labour minutes become hours by the
shop's printed policy; the amount is billed x price, or the price agreed for the line.
"""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.costing.lines import Kind, Line
from ledger_tools.hours import HourPolicy, hours_of
from ledger_tools.money import ZERO, Rounding


class LineCost(NamedTuple):
    """What one line comes to.

    Attributes:
        line: The line.
        billed: Hours (labour) or quantity billed.
        amount: Net amount, whole minor units; negative for a discount.
        estimated: Net amount of the estimate, whole minor units.
        non_billable_value: What the part not billed would have come to, not rounded.
    """

    line: Line
    billed: Decimal
    amount: Decimal
    estimated: Decimal
    non_billable_value: Decimal


def billable_minutes(line: Line) -> int:
    """Return the minutes of a labour line that the customer pays."""
    return int((line.actual or ZERO) - (line.non_billable or ZERO))


def cost_lines(
    lines: Iterable[Line], *, policy: HourPolicy, rounding: Rounding, settled: bool
) -> tuple[LineCost, ...]:
    """Return what each line comes to, in the order given.

    Args:
        lines: Lines of one job, with the price of labour filled in.
        policy: How minutes become hours.
        rounding: How amounts become whole minor units.
        settled: Whether the job is to be invoiced or was: then material, parts, sublet work
            and fees without an actual quantity count as estimated; before, as not yet used.
    """
    lines = tuple(lines)
    done = _labour_shares(lines, billable_minutes, policy)
    promised = _labour_shares(lines, _promised_minutes, policy)
    return tuple(_cost(line, done, promised, rounding, settled=settled) for line in lines)


def expected_costs(
    lines: Iterable[Line], *, policy: HourPolicy, rounding: Rounding
) -> tuple[LineCost, ...]:
    """Return what each line is expected to come to: the larger of promised and billable so far.

    Minutes become hours by the shop's policy, in its scope; an agreed price stands.
    """
    expected = (
        replace(line, actual=_expected(line), non_billable=None, reason="") for line in lines
    )
    return cost_lines(expected, policy=policy, rounding=rounding, settled=False)


def _expected(line: Line) -> Decimal:
    billable = (line.actual or ZERO) - (line.non_billable or ZERO)
    return max(line.estimate or ZERO, billable)


def promised_hours(lines: Iterable[Line], policy: HourPolicy) -> dict[int, Decimal]:
    """Return the estimated hours of each labour line by line id, by the shop's policy."""
    shares = _labour_shares(lines, _promised_minutes, policy)
    return {line_id: hours_of(minutes) for line_id, minutes in shares.items()}


def _promised_minutes(line: Line) -> int:
    return int(line.estimate or ZERO)


def _labour_shares(
    lines: Iterable[Line], minutes: Callable[[Line], int], policy: HourPolicy
) -> dict[int, int]:
    by_rate: dict[Decimal, list[tuple[int, int]]] = defaultdict(list)
    for line in lines:
        if line.kind is Kind.LABOUR:
            by_rate[line.price or ZERO].append((line.line_id, minutes(line)))
    return {
        line_id: share
        for pairs in by_rate.values()
        for line_id, share in policy.shares(pairs).items()
    }


def _cost(
    line: Line,
    done: Mapping[int, int],
    promised: Mapping[int, int],
    rounding: Rounding,
    *,
    settled: bool,
) -> LineCost:
    price = line.price or ZERO
    sign = -1 if line.kind is Kind.DISCOUNT else 1
    if line.kind is Kind.LABOUR:
        billed, estimate = hours_of(done[line.line_id]), hours_of(promised[line.line_id])
        not_billed = line.non_billable * price / 60 if line.non_billable else ZERO
    else:
        billed, estimate = _quantity(line, settled=settled), line.estimate or ZERO
        not_billed = line.non_billable * price if line.non_billable else ZERO
    exact = billed * price if line.agreed_price is None else line.agreed_price
    return LineCost(
        line,
        billed,
        rounding.amount(sign * exact),
        rounding.amount(sign * estimate * price),
        not_billed,
    )


def _quantity(line: Line, *, settled: bool) -> Decimal:
    if line.actual is None:
        return (line.estimate or ZERO) - (line.non_billable or ZERO) if settled else ZERO
    return line.actual - (line.non_billable or ZERO)


def value_not_billed(lines: Iterable[Line]) -> Decimal:
    """Return what the parts of all `lines` not billed would have come to, not rounded.

    Minutes times price are added up before they become hours: thirds of an hour that together
    come to exactly half a cent would else fall short of it.
    """
    by_minute = by_unit = ZERO
    for line in lines:
        value = (line.non_billable or ZERO) * (line.price or ZERO)
        if line.kind is Kind.LABOUR:
            by_minute += value
        else:
            by_unit += value
    return by_minute / 60 + by_unit


def by_kind(amounts: Iterable[tuple[Kind, Decimal]]) -> dict[Kind, Decimal]:
    """Return the sum of `amounts` for every kind of line, zero where there is none."""
    sums = dict.fromkeys(Kind, ZERO)
    for kind, amount in amounts:
        sums[kind] += amount
    return sums
