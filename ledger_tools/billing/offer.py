"""Options as an estimate offers them: frozen among its words, read back to the last figure."""

from collections.abc import Iterable, Mapping
from decimal import Decimal, InvalidOperation
from enum import StrEnum
from typing import NamedTuple

KEY = "options"
"""The options of an estimate among the words kept with it."""
WITH_TAX = "options_with_tax"
"""Whether their prices are meant with tax, likewise: ``yes`` or ``no``."""
MOST = 5
"""Options that a page is wide enough for."""
_FIGURES = ("price", "sublet", "chance", "come_back", "expected", "share")


class Choice(StrEnum):
    """Where an option stands."""

    OPEN = "open"
    CHOSEN = "chosen"
    AGAINST = "chosen against advice"
    NOT_CHOSEN = "not chosen"


CHOSEN = (Choice.CHOSEN, Choice.AGAINST)


class Offered(NamedTuple):
    """One option as printed on an estimate. Amounts are whole minor units.

    Attributes:
        option: Its letter.
        kind: A kind of option, as `costing.options` names them.
        description: In the shop's words.
        price: What the customer would pay.
        as_estimated: Whether that is what the lines of the estimate come to.
        sublet: What of it is work of other shops.
        lead_days: Until it is done.
        guarantee: As printed.
        chance: Of a come-back, a fraction.
        come_back: What a come-back would cost.
        expected: Expected cost.
        share: Of the price of replacing new, a fraction.
        advised: Whether the shop advised it.
        stands: Where it stood on the day of the estimate.
    """

    option: str
    kind: str
    description: str
    price: Decimal
    as_estimated: bool = False
    sublet: Decimal | None = None
    lead_days: int | None = None
    guarantee: str = ""
    chance: Decimal | None = None
    come_back: Decimal | None = None
    expected: Decimal | None = None
    share: Decimal | None = None
    advised: bool = False
    stands: Choice = Choice.OPEN

    @property
    def promise(self) -> tuple[object, ...]:
        """What another revision would have to say to offer the same."""
        return (
            self.option, self.kind, self.description, self.price, self.sublet, self.lead_days,
            self.guarantee, self.chance, self.come_back, self.advised,
        )  # fmt: skip


def offers_wording(offers: Iterable[Offered], *, with_tax: bool) -> dict[str, str]:
    """Return the entries that keep the options among the words of an estimate."""
    import json  # noqa: PLC0415 - only where options are offered

    rows = [{k: _kept(v) for k, v in offered._asdict().items()} for offered in offers]
    text = json.dumps(rows, ensure_ascii=False, sort_keys=True)
    return {KEY: text, WITH_TAX: "yes" if with_tax else "no"} if rows else {}


def _kept(value: object) -> object:
    return f"{value:f}" if isinstance(value, Decimal) else value


def offers_in(wording: Mapping[str, str]) -> tuple[Offered, ...]:
    """Return the options among the words of an estimate, in the order they were printed.

    Raises:
        ValueError: The entry is not one that `offers_wording` made.
    """
    if not wording.get(KEY):
        return ()
    import json  # noqa: PLC0415 - only where options were offered

    try:
        return tuple(_read(row) for row in json.loads(wording[KEY]))
    except (TypeError, KeyError, InvalidOperation) as problem:
        raise ValueError(KEY) from problem


def _read(row: Mapping[str, str | None]) -> Offered:
    """Return one option; a key that is missing or none of ours is a `TypeError`."""
    figures = {k: None if row[k] is None else Decimal(str(row[k])) for k in _FIGURES}
    if figures["price"] is None or not isinstance(row["option"], str):
        raise TypeError(row)
    return Offered(**{**row, **figures, "stands": Choice(str(row["stands"]))})  # type: ignore[arg-type]


def offered_as(said: str, offers: Iterable[Offered]) -> Offered | None:
    """Return the option that goes by the letter `said`, however cased; None where none does."""
    return next((o for o in offers if o.option.casefold() == said.casefold()), None)
