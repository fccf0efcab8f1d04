"""Whether a book that was written differs from the old one in what was planned, and only there.

Each function returns what it did not expect; an empty list means that all is as it should be.
"""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from lxml import etree
from openpyxl.formula.translate import Translator

from ledger_tools.shop.plan import AddSheet, GrowTable, Plan, SetCell
from ledger_tools.shop.snapshot import Place, address
from tests.torture.merge import insert
from tests.torture.package import WORKBOOK, Parts, canonical, main

_PLACE = re.compile(r"([A-Z]+)([0-9]+)")
_GROWS = ("fonts", "fills", "borders", "numFmts", "cellXfs", "cellStyleXfs", "cellStyles", "dxfs")
_BY_CELLS = {"sheets", "definedNames", "bookViews", "calcPr"}
_AREA = tuple[int, int, int, int]


@dataclass
class Planned:
    """What a verb planned for one book, in the order it was carried out.

    Attributes:
        cells: Cells that are set, by sheet and place; the last word counts.
        grown: Tables that got rows.
        stale: Formulas that lose their computed values.
        added: New sheets.
        removed: Names of sheets that go.
    """

    cells: dict[str, dict[Place, SetCell]] = field(default_factory=dict)
    grown: list[GrowTable] = field(default_factory=list)
    stale: dict[str, set[Place]] = field(default_factory=dict)
    added: list[AddSheet] = field(default_factory=list)
    removed: set[str] = field(default_factory=set)

    def note(self, plan: Plan, stale: Iterable[tuple[str, Iterable[Place]]]) -> None:
        """Take a plan in."""
        for name, places in stale:
            self.stale.setdefault(name, set()).update(places)
        for op in plan.operations:
            if isinstance(op, SetCell):
                self.cells.setdefault(op.sheet, {})[op.row, op.col] = op
            elif isinstance(op, GrowTable):
                self.grown.append(op)
            elif isinstance(op, AddSheet):
                self.added.append(op)
            else:
                self.removed.add(op.sheet)

    def touches(self) -> set[str]:
        """Return the sheets, of those that stay, on which anything is planned."""
        grown = {op.sheet for op in self.grown}
        stale = {name for name, places in self.stale.items() if places}
        return ({*self.cells, *grown} | stale) - self.removed


def place_of(where: str) -> Place:
    """Return row and column of an address."""
    found = _PLACE.fullmatch(where.replace("$", ""))
    assert found, where
    col = 0
    for letter in found[1]:
        col = col * 26 + ord(letter) - 64
    return int(found[2]), col


def _area(text: str) -> _AREA:
    first, _, last = text.partition(":")
    return (*place_of(first), *place_of(last or first))


def _written(area: _AREA) -> str:
    first, last = address(*area[:2]), address(*area[2:])
    return first if first == last else f"{first}:{last}"


def cells_of(root: etree._Element) -> dict[Place, etree._Element]:
    """Return the cells of a sheet by place."""
    return {place_of(c.get("r", "")): c for c in root.iter(main("c"))}


def meaning(cell: etree._Element | None, texts: Sequence[str]) -> tuple[object, str | None]:
    """Return what a cell shows and its formula, read from the markup alone."""
    if cell is None:
        return None, None
    formula, value = cell.find(main("f")), cell.find(main("v"))
    kind, said = cell.get("t", "n"), None if value is None else value.text or ""
    shown: object = said
    if kind == "inlineStr":
        shown = "".join(t.text or "" for t in cell.iter(main("t")))
    elif said is not None and kind == "s":
        shown = texts[int(said)]
    elif kind == "n":
        shown = float(said) if said else None
    return shown, None if formula is None else formula.text


def texts_of(parts: Parts) -> list[str]:
    """Return the shared texts of a book."""
    part = next(iter(parts.related(WORKBOOK, "sharedStrings")), "")
    items = parts.root(part).iterchildren(main("si")) if part else ()
    return ["".join(t.text or "" for t in item.iter(main("t"))) for item in items]


def sheet_differences(before: Parts, after: Parts, name: str, planned: Planned) -> list[str]:
    """Return where the sheet `name` differs from the old one and was not planned to."""
    old, new = before.sheet(name), after.sheet(name)
    found = [f"{name}: namespaces"] if old.nsmap != new.nsmap else []
    found += [f"{name}: {said}" for said in _out_of_order(new)]
    tables = [t for t in planned.grown if t.sheet == name]
    areas = dict(_table(before, part) for part in _tables(before, name))
    found += _settle_growth(old, new, [(areas[t.table], t) for t in tables])
    found += _settle_going_on(old, new, tables)
    _cover(old, name, _growths(before, planned))
    found += _settle_cells(old, new, planned.cells.get(name, {}), texts_of(after))
    found += _settle_rows(old, new, tables)
    _forget(old, planned.stale.get(name, set()) - planned.cells.get(name, {}).keys())
    _link(old, planned.cells.get(name, {}))
    _reach(old, new)
    _unname(old, planned)
    return [*found, *(f"{name}: {said}" for said in _unlike(old, new))]


