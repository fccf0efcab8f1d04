"""Whole books made by chance with a fixed start: every kind of line, every state, odd corners."""

from collections.abc import Iterable, Iterator
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    JOBS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    TAX_RATES_TABLE,
)
from ledger_tools.costing.lines import REASONS, Kind, Line
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.snapshot import Place
from tests.book.shop import TODAY, Shop, Typed

CUSTOMERS = ("R. Calder", "Ann *", "O'Neil & Sons", "Été Sàrl", "Pond?")
_CLASSES = ("bench", "welding", "machining")
_STATES = ("estimated", "authorised", "in work", "halted", "to invoice", "declined", "void")
_JOBS = 11
_MORE = timedelta(days=20)
_TIES = (
    (1, 1.005), (1, 2.675), (0.5, 0.01), (1.5, 0.07), (3, 0.335), (1.1, 1.15), (0.35, 0.3),
    (0.7, 0.15), (4.35, 0.1), (0.285, 1), (8.5, 0.29), (1.45, 2.3), (0.07, 0.5), (12.5, 0.0804),
)  # fmt: skip
"""Quantities and prices whose amount lies on half a cent, which binary numbers miss."""


def whole_book(  # noqa: PLR0913 - what makes one book differ from another
    folder: Path,
    profile: str,
    hours: HourPolicy,
    *,
    start: int,
    with_tax: bool = True,
    rounds: str = "",
) -> Shop:
    """Return a shop with a dozen jobs, some of them billed, paid or paid in part.

    The same `start` gives the same book; `rounds` is how tax is rounded, as the profile has it if
    it is not given.
    """
    chance = Random(start)  # noqa: S311 - an example, not a secret
    shop = Shop.new(folder, profile, hours, with_tax=with_tax)
    shop.decide("shop_as_of", None)
    if rounds:
        shop.decide("tax_rounding", rounds)
    _new_rates(shop)
    opened = _typed_jobs(shop, chance, _JOBS)
    shop.write_all({number: dict(_sheet(shop, number, chance)) for number in opened})
    shop.recompute()
    _authorise(shop, opened, chance)
    shop.recompute()
    issued = shop.invoice().invoices
    shop.today = TODAY + _MORE
    _pay(shop, issued, chance)
    shop.recompute()
    return shop


def _new_rates(shop: Shop) -> None:
    """Raise a labour rate on the day jobs are opened, a tax on that of the bills and after."""
    book = shop.parsed().book
    labour = len(book.catalogue.rates) + 1
    shop.fill(RATES_TABLE, labour, labour_class=_CLASSES[0], first_day=TODAY, rate=91.15)
    if book.profile.components:
        name, taxes = book.profile.components[0], len(book.profile.rates) + 1
        raised: list[dict[str, Typed]] = [
            {"component": name, "first_day": TODAY, "rate": 0.0815},
            {"component": name, "first_day": TODAY + _MORE, "rate": 0.0925},
        ]
        shop.fill_rows(TAX_RATES_TABLE, taxes, raised)


def _typed_jobs(shop: Shop, chance: Random, jobs: int) -> list[str]:
    grid = shop.grid(JOBS_TABLE)
    typed: dict[Place, Typed] = {}
    for n in range(1, jobs + 1):
        row = {
            "customer": chance.choice(CUSTOMERS),
            "item": f"Item {n}",
            "repair": chance.choice(("", "", "oil-pan", "TANK-LINE")),
            "opened": chance.choice((None, TODAY - timedelta(days=n))),
            "promised": chance.choice((None, TODAY + timedelta(days=n))),
        }
        typed |= {(grid.header_row + n, grid.columns[key]): v for key, v in row.items()}
    shop.write(grid.sheet, typed)
    opened = list(shop.recompute().opened)
    states = {
        (grid.header_row + n, grid.columns["state"]): _STATES[n % len(_STATES)]
        if n % 2
        else "to invoice"
        for n in range(1, jobs + 1)
    }
    shop.write(grid.sheet, dict(states))
    return opened


