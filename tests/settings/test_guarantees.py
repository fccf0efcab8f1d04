"""What the law of each shipped place guarantees, and slips in an owner's file."""

from pathlib import Path

import pytest

from ledger_tools.errors import ConfigError
from ledger_tools.settings import load_seed, load_texts
from ledger_tools.settings.files import places
from ledger_tools.settings.guarantees import read_guarantees, wants_vendors
from tests.settings.beside import TODAY, edited

ONTARIO = "Repair Invoices, on Part VI of the Consumer Protection Act 2002, Government of Ontario"
CALIFORNIA = "Business and Professions Code 9884.7(a)(9), by a page of the Bureau (read there)"


def test_ontario_guarantees_parts_and_labour_of_vehicles() -> None:
    """90 days or 5,000 km, whichever comes first."""
    (rule,) = read_guarantees("ca-on", None)

    assert (rule.days, rule.distance, rule.unit, rule.void) == (90, 5000, "km", True), ONTARIO
    assert rule.object_class == "road vehicle", ONTARIO
    assert rule.source.startswith(ONTARIO)
    assert rule.read == "read in the source, looked up 2026-11-25"


@pytest.mark.parametrize("place", ["gb", "au"])
def test_what_is_from_memory_says_so(place: str) -> None:
    """It holds for every object, and a line against it is void."""
    (rule,) = read_guarantees(place, None)

    assert (rule.object_class, rule.void) == ("any", True)
    assert rule.read.startswith("from memory")


def test_each_shipped_rule_names_a_text_there_is() -> None:
    """In every language; where nothing is known, nothing is guaranteed."""
    for place in places():
        for rule in read_guarantees(place, None):
            key = f"guarantee_law_{rule.words.replace(' ', '_')}"
            assert all(key in load_texts(language) for language in ("en", "fr", "de"))
    assert [p for p in places() if read_guarantees(p, None)] == ["au", "ca-on", "gb"]


def test_california_wants_vendors_named() -> None:
    """A shop that would not name them does there; elsewhere it is the shop's decision."""
    assert [p for p in places() if wants_vendors(p, None)] == ["us-ca"], CALIFORNIA


def test_a_place_goes_before_the_shops_own_no(tmp_path: Path) -> None:
    """Written beside the book, the no holds where the place does not want the name."""
    edited(tmp_path, "shop.yaml", "name_vendors: yes", "name_vendors: no")

    named = {
        place: load_seed("none", as_of=TODAY, beside=tmp_path, rules=place).settings.name_vendors
        for place in ("us-ca", "strict")
    }

    assert named == {"us-ca": True, "strict": False}


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('    days: "90"\n', "", "the key 'days' is missing"),
        ("    unit: km\n", "", "the key 'unit' is missing"),
        ('distance: "5000"', "distance: far", "'far' is not a whole number"),
        ("void: yes", "void: perhaps", "neither yes nor no"),
        ("guarantees:\n  - ", "guarantees:\n  - colour: red\n    ", "unknown key 'colour'"),
    ],
)
def test_a_slip_is_named(tmp_path: Path, old: str, new: str, what: str) -> None:
    """With the place it stands in."""
    edited(tmp_path, "authorisation/ca-on.yaml", old, new)

    with pytest.raises(ConfigError, match=what):
        read_guarantees("ca-on", tmp_path)
