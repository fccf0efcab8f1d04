"""What in a workbook speaks of its sheets from outside the cells, and where an owner sees it."""

import re
from collections.abc import Collection, Iterator
from html import unescape
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import main
from ledger_tools.book.parts.outside import Slot, may_speak_of_sheets, slots, without_cells
from ledger_tools.book.parts.references import read_area
from ledger_tools.book.parts.relations import Relation
from ledger_tools.book.parts.workbook import Tab, Workbook
from ledger_tools.shop.snapshot import address

_HELD = frozenset(
    {
        *("drawing", "chart", "chartEx", "chartUserShapes", "ctrlProp", "vmlDrawing", "table"),
        *("pivotTable", "pivotCacheDefinition"),
    }
)
"""Kinds of relationship that lead from a sheet to parts that may speak of others."""
_OLD_CONTROL = re.compile(rb"<x:ClientData.*?</x:ClientData>", re.DOTALL)
_OLD_FORMULA = re.compile(rb"<x:Fmla\w+>([^<]+)<")
_OLD_ANCHOR = re.compile(rb"<x:Anchor>\s*(\d+),\s*\d+,\s*(\d+)")
_MOST_DIGITS = 7
_INNERMOST_FIRST = (
    ("sparkline", "A sparkline"),
    ("dataValidation", "A choice (data validation)"),
    ("cfRule", "A mark (conditional format)"),
    ("tableColumn", "A computed column of a table"),
    ("control", "A control"),
    ("formControlPr", "A control"),
    ("chartSpace", "A chart"),
    ("sp", "A shape"),
    ("cxnSp", "A shape"),
    ("pic", "A picture"),
    ("graphicFrame", "A chart"),
)


class Carrier(NamedTuple):
    """Something that speaks of sheets.

    Attributes:
        sheet: The sheet it stands on; empty for what belongs to the whole book.
        cell: Where on it; empty where that is not known.
        what: What it is, in the owner's words.
        text: What it says, as a formula.
    """

    sheet: str
    cell: str
    what: str
    text: str


def carriers(workbook: Workbook, gone: Collection[str]) -> Iterator[Carrier]:
    """Yield what speaks of sheets outside the cells, names included.

    Args:
        workbook: The file.
        gone: Sheets in lower case that do not count, as they leave.
    """
    yield from _names(workbook, gone)
    for tab in workbook.tabs:
        if tab.name.lower() not in gone:
            yield from _Tab(workbook, tab).carriers(tab.part, Carrier(tab.name, "", "", ""))


def _names(workbook: Workbook, gone: Collection[str]) -> Iterator[Carrier]:
    for defined in workbook.package.root(workbook.part).iter(main("definedName")):
        scope = defined.get("localSheetId", "")
        sheet = next((t.name for n, t in enumerate(workbook.tabs) if str(n) == scope), "")
        name = defined.get("name", "").replace("_xlnm.Print_", "Print ")
        if sheet.lower() not in gone:
            yield Carrier(sheet, "", f"The name '{name}'", defined.text or "")


