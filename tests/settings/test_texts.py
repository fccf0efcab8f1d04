"""Document texts are whole in every language, and the owner may word a few differently."""

import re
from pathlib import Path

import pytest

from ledger_tools.errors import ConfigError
from ledger_tools.settings import load_texts
from ledger_tools.settings.files import languages
from tests.settings.beside import put


@pytest.mark.parametrize("language", languages())
def test_every_shipped_language_has_the_same_texts(language: str) -> None:
    """No document lacks a word in one language; what is filled in is the same too."""
    english, texts = load_texts("en"), load_texts(language)

    assert texts.keys() == english.keys()
    for key, text in texts.items():
        assert set(re.findall(r"{\w+}", text)) == set(re.findall(r"{\w+}", english[key])), key


def test_own_words_for_a_few_texts(tmp_path: Path) -> None:
    """A file beside the book need hold only what differs."""
    key = next(iter(load_texts("en")))
    put(tmp_path, "texts/en.yaml", f"{key}: My own words\n")

    assert load_texts("en", tmp_path) == {**load_texts("en"), key: "My own words"}


def test_a_text_nobody_prints_is_refused(tmp_path: Path) -> None:
    """A key that no document uses is a slip, and would otherwise change nothing."""
    put(tmp_path, "texts/en.yaml", "no_such_text: Hello\n")

    with pytest.raises(ConfigError, match="unknown key 'no_such_text'"):
        load_texts("en", tmp_path)


def test_a_new_language_has_to_be_whole(tmp_path: Path) -> None:
    """A language that is not shipped needs every text, and then works."""
    texts = list(load_texts("en"))
    put(tmp_path, "texts/eo.yaml", "".join(f"{key}: Saluton\n" for key in texts[1:]))
    with pytest.raises(ConfigError, match=f"the key '{texts[0]}' is missing"):
        load_texts("eo", tmp_path)

    put(tmp_path, "texts/eo.yaml", "".join(f"{key}: Saluton\n" for key in texts))
    assert set(load_texts("eo", tmp_path).values()) == {"Saluton"}


@pytest.mark.parametrize("language", ["xx", "../shop", "/etc/passwd"])
def test_unknown_language_is_refused(language: str, tmp_path: Path) -> None:
    """Neither a language that is not there nor a path is read."""
    with pytest.raises(ConfigError):
        load_texts(language, tmp_path)
