"""YAML files read strictly: every value stays the text it was written as, and knows its place.

Numbers never pass through binary floating point, a key written twice is an error, and every
error names file, line, key path, what is wrong and what to write instead.
"""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from difflib import get_close_matches
from pathlib import Path

import yaml

from ledger_tools.costing.sublet import FractionUnreadableError, fraction_from
from ledger_tools.errors import ConfigError
from ledger_tools.hours import MinutesUnreadableError, minutes_from

DEEPEST = 12
"""Levels a config file may nest; more is an alias that contains itself."""

_NUMBER = re.compile(r"-?\d{1,15}(?:\.\d{1,15})?", re.ASCII)
_WHOLE = re.compile(r"-?\d{1,9}", re.ASCII)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_YES_NO = {"yes": True, "true": True, "no": False, "false": False}

# Makes no object but text, list and mapping, whatever tag a file carries.
_LOADER = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


@dataclass(frozen=True, slots=True)
class Entry:
    """One value of a config file and where it stands.

    Attributes:
        file: Path of the file as the owner can open it.
        line: Counted from 1.
        path: Keys that lead to it, such as ``rates[2].first_day``; empty for the whole file.
        value: Text as written, a list of entries, or entries by key.
    """

    file: str
    line: int
    path: str
    value: "str | tuple[Entry, ...] | dict[str, Entry]"

    def wrong(self, what: str, remedy: str) -> ConfigError:
        """Return the error that says what is wrong here."""
        where = ", ".join(p for p in (self.file, f"line {self.line}", self.path) if p)
        return ConfigError(where, what, remedy)

    def keys(self, *, needed: Iterable[str] = (), other: Iterable[str] = ()) -> "dict[str, Entry]":
        """Return the entries by key; every needed key is there, and no key but needed and other.

        Raises:
            ConfigError: Not a mapping, a key is missing, or one is not known.
        """
        needed = tuple(needed)
        known = (*needed, *other)
        found = self.mapping()
        for key, entry in found.items():
            if key not in known:
                meant = get_close_matches(key, known, n=1)
                hint = f"Did you mean '{meant[0]}'? " if meant else ""
                raise entry.wrong(
                    f"unknown key '{key}'", f"{hint}Keys that can stand here: {', '.join(known)}"
                )
        for key in needed:
            if key not in found:
                raise self.wrong(f"the key '{key}' is missing", f"Add '{key}:' here")
        return found

    def mapping(self) -> "dict[str, Entry]":
        """Return the entries by key, whatever the keys are."""
        if not isinstance(self.value, dict):
            raise self.wrong(f"{self._said()} where keys belong", "Write 'key: value' lines here")
        return self.value

    def items(self) -> "tuple[Entry, ...]":
        """Return the entries of a list."""
        if not isinstance(self.value, tuple):
            raise self.wrong(
                f"{self._said()} where a list belongs", "Write one '- ' line for each"
            )
        return self.value

    def text(self) -> str:
        """Return the text, without blanks around it; may be empty."""
        if not isinstance(self.value, str):
            raise self.wrong(f"{self._said()} where text belongs", "Write one text here")
        return self.value.strip()

    def words(self) -> str:
        """Return the text, which may not be empty."""
        if not (text := self.text()):
            raise self.wrong("nothing is written here", "Write the text that belongs here")
        return text

    def choice(self, choices: Iterable[str]) -> str:
        """Return the text, which is one of `choices`."""
        known = tuple(choices)
        if (text := self.text()) not in known:
            raise self.wrong(f"'{text}' is not known here", f"Choose from: {', '.join(known)}")
        return text

    def yes(self) -> bool:
        """Return whether yes is written, and not no."""
        if (text := self.text().lower()) not in _YES_NO:
            raise self.wrong(f"'{text}' is neither yes nor no", "Write yes or no")
        return _YES_NO[text]

    def number(self) -> Decimal:
        """Return the decimal number as written, digit for digit, zero or more."""
        text = self.text()
        if not _NUMBER.fullmatch(text):
            raise self.wrong(f"'{text}' is not a number", "Write plain digits, such as 12.50")
        if text.startswith("-"):
            raise self.wrong(f"{text} is below zero", "Write zero or more")
        return Decimal(text)

    def whole(self, least: int, most: int) -> int:
        """Return the whole number, from `least` to `most`."""
        text = self.text()
        if not _WHOLE.fullmatch(text) or not least <= int(text) <= most:
            raise self.wrong(
                f"'{text}' is not a whole number from {least} to {most}",
                f"Write a whole number from {least} to {most}",
            )
        return int(text)

    def fraction(self) -> Decimal:
        """Return the fraction; `20%` and `0.20` are the same."""
        text = self.text()
        try:
            return fraction_from(text)
        except FractionUnreadableError:
            raise self.wrong(
                f"'{text}' is neither a percentage nor a fraction below 1",
                "Write for example 20% or 0.20",
            ) from None

    def minutes(self) -> int:
        """Return whole minutes; `90`, `1:30`, `1h30` and `1.5h` are the same."""
        text = self.text()
        try:
            return minutes_from(text)
        except MinutesUnreadableError:
            raise self.wrong(
                f"'{text}' cannot be read as minutes", "Write for example 90, 1h30 or 1.5h"
            ) from None

    def day(self) -> date:
        """Return the date."""
        text = self.text()
        try:
            if _DAY.fullmatch(text):
                return date.fromisoformat(text)
        except ValueError:
            pass
        raise self.wrong(
            f"'{text}' is not a date", "Write year, month and day, for example 2025-01-31"
        )

    def _said(self) -> str:
        if isinstance(self.value, str):
            return f"'{self.value}' stands" if self.value else "nothing stands"
        return "a list stands" if isinstance(self.value, tuple) else "keys stand"


