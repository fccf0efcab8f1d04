"""Tax profiles: dated rates with their sources, and which class of line each tax falls on."""

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from ledger_tools.billing.tax import MOST_COMPONENTS, TaxProfile, TaxRate
from ledger_tools.costing.lines import Kind
from ledger_tools.money import ROUNDING_MODES, Rounding
from ledger_tools.settings.entries import Entry, read_entries
from ledger_tools.settings.files import config_file

STATUSES = (
    "read in the source",
    "read on a page quoting the source",
    "from memory",
    "chosen here",
)
"""How far a figure can be trusted."""

UNIT = "of the price without tax"
"""The one base a rate may have: a tax on another tax is not computed here."""

PLACE = "invoice"
"""The one place tax is rounded at: once for each component, on the sum of what it falls on."""


@dataclass(frozen=True, slots=True)
class TaxRules:
    """A profile as its file says it, with what the place brings for the shop's settings.

    Attributes:
        profile: The rules; digits of the currency are the shop settings' to say.
        defaults: `currency`, `locale` and `paper`, as far as the file names them.
    """

    profile: TaxProfile
    defaults: Mapping[str, Entry]


def read_tax_rules(name: str, beside: Path | None) -> TaxRules:
    """Return the tax profile called `name`.

    Raises:
        ConfigError: There is no such profile, or its file says something that cannot be used.
    """
    file = read_entries(config_file(f"taxes/{name}.yaml", beside))
    keys = file.keys(
        needed=("name", "title", "version", "rounding", "components", "classes", "rates",
                "sources", "caution"),
        other=("currency", "locale", "paper"),
    )  # fmt: skip
    if keys["name"].text() != name:
        raise keys["name"].wrong(f"the file is called {name}.yaml", f"Write 'name: {name}'")
    components = _components(keys["components"])
    profile = TaxProfile(
        name=name,
        title=keys["title"].words(),
        version=keys["version"].day().isoformat(),
        currency=keys["currency"].text() if "currency" in keys else "",
        rounding=Rounding(2, _rounding_mode(keys["rounding"])),
        components=components,
        rates=_rates(keys["rates"], components),
        taxable=_classes(keys["classes"], components),
        sources=tuple(source_of(s) for s in keys["sources"].items()),
        caution=keys["caution"].words(),
    )
    return TaxRules(profile, {k: keys[k] for k in ("currency", "locale", "paper") if k in keys})


def _components(entry: Entry) -> tuple[str, ...]:
    names = tuple(item.words() for item in entry.items())
    if len(set(names)) < len(names):
        raise entry.wrong("a tax is named twice", "Name each tax once")
    if len(names) > MOST_COMPONENTS:
        remedy = f"Name {MOST_COMPONENTS} or fewer; put taxes with one base and return together"
        raise entry.wrong(f"{len(names)} taxes are too many", remedy)
    return names


def _rounding_mode(entry: Entry) -> str:
    keys = entry.keys(needed=("mode", "place", "source"))
    keys["place"].choice((PLACE,))
    source_of(keys["source"])
    return keys["mode"].choice(ROUNDING_MODES)


def _rates(entry: Entry, components: tuple[str, ...]) -> tuple[TaxRate, ...]:
    rates = tuple(_rate(item, components) for item in entry.items())
    seen: set[tuple[object, object]] = set()
    for item, rate in zip(entry.items(), rates, strict=True):
        if (begins := (rate.component, rate.first_day)) in seen:
            what = f"{rate.component} has two rates from {rate.first_day.isoformat()}"
            raise item.wrong(what, "Keep the one that is right")
        seen.add(begins)
    for component in components:
        if not any(rate.component == component for rate in rates):
            raise entry.wrong(f"{component} has no rate", "Add its rate with first day and source")
    return rates


def _rate(entry: Entry, components: tuple[str, ...]) -> TaxRate:
    keys = entry.keys(needed=("component", "first_day", "rate", "unit", "source"))
    keys["unit"].choice((UNIT,))
    rate = keys["rate"].fraction()
    if rate >= 1:
        raise keys["rate"].wrong(f"'{keys['rate'].text()}' is the whole price", "Write 7.25%")
    return TaxRate(
        component=keys["component"].choice(components),
        first_day=keys["first_day"].day(),
        rate=rate,
        source=source_of(keys["source"]),
    )


def _classes(entry: Entry, components: tuple[str, ...]) -> dict[str, frozenset[str]]:
    keys = entry.keys(needed=[k.value for k in Kind], other=entry.mapping())
    return {
        name: frozenset(item.choice(components) for item in listed.items())
        for name, listed in keys.items()
    }


def source_of(entry: Entry) -> str:
    """Return a source in words: title, publisher, section and how far it can be trusted."""
    keys = entry.keys(needed=("title", "publisher", "section", "status"))
    status = keys["status"].choice(STATUSES)
    said = ", ".join(keys[k].words() for k in ("title", "publisher", "section"))
    return f"{said} ({status})"
