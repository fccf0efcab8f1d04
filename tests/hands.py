"""A person's hands in LibreOffice: workbooks are opened, edited and saved one after another.

Runs in the Python that comes with LibreOffice, which alone knows `uno`; `libreoffice.edited`
starts it. It reads ``{"pipe": name, "books": [[file, where to save or "", steps], ...]}`` and
writes the answers of the steps, both in JSON. A step is a method of `Hands` with its arguments.
Sheets are named; cells and ranges are addresses, columns letters, rows numbers from 1.
"""

from __future__ import annotations

import contextlib
import json
import sys
import time
from pathlib import Path
from typing import Any

import uno
from com.sun.star.connection import NoConnectException
from com.sun.star.lang import DisposedException

Object = Any
"""Something of LibreOffice's; `uno` knows no types."""
_SAVED_AS = {".xlsx": "Calc MS Excel 2007 XML", ".xlsm": "Calc MS Excel 2007 VBA XML"}
_LONGEST_START = 120
"""Seconds LibreOffice may take until it answers."""
_ALL_CONTENTS = 1 | 2 | 4 | 16
"""com.sun.star.sheet.CellFlags: numbers, dates, texts, formulas."""
_FORMULAS = 16
_FILTER_EQUAL = uno.Enum("com.sun.star.sheet.FilterOperator", "EQUAL")
_DOWN = uno.Enum("com.sun.star.sheet.FillDirection", "TO_BOTTOM")
_ROWS = uno.Enum("com.sun.star.table.TableOrientation", "ROWS")
_NEAR = 1e-9


class Hands:
    """What a person does in one open workbook."""

    def __init__(self, document: Object) -> None:
        self._document = document

    def _sheet(self, sheet: str) -> Object:
        return self._document.Sheets.getByName(sheet)

    def _range(self, sheet: str, area: str) -> Object:
        return self._sheet(sheet).getCellRangeByName(area)

    def _col(self, sheet: str, letters: str) -> int:
        return int(self._range(sheet, letters + "1").CellAddress.Column)

    def insert_rows(self, sheet: str, row: int, count: int = 1) -> None:
        """Insert empty rows above one."""
        self._sheet(sheet).Rows.insertByIndex(row - 1, count)

    def delete_rows(self, sheet: str, row: int, count: int = 1) -> None:
        """Delete whole rows."""
        self._sheet(sheet).Rows.removeByIndex(row - 1, count)

    def insert_column(self, sheet: str, letters: str) -> None:
        """Insert an empty column left of one."""
        self._sheet(sheet).Columns.insertByIndex(self._col(sheet, letters), 1)

    def delete_column(self, sheet: str, letters: str) -> None:
        """Delete a whole column."""
        self._sheet(sheet).Columns.removeByIndex(self._col(sheet, letters), 1)

    def move_column(self, sheet: str, letters: str, before: str) -> None:
        """Cut a column out and insert it left of another."""
        there, to = self._col(sheet, letters), self._col(sheet, before)
        columns = self._sheet(sheet).Columns
        columns.insertByIndex(to, 1)
        there += there >= to
        target = columns.getByIndex(to).getCellByPosition(0, 0).CellAddress
        self._sheet(sheet).moveRange(target, columns.getByIndex(there).RangeAddress)
        columns.removeByIndex(there, 1)

    def copy(self, sheet: str, area: str, to: str) -> None:
        """Copy cells to where their first one is to stand."""
        target = self._range(sheet, to).CellAddress
        self._sheet(sheet).copyRange(target, self._range(sheet, area).RangeAddress)

    def type(self, sheet: str, cells: dict[str, str]) -> None:
        """Type into cells; what begins with ``=`` becomes a formula."""
        for address, text in cells.items():
            self._range(sheet, address).FormulaLocal = text

    def clear(self, sheet: str, area: str) -> None:
        """Delete what cells hold."""
        self._range(sheet, area).clearContents(_ALL_CONTENTS)

    def fill_down(self, sheet: str, area: str) -> None:
        """Drag the first row of a range down to its end."""
        self._range(sheet, area).fillAuto(_DOWN, 1)

    def sort(self, sheet: str, area: str, column: int, *, ascending: bool = True) -> None:
        """Sort rows by a column of the range, counted from 1."""
        field = uno.createUnoStruct("com.sun.star.table.TableSortField")
        field.Field, field.IsAscending = column - 1, ascending
        fields = uno.Any("[]com.sun.star.table.TableSortField", (field,))
        self._range(sheet, area).sort(_values(SortFields=fields, ContainsHeader=False))

    def filter(self, sheet: str, area: str, column: int, text: str) -> None:
        """Show only the rows of a range whose column, counted from 1, holds a text."""
        field = uno.createUnoStruct("com.sun.star.sheet.TableFilterField")
        field.Field, field.Operator, field.StringValue = column - 1, _FILTER_EQUAL, text
        wanted = self._range(sheet, area).createFilterDescriptor(True)
        wanted.ContainsHeader = True
        wanted.setFilterFields((field,))
        self._range(sheet, area).filter(wanted)

    def hide_rows(self, sheet: str, row: int, count: int = 1) -> None:
        """Hide rows."""
        self._range(sheet, f"A{row}:A{row + count - 1}").Rows.IsVisible = False

    def hide_column(self, sheet: str, letters: str) -> None:
        """Hide a column."""
        self._range(sheet, letters + "1").Columns.IsVisible = False

    def group_rows(self, sheet: str, row: int, count: int) -> None:
        """Put rows in a group that can be folded."""
        rows = self._range(sheet, f"A{row}:A{row + count - 1}")
        self._sheet(sheet).group(rows.RangeAddress, _ROWS)

    def merge(self, sheet: str, area: str) -> None:
        """Merge cells into one; what all but the first held is lost."""
        cells = self._range(sheet, area)
        kept = cells.getCellByPosition(0, 0).Formula
        cells.clearContents(_ALL_CONTENTS)
        cells.getCellByPosition(0, 0).Formula = kept
        cells.merge(True)

    def freeze(self, sheet: str, columns: int, rows: int) -> None:
        """Keep so many columns and rows in view."""
        view = self._document.CurrentController
        view.setActiveSheet(self._sheet(sheet))
        view.freezeAtPosition(columns, rows)

    def colour(self, sheet: str, area: str, colour: int) -> None:
        """Fill cells with a colour."""
        self._range(sheet, area).CellBackColor = colour

    def number_format(self, sheet: str, area: str, code: str) -> None:
        """Give cells a number format."""
        formats = self._document.NumberFormats
        locale = uno.createUnoStruct("com.sun.star.lang.Locale")
        known = formats.queryKey(code, locale, False)
        self._range(sheet, area).NumberFormat = (
            known if known >= 0 else formats.addNew(code, locale)
        )

    def note(self, sheet: str, cell: str, text: str) -> None:
        """Put a note at a cell."""
        self._sheet(sheet).Annotations.insertNew(self._range(sheet, cell).CellAddress, text)

    def rename(self, sheet: str, name: str) -> None:
        """Give a sheet another name."""
        self._sheet(sheet).Name = name

    def add_sheet(self, name: str, at: int) -> None:
        """Add an empty sheet, counted from 1 from the left."""
        self._document.Sheets.insertNewByName(name, at - 1)

    def move_sheet(self, sheet: str, at: int) -> None:
        """Move a sheet."""
        self._document.Sheets.moveByName(sheet, at - 1)

    def copy_sheet(self, sheet: str, name: str, at: int) -> None:
        """Make a copy of a sheet."""
        self._document.Sheets.copyByName(sheet, name, at - 1)

    def delete_sheet(self, sheet: str) -> None:
        """Delete a sheet."""
        self._document.Sheets.removeByName(sheet)

    def recalculated(self) -> list[list[Object]]:
        """Return the cells that show something else once every formula is computed anew.

        Each with sheet, row, column, what it showed from the file and what it shows now.
        """
        before = self._computed()
        self._document.calculateAll()
        return [
            [*place, before.get(place), now]
            for place, now in self._computed().items()
            if not _alike(before.get(place), now)
        ]

    def _computed(self) -> dict[tuple[str, int, int], Object]:
        """Return what every formula shows."""
        found = {}
        for sheet in self._document.Sheets:
            for area in sheet.queryContentCells(_FORMULAS).RangeAddresses:
                corners = area.StartColumn, area.StartRow, area.EndColumn, area.EndRow
                shown = sheet.getCellRangeByPosition(*corners).DataArray
                for row, cells in enumerate(shown, area.StartRow + 1):
                    for col, value in enumerate(cells, area.StartColumn + 1):
                        found[sheet.Name, row, col] = value
        return found


