"""Job lines from a CSV file: UTF-8, comma, decimal point, words are always words."""

import csv
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

from ledger_tools.costing.lines import PART_STATUSES, REASONS, Kind, Line, part_status_of
from ledger_tools.costing.sublet import fraction_from
from ledger_tools.errors import LinesFileError
from ledger_tools.hours import MOST_MINUTES, MinutesUnreadableError, minutes_from
from ledger_tools.money import decimal_from
from ledger_tools.shop.intake import price_of

COLUMNS = (
    "kind", "description", "quantity", "unit_price", "actual", "non_billable", "reason",
    "vendor", "cost", "markup", "labour_class", "unit", "tax_class", "agreed_price", "part_status",
)  # fmt: skip
NEEDED = ("kind", "description")
_T = TypeVar("_T")


class _Row:
    """One row of the file; what cannot be used is gathered, so that all is said at once."""

    def __init__(self, cells: dict[str, str], row: int, wrong: list[str]) -> None:
        self._cells = cells
        self._row = row
        self._wrong = wrong

    def text(self, key: str) -> str:
        return self._cells.get(key, "").strip()

    def refuse(self, key: str, remedy: str) -> None:
        self._wrong.append(f"row {self._row}, {key} '{self.text(key)}': {remedy}")

    def read(self, key: str, reader: Callable[[str], _T], remedy: str) -> _T | None:
        """Return what `reader` makes of the cell, None for an empty or an unusable one."""
        if not self.text(key):
            return None
        try:
            return reader(self.text(key))
        except ValueError:
            self.refuse(key, remedy)
            return None

    def number(self, key: str) -> Decimal | None:
        return self.read(key, _number, "write a plain number of zero or more, such as 12.50")

    def minutes(self, key: str) -> Decimal | None:
        return self.read(
            key, lambda text: Decimal(minutes_from(text)), "write minutes as 90 or 1h30"
        )

    def hours(self, key: str) -> Decimal | None:
        """Return the minutes of a cell that holds hours."""
        return self.read(key, _minutes_of_hours, "write hours in whole minutes, such as 1.5")


def read_lines(path: Path) -> tuple[Line, ...]:
    """Return the lines in a CSV file, numbered from 1.

    The header is `kind,description,quantity,unit_price,actual,non_billable,reason,vendor,cost,
    markup` and optionally `labour_class,unit,tax_class,agreed_price,part_status`, in any order.
    `part_status` is new, used or reconditioned; empty means new. For labour `quantity` is hours,
    `actual` and `non_billable` are minutes as people write them, and an empty `unit_price` is the
    rate of the class. `unit_price` wins over `cost` and `markup`.

    Raises:
        LinesFileError: The file cannot be read, has a column unknown here, or rows that cannot
            be used; all of them are named.
    """
    wrong: list[str] = []
    rows = _rows(path)
    lines = tuple(
        _line(_Row(cells, number, wrong), line_id)
        for line_id, (number, cells) in enumerate(rows, 1)
    )
    if wrong:
        raise LinesFileError(path.name, "; ".join(wrong), "Nothing was written")
    return lines


def _rows(path: Path) -> list[tuple[int, dict[str, str]]]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file, strict=True)
            _check_header(path, list(reader.fieldnames or ()))
            rows = [(reader.line_num, row) for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as problem:
        raise LinesFileError(
            path.name, f"the file cannot be read ({problem})", "Save it as CSV, UTF-8, with commas"
        ) from problem
    uneven = [str(n) for n, row in rows if None in row or None in row.values()]
    if uneven:
        raise LinesFileError(
            path.name,
            f"rows {', '.join(uneven)} have more or fewer cells than the header",
            "Put text that holds a comma in double quotes",
        )
    return [(n, row) for n, row in rows if any(cell.strip() for cell in row.values())]


def _check_header(path: Path, header: list[str]) -> None:
    unknown = [name for name in header if name not in COLUMNS]
    twice = sorted({name for name in header if header.count(name) > 1})
    lacking = [name for name in NEEDED if name not in header]
    if unknown or twice or lacking:
        said = [
            *(f"column '{name}' is not known here" for name in unknown),
            *(f"column '{name}' stands there twice" for name in twice),
            *(f"column '{name}' is missing" for name in lacking),
        ]
        raise LinesFileError(path.name, "; ".join(said), f"Columns are: {', '.join(COLUMNS)}")


def _line(row: _Row, line_id: int) -> Line:
    kind = row.read("kind", lambda text: Kind(text.casefold()), f"choose one of {', '.join(Kind)}")
    if kind is None and not row.text("kind"):
        row.refuse("kind", f"choose one of {', '.join(Kind)}")
    labour = kind is Kind.LABOUR
    used = row.minutes if labour else row.number
    line = Line(
        line_id=line_id,
        kind=kind or Kind.FEE,
        description=row.text("description"),
        unit="min" if labour else row.text("unit"),
        estimate=row.hours("quantity") if labour else row.number("quantity"),
        actual=used("actual"),
        non_billable=used("non_billable"),
        reason=row.read("reason", _reason, f"choose one of {', '.join(REASONS)}") or "",
        price=_price(row),
        agreed_price=row.number("agreed_price"),
        labour_class=row.text("labour_class") if labour else "",
        part_status=_part_status(row) if kind is Kind.PART else "",
        vendor=row.text("vendor"),
        cost=row.number("cost"),
        tax_class=row.text("tax_class"),
    )
    done = line.actual if line.actual is not None or labour else line.estimate
    if (line.non_billable or 0) > (done or 0):
        row.refuse("non_billable", "write at most what was done, which actual counts in all")
    return line


def _part_status(row: _Row) -> str:
    status = part_status_of(row.text("part_status"))
    if status is None:
        row.refuse("part_status", f"choose one of {', '.join(PART_STATUSES)}")
    return status or ""


def _price(row: _Row) -> Decimal | None:
    price, cost = row.number("unit_price"), row.number("cost")
    markup = row.read("markup", fraction_from, "write 20% or 0.20")
    return price_of(price, cost, markup)


def _number(text: str) -> Decimal:
    number = decimal_from(text)
    if number < 0:
        raise ValueError(text)
    return number


def _minutes_of_hours(text: str) -> Decimal:
    minutes = _number(text) * 60
    if minutes != int(minutes) or minutes > MOST_MINUTES:
        raise MinutesUnreadableError(text)
    return minutes


def _reason(text: str) -> str:
    if text.casefold() not in REASONS:
        raise ValueError(text)
    return text.casefold()
