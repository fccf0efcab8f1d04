"""The owner's workbook merged into a shop book, part by part, by the tests' own hand.

Sheets that both have keep what the shop book has there; what the owner's has beside is put in.
"""

import posixpath
from copy import deepcopy

from lxml import etree

from tests.torture.package import CONTENT_TYPES, RELATION_ID, TYPES, WORKBOOK, Parts, main, rels_of

ORDER = (
    *("sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData"),
    *("sheetProtection", "autoFilter", "mergeCells", "conditionalFormatting", "dataValidations"),
    *("hyperlinks", "printOptions", "pageMargins", "pageSetup", "headerFooter", "rowBreaks"),
    *("drawing", "legacyDrawing", "legacyDrawingHF", "AlternateContent", "tableParts", "extLst"),
)
"""Children of a sheet in schema order (ECMA-376 Part 1, 18.3.1.99), those the tests know."""
_STYLES = "xl/styles.xml"
_STRINGS = "xl/sharedStrings.xml"
_OWN = "own_"
_LISTS = ("fonts", "fills", "borders", "cellXfs", "dxfs")
_COUNTED = {"fontId": "fonts", "fillId": "fills", "borderId": "borders"}
_FIRST_OWN_FORMAT = 164
_FORMATS_APART = 500
_RULES_APART = 100
_NOT_TAKEN = {"worksheet", "chartsheet", "theme", "styles", "sharedStrings"}
_PUT_IN = {"conditionalFormatting", "drawing", "legacyDrawing", "legacyDrawingHF", "extLst"}
_TITLES = "http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes"


