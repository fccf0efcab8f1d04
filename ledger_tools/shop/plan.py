"""What is to be written: small operations, each carrying the old value it expects.

A plan is bound to no file: `book/patch.py` applies it to the closed one, and nothing in it
would hinder another from applying it to an open document. An operation whose old value is no
longer there is refused, and said so.
"""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

from ledger_tools.shop.snapshot import Place, Scalar, TableArea


class Content(NamedTuple):
    """What a cell is to hold.

    Attributes:
        value: What the cell shows; for a formula its computed result.
        formula: Formula text without the leading ``=``; None for a plain value.
    """

    value: Scalar = None
    formula: str | None = None


class SetCell(NamedTuple):
    """Put `new` where `old` is.

    Attributes:
        sheet: Name on the tab.
        row: Counted from 1.
        col: Counted from 1.
        old: What the cell held when the book was read.
        new: What it is to hold. Its format stays.
        link: Target inside the book, such as ``'25-0001'!A1``; None leaves links alone, and
            empty takes the link away.
    """

    sheet: str
    row: int
    col: int
    old: Content
    new: Content
    link: str | None = None


class MakeTable(NamedTuple):
    """Make cells that are there a table again, or widen a table that a column was moved out of.

    Attributes:
        sheet: Name on the tab.
        area: Name of the table and its cells.
        headers: Texts of its headers when the book was read.
        filters: Whether its headers have filter buttons.
    """

    sheet: str
    area: TableArea
    headers: tuple[str, ...]
    filters: bool


class Later(NamedTuple):
    """What came to a kind of sheet after a book was made; sheets laid out alike share it.

    Attributes:
        table: Name of the table, without the number for the lines of a job; empty for `Start`.
        header_row: Row of its headers.
        columns: New columns, each with its key.
        cells: New labelled cells: key, place of the label, place of the figure.
        hidden: Those of the columns that are hidden.
        digits: Decimal places of the currency's minor unit.
    """

    table: str
    header_row: int = 0
    columns: tuple[tuple[int, str], ...] = ()
    cells: tuple[tuple[str, Place, Place], ...] = ()
    hidden: tuple[int, ...] = ()
    digits: int = 2


class Extend(NamedTuple):
    """Draw on a sheet of an older book what newer ones have there.

    Attributes:
        sheet: Name on the tab.
        later: What is drawn, in cells that are free.
        area: The table as it is to be, with its new columns; None where no table gets any.
    """

    sheet: str
    later: Later
    area: TableArea | None = None


class DefineName(NamedTuple):
    """Give cells a name of the whole book, or let a name mean other cells.

    Attributes:
        name: The name.
        refers_to: What it means, such as ``Start!$K$24``.
    """

    name: str
    refers_to: str


class SetProperty(NamedTuple):
    """Put another value in a custom property of the document that is there.

    Attributes:
        name: Name of the property.
        value: What it is to hold.
    """

    name: str
    value: str


class GrowTable(NamedTuple):
    """Give a table more rows below its last one, formatted as that row is.

    Attributes:
        sheet: Name on the tab.
        table: Name of the table.
        last_row: Its last row when the book was read.
        rows: How many rows to add. Rows already filled under the table are taken in.
        theirs: Columns of the owner's in it; one of formulas goes on in the new rows.
    """

    sheet: str
    table: str
    last_row: int
    rows: int
    theirs: tuple[int, ...] = ()


class SheetKind(StrEnum):
    """A kind of sheet the tools can draw."""

    JOB = "job"
    TOLERANCES = "tolerances"
    GUARANTEES = "guarantees"
    AUTHORISATIONS = "authorisations"
    ESTIMATES = "estimates"
    ESTIMATE_LINES = "estimate lines"
    INVOICES = "invoices"
    INVOICE_LINES = "invoice lines"
    ARCHIVED_LINES = "archived lines"
    TIME = "time"
    OPTIONS = "options"


class AddSheet(NamedTuple):
    """Draw a new sheet.

    Attributes:
        name: Name on the tab.
        kind: What sheet it is.
        contents: What its cells hold, by row and column, headers and labels excepted, which the
            drawing of that kind of sheet brings itself.
        rows: Rows its table has room for, below the headers.
        after: Name of the sheet to stand right of; empty for the right end.
        table: Name of its table.
        links: Targets inside the book, by cell.
        digits: Decimal places of the currency's minor unit.
        paper: ``A4`` or ``Letter``.
    """

    name: str
    kind: SheetKind
    contents: Mapping[Place, Content]
    rows: int
    after: str = ""
    table: str = ""
    links: Mapping[Place, str] = MappingProxyType({})
    digits: int = 2
    paper: str = "Letter"


class RemoveSheet(NamedTuple):
    """Take a sheet out of the book, with everything in the file that only it refers to.

    Attributes:
        sheet: Name on the tab.
    """

    sheet: str


OnSheet = SetCell | MakeTable | Extend | GrowTable
"""What is done on a sheet that is there."""
Operation = OnSheet | AddSheet | RemoveSheet | DefineName | SetProperty


class Plan(NamedTuple):
    """Operations in the order they are applied: new sheets, tables, cells, names, sheets to go."""

    operations: tuple[Operation, ...]