class _Tab:
    """One sheet, with the parts that hang on it."""

    def __init__(self, workbook: Workbook, tab: Tab) -> None:
        self.package = workbook.package
        self.tab = tab
        self._seen: set[str] = set()

    def carriers(self, part: str, known: Carrier) -> Iterator[Carrier]:
        """Yield what a part and those that hang on it say.

        Args:
            part: The part.
            known: What and where it is, as far as the part that leads to it tells.
        """
        self._seen.add(part)
        content = self.package.read(part)
        root = None
        if part.lower().endswith(".vml"):
            yield from _old_controls(content, known)
        elif may_speak_of_sheets(content):
            root = markup.parse(without_cells(content), self.package.file, part)
            for slot in slots(root):
                cell = _cell(slot) or known.cell
                yield Carrier(self.tab.name, cell, _what(slot) or known.what, slot.text)
        for relation in self.package.relations(part):
            if relation.kind == "hyperlink" and part != self.tab.part:
                link = relation.target.rpartition("#")[2]
                yield known._replace(what="A link of a shape", text=link)
            elif self._leads_on(relation):
                root = self.package.root(part) if root is None else root
                yield from self._further(root, relation, known)

    def _leads_on(self, relation: Relation) -> bool:
        target = relation.target
        if relation.external or relation.kind not in _HELD or target in self._seen:
            return False
        plain = relation.kind == "table"  # most sheets have one, and few a formula in it
        there = self.package.has(target)
        return there and not (plain and not may_speak_of_sheets(self.package.read(target)))

    def _further(
        self, root: etree._Element, relation: Relation, known: Carrier
    ) -> Iterator[Carrier]:
        if relation.kind == "pivotCacheDefinition":
            yield from self._source(self.package.root(relation.target), known)
            return
        place = known.cell or _place_of(root, relation.id)
        if relation.kind == "pivotTable":
            location = self.package.root(relation.target).find(main("location"))
            place = "" if location is None else location.get("ref", "").partition(":")[0]
        yield from self.carriers(relation.target, known._replace(cell=place))

    def _source(self, cache: etree._Element, known: Carrier) -> Iterator[Carrier]:
        """Yield where a pivot table takes its rows from."""
        for source in cache.iter(main("worksheetSource"), main("rangeSet")):
            if source.get(markup.RELATION_ID) is None:
                sheet = source.get("sheet", "").replace("'", "''")
                text = f"'{sheet}'!{source.get('ref', '')}" if sheet else ""
                if source.get("name"):
                    text += f" {source.get('name')}[]"
                yield known._replace(what="A pivot table", text=text)


def _old_controls(content: bytes, known: Carrier) -> Iterator[Carrier]:
    """Yield what controls say as Excel 2007 stores them."""
    for control in _OLD_CONTROL.findall(content):
        anchor = _OLD_ANCHOR.search(control)
        cell = _at(anchor[2].decode(), anchor[1].decode()) if anchor else ""
        for said in _OLD_FORMULA.findall(control):
            text = unescape(said.decode("utf-8", "replace"))
            yield known._replace(cell=cell, what="A control", text=text)


def _what(slot: Slot) -> str:
    above = [etree.QName(e).localname for e in (slot.element, *slot.element.iterancestors())]
    return next((what for name, what in _INNERMOST_FIRST if name in above), "")


def _cell(slot: Slot) -> str:
    """Return the first cell of what a formula is for: of a rule's range, or under an anchor."""
    for element in (slot.element, *slot.element.iterancestors()):
        written = element.get("sqref") or element.findtext(f"{{{markup.EXCEL_MAIN}}}sqref")
        area = read_area(written.split()[0]) if written and written.split() else None
        if area:
            return address(area.first_row, area.first_col)
        corner = _corner(element)
        if corner:
            return corner
    return ""


def _place_of(root: etree._Element, relation_id: str) -> str:
    """Return the cell at which a part that `root` leads to is shown."""
    for element in root.iter("{*}chart", "{*}control"):
        if element.get(markup.RELATION_ID) == relation_id:
            above = (*element.iter("*"), *element.iterancestors())
            return next(filter(None, map(_corner, above)), "")
    return ""


def _corner(anchor: etree._Element) -> str:
    """Return the cell at the upper left of an anchor; '' for another element."""
    start = anchor.find("{*}from")
    if start is None:
        start = anchor.find("{*}anchor/{*}from")
    if start is None:
        return ""
    row, col = (start.findtext(f"{{*}}{tag}") or "" for tag in ("row", "col"))
    return _at(row, col) if row and col else ""


def _at(row: str, col: str) -> str:
    """Return the address of a row and column counted from 0; '' where they are none."""
    known = all(n.isdecimal() and len(n) <= _MOST_DIGITS for n in (row, col))
    return address(int(row) + 1, int(col) + 1) if known else ""


def tables_with_slicers(workbook: Workbook) -> set[str]:
    """Return the ids of the tables that slicers filter, wherever these stand."""
    package = workbook.package
    return {
        cache.get("tableId", "")
        for part in package.related(workbook.part, "slicerCache")
        for cache in package.root(part).iter("{*}tableSlicerCache")
    }
