"""Reading a workbook from its closed file: values, formulas, tables, links and names.

Nothing is understood yet, and nothing is written. Only lxml is needed.
"""

from collections.abc import Iterator
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.archive import MOST_BYTES
from ledger_tools.book.parts.markup import PartUnfitError, main
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.references import Places, read_area
from ledger_tools.book.parts.stored import (
    SharedFormulas,
    StoredCell,
    meaning,
    rich_text,
    scan,
    walk,
)
from ledger_tools.book.parts.workbook import Tab, Workbook
from ledger_tools.errors import BookUnreadableError
from ledger_tools.shop.snapshot import (
    Corners,
    Packed,
    Place,
    Scalar,
    SheetSnapshot,
    Snapshot,
    TableArea,
)

_MOST_LINKED = 1000
_MOST_KNOWN = 4 * 1024 * 1024
"""Letters of rows that are kept to know them again."""
_MOST_SHARED = 100_000
"""Different values that are kept once for all cells that show them."""
_MENDED = "Open the file in your spreadsheet program and save it again, or use the last backup"


class BookRead(NamedTuple):
    """A workbook as read, and the file by which it is known to be unchanged.

    Attributes:
        snapshot: What stands in it.
        package: Its parts.
    """

    snapshot: Snapshot
    package: Package

    @property
    def content(self) -> bytes:
        """The whole file."""
        return self.package.old


def read_book(path: Path) -> BookRead:
    """Return what stands in the workbook at `path`, with the file itself.

    Raises:
        BookUnreadableError: There is no such file, or it cannot be read as a workbook.
    """
    package = Package(read_file(path), path.name)
    return BookRead(_Reader(package).snapshot(), package.again())  # without the trees it met


def read_snapshot(path: Path) -> Snapshot:
    """Return what stands in the workbook at `path`.

    Whole numbers are float like all others. A formula that shows nothing shows ``''``, and so
    does one that another library saved without computing it. A formula that stands there without
    any value is absent from the values, as empty cells are.
    """
    return read_book(path).snapshot


def read_content(content: bytes, file: str) -> Snapshot:
    """Return what stands in the workbook file `content`, named `file`."""
    return _Reader(Package(content, file)).snapshot()


def read_file(path: Path) -> bytes:
    """Return the bytes of the workbook file at `path`."""
    try:
        if path.stat().st_size > MOST_BYTES:
            raise BookUnreadableError(
                path.name, "the file is far larger than a shop book", "Check that it is the book"
            )
        return path.read_bytes()
    except FileNotFoundError:
        raise BookUnreadableError(
            str(path), "there is no such file", "Check the name and the folder"
        ) from None
    except OSError as error:
        raise BookUnreadableError(
            path.name,
            f"the file cannot be opened ({error.strerror})",
            "Check that it is a file and that you may read it",
        ) from error


def shared_strings(package: Package, workbook: Workbook) -> list[str]:
    """Return the texts that cells refer to by number."""
    part = workbook.single("sharedStrings")
    if not part:
        return []
    items = package.root(part).iterchildren(main("si"))
    return [markup.readable(rich_text(item)) for item in items]


class _Row(NamedTuple):
    """What the cells of a row hold.

    Attributes:
        shape: Number of the rows that fill the same places.
        values: Places of what is shown.
        formulas: Places of formulas.
        shown: What is shown there.
        written: The text of the formulas.
    """

    shape: int
    values: tuple[Place, ...]
    formulas: tuple[Place, ...]
    shown: tuple[Scalar, ...]
    written: tuple[str, ...]


