"""The shop's own settings: shipped defaults, what the tax profile's place brings, the owner's."""

import re
from collections.abc import Mapping
from dataclasses import fields
from datetime import date
from pathlib import Path

from ledger_tools.billing.numbering import number_from
from ledger_tools.errors import ConfigError
from ledger_tools.hours import HourPolicy
from ledger_tools.settings.entries import Entry, read_entries
from ledger_tools.settings.files import config_file, own_file
from ledger_tools.shop.model import ShopSettings

NAME = "shop.yaml"
PAPERS = ("A4", "Letter")

# The decimal places follow from the currency.
_KEYS = tuple(field.name for field in fields(ShopSettings) if field.name != "digits")

_ANY_DAY = date(2000, 1, 1)
_CURRENCY = re.compile(r"[A-Z]{3}", re.ASCII)
_LANGUAGE = re.compile(r"[a-z]{2,3}(?:-[A-Za-z0-9]{2,8})*", re.ASCII)
_LOCALE = re.compile(r"[a-z]{2,3}(?:_[A-Za-z]{4})?(?:_[A-Z]{2})?", re.ASCII)


def read_shop_settings(
    beside: Path | None, *, defaults: Mapping[str, Entry], classes: frozenset[str]
) -> ShopSettings:
    """Return the shop's settings.

    What the owner's own `shop.yaml` beside the book says comes first, then `defaults`, which the
    tax profile brings, then the shipped `shop.yaml`. The owner's file need not say everything.

    Args:
        beside: Folder of the book.
        defaults: Entries of the tax profile's file that stand in for shipped settings.
        classes: Labour classes there are.

    Raises:
        ConfigError: A file is missing or says something that cannot be used.
    """
    own = own_file(NAME, beside)
    said = {**_settings(config_file(NAME)), **defaults, **(_settings(own) if own else {})}
    currency = _shaped(said["currency"], _CURRENCY, "USD or EUR")
    return ShopSettings(
        name=said["name"].text(),
        address=said["address"].text(),
        contact=said["contact"].text(),
        tax_number=said["tax_number"].text(),
        payment=said["payment"].text(),
        terms_days=said["terms_days"].whole(0, 365),
        currency=currency,
        digits=_digits(currency, beside),
        language=_shaped(said["language"], _LANGUAGE, "en"),
        locale=_shaped(said["locale"], _LOCALE, "en_GB"),
        paper=said["paper"].choice(PAPERS),
        hours=_hours(said["hours"]),
        number_pattern=_number_pattern(said["number_pattern"]),
        first_month=said["first_month"].whole(1, 12),
        authorised_with_tax=said["authorised_with_tax"].yes(),
        require_authorisation=said["require_authorisation"].yes(),
        default_class=said["default_class"].choice(("", *sorted(classes))),
        keep_time=said["keep_time"].yes(),
        gap_minutes=said["gap_minutes"].whole(0, 999),
        valid_days=said["valid_days"].whole(1, 999),
        deposit_percent=said["deposit_percent"].whole(0, 100),
        assumptions=said["assumptions"].text(),
        exclusions=said["exclusions"].text(),
        guarantee=said["guarantee"].text(),
        storage_free_days=said["storage_free_days"].whole(0, 999),
        storage_price=said["storage_price"].number(),
        name_vendors=said["name_vendors"].yes(),
        offer_options=said["offer_options"].yes(),
        repair_below=said["repair_below"].whole(0, 100),
        minimum_charge=said["minimum_charge"].number(),
    )


def _settings(file: Path) -> dict[str, Entry]:
    return read_entries(file).keys(other=_KEYS)


def _digits(currency: str, beside: Path | None) -> int:
    keys = read_entries(config_file("currencies.yaml", beside)).keys(
        needed=("source", "usual_digits", "other_digits")
    )
    other = keys["other_digits"].mapping()
    return other.get(currency, keys["usual_digits"]).whole(0, 4)


def _shaped(entry: Entry, shape: re.Pattern[str], example: str) -> str:
    text = entry.text()
    if not shape.fullmatch(text):
        raise entry.wrong(f"'{text}' cannot be used here", f"Write for example {example}")
    return text


def _hours(entry: Entry) -> HourPolicy:
    keys = entry.keys(needed=("step", "direction", "scope"))
    return HourPolicy(
        step=keys["step"].whole(1, 60),
        direction=keys["direction"].choice(("nearest", "up")),
        scope=keys["scope"].choice(("job", "line")),
    )


def _number_pattern(entry: Entry) -> str:
    pattern = entry.words()
    try:
        number_from(pattern, 1, _ANY_DAY)
    except ConfigError as problem:
        raise entry.wrong(f"'{pattern}' does not make a number", problem.remedy) from None
    return pattern
