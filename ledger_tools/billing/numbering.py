"""Job and invoice numbers: one after another, from a pattern, never one twice."""

import re
from datetime import date

from ledger_tools.errors import ConfigError

_FIELD = re.compile(r"\{(yyyy|yy|n(?::0?(\d))?)\}")


def number_from(pattern: str, n: int, day: date) -> str:
    """Return the `n`-th number, written by `pattern` for a day.

    >>> number_from("{yy}-{n:04}", 7, date(2025, 2, 3))
    '25-0007'

    Raises:
        ConfigError: The pattern has no `{n}` or holds something else in braces.
    """
    _check(pattern)

    def filled(field: re.Match[str]) -> str:
        if field[1] == "yyyy":
            return f"{day.year:04}"
        if field[1] == "yy":
            return f"{day.year % 100:02}"
        return str(n).zfill(int(field[2] or 0))

    return _FIELD.sub(filled, pattern)


def sequence_of(number: str, pattern: str) -> int | None:
    """Return which one in the sequence `number` is, or None if it is not written by `pattern`.

    >>> sequence_of("25-0007", "{yy}-{n:04}")
    7
    """
    if _counters(pattern) != 1:
        # Several would be told apart in countless ways, and no number was written so.
        return None
    parts = []
    at = 0
    for field in _FIELD.finditer(pattern):
        parts.append(re.escape(pattern[at : field.start()]))
        parts.append({"yyyy": r"\d{4}", "yy": r"\d{2}"}.get(field[1], r"(\d{1,18})"))
        at = field.end()
    parts.append(re.escape(pattern[at:]))
    found = re.fullmatch("".join(parts), number, re.ASCII)
    return int(found[1]) if found and found.groups() else None


def _check(pattern: str) -> None:
    rest = _FIELD.sub("", pattern)
    if _counters(pattern) != 1 or set("{}[]:*?/\\'") & set(rest):
        raise ConfigError(
            "number pattern",
            f"'{pattern}' cannot be used for numbers",
            "Write something like {yy}-{n:04}; a sheet name cannot hold [ ] : * ? / \\ '",
        )


def _counters(pattern: str) -> int:
    """Return how many fields of a pattern count."""
    return len(re.findall(r"\{n", pattern))
