"""Options as an estimate keeps them: every figure comes back, and tampering is seen."""

import json
from decimal import Decimal

import pytest

from ledger_tools.billing.offer import (
    KEY,
    WITH_TAX,
    Choice,
    Offered,
    offered_as,
    offers_in,
    offers_wording,
)

D = Decimal
FULL = Offered(
    "A", "weld and reseal", '=1+1 "tank" é', D("281.12"), as_estimated=True, sublet=D("84.50"),
    lead_days=0, guarantee="90", chance=D("0.15"), come_back=D("240.00"), expected=D("317.12"),
    share=D("0.4393"), advised=True, stands=Choice.NOT_CHOSEN,
)  # fmt: skip
BARE = Offered("b", "refuse", "", D("0.00"))


def test_every_word_and_figure_comes_back() -> None:
    """Zero days stay zero, what is not there stays None, and decimals keep their places."""
    kept = offers_wording((FULL, BARE), with_tax=True)

    assert offers_in(kept) == (FULL, BARE)
    assert str(offers_in(kept)[0].come_back) == "240.00"
    assert kept[WITH_TAX] == "yes"
    assert all(value not in {None, ""} for value in FULL)


def test_an_estimate_of_one_way_keeps_nothing() -> None:
    """Its words are what they were before there were options."""
    assert offers_wording((), with_tax=True) == {}
    assert offers_in({}) == offers_in({KEY: ""}) == ()


@pytest.mark.parametrize("text", ["no", "{}x", "[1]", '["a"]', '[{"option": "A"}]', "5", "[[]]"])
def test_an_entry_that_was_changed_is_refused(text: str) -> None:
    """Nothing is guessed of what was offered."""
    with pytest.raises(ValueError, match=r".+"):
        offers_in({KEY: text})


@pytest.mark.parametrize(
    "changed",
    [{"price": "x"}, {"price": None, "option": []}, {"stands": "gone"}, {"more": 1}],
    ids=["no figure", "no letter", "no standing", "none of ours"],
)
def test_one_wrong_word_is_enough(changed: dict[str, object]) -> None:
    """What is not as it was written is not printed, nor authorised from."""
    (row,) = json.loads(offers_wording((BARE,), with_tax=False)[KEY])

    with pytest.raises(ValueError, match=r".+"):
        offers_in({KEY: json.dumps([row | changed])})


def test_a_letter_may_be_cased_as_one_likes() -> None:
    """What the customer is told is what counts."""
    assert offered_as("B", (FULL, BARE)) == BARE
    assert offered_as("C", (FULL, BARE)) is None
