"""What the law of a place guarantees, and whether it wants vendors named on estimates."""

from datetime import date
from pathlib import Path

from ledger_tools.billing.guarantee import GuaranteeRule, figures_needed
from ledger_tools.settings.authorisation import NOT_RECORDED, read_place
from ledger_tools.settings.entries import Entry
from ledger_tools.settings.taxes import STATUSES

_NEEDED = ("object_class", "words", "first_day", "void", "source")
_FIGURES = ("days", "distance", "unit")


def read_guarantees(name: str, beside: Path | None) -> tuple[GuaranteeRule, ...]:
    """Return what the law of the place called `name` guarantees; none where its file says none.

    Raises:
        ConfigError: There is no such file, or it says something that cannot be used.
    """
    keys = read_place(name, beside)
    if "guarantees" not in keys:
        return ()
    read_on = keys["checked_on"].day().isoformat()
    rules: list[GuaranteeRule] = []
    seen: set[tuple[str, date | None]] = set()
    for item in keys["guarantees"].items():
        rule = _rule(item, read_on)
        begins = rule.object_class.casefold(), rule.first_day
        if begins in seen:
            what = f"'{rule.object_class}' has two guarantees from one day on"
            raise item.wrong(what, "Keep the one that is right")
        seen.add(begins)
        rules.append(rule)
    return tuple(rules)


def wants_vendors(name: str, beside: Path | None) -> bool:
    """Return whether the place called `name` wants estimates to name who does sublet work."""
    keys = read_place(name, beside)
    return "name_vendors" in keys and keys["name_vendors"].yes()


def _rule(entry: Entry, read_on: str) -> GuaranteeRule:
    keys = entry.keys(needed=_NEEDED, other=_FIGURES)
    words = keys["words"].words()
    entry.keys(needed=figures_needed(words), other=(*_NEEDED, *_FIGURES))
    source = keys["source"].keys(needed=("title", "publisher", "section", "status"))
    status = source["status"].choice(STATUSES)
    first_day = keys["first_day"]
    return GuaranteeRule(
        object_class=keys["object_class"].words(),
        words=words,
        first_day=None if first_day.text() == NOT_RECORDED else first_day.day(),
        days=keys["days"].whole(1, 99999) if "days" in keys else None,
        distance=keys["distance"].whole(1, 9999999) if "distance" in keys else None,
        unit=keys["unit"].words() if "unit" in keys else "",
        void=keys["void"].yes(),
        source=", ".join(source[key].words() for key in ("title", "publisher", "section")),
        read=f"{status}, looked up {read_on}",
    )
