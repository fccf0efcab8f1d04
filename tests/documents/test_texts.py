"""Words on paper: every language has all of them, and a missing one stands in English."""

import dataclasses
import re

import pytest

from ledger_tools import settings
from ledger_tools.documents.texts import (
    HOURS_POLICIES,
    LABELS,
    hours_policy,
    label,
    text_findings,
)
from ledger_tools.hours import HourPolicy
from tests.documents.examples import HOUSING


@pytest.mark.parametrize("language", ["en", "fr", "de"])
def test_shipped_language_has_every_word_of_the_invoice(language: str) -> None:
    """No shipped language falls back to another one."""
    assert text_findings(language, settings.load_texts(language)) == []


@pytest.mark.parametrize("language", ["fr", "de"])
def test_translation_fills_in_the_same_facts(language: str) -> None:
    """A translated sentence has the same places to fill as the English one."""
    english, other = settings.load_texts("en"), settings.load_texts(language)

    for key in LABELS + HOURS_POLICIES:
        places = re.findall(r"\{\w+\}", english[key])
        assert sorted(re.findall(r"\{\w+\}", other[key])) == sorted(places), key


def test_missing_word_is_told_and_stands_in_english() -> None:
    """An invoice frozen before a word existed still prints."""
    words = {key: text for key, text in HOUSING.wording.items() if key != "label.net"}
    older = dataclasses.replace(HOUSING, wording=words)
    (finding,) = text_findings("xx", {key: "x" for key in LABELS + HOURS_POLICIES if key != "net"})

    assert label(older, "net") == "Net amount"
    assert "no words for net" in finding.what


def test_word_left_empty_stays_empty() -> None:
    """An owner may take words off the paper."""
    silent = dataclasses.replace(HOUSING, wording={**HOUSING.wording, "label.note": ""})

    assert label(silent, "note") == ""


@pytest.mark.parametrize(
    ("policy", "words"),
    [
        (HourPolicy(6, "nearest", "job"), "for each labour rate.*nearest 6 minutes"),
        (HourPolicy(15, "up", "job"), "rounded up once.*15 minutes"),
        (HourPolicy(6, "nearest", "line"), "line by line, to the nearest 6"),
        (HourPolicy(10, "up", "line"), "rounded up line by line.*10 minutes"),
        (HourPolicy(1, "up", "job"), "by the minute"),
    ],
)
def test_policy_printed_is_the_policy_used(policy: HourPolicy, words: str) -> None:
    """Step, direction and scope each change the sentence."""
    assert re.search(words, hours_policy(policy, settings.load_texts("en")))
