"""The parts of a workbook file as its list tells them; unfit names are refused."""

import re
from collections.abc import Collection
from typing import NamedTuple

from ledger_tools.book.parts.archive import Entry, read_entries
from ledger_tools.errors import BookUnreadableError

TYPES_PART = "[Content_Types].xml"
_FIT = re.compile(r"(?:[\w\[][\w\[\]. -]*/)*[\w\[][\w\[\]. -]*", re.ASCII)
"""Names of parts as they usually are; others are looked at piece by piece."""
_SAVED_AGAIN = "Open it in your spreadsheet program and save it as an Excel workbook (.xlsx)"


class Known(NamedTuple):
    """What is known of the parts of a file: by name, by name in small letters, of their roots."""

    entries: dict[str, Entry]
    spelling: dict[str, str]
    attributes: dict[str, dict[str, str]]


def listed(content: bytes, file: str) -> Known:
    """Return the parts of a file as its list tells them."""
    known = Known({}, {}, {})
    for entry in read_entries(content, file):
        _refuse_name(entry.name, known.spelling, file)
        known.entries[entry.name] = entry
        known.spelling[entry.name.lower()] = entry.name
    if TYPES_PART.lower() not in known.spelling:
        raise BookUnreadableError(file, "this is not an Excel workbook", _SAVED_AGAIN)
    return known


def _refuse_name(name: str, known: Collection[str], file: str) -> None:
    """Refuse a name that means a place outside the package, or a part twice."""
    if name.lower() in known:
        what = f"the file has the part '{name}' twice"
    elif _FIT.fullmatch(name):
        return
    else:
        steps = name.removesuffix("/").split("/")
        odd = "\\" in name or ":" in name or not name.isprintable()
        if not odd and not any(step in {"", ".", ".."} for step in steps):
            return
        what = f"a part of the file has the unfit name {name!r}"
    raise BookUnreadableError(file, what, _SAVED_AGAIN)
