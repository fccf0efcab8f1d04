"""Which sheets, tables and names a formula speaks of."""

import re
from collections.abc import Collection, Mapping, Sequence
from typing import NamedTuple

_TOKEN = re.compile(
    r"""
    "(?P<text>(?:[^"]|"")*)"
    | (?:'(?P<quoted>(?:[^']|'')+)'|(?P<bare>[^\W\d][\w.]*(?::[^\W\d][\w.]*)?))!
      (?P<place>\$?[A-Za-z]{1,3}\$?\d+(?::\$?[A-Za-z]{1,3}\$?\d+)?
        |\$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3}|\$?\d+:\$?\d+|[^\W\d][\w.]*|\#REF!)?
    | (?<![\w.])(?P<table>[^\W\d][\w.]*)\[(?:[^\[\]]|\[[^\[\]]*\])*\]
    | \#[A-Z/0-9]+[!?]?
    | (?P<function>[\w.]+)\(
    | \$?[A-Za-z]{1,3}\$?[0-9]+(?![\w.(])
    | \$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3}(?![\w.(])
    | (?P<name>[^\W\d]|\\)(?P<rest>[\w.\\?]*)
    | [0-9][\w.]*
    """,
    re.VERBOSE,
)
_WORDS = {"true", "false"}


class Mentions(NamedTuple):
    """What a formula speaks of, in lower case.

    Attributes:
        sheets: Sheets named before a ``!``; first and last of a run of sheets.
        tables: Tables named before a ``[``.
        names: Defined names.
        texts: Quoted texts, from which INDIRECT may make a reference.
        runs: First and last sheet of a run of sheets, as in ``SUM(first:last!A1)``.
    """

    sheets: frozenset[str]
    tables: frozenset[str]
    names: frozenset[str]
    texts: frozenset[str]
    runs: frozenset[tuple[str, str]] = frozenset()


class Going(NamedTuple):
    """Sheets that are to leave a workbook; names in lower case lead to names as written.

    Attributes:
        sheets: The sheets.
        tables: Tables on them, each with its sheet.
        order: All tabs in their order, in lower case.
    """

    sheets: Mapping[str, str]
    tables: Mapping[str, str]
    order: Sequence[str]

    def between(self, first: str, last: str) -> str:
        """Return the first of the sheets in a run of tabs; '' for none."""
        if first not in self.order or last not in self.order:
            return ""
        ends = sorted((self.order.index(first), self.order.index(last)))
        run = self.order[ends[0] : ends[1] + 1]
        return next((self.sheets[tab] for tab in run if tab in self.sheets), "")


def mentions(formula: str) -> Mentions:
    """Return what `formula` speaks of.

    >>> sorted(mentions("SUM('25-0001'!A1,Jobs!B:B)+rate*Job_25_0001[Amount]").sheets)
    ['25-0001', 'jobs']
    """
    sheets: set[str] = set()
    tables: set[str] = set()
    names: set[str] = set()
    texts: set[str] = set()
    runs: set[tuple[str, str]] = set()
    for found in _TOKEN.finditer(formula):
        sheet = found["quoted"] or found["bare"]
        if sheet:
            parts = sheet.replace("''", "'").lower().split(":")
            sheets.update(parts)
            runs |= {(parts[0], parts[-1])} if parts[1:] else set()
        elif found["table"]:
            tables.add(found["table"].lower())
        elif found["text"]:
            texts.add(found["text"].replace('""', '"').lower())
        elif found["name"]:
            names.add((found["name"] + found["rest"]).lower())
    return Mentions(
        frozenset(sheets),
        frozenset(tables),
        frozenset(names - _WORDS),
        frozenset(texts),
        frozenset(runs),
    )


def without_sheets(formula: str, names: Collection[str], tables: Collection[str]) -> str:
    """Return `formula` with ``#REF!`` for what meant one of these sheets or tables.

    >>> without_sheets("SUM('25-0001'!$A$1:$A$9)+Jobs!B2", {"25-0001"}, ())
    'SUM(#REF!)+Jobs!B2'
    """
    sheets = {name.lower() for name in names}

    def settled(found: re.Match[str]) -> str:
        sheet = found["quoted"] or found["bare"]
        if sheet:
            own = {part.lower() for part in sheet.replace("''", "'").split(":")}
            return "#REF!" if own & sheets else found[0]
        if found["table"] and found["table"].lower() in tables:
            return "#REF!"
        return found[0]

    return _TOKEN.sub(settled, formula)


def speaks_of(formula: str, going: Going) -> str:
    """Return the sheet that a formula means, of those that go; '' for none.

    A text that holds a sheet's address, as INDIRECT reads it, counts.
    """
    if "!" not in formula and "[" not in formula:
        return ""
    said = mentions(formula)
    quoted = [mentions(text) for text in said.texts if "!" in text or "[" in text]
    sheets = said.sheets.union(*(text.sheets for text in quoted)) & going.sheets.keys()
    tables = said.tables.union(*(text.tables for text in quoted)) & going.tables.keys()
    found = [going.sheets[sheet] for sheet in sheets] + [going.tables[table] for table in tables]
    found += [going.between(*run) for run in said.runs]
    return min(filter(None, found), default="")
