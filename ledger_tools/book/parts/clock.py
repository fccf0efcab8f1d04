"""Cells that a spreadsheet program made into clock times, because `1:30` was typed in them."""

import re
from copy import deepcopy

from ledger_tools.book.parts.markup import main
from ledger_tools.book.parts.workbook import Workbook

_CLOCK_TIMES = frozenset({"18", "19", "20", "21", "45", "46", "47"})
"""Number formats of times that every program knows: ECMA-376 Part 1, 18.8.30, numFmt."""
_NOT_A_PLACE = re.compile(r'"[^"]*"|\\.|\[\$[^\]]*\]|_.|\*.')
"""What a number format shows as it stands: quoted text, single letters, a locale, blanks."""


class PlainNumbers:
    """Formats that show plain numbers in the place of those that show clock times.

    Ninety minutes in a cell that shows clock times read as 0:00 in one program and as ### in
    another.
    """

    def __init__(self, workbook: Workbook) -> None:
        self._package = workbook.package
        self._part = workbook.single("styles")
        self._clocks: frozenset[str] | None = None
        self._plain: dict[str, str] = {}

    def style(self, style: str) -> str:
        """Return the number of a format like `style`; itself where it shows no clock time."""
        if self._clocks is None:
            self._clocks = self._found() if self._part else frozenset()
        if style not in self._clocks:
            return style
        if style not in self._plain:
            self._plain[style] = self._added(int(style))
        return self._plain[style]

    def _found(self) -> frozenset[str]:
        root = self._package.root(self._part)
        own = root.iterfind(f"{main('numFmts')}/{main('numFmt')}")
        clocks = {f.get("numFmtId") for f in own if is_clock_time(f.get("formatCode", ""))}
        formats = root.iterfind(f"{main('cellXfs')}/{main('xf')}")
        return frozenset(
            str(position)
            for position, cell in enumerate(formats)
            if cell.get("numFmtId") in clocks | _CLOCK_TIMES
        )

    def _added(self, position: int) -> str:
        formats = self._package.edit(self._part).find(main("cellXfs"))
        if formats is None:
            return str(position)
        plain = deepcopy(formats[position])
        plain.set("numFmtId", "0")
        formats.append(plain)
        formats.set("count", str(len(formats)))
        return str(len(formats) - 1)


def is_clock_time(code: str) -> bool:
    r"""Whether a number format shows hours or seconds and no day.

    >>> (
    ...     is_clock_time(r"hh:mm:ss\ AM/PM"),
    ...     is_clock_time("[h]:mm"),
    ...     is_clock_time("yyyy-mm-dd hh:mm"),
    ... )
    (True, True, False)
    >>> is_clock_time('0.0" hours"'), is_clock_time("General"), is_clock_time("[Red]0.00")
    (False, False, False)
    """
    bare = _NOT_A_PLACE.sub("", code).casefold().replace("general", "")
    bare = re.sub(r"\[(?!h+\]|m+\]|s+\])[^\]]*\]", "", bare)
    return bool(set("hs") & set(bare)) and not set("yd") & set(bare)
