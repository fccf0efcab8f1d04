"""Whether a sheet that was written differs from the old one in what was planned, and only there.

What is returned was not expected; an empty list means that all is as it should be.
"""

from collections.abc import Iterable, Iterator, Sequence

from lxml import etree
from openpyxl.formula.translate import Translator

from ledger_tools.shop.plan import GrowTable, SetCell
from ledger_tools.shop.snapshot import Place, address
from tests.torture.merge import insert
from tests.torture.package import Parts, canonical, main
from tests.torture.planned import (
    Area,
    Planned,
    area_of,
    cells_of,
    cover,
    grown_area,
    growths_of,
    meaning,
    place_of,
    table_of,
    tables_of,
    texts_of,
    unname,
    written,
)


def sheet_differences(before: Parts, after: Parts, name: str, planned: Planned) -> list[str]:
    """Return where the sheet `name` differs from the old one and was not planned to."""
    old, new = before.sheet(name), after.sheet(name)
    found = [f"{name}: namespaces"] if old.nsmap != new.nsmap else []
    found += [f"{name}: {said}" for said in _out_of_order(new)]
    tables = [t for t in planned.grown if t.sheet == name]
    areas = dict(table_of(before, part) for part in tables_of(before, name))
    found += _settle_growth(old, new, [(areas[t.table], t) for t in tables])
    found += _settle_going_on(old, new, tables)
    cover(old, name, growths_of(before, planned))
    found += _settle_cells(old, new, planned.cells.get(name, {}), texts_of(after))
    found += _settle_rows(old, new, tables)
    _forget(old, planned.stale.get(name, set()) - planned.cells.get(name, {}).keys())
    _link(old, planned.cells.get(name, {}))
    _reach(old, new)
    unname(old, planned)
    return [*found, *(f"{name}: {said}" for said in _unlike(old, new))]


def _out_of_order(root: etree._Element) -> list[str]:
    """Return rows and cells that do not stand in their order."""
    numbers = [int(row.get("r", "0")) for row in root.iter(main("row"))]
    places = [place_of(cell.get("r", "")) for cell in root.iter(main("c"))]
    found = [] if numbers == sorted(set(numbers)) else ["rows out of order"]
    return found if places == sorted(set(places)) else [*found, "cells out of order"]


def _settle_growth(
    old: etree._Element, new: etree._Element, grown: Sequence[tuple[Area, GrowTable]]
) -> list[str]:
    """Let the old sheet grow as planned; take the formatted, empty cells out of the new one."""
    found: list[str] = []
    for area, growth in grown:
        for holder, key in _ranges(old):
            text = (holder.get(key) if key else holder.text) or ""
            wider = " ".join(written(grown_area(area_of(a), area, growth)) for a in text.split())
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
        first, last = (area_of(r.get("ref", "")) for r in ranges if r is not None)
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
