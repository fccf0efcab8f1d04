"""Sheets of another workbook taken into this one: cells, formats, tables and all they refer to."""

import re
from collections.abc import Mapping, Sequence
from copy import deepcopy
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import PartUnfitError, main, whole_number
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.relations import Relation
from ledger_tools.book.parts.storing import store
from ledger_tools.book.parts.styles import StyleMap
from ledger_tools.book.parts.workbook import Tab, Workbook
from ledger_tools.errors import BookChangedError, BookUnreadableError, NotWritableError
from ledger_tools.shop.plan import AddSheet, Content
from ledger_tools.shop.snapshot import Place, address

_SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"
TABLE_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.table+xml"
_NUMBERED = re.compile(r"[0-9]*(\.[A-Za-z0-9]+)?$")
_C, _F, _V, _IS = main("c"), main("f"), main("v"), main("is")
_NONE: Mapping[Place, Content] = {}


class Taken(NamedTuple):
    """A sheet to be taken over from one workbook into another.

    Attributes:
        tab: The sheet in the workbook it comes from.
        name: Name it gets.
        after: Name of the sheet to stand right of; empty for the right end.
    """

    tab: Tab
    name: str
    after: str


def take_sheets(target: Workbook, source: Workbook, taken: Sequence[Taken]) -> list[str]:
    """Take sheets of the workbook `source` into `target` and return the parts they got.

    Args:
        target: Book that gets the sheets.
        source: Book that has them, and keeps them.
        taken: Which sheets, in the order they are taken over.

    Raises:
        BookChangedError: The sheet to stand after is not there.
        NotWritableError: There is a sheet of that name already, or the list of sheets is locked.
    """
    try:
        return _taken_over(target, source, taken)
    except PartUnfitError as error:
        # A number or reference in a part that nobody needed until now, such as one of a format.
        raise BookUnreadableError(
            source.package.file,
            f"a part of the file holds what cannot be understood ({error})",
            "Open the file in your spreadsheet program and save it again, or use the last backup",
        ) from error


def _taken_over(target: Workbook, source: Workbook, taken: Sequence[Taken]) -> list[str]:
    target.refuse_locked()
    before = len(target.cell_tabs())
    grafter = _Grafter(source, target)
    indexes = {tab.name: index for index, tab in enumerate(source.tabs)}
    parts = []
    for sheet in taken:
        index = indexes[sheet.tab.name]
        position = _position(target, sheet.name, sheet.after)
        part = grafter.sheet(sheet.tab)
        target.insert(position, sheet.name, part)
        grafter.names(index, position)
        parts.append(part)
    grafter.persons()
    grafter.styles.save()
    target.list_titles(before)
    return parts


def graft(target: Workbook, adds: Sequence[AddSheet], drawn: bytes) -> None:
    """Take the sheets of the workbook `drawn` into `target`.

    Each stands right after the sheet it names, the first that names a sheet nearest to it.

    Args:
        target: Book that gets the sheets.
        adds: What each sheet of `drawn` is, in the order of its tabs.
        drawn: A workbook that holds just these sheets.

    Raises:
        BookChangedError: The sheet to stand after is not there.
        NotWritableError: There is a sheet of that name already, or the list of sheets is locked.
        RuntimeError: Other sheets were drawn than asked for, a fault of the program.
    """
    if not adds:
        return
    target.refuse_locked()
    source = Workbook(Package(drawn, "new sheets"))
    if len(source.tabs) != len(adds):
        raise RuntimeError(f"{len(adds)} sheets were asked for and {len(source.tabs)} drawn")
    before = len(target.cell_tabs())
    grafter = _Grafter(source, target)
    last_after: dict[str, str] = {}
    for index, (add, tab) in enumerate(zip(adds, source.tabs, strict=True)):
        position = _position(target, add.name, last_after.get(add.after, add.after))
        last_after[add.after] = add.name
        part = grafter.sheet(tab._replace(name=add.name), add.contents)
        target.insert(position, add.name, part)
        grafter.names(index, position)
    grafter.styles.save()
    target.list_titles(before)


