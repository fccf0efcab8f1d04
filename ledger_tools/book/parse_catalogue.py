"""Reading labour rates, the repair catalogue and materials from the book."""

from collections.abc import Iterator
from datetime import date

from ledger_tools.book.layout import (
    KIND_WORDS,
    MATERIALS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    YES_NO,
)
from ledger_tools.book.rows import Reading, Row
from ledger_tools.costing.catalogue import Catalogue, LabourRate, Material, Operation, RepairType
from ledger_tools.costing.lines import PART_STATUSES, Kind, part_status_of


def read_catalogue(reading: Reading) -> Catalogue:
    """Return the catalogue; a repair type with an error in one of its steps is left out."""
    return Catalogue(tuple(_rates(reading)), tuple(_repairs(reading)), tuple(_materials(reading)))


def _rates(reading: Reading) -> Iterator[LabourRate]:
    """Yield the rates, each class spelled as in its first row: a live formula sees no capitals."""
    spelled: dict[str, str] = {}
    seen: set[tuple[str, date]] = set()
    for row in reading.rows(RATES_TABLE, "labour_class", "rate"):
        said = row.needed("labour_class", row.name, "class-missing", "The rate has no class") or ""
        name = spelled.setdefault(said.casefold(), said)
        row.put_back("labour_class", name)
        day = row.needed("first_day", row.day, "date-missing", "The rate has no first day")
        rate = row.needed("rate", row.number, "rate-missing", "The class has no rate")
        if name and day and rate is not None:
            say_rate_twice(row, name, day, seen)
            yield LabourRate(name, day, rate, row.text("note"))


def say_rate_twice(row: Row, name: str, day: date, seen: set[tuple[str, date]]) -> None:
    """Refuse a second rate of one name and day, which a live formula would add to the first."""
    if (name, day) in seen:
        row.error(
            "rate", "rate-twice",
            f"'{name}' has two rates from {day.isoformat()} on",
            "Keep one of the rows; a new rate has a first day of its own",
        )  # fmt: skip
    seen.add((name, day))


def _repairs(reading: Reading) -> Iterator[RepairType]:
    steps: dict[str, list[Operation]] = {}
    names: dict[str, tuple[str, str]] = {}
    broken: set[str] = set()
    for row in reading.rows(REPAIRS_TABLE, "code", "kind", "description"):
        code = row.needed("code", row.text, "repair-missing", "The step has no repair code") or ""
        key = code.casefold()
        names.setdefault(key, (code, row.text("name")))
        step = _operation(row)
        if row.broken or step is None:
            broken.add(key)
        else:
            steps.setdefault(key, []).append(step)
    for key, (code, name) in names.items():
        if key not in broken:
            yield RepairType(code, name, tuple(steps[key]))


def _operation(row: Row) -> Operation | None:
    kind = row.needed(
        "kind", lambda key: row.choice(key, KIND_WORDS, "kind-unknown"), "kind-missing",
        "The step has no kind",
    )  # fmt: skip
    low, likely, high = (row.minutes(key) for key in ("low", "likely", "high"))
    quantity, price, cost, markup = (
        row.number(key) for key in ("quantity", "price", "cost", "markup")
    )
    hot = row.choice("hot_work", YES_NO, "yes-or-no") == "yes"
    part = kind == Kind.PART
    status = part_status(row) if part else ""
    if not kind:
        return None
    return Operation(
        kind=Kind(kind),
        description=row.text("description"),
        labour_class="" if part else row.text("labour_class"),
        part_status=status,
        low=None if low is None else int(low),
        likely=None if likely is None else int(likely),
        high=None if high is None else int(high),
        quantity=quantity,
        unit=row.text("unit"),
        price=price,
        cost=cost,
        markup=markup,
        vendor=row.text("vendor"),
        hot_work=hot,
        tax_class=row.text("tax_class"),
    )


def part_status(row: Row) -> str:
    """Return what a part is, from the column of classes; an error for any other word."""
    said = row.choice("labour_class", PART_STATUSES, "part-status-unknown")
    return part_status_of(said) or ""


def _materials(reading: Reading) -> Iterator[Material]:
    for row in reading.rows(MATERIALS_TABLE, "name", "price"):
        name = row.needed("name", row.text, "material-missing", "The material has no name")
        price = row.needed("price", row.number, "price-missing", "The material has no price")
        cost = row.number("cost")
        if name and price is not None:
            yield Material(name, row.text("unit"), cost, price, row.text("note"))
