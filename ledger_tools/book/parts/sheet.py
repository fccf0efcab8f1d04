"""One sheet of cells while it is being changed; rows and cells stay in order."""

from collections.abc import Callable, Iterable, Sequence

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import PartUnfitError, main, whole_number
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.references import Area, Places, read_area
from ledger_tools.book.parts.sheet_rows import SheetRows
from ledger_tools.book.parts.stored import SHARED, SharedFormulas, StoredCell, meaning, stored
from ledger_tools.book.parts.storing import store
from ledger_tools.book.parts.workbook import Tab
from ledger_tools.errors import BookUnreadableError, NotWritableError
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place, address

ORDER = (
    *("sheetPr", "dimension", "sheetViews", "sheetFormatPr", "cols", "sheetData", "sheetCalcPr"),
    *("sheetProtection", "protectedRanges", "scenarios", "autoFilter", "sortState"),
    *("dataConsolidate", "customSheetViews", "mergeCells", "phoneticPr"),
    *("conditionalFormatting", "dataValidations", "hyperlinks", "printOptions", "pageMargins"),
    *("pageSetup", "headerFooter", "rowBreaks", "colBreaks", "customProperties", "cellWatches"),
    *("ignoredErrors", "smartTags", "drawing", "legacyDrawing", "legacyDrawingHF", "picture"),
    *("oleObjects", "controls", "webPublishItems", "tableParts", "extLst"),
)
"""Children of ``worksheet`` in schema order: ECMA-376 Part 1, 18.3.1.99, CT_Worksheet."""

_C, _F, _V, _IS = (main(tag) for tag in ("c", "f", "v", "is"))


