"""A job, an invoice and a period reckoned a second time, in exact fractions from the rules alone.

Nothing of the program is used: fractions instead of decimals, the rules of minutes, amounts and
tax written down anew from how the shop bills, the tax rules read from `config/taxes/`.
"""

import csv
import io
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from functools import cache
from math import ceil, floor
from pathlib import Path
from random import Random
from typing import Any

import yaml

CONFIG = Path(__file__).parents[1] / "config"
KINDS = ("labour", "material", "part", "sublet", "fee", "discount")
PRICES = (
    "33.335", "0.005", "1.005", "2.675", "0.285", "100", "85.50", "12.3456", "100.015", "66.665",
    "0", "0.0804", "250.125", "17.305",
)  # fmt: skip
QUANTITIES = (
    "0.125", "0.5", "1", "3", "0.285", "1.45", "0.7", "8.5", "100", "0.0833", "7", "0.001",
)  # fmt: skip
TIES = (
    ("1", "1.005"), ("1", "2.675"), ("0.5", "0.01"), ("0.285", "1"), ("1.45", "2.3"),
    ("3", "0.335"), ("12.5", "0.0804"), ("4.35", "0.1"),
)  # fmt: skip
"""Quantities and prices that make exactly half a cent, which binary numbers miss."""
MINUTES = (0, 1, 3, 7, 9, 14, 20, 22, 40, 98, 131)
HALF = Fraction(1, 2)
Row = dict[str, str]


@dataclass(frozen=True)
class Rules:
    """How a shop bills.

    Attributes:
        step: Minutes billed as a whole.
        direction: ``nearest`` or ``up``.
        scope: ``job`` or ``line``.
        taxes: A profile as it stands in `config/taxes/`.
        rates: Money an hour by class of labour.
    """

    step: int
    direction: str
    scope: str
    taxes: Mapping[str, Any]
    rates: Mapping[str, Fraction]


@dataclass(frozen=True)
class Reckoned:
    """What a job comes to: amounts by line, net, taxes as component, base and amount, hours."""

    lines: list[tuple[Fraction, Fraction]]
    estimate_net: Fraction
    subtotal: Fraction
    taxes: list[tuple[str, Fraction, Fraction]]
    total: Fraction
    hours: Fraction
    not_billed: Fraction


def rules(profile: str, step: int, direction: str, scope: str) -> Rules:
    """Return the rules of a shop with a shipped tax profile and the shipped labour rates."""
    by_class = {r["class"]: Fraction(str(r["rate"])) for r in _shipped("rates.yaml")["rates"]}
    return Rules(step, direction, scope, _shipped(f"taxes/{profile}.yaml"), by_class)


@cache
def _shipped(name: str) -> Any:  # noqa: ANN401 - YAML holds anything
    return yaml.safe_load((CONFIG / name).read_text(encoding="utf-8"))


def cents(exact: Fraction) -> Fraction:
    """Return `exact` in whole cents; half a cent goes away from zero."""
    whole = floor(abs(exact) * 100 + HALF)
    return Fraction(whole if exact >= 0 else -whole, 100)


def reckon(rows: list[Row], how: Rules, *, settled: bool, day: date) -> Reckoned:
    """Return what the rows of a file of lines come to."""
    prices = [_price(row, how) for row in rows]
    done = _hours(rows, prices, lambda row: _minutes(row, "actual") - _off(row), how)
    promised = _hours(rows, prices, lambda row: int(_number(row, "quantity") * 60), how)
    lines, estimates, lost = [], [], Fraction(0)
    for row, price, worked, meant in zip(rows, prices, done, promised, strict=True):
        sign = -1 if row["kind"] == "discount" else 1
        labour = row["kind"] == "labour"
        billed = worked if labour else _used(row, settled=settled)
        agreed = row["agreed_price"]
        exact = Fraction(agreed) if agreed else billed * price
        lines.append((billed, cents(sign * exact)))
        estimates.append(cents(sign * price * (meant if labour else _number(row, "quantity"))))
        lost += _number(row, "non_billable") * price / (60 if labour else 1)
    net = sum(amount for _, amount in lines)
    classes = [row["tax_class"] or row["kind"] for row in rows]
    taxes = _taxes(list(zip(classes, (a for _, a in lines), strict=True)), how.taxes, day)
    hours = sum(h for row, h in zip(rows, done, strict=True) if row["kind"] == "labour")
    return Reckoned(
        lines,
        Fraction(sum(estimates)),
        Fraction(net),
        taxes,
        net + sum((amount for *_, amount in taxes), Fraction(0)),
        Fraction(hours),
        cents(lost),
    )