def _position(target: Workbook, name: str, after: str) -> int:
    """Return where in the row of tabs a new sheet is to stand."""
    names = [tab.name for tab in target.tabs]
    if name.lower() in {there.lower() for there in names}:
        raise NotWritableError(
            f"{target.package.file}, sheet '{name}'",
            "a sheet of this name is to be added, but there is one already",
            "Rename the one that is there, save and try again",
        )
    if not after:
        return len(names)
    if after not in names:
        raise BookChangedError(
            f"{target.package.file}, sheet '{after}'",
            "the sheet is not there any more",
            "Run the command again",
        )
    return names.index(after) + 1


class _Grafter:
    """What the sheets of one workbook have in common when they are taken over."""

    def __init__(self, source: Workbook, target: Workbook) -> None:
        self.source = source
        self.target = target
        self.styles = StyleMap(source, target)
        texts = source.single("sharedStrings")
        self._texts = list(source.package.root(texts).iterchildren(main("si"))) if texts else []
        self._copied: dict[str, str] = {}
        self._renamed: dict[str, str] = {}
        self._threads = False
        self._last_table = 0
        self._taken = {name.lower() for name in target.names()}
        for part in target.package.parts_of_type(TABLE_TYPE):
            attributes = target.package.root_attributes(part)
            self._last_table = max(self._last_table, whole_number(attributes.get("id", "0")))
            self._taken.add(attributes.get("displayName", "").lower())

    def sheet(self, tab: Tab, contents: Mapping[Place, Content] = _NONE) -> str:
        """Take over one sheet and return the part it got.

        Args:
            tab: The sheet in the source.
            contents: What is put into its cells where that is a formula.
        """
        package = self.target.package
        root = self.source.package.tree(tab.part)
        for view in root.iterfind(f"{main('sheetViews')}/{main('sheetView')}"):
            view.attrib.pop("tabSelected", "")
        self._restyle(root)
        for cell in root.iter(_C):
            self._write_out(cell)
        self._put_formulas(root, tab.name, contents)
        folder = self.target.part.rpartition("/")[0]
        part = package.add(f"{folder}/worksheets/sheet{{}}.xml".lstrip("/"), b"", _SHEET_TYPE)
        self._renamed = {}
        self._take_relations(tab.part, part)
        self._rename_in_formulas(root)
        package.write(part, markup.serialise(root))
        return part

    def names(self, index: int, position: int) -> None:
        """Take over the names that belong to the sheet `index` of the source."""
        root = self.source.package.root(self.source.part)
        for name in root.iterfind(f"{main('definedNames')}/{main('definedName')}"):
            if name.get("localSheetId") == str(index):
                attributes = {str(k): str(v) for k, v in name.attrib.items() if k != "name"}
                attributes["localSheetId"] = str(position)
                self.target.define(name.get("name", ""), name.text or "", attributes)

    def persons(self) -> None:
        """Take over who wrote in threads of comments, where a sheet brought such threads."""
        own = self.source.single("person")
        if not own or not self._threads:
            return
        there = self.target.single("person")
        package = self.target.package
        if not there:
            source = self.source.package
            there = package.add(
                "xl/persons/person{}.xml", source.read(own), source.content_type(own)
            )
            type_of = next(
                r.type for r in source.relations(self.source.part) if r.kind == "person"
            )
            made = Relation(f"rIdPersons{len(there)}", type_of, there, external=False)
            package.add_relation(self.target.part, made)
            return
        root = package.edit(there)
        known = {person.get("id") for person in root}
        for person in self.source.package.root(own):
            if person.get("id") not in known:
                root.append(deepcopy(person))

    def _restyle(self, root: etree._Element) -> None:
        """Number the formats as the target does."""
        attributes = {main("c"): "s", main("row"): "s", main("col"): "style"}
        for element in root.iter(*attributes):
            attribute = attributes[str(element.tag)]
            old = element.get(attribute)
            if old is None and element.tag != _C:
                continue
            new = self.styles.cell(whole_number(old or "0"))
            if new or old:
                element.set(attribute, str(new))
        for rule in root.iter(main("cfRule")):
            if rule.get("dxfId"):
                number = whole_number(rule.get("dxfId", "0"))
                rule.set("dxfId", str(self.styles.difference(number)))

    def _write_out(self, cell: etree._Element) -> None:
        """Store the text of a cell in the cell itself."""
        value = cell.find(_V)
        if cell.get("t") != "s" or value is None:
            return
        number = whole_number(value.text or "0")
        if not 0 <= number < len(self._texts):
            raise PartUnfitError(f"there is no text {number}")
        cell.remove(value)
        cell.set("t", "inlineStr")
        text = etree.SubElement(cell, _IS)
        text.extend(deepcopy(child) for child in self._texts[number])

    def _put_formulas(
        self, root: etree._Element, name: str, contents: Mapping[Place, Content]
    ) -> None:
        """Put the formulas among `contents` into the cells drawn for them."""
        formulas = {address(*p): c for p, c in contents.items() if c.formula is not None}
        for cell in root.iter(_C) if formulas else ():
            content = formulas.pop(cell.get("r", ""), None)
            if content is not None:
                for child in list(cell):
                    cell.remove(child)
                cell.attrib.pop("t", "")
                etree.SubElement(cell, _F).text = content.formula
                where = f"{self.target.package.file}, sheet '{name}', cell {cell.get('r')}"
                store(cell, content.value, where, computed=True)
        if formulas:
            raise RuntimeError(f"no cells were drawn for {sorted(formulas)} of '{name}'")

    def _take_relations(self, old: str, new: str) -> None:
        """Give the part `new` copies of all that the part `old` of the source refers to."""
        for relation in self.source.package.relations(old):
            taken = relation
            self._threads |= relation.kind == "threadedComment"
            if not relation.external:
                take = self._table if relation.kind == "table" else self._copy
                taken = Relation(relation.id, relation.type, take(relation.target), external=False)
            self.target.package.add_relation(new, taken)

    def _copy(self, part: str) -> str:
        """Take over a part as it is, with all that it refers to."""
        if part not in self._copied:
            source = self.source.package
            pattern = _NUMBERED.sub(r"{}\1", part, count=1)
            new = self.target.package.add(pattern, source.read(part), source.content_type(part))
            self._copied[part] = new
            self._take_relations(part, new)
        return self._copied[part]

    def _table(self, part: str) -> str:
        """Take over a table, with a number and a name that no other table has."""
        root = self.source.package.tree(part)
        self._last_table += 1
        root.set("id", str(self._last_table))
        wanted = root.get("displayName", "")
        name, number = wanted, 2
        while name.lower() in self._taken:
            name, number = f"{wanted}_{number}", number + 1
        self._taken.add(name.lower())
        if name != wanted:
            self._renamed[wanted] = name
        root.set("name", name)
        root.set("displayName", name)
        for element in root.iter("*"):
            for attribute, value in element.attrib.items():
                if str(attribute).endswith("DxfId"):
                    element.set(attribute, str(self.styles.difference(whole_number(str(value)))))
        self._rename_in_formulas(root)
        folder = self.target.part.rpartition("/")[0]
        pattern = f"{folder}/tables/table{{}}.xml".lstrip("/")
        return self.target.package.add(pattern, markup.serialise(root), TABLE_TYPE)

    def _rename_in_formulas(self, root: etree._Element) -> None:
        """Have formulas of the sheet speak of its tables by the names they got."""
        for old, new in self._renamed.items():
            spoken = re.compile(rf"(?<![\w.\\]){re.escape(old)}\[", re.IGNORECASE)
            tags = ("f", "formula", "formula1", "formula2", "calculatedColumnFormula")
            for element in root.iter(*map(main, tags)):
                if element.text:
                    element.text = spoken.sub(f"{new}[", element.text)
