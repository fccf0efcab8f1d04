"""A `config/` folder beside a book, as an owner would fill it, and what loading then refuses."""

from datetime import date
from pathlib import Path

import pytest

from ledger_tools.errors import ConfigError
from ledger_tools.settings import config_file, load_seed

TODAY = date(2025, 3, 31)


def put(folder: Path, name: str, text: str) -> Path:
    """Write a file into `config/` in a folder and return the folder."""
    file = folder / "config" / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return folder


def edited(folder: Path, name: str, old: str, new: str) -> Path:
    """Put a shipped file beside the book with one place changed."""
    text = config_file(name).read_text(encoding="utf-8")
    assert old in text
    return put(folder, name, text.replace(old, new, 1))


def refusal(folder: Path, tax: str = "gb") -> ConfigError:
    """Return the error that loading ends in."""
    with pytest.raises(ConfigError) as caught:
        load_seed(tax, as_of=TODAY, beside=folder)
    return caught.value
