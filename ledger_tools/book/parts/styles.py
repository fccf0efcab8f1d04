"""Cell formats carried from one workbook into another, each added only if it is not there yet."""

from copy import deepcopy

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import PartUnfitError, main, whole_number
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.workbook import Workbook

_ORDER = (
    *("numFmts", "fonts", "fills", "borders", "cellStyleXfs", "cellXfs", "cellStyles", "dxfs"),
    *("tableStyles", "colors", "extLst"),
)
_PARTS = {"fontId": "fonts", "fillId": "fills", "borderId": "borders"}
_FIRST_OWN_NUMBER_FORMAT = 164
"""Smaller numbers are number formats every program knows: ECMA-376 Part 1, 18.8.30, numFmt."""
_BARE = (
    f'<styleSheet xmlns="{markup.MAIN}">'
    '<fonts count="1"><font><sz val="11"/><name val="Calibri"/></font></fonts>'
    '<fills count="2"><fill><patternFill patternType="none"/></fill>'
    '<fill><patternFill patternType="gray125"/></fill></fills>'
    '<borders count="1"><border><left/><right/><top/><bottom/><diagonal/></border></borders>'
    '<cellStyleXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0"/></cellStyleXfs>'
    '<cellXfs count="1"><xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"/></cellXfs>'
    '<cellStyles count="1"><cellStyle name="Normal" xfId="0" builtinId="0"/></cellStyles>'
    "</styleSheet>"
).encode()
_STYLES_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"


class StyleMap:
    """Numbers of formats of one workbook, as they are in another that takes them in.

    Args:
        source: Workbook the formats come from.
        target: Workbook they are carried into.
    """

    def __init__(self, source: Workbook, target: Workbook) -> None:
        self._source = _styles(source.package, source.single("styles"))
        self._part = target.single("styles")
        if not self._part:
            self._part = target.package.add("xl/styles{}.xml", _BARE, _STYLES_TYPE)
            target.package.relate(target.part, "styles", self._part)
        self._package = target.package
        self._target = target.package.root(self._part)
        self._changed = False
        self._known: dict[str, dict[bytes, int]] = {}
        self._cells: dict[int, int] = {}
        self._differences: dict[int, int] = {}

    def cell(self, number: int) -> int:
        """Return the number in the target of the cell format `number` of the source."""
        if number not in self._cells:
            self._cells[number] = self._format(number, "cellXfs")
        return self._cells[number]

    def difference(self, number: int) -> int:
        """Return the number in the target of a partial format (of a rule or a table column)."""
        if number not in self._differences:
            own = self._child(self._source, "dxfs", number)
            fresh = deepcopy(own)
            for number_format in fresh.iterfind(main("numFmt")):
                known = self._number_format(
                    whole_number(number_format.get("numFmtId", "0")), number_format
                )
                number_format.set("numFmtId", str(known))
            self._differences[number] = self._place("dxfs", fresh)
        return self._differences[number]

    def save(self) -> None:
        """Put the formats into the target workbook, if there are new ones."""
        if self._changed:
            self._package.write(self._part, markup.serialise(self._target))

    def _format(self, number: int, collection: str) -> int:
        """Return the number in the target of an ``xf``."""
        fresh = deepcopy(self._child(self._source, collection, number))
        for attribute, parts in _PARTS.items():
            if attribute in fresh.attrib:
                part = self._child(self._source, parts, whole_number(fresh.get(attribute, "0")))
                fresh.set(attribute, str(self._place(parts, deepcopy(part))))
        if "numFmtId" in fresh.attrib:
            known = self._number_format(whole_number(fresh.get("numFmtId", "0")), None)
            fresh.set("numFmtId", str(known))
        if collection == "cellXfs" and "xfId" in fresh.attrib:
            fresh.set("xfId", str(self._named_style(whole_number(fresh.get("xfId", "0")))))
        return self._place(collection, fresh)

    def _named_style(self, number: int) -> int:
        """Return the base format in the target that has the same name as in the source."""
        own = self._source.find(f"{main('cellStyles')}/{main('cellStyle')}[@xfId='{number}']")
        if own is None or own.get("builtinId") == "0":
            return 0
        for other in self._target.iterfind(f"{main('cellStyles')}/{main('cellStyle')}"):
            if other.get("name") == own.get("name"):
                return whole_number(other.get("xfId", "0"))
        fresh = deepcopy(own)
        based_on = self._format(number, "cellStyleXfs")
        fresh.set("xfId", str(based_on))
        self._place("cellStyles", fresh)
        return based_on

    def _number_format(self, number: int, written: etree._Element | None) -> int:
        """Return the number in the target of a number format, found by its code."""
        if number < _FIRST_OWN_NUMBER_FORMAT and written is None:
            return number
        path = f"{main('numFmts')}/{main('numFmt')}"
        own = self._source.find(f"{path}[@numFmtId='{number}']") if written is None else written
        if own is None:
            return 0
        ids = [_FIRST_OWN_NUMBER_FORMAT - 1]
        for other in self._target.iter(main("numFmt")):
            if other.get("formatCode") == own.get("formatCode"):
                return whole_number(other.get("numFmtId", "0"))
            ids.append(whole_number(other.get("numFmtId", "0")))
        if written is not None and number < _FIRST_OWN_NUMBER_FORMAT:
            return number
        fresh = deepcopy(own)
        fresh.set("numFmtId", str(max(ids) + 1))
        self._place("numFmts", fresh)
        return max(ids) + 1

    def _place(self, collection: str, fresh: etree._Element) -> int:
        """Return the position of `fresh` in a collection of the target, added if it is new."""
        held = self._target.find(main(collection))
        if held is None:
            held = etree.Element(main(collection))
            markup.insert_ordered(self._target, held, _ORDER)
        known = self._known.get(collection)
        if known is None:
            known = self._known[collection] = {}
            for position, element in enumerate(held.iterchildren("*")):
                known.setdefault(_plain(element), position)
        key = _plain(fresh)
        if key not in known:
            known[key] = len(held)
            held.append(fresh)
            held.set("count", str(len(held)))
            self._changed = True
        return known[key]

    def _child(self, root: etree._Element, collection: str, number: int) -> etree._Element:
        held = root.find(main(collection))
        if held is None or not 0 <= number < len(held):
            raise PartUnfitError(f"no {collection} {number}")
        return held[number]


def _styles(package: Package, part: str) -> etree._Element:
    return package.root(part) if part else markup.parse(_BARE, package.file, "styles")


def _plain(element: etree._Element) -> bytes:
    """Return what an element says, whatever prefixes and spaces it is written with."""
    copy = deepcopy(element)
    copy.tail = None
    return etree.tostring(copy, method="c14n", exclusive=True)