def _alike(one: Object, other: Object) -> bool:
    if isinstance(one, float) and isinstance(other, float):
        return abs(one - other) < _NEAR
    return bool(one == other)


def _values(**values: Object) -> tuple[Object, ...]:
    """Return named values as LibreOffice takes them."""
    made = []
    for name, value in values.items():
        one = uno.createUnoStruct("com.sun.star.beans.PropertyValue")
        one.Name, one.Value = name, value
        made.append(one)
    return tuple(made)


def _desktop(pipe: str) -> Object:
    """Return the running LibreOffice that listens at a pipe, as soon as it does."""
    here = uno.getComponentContext()
    resolver = here.ServiceManager.createInstance("com.sun.star.bridge.UnoUrlResolver")
    until = time.monotonic() + _LONGEST_START
    while True:
        try:
            there = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
        except NoConnectException:
            if time.monotonic() > until:
                raise
            time.sleep(0.1)
        else:
            desktop = "com.sun.star.frame.Desktop"
            return there.ServiceManager.createInstanceWithContext(desktop, there)


def _edit(desktop: Object, file: str, target: str, steps: list[list[Object]]) -> list[Object]:
    url = Path(file).as_uri()
    document = desktop.loadComponentFromURL(url, "_blank", 0, _values(Hidden=False))
    if document is None:
        raise RuntimeError(file + " cannot be opened")
    try:
        hands = Hands(document)
        answers = []
        for step in steps:
            try:
                answers.append(getattr(hands, step[0])(*step[1:]))
            except Exception as error:
                raise RuntimeError(f"{target or file}: {step}: {error!r}") from error
        if target:
            kind = _SAVED_AS[Path(target).suffix]
            document.storeToURL(Path(target).as_uri(), _values(FilterName=kind))
        return answers
    finally:
        document.close(True)


def main() -> None:
    """Edit the books that are asked for, then end LibreOffice."""
    asked = json.load(sys.stdin)
    desktop = _desktop(asked["pipe"])
    try:
        answers = [_edit(desktop, *book) for book in asked["books"]]
        json.dump(answers, sys.stdout)
    finally:
        # It ends while it answers, which the other end takes for a broken connection.
        with contextlib.suppress(DisposedException):
            desktop.terminate()


if __name__ == "__main__":
    main()
