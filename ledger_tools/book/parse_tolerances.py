"""Reading what may be billed above the authorised amount, by class of object."""

from collections.abc import Callable, Iterator
from datetime import date

from ledger_tools.billing.authorisation import RuleKind, ToleranceRule
from ledger_tools.book.layout import TOLERANCES_TABLE, YES_NO
from ledger_tools.book.rows import Reading, Row
from ledger_tools.money import ZERO

_NEEDS = {
    RuleKind.PERCENT: ("share",),
    RuleKind.LESSER: ("share", "amount"),
    RuleKind.GREATER: ("share", "amount"),
}


def read_tolerances(reading: Reading) -> Iterator[ToleranceRule]:
    """Yield the rules; one with an error in its row is left out, and allows nothing."""
    seen: set[tuple[str, date | None]] = set()
    for row in reading.rows(TOLERANCES_TABLE, "object_class", "kind"):
        name = row.needed("object_class", row.name, "class-missing", "The rule has no class")
        kind = row.needed(
            "kind",
            _kind_reader(row),
            "rule-missing",
            "The class has no rule",
        )
        first_day = row.day("first_day")
        share, amount, most = (row.number(key) for key in ("share", "amount", "most"))
        with_tax = row.choice("with_tax", YES_NO, "yes-or-no")
        source = row.text("source")
        if not name or not kind:
            continue
        _check(row, RuleKind(kind), (name.casefold(), first_day), seen)
        if not row.broken:
            yield ToleranceRule(
                name,
                RuleKind(kind),
                first_day,
                share or ZERO,
                amount or ZERO,
                most,
                {"yes": True, "no": False}.get(with_tax),
                source,
                row.row,
            )


def _kind_reader(row: Row) -> Callable[[str], str]:
    return lambda key: row.choice(key, tuple(kind.value for kind in RuleKind), "rule-unknown")


def _check(
    row: Row,
    kind: RuleKind,
    begins: tuple[str, date | None],
    seen: set[tuple[str, date | None]],
) -> None:
    for key in _NEEDS.get(kind, ()):
        if row.raw(key) is None:
            row.error(
                key, "rule-incomplete", f"The rule '{kind}' lacks a figure", "Fill the cell in"
            )
    if begins in seen:
        row.error(
            "object_class",
            "rule-twice",
            f"'{row.text('object_class')}' has two rules from one day on",
            "Keep one of the rows; a new rule has a first day of its own",
        )
    seen.add(begins)
