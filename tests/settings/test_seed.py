"""What a new book starts with, who has the last word, and what is refused."""

from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest
import yaml

from ledger_tools.costing.lines import Kind
from ledger_tools.errors import ConfigError
from ledger_tools.hours import HourPolicy
from ledger_tools.settings import config_file, load_seed, profiles
from ledger_tools.settings.entries import read_entries
from ledger_tools.shop.model import ShopBook, ShopSettings
from tests.published import published, said
from tests.settings.beside import TODAY, edited, put, refusal

_SLIPS_FILE = Path(__file__).with_name("slips.yaml")
SLIPS = yaml.safe_load(_SLIPS_FILE.read_text(encoding="utf-8"))["slips"]


@pytest.mark.parametrize("name", profiles())
def test_shipped_seed_is_an_empty_book(name: str) -> None:
    """Every shipped profile makes a book with prices and rules and nothing else."""
    book = load_seed(name, as_of=TODAY)

    assert book == ShopBook(book.settings, TODAY, book.profile, book.catalogue)
    assert book.profile.name == name
    assert book.profile.currency == book.settings.currency
    assert "check with" in book.profile.caution.lower()
    assert all(Kind(kind).value in book.profile.taxable for kind in Kind)
    assert all(rate.source.endswith(")") for rate in book.profile.rates)


@pytest.mark.parametrize(
    ("name", "place"),
    [
        ("none", ("USD", 2, "en_US", "Letter")),
        ("us-ca", ("USD", 2, "en_US", "Letter")),
        ("gb", ("GBP", 2, "en_GB", "A4")),
        ("ca-qc", ("CAD", 2, "en_CA", "Letter")),
    ],
)
def test_profile_brings_its_place(name: str, place: tuple[str, int, str, str]) -> None:
    """Currency, its places, locale and paper come with the tax profile."""
    shop = load_seed(name, as_of=TODAY).settings

    assert (shop.currency, shop.digits, shop.locale, shop.paper) == place


def test_shipped_settings_are_the_model_s_defaults() -> None:
    """The shipped file and the model agree wherever a default decides a sum."""
    shop = load_seed("none", as_of=TODAY).settings
    words = {"name", "address", "contact", "tax_number", "payment", "default_class"}

    for field in fields(ShopSettings):
        if field.name not in words:
            assert getattr(shop, field.name) == field.default, field.name
    assert shop.default_class == "bench"


def test_own_settings_beat_the_profile(tmp_path: Path) -> None:
    """What the owner wrote stays; what he left out comes from the profile, then as shipped."""
    put(tmp_path, "shop.yaml", "name: Hammer & Zange\npaper: Letter\nfirst_month: 4\n")

    shop = load_seed("gb", as_of=TODAY, beside=tmp_path).settings

    assert (shop.name, shop.paper, shop.first_month) == ("Hammer & Zange", "Letter", 4)
    assert (shop.currency, shop.locale) == ("GBP", "en_GB")
    assert shop.terms_days == 14


def test_own_currency_reaches_profile_and_rounding(tmp_path: Path) -> None:
    """In yen amounts and tax have no decimals."""
    put(tmp_path, "shop.yaml", "currency: JPY\n")

    book = load_seed("none", as_of=TODAY, beside=tmp_path)

    assert (book.settings.digits, book.profile.currency, book.profile.rounding.digits) == (
        0,
        "JPY",
        0,
    )


@pytest.mark.parametrize("value", published("currencies"))
def test_currency_has_its_published_digits(tmp_path: Path, value: dict[str, Any]) -> None:
    """The decimal places of each currency of the table, and two for the others."""
    put(tmp_path, "shop.yaml", f"currency: {value['inputs']['currency']}\n")

    digits = load_seed("none", as_of=TODAY, beside=tmp_path).settings.digits

    assert digits == value["expected"]["digits"], said(value)


def test_own_hours_policy(tmp_path: Path) -> None:
    """A quarter of an hour, always up, for each line."""
    put(tmp_path, "shop.yaml", "hours: {step: 15, direction: up, scope: line}\n")

    hours = load_seed("none", as_of=TODAY, beside=tmp_path).settings.hours

    assert hours == HourPolicy(15, "up", "line")


def test_a_tax_rate_is_exact(tmp_path: Path) -> None:
    """A rate written as a bare YAML number is that decimal, digit for digit."""
    edited(tmp_path, "taxes/us-ca.yaml", "rate: 8.25%", "rate: 0.0725")

    rate = load_seed("us-ca", as_of=TODAY, beside=tmp_path).profile.rates[0].rate

    assert str(rate) == "0.0725"


def test_an_own_profile_of_any_name(tmp_path: Path) -> None:
    """A place that is not shipped is a file of the owner's."""
    text = config_file("taxes/gb.yaml").read_text(encoding="utf-8")
    put(tmp_path, "taxes/atlantis.yaml", text.replace("name: gb", "name: atlantis"))

    assert load_seed("atlantis", as_of=TODAY, beside=tmp_path).profile.name == "atlantis"


def test_shipped_shop_file_says_everything() -> None:
    """The owner finds every setting in the shipped file, with its remark."""
    said_there = read_entries(config_file("shop.yaml")).mapping().keys()

    assert said_there == {f.name for f in fields(ShopSettings)} - {"digits"}


@pytest.mark.parametrize(
    "slip", SLIPS, ids=lambda slip: f"{slip['file']}: {slip['write'].strip() or 'left out'}"
)
def test_slip_in_a_file_is_named(tmp_path: Path, slip: dict[str, str]) -> None:
    """File, key path, what was found and a remedy; the file is the owner's own."""
    error = refusal(edited(tmp_path, slip["file"], slip["for"], slip["write"]))

    assert error.where.startswith(f"{tmp_path / 'config' / slip['file']}, line ")
    assert error.where.endswith(slip["where"])
    assert error.what.startswith(slip["what"])
    assert error.remedy


def test_unknown_profile_is_refused_with_the_list() -> None:
    """The answer to a wrong name is the right names."""
    with pytest.raises(ConfigError, match="ca-qc, gb, none, us-ca"):
        load_seed("france", as_of=TODAY)
