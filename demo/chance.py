"""Chance that falls the same way every time: each stream begins at a fixed number.

Only `random()` is used, the one method whose numbers are promised never to change from one
Python to the next.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from random import Random
from typing import TypeVar

SEED = 20250102
_T = TypeVar("_T")


def stream(*numbers: int) -> Random:
    """Return a new stream of chance for what `numbers` stand for."""
    start = SEED
    for number in numbers:
        start = start * 1009 + number
    return Random(start)  # noqa: S311 - a story, not a secret


def happens(share: float, chance: Random) -> bool:
    """Whether something comes about that does so in `share` of all cases."""
    return chance.random() < share


def one_of(choices: Sequence[_T], chance: Random) -> _T:
    """Return one of `choices`, all alike."""
    return choices[int(chance.random() * len(choices))]


def mixed(things: Sequence[_T], chance: Random) -> list[_T]:
    """Return `things` in another order."""
    left = list(things)
    order = []
    while left:
        order.append(left.pop(int(chance.random() * len(left))))
    return order


def whole(least: int, most: int, chance: Random) -> int:
    """Return a whole number from `least` to `most`, both included."""
    return least + int(chance.random() * (most - least + 1))


def spread(sigma: float, chance: Random) -> float:
    """Return a factor around 1, skewed to the long side as durations are (lognormal).

    The normal deviate is a sum of twelve even ones, close enough for a story.
    """
    deviate = sum(chance.random() for _ in range(12)) - 6
    return math.exp(sigma * deviate)