class Merge:
    """One owner's workbook on its way into one shop book.

    Args:
        shop: Parts of the shop book; they are changed.
        owner: Parts of the owner's workbook.
    """

    def __init__(self, shop: Parts, owner: Parts) -> None:
        self.shop = shop
        self.owner = owner
        self._moved = {
            part: posixpath.join(posixpath.dirname(part), _OWN + posixpath.basename(part))
            for part in owner
            if part.startswith("xl/") and part not in {WORKBOOK, _STYLES, _STRINGS}
            if "/theme/" not in part and not part.endswith(".rels")
        }
        self._offsets = self._take_styles()
        self._strings = self._take_strings()

    def run(self, *, first: str) -> None:
        """Merge everything; the sheet `first` comes before all others, the rest at the end."""
        ours = self.shop.sheets()
        for name, part in self.owner.sheets().items():
            root = self.owner.root(part)
            self._renumber(root)
            if name in ours:
                self._put_on(ours[name], root, part)
                continue
            target = self._moved[part]
            self.shop.put(target, root)
            self._take_links(part, target)
            self._list(name, target, root, front=name == first)
        self._copy_parts(ours)
        for link in self.owner.links(WORKBOOK):
            if link.kind not in _NOT_TAKEN:
                self.shop.relate(WORKBOOK, link.type, self._moved[link.target])
        self._take_names(ours)
        list_titles(self.shop)

    def _take_styles(self) -> dict[str, int]:
        """Append the owner's formats to ours; return how many of each list there were."""
        ours, theirs = self.shop.root(_STYLES), self.owner.root(_STYLES)
        there = {name: len(_list_of(ours, name)) for name in _LISTS}
        formats = _list_of(ours, "numFmts")
        for number in theirs.iterfind(f"{main('numFmts')}/*"):
            number.set("numFmtId", str(int(number.get("numFmtId", "0")) + _FORMATS_APART))
            formats.append(number)
        for name in _LISTS:
            held = _list_of(ours, name)
            for element in _list_of(theirs, name):
                for attribute, counted in _COUNTED.items():
                    if name == "cellXfs":
                        moved = int(element.get(attribute, "0")) + there[counted]
                        element.set(attribute, str(moved))
                if name == "cellXfs" and int(element.get("numFmtId", "0")) >= _FIRST_OWN_FORMAT:
                    moved = int(element.get("numFmtId", "0")) + _FORMATS_APART
                    element.set("numFmtId", str(moved))
                element.attrib.pop("xfId", "")
                held.append(element)
            held.set("count", str(len(held)))
        formats.set("count", str(len(formats)))
        self.shop.put(_STYLES, ours)
        return there

    def _take_strings(self) -> int:
        ours = self.shop.root(_STRINGS)
        there = len(ours)
        ours.extend(self.owner.root(_STRINGS))
        ours.attrib.pop("count", "")
        ours.set("uniqueCount", str(len(ours)))
        self.shop.put(_STRINGS, ours)
        return there

    def _renumber(self, root: etree._Element) -> None:
        """Number formats, texts and rules of a sheet as the shop book does."""
        for element in root.iter(main("c"), main("row"), main("col")):
            name = "style" if element.tag == main("col") else "s"
            if element.get(name) is not None or element.tag == main("c"):
                moved = int(element.get(name, "0")) + self._offsets["cellXfs"]
                element.set(name, str(moved))
        for cell in root.iter(main("c")):
            value = cell.find(main("v"))
            if cell.get("t") == "s" and value is not None:
                value.text = str(int(value.text or "0") + self._strings)
        for rule in root.iter(main("cfRule")):
            rule.set("priority", str(int(rule.get("priority", "1")) + _RULES_APART))
            if rule.get("dxfId"):
                rule.set("dxfId", str(int(rule.get("dxfId", "0")) + self._offsets["dxfs"]))

    def _copy_parts(self, ours: dict[str, str]) -> None:
        """Take over every other part as it is, tables with a number of their own."""
        sheets = self.owner.sheets()
        types = {
            d.get("PartName", ""): d.get("ContentType", "") for d in self.owner.root(CONTENT_TYPES)
        }
        for declared in self.owner.root(CONTENT_TYPES).iter(f"{{{TYPES}}}Default"):
            ending, kind = declared.get("Extension", ""), declared.get("ContentType", "")
            self.shop.declare_ending(ending, kind)
        for part, moved in self._moved.items():
            if part in {sheets[name] for name in ours if name in sheets}:
                continue
            if moved not in self.shop:
                self.shop[moved] = self._table(part) if "/tables/" in part else self.owner[part]
            if part not in sheets.values():
                self._take_links(part, moved)
            if f"/{part}" in types:
                self.shop.declare(moved, types[f"/{part}"])

    def _table(self, part: str) -> bytes:
        root = self.owner.root(part)
        root.set("id", str(9000 + int(root.get("id", "0"))))
        return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)

    def _take_links(self, old: str, new: str) -> None:
        """Give the part `new` the relationships of `old`, to where their targets are now."""
        name = rels_of(old)
        if name in self.owner:
            root = self.owner.root(name)
            for element, link in zip(root, self.owner.links(old), strict=True):
                if link.target in self._moved:
                    element.set("Target", f"/{self._moved[link.target]}")
            self.shop.put(rels_of(new), root)

    def _put_on(self, part: str, own: etree._Element, old: str) -> None:
        """Put what the owner's sheet `own` holds on the shop book's sheet `part`."""
        root = self.shop.root(part)
        ids = {
            link.id: self.shop.relate(part, link.type, self._moved[link.target])
            for link in self.owner.links(old)
        }
        for element in own.iter("{*}drawing", "{*}legacyDrawing", "{*}legacyDrawingHF"):
            element.set(RELATION_ID, ids[element.get(RELATION_ID, "")])
        for child in own:
            tag = etree.QName(child).localname
            if tag == "sheetData":
                _put_cells(root, child)
            elif tag == "dataValidations":
                _join(root, child)
            elif tag == "headerFooter":
                _replace(root, child)
            elif tag in _PUT_IN:
                insert(root, deepcopy(child))
        self.shop.put(part, root)

    def _list(self, name: str, part: str, root: etree._Element, *, front: bool) -> None:
        """List a sheet in the workbook; a sheet in front moves all that count tabs."""
        book = self.shop.root(WORKBOOK)
        sheets = book.find(main("sheets"))
        assert sheets is not None
        kind = etree.QName(root).localname
        relation = self.shop.relate(WORKBOOK, kind, part)
        element = etree.Element(main("sheet"))
        element.set("name", name)
        element.set("sheetId", str(max(int(s.get("sheetId", "0")) for s in sheets) + 1))
        element.set(RELATION_ID, relation)
        sheets.insert(0 if front else len(sheets), element)
        for defined in book.iter(main("definedName")) if front else ():
            if defined.get("localSheetId"):
                defined.set("localSheetId", str(int(defined.get("localSheetId", "0")) + 1))
        self.shop.put(WORKBOOK, book)

    def _take_names(self, ours: dict[str, str]) -> None:
        """Define the owner's names, those of a sheet for the place it stands at now."""
        old, new = list(self.owner.sheets()), list(self.shop.sheets())
        book = self.shop.root(WORKBOOK)
        names = book.find(main("definedNames"))
        assert names is not None
        for defined in self.owner.root(WORKBOOK).iter(main("definedName")):
            scope = defined.get("localSheetId")
            if scope is not None:
                if old[int(scope)] in ours:
                    continue
                defined.set("localSheetId", str(new.index(old[int(scope)])))
            names.append(deepcopy(defined))
        self.shop.put(WORKBOOK, book)