def _unname(root: etree._Element, planned: Planned) -> None:
    """Let rules and charts lose the sheets that go."""
    for element in root.iter("{*}f", "{*}formula", "{*}formula1", "{*}formula2"):
        parent = element.getparent()
        if parent is not None and parent.tag != main("c"):
            for name in planned.removed:
                gone = re.sub(rf"'{re.escape(name)}'![$A-Z0-9:]+", "#REF!", element.text or "")
                element.text = gone


def chart_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where charts differ other than by the sheets that went."""
    found = []
    for part in before:
        if "/charts/" in part and part in after:
            root = before.root(part)
            _unname(root, planned)
            _cover(root, "", _growths(before, planned))
            found += [part] if canonical(root) != canonical(after.root(part)) else []
    return found


def _tables(parts: Parts, name: str) -> list[str]:
    return parts.related(parts.sheets()[name], "table")


def _table(parts: Parts, part: str) -> tuple[str, _AREA]:
    root = parts.root(part)
    return root.get("displayName", ""), _area(root.get("ref", ""))


def grown_area(area: _AREA, table: _AREA, growth: GrowTable) -> _AREA:
    """Return a range as it is once a table has grown: it grows if it ended where the table did."""
    beside = area[3] < table[1] or area[1] > table[3]
    if area[2] != growth.last_row or beside:
        return area
    return (*area[:2], growth.last_row + growth.rows, area[3])


def _out_of_order(root: etree._Element) -> list[str]:
    """Return rows and cells that do not stand in their order."""
    numbers = [int(row.get("r", "0")) for row in root.iter(main("row"))]
    places = [place_of(cell.get("r", "")) for cell in root.iter(main("c"))]
    found = [] if numbers == sorted(set(numbers)) else ["rows out of order"]
    return found if places == sorted(set(places)) else [*found, "cells out of order"]


def _settle_growth(
    old: etree._Element, new: etree._Element, grown: Sequence[tuple[_AREA, GrowTable]]
) -> list[str]:
    """Let the old sheet grow as planned; take the formatted, empty cells out of the new one."""
    found: list[str] = []
    for area, growth in grown:
        for holder, key in _ranges(old):
            text = (holder.get(key) if key else holder.text) or ""
            wider = " ".join(_written(grown_area(_area(a), area, growth)) for a in text.split())
            if key:
                holder.set(key, wider)
            else:
                holder.text = wider
        there, now = cells_of(old), cells_of(new)
        rows = range(growth.last_row + 1, growth.last_row + growth.rows + 1)
        for row in rows:
            for col in range(area[1], area[3] + 1):
                model, cell = there.get((growth.last_row, col)), now.get((row, col))
                if model is None or (row, col) in there:
                    continue
                if cell is None or cell.get("s", "0") != model.get("s", "0"):
                    found.append(f"{growth.sheet}!{address(row, col)}: not formatted")
                elif not len(cell):
                    _take(cell)
    return found


def _settle_going_on(
    old: etree._Element, new: etree._Element, grown: Sequence[GrowTable]
) -> list[str]:
    """Let columns of the owner's that compute go on in new rows, as another program moves them."""
    found = []
    there, now = cells_of(old), cells_of(new)
    for growth in grown:
        for col in growth.theirs:
            models = [r for (r, c), cell in there.items() if c == col and len(cell)]
            model = max((r for r in models if r <= growth.last_row), default=0)
            formula = there[model, col].findtext(main("f")) if model else None
            if not formula or formula.startswith("#"):
                continue
            for row in range(growth.last_row + 1, growth.last_row + growth.rows + 1):
                cell = now.get((row, col))
                said = Translator(f"={formula}", address(model, col)).translate_formula(
                    address(row, col)
                )
                if cell is None or f"={cell.findtext(main('f'))}" != said or len(cell) > 1:
                    found.append(f"{growth.sheet}!{address(row, col)}: not {said}")
                else:
                    _take(cell)
    return found


