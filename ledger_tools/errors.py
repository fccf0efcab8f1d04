"""What can be wrong, and how it is said: where, what, remedy.

A `Finding` is one thing to mend in a shop book; a command lists all of them at once.
A `LedgerError` ends the command: the file, the options or the whole book stand in the way.
"""

from dataclasses import dataclass
from enum import StrEnum


class Severity(StrEnum):
    """How much a finding weighs; only an error keeps a job from being computed or billed."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing to look at, with the place it stands and the way to mend it.

    Attributes:
        severity: error, warning or note.
        code: Short fixed name of the kind of finding, words joined by hyphens.
        what: What is wrong, quoting what was found.
        remedy: What the owner can do about it.
        file: Name of the workbook, empty where the finding has no file.
        sheet: Sheet name, empty where the finding concerns the whole book.
        cell: Cell address such as ``F12``, empty where no single cell is meant.
        job: Number of the job that is held back by an error, empty for none.
    """

    severity: Severity
    code: str
    what: str
    remedy: str
    file: str = ""
    sheet: str = ""
    cell: str = ""
    job: str = ""

    def __str__(self) -> str:
        """Return the finding as one line: where, what, remedy."""
        sheet = f"sheet '{self.sheet}'" if self.sheet else ""
        cell = f"cell {self.cell}" if self.cell else ""
        where = ", ".join(part for part in (self.file, sheet, cell) if part)
        said = f"{self.what}. {self.remedy}" if self.remedy else self.what
        return f"{where}: {said}" if where else said


class LedgerError(Exception):
    """Something the user can mend, which stops the whole command.

    Attributes:
        code: Short fixed name of the kind of error.
        where: File, sheet or cell, as far as it is known.
        what: What is wrong.
        remedy: What to do about it.
    """

    code = "stopped"

    def __init__(self, where: str, what: str, remedy: str) -> None:
        super().__init__(where, what, remedy)
        self.where = where
        self.what = what
        self.remedy = remedy

    def __str__(self) -> str:
        """Return where, what and remedy as one line."""
        said = f"{self.what}. {self.remedy}"
        return f"{self.where}: {said}" if self.where else said


class ConfigError(LedgerError):
    """A file in `config/` is missing or says something that cannot be used."""

    code = "config"


class BookUnreadableError(LedgerError):
    """The file is not a workbook this program can read."""

    code = "book-unreadable"


class NotAShopBookError(LedgerError):
    """The workbook is readable, but is not a shop book."""

    code = "not-a-shop-book"


class BookLockedError(LedgerError):
    """The workbook is open in another program."""

    code = "book-open-elsewhere"


class BookChangedError(LedgerError):
    """The workbook, or a cell to be written, is no longer as it was read."""

    code = "book-changed"


class NotWritableError(LedgerError):
    """A cell, table or sheet of the workbook cannot be changed as asked."""

    code = "not-writable"


class FileInTheWayError(LedgerError):
    """A file that would be written is there already, or cannot be written."""

    code = "file-in-the-way"


class LinesFileError(LedgerError):
    """A file of job lines cannot be used."""

    code = "lines-file"


class RequestError(LedgerError):
    """What was asked for does not fit the book: an unknown job, an unissued invoice."""

    code = "request"


class UnknownRepairError(RequestError):
    """A repair code that is not in the sheet Repairs."""

    code = "repair-unknown"


class UnknownClassError(RequestError):
    """A labour class that is not in the sheet Rates, or a tax class that is not in Taxes."""

    code = "class-unknown"


class UnknownTaxClassError(UnknownClassError):
    """An amount is taxed as a class that is not in the sheet Taxes."""

    code = "tax-class-unknown"


class RateMissingError(LedgerError):
    """No rate is in force on the day it is needed."""

    code = "rate-missing"
