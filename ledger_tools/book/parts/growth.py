"""Tables that get more rows, and what on their sheet grows with them."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.covering import Growth
from ledger_tools.book.parts.markup import main
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.references import Area, Places, moved, read_area
from ledger_tools.book.parts.sheet import Sheet
from ledger_tools.errors import BookChangedError, BookUnreadableError, NotWritableError
from ledger_tools.shop.plan import Content, GrowTable

_RULES = (
    *(main("conditionalFormatting"), main("dataValidation")),
    *(main("ignoredError"), main("protectedRange")),
)
_RULE_AREA = f"{{{markup.EXCEL_MAIN}}}sqref"


@dataclass(frozen=True, slots=True)
class TablePart:
    """A table of a sheet.

    Attributes:
        name: Display name.
        part: Part that holds it.
        area: Headers and rows.
        totals: Whether its last row is a totals row.
    """

    name: str
    part: str
    area: Area
    totals: bool

    def holds(self, row: int, col: int) -> bool:
        """Return whether the cell lies below the headers of the table."""
        return row > self.area.first_row and (row, col) in self.area


def tables_of(package: Package, sheet_part: str) -> list[TablePart]:
    """Return the tables of a sheet."""
    found = []
    for part in package.related(sheet_part, "table"):
        attributes = package.root_attributes(part)
        area = read_area(attributes.get("ref", ""))
        if area is None:
            what = f"the table in '{part}' stands nowhere"
            raise BookUnreadableError(package.file, what, "Use the last backup")
        totals = attributes.get("totalsRowCount", "0") != "0"
        found.append(TablePart(attributes.get("displayName", ""), part, area, totals))
    return found


def grow(sheet: Sheet, growth: GrowTable) -> Growth:
    """Give a table more rows below its last one, formatted as that row is.

    Rows that are filled already keep their values, and the formats that are not just those of
    the empty sheet. Conditional formats and validations that ended with the table grow, and
    what the owner's own columns compute goes on in the new rows.

    Raises:
        BookChangedError: There is no such table any more, or it ends elsewhere.
        NotWritableError: Something stands in the way.
    """
    tables = tables_of(sheet.package, sheet.part)
    table = next((t for t in tables if t.name == growth.table), None)
    if table is None or table.area.last_row != growth.last_row:
        gone = "is not there any more" if table is None else f"ends in row {table.area.last_row}"
        what = f"the table '{growth.table}' {gone}"
        raise BookChangedError(sheet.where(), what, "Run the command again")
    new = table.area.ending(growth.last_row + growth.rows)
    below = Area(growth.last_row + 1, new.first_col, new.last_row, new.last_col)
    _refuse_obstacles(sheet, table, below, tables)
    _grow_part(sheet.package, table, new)
    _format_rows(sheet, growth.last_row, below)

    def grown(area: Area) -> Area:
        ends = area.last_row == growth.last_row
        beside = area.last_col < new.first_col or area.first_col > new.last_col
        return area.ending(new.last_row) if ends and not beside else area

    grow_rules(sheet, grown)
    for col in growth.theirs:
        _go_on(sheet, table, col, below)
    return Growth(sheet.name, table.area, new.last_row)


def merged_areas(sheet: Sheet) -> list[Area]:
    """Return the ranges of a sheet that are merged into one cell each."""
    merged = sheet.root.iterfind(f"{main('mergeCells')}/{main('mergeCell')}")
    areas = [read_area(cell.get("ref", "")) for cell in merged]
    return [area for area in areas if area]


def _refuse_obstacles(
    sheet: Sheet, table: TablePart, below: Area, tables: Iterable[TablePart]
) -> None:
    if table.totals:
        raise NotWritableError(
            sheet.where(),
            f"the table '{table.name}' has a totals row, so no row can be added below it",
            "Turn the totals row off (Table Design > Total Row), save and try again",
        )
    for area in (*(t.area for t in tables if t is not table), *merged_areas(sheet)):
        if area.meets(below):
            raise NotWritableError(
                sheet.where(),
                f"the table '{table.name}' has to grow to row {below.last_row}, but a table or "
                f"merged cells stand there in {area}",
                "Move them to the right or to a sheet of their own, save and try again",
            )


def _grow_part(package: Package, table: TablePart, new: Area) -> None:
    root = package.edit(table.part)
    root.set("ref", str(new))
    for choice in root.iterchildren(main("autoFilter")):
        choice.set("ref", str(new))
    for sorted_by in root.iter(main("sortState"), main("sortCondition")):
        area = read_area(sorted_by.get("ref", ""))
        if area and area.last_row == table.area.last_row:
            sorted_by.set("ref", str(area.ending(new.last_row)))


def _go_on(sheet: Sheet, table: TablePart, col: int, below: Area) -> None:
    """Continue a column of formulas in the new rows that hold nothing in it yet.

    It is one if the table says so, or, as LibreOffice saves no such word, if all rows agree.
    """
    rows = range(table.area.first_row + 1, table.area.last_row + 1)
    held = {row: sheet.content((row, col)).formula for row in rows}
    model = max((row for row, formula in held.items() if formula), default=0)
    formula = held.get(model) or ""
    agreed = all(f == moved(formula, row - model, 0) for row, f in held.items())
    computed = _computed_columns(sheet.package, table)
    if not formula or not (agreed or col - table.area.first_col in computed):
        return
    for row in range(below.first_row, below.last_row + 1):
        if sheet.content((row, col)) == Content():
            sheet.put((row, col), Content(None, moved(formula, row - model, 0)))


def _computed_columns(package: Package, table: TablePart) -> set[int]:
    """Return the columns of a table that it fills with a formula, counted from 0."""
    columns = package.root(table.part).iterfind(f"{main('tableColumns')}/{main('tableColumn')}")
    return {
        number
        for number, column in enumerate(columns)
        if column.find(main("calculatedColumnFormula")) is not None
    }


def _format_rows(sheet: Sheet, model_row: int, below: Area) -> None:
    """Give new rows the height, and their cells the formats, of the row `model_row`."""
    model = sheet.row(model_row)
    attributes = {} if model is None else {str(k): str(v) for k, v in model.attrib.items()}
    kept = {k: attributes[k] for k in ("ht", "customHeight") if k in attributes}
    for number in range(below.first_row, below.last_row + 1):
        row = sheet.row(number, make=True)
        for key, value in kept.items():
            if row is not None and key not in row.attrib:
                row.set(key, value)
        for col in range(below.first_col, below.last_col + 1):
            style = sheet.style((model_row, col)) or sheet.empty_style((model_row, col))
            here = sheet.style((number, col))
            plain = sheet.empty_style((number, col))
            if here is None and style == plain:
                continue  # a cell that is not there has that format already
            if here is None or here in {"0", plain}:
                sheet.set_style((number, col), style)


def grow_rules(sheet: Sheet, grown: Callable[[Area], Area]) -> None:
    """Grow the ranges of conditional formats and validations, older and newer ones."""
    for element in sheet.root.iter(*_RULES, _RULE_AREA):
        if element.tag == _RULE_AREA:
            if _is_rule(element.getparent()):
                element.text = _ranges(element.text or "", grown)
        elif element.get("sqref"):
            element.set("sqref", _ranges(element.get("sqref", ""), grown))


def _is_rule(parent: etree._Element | None) -> bool:
    """Return whether `parent` is a format or validation rule; a sparkline keeps its cell."""
    names = {"conditionalFormatting", "dataValidation"}
    return parent is not None and etree.QName(parent).localname in names


def _ranges(text: str, grown: Callable[[Area], Area]) -> str:
    """Return a list of ranges with those grown that ended with the table."""
    places = Places()
    new = []
    for written in text.split():
        area = read_area(written, places)
        new.append(written if area is None or grown(area) == area else str(grown(area)))
    return " ".join(new)