_Growth = tuple[str, _AREA, int]
_REFERENCE = re.compile(
    r"(?:(?P<sheet>'[^']+'|[A-Za-z]\w*)!|(?<![\w!:$]))"
    r"(?P<area>[$]?[A-Z]+[$]?\d+:[$]?[A-Z]+[$]?)(?P<last>\d+)(?![\d(])"
)


def _growths(before: Parts, planned: Planned) -> list[_Growth]:
    """Return the tables that grow: their sheet, where they stood and their last row now."""
    found = []
    for growth in planned.grown:
        if growth.sheet in before.sheets():
            tables = dict(_table(before, part) for part in _tables(before, growth.sheet))
            found.append((growth.sheet, tables[growth.table], growth.last_row + growth.rows))
    return found


def covering(formula: str, here: str, growths: Sequence[_Growth]) -> str:
    """Return a formula whose references to all rows of a table reach to its last row now."""

    def reach(found: re.Match[str]) -> str:
        sheet = (found["sheet"] or here).strip("'")
        area = _area(found["area"] + found["last"])
        for name, table, last in growths:
            inside = table[1] <= area[1] and area[3] <= table[3]
            whole = area[2] == table[2] and area[0] in {table[0], table[0] + 1}
            if sheet == name and inside and whole:
                return found[0].removesuffix(found["last"]) + str(last)
        return found[0]

    return _REFERENCE.sub(reach, formula)


def _cover(root: etree._Element, here: str, growths: Sequence[_Growth]) -> None:
    """Let formulas cover tables that grew; those in cells lose their values."""
    for element in root.iter("{*}f", "{*}formula", "{*}formula1", "{*}formula2"):
        new = covering(element.text or "", here, growths)
        parent = element.getparent()
        if new != (element.text or "") and parent is not None:
            element.text = new
            value = parent.find(main("v")) if parent.tag == main("c") else None
            if value is not None:
                parent.remove(value)
                parent.attrib.pop("t", "")


def _settle_rows(
    old: etree._Element, new: etree._Element, grown: Sequence[GrowTable]
) -> list[str]:
    """Take rows that a table got, and that hold nothing more, out of the new sheet."""
    found = []
    there = {row.get("r"): row for row in old.iter(main("row"))}
    for growth in grown:
        model = there.get(str(growth.last_row))
        for row in list(new.iter(main("row"))):
            number = int(row.get("r", "0"))
            inside = growth.last_row < number <= growth.last_row + growth.rows
            if inside and str(number) not in there and not len(row):
                if model is not None and row.get("ht") != model.get("ht"):
                    found.append(f"{growth.sheet}: height of row {number}")
                _take(row)
    return found


def _ranges(root: etree._Element) -> Iterator[tuple[etree._Element, str]]:
    """Yield what holds the ranges of a rule: an element and its attribute, '' for its text."""
    for element in root.iter(main("conditionalFormatting"), main("dataValidation")):
        yield element, "sqref"
    for element in root.iter("{*}sqref"):
        parent = element.getparent()
        if parent is not None and "parkline" not in str(parent.tag):
            yield element, ""


def _settle_cells(
    old: etree._Element,
    new: etree._Element,
    cells: dict[Place, SetCell],
    texts: Sequence[str],
) -> list[str]:
    """Take the planned cells out of both sheets after a look at what the new one holds there."""
    found = []
    there, now = cells_of(old), cells_of(new)
    for place, op in cells.items():
        before, cell = there.get(place), now.get(place)
        shown, formula = meaning(cell, texts)
        if (formula, _plain(shown)) != (op.new.formula, _plain(op.new.value)):
            found.append(f"{op.sheet}!{address(*place)}: {shown!r}, {formula!r}, not {op.new}")
        style = None if before is None else before.get("s", "0")
        if cell is not None and style not in (None, cell.get("s", "0")):
            found.append(f"{op.sheet}!{address(*place)}: format changed")
        for element in (before, cell):
            if element is not None:
                _take(element)
    return found


def _plain(value: object) -> object:
    if isinstance(value, int | float):
        return round(float(value), 9)
    return value or None


def _take(element: etree._Element) -> None:
    parent = element.getparent()
    assert parent is not None
    parent.remove(element)


def _forget(root: etree._Element, places: Iterable[Place]) -> None:
    cells = cells_of(root)
    for place in places:
        value = cells[place].find(main("v"))
        if value is not None:
            cells[place].remove(value)
            cells[place].attrib.pop("t", "")


