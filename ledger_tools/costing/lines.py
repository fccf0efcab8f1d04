"""A line of a job sheet: what was estimated, what was done, what it is priced at."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Kind(StrEnum):
    """What a line is for; tax, totals and the sections of an invoice hang on it."""

    LABOUR = "labour"
    MATERIAL = "material"
    PART = "part"
    SUBLET = "sublet"
    FEE = "fee"
    DISCOUNT = "discount"


PART_STATUSES = ("new", "used", "reconditioned")
"""What a part may be; one of which nothing is said is new."""

REASONS = ("rework", "demonstration", "teaching", "waiting", "warranty", "set-up", "other")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a job.

    For labour, `estimate`, `actual` and `non_billable` are whole minutes and `price` is money
    an hour. For every other kind they are quantities in `unit` and `price` is money a unit.

    Attributes:
        line_id: Number of the line within its job, given once and never reused.
        kind: What the line is for.
        description: The shop's words.
        unit: Unit of the quantities; ``min`` for labour.
        estimate: Promised minutes or quantity, None where the line was not estimated.
        actual: Minutes worked or quantity used in all, None where nothing is entered.
        non_billable: The part of `actual` the customer does not pay.
        reason: Why it is not billable, one of `REASONS`; empty where nothing is.
        price: Price of an hour or a unit; None where none is known.
        agreed_price: Amount agreed for the whole line, which replaces quantity x price.
        labour_class: Class of labour in `Rates`; empty for other kinds.
        vendor: Who does sublet work or supplied a part.
        cost: What a unit costs the shop; None where unknown.
        tax_class: Class the line is taxed as; empty means its kind.
        part_status: ``used`` or ``reconditioned``; empty for a new part and for other kinds.
    """

    line_id: int
    kind: Kind
    description: str
    unit: str = ""
    estimate: Decimal | None = None
    actual: Decimal | None = None
    non_billable: Decimal | None = None
    reason: str = ""
    price: Decimal | None = None
    agreed_price: Decimal | None = None
    labour_class: str = ""
    vendor: str = ""
    cost: Decimal | None = None
    tax_class: str = ""
    part_status: str = ""

    @property
    def class_word(self) -> str:
        """What the column of classes holds: class of labour, or what a part is."""
        return self.labour_class or self.part_status

    @property
    def taxed_as(self) -> str:
        """The class in the tax profile's table that this line falls under."""
        return self.tax_class or self.kind.value


def part_status_of(word: str) -> str | None:
    """Return a part's status as lines keep it, empty for new; None for a word that is none.

    >>> part_status_of("New"), part_status_of("USED"), part_status_of("spare")
    ('', 'used', None)
    """
    folded = " ".join(word.casefold().split()) or PART_STATUSES[0]
    if folded not in PART_STATUSES:
        return None
    return "" if folded == PART_STATUSES[0] else folded
