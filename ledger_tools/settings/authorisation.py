"""Rules of a place on what may be billed above the authorised amount, with their sources."""

from pathlib import Path

from ledger_tools.billing.authorisation import RuleKind, ToleranceRule
from ledger_tools.money import ZERO
from ledger_tools.settings.entries import Entry, read_entries
from ledger_tools.settings.files import config_file
from ledger_tools.settings.taxes import source_of

NOT_RECORDED = "not recorded"
"""Stands for a first day that no source says."""
_NOT_SAID = "not said"
_NEEDED = {
    RuleKind.NONE: (),
    RuleKind.MAXIMUM: (),
    RuleKind.PERCENT: ("percent",),
    RuleKind.LESSER: ("percent", "amount"),
    RuleKind.GREATER: ("percent", "amount"),
}
"""What a rule of each kind has to say."""


def read_tolerances(name: str, beside: Path | None) -> tuple[ToleranceRule, ...]:
    """Return the rules of the place called `name`; none for ``strict``.

    Raises:
        ConfigError: There is no such file, or it says something that cannot be used.
    """
    keys = read_place(name, beside)
    read_on = keys["checked_on"].day().isoformat()
    keys["title"].words()
    keys["caution"].words()
    rules = tuple(_rule(item, read_on) for item in keys["rules"].items())
    seen: set[tuple[str, object]] = set()
    for item, rule in zip(keys["rules"].items(), rules, strict=True):
        begins = rule.object_class.casefold(), rule.first_day
        if begins in seen:
            what = f"'{rule.object_class}' has two rules from one day on"
            raise item.wrong(what, "Keep the one that is right")
        seen.add(begins)
    return rules


def read_place(name: str, beside: Path | None) -> dict[str, Entry]:
    """Return the entries of the file of a place, by key.

    Raises:
        ConfigError: There is no such file, or it lacks a key or has one too many.
    """
    file = read_entries(config_file(f"authorisation/{name}.yaml", beside))
    keys = file.keys(
        needed=("name", "title", "checked_on", "rules", "caution"),
        other=("guarantees", "name_vendors"),
    )
    if keys["name"].text() != name:
        raise keys["name"].wrong(f"the file is called {name}.yaml", f"Write 'name: {name}'")
    return keys


def _rule(entry: Entry, read_on: str) -> ToleranceRule:
    needed = ("object_class", "kind", "first_day", "with_tax", "source")
    keys = entry.keys(needed=needed, other=("percent", "amount", "most"))
    kind = RuleKind(keys["kind"].choice(RuleKind))
    optional = ("most",) if kind is RuleKind.GREATER else ()
    keys = entry.keys(needed=(*needed, *_NEEDED[kind]), other=optional)
    first_day, with_tax = keys["first_day"], keys["with_tax"]
    return ToleranceRule(
        object_class=keys["object_class"].words(),
        kind=kind,
        first_day=None if first_day.text() == NOT_RECORDED else first_day.day(),
        share=keys["percent"].fraction() if "percent" in keys else ZERO,
        amount=keys["amount"].number() if "amount" in keys else ZERO,
        most=keys["most"].number() if "most" in keys else None,
        with_tax=None if with_tax.text() == _NOT_SAID else with_tax.yes(),
        source=f"{source_of(keys['source'])}, looked up {read_on}",
    )
