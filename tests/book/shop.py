"""A shop that keeps a real book: jobs are typed, sheets filled in, the book worked out."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from decimal import Decimal
from functools import cache, partial
from pathlib import Path
from typing import Any

from ledger_tools.book.cells import serial_of
from ledger_tools.book.create import create_book
from ledger_tools.book.layout import JOBS_TABLE, TableLayout
from ledger_tools.book.locate import find_places
from ledger_tools.book.parse import Parsed, parse
from ledger_tools.book.parse_settings import place_of, value_at
from ledger_tools.book.patch import patched_book
from ledger_tools.book.places import Grid
from ledger_tools.book.work import Outcome, add_job, work_out
from ledger_tools.commands.session import Session, open_session
from ledger_tools.costing.lines import Line
from ledger_tools.errors import Finding
from ledger_tools.hours import HourPolicy
from ledger_tools.settings import load_seed
from ledger_tools.shop.intake import draft_job, first_authorisation
from ledger_tools.shop.issue import issue_invoices
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.plan import Content, Plan, SetCell
from ledger_tools.shop.snapshot import Place, Scalar, SheetSnapshot, Snapshot, address

TODAY = date(2025, 3, 3)
GOOD, BAD = "25-0001", "25-0002"
"""Two jobs of the fixtures; what is broken is broken on the second, the first has to be done."""
LABOUR, MATERIAL, PART, SPARE = 1, 10, 13, 16
"""Rows of their lines: labour, a material, a part, an empty one."""
Typed = Scalar | Decimal | date | Content
"""What a test types in a cell: text with ``=`` in front is a formula, None empties the cell."""


@cache
def seed(profile: str = "none", rules: str = "strict") -> ShopBook:
    """Return what a new book of a tax profile and a place's rules is made from, its shop named."""
    book = load_seed(profile, as_of=TODAY, rules=rules)
    settings = replace(book.settings, name="Ferrow Metal Repair", address="4 Quay Lane")
    return replace(book, settings=settings)


@cache
def _new_book(profile: str, hours: HourPolicy | None, *, with_tax: bool, rules: str) -> bytes:
    book = seed(profile, rules)
    settings = replace(
        book.settings, hours=hours or book.settings.hours, authorised_with_tax=with_tax
    )
    return create_book(replace(book, settings=settings))


