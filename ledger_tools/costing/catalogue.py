"""The shop's price book: labour rates by day, repair types with their operations, materials."""

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.costing.lines import Kind


class LabourRate(NamedTuple):
    """What an hour of one class of labour is billed at, from a day on.

    Attributes:
        labour_class: Name of the class, such as ``bench`` or ``welding``.
        first_day: First day the rate is in force.
        rate: Money an hour.
        note: The shop's remark.
    """

    labour_class: str
    first_day: date
    rate: Decimal
    note: str = ""


class Operation(NamedTuple):
    """One usual step of a repair type, which becomes one line of a job.

    Attributes:
        kind: What the line is for.
        description: The shop's words.
        labour_class: Class of labour; empty for other kinds.
        low: Minutes when all goes well (labour only).
        likely: Standard minutes, which become the estimate (labour only).
        high: Minutes when it goes badly (labour only).
        quantity: Usual quantity (other kinds).
        unit: Unit of the quantity.
        price: Price of a unit; None leaves it to `cost` and `markup`, or to the owner.
        cost: What a unit costs the shop.
        markup: Fraction added to the cost, 0.20 for 20 %.
        vendor: Usual vendor of sublet work.
        hot_work: Whether the step is hot work: flame, arc, heat, or sparks where they count.
        tax_class: Class the line is taxed as; empty means its kind.
        part_status: ``used`` or ``reconditioned``; empty for a new part and for other kinds.
    """

    kind: Kind
    description: str
    labour_class: str = ""
    low: int | None = None
    likely: int | None = None
    high: int | None = None
    quantity: Decimal | None = None
    unit: str = ""
    price: Decimal | None = None
    cost: Decimal | None = None
    markup: Decimal | None = None
    vendor: str = ""
    hot_work: bool = False
    tax_class: str = ""
    part_status: str = ""


class RepairType(NamedTuple):
    """A repair the shop does often, with its usual operations in working order."""

    code: str
    name: str
    operations: tuple[Operation, ...]


class Material(NamedTuple):
    """Something the shop keeps in stock: unit, what it costs and what it is sold at."""

    name: str
    unit: str
    cost: Decimal | None
    price: Decimal
    note: str = ""


class Catalogue(NamedTuple):
    """Rates, repair types and materials together, as the book holds them."""

    rates: tuple[LabourRate, ...]
    repairs: tuple[RepairType, ...]
    materials: tuple[Material, ...]


def labour_rate_on(day: date, labour_class: str, rates: tuple[LabourRate, ...]) -> Decimal | None:
    """Return the class's rate (money an hour) in force on `day`; None where it has not begun."""
    begun = [r for r in rates if r.labour_class == labour_class and r.first_day <= day]
    return max(begun, key=lambda r: r.first_day).rate if begun else None


def material_named(name: str, materials: tuple[Material, ...]) -> Material | None:
    """Return the material of that name, however its letters are cased; None where none is."""
    wanted = name.casefold()
    return next((m for m in materials if m.name.casefold() == wanted), None)
