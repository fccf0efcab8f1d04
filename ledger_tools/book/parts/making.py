"""Tables put together again, of cells that are there, where another program took them apart."""

from collections.abc import Sequence
from copy import deepcopy
from dataclasses import replace

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.graft import TABLE_TYPE
from ledger_tools.book.parts.growth import grow_rules, merged_areas, tables_of
from ledger_tools.book.parts.markup import main, whole_number
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.references import Area, read_area
from ledger_tools.book.parts.sheet import ORDER, Sheet
from ledger_tools.errors import BookChangedError, NotWritableError
from ledger_tools.shop.plan import Content, MakeTable


def make_table(sheet: Sheet, op: MakeTable) -> None:
    """Make cells a table, or give a table of that name the columns it lacks.

    Raises:
        BookChangedError: Its headers are not as they were read.
        NotWritableError: Merged cells stand there.
    """
    name, first_row, first_col, last_row, last_col, _ = op.area
    area = Area(first_row, first_col, last_row, last_col)
    for col, header in enumerate(op.headers, first_col):
        if sheet.content((first_row, col)) != Content(header):
            what = f"the header '{header}' is not there any more"
            raise BookChangedError(sheet.where(), what, "Run the command again")
    merged = next((m for m in merged_areas(sheet) if m.meets(area)), None)
    if merged:
        raise NotWritableError(
            sheet.where(),
            f"another program took the table '{name}' apart, and cells that are merged in "
            f"{merged} keep it from being put together",
            "Split the merged cells, save and try again",
        )
    there = next((t for t in tables_of(sheet.package, sheet.part) if t.name == name), None)
    root = _new_root(sheet.package, name) if there is None else sheet.package.edit(there.part)
    root.set("ref", str(area))
    _filter(root, sheet, area, wanted=op.filters if there is None else None)
    _name_columns(root, op.headers)
    if there is None:
        _add(sheet, root)


def widen_table(sheet: Sheet, area: Area, name: str) -> None:
    """Give a table the columns right of its last one; rules over its whole width grow with it.

    Args:
        sheet: Its sheet, where the headers stand already.
        area: The table as it is to be; its rows stay as they are.
        name: Its name; a table that is not there is let be, its cells are all there is.
    """
    table = next((t for t in tables_of(sheet.package, sheet.part) if t.name == name), None)
    if table is None or area.last_col <= table.area.last_col:
        return
    row, cols = table.area.first_row, range(table.area.last_col + 1, area.last_col + 1)
    headers = [str(sheet.content((row, col)).value) for col in cols]
    root = sheet.package.edit(table.part)
    wide = replace(table.area, last_col=area.last_col)
    root.set("ref", str(wide))
    _filter(root, sheet, wide, wanted=None)
    columns = root.find(main("tableColumns"))
    if columns is not None:
        _add_columns(columns, headers)
    below = replace(table.area, first_row=table.area.first_row + 1)

    def grown(other: Area) -> Area:
        over = (other.first_col, other.last_col) == (below.first_col, below.last_col)
        return replace(other, last_col=area.last_col) if over and other.meets(below) else other

    grow_rules(sheet, grown)


def _add_columns(columns: etree._Element, headers: Sequence[str]) -> None:
    last = max((whole_number(column.get("id", "0")) for column in columns), default=0)
    for number, header in enumerate(headers, last + 1):
        column = etree.SubElement(columns, main("tableColumn"))
        column.set("id", str(number))
        column.set("name", header)
    columns.set("count", str(len(columns)))


def _new_root(package: Package, name: str) -> etree._Element:
    tables = (package.root_attributes(part) for part in package.parts_of_type(TABLE_TYPE))
    last = max((whole_number(table.get("id", "0")) for table in tables), default=0)
    root = etree.Element(main("table"), nsmap={None: markup.MAIN})  # type: ignore[dict-item] # the stubs know no default namespace
    root.set("id", str(last + 1))
    root.set("name", name)
    root.set("displayName", name)
    root.set("totalsRowShown", "0")
    etree.SubElement(root, main("tableColumns"))
    style = etree.SubElement(root, main("tableStyleInfo"))
    for shown in ("showFirstColumn", "showLastColumn", "showRowStripes", "showColumnStripes"):
        style.set(shown, "0")
    return root


def _filter(root: etree._Element, sheet: Sheet, area: Area, *, wanted: bool | None) -> None:
    """Give a table its filter buttons; a filter of the sheet over the same cells becomes its own.

    Args:
        root: The table.
        sheet: Its sheet.
        area: Its cells.
        wanted: Whether a new table has buttons; None for one that is there.
    """
    own = sheet.root.find(main("autoFilter"))
    over = None if own is None else read_area(own.get("ref", ""))
    there = root.find(main("autoFilter"))
    if wanted and there is None:
        there = etree.Element(main("autoFilter"))
        root.insert(0, there)
    if there is not None:
        there.set("ref", str(area))
    if own is not None and over is not None and over.meets(area):
        sheet.root.remove(own)
        same = (over.first_row, over.first_col) == (area.first_row, area.first_col)
        if there is not None and same:
            there.extend(deepcopy(child) for child in own)


def _name_columns(root: etree._Element, headers: tuple[str, ...]) -> None:
    """List the columns as they are headed; what the table knows of one that it has stays."""
    listed = root.find(main("tableColumns"))
    if listed is None:
        return
    known = {column.get("name", ""): column for column in listed}
    last = max((whole_number(column.get("id", "0")) for column in listed), default=0)
    for column in list(listed):
        listed.remove(column)
    for header in headers:
        if header not in known:
            last += 1
            known[header] = etree.Element(main("tableColumn"))
            known[header].set("id", str(last))
            known[header].set("name", header)
        listed.append(known[header])
    listed.set("count", str(len(headers)))


def _add(sheet: Sheet, root: etree._Element) -> None:
    part = sheet.package.add("xl/tables/table{}.xml", markup.serialise(root), TABLE_TYPE)
    tables = sheet.root.find(main("tableParts"))
    if tables is None:
        tables = etree.Element(main("tableParts"))
        markup.insert_ordered(sheet.root, tables, ORDER)
    listed = etree.SubElement(tables, main("tablePart"))
    listed.set(markup.RELATION_ID, sheet.package.relate(sheet.part, "table", part))
    tables.set("count", str(len(tables)))
