"""Giving a line of a job the minutes that stand in `Time`: in one place, never in two."""

from dataclasses import replace
from decimal import Decimal

from ledger_tools.book.formulas.time import FED, is_line_time
from ledger_tools.book.layout import TIME_TABLE
from ledger_tools.book.rows import Row
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.costing.time import LineTime

_MOST_NAMED = 5


def is_fed(row: Row, key: str) -> bool:
    """Whether the cell holds the formula that the tools put there for rows of `Time`."""
    return row.has_formula(key) and is_line_time(row.formula(key))


def with_time(row: Row, line: Line, given: LineTime | None) -> Line:
    """Return a line with its minutes and reason from `Time`, where that has rows for it.

    Minutes typed beside them are an error: nothing is added up in silence.
    """
    if given is None or line.kind is not Kind.LABOUR:
        return _typed_again(row, line)
    typed = [key for key in FED if row.raw(key) is not None and not is_fed(row, key)]
    for key in typed:
        _say_twice(row, key, given)
    if typed:
        return line
    if line.reason != given.reason:
        _put_reason(row, line.reason, given.reason)
    return replace(
        line,
        actual=Decimal(given.actual),
        non_billable=Decimal(given.non_billable),
        reason=given.reason,
    )


def _say_twice(row: Row, key: str, given: LineTime) -> None:
    rows = ", ".join(str(n) for n in given.rows[:_MOST_NAMED])
    more = " and more" if len(given.rows) > _MOST_NAMED else ""
    one = "row" if len(given.rows) == 1 else "rows"
    sheet = TIME_TABLE.sheet
    row.error(
        key,
        "minutes-twice",
        f"Minutes are typed here, and {sheet} has some for this line in {one} {rows}{more}",
        f"Clear this cell, or take the line's rows out of {sheet}; minutes stand in one place",
    )


def _put_reason(row: Row, typed: str, reason: str) -> None:
    if typed:
        row.note(
            "reason",
            "reason-from-time",
            f"'{typed}' stood here; the rows of Time say '{reason or 'billable'}'",
            passing=True,
        )
    row.echo("reason", reason or None)


def _typed_again(row: Row, line: Line) -> Line:
    """Return a line whose rows in `Time` are gone as one where nothing is entered yet."""
    left = [key for key in FED if is_fed(row, key)]
    if not left:
        return line
    row.note(
        left[0],
        "line-time-gone",
        "Time has no row for this line any more; its minutes and their reason are taken away",
        passing=True,
    )
    for key in (*left, "reason"):
        row.echo(key, None)
    return replace(line, reason="")