def _sheet(shop: Shop, number: str, chance: Random) -> Iterator[tuple[Place, Typed]]:
    """Yield what is typed on a job's sheet: actuals of its lines, and lines of the owner's."""
    grid = shop.grid(number)
    sheet = shop.sheet(number)
    classes = [name for name in shop.parsed().book.profile.taxable if name]
    for row in grid.rows:
        kind = sheet.values.get((row, grid.columns["kind"]))
        if kind is None and chance.random() < 0.3:
            continue
        new = kind is None
        typed = _line(Kind(str(kind)) if kind else chance.choice(list(Kind)), chance, classes)
        if not new:
            typed = {k: typed[k] for k in ("actual", "non_billable", "reason", "agreed_price")}
            price = sheet.values.get((row, grid.columns["price"]))
            if not price:
                typed["price"] = 12.3456
            estimate = sheet.values.get((row, grid.columns["estimate"]))
            typed |= _not_more(typed, estimate)
        yield from (((row, grid.columns[key]), v) for key, v in typed.items() if v is not None)


def _not_more(typed: dict[str, Any], estimate: object) -> dict[str, Any]:
    done: Any = typed["actual"] if typed["actual"] is not None else estimate
    off = typed["non_billable"]
    return {"non_billable": off if off is None or off <= (done or 0) else done}


def _line(kind: Kind, chance: Random, classes: list[str]) -> dict[str, Any]:
    labour = kind is Kind.LABOUR

    def amount(most: int) -> float:
        places = 0 if labour else chance.choice((0, 1, 3))
        return round(chance.uniform(0, most), places)

    estimate = chance.choice((None, amount(200)))
    actual = chance.choice((None, 0, amount(200), amount(200)))
    done = actual if actual is not None or labour else estimate
    off = None if chance.random() < 0.6 or not done else round(done / 2, 0 if labour else 3)
    price = round(chance.uniform(0, 150), chance.choice((0, 2, 2, 4)))
    if not labour and chance.random() < 0.2:
        actual, price = chance.choice(_TIES)
        off = None
    return {
        "kind": kind.value,
        "description": f"{kind.value} by chance",
        "labour_class": chance.choice((None, *_CLASSES)) if labour else None,
        "estimate": estimate,
        "actual": actual,
        "non_billable": off,
        "reason": chance.choice((None, *REASONS)) if off else None,
        "price": chance.choice((None, price, 85.5)) if labour else price,
        "agreed_price": chance.choice((None, None, None, 0, round(chance.uniform(0, 500), 2))),
        "tax_class": chance.choice((None, None, chance.choice(classes))),
    }


def _authorise(shop: Shop, opened: list[str], chance: Random) -> None:
    """Open two more jobs with an authorisation, so that there is a register; type more rows.

    The second comes to what was promised and what was authorised most, to the cent.
    """
    shop.add(customer="=1+1", item="+1", repair="GATE", authorised="160.00")
    tow = Line(1, Kind.FEE, "Towing", "", Decimal(1), Decimal(1), price=Decimal(50))
    exact = shop.add(item="As promised", lines=(tow,), authorised="50.00")
    given: list[dict[str, Typed]] = [{"job": exact, "day": TODAY, "amount": 30}]
    given += [
        {"job": number, "day": TODAY, "amount": chance.choice((100, 1e6, 99999.99))}
        for number in chance.sample(opened, len(opened) // 2)
    ]
    shop.fill_rows(AUTHORISATIONS_TABLE, 3, given)


def _pay(shop: Shop, issued: Iterable[str], chance: Random) -> None:
    """Receive nothing, all, half, more than all, or give money back."""
    invoices = shop.parsed().book.invoices
    amounts = {
        number: chance.choice((None, invoices[number].total, invoices[number].total / 2, -1, 1e5))
        for number in issued
    }
    rows: list[dict[str, Typed]] = [
        {"day": TODAY, "invoice": number, "amount": round(float(amount), 2)}
        for number, amount in amounts.items()
        if amount is not None
    ]
    shop.fill_rows(PAYMENTS_TABLE, 1, rows)
