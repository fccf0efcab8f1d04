"""References that cover all rows of a table, and grow with it wherever they stand.

A spreadsheet program extends a reference to a whole column of a table when a row is typed under
the table. A reference to some of the rows stays as it is.
"""

import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import main
from ledger_tools.book.parts.outside import Slot, slots
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.references import Area, read_area
from ledger_tools.book.parts.sheet import Sheet
from ledger_tools.book.parts.workbook import Tab, Workbook
from ledger_tools.shop.snapshot import Place

_REFERENCE = re.compile(
    r"""
    "(?:[^"]|"")*" | \[(?:[^\[\]]|\[[^\[\]]*\])*\]
    | (?:(?P<sheet>'(?:[^']|'')+'|(?<![\w.\\:\]'])[^\W\d][\w.]*)!|(?<![\w.\\$:!\]']))
      (?P<area>\$?[A-Za-z]{1,3}\$?[1-9][0-9]*:\$?[A-Za-z]{1,3}\$?[1-9][0-9]*)(?![\w.(!:])
    """,
    re.VERBOSE,
)
_RUNNING = re.compile(r"\$?[A-Za-z]+\$[0-9]+:\$?[A-Za-z]+[0-9]+")
_FIXED = re.compile(r"\$?[A-Za-z]+\$[0-9]+:\$?[A-Za-z]+\$[0-9]+")
_OFFICE_TYPE = "application/vnd.openxmlformats-officedocument"
_CHARTS = (f"{_OFFICE_TYPE}.drawingml.chart+xml", "application/vnd.ms-office.chartex+xml")
_PIVOTS = f"{_OFFICE_TYPE}.spreadsheetml.pivotCacheDefinition+xml"
_CONTROLS = "application/vnd.ms-excel.controlproperties+xml"
_PRINT_AREA = "_xlnm.print_area"


class Growth(NamedTuple):
    """A table that got more rows.

    Attributes:
        sheet: Name on the tab.
        area: Headers and rows as they were.
        last_row: Its last row now.
    """

    sheet: str
    area: Area
    last_row: int

    def covered_by(self, area: Area) -> bool:
        """Return whether `area` is all rows of some columns, with the headers or without."""
        return (
            area.last_row == self.area.last_row
            and area.first_row in {self.area.first_row, self.area.first_row + 1}
            and self.area.first_col <= area.first_col
            and area.last_col <= self.area.last_col
        )

    def ends_with(self, area: Area) -> bool:
        """Return whether `area` ends in the last row, and has a column of the table."""
        beside = area.last_col < self.area.first_col or area.first_col > self.area.last_col
        return area.last_row == self.area.last_row and not beside


Fits = Callable[[Growth, Area, str], bool]
"""Whether a reference, which is also given as it is written, grows with a table."""


def covers(growth: Growth, area: Area, _: str) -> bool:
    """Return whether a reference is one to all rows of some columns."""
    return growth.covered_by(area)


def stretched(
    formula: str, growths: Sequence[Growth], *, here: str = "", fits: Fits = covers
) -> str:
    """Return `formula` with the references grown that cover the rows of a table which grew.

    Args:
        formula: As it is written.
        growths: The tables that grew.
        here: The sheet that a reference without a sheet's name means.
        fits: Which references grow.

    >>> stretched("SUM(Jobs!E5:E9)-Jobs!E9", [Growth("Jobs", Area(4, 1, 9, 6), 12)])
    'SUM(Jobs!E5:E12)-Jobs!E9'
    """

    def grown(found: re.Match[str]) -> str:
        area = read_area(found["area"]) if found["area"] else None
        sheet = (found["sheet"] or here).strip("'").replace("''", "'").lower()
        for growth in growths if area else ():
            if growth.sheet.lower() == sheet and area and fits(growth, area, found["area"]):
                return f"{found[0].removesuffix(str(area.last_row))}{growth.last_row}"
        return found[0]

    return _REFERENCE.sub(grown, formula)


def follow(workbook: Workbook, growths: Sequence[Growth], opened: Callable[[Tab], Sheet]) -> None:
    """Have what covers the tables that grew cover their new rows.

    That is formulas in cells, which lose their computed value then, marks, choices, sparklines,
    names, charts, sources of pivot tables and lists of controls. No other part is touched.

    Args:
        workbook: The file, its tables grown already.
        growths: The tables.
        opened: Returns a sheet, to change it.
    """
    if not growths:
        return
    package = workbook.package
    _follow_names(workbook, growths)
    _follow_parts(package, growths)
    for tab in workbook.cell_tabs():
        content = package.read(tab.part)
        own = [growth for growth in growths if growth.sheet == tab.name]
        if _may_refer(content, growths, b"!") or (own and _may_refer(content, own)):
            _follow_sheet(opened(tab), growths)