def _link(root: etree._Element, cells: dict[Place, SetCell]) -> None:
    """Carry out the planned links on the old sheet."""
    for place, op in cells.items():
        if op.link is None:
            continue
        held = root.find(main("hyperlinks"))
        if held is None:
            held = etree.Element(main("hyperlinks"))
            insert(root, held)
        for link in list(held):
            if link.get("ref") == address(*place):
                held.remove(link)
        if op.link:
            shown = str(op.new.value)
            said = {"ref": address(*place), "location": op.link, "display": shown}
            etree.SubElement(held, main("hyperlink"), said)
        if not len(held):
            root.remove(held)


def _reach(old: etree._Element, new: etree._Element) -> None:
    """The used range may reach further; where rows begin and end is a hint and no more."""
    ranges = [root.find(main("dimension")) for root in (old, new)]
    if ranges[0] is not None and ranges[1] is not None:
        first, last = (_area(r.get("ref", "")) for r in ranges if r is not None)
        if all(a >= b for a, b in zip(first[:2], last[:2], strict=True)) and all(
            a <= b for a, b in zip(first[2:], last[2:], strict=True)
        ):
            ranges[0].set("ref", ranges[1].get("ref", ""))
    for root in (old, new):
        for row in root.iter(main("row")):
            row.attrib.pop("spans", "")


def _unlike(old: etree._Element, new: etree._Element) -> list[str]:
    """Return where two sheets say something else, rows one by one."""
    found = ["attributes"] if sorted(old.items()) != sorted(new.items()) else []
    for tag in ("sheetData", ""):
        pair = [_pieces(root, tag) for root in (old, new)]
        if [t for t, _ in pair[0]] != [t for t, _ in pair[1]]:
            found.append(f"{[t for t, _ in pair[0]]} became {[t for t, _ in pair[1]]}")
        found += [f"{a!r} became {b!r}" for (_, a), (_, b) in zip(*pair, strict=False) if a != b]
    return found


def _pieces(root: etree._Element, tag: str) -> list[tuple[str, bytes]]:
    holder = root.find(main(tag)) if tag else root
    assert holder is not None
    return [
        (f"{etree.QName(child).localname}{child.get('r', '')}", canonical(child))
        for child in holder
        if tag or child.tag != main("sheetData")
        if len(child) or child.tag != main("row") or child.get("ht")
    ]


def table_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where tables differ other than by the rows they were to get."""
    found = []
    for name, sheet in before.sheets().items():
        for part in before.related(sheet, "table") if name not in planned.removed else ():
            root = before.root(part)
            for growth in planned.grown:
                if growth.table == root.get("displayName"):
                    area = _area(root.get("ref", ""))
                    wider = _written(grown_area(area, area, growth))
                    for element in (root, *root.iterchildren(main("autoFilter"))):
                        element.set("ref", wider)
            if canonical(root) != canonical(after.root(part)):
                found.append(part)
    return found


def workbook_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where the list of sheets and names differs and was not planned to."""
    old, new = before.root(WORKBOOK), after.root(WORKBOOK)
    found = [] if old.nsmap == new.nsmap and old.attrib == new.attrib else ["root"]
    found += [f"{a!r} became {b!r}" for a, b in zip(_kept(old), _kept(new), strict=True) if a != b]
    if _order(before, planned) != list(after.sheets()):
        found.append(f"sheets: {list(after.sheets())}")
    if _listed(old, planned) != [s for s in _listed(new, Planned()) if s in _listed(old, planned)]:
        found.append("sheets: ids changed")
    names, now = names_of(before), names_of(after)
    expected = {key: _name_now(key[0], text, before, planned) for key, text in names.items()}
    expected = {(n, s): t for (n, s), t in expected.items() if s not in planned.removed}
    fresh = {op.name for op in planned.added}
    if {s for n, s in now if n == "_xlnm.Print_Titles" and s in fresh} != fresh:
        found.append("a new sheet has no row to repeat when printed")
    if expected != {(n, s): t for (n, s), t in now.items() if s not in fresh}:
        found.append(f"names: {sorted(expected.items() ^ now.items(), key=str)}")
    if _in_view(before) != _in_view(after):
        found.append(f"the tabs in view are {_in_view(after)}")
    settings = new.find(main("calcPr"))
    if settings is None or settings.get("fullCalcOnLoad") != "1":
        found.append("it does not ask to be computed")
    return found


def _kept(book: etree._Element) -> list[bytes]:
    return [canonical(c) for c in book if etree.QName(c).localname not in _BY_CELLS]


def _order(before: Parts, planned: Planned) -> list[str]:
    names = list(before.sheets())
    last: dict[str, str] = {}
    for op in planned.added:
        after = last.get(op.after, op.after)
        names.insert(names.index(after) + 1 if after else len(names), op.name)
        last[op.after] = op.name
    return [name for name in names if name not in planned.removed]