@dataclass
class Shop:
    """A book on disk, and what a shop does with it.

    Attributes:
        path: The file.
        today: The day everything is done on.
    """

    path: Path
    today: date = TODAY
    _read: tuple[bytes, Session] | None = field(default=None, repr=False)

    @classmethod
    def new(
        cls,
        folder: Path,
        profile: str = "none",
        hours: HourPolicy | None = None,
        *,
        with_tax: bool = True,
        rules: str = "strict",
    ) -> "Shop":
        """Return a shop with a new book, its authorised amounts meant with tax or without."""
        path = folder / "shop.xlsx"
        path.write_bytes(_new_book(profile, hours, with_tax=with_tax, rules=rules))
        return cls(path)

    def snapshot(self) -> Snapshot:
        """Return the book as read."""
        return self.session().snapshot

    def session(self) -> Session:
        """Return the book as read, ready to be written; the same file is read only once."""
        content = self.path.read_bytes()
        if self._read is None or self._read[0] != content:
            self._read = content, open_session(self.path)
        return self._read[1]

    def sheet(self, name: str) -> SheetSnapshot:
        """Return one sheet as read."""
        return next(s for s in self.snapshot().sheets if s.name == name)

    def parsed(self) -> Parsed:
        """Return the book as understood."""
        return parse(self.snapshot(), as_of=self.today)

    def check(self) -> Outcome:
        """Return what the book comes to; nothing is written."""
        return work_out(self.snapshot(), as_of=self.today)

    def recompute(self) -> Outcome:
        """Work the book out and save it."""
        session = self.session()
        outcome = work_out(session.snapshot, as_of=self.today)
        session.save(outcome)
        return outcome

    def invoice(self, *named: str) -> Outcome:
        """Issue what is to be invoiced and save the book."""
        session = self.session()
        issue = partial(
            issue_invoices, wording=lambda customer, _: {"customer": customer.name}, named=named
        )
        outcome = work_out(session.snapshot, as_of=self.today, issue=issue)
        session.save(outcome)
        return outcome

    def add(  # noqa: PLR0913 - what a job is opened with
        self,
        *,
        customer: str = "R. Calder",
        item: str = "Oil pan",
        repair: str = "",
        state: str = "estimated",
        lines: tuple[Line, ...] = (),
        authorised: str | None = None,
    ) -> str:
        """Open a job and return its number."""
        session = self.session()
        draft = draft_job(
            customer, item, repair=repair, state=state, opened=self.today, lines=lines
        )
        given = first_authorisation(Decimal(authorised), self.today) if authorised else None
        outcome = add_job(session.snapshot, draft, as_of=self.today, authorised=given)
        session.save(outcome)
        return outcome.opened[0] if outcome.opened else ""

    def grid(self, table: TableLayout | str) -> Grid:
        """Return where a register or the lines of a job stand."""
        places = find_places(self.snapshot())
        if isinstance(table, TableLayout):
            return places.grid(table)
        found = places.job(table)
        assert found is not None, table
        return found

    def write(self, sheet: str, typed: Mapping[Place, Typed]) -> None:
        """Type into cells of a sheet, as an owner does in a spreadsheet program."""
        self.write_all({sheet: typed})

    def write_all(self, typed: Mapping[str, Mapping[Place, Typed]]) -> None:
        """Type into cells of several sheets."""
        there = {sheet.name: sheet for sheet in self.snapshot().sheets}
        operations = tuple(
            SetCell(name, *place, _there(there[name], place), _content(value))
            for name, cells in typed.items()
            for place, value in cells.items()
        )
        content = patched_book(self.path.read_bytes(), self.path.name, Plan(operations))
        self.path.write_bytes(content)

    def fill(self, table: TableLayout | str, row: int, **typed: Typed) -> None:
        """Type into a row of a register or of a job's lines, counted from 1 below the headers."""
        self.fill_rows(table, row, [typed])

    def fill_rows(
        self, table: TableLayout | str, first: int, rows: Sequence[Mapping[str, Typed]]
    ) -> None:
        """Type into several rows, one below the other."""
        grid = self.grid(table)
        self.write(
            grid.sheet,
            {
                (at, grid.columns[key]): value
                for at, typed in enumerate(rows, grid.header_row + first)
                for key, value in typed.items()
            },
        )

    def type_job(self, row: int, **typed: Typed) -> None:
        """Type into a row of `Jobs`."""
        self.fill(JOBS_TABLE, row, **typed)

    def decide(self, name: str, value: Typed) -> None:
        """Type into the cell of a setting."""
        found = place_of(name, self.snapshot())
        assert found is not None, name
        self.write(found[0], {found[1]: value})

    def cell(self, table: TableLayout | str, row: int, key: str) -> str:
        """Return the address of a cell in a row counted from 1 below the headers."""
        grid = self.grid(table)
        return address(grid.header_row + row, grid.columns[key])

    def value(self, table: TableLayout | str, row: int, key: str) -> Scalar:
        """Return what a cell shows."""
        grid = self.grid(table)
        return self.sheet(grid.sheet).values.get((grid.header_row + row, grid.columns[key]))

    def named(self, name: str) -> Scalar:
        """Return what the cell of a defined name shows."""
        return value_at(self.snapshot(), name)

    def head(self, job: str, key: str) -> Scalar:
        """Return what a labelled cell of a job sheet shows."""
        grid = self.grid(job)
        return self.sheet(grid.sheet).values.get(grid.cells[key])


def _there(sheet: SheetSnapshot, place: Place) -> Content:
    return Content(sheet.values.get(place), sheet.formulas.get(place))


def _content(value: Typed) -> Content:
    if isinstance(value, Content):
        return value
    if isinstance(value, str) and value.startswith("="):
        return Content(0.0, value[1:])
    if isinstance(value, date):
        return Content(serial_of(value))
    if isinstance(value, Decimal):
        return Content(float(value))
    return Content(value)


def changed(
    snapshot: Snapshot,
    name: str,
    cells: dict[tuple[int, int], Any],
    *,
    table: str = "",
    wider: int = 0,
) -> Snapshot:
    """Return `snapshot` with cells of one sheet set, and one of its tables wider."""
    (there,) = (s for s in snapshot.sheets if s.name == name)
    tables = tuple(
        t._replace(last_col=t.last_col + wider) if t.name == table else t for t in there.tables
    )
    new = there.replaced(values={**there.values, **cells}, tables=tables)
    return with_sheet(snapshot, name, new)


def with_sheet(snapshot: Snapshot, name: str, new: SheetSnapshot) -> Snapshot:
    """Return `snapshot` with another sheet in the place of one."""
    sheets = tuple(new if s.name == name else s for s in snapshot.sheets)
    return snapshot._replace(sheets=sheets)


def typed_cells(outcome: Outcome) -> list[SetCell]:
    """Return the plan's cells."""
    return [op for op in outcome.plan.operations if isinstance(op, SetCell)]


def by_code(outcome: Outcome, code: str) -> list[Finding]:
    """Return the findings of one kind."""
    return [f for f in outcome.findings if f.code == code]


def only(outcome: Outcome, code: str) -> Finding:
    """Return the one finding of a kind; anything else fails."""
    found = by_code(outcome, code)
    assert len(found) == 1, [str(f) for f in outcome.findings]
    return found[0]