def read_entries(file: Path) -> Entry:
    """Return what stands in a YAML file.

    Raises:
        ConfigError: The file cannot be opened, is not YAML, is empty, or has a key twice.
    """
    try:
        text = file.read_text(encoding="utf-8-sig")
    except OSError as fault:
        remedy = "Check that the file is there and may be read"
        raise ConfigError(str(file), f"cannot be opened: {fault.strerror}", remedy) from fault
    except UnicodeDecodeError as fault:
        what = f"is not UTF-8 text (byte {fault.start + 1})"
        raise ConfigError(str(file), what, "Save it again as UTF-8") from fault
    return _entry(_composed(file, text), str(file))


def _composed(file: Path, text: str) -> yaml.Node:
    try:
        root = yaml.compose(text, Loader=_LOADER)
    except yaml.YAMLError as fault:
        mark = getattr(fault, "problem_mark", None)
        where = f"{file}, line {mark.line + 1}" if mark else str(file)
        said = getattr(fault, "problem", None) or getattr(fault, "reason", None) or "not YAML"
        remedy = "Mend the line; text with ': ' or ' #' in it belongs in quotes"
        raise ConfigError(where, f"cannot be read: {said}", remedy) from fault
    if root is None:
        raise ConfigError(str(file), "is empty", "Fill it in, or delete it")
    return root


def _entry(node: yaml.Node, file: str, path: str = "", depth: int = 0) -> Entry:
    line = node.start_mark.line + 1
    if depth > DEEPEST:
        what = "values are nested too deep"
        raise Entry(file, line, path, "").wrong(what, "Write the values out, without aliases")
    if isinstance(node, yaml.MappingNode):
        return Entry(file, line, path, dict(_pairs(node, file, path, depth)))
    if isinstance(node, yaml.SequenceNode):
        items = enumerate(node.value, 1)
        listed = tuple(_entry(n, file, f"{path}[{i}]", depth + 1) for i, n in items)
        return Entry(file, line, path, listed)
    return Entry(file, line, path, node.value)


def _pairs(
    node: yaml.MappingNode, file: str, path: str, depth: int
) -> Iterator[tuple[str, Entry]]:
    first: dict[str, int] = {}
    for key, value in node.value:
        name = _entry(key, file, path).text()
        here = f"{path}.{name}" if path else name
        line = key.start_mark.line + 1
        if name in first:
            again = Entry(file, line, here, "")
            what = f"the key '{name}' is written twice, first in line {first[name]}"
            raise again.wrong(what, "Keep one of the two")
        first[name] = line
        yield name, _entry(value, file, here, depth + 1)


def texts_by_key(entry: Entry) -> Mapping[str, str]:
    """Return a flat file of `key: text` lines."""
    return {key: value.text() for key, value in entry.mapping().items()}