def _listed(book: etree._Element, planned: Planned) -> list[tuple[tuple[str, str], ...]]:
    sheets = book.iterfind(f"{main('sheets')}/*")
    return [
        tuple(sorted((str(k), str(v)) for k, v in sheet.attrib.items()))
        for sheet in sheets
        if sheet.get("name") not in planned.removed
    ]


def names_of(parts: Parts) -> dict[tuple[str, str], str]:
    """Return what names mean, by name and the sheet they belong to, '' for the whole book."""
    sheets = list(parts.sheets())
    return {
        (d.get("name", ""), "" if scope is None else sheets[int(scope)]): d.text or ""
        for d in parts.root(WORKBOOK).iter(main("definedName"))
        for scope in [d.get("localSheetId")]
    }


def _name_now(name: str, text: str, before: Parts, planned: Planned) -> str:
    """Return what a name means afterwards: a moved sheet is gone, a range may have grown."""
    for gone in planned.removed:
        text = re.sub(rf"'{re.escape(gone)}'![$A-Z0-9:]+", "#REF!", text)
    growths = _growths(before, planned)
    found = _REFERENCE.fullmatch(text) if name == "_xlnm.Print_Area" else None
    for sheet, table, last in growths if found else ():
        # A print area begins above the table, with the title.
        if found and found["sheet"].strip("'") == sheet and int(found["last"]) == table[2]:
            return text.removesuffix(found["last"]) + str(last)
    return covering(text, "", growths)


def _in_view(parts: Parts) -> list[str]:
    """Return the tab in view, and the first that is shown in the row of tabs."""
    sheets = list(parts.sheets())
    return [
        sheets[int(view.get(index, "0"))]
        for view in parts.root(WORKBOOK).iter(main("workbookView"))
        for index in ("activeTab", "firstSheet")
    ]


def style_differences(before: Parts, after: Parts) -> list[str]:
    """Return where formats that were there have changed; more of them may follow."""
    part = before.related(WORKBOOK, "styles")[0]
    old, new = before.root(part), after.root(part)
    found = []
    for held in old:
        tag = etree.QName(held).localname
        now = new.find(str(held.tag))
        if now is None:
            found.append(tag)
        elif tag in _GROWS:
            first = [canonical(c) for c in now][: len(held)]
            found += [tag] if first != [canonical(c) for c in held] else []
        elif canonical(held) != canonical(now):
            found.append(tag)
    return found


def title_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where the file's description says something else than other sheets of cells."""
    part = "docProps/app.xml"
    old, new = before.root(part), after.root(part)
    tags = ("HeadingPairs", "TitlesOfParts")
    kept = [[canonical(c) for c in r if etree.QName(c).localname not in tags] for r in (old, new)]
    listed = [[t.text for t in r.iterfind("{*}TitlesOfParts/*/*")] for r in (old, new)]
    sheets = [[n for n, p in b.sheets().items() if "chart" not in p] for b in (before, after)]
    found = [] if kept[0] == kept[1] else [part]
    if listed[1][: len(sheets[1])] != sheets[1]:
        found.append(f"{part}: sheets {listed[1]}")
    named = [names[len(there) :] for names, there in zip(listed, sheets, strict=True)]
    gone = {f"'{name}'" for name in planned.removed}
    if [n for n in named[0] if str(n).partition("!")[0] not in gone] != named[1]:
        found.append(f"{part}: names {named[1]}")
    return found


def listing_differences(before: Parts, after: Parts) -> list[str]:
    """Return where content types or relationships of parts that stay have changed."""
    found = []
    listings = [p for p in before if p.endswith(".rels") or p == "[Content_Types].xml"]
    for part in listings:
        old, new = before.root(part), after.root(part) if part in after else None
        gone = [] if new is None else [e for e in old if _names_gone(part, e, before, after)]
        kept = [canonical(e) for e in old if e not in gone]
        now = [] if new is None else [canonical(e) for e in new]
        if new is not None and [e for e in now if e in kept] != kept:
            found.append(part)
    return found


def _names_gone(part: str, element: etree._Element, before: Parts, after: Parts) -> bool:
    """Whether an entry is of a part that is not there any more."""
    if part.endswith(".rels"):
        source = part.replace("_rels/", "").removesuffix(".rels")
        links = {link.id: link.target for link in before.links("" if source == "" else source)}
        target = links.get(element.get("Id", ""), "")
        return target in before and target not in after
    return element.get("PartName", "").lstrip("/") not in {"", *after}
