"""Work advised and declined, as a paper says it: frozen among its words, read back to the cent."""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import NamedTuple

KEY = "advised"
"""What was advised and declined, among the words kept with a paper."""


class Advised(NamedTuple):
    """One thing that was advised and declined.

    Attributes:
        description: The words of its line.
        amount: What it would have added, before tax, whole minor units.
        day: When it was advised.
    """

    description: str
    amount: Decimal
    day: date


def advised_wording(advised: Iterable[Advised]) -> dict[str, str]:
    """Return the entry that keeps them among the words of a paper; none for nothing."""
    import json  # noqa: PLC0415 - only where something was declined

    rows = [[a.description, f"{a.amount:f}", a.day.isoformat()] for a in advised]
    return {KEY: json.dumps(rows, ensure_ascii=False)} if rows else {}


def advised_in(wording: Mapping[str, str]) -> tuple[Advised, ...]:
    """Return what a paper says was advised and declined.

    Raises:
        ValueError: The entry is not one that `advised_wording` made.
    """
    if not wording.get(KEY):
        return ()
    import json  # noqa: PLC0415 - only where something was declined

    try:
        return tuple(
            Advised(str(words), Decimal(str(amount)), date.fromisoformat(day))
            for words, amount, day in json.loads(wording[KEY])
        )
    except (TypeError, InvalidOperation) as problem:
        raise ValueError(KEY) from problem
