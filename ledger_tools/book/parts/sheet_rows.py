"""The rows of a sheet that is being changed; those that nobody looks at stay the bytes they are.

A register has thousands of rows, and a change meets a few: only those become trees.
"""

import re
from bisect import bisect_right, insort
from typing import NamedTuple, cast

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import PartUnfitError, main, whole_number

_ROW = main("row")
_GROUPING = etree.XPath("m:row[m:c/m:f/@t]", namespaces={"m": markup.MAIN})
_GROUPED = re.compile(rb'<f [^<>]*\bt="')
_OPEN = re.compile(rb'<row((?: [A-Za-z_][\w:.-]*="[^"<>]*")*) ?(/?)>')
_NUMBER = re.compile(rb' r="([1-9][0-9]{0,6})"')
_ROOT = re.compile(rb"(?:<\?xml [^<>]*\?>\s*)?(<worksheet(?: [^<>]*)?>)")
_BEGIN, _END, _EMPTY, _ROW_END = b"<sheetData>", b"</sheetData>", b"<sheetData/>", b"</row>"


class SheetRows:
    """The rows of one sheet, in the order of their numbers.

    Args:
        content: The part of the sheet.
        file: Name of the file, for messages.
        part: Name of the part, for messages.

    Attributes:
        root: The sheet; rows that nobody has looked at are not in it.
        numbers: The numbers of all rows, in order.

    Raises:
        BookUnreadableError: The part is no XML.
        PartUnfitError: There are no rows, or two of one number.
    """

    def __init__(self, content: bytes, file: str, part: str) -> None:
        self._named = file, part
        self._trees: dict[int, etree._Element] = {}
        apart = _apart(content)
        self._start = apart.start if apart else b""
        self._bytes = apart.rows if apart else {}
        self.root = markup.parse(apart.shell if apart else content, file, part)
        data = self.root.findall(main("sheetData"))
        if len(data) != 1:
            raise PartUnfitError("it does not have its rows in one place")
        self._data = data[0]
        self._number_trees()
        self._looked_at = sorted(self._trees)
        self.numbers = sorted(self._bytes) if apart else list(self._looked_at)

    def get(self, number: int) -> etree._Element | None:
        """Return a row, or None if there is none of that number."""
        if number in self._bytes:
            row = self._bytes.pop(number)
            sheet = b"".join((self._start, _BEGIN, row, _END, b"</worksheet>"))
            self._put(number, markup.parse(sheet, *self._named)[0][0])
        return self._trees.get(number)

    def make(self, number: int) -> etree._Element:
        """Return a row, a new one if there is none of that number."""
        there = self.get(number)
        if there is None:
            there = etree.Element(_ROW)
            there.set("r", str(number))
            self._put(number, there)
            insort(self.numbers, number)
        return there

    def grouped(self) -> list[int]:
        """Return the numbers of the rows with formulas that belong to several cells."""
        for number in [n for n, row in self._bytes.items() if _GROUPED.search(row)]:
            self.get(number)
        rows = cast("list[etree._Element]", _GROUPING(self._data))  # noqa: SLF001 - its only name
        return [whole_number(row.get("r", "0")) for row in rows]

    def content(self) -> bytes:
        """Return the part with all that was changed."""
        plain = markup.serialise(self.root)
        if not self._bytes:
            return plain
        head, opened, rest = plain.partition(_BEGIN if self._trees else _EMPTY)
        body, _, tail = rest.partition(_END) if self._trees else (b"", b"", rest)
        written = _numbered(body) if opened else None
        if written is None:
            for number in list(self._bytes):
                self.get(number)
            return markup.serialise(self.root)
        rows = self._bytes | written
        return b"".join((head, _BEGIN, *(rows[n] for n in self.numbers), _END, tail))

    def _put(self, number: int, row: etree._Element) -> None:
        """Put a row into the tree, in order."""
        later = bisect_right(self._looked_at, number)
        if later < len(self._looked_at):
            self._trees[self._looked_at[later]].addprevious(row)
        else:
            self._data.append(row)
        self._looked_at.insert(later, number)
        self._trees[number] = row

    def _number_trees(self) -> None:
        number = 0
        for row in self._data.iterchildren(_ROW):
            number = whole_number(row.get("r") or str(number + 1))
            if number in self._trees:
                raise PartUnfitError(f"row {number} is there twice")
            row.set("r", str(number))
            self._trees[number] = row


class _Apart(NamedTuple):
    """A sheet and its rows apart.

    Attributes:
        start: The tag the sheet begins with; names of its namespaces stand there.
        shell: The sheet without rows.
        rows: The rows by number, in order.
    """

    start: bytes
    shell: bytes
    rows: dict[int, bytes]


def _apart(content: bytes) -> _Apart | None:
    """Return a sheet and its rows apart; None where it is not written as it usually is."""
    head, opened, rest = content.partition(_BEGIN)
    body, closed, tail = rest.partition(_END)
    root = _ROOT.match(head)
    usual = markup.is_utf8(head) and b"<!" not in content and b"<?" not in rest
    if not (opened and closed and root and usual):
        return None
    rows = _numbered(body)
    return None if rows is None else _Apart(root[1], head + _EMPTY + tail, rows)


def _numbered(body: bytes) -> dict[int, bytes] | None:
    """Return the rows in the text of ``sheetData`` by number; None where one is not as usual."""
    rows: dict[int, bytes] = {}
    at = number = 0
    while at < len(body):
        found = _OPEN.match(body, at)
        named = _NUMBER.search(found[1]) if found else None
        if not found or not named or int(named[1]) <= number:
            return None
        number, end = int(named[1]), found.end()
        if not found[2]:
            end = body.find(_ROW_END, end) + len(_ROW_END)
            if end < len(_ROW_END):
                return None
        rows[number] = body[at:end]
        at = end
    return rows