def _list_of(styles: etree._Element, name: str) -> etree._Element:
    found = styles.find(main(name))
    if found is None:
        found = etree.Element(main(name))
        styles.insert(0 if name == "numFmts" else len(styles), found)
    return found


def insert(root: etree._Element, child: etree._Element) -> None:
    """Insert a child of a sheet where the schema wants it, after others of its kind."""
    rank = ORDER.index(etree.QName(child).localname)
    later = (other for other in root if ORDER.index(etree.QName(other).localname) > rank)
    after = next(later, None)
    if after is None:
        root.append(child)
    else:
        after.addprevious(child)


def _join(root: etree._Element, own: etree._Element) -> None:
    there = root.find(str(own.tag))
    if there is None:
        insert(root, deepcopy(own))
        return
    there.extend(deepcopy(list(own)))
    there.set("count", str(len(there)))


def _replace(root: etree._Element, own: etree._Element) -> None:
    there = root.find(str(own.tag))
    if there is not None:
        root.remove(there)
    insert(root, deepcopy(own))


def _put_cells(root: etree._Element, own: etree._Element) -> None:
    """Put the owner's cells in the rows of ours; none may be there already."""
    for row in own:
        there = row_of(root, int(row.get("r", "0")))
        for key in ("ht", "customHeight"):
            if row.get(key) and there.get(key) is None:
                there.set(key, row.get(key, ""))
        for cell in row:
            put_cell(there, deepcopy(cell))


def row_of(root: etree._Element, number: int) -> etree._Element:
    """Return a row of a sheet, made where it is not there yet."""
    data = root.find(main("sheetData"))
    assert data is not None
    for row in data:
        if int(row.get("r", "0")) >= number:
            if int(row.get("r", "0")) == number:
                return row
            new = etree.Element(main("row"), {"r": str(number)})
            row.addprevious(new)
            return new
    return etree.SubElement(data, main("row"), {"r": str(number)})


def put_cell(row: etree._Element, cell: etree._Element) -> None:
    """Put a cell into its place in a row; an empty one that is there goes."""
    row.attrib.pop("spans", "")
    where = _column(cell)
    for other in row:
        if _column(other) >= where:
            if _column(other) == where:
                assert not len(other), etree.tostring(other)
                row.replace(other, cell)
            else:
                other.addprevious(cell)
            return
    row.append(cell)


def _column(cell: etree._Element) -> tuple[int, str]:
    letters = cell.get("r", "").rstrip("0123456789")
    return len(letters), letters


def list_titles(parts: Parts) -> None:
    """List the sheets of cells in the file's description, as they stand now."""
    part = "docProps/app.xml"
    root = parts.root(part)
    headings, titles = root.iter(f"{{{_TITLES}}}vector")
    count = headings[1][0]
    named = list(titles)[int(count.text or "0") :]
    sheets = [n for n, p in parts.sheets().items() if "chartsheet" not in p]
    count.text = str(len(sheets))
    for old in list(titles):
        titles.remove(old)
    for name in sheets:
        etree.SubElement(titles, f"{{{_TITLES}}}lpstr").text = name
    titles.extend(named)
    titles.set("size", str(len(titles)))
    parts.put(part, root)
