"""Authorisation rules read from their files: shipped ones, and slips in an owner's."""

from pathlib import Path

import pytest

from ledger_tools.errors import ConfigError
from ledger_tools.settings import config_file
from ledger_tools.settings.authorisation import read_tolerances
from ledger_tools.settings.files import places

SHIPPED = ["au", "ca-on", "gb", "strict", "us-ca", "us-fl", "us-mi", "us-ny"]


def test_the_shipped_places() -> None:
    """Each can be read, says where its rules come from and when they were looked up."""
    assert places() == SHIPPED
    for place in SHIPPED:
        for rule in read_tolerances(place, None):
            assert rule.source.endswith(", looked up 2026-11-25")
            assert "read" in rule.source or "from memory" in rule.source
    assert read_tolerances("strict", None) == ()


def test_a_place_that_is_not_there_is_answered_with_those_that_are() -> None:
    """As a tax profile is."""
    with pytest.raises(ConfigError, match=r"Rules there are: au, ca-on, gb, strict, us-ca"):
        read_tolerances("us-xx", None)


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("name: us-fl", "name: fl", "the file is called us-fl.yaml"),
        ("kind: greater of", "kind: about", "'about' is not known here"),
        ('    amount: "10"\n', "", "the key 'amount' is missing"),
        ("kind: greater of", "kind: lesser of", "unknown key 'most'"),
        ("kind: greater of", "kind: none", "unknown key 'percent'"),
        ("percent: 10%", "percent: ten", "neither a percentage nor a fraction"),
        ("first_day: not recorded", "first_day: once", "'once' is not a date"),
        ("with_tax: not said", "with_tax: maybe", "neither yes nor no"),
        ("status: read in the source", "status: sure", "'sure' is not known here"),
        ("checked_on: 2026-11-25", "checked_on: lately", "'lately' is not a date"),
    ],
)
def test_a_slip_is_named(tmp_path: Path, old: str, new: str, what: str) -> None:
    """With the line it stands in."""
    text = config_file("authorisation/us-fl.yaml").read_text(encoding="utf-8")
    own = tmp_path / "config" / "authorisation" / "us-fl.yaml"
    own.parent.mkdir(parents=True)
    assert text.count(old) == 1
    own.write_text(text.replace(old, new), encoding="utf-8")

    with pytest.raises(ConfigError, match=what):
        read_tolerances("us-fl", tmp_path)


def test_two_rules_from_one_day_on_are_refused(tmp_path: Path) -> None:
    """A live formula could not choose."""
    text = config_file("authorisation/us-mi.yaml").read_text(encoding="utf-8")
    own = tmp_path / "config" / "authorisation" / "us-mi.yaml"
    own.parent.mkdir(parents=True)
    own.write_text(text.replace("object_class: appliance", "object_class: Road Vehicle"), "utf-8")

    with pytest.raises(ConfigError, match="has two rules from one day on"):
        read_tolerances("us-mi", tmp_path)
