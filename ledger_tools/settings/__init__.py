"""From the YAML files in `config/` to typed values: what a new book starts with.

Once a book is made its sheets are the truth; nothing here is read again to compute it.
"""

from dataclasses import replace
from datetime import date
from pathlib import Path

from ledger_tools.settings.authorisation import read_tolerances
from ledger_tools.settings.catalogue import read_catalogue
from ledger_tools.settings.entries import read_entries, texts_by_key
from ledger_tools.settings.files import config_file, own_file, profiles, shipped_file
from ledger_tools.settings.guarantees import read_guarantees, wants_vendors
from ledger_tools.settings.shop import read_shop_settings
from ledger_tools.settings.taxes import read_tax_rules
from ledger_tools.shop.model import ShopBook

__all__ = ["config_file", "load_seed", "load_texts", "profiles"]


def load_seed(
    tax: str, *, as_of: date, beside: Path | None = None, rules: str = "strict"
) -> ShopBook:
    """Return an empty shop book: settings, tax profile, rates, repair types and materials.

    Args:
        tax: Name of the tax profile.
        as_of: The book's as-of day.
        beside: Folder of the book; files in a `config/` folder there stand in for shipped ones.
        rules: Name of the place whose rules say what may be billed above the authorised amount,
            what its law guarantees, and whether estimates have to name vendors.

    Raises:
        ConfigError: A file is missing or says something that cannot be used.
    """
    tolerances = read_tolerances(rules, beside)
    taxes = read_tax_rules(tax, beside)
    catalogue = read_catalogue(beside, tax_classes=taxes.profile.taxable)
    classes = frozenset(rate.labour_class for rate in catalogue.rates)
    settings = read_shop_settings(beside, defaults=taxes.defaults, classes=classes)
    named = settings.name_vendors or wants_vendors(rules, beside)
    settings = replace(settings, name_vendors=named)
    rounding = taxes.profile.rounding._replace(digits=settings.digits)
    profile = taxes.profile._replace(currency=settings.currency, rounding=rounding)
    return ShopBook(
        settings=settings,
        as_of=as_of,
        profile=profile,
        catalogue=catalogue,
        tolerances=tolerances,
        guarantees=read_guarantees(rules, beside),
    )


def load_texts(language: str, beside: Path | None = None) -> dict[str, str]:
    """Return the document texts of a language by key.

    A file beside the book may hold only the texts that are to differ from the shipped ones of
    its language; a language that is not shipped has to have every key that English has.

    Raises:
        ConfigError: The language is not there, or its file misses a key or has one too many.
    """
    name = f"texts/{language}.yaml"
    own = own_file(name, beside)
    if own is None:
        return dict(texts_by_key(read_entries(config_file(name, beside))))
    shipped = shipped_file(name)
    pattern = texts_by_key(read_entries(shipped or config_file("texts/en.yaml")))
    entry = read_entries(own)
    said = entry.keys(needed=() if shipped else pattern, other=pattern)
    return {**pattern, **{key: value.text() for key, value in said.items()}}
