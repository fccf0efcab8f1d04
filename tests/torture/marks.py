"""What an owner changes on the sheets of the tools: columns inside tables, widths, panes, tabs."""

from lxml import etree

from tests.torture.merge import put_cell, row_of
from tests.torture.owner import IN_WORK, JOB_COLUMN, JOBS_COLUMN, PAID, RACK, letter
from tests.torture.package import WORKBOOK, Parts, main

_JOBS_HEADER = 4


def own_columns(parts: Parts) -> None:
    """A column of the owner's inside a table: in `Jobs` before the note, on job sheets last."""
    _column_in_jobs(parts)
    for name in (PAID, IN_WORK):
        _column_at_the_end(parts, name, "Weight", 11)


def _column_in_jobs(parts: Parts) -> None:
    """Move the note of every job one column to the right and write the rack in its place."""
    note, after = letter(JOBS_COLUMN), letter(JOBS_COLUMN + 1)
    sheet = parts.sheets()["Jobs"]
    root = parts.root(sheet)
    for row in root.iter(main("row")):
        for cell in list(row):
            where, number = cell.get("r", ""), int(row.get("r", "0"))
            if where == f"{note}{number}" and number >= _JOBS_HEADER:
                cell.set("r", f"{after}{number}")
                put_cell(row, _text(where, "Rack" if number == _JOBS_HEADER else f"bay {number}"))
    parts.put(sheet, root)
    part = parts.related(sheet, "table")[0]
    table = parts.root(part)
    columns = table.find(main("tableColumns"))
    assert columns is not None
    new = etree.Element(main("tableColumn"), {"id": str(len(columns) + 1), "name": "Rack"})
    columns.insert(len(columns) - 1, new)
    _widen(table, columns, note, after)
    parts.put(part, table)


def _column_at_the_end(parts: Parts, name: str, header: str, row: int) -> None:
    sheet = parts.sheets()[name]
    root = parts.root(sheet)
    put_cell(row_of(root, row), _text(f"{letter(JOB_COLUMN)}{row}", header))
    parts.put(sheet, root)
    part = parts.related(sheet, "table")[0]
    table = parts.root(part)
    columns = table.find(main("tableColumns"))
    assert columns is not None
    new = etree.SubElement(
        columns, main("tableColumn"), {"id": str(len(columns) + 1), "name": header}
    )
    etree.SubElement(new, main("calculatedColumnFormula")).text = "ROUND(M12*2,2)"
    _widen(table, columns, letter(JOB_COLUMN - 1), letter(JOB_COLUMN))
    parts.put(part, table)


def _widen(table: etree._Element, columns: etree._Element, old: str, new: str) -> None:
    columns.set("count", str(len(columns)))
    for element in (table, *table.iterchildren(main("autoFilter"))):
        element.set("ref", element.get("ref", "").replace(f":{old}", f":{new}"))


def _text(where: str, text: str) -> etree._Element:
    cell = etree.Element(main("c"), {"r": where, "t": "inlineStr"})
    etree.SubElement(etree.SubElement(cell, main("is")), main("t")).text = text
    return cell


def own_views(parts: Parts) -> None:
    """On `Jobs` a hidden column, other widths and panes; on a job sheet a width; a tab in view."""
    sheet = parts.sheets()["Jobs"]
    root = parts.root(sheet)
    _column_alone(root, 7).set("hidden", "1")
    _column_alone(root, 4).set("width", "44.5")
    pane = next(root.iter(main("pane")))
    pane.set("xSplit", "3")
    pane.set("topLeftCell", "D5")
    pane.set("activePane", "bottomRight")
    for selection in root.iter(main("selection")):
        selection.set("pane", "bottomRight")
    parts.put(sheet, root)
    sheet = parts.sheets()[IN_WORK]
    root = parts.root(sheet)
    _column_alone(root, 3).set("width", "33.25")
    parts.put(sheet, root)
    book = parts.root(WORKBOOK)
    view = next(book.iter(main("workbookView")))
    view.set("activeTab", str(list(parts.sheets()).index(RACK)))
    view.set("firstSheet", str(list(parts.sheets()).index("Customers")))
    parts.put(WORKBOOK, book)


def _column_alone(root: etree._Element, number: int) -> etree._Element:
    """Return the definition of one column, taken out of the run of columns it stands in."""
    for col in root.iter(main("col")):
        first, last = int(col.get("min", "0")), int(col.get("max", "0"))
        if first <= number <= last:
            for ends in ((first, number - 1), (number + 1, last)):
                rest = etree.fromstring(etree.tostring(col, with_tail=False))
                rest.set("min", str(ends[0]))
                rest.set("max", str(ends[1]))
                if ends[0] <= ends[1]:
                    (col.addprevious if ends[0] == first else col.addnext)(rest)
            col.set("min", str(number))
            col.set("max", str(number))
            return col
    raise AssertionError(number)
