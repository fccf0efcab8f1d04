"""The list of sheets and names in a file's description of itself, where it holds one.

No program needs it to open the file; file managers show it. A list that is none, or that was not
right before, is let be.
"""

import re
from collections.abc import Collection, Iterator, Sequence

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import whole_number

_PAIR = 2
_BARE = re.compile(r"[^\W\d]\w*")


def lists_sheets(root: etree._Element, before: int) -> bool:
    """Return whether a description lists sheets, and counts `before` of them."""
    found = _vectors(root)
    if len(found) < _PAIR or len(found[0]) < _PAIR or len(found[1]) < before:
        return False
    return (found[0][1].findtext("*") or "") == str(before)


def name_title(name: str, sheet: str) -> str:
    """Return how a name is listed, with the sheet it belongs to.

    >>> name_title("_xlnm.Print_Titles", "25-0001")
    "'25-0001'!Print_Titles"
    """
    plain = name.removeprefix("_xlnm.")
    if not sheet:
        return plain
    return f"{sheet if _BARE.fullmatch(sheet) else _quoted(sheet)}!{plain}"


class Listing:
    """The list under change: titles one after another, and headings that count them."""

    def __init__(self, root: etree._Element) -> None:
        self.headings, self.titles = _vectors(root)

    def put_sheets(self, before: int, names: Sequence[str]) -> None:
        """Have the first `before` titles, which are sheets of cells, read like `names`."""
        self._count(1, len(names))
        for old in list(self.titles)[:before]:
            self.titles.remove(old)
        for position, name in enumerate(names):
            self._insert(position, name)

    def drop_names_of(self, sheets: Collection[str]) -> None:
        """Drop the names that belong to sheets which are gone."""
        prefixes = tuple(f"{start}!" for name in sheets for start in (_quoted(name), name))
        for heading, listed in self._names() if sheets else ():
            dropped = [title for title in listed if (title.text or "").startswith(prefixes)]
            for title in dropped:
                self.titles.remove(title)
            self._count(heading, len(listed) - len(dropped))

    def add_names(self, names: Sequence[str], added: Collection[str]) -> None:
        """List new names, where all others are listed.

        Args:
            names: All names of the book.
            added: Those of them that are new.
        """
        old = sorted(_plain(name) for name in names if name not in added)
        for heading, listed in self._names() if added else ():
            if sorted(_plain(title.text or "") for title in listed) == old:
                last = list(self.titles).index(listed[-1]) if listed else len(self.titles) - 1
                new = [name for name in names if name in added]
                for position, name in enumerate(new, last + 1):
                    self._insert(position, name)
                self._count(heading, len(listed) + len(new))
                return

    def _names(self) -> Iterator[tuple[int, list[etree._Element]]]:
        """Yield the titles below each heading but that of the sheets, with its place."""
        at = 0
        for heading in range(1, len(self.headings), _PAIR):
            said = self.headings[heading].findtext("*") or ""
            if not said.isdecimal():
                return
            listed = list(self.titles)[at : at + whole_number(said)]
            if heading > 1:
                yield heading, listed
            at += whole_number(self.headings[heading].findtext("*") or "0")

    def _count(self, heading: int, number: int) -> None:
        count = self.headings[heading].find("*")
        if count is not None:
            count.text = str(number)
        self.titles.set("size", str(len(self.titles)))

    def _insert(self, position: int, text: str) -> None:
        title = etree.Element(f"{{{markup.VARIANTS}}}lpstr")
        title.text = text
        self.titles.insert(position, title)
        self.titles.set("size", str(len(self.titles)))


def _vectors(root: etree._Element) -> list[etree._Element]:
    vector = f"{{{markup.VARIANTS}}}vector"
    found = (
        root.find(f"{{{markup.EXTENDED}}}{tag}/{vector}")
        for tag in ("HeadingPairs", "TitlesOfParts")
    )
    return [each for each in found if each is not None]


def _quoted(sheet: str) -> str:
    return "'" + sheet.replace("'", "''") + "'"


def _plain(title: str) -> str:
    """Return a title without the marks around a sheet's name, which not all programs set."""
    return title.replace("'", "").lower()
