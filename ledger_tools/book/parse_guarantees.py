"""Reading what a law guarantees, by class of object."""

from collections.abc import Iterator
from datetime import date

from ledger_tools.billing.guarantee import GuaranteeRule, figures_needed
from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import YES_NO
from ledger_tools.book.rows import Reading, Row


def read_guarantees(reading: Reading) -> Iterator[GuaranteeRule]:
    """Yield the rules; one with an error in its row is left out, and prints nothing."""
    seen: set[tuple[str, date | None]] = set()
    for row in reading.rows(GUARANTEES_TABLE, "object_class", "words"):
        name = row.needed("object_class", row.name, "class-missing", "The rule has no class")
        words = row.needed("words", row.text, "guarantee-words", "The guarantee has no words")
        rule = GuaranteeRule(
            object_class=name or "",
            words=words or "",
            first_day=row.day("first_day"),
            days=_whole(row, "days"),
            distance=_whole(row, "distance"),
            unit=row.text("unit"),
            void=row.choice("void", YES_NO, "yes-or-no") == "yes",
            source=row.text("source"),
            read=row.text("read"),
        )
        _check(row, rule, seen)
        if not row.broken:
            yield rule


def _whole(row: Row, key: str) -> int | None:
    number = row.number(key)
    if number is not None and number != int(number):
        row.error(key, "guarantee-figure", f"{number:f} is not whole", "Type a whole number")
        return None
    return None if number is None else int(number)


def _check(row: Row, rule: GuaranteeRule, seen: set[tuple[str, date | None]]) -> None:
    for key in figures_needed(rule.words):
        if getattr(rule, key) in {None, ""} and not row.broken:
            row.error(
                key, "guarantee-figure",
                f"The words of the guarantee name its {key}, and the cell is empty",
                "Fill the cell in",
            )  # fmt: skip
    begins = rule.object_class.casefold(), rule.first_day
    if begins in seen:
        row.error(
            "object_class", "rule-twice",
            f"'{rule.object_class}' has two rules from one day on",
            "Keep one of the rows; a new rule has a first day of its own",
        )  # fmt: skip
    seen.add(begins)
