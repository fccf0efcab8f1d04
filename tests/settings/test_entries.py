"""YAML is read strictly: text stays text, and every slip is named with file, line and key."""

from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from ledger_tools.errors import ConfigError
from ledger_tools.settings.entries import Entry, read_entries


def entries(folder: Path, text: str) -> Entry:
    """Return what stands in a file with this text."""
    file = folder / "some.yaml"
    file.write_text(text, encoding="utf-8")
    return read_entries(file)


@pytest.mark.parametrize("written", ["0.0725", "0.10", "123456789012345.678901", "1200", "007.50"])
def test_a_number_keeps_every_digit(tmp_path: Path, written: str) -> None:
    """A number without quotes does not pass through a float on its way."""
    entry = entries(tmp_path, f"rate: {written}\nquoted: '{written}'\n").mapping()

    assert str(entry["rate"].number()) == str(Decimal(written))
    assert str(entry["quoted"].number()) == str(Decimal(written))


@pytest.mark.parametrize(
    ("read", "written", "value"),
    [
        (Entry.fraction, "20%", Decimal("0.2")),
        (Entry.fraction, "0.0725", Decimal("0.0725")),
        (Entry.day, "2011-01-04", date(2011, 1, 4)),
        (Entry.minutes, "1h30", 90),
        (Entry.minutes, "1:30", 90),
        (Entry.minutes, "45", 45),
        (Entry.yes, "yes", True),
        (Entry.yes, "No", False),
        (Entry.text, "no", "no"),
        (Entry.text, "'  padded  '", "padded"),
        (Entry.text, "", ""),
    ],
)
def test_values_as_people_write_them(
    tmp_path: Path, read: Callable[[Entry], object], written: str, value: object
) -> None:
    """Each reader takes the usual spellings; the country code `no` stays a text."""
    assert read(entries(tmp_path, f"key: {written}\n").mapping()["key"]) == value


@pytest.mark.parametrize(
    ("read", "written", "what"),
    [
        (Entry.number, "12,50", "'12,50' is not a number"),
        (Entry.number, "1e3", "'1e3' is not a number"),
        (Entry.number, ".nan", "'.nan' is not a number"),
        (Entry.number, "-3", "-3 is below zero"),
        (Entry.number, "''", "'' is not a number"),
        (Entry.number, "[1, 2]", "a list stands where text belongs"),
        (Entry.number, "{a: 1}", "keys stand where text belongs"),
        (Entry.fraction, "20", "'20' is neither a percentage nor a fraction below 1"),
        (Entry.fraction, "-5%", "'-5%' is neither a percentage nor a fraction below 1"),
        (Entry.day, "2025-02-29", "'2025-02-29' is not a date"),
        (Entry.day, "4.1.2011", "'4.1.2011' is not a date"),
        (Entry.day, "20110104", "'20110104' is not a date"),
        (Entry.minutes, "1.5", "'1.5' cannot be read as minutes"),
        (Entry.yes, "maybe", "'maybe' is neither yes nor no"),
        (Entry.words, "' '", "nothing is written here"),
        (Entry.items, "one", "'one' stands where a list belongs"),
        (Entry.items, "", "nothing stands where a list belongs"),
        (Entry.mapping, "[1]", "a list stands where keys belong"),
        (lambda e: e.whole(1, 12), "13", "'13' is not a whole number from 1 to 12"),
        (lambda e: e.whole(1, 12), "0", "'0' is not a whole number from 1 to 12"),
        (lambda e: e.whole(1, 12), "1.0", "'1.0' is not a whole number from 1 to 12"),
        (lambda e: e.choice(("A4", "Letter")), "a4", "'a4' is not known here. Choose from: A4, L"),
    ],
)
def test_wrong_value_is_named(
    tmp_path: Path, read: Callable[[Entry], object], written: str, what: str
) -> None:
    """The message says where the value stands, quotes it, and ends in a remedy."""
    entry = entries(tmp_path, f"first: 1\nouter:\n  - key: {written}\n").mapping()

    with pytest.raises(ConfigError) as caught:
        read(entry["outer"].items()[0].mapping()["key"])

    where = f"{tmp_path / 'some.yaml'}, line 3, outer[1].key: "
    assert str(caught.value).startswith(where + what)
    assert caught.value.remedy


@pytest.mark.parametrize(
    ("text", "where", "what"),
    [
        ("a: 1\nb: 2\na: 3\n", "line 3, a", "the key 'a' is written twice, first in line 1"),
        (
            "a:\n  - {b: 1, b: 1}\n",
            "line 2, a[1].b",
            "the key 'b' is written twice, first in line 2",
        ),
        ("a: 'open\n", "line ", "cannot be read: "),
        ("a: b: c\n", "line 1", "cannot be read: mapping values are not allowed"),
        ("a: 1\n---\nb: 2\n", "line 2", "cannot be read: "),
        ("", "some.yaml", "is empty"),
        ("# only a remark\n", "some.yaml", "is empty"),
        ("a: &x\n  b: *x\n", "a.b.b", "values are nested too deep"),
    ],
)
def test_broken_file_is_named(tmp_path: Path, text: str, where: str, what: str) -> None:
    """A key twice, YAML that does not parse, an empty file: each says its line."""
    with pytest.raises(ConfigError) as caught:
        entries(tmp_path, text)

    assert where in caught.value.where
    assert caught.value.what.startswith(what)


def test_file_that_is_not_utf8_is_named(tmp_path: Path) -> None:
    """A file saved in an old code page says the byte and the remedy."""
    file = tmp_path / "old.yaml"
    file.write_bytes("name: Schlosserei Müller\n".encode("cp1252"))

    with pytest.raises(ConfigError, match=r"old\.yaml: is not UTF-8 text \(byte 20\)"):
        read_entries(file)


def test_file_that_cannot_be_opened_is_named(tmp_path: Path) -> None:
    """A folder where a file belongs is an error with its path, not a traceback."""
    with pytest.raises(ConfigError, match="cannot be opened"):
        read_entries(tmp_path)


def test_byte_order_mark_is_no_part_of_a_key(tmp_path: Path) -> None:
    """A file saved by a plain editor on Windows reads like any other."""
    file = tmp_path / "bom.yaml"
    file.write_text("name: Shop\n", encoding="utf-8-sig")

    assert list(read_entries(file).mapping()) == ["name"]


def test_a_tag_makes_no_object(tmp_path: Path) -> None:
    """A tag that asks for a program to be run is text with a tag, and nothing runs."""
    entry = entries(tmp_path, "key: !!python/object/apply:os.getcwd []\n").mapping()["key"]

    assert entry.items() == ()


def test_unknown_key_is_named_with_what_was_meant(tmp_path: Path) -> None:
    """A slip of the pen gets the key that was meant and the list of keys."""
    entry = entries(tmp_path, "currancy: EUR\n")

    with pytest.raises(ConfigError) as caught:
        entry.keys(needed=("currency",), other=("locale",))

    assert caught.value.what == "unknown key 'currancy'"
    assert caught.value.remedy.startswith("Did you mean 'currency'? Keys that can stand here: cur")


def test_missing_key_is_named_at_its_place(tmp_path: Path) -> None:
    """What is missing in the second entry of a list is said there."""
    entry = entries(tmp_path, "rates:\n  - {rate: 1, source: s}\n  - {rate: 2}\n")

    with pytest.raises(ConfigError, match=r"line 3, rates\[2\]: the key 'source' is missing"):
        entry.mapping()["rates"].items()[1].keys(needed=("rate", "source"))
