"""What an older book gets later, drawn in a workbook of its own and put into its sheets."""

from collections.abc import Mapping, Sequence
from copy import deepcopy
from functools import cache
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts.making import widen_table
from ledger_tools.book.parts.markup import main, whole_number
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.references import Area, Places, read_area
from ledger_tools.book.parts.sheet import Sheet
from ledger_tools.book.parts.stored import rich_text
from ledger_tools.book.parts.styles import StyleMap
from ledger_tools.book.parts.workbook import Workbook
from ledger_tools.shop.plan import Content, Extend
from ledger_tools.shop.snapshot import Place

_TRUE = {"1", "true"}
_WIDE = 100
"""Columns that one entry of widths covers at most where an owner set it; programs cover more."""
_DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"


class Drawn(NamedTuple):
    """What is put into a sheet, its formats numbered as the book does.

    Attributes:
        cells: Format and text of each cell.
        rules: Choices and hints.
        columns: Width, format and whether it is hidden, by column.
        heights: Heights of rows that are higher than usual, in points.
    """

    cells: Mapping[Place, tuple[str, Content]]
    rules: Sequence[etree._Element]
    columns: Mapping[int, Mapping[str, str]]
    heights: Mapping[int, str]


def drawn_parts(target: Workbook, drawn: bytes) -> list[Drawn]:
    """Return what each sheet of the workbook `drawn` holds, ready to be put into `target`."""
    source = Workbook(Package(drawn, "new cells"))
    styles = StyleMap(source, target)
    strings = cache(lambda: _strings(source))
    parts = []
    for tab in source.cell_tabs():
        sheet = Sheet(source.package, tab, strings, Places())
        parts.append(_drawn(sheet, styles))
    styles.save()
    return parts


def _strings(source: Workbook) -> list[str]:
    part = source.single("sharedStrings")
    items = source.package.root(part).iterchildren(main("si")) if part else ()
    return [rich_text(item) for item in items]


def _drawn(sheet: Sheet, styles: StyleMap) -> Drawn:
    def number(text: str | None) -> str:
        return str(styles.cell(whole_number(text or "0")))

    root = sheet.package.root(sheet.part)
    places = Places()
    at = [places[cell.get("r", "")] for cell in root.iter(main("c"))]
    columns = {}
    for col in root.iterfind(f"{main('cols')}/{main('col')}"):
        given = {k: col.get(k, "") for k in ("width", "hidden", "customWidth") if col.get(k)}
        given["style"] = number(col.get("style"))
        for n in range(whole_number(col.get("min", "0")), whole_number(col.get("max", "0")) + 1):
            columns[n] = given
    rows = root.iterfind(f"{main('sheetData')}/{main('row')}")
    return Drawn(
        {place: (number(sheet.style(place)), sheet.content(place)) for place in at},
        list(root.iterfind(f"{main('dataValidations')}/{main('dataValidation')}")),
        columns,
        {whole_number(r.get("r", "0")): r.get("ht", "") for r in rows if r.get("ht")},
    )


def extend(sheet: Sheet, op: Extend, drawn: Drawn) -> None:
    """Put what was drawn into a sheet: cells, columns of its table, choices, widths."""
    header_row = op.later.header_row
    new_columns = {col for col, _ in op.later.columns}
    for (row, col), (style, content) in drawn.cells.items():
        last = op.area.last_row if op.area and row > header_row and col in new_columns else row
        for number in range(row, last + 1):
            sheet.set_style((number, col), style)
        if content.value is not None:
            sheet.put((row, col), content)
    if op.area is not None:
        area = Area(*op.area[1:5])
        widen_table(sheet, area, op.area.name)
    _add_rules(sheet, drawn.rules)
    for col, given in drawn.columns.items():
        _set_column(sheet, col, given)
    for number, points in drawn.heights.items():
        _heighten(sheet, number, points)


def _add_rules(sheet: Sheet, rules: Sequence[etree._Element]) -> None:
    """Add choices and hints, save where the sheet has others for the same cells."""
    if not rules:
        return
    there = sheet.child("dataValidations")
    taken = [a for rule in there for a in _areas(rule)]
    for rule in rules:
        if not any(area.meets(other) for area in _areas(rule) for other in taken):
            there.append(deepcopy(rule))
    there.set("count", str(len(there)))
    if not len(there):
        sheet.root.remove(there)


def _areas(rule: etree._Element) -> list[Area]:
    areas = (read_area(text) for text in rule.get("sqref", "").split())
    return [area for area in areas if area]


def _set_column(sheet: Sheet, col: int, given: Mapping[str, str]) -> None:
    """Give a column its width; one that an owner has set stays, and one under a drawing."""
    if _under_drawing(sheet, col):
        return
    cols = sheet.child("cols")
    place = 0
    for there in list(cols):
        first, last = (whole_number(there.get(end, "0")) for end in ("min", "max"))
        if last < col:
            place = cols.index(there) + 1
        if not first <= col <= last:
            continue
        if there.get("customWidth") in _TRUE and last - first < _WIDE:
            return
        place = cols.index(there)
        cols.remove(there)
        for start, end in ((col + 1, last), (first, col - 1)):
            if start <= end:
                cols.insert(
                    place, _column(start, end, {str(k): str(v) for k, v in there.attrib.items()})
                )
        place += first < col
        break
    cols.insert(place, _column(col, col, given))


def _column(first: int, last: int, given: Mapping[str, str]) -> etree._Element:
    column = etree.Element(main("col"))
    for key, value in {**given, "min": str(first), "max": str(last)}.items():
        column.set(key, value)
    return column


def _under_drawing(sheet: Sheet, col: int) -> bool:
    """Whether a chart or picture stands over a column, which would change its size with it."""
    for part in sheet.package.related(sheet.part, "drawing"):
        for anchor in sheet.package.root(part):
            ends = [anchor.find(f"{_DRAWING}{end}/{_DRAWING}col") for end in ("from", "to")]
            first, last = (None if e is None else whole_number(e.text or "0") + 1 for e in ends)
            if first is not None and first <= col <= (last or first):
                return True
    return False


def _heighten(sheet: Sheet, number: int, points: str) -> None:
    """Give a row the height its new cells need, if it is not that high."""
    row = sheet.row(number, make=True)
    if row is not None and float(row.get("ht", "0")) < float(points):
        row.set("ht", points)
        row.set("customHeight", "1")
