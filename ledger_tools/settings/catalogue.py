"""The price book a new book starts with: labour rates, materials, repair types."""

from collections.abc import Collection, Mapping
from decimal import Decimal
from pathlib import Path

from ledger_tools.costing.catalogue import Catalogue, LabourRate, Material, Operation, RepairType
from ledger_tools.costing.lines import PART_STATUSES, Kind, part_status_of
from ledger_tools.settings.entries import Entry, read_entries
from ledger_tools.settings.files import config_file

_STEP = ("kind", "description")
_LABOUR = ("class", "low", "likely", "high")
_OTHER = ("quantity", "unit", "price", "cost", "markup", "vendor")


def read_catalogue(beside: Path | None, *, tax_classes: Collection[str]) -> Catalogue:
    """Return rates, materials and repair types, shipped or beside the book.

    Args:
        beside: Folder of the book.
        tax_classes: Classes of line the tax profile knows.

    Raises:
        ConfigError: A file is missing or says something that cannot be used.
    """
    rates = _rates(_listed("rates", beside))
    classes = {rate.labour_class for rate in rates}
    return Catalogue(
        rates=rates,
        repairs=_repairs(_listed("repairs", beside), classes, tax_classes),
        materials=_materials(_listed("materials", beside)),
    )


def _listed(name: str, beside: Path | None) -> Entry:
    return read_entries(config_file(f"{name}.yaml", beside)).keys(needed=(name,))[name]


def _rates(entry: Entry) -> tuple[LabourRate, ...]:
    rates = []
    seen = set()
    for item in entry.items():
        keys = item.keys(needed=("class", "first_day", "rate"), other=("note",))
        rate = LabourRate(
            labour_class=keys["class"].words(),
            first_day=keys["first_day"].day(),
            rate=keys["rate"].number(),
            note=_text(keys, "note"),
        )
        if (rate.labour_class, rate.first_day) in seen:
            what = f"'{rate.labour_class}' has two rates from {rate.first_day.isoformat()}"
            raise item.wrong(what, "Keep the one that is right")
        seen.add((rate.labour_class, rate.first_day))
        rates.append(rate)
    return tuple(rates)


def _materials(entry: Entry) -> tuple[Material, ...]:
    materials = []
    seen = set()
    for item in entry.items():
        keys = item.keys(needed=("name", "unit", "price"), other=("cost", "note"))
        material = Material(
            name=keys["name"].words(),
            unit=keys["unit"].words(),
            cost=_number(keys, "cost"),
            price=keys["price"].number(),
            note=_text(keys, "note"),
        )
        if material.name.casefold() in seen:
            raise item.wrong(f"'{material.name}' is listed twice", "Keep one of the two")
        seen.add(material.name.casefold())
        materials.append(material)
    return tuple(materials)


def _repairs(
    entry: Entry, classes: Collection[str], tax_classes: Collection[str]
) -> tuple[RepairType, ...]:
    repairs = []
    seen = set()
    for item in entry.items():
        keys = item.keys(needed=("code", "name", "operations"))
        code = keys["code"].words()
        if code.casefold() in seen:
            raise keys["code"].wrong(f"the repair code '{code}' is used twice", "Rename one")
        seen.add(code.casefold())
        steps = keys["operations"].items()
        operations = tuple(_operation(step, classes, tax_classes) for step in steps)
        repairs.append(RepairType(code, keys["name"].words(), operations))
    return tuple(repairs)


def _operation(entry: Entry, classes: Collection[str], tax_classes: Collection[str]) -> Operation:
    kind = Kind(_kind(entry))
    always, own = (_LABOUR, ()) if kind is Kind.LABOUR else (("quantity",), _OTHER)
    own = (*own, "status") if kind is Kind.PART else own
    keys = entry.keys(needed=(*_STEP, *always), other=(*own, "hot_work", "tax_class"))
    step = Operation(
        kind=kind,
        description=keys["description"].words(),
        hot_work=keys["hot_work"].yes() if "hot_work" in keys else False,
        tax_class=keys["tax_class"].choice(tax_classes) if "tax_class" in keys else "",
    )
    return _timed(step, entry, classes) if kind is Kind.LABOUR else _priced(step, entry)


def _kind(entry: Entry) -> str:
    # Read first: which other keys can stand here hangs on it.
    kind = entry.mapping().get("kind")
    if kind is None:
        raise entry.wrong("the key 'kind' is missing", "Add 'kind:' here")
    return kind.choice(k.value for k in Kind)


def _timed(step: Operation, entry: Entry, classes: Collection[str]) -> Operation:
    keys = entry.mapping()
    low, likely, high = (keys[key].minutes() for key in ("low", "likely", "high"))
    if not low <= likely <= high:
        what = f"minutes {low}, {likely}, {high} do not rise"
        raise entry.wrong(what, "Write low, likely and high from the smallest to the largest")
    labour_class = keys["class"].choice(sorted(classes))
    return step._replace(labour_class=labour_class, low=low, likely=likely, high=high)


def _priced(step: Operation, entry: Entry) -> Operation:
    keys = entry.mapping()
    if "markup" in keys and "cost" not in keys:
        raise keys["markup"].wrong("a markup without a cost", "Add the cost, or write a price")
    if "markup" in keys and "price" in keys:
        raise keys["markup"].wrong("both a price and a markup", "Keep one of the two")
    return step._replace(
        part_status=_part_status(keys["status"]) if "status" in keys else "",
        quantity=keys["quantity"].number(),
        unit=_text(keys, "unit"),
        price=_number(keys, "price"),
        cost=_number(keys, "cost"),
        markup=keys["markup"].fraction() if "markup" in keys else None,
        vendor=_text(keys, "vendor"),
    )


def _part_status(entry: Entry) -> str:
    return part_status_of(entry.choice(PART_STATUSES)) or ""


def _text(keys: Mapping[str, Entry], key: str) -> str:
    return keys[key].text() if key in keys else ""


def _number(keys: Mapping[str, Entry], key: str) -> Decimal | None:
    return keys[key].number() if key in keys else None
