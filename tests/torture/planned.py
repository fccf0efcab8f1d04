"""What a verb planned, and what of a sheet one needs to see whether it was done."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from lxml import etree

from ledger_tools.shop.plan import AddSheet, GrowTable, Plan, RemoveSheet, SetCell
from ledger_tools.shop.snapshot import Place, address
from tests.torture.package import WORKBOOK, Parts, main

_PLACE = re.compile(r"([A-Z]+)([0-9]+)")


Area = tuple[int, int, int, int]


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
            elif isinstance(op, RemoveSheet):
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


def area_of(text: str) -> Area:
    """Return the corners of a range: first row and column, last row and column."""
    first, _, last = text.partition(":")
    return (*place_of(first), *place_of(last or first))


def written(area: Area) -> str:
    """Return a range as a workbook writes it."""
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


def tables_of(parts: Parts, name: str) -> list[str]:
    """Return the parts of the tables on a sheet."""
    return parts.related(parts.sheets()[name], "table")


def table_of(parts: Parts, part: str) -> tuple[str, Area]:
    """Return the name of a table and where it stands."""
    root = parts.root(part)
    return root.get("displayName", ""), area_of(root.get("ref", ""))


def grown_area(area: Area, table: Area, growth: GrowTable) -> Area:
    """Return a range as it is once a table has grown: it grows if it ended where the table did."""
    beside = area[3] < table[1] or area[1] > table[3]
    if area[2] != growth.last_row or beside:
        return area
    return (*area[:2], growth.last_row + growth.rows, area[3])


Growth = tuple[str, Area, int]


REFERENCE = re.compile(
    r"(?:(?P<sheet>'[^']+'|[A-Za-z]\w*)!|(?<![\w!:$]))"
    r"(?P<area>[$]?[A-Z]+[$]?\d+:[$]?[A-Z]+[$]?)(?P<last>\d+)(?![\d(])"
)


def growths_of(before: Parts, planned: Planned) -> list[Growth]:
    """Return the tables that grow: their sheet, where they stood and their last row now."""
    found = []
    for growth in planned.grown:
        if growth.sheet in before.sheets():
            tables = dict(table_of(before, part) for part in tables_of(before, growth.sheet))
            found.append((growth.sheet, tables[growth.table], growth.last_row + growth.rows))
    return found


def covering(formula: str, here: str, growths: Sequence[Growth]) -> str:
    """Return a formula whose references to all rows of a table reach to its last row now."""

    def reach(found: re.Match[str]) -> str:
        sheet = (found["sheet"] or here).strip("'")
        area = area_of(found["area"] + found["last"])
        for name, table, last in growths:
            inside = table[1] <= area[1] and area[3] <= table[3]
            whole = area[2] == table[2] and area[0] in {table[0], table[0] + 1}
            if sheet == name and inside and whole:
                return found[0].removesuffix(found["last"]) + str(last)
        return found[0]

    return REFERENCE.sub(reach, formula)


def cover(root: etree._Element, here: str, growths: Sequence[Growth]) -> None:
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


def unname(root: etree._Element, planned: Planned) -> None:
    """Let rules and charts lose the sheets that go."""
    for element in root.iter("{*}f", "{*}formula", "{*}formula1", "{*}formula2"):
        parent = element.getparent()
        if parent is not None and parent.tag != main("c"):
            for name in planned.removed:
                gone = re.sub(rf"'{re.escape(name)}'![$A-Z0-9:]+", "#REF!", element.text or "")
                element.text = gone
