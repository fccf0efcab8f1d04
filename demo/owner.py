"""The owner's hand: typing into cells of the closed book, as if in a spreadsheet program.

What is typed goes in through the tools' own patch, so nothing else in the file changes. A
spreadsheet program would work formulas out at once; here the next recompute does.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from demo.bench import SheetLine
from ledger_tools.book.cells import serial_of
from ledger_tools.book.layout import JOBS_TABLE, TableLayout
from ledger_tools.book.locate import find_places
from ledger_tools.book.names import SETTINGS
from ledger_tools.book.parse_settings import place_of
from ledger_tools.book.patch import apply_plan
from ledger_tools.book.places import Grid
from ledger_tools.book.reader import read_book
from ledger_tools.shop.plan import Content, Plan, SetCell
from ledger_tools.shop.snapshot import Place, Scalar

Value = str | float | date
_TITLE = (1, 2)
"""Cell of `Start` that repeats the shop's name."""


class Desk:
    """The book open on the owner's desk, from reading to saving."""

    def __init__(self, book: Path) -> None:
        read = read_book(book)
        self._book = book
        self._read = read
        self._snapshot = read.snapshot
        self._sheets = {sheet.name: sheet for sheet in read.snapshot.sheets}
        self._places = find_places(read.snapshot)
        self._typed: dict[tuple[str, Place], Scalar] = {}
        self._answers: dict[tuple[str, Place], Content] = {}

    def save(self) -> None:
        """Put everything typed into the file."""
        typed = {cell: Content(value) for cell, value in self._typed.items()}
        operations = tuple(
            SetCell(sheet, *place, self._there(sheet, place), content)
            for (sheet, place), content in (typed | self._answers).items()
        )
        apply_plan(self._book, Plan(operations), read=self._read)

    def _there(self, sheet: str, place: Place) -> Content:
        found = self._sheets[sheet]
        return Content(found.values.get(place), found.formulas.get(place))

    def type_at(self, sheet: str, place: Place, value: Value) -> None:
        """Type a value into a cell."""
        self._typed[sheet, place] = serial_of(value) if isinstance(value, date) else value

    def set_up(self, settings: Mapping[str, Value]) -> None:
        """Type the shop's settings on `Start`, by their keys."""
        names = {setting.key: setting.name for setting in SETTINGS}
        for key, value in settings.items():
            found = place_of(names[key], self._snapshot)
            if found is None:
                raise LookupError(f"the book has no cell for the setting {key!r}")
            self.type_at(*found, value)
        self._answer("Start", _TITLE, settings["name"])

    def _answer(self, sheet: str, place: Place, value: Value) -> None:
        """Let a formula show what the spreadsheet program makes of it while the owner types."""
        formula = self._sheets[sheet].formulas[place]
        self._answers[sheet, place] = Content(str(value), formula)

    def grid(self, layout: TableLayout) -> Grid:
        """Return where a table stands."""
        return self._places.grid(layout)

    def has(self, layout: TableLayout) -> bool:
        """Whether the book holds a table yet."""
        return self._places.has(layout)

    def shown(self, layout: TableLayout, row: int, key: str) -> Scalar:
        """Return what a cell of a table shows, what was just typed included."""
        grid = self.grid(layout)
        return self._shown(grid, row, key)

    def _shown(self, grid: Grid, row: int, key: str) -> Scalar:
        place = row, grid.columns[key]
        if (grid.sheet, place) in self._typed:
            return self._typed[grid.sheet, place]
        return self._sheets[grid.sheet].values.get(place)

    def correct(self, layout: TableLayout, row: int, **values: Value) -> None:
        """Type into columns of a row that is there."""
        grid = self.grid(layout)
        for key, value in values.items():
            self.type_at(grid.sheet, (row, grid.columns[key]), value)

    def add_row(self, layout: TableLayout, **values: Value) -> int:
        """Type a row below the last filled one of a table and return where it stands."""
        grid = self.grid(layout)
        own = [column.key for column in layout.columns if column.typed]
        row = grid.header_row + 1
        while any(self._shown(grid, row, key) is not None for key in own):
            row += 1
        self.correct(layout, row, **values)
        return row

    def find_rows(self, layout: TableLayout, key: str) -> dict[Scalar, int]:
        """Return the rows of a table by what stands in a column; the first of each."""
        grid = self.grid(layout)
        found: dict[Scalar, int] = {}
        for row in grid.rows:
            value = self._shown(grid, row, key)
            if value is not None:
                found.setdefault(value, row)
        return found

    def jobs(self) -> dict[str, dict[str, Scalar]]:
        """Return the rows of `Jobs` by job number, what each column shows."""
        grid = self.grid(JOBS_TABLE)
        found = {}
        for row in grid.rows:
            number = self._shown(grid, row, "number")
            if isinstance(number, str) and number:
                shown = {key: self._shown(grid, row, key) for key in grid.columns}
                found[number] = {**shown, "row": row}
        return found

    def lines(self, job: str) -> tuple[list[SheetLine], list[int]]:
        """Return the filled lines of a job sheet and the empty rows below them."""
        grid = self._job(job)
        filled: list[SheetLine] = []
        free: list[int] = []
        for row in grid.rows:
            kind = self._shown(grid, row, "kind")
            if not isinstance(kind, str):
                free.append(row)
                continue
            words = str(self._shown(grid, row, "description") or "")
            figures = [_figure(self._shown(grid, row, k)) for k in ("estimate", "cost", "price")]
            filled.append(SheetLine(row, kind, words, *figures))
        return filled, free

    def total_estimated(self, job: str) -> float:
        """Return what the job sheet shows as estimate with tax."""
        grid = self._job(job)
        return _figure(self._sheets[grid.sheet].values.get(grid.cells["total_estimated"]))

    def work(self, job: str, cells: Mapping[tuple[int, str], str | float]) -> None:
        """Type into the lines of a job sheet, by row and column key."""
        grid = self._job(job)
        for (row, key), value in cells.items():
            self.type_at(grid.sheet, (row, grid.columns[key]), value)

    def _job(self, job: str) -> Grid:
        grid = self._places.job(job)
        if grid is None:
            raise LookupError(f"job {job} has no sheet")
        return grid


def _figure(value: Scalar) -> float:
    return float(value) if isinstance(value, int | float) else 0.0