def _number(row: Row, key: str) -> Fraction:
    return Fraction(row[key] or "0")


def _minutes(row: Row, key: str) -> int:
    hours, _, minutes = (row[key] or "0").rpartition(":")
    return int(hours or 0) * 60 + int(minutes)


def _off(row: Row) -> int:
    return _minutes(row, "non_billable")


def _price(row: Row, how: Rules) -> Fraction:
    if row["unit_price"]:
        return Fraction(row["unit_price"])
    if row["kind"] == "labour":
        return how.rates[row["labour_class"]]
    return _number(row, "cost") * (1 + Fraction((row["markup"] or "0%")[:-1]) / 100)


def _used(row: Row, *, settled: bool) -> Fraction:
    if row["actual"]:
        return _number(row, "actual") - _number(row, "non_billable")
    return _number(row, "quantity") - _number(row, "non_billable") if settled else Fraction(0)


def _hours(
    rows: list[Row], prices: list[Fraction], minutes: Callable[[Row], int], how: Rules
) -> list[Fraction]:
    """Return each line's billed hours: by job, what the sum at its rate gains through it."""

    def steps(sum_of: int) -> int:
        exact = Fraction(sum_of, how.step)
        return how.step * (ceil(exact) if how.direction == "up" else floor(exact + HALF))

    found = []
    for at, row in enumerate(rows):
        before = [
            minutes(other)
            for other, price in zip(rows[:at], prices, strict=False)
            if other["kind"] == "labour" and price == prices[at] and how.scope == "job"
        ]
        own = minutes(row) if row["kind"] == "labour" else 0
        share = steps(sum(before) + own) - steps(sum(before))
        found.append(Fraction(floor(Fraction(share, 60) * 10_000 + HALF), 10_000))
    return found


def _taxes(
    amounts: Iterable[tuple[str, Fraction]], profile: Mapping[str, Any], day: date
) -> list[tuple[str, Fraction, Fraction]]:
    amounts = list(amounts)
    found = []
    for component in profile["components"]:
        base = sum(a for name, a in amounts if component in profile["classes"][name])
        rates = {
            r["first_day"]: r["rate"] for r in profile["rates"] if r["component"] == component
        }
        rate = Fraction(rates[max(first for first in rates if first <= day)][:-1]) / 100
        found.append((component, Fraction(base), cents(base * rate)))
    return found


def rows_by_chance(chance: Random, how: Rules) -> list[Row]:
    """Return the rows of a file of lines, many of them on half a cent or half a step."""
    return [_row(chance, how) for _ in range(chance.randint(1, 7))]


def _row(chance: Random, how: Rules) -> Row:
    kind = chance.choice((*KINDS, "labour"))
    row = _labour(chance, how) if kind == "labour" else _goods(chance)
    row |= {"kind": kind, "description": f"{kind} by chance", "vendor": ""}
    row["reason"] = "rework" if row["non_billable"] else ""
    row["agreed_price"] = chance.choice(("", "", "", "", "0", "33.335"))
    row["tax_class"] = chance.choice(("", "", "", *how.taxes["classes"]))
    return row


def _labour(chance: Random, how: Rules) -> Row:
    done = chance.choice((None, *MINUTES))
    written = "" if done is None else chance.choice((str(done), f"{done // 60}:{done % 60:02}"))
    return {
        "quantity": chance.choice(("", "0.05", "0.25", "1", "1.65", "2.35")),
        "actual": written,
        "non_billable": chance.choice(("", "", str(done), str(done // 2))) if done else "",
        "unit_price": chance.choice(("", "", *PRICES)),
        "labour_class": chance.choice(tuple(how.rates)),
        "cost": "",
        "markup": "",
    }


def _goods(chance: Random) -> Row:
    by_chance = chance.choice(QUANTITIES), chance.choice(("", *PRICES))
    quantity, price = chance.choice((by_chance, by_chance, chance.choice(TIES)))
    actual = chance.choice(("", "0", quantity))
    return {
        "quantity": quantity,
        "actual": actual,
        "non_billable": chance.choice(("", "", "0.001")) if actual != "0" else "",
        "unit_price": price,
        "labour_class": "",
        "cost": chance.choice(("", *PRICES)),
        "markup": chance.choice(("", "0%", "20%", "12.5%", "150%")),
    }


def csv_of(rows: list[Row]) -> str:
    """Return rows as a file of lines."""
    text = io.StringIO()
    writer = csv.DictWriter(text, rows[0].keys())
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()
