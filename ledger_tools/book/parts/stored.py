"""Cells as a workbook stores them, and what they mean."""

import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from math import isfinite

from lxml import etree

from ledger_tools.book.parts.markup import PartUnfitError, main, readable, whole_number
from ledger_tools.book.parts.references import Places, moved
from ledger_tools.shop.snapshot import CellError, Place, Scalar, address

StoredCell = tuple[str, str, str | None, str | None, Mapping[str, str]]
"""A filled cell as stored: address, type, text of the value, text of the formula, and the
attributes of a formula that stands for several cells. A plain tuple, as books hold millions."""

SHARED = "shared"
_C, _F, _V, _IS, _T, _R, _ROW = (main(tag) for tag in ("c", "f", "v", "is", "t", "r", "row"))
_DAY_ZERO = datetime(1899, 12, 30)  # noqa: DTZ001 - a spreadsheet's day has no time zone
_DAY_SECONDS = 86_400
_MOST_WRITTEN = 32 * 1024 * 1024
"""Characters the shared formulas of one sheet may come to when each is written out."""
_LONGEST_FORMULA = 8192

_CELL = re.compile(
    r'(?:<c r="[A-Z]+[0-9]+"(?: s="[0-9]+")?(?: t="n")?/>)+'
    r'|<c r="([A-Z]+[0-9]+)"(?: s="[0-9]+")?(?: t="([a-zA-Z]+)")?(?: s="[0-9]+")?>'
    r'(?:<f((?: [a-z0-9]+="[^"<>&]*")*)(?:/>|>([^<]*)</f>))?'
    r"(?:(<v(?:>[^<]*(?=</v>)|(?=/>)))(?:</v>|/>)"
    r'|<is>(<t(?:(?: xml:space="preserve")?>[^<]*(?=</t>)|(?=/>)))(?:</t>|/>)</is>)?</c>'
    r"|<row(?: [^<>]*)?>|</row>|([^ ])"
)
_ATTRIBUTE = re.compile(r' ([a-z0-9]+)="([^"]*)"')
_ENTITY = re.compile(r"&([^;&]*);?")
_ENTITIES = {"amp": "&", "lt": "<", "gt": ">", "quot": '"', "apos": "'", "#10": "\n"}
_ALONE: Mapping[str, str] = {}


def scan(text: str) -> list[StoredCell] | None:
    """Return the filled cells in the text between the tags of ``sheetData``, or a piece of it.

    The quick way, for what spreadsheet programs and these tools usually write. What it does not
    know to the last character makes it return None: `walk` the tree then.
    """
    if "\r" in text or "\t" in text:
        return None
    cells: list[StoredCell] = []
    for found in _CELL.findall(text):
        where, kind, attributes, formula, value, inline, unknown = found
        if unknown:
            return None
        if not where:
            continue
        shown = value[3:] if value else inline.partition(">")[2] if inline else None
        group = dict(_ATTRIBUTE.findall(attributes)) if ' t="' in attributes else _ALONE
        written = formula if formula or group else None
        cells.append((where, kind, shown, written, group))
    if "&" not in text:
        return cells
    try:
        return [(w, k, _plain(v), _plain(f), g) for w, k, v, f, g in cells]
    except KeyError:
        return None


def walk(rows: Iterable[etree._Element], places: Places) -> list[StoredCell]:
    """Return the filled cells in the children of ``sheetData``; `places` reads addresses.

    Raises:
        PartUnfitError: A row or a cell has an address that is none.
    """
    cells: list[StoredCell] = []
    number = 0
    for row in rows:
        if row.tag != _ROW:
            continue
        number = whole_number(row.get("r") or str(number + 1))
        col = 0
        for cell in row.iterchildren(_C):
            where = cell.get("r")
            col = places[where][1] if where else col + 1
            if len(cell):
                cells.append(stored(cell, where or address(number, col)))
    return cells


def stored(cell: etree._Element, where: str) -> StoredCell:
    """Return what the element `cell` at the address `where` stores."""
    value = formula = None
    group = _ALONE
    for child in cell:
        if child.tag == _V:
            value = child.text or ""
        elif child.tag == _F:
            formula = child.text or ""
            if child.get("t"):
                group = {str(k): str(v) for k, v in child.attrib.items()}
        elif child.tag == _IS:
            value = rich_text(child)
    if formula == "" and not group:
        formula = None
    return where, cell.get("t", ""), value, formula, group


def rich_text(item: etree._Element) -> str:
    """Return the text of a string item, formats of its runs and phonetic hints left out."""
    if len(item) == 1 and item[0].tag == _T:
        return item[0].text or ""
    pieces: list[str] = []
    for child in item:
        if child.tag == _T:
            pieces.append(child.text or "")
        elif child.tag == _R:
            pieces += (run.text or "" for run in child.iterchildren(_T))
    return "".join(pieces)


def meaning(kind: str, text: str | None, strings: Sequence[str]) -> Scalar:
    """Return what a stored value shows; numbers are always float.

    A number that cannot be read is returned as the text that stands there.

    Raises:
        PartUnfitError: The value refers to a shared text that does not exist.
    """
    if text is None:
        return None
    if kind == "s":
        number = whole_number(text)
        if not 0 <= number < len(strings):
            raise PartUnfitError(text)
        return strings[number]
    if kind in {"str", "inlineStr"}:
        return readable(text)
    if kind == "b":
        return text in {"1", "true"}
    if kind == "e":
        return CellError(text)
    return _number(text, is_date=kind == "d")


class SharedFormulas:
    """The formulas of a sheet that are written once for several cells.

    Args:
        cells: All filled cells of the sheet.
        places: Reads addresses.
    """

    def __init__(self, cells: Iterable[StoredCell], places: Places) -> None:
        self._places = places
        self._first_of: dict[str, tuple[str, Place]] = {}
        self._written = 0
        first: dict[str, tuple[str, Place]] = {}
        for where, _, _, formula, group in cells:
            if group.get("t") == SHARED:
                number = group.get("si", "")
                if formula:
                    first[number] = formula, places[where]
                elif number in first:
                    self._first_of[where] = first[number]

    def text(self, cell: StoredCell) -> str | None:
        """Return the formula of `cell` as it would be written in that cell alone.

        Raises:
            PartUnfitError: The cell belongs to a shared formula that does not exist, or the
                formulas of the sheet would swell beyond measure.
        """
        where, _, _, formula, group = cell
        if formula or group.get("t") != SHARED:
            return formula or None
        if where not in self._first_of:
            raise PartUnfitError(where)
        first, (row, col) = self._first_of[where]
        self._written += len(first)
        if len(first) > _LONGEST_FORMULA or self._written > _MOST_WRITTEN:
            raise PartUnfitError(where)
        here = self._places[where]
        return moved(first, here[0] - row, here[1] - col)


def _plain(text: str | None) -> str | None:
    """Return `text` with its entities replaced; KeyError for one that is not usual."""
    if text and "&" in text:
        return _ENTITY.sub(lambda found: _ENTITIES[found[1]], text)
    return text


def _number(text: str, *, is_date: bool) -> Scalar:
    try:
        if is_date:
            passed = datetime.fromisoformat(text.removesuffix("Z")) - _DAY_ZERO
            return passed.days + passed.seconds / _DAY_SECONDS
        number = float(text)
    except (ValueError, TypeError):
        return text
    return number if isfinite(number) and "_" not in text else text
