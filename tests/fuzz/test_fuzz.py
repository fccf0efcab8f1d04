"""Hostile and damaged input ends in a refusal or a finding, never in a traceback."""

from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.fuzz.targets import TARGETS

EXAMPLES = {
    "damaged file": 60, "altered part": 60, "altered structure": 60, "renamed part": 40,
    "any scalar in any cell": 60,
    "words for figures": 2000, "lines of a csv": 100, "number patterns": 500,
    "configuration": 30, "papers": 10,
}  # fmt: skip
"""How often each is tried when the tests run; `python -m tests.fuzz.run` goes on for longer."""


@pytest.mark.parametrize("name", TARGETS)
def test_hostile_input_ends_in_a_clear_word(name: str) -> None:
    """Each example is a seed, which brings the same input back."""

    @settings(max_examples=EXAMPLES[name], deadline=None, derandomize=True, database=None)
    @given(st.integers(0, 2**32))
    def feed(seed: int) -> None:
        TARGETS[name](Random(seed))  # noqa: S311 - to be brought back, not to be secret

    feed()