class Sheet:
    """A sheet of cells under change.

    Args:
        package: The file.
        tab: Which sheet it is.
        strings: Returns the shared texts of the book, when they are first needed.
        places: Reads addresses; one for all sheets of a book.
    """

    def __init__(
        self, package: Package, tab: Tab, strings: Callable[[], Sequence[str]], places: Places
    ) -> None:
        self.package = package
        self.name = tab.name
        self.part = tab.part
        try:
            self._rows = SheetRows(package.read(tab.part), package.file, tab.part)
        except PartUnfitError:
            raise self._unreadable("") from None
        self.root = self._rows.root
        self._strings = strings
        self._places = places
        self._cells: dict[int, dict[int, etree._Element]] = {}
        self._shared: SharedFormulas | None = None
        self._arrays: list[Area] | None = None
        self._reached: Area | None = None

    def content(self, place: Place) -> Content:
        """Return what the cell at `place` holds now, just as a reader sees it."""
        cell = self._find(place)
        if cell is None:
            return Content()
        where = address(*place)
        kept = stored(cell, where)
        try:
            value = None if kept[2] is None else meaning(kept[1], kept[2], self._texts(kept[1]))
            return Content(value, self._formulas().text(kept) if kept[4] else kept[3])
        except PartUnfitError:
            raise self._unreadable(where) from None

    def put(self, place: Place, new: Content, *, style: str | None = None) -> None:
        """Have the cell at `place` hold `new`; its format stays.

        Args:
            place: Row and column.
            new: Text is stored in the cell itself, and as text whatever it looks like.
            style: Number of the format a cell gets that is not there yet.

        Raises:
            NotWritableError: The cell is part of an array formula, or the text is too long.
        """
        self._refuse_array(place)
        cell = self._find(place)
        if cell is None:
            if new == Content():
                return
            cell = self._new_cell(place, style)
        else:
            self._clear(cell)
        if new.formula is not None:
            etree.SubElement(cell, _F).text = new.formula
        store(cell, new.value, self.where(address(*place)), computed=new.formula is not None)

    def forget_value(self, place: Place) -> bool:
        """Drop the computed value of the formula at `place`; return whether there was one."""
        cell = self._find(place)
        value = None if cell is None else cell.find(_V)
        if cell is None or value is None or cell.find(_F) is None:
            return False
        cell.remove(value)
        cell.attrib.pop("t", "")
        return True

    def rewrite(self, change: Callable[[Place, str], str]) -> bool:
        """Have each formula read as `change` makes it of its place and text.

        Formulas that change keep no computed value. Returns whether any did.
        """
        wanted: dict[Place, str] = {}
        for number in self._rows.numbers:
            for col, cell in self._cells_of(number).items():
                if cell.find(_F) is not None:
                    old = self.content((number, col)).formula
                    new = change((number, col), old) if old else old
                    if new and new != old:
                        wanted[number, col] = new
        for place, text in wanted.items():
            cell = self._cells_of(place[0])[place[1]]
            formula = cell.find(_F)
            if formula is not None:
                if formula.get("t") == SHARED:
                    self._write_apart(formula.get("si", ""))
                formula.text = text
                self.forget_value(place)
        return bool(wanted)

    def style(self, place: Place) -> str | None:
        """Return the number of the format of the cell at `place`; None if there is no cell."""
        cell = self._find(place)
        return None if cell is None else cell.get("s", "0")

    def set_style(self, place: Place, style: str) -> None:
        """Give the cell at `place` the format `style`, making an empty cell if there is none."""
        cell = self._find(place)
        if cell is None:
            self._new_cell(place, style)
        elif style == "0":
            cell.attrib.pop("s", "")
        else:
            cell.set("s", style)

    def empty_style(self, place: Place) -> str:
        """Return the number of the format an absent cell has: that of its row or column."""
        row = self._rows.get(place[0])
        if row is not None and row.get("customFormat") in {"1", "true"}:
            return row.get("s", "0")
        for col in self.root.iterfind(f"{main('cols')}/{main('col')}"):
            if whole_number(col.get("min", "0")) <= place[1] <= whole_number(col.get("max", "0")):
                return col.get("style", "0")
        return "0"

    def row(self, number: int, *, make: bool = False) -> etree._Element | None:
        """Return the element of a row; None if it is not there and `make` is not set."""
        return self._rows.make(number) if make else self._rows.get(number)

    def show(self, number: int) -> None:
        """Show a row that holds nothing, where it is hidden, as a filter hides empty rows.

        What an owner's filter leaves out stays hidden; an entry that is new has to be seen.
        """
        row = self._rows.get(number)
        if row is None or row.get("hidden") not in {"1", "true"}:
            return
        kept = (stored(cell, "")[2] for cell in self._cells_of(number).values())
        if not any(kept):
            del row.attrib["hidden"]

    def child(self, tag: str) -> etree._Element:
        """Return the child `tag` of the sheet, made in its right place if it is not there."""
        found = self.root.find(main(tag))
        if found is None:
            found = etree.Element(main(tag))
            markup.insert_ordered(self.root, found, ORDER)
        return found

    def link(self, place: Place, target: str, display: str) -> None:
        """Make the cell at `place` lead to `target` inside the book; '' takes its link away."""
        where = address(*place)
        links = self.child("hyperlinks")
        for link in links:
            if link.get("ref") == where:
                outside = link.get(markup.RELATION_ID)
                if outside:
                    self.package.unrelate(self.part, outside)
                links.remove(link)
        if target:
            link = etree.SubElement(links, main("hyperlink"))
            link.set("ref", where)
            link.set("location", target)
            if display:
                link.set("display", display)
        if not len(links):
            self.root.remove(links)

    def save(self) -> None:
        """Put the sheet back into the file."""
        dimension = self.root.find(main("dimension"))
        if self._reached is not None and dimension is not None:
            known = read_area(dimension.get("ref", ""), self._places) or self._reached
            first = known.joined((self._reached.first_row, self._reached.first_col))
            whole = first.joined((self._reached.last_row, self._reached.last_col))
            dimension.set("ref", str(whole))
        self.package.write(self.part, self._rows.content())

    def where(self, cell: str = "") -> str:
        """Return file, sheet and cell for a message."""
        place = f", cell {cell}" if cell else ""
        return f"{self.package.file}, sheet '{self.name}'{place}"

    def _cells_of(self, number: int) -> dict[int, etree._Element]:
        """Return the cells of a row by column, each with its address set."""
        if number in self._cells:
            return self._cells[number]
        row = self._rows.get(number)
        if row is None:
            return {}
        found: dict[int, etree._Element] = {}
        col = 0
        for cell in row.iterchildren(_C):
            where = cell.get("r") or address(number, col + 1)
            try:
                at, col = self._places[where]
            except PartUnfitError:
                raise self._unreadable(where) from None
            if at != number or col in found:
                raise self._unreadable(where)
            cell.set("r", where)
            found[col] = cell
        self._cells[number] = found
        return found

    def _find(self, place: Place) -> etree._Element | None:
        return self._cells_of(place[0]).get(place[1])

    def _new_cell(self, place: Place, style: str | None) -> etree._Element:
        number, col = place
        row = self.row(number, make=True)
        cells = self._cells_of(number)
        cell = etree.Element(_C)
        cell.set("r", address(number, col))
        if style and style != "0":
            cell.set("s", style)
        later = min((c for c in cells if c > col), default=None)
        if later is not None:
            cells[later].addprevious(cell)
        elif cells:
            cells[max(cells)].addnext(cell)
        elif row is not None:
            row.insert(0, cell)
        cells[col] = cell
        self._cells[number] = cells
        self._reach(place)
        return cell

    def _reach(self, place: Place) -> None:
        """Note that there is a cell at `place` now."""
        row, col = place
        self._rows.make(row).attrib.pop("spans", "")
        here = Area(row, col, row, col)
        self._reached = here if self._reached is None else self._reached.joined(place)

    def _clear(self, cell: etree._Element) -> None:
        formula = cell.find(_F)
        if formula is not None and formula.get("t") == SHARED:
            self._write_apart(formula.get("si", ""))
        for child in cell.findall("*"):
            if child.tag in {_F, _V, _IS}:
                cell.remove(child)
        for attribute in ("t", "cm", "vm", "ph"):
            cell.attrib.pop(attribute, "")

    def _texts(self, kind: str) -> Sequence[str]:
        return self._strings() if kind == "s" else ()

    def _formulas(self) -> SharedFormulas:
        if self._shared is None:
            self._shared = SharedFormulas(self._grouped(), self._places)
        return self._shared

    def _grouped(self) -> Iterable[StoredCell]:
        """Yield the cells whose formula belongs to several cells."""
        for number in self._rows.grouped():
            for cell in self._cells_of(number).values():
                formula = cell.find(_F)
                if formula is not None and formula.get("t"):
                    yield stored(cell, cell.get("r", ""))

    def _write_apart(self, group: str) -> None:
        """Give every cell of a shared formula a formula of its own."""
        formulas = self._formulas()
        for kept in list(self._grouped()):
            if kept[4].get("t") == SHARED and kept[4].get("si") == group:
                cell = self._find(self._places[kept[0]])
                formula = None if cell is None else cell.find(_F)
                if formula is not None:
                    formula.text = formulas.text(kept)
                    for attribute in ("t", "si", "ref"):
                        formula.attrib.pop(attribute, "")

    def _refuse_array(self, place: Place) -> None:
        if self._arrays is None:
            areas = (
                (kept[4].get("t"), read_area(kept[4].get("ref", ""), self._places))
                for kept in self._grouped()
            )
            self._arrays = [
                area
                for kind, area in areas
                if area and (kind == "dataTable" or (kind == "array" and ":" in str(area)))
            ]
        for area in self._arrays:
            if place in area:
                raise NotWritableError(
                    self.where(address(*place)),
                    f"the cell is part of the array formula in {area}",
                    "Clear the array formula, save and try again",
                )

    def _unreadable(self, where: str) -> BookUnreadableError:
        return BookUnreadableError(
            self.where(where),
            "what is stored here cannot be read",
            "Open the file in your spreadsheet program and save it again, or use the last backup",
        )
