"""What reading a book gathers, and how values stand in cells: days, numbers, quoted words."""

from collections import Counter
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TypeGuard

from ledger_tools.errors import Finding, Severity
from ledger_tools.money import from_cell, plain
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place, Scalar, address

_DAY_ZERO = date(1899, 12, 30)
FIRST_SERIAL = 18264
"""1950-01-01; a smaller number in a cell for a date is something else."""
LAST_SERIAL = 2958465
"""9999-12-31."""
_LONG = 60
"""Characters of a value that a finding quotes."""


@dataclass(slots=True)
class Gathered:
    """What was found while reading a book.

    Attributes:
        file: Name of the workbook.
        findings: In the order they were met.
        echoes: What was understood differently from how it stands, to be put back plainly:
            by sheet and place.
        passing: How many findings of each severity are done with once the book is written.
    """

    file: str
    findings: list[Finding] = field(default_factory=list)
    echoes: dict[tuple[str, Place], Content] = field(default_factory=dict)
    passing: Counter[Severity] = field(default_factory=Counter)

    def add(  # noqa: PLR0913 - the parts of a finding
        self,
        severity: Severity,
        code: str,
        what: str,
        remedy: str,
        *,
        sheet: str = "",
        place: Place | None = None,
        job: str = "",
        passing: bool = False,
    ) -> None:
        """Note a finding; a passing one is mended by writing the book."""
        self.passing[severity] += passing
        cell = address(*place) if place else ""
        self.findings.append(Finding(severity, code, what, remedy, self.file, sheet, cell, job))

    def lasting(self, severity: Severity) -> int:
        """Return how many findings of a severity still stand once the book is written."""
        return sum(f.severity is severity for f in self.findings) - self.passing[severity]


def date_of(serial: float) -> date:
    """Return the day a spreadsheet's serial number stands for (1900 system)."""
    return _DAY_ZERO + timedelta(days=int(serial))


def serial_of(day: date) -> int:
    """Return the serial number of a day (1900 system).

    >>> serial_of(date(2025, 1, 1))
    45658
    """
    return (day - _DAY_ZERO).days


def shown(value: Scalar) -> str:
    """Return a cell's value as a finding quotes it."""
    text = plain(from_cell(value)) if is_number(value) else str(value)
    return f"'{text[:_LONG]}...'" if len(text) > _LONG else f"'{text}'"


def is_number(value: Scalar) -> TypeGuard[int | float]:
    """Whether a cell shows a number, and not a truth value."""
    return isinstance(value, int | float) and not isinstance(value, bool)