class _Reader:
    """One reading of one file, with what its sheets have in common.

    Formulas and values that stand in many cells are kept once: job sheets share most of theirs.
    """

    def __init__(self, package: Package) -> None:
        self.package = package
        self.workbook = Workbook(package)
        self.places = Places()
        if self.workbook.from_1904:
            raise BookUnreadableError(
                package.file,
                "the workbook counts its days from 1904",
                "In Excel, clear File > Options > Advanced > Use 1904 date system, correct the "
                "dates and save",
            )
        self.strings = shared_strings(package, self.workbook)
        self.known: dict[str, _Row] = {}
        self.known_length = 0
        self.numbers: dict[tuple[tuple[Place, ...], tuple[Place, ...]], int] = {}
        self.shapes: dict[tuple[int, ...], tuple[tuple[Place, ...], tuple[Place, ...]]] = {}
        self.same: dict[tuple[str, ...], tuple[str, ...]] = {}
        self.formulas: dict[str, str] = {}
        self.meanings: dict[tuple[str, str], Scalar] = {}

    def snapshot(self) -> Snapshot:
        """Return the whole workbook."""
        return Snapshot(
            self.package.file,
            tuple(self._sheet(tab) for tab in self.workbook.cell_tabs()),
            self.workbook.names(),
            _properties(self.package),
        )

    def _sheet(self, tab: Tab) -> SheetSnapshot:
        rows, rest = self._rows(tab)
        values, formulas = self._places_of(rows)
        written = tuple(chain.from_iterable(row.written for row in rows))
        return SheetSnapshot(
            tab.name,
            Packed(values, tuple(chain.from_iterable(row.shown for row in rows))),
            Packed(formulas, self.same.setdefault(written, written)),
            self._tables(tab),
            dict(self._links(tab, rest)),
            merged=tuple(self._merged(rest)),
        )

    def _places_of(self, rows: list[_Row]) -> tuple[tuple[Place, ...], tuple[Place, ...]]:
        """Return the places of values and of formulas, the same tuples for sheets filled alike."""
        shape = tuple(row.shape for row in rows)
        found = self.shapes.get(shape)
        if found is None:
            found = (
                tuple(chain.from_iterable(row.values for row in rows)),
                tuple(chain.from_iterable(row.formulas for row in rows)),
            )
            self.shapes[shape] = found
        return found

    def _rows(self, tab: Tab) -> tuple[list[_Row], etree._Element]:
        """Return the rows of a sheet, and the root of the sheet for the rest."""
        content = self.package.read(tab.part)
        head, opened, body = content.partition(b"<sheetData>")
        body, closed, tail = body.partition(b"</sheetData>")
        if opened and closed and b"<!" not in content and markup.is_utf8(head):
            rows = self._quickly(tab, body)
            rest = self._parse(tab, head + b"<sheetData/>" + tail)
            if rows is not None and len(rest.findall(main("sheetData"))) == 1:
                return rows, rest
        root = self._parse(tab, content)
        elements = root.find(main("sheetData"))
        try:
            cells = walk(() if elements is None else elements, self.places)
        except PartUnfitError as error:
            raise self._unreadable(tab, str(error)) from None
        return [self._row(tab, cells)], root

    def _quickly(self, tab: Tab, body: bytes) -> list[_Row] | None:
        """Return the rows in the text of ``sheetData``; None where it is not what is usual.

        Rows that read the same, as those of job sheets mostly do, are understood once.
        """
        try:
            text = body.decode()
        except UnicodeDecodeError:
            return None
        rows: list[_Row] = []
        for piece in text.split("</row>"):
            row = self.known.get(piece)
            if row is None:
                cells = scan(piece)
                if cells is None:
                    return None
                if any(cell[4] for cell in cells):
                    whole = scan(text)
                    return None if whole is None else [self._row(tab, whole)]
                row = self._row(tab, cells)
                self._remember(piece, row)
            rows.append(row)
        return rows

    def _remember(self, text: str, row: _Row) -> None:
        self.known_length += len(text)
        if self.known_length > _MOST_KNOWN:
            self.known.clear()
            self.known_length = len(text)
        self.known[text] = row

    def _row(self, tab: Tab, cells: list[StoredCell]) -> _Row:
        """Return what cells hold that stand in one row, or all those of a sheet."""
        shared = SharedFormulas(cells, self.places) if any(cell[4] for cell in cells) else None
        values: dict[Place, Scalar] = {}
        formulas: dict[Place, str] = {}
        places, texts = self.places, self.formulas
        for cell in cells:
            where, kind, text, formula, _ = cell
            try:
                place = places[where]
                if text is not None:
                    values[place] = self._meaning(kind, text)
                if formula is not None:
                    written = shared.text(cell) if shared else formula
                    if written:
                        formulas[place] = texts.setdefault(written, written)
            except PartUnfitError:
                raise self._unreadable(tab, where) from None
        filled = tuple(values), tuple(formulas)
        shape = self.numbers.setdefault(filled, len(self.numbers))
        return _Row(shape, *filled, tuple(values.values()), tuple(formulas.values()))

    def _meaning(self, kind: str, text: str) -> Scalar:
        found = self.meanings.get((kind, text))
        if found is None:
            found = meaning(kind, text, self.strings)
            if len(self.meanings) < _MOST_SHARED:
                self.meanings[kind, text] = found
        return found

    def _parse(self, tab: Tab, content: bytes) -> etree._Element:
        root = markup.parse(content, self.package.file, tab.part)
        if root.tag != main("worksheet"):
            raise self._unreadable(tab, "")
        return root

    def _tables(self, tab: Tab) -> tuple[TableArea, ...]:
        found = []
        for part in self.package.related(tab.part, "table"):
            attributes = self.package.root_attributes(part)
            area = read_area(attributes.get("ref", ""), self.places)
            name = attributes.get("displayName", "")
            if area is None or not name:
                raise self._unreadable(tab, "")
            corners = area.first_row, area.first_col, area.last_row, area.last_col
            totals = attributes.get("totalsRowCount", "0") != "0"
            found.append(TableArea(name, *corners, totals))
        return tuple(found)

    def _merged(self, root: etree._Element) -> Iterator[Corners]:
        """Yield the ranges that are merged into one cell each."""
        for cell in root.iterfind(f"{main('mergeCells')}/{main('mergeCell')}"):
            area = read_area(cell.get("ref", ""), self.places)
            if area is not None:
                yield area.first_row, area.first_col, area.last_row, area.last_col

    def _links(self, tab: Tab, root: etree._Element) -> Iterator[tuple[Place, str]]:
        """Yield the cells that lead to another place in the book."""
        links = root.findall(f"{main('hyperlinks')}/{main('hyperlink')}")
        outside: dict[str, str] = {}
        if any(link.get(markup.RELATION_ID) for link in links):
            outside = {r.id: r.target for r in self.package.relations(tab.part)}
        for link in links:
            target = outside.get(link.get(markup.RELATION_ID, ""), "")
            inside = target[1:] if target.startswith("#") else ""
            location = link.get("location", "") if not target else inside
            area = read_area(link.get("ref", ""), self.places)
            if not location or area is None:
                continue
            for count, place in enumerate(area.places()):
                if count == _MOST_LINKED:
                    break
                yield place, location

    def _unreadable(self, tab: Tab, where: str) -> BookUnreadableError:
        cell = f", cell {where}" if where else ""
        return BookUnreadableError(
            f"{self.package.file}, sheet '{tab.name}'{cell}",
            "what is stored here cannot be read",
            _MENDED,
        )


def _properties(package: Package) -> dict[str, str]:
    """Return the custom document properties as text."""
    return {
        found.get("name", ""): "".join(map(str, found.itertext()))
        for part in package.related("", "custom-properties")
        for found in package.root(part).iterchildren(f"{{{markup.CUSTOM}}}property")
    }