def _may_refer(content: bytes, growths: Sequence[Growth], before: bytes = b"") -> bool:
    """Return whether something in a part looks like a reference that may grow.

    Args:
        content: The part.
        growths: The tables.
        before: What has to stand before it.
    """
    last_rows = {str(growth.area.last_row).encode() for growth in growths}
    if not any(row in content for row in last_rows):
        return False
    rows = frozenset((growth.area.first_row, growth.area.last_row) for growth in growths)
    return _pattern(rows, before).search(content) is not None


@lru_cache(maxsize=4)
def _pattern(rows: frozenset[tuple[int, int]], before: bytes) -> re.Pattern[bytes]:
    ranges = "|".join(
        rf"(?:{first}|{first + 1}):\$?[A-Za-z]{{1,3}}\$?{last}(?![0-9])"
        for first, last in sorted(rows)
    )
    return re.compile(before + rb"\$?[A-Za-z]{1,3}\$?(?:" + ranges.encode() + rb")")


def _follow_names(workbook: Workbook, growths: Sequence[Growth]) -> None:
    """Grow names; a print area also where it begins above the table, as with its title."""
    wanted = {}
    names = workbook.package.root(workbook.part).iterfind(f"{main('definedNames')}/*")
    for position, defined in enumerate(names):
        printed = defined.get("name", "").lower() == _PRINT_AREA
        text = defined.text or ""
        new = stretched(text, growths, fits=_ends_there if printed else covers)
        if new != text:
            wanted[position] = new
    workbook.restate(wanted)


def _ends_there(growth: Growth, area: Area, _: str) -> bool:
    return growth.ends_with(area)


def _follow_parts(package: Package, growths: Sequence[Growth]) -> None:
    """Grow what stands in parts of their own: series of charts, pivot sources, lists."""
    kinds = {**dict.fromkeys((*_CHARTS, _CONTROLS), _follow_slots), _PIVOTS: _follow_pivot}
    for kind, change in kinds.items():
        for part in package.parts_of_type(kind):
            if _may_refer(package.read(part), growths):
                root = package.root(part)
                if change(root, growths):
                    package.write(part, markup.serialise(root))


def _follow_pivot(root: etree._Element, growths: Sequence[Growth]) -> bool:
    changed = False
    for source in root.iter(main("worksheetSource"), main("rangeSet")):
        area = read_area(source.get("ref", ""))
        if source.get(markup.RELATION_ID):  # the source is a sheet of another file
            continue
        for growth in growths:
            if area and growth.sheet == source.get("sheet") and growth.covered_by(area):
                source.set("ref", str(area.ending(growth.last_row)))
                changed = True
    return changed


def _follow_sheet(sheet: Sheet, growths: Sequence[Growth]) -> None:
    def read(place: Place, formula: str) -> str:
        def fits(growth: Growth, area: Area, written: str) -> bool:
            if growth.sheet == sheet.name:
                # A sum down to each row ends here in every row; none may come to sum itself.
                running = place[0] == area.last_row and _RUNNING.fullmatch(written)
                if running or place in area.ending(growth.last_row):
                    return False
            return growth.covered_by(area)

        return stretched(formula, growths, here=sheet.name, fits=fits)

    changed = sheet.rewrite(read)
    for slot in slots(sheet.root):
        changed |= _restate(slot, growths, sheet.name, covers if _is_sparkline(slot) else _fixed)
    _follow_columns(sheet, growths)
    if changed:
        sheet.save()


def _is_sparkline(slot: Slot) -> bool:
    parent = slot.element.getparent()
    return parent is not None and etree.QName(parent).localname.startswith("sparkline")


def _fixed(growth: Growth, area: Area, written: str) -> bool:
    """Return whether a reference covers the rows, and does so from every cell of a rule."""
    return growth.covered_by(area) and _FIXED.fullmatch(written) is not None


def _follow_columns(sheet: Sheet, growths: Sequence[Growth]) -> None:
    """Grow references in the formulas that tables keep for their columns."""
    for part in sheet.package.related(sheet.part, "table"):
        if _may_refer(sheet.package.read(part), growths):
            root = sheet.package.root(part)
            if _follow_slots(root, growths, sheet.name):
                sheet.package.write(part, markup.serialise(root))


def _follow_slots(root: etree._Element, growths: Sequence[Growth], here: str = "") -> bool:
    """Grow references that stand in no cell; return whether there were any."""
    changed = [_restate(slot, growths, here, covers) for slot in slots(root)]
    return any(changed)


def _restate(slot: Slot, growths: Sequence[Growth], here: str, fits: Fits) -> bool:
    new = stretched(slot.text, growths, here=here, fits=fits)
    if new == slot.text:
        return False
    slot.put(new)
    return True
