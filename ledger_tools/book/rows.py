"""Reading typed rows kindly: what stands in a cell, what it means, what to say if nothing."""

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from decimal import Decimal
from typing import NamedTuple, TypeVar

from ledger_tools.book.cells import (
    FIRST_SERIAL,
    LAST_SERIAL,
    Gathered,
    date_of,
    is_number,
    serial_of,
    shown,
)
from ledger_tools.book.layout import TableLayout
from ledger_tools.book.parts.storing import LONGEST_TEXT
from ledger_tools.book.places import Grid, Places
from ledger_tools.errors import Severity
from ledger_tools.hours import (
    MINUTES_A_DAY,
    MinutesUnreadableError,
    clock_from,
    minutes_from,
)
from ledger_tools.money import decimal_from, from_cell, plain
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import CellError, Place, Scalar, SheetSnapshot

_TOO_LARGE = Decimal(10) ** 11
_T = TypeVar("_T")
_CLOCK_TO_ASK_ABOUT = 240
"""Minutes from which a clock time may have been meant as a part of an hour."""


class Row:
    """One row of a table, read cell by cell; what cannot be read becomes a finding."""

    def __init__(
        self, sheet: SheetSnapshot, grid: Grid, row: int, gathered: Gathered, job: str = ""
    ) -> None:
        self._values = sheet.values
        self._formulas = sheet.formulas
        self._grid = grid
        self.row = row
        self._gathered = gathered
        self.job = job
        self._wrong: set[str] = set()

    @property
    def broken(self) -> bool:
        """Whether an error was found in this row."""
        return bool(self._wrong)

    def wrong(self, key: str) -> bool:
        """Whether an error was found in this cell."""
        return key in self._wrong

    def place(self, key: str) -> Place:
        """Return the place of a column's cell in this row."""
        return self.row, self._grid.columns[key]

    def raw(self, key: str) -> Scalar:
        """Return what the cell shows; blanks around text are nothing."""
        value = self._values.get(self.place(key))
        if isinstance(value, str) and not isinstance(value, CellError):
            return value.strip() or None
        return value

    def formula(self, key: str) -> str:
        """Return the formula in the cell, empty for none."""
        return self._formulas.get(self.place(key), "")

    def has_formula(self, key: str) -> bool:
        """Whether the cell holds a formula."""
        return self.place(key) in self._formulas

    def holds(self, *keys: str) -> bool:
        """Whether any of these cells holds anything, be it a formula that shows nothing yet."""
        return any(
            self.raw(key) is not None or self._uncomputed(key)
            for key in keys
            if not self._empty(key)
        )

    def _empty(self, key: str) -> bool:
        """Whether there is nothing at all in a cell, as in most; told without further look."""
        place = self.row, self._grid.columns[key]
        return place not in self._values and place not in self._formulas

    def _uncomputed(self, key: str) -> bool:
        return self.has_formula(key) and self._values.get(self.place(key)) is None

    def _readable(self, key: str) -> Scalar:
        """Return what the cell shows; None, and an error, where a formula shows no value."""
        if self._empty(key):
            return None
        value = self.raw(key)
        if isinstance(value, CellError):
            self.error(
                key, "error-value",
                f"The cell shows {value}",
                "Mend the formula or type the value",
            )  # fmt: skip
            return None
        if self._uncomputed(key):
            self.error(
                key, "not-computed",
                "The formula here has not been computed",
                "Open the book in your spreadsheet program, save it and close it",
            )  # fmt: skip
        return value

    def error(self, key: str, code: str, what: str, remedy: str) -> None:
        """Note an error at a cell of this row."""
        self._wrong.add(key)
        self._note(Severity.ERROR, key, code, what, remedy)

    def warning(self, key: str, code: str, what: str, remedy: str) -> None:
        """Note a warning at a cell of this row."""
        self._note(Severity.WARNING, key, code, what, remedy)

    def note(self, key: str, code: str, what: str, *, passing: bool = False) -> None:
        """Note something that needs no mending at a cell of this row."""
        self._note(Severity.NOTE, key, code, what, "", passing=passing)

    def echoed(self, key: str, code: str, what: str, remedy: str = "") -> None:
        """Note how a cell was understood; what was understood is put back in its place."""
        severity = Severity.WARNING if remedy else Severity.NOTE
        self._note(severity, key, code, what, remedy, passing=True)

    def _note(  # noqa: PLR0913 - the parts of a finding
        self,
        severity: Severity,
        key: str,
        code: str,
        what: str,
        remedy: str,
        *,
        passing: bool = False,
    ) -> None:
        self._gathered.add(
            severity, code, what, remedy,
            sheet=self._grid.sheet, place=self.place(key), job=self.job, passing=passing,
        )  # fmt: skip

    def echo(self, key: str, value: Scalar) -> None:
        """Put what was understood back into the cell."""
        self._gathered.echoes[self._grid.sheet, self.place(key)] = Content(value)

    def text(self, key: str) -> str:
        """Return the words of a cell, empty for none."""
        value = self._readable(key)
        if value is None:
            return ""
        if self.has_formula(key):
            self.error(
                key, "formula-in-text",
                f"A formula stands where words belong; it shows {shown(value)}",
                "Type the words themselves",
            )  # fmt: skip
            return ""
        if isinstance(value, str) and len(value) > LONGEST_TEXT:
            self.error(
                key, "text-too-long",
                f"The text {shown(value)} has {len(value)} letters",
                f"Shorten it to {LONGEST_TEXT}, which is what a cell can hold",
            )  # fmt: skip
            return ""
        if isinstance(value, bool):
            return "yes" if value else "no"
        return plain(from_cell(value)) if is_number(value) else str(value)

    def name(self, key: str) -> str:
        """Return words that formulas compare; they are put back as they were read.

        Blanks around them go, and a number becomes text, else live formulas would miss them.
        """
        said = self.text(key)
        self.put_back(key, said)
        return said

    def put_back(self, key: str, understood: str) -> None:
        """Put words back as they were read, with a note, where they stand otherwise."""
        there = self._values.get(self.place(key))
        if understood and there != understood:
            self.echoed(key, "words-read", f"{shown(there)} was read as '{understood}'")
            self.echo(key, understood)

    def choice(self, key: str, words: tuple[str, ...], code: str) -> str:
        """Return one of `words`, however it is cased; an error for any other word."""
        said = self.text(key)
        if not said:
            return ""
        folded = " ".join(said.casefold().split())
        for word in words:
            if word.casefold() == folded:
                self.put_back(key, word)
                return word
        self.error(
            key, code, f"{shown(said)} is not known here", f"Choose one of: {', '.join(words)}"
        )
        return ""

    def number(self, key: str, *, negative: bool = False) -> Decimal | None:
        """Return the number in a cell, None for an empty one.

        Text that is nothing but a plain decimal is read and put back as a number.
        """
        value = self._readable(key)
        if value is None:
            return None
        number = self._plain_number(key, value)
        if number is not None and abs(number) >= _TOO_LARGE:
            self.error(
                key, "number-too-large", f"{shown(value)} is too large", "Type a smaller number"
            )
            return None
        if number is not None and number < 0 and not negative:
            self.error(
                key, "negative-number",
                f"{shown(value)} is negative",
                "Type a quantity or price of zero or more; a discount has its own kind of line",
            )  # fmt: skip
            return None
        return number

    def _plain_number(self, key: str, value: Scalar) -> Decimal | None:
        if is_number(value):
            return from_cell(value)
        try:
            number = decimal_from(str(value))
        except ValueError:
            self.error(
                key, "not-a-number",
                f"{shown(value)} stands where a number belongs",
                "Type a plain number such as 12.50",
            )  # fmt: skip
            return None
        self.echoed(
            key, "number-read", f"The text {shown(value)} was read as the number {number:f}"
        )
        self.echo(key, float(number))
        return number

    def minutes(self, key: str) -> Decimal | None:
        """Return the whole minutes in a cell, as people write them; None for an empty one."""
        value = self._readable(key)
        if value is None:
            return None
        try:
            minutes = minutes_from(value)
        except MinutesUnreadableError:
            self._ask_about_minutes(key, value)
            return None
        if minutes != value:
            self._say_minutes(key, value, minutes)
        return from_cell(minutes)

    def _ask_about_minutes(self, key: str, value: Scalar) -> None:
        if isinstance(value, int | float) and value < 0:
            self.error(
                key,
                "negative-number",
                f"{shown(value)} minutes are negative",
                "Type the minutes worked",
            )
            return
        self.error(
            key, "minutes-unreadable",
            f"{shown(value)} cannot be read as minutes",
            "Type minutes as 90, 1:30, 1h30 or 1.5h",
        )  # fmt: skip

    def _say_minutes(self, key: str, value: Scalar, minutes: int) -> None:
        clock = f"The clock time {minutes // 60}:{minutes % 60:02}"
        said = shown(value) if isinstance(value, str) else clock
        read = f"{said} was read as {minutes} minutes"
        if isinstance(value, str) or minutes < _CLOCK_TO_ASK_ABOUT:
            self.echoed(key, "minutes-read", read)
        else:
            remedy = "If a part of an hour was meant, type it as 0.5h"
            self.echoed(key, "minutes-read", read, remedy)
        self.echo(key, minutes)

    def clock(self, key: str) -> int | None:
        """Return the time of day in a cell as minutes after midnight; None for an empty one."""
        value = self._readable(key)
        if value is None:
            return None
        try:
            minutes = clock_from(value)
        except MinutesUnreadableError:
            self.error(
                key, "clock-unreadable",
                f"{shown(value)} cannot be read as a time of day",
                "Type it as 8:15",
            )  # fmt: skip
            return None
        if isinstance(value, str):
            read = f"{minutes // 60}:{minutes % 60:02}"
            self.echoed(key, "clock-read", f"The text {shown(value)} was read as {read}")
            self.echo(key, minutes / MINUTES_A_DAY)
        return minutes

    def day(self, key: str) -> date | None:
        """Return the day in a cell, None for an empty one; text must be like 2025-02-03."""
        value = self._readable(key)
        if value is None:
            return None
        if is_number(value) and FIRST_SERIAL <= value <= LAST_SERIAL:
            return date_of(value)
        try:
            day = date.fromisoformat(str(value))
        except ValueError:
            self.error(
                key, "date-unreadable",
                f"{shown(value)} is not a date",
                "Type a date such as 2025-02-03",
            )  # fmt: skip
            return None
        self.echoed(key, "date-read", f"The text {shown(value)} was read as {day.isoformat()}")
        self.echo(key, serial_of(day))
        return day

    def needed(
        self, key: str, read: Callable[[str], _T | None], code: str, what: str
    ) -> _T | None:
        """Return what `read` finds in a cell that may not be empty."""
        value = read(key)
        if value in (None, "") and self.raw(key) is None and not self._uncomputed(key):
            self.error(key, code, what, "Fill the cell in")
        return value


class Reading(NamedTuple):
    """One reading of a book, table by table.

    Attributes:
        sheets: Sheets as read, by name.
        places: Where everything stands.
        gathered: Where findings go.
    """

    sheets: Mapping[str, SheetSnapshot]
    places: Places
    gathered: Gathered

    def rows(self, layout: TableLayout, *keys: str) -> Iterator[Row]:
        """Yield the rows of a table that hold anything in `keys`; none where it is not there."""
        if not self.places.has(layout):
            return
        grid = self.places.grid(layout)
        sheet = self.sheets[grid.sheet]
        for n in grid.rows:
            row = Row(sheet, grid, n, self.gathered)
            if row.holds(*keys):
                yield row
