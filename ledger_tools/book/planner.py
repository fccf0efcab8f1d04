"""From the typed book and its results to the plan: which cells are to hold what.

Everything the tools own is written down as wanted, then compared with what was read; only the
differences become operations. What an owner typed over a formula is named before it goes.
"""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import Gathered, serial_of, shown
from ledger_tools.book.contents import (
    Cells,
    authorisation_values,
    cell_value,
    customer_values,
    given_line_cells,
    header_cells,
    invoice_line_values,
    invoice_values,
    line_cells,
    row_cells,
    tax_line_values,
)
from ledger_tools.book.formulas import (
    TITLE,
    JobFormulas,
    customer_row,
    invoice_row,
    jobs_row,
    payment_row,
    same_formula,
)
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    INVOICE_LINES_TABLE,
    INVOICES_TABLE,
    JOB_BACK,
    JOB_SPARE_LINES,
    JOBS,
    JOBS_TABLE,
    NAME_AS_OF,
    NAME_ERRORS,
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    NAME_NOTES,
    NAME_WARNINGS,
    PAYMENTS_TABLE,
    START,
    TableLayout,
    job_table,
)
from ledger_tools.book.parse import Parsed
from ledger_tools.book.parse_settings import place_of
from ledger_tools.book.places import Grid, Places, new_grid, new_job_grid, quoted
from ledger_tools.book.wording import as_text
from ledger_tools.errors import Severity
from ledger_tools.money import ZERO, Rounding
from ledger_tools.shop.model import Authorisation, Customer, Job, ShopBook
from ledger_tools.shop.plan import (
    AddSheet,
    Content,
    GrowTable,
    Operation,
    Plan,
    SetCell,
    SheetKind,
)
from ledger_tools.shop.results import JobResult, paid_on
from ledger_tools.shop.snapshot import Place, SheetSnapshot, address

_KINDS = {
    AUTHORISATIONS_TABLE.table: SheetKind.AUTHORISATIONS,
    INVOICES_TABLE.table: SheetKind.INVOICES,
    INVOICE_LINES_TABLE.table: SheetKind.INVOICE_LINES,
}
_AUTHORISED_STATES = ("authorised", "in work", "halted", "to invoice")
"""States a job should not be in without the customer's word."""
_FEWEST_SPARE = 3
_MORE_SPARE = 10
_NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class Additions:
    """What a command adds to the registers.

    Attributes:
        customers: New customers.
        authorisations: New rows of the authorisation register.
        invoices: Newly issued invoices.
    """

    customers: tuple[Customer, ...] = ()
    authorisations: tuple[Authorisation, ...] = ()
    invoices: tuple[Invoice, ...] = ()


@dataclass(slots=True)
class _Wanted:
    cells: dict[str, Cells] = field(default_factory=dict)
    links: dict[tuple[str, Place], str] = field(default_factory=dict)
    grown: list[GrowTable] = field(default_factory=list)
    added: list[AddSheet] = field(default_factory=list)

    def put(self, sheet: str, cells: Mapping[Place, Content]) -> None:
        self.cells.setdefault(sheet, {}).update(cells)


def plan_book(
    parsed: Parsed,
    book: ShopBook,
    results: Mapping[str, JobResult],
    additions: Additions,
) -> Plan:
    """Return the operations that bring the workbook up to `book` and `results`.

    Formulas that were typed over or deleted are restored; `parsed.gathered` gets a finding for
    each, so the counts on `Start` are planned last.
    """
    return _Planner(parsed, book, results, additions).plan()


class _Planner:
    def __init__(
        self,
        parsed: Parsed,
        book: ShopBook,
        results: Mapping[str, JobResult],
        additions: Additions,
    ) -> None:
        self.parsed = parsed
        self.book = book
        self.results = results
        self.additions = additions
        self.gathered: Gathered = parsed.gathered
        self.sheets = {s.name: s for s in parsed.snapshot.sheets}
        self.money = Rounding(book.settings.digits)
        self.job_sheets = frozenset(grid.sheet for grid in parsed.places.jobs.values())
        self.wanted = _Wanted()
        self.places = self._places_to_be()
        self.fresh: set[tuple[str, int]] = set()
        self.formulas: dict[Hashable, JobFormulas] = {}

    def plan(self) -> Plan:
        self._registers()
        self._job_sheets()
        self._job_rows()
        self._customers()
        self._payments()
        for (sheet, place), content in self.gathered.echoes.items():
            self.wanted.put(sheet, {place: content})
        cells = self._differences()
        self._start()
        start = self._differences(only_names=True)
        return Plan((*self.wanted.added, *self.wanted.grown, *cells, *start))

    def _places_to_be(self) -> Places:
        """Return the places once new registers stand, so that formulas can refer to them."""
        places = self.parsed.places
        grids = dict(places.grids)
        rows = {
            AUTHORISATIONS_TABLE: len(self.additions.authorisations) + AUTHORISATIONS_TABLE.spare,
            INVOICES_TABLE: len(self.additions.invoices),
            INVOICE_LINES_TABLE: sum(len(i.lines) + len(i.taxes) for i in self.additions.invoices),
        }
        needed = {
            AUTHORISATIONS_TABLE: self._authorisations_wanted(),
            INVOICES_TABLE: bool(self.additions.invoices),
            INVOICE_LINES_TABLE: bool(self.additions.invoices),
        }
        for layout, wanted in needed.items():
            if wanted and layout.table not in grids:
                grids[layout.table] = new_grid(layout, max(rows[layout], 1))
        return replace(places, grids=grids)

    def _authorisations_wanted(self) -> bool:
        """Whether somebody must be able to write down what was authorised."""
        begun = any(job.state in _AUTHORISED_STATES for job in self.book.jobs)
        return begun or bool(self.additions.authorisations)

    def _registers(self) -> None:
        given = [authorisation_values(a) for a in self.additions.authorisations]
        self._append(AUTHORISATIONS_TABLE, given)
        issued = [invoice_values(i, as_text(i.wording)) for i in self.additions.invoices]
        rows = self._append(INVOICES_TABLE, issued)
        lines = [
            values
            for i in self.additions.invoices
            for values in (
                *(invoice_line_values(i.number, line) for line in i.lines),
                *tax_line_values(i),
            )
        ]
        self._append(INVOICE_LINES_TABLE, lines)
        if self.places.has(INVOICES_TABLE):
            self._invoice_formulas(dict(zip(rows, self.additions.invoices, strict=True)))
        for layout in (AUTHORISATIONS_TABLE, INVOICES_TABLE, INVOICE_LINES_TABLE):
            if layout.table in self.places.grids and layout.table not in self.parsed.places.grids:
                self._add_register(layout)

    def _add_register(self, layout: TableLayout) -> None:
        grid = self.places.grid(layout)
        contents = self.wanted.cells.pop(grid.sheet, {})
        self.wanted.added.append(
            AddSheet(
                grid.sheet,
                _KINDS[layout.table],
                contents,
                rows=grid.table_end - grid.header_row,
                table=grid.table,
                digits=self.book.settings.digits,
                paper=self.book.settings.paper,
            )
        )

    def _append(self, layout: TableLayout, rows: Sequence[Mapping[str, object]]) -> list[int]:
        """Put new rows into a register: into its empty rows first, then below."""
        if not rows:
            return []
        grid = self.places.grid(layout)
        free = self._free_rows(grid, layout, len(rows))
        for row, values in zip(free, rows, strict=True):
            self.wanted.put(grid.sheet, row_cells(row, grid, values))  # type: ignore[arg-type]
            self.fresh.add((grid.sheet, row))
        return free

    def _free_rows(self, grid: Grid, layout: TableLayout, count: int) -> list[int]:
        """Return rows for new entries, below everything that stands there, and grow the table."""
        sheet = self.sheets.get(grid.sheet)
        taken = self._taken(grid, layout, sheet)
        first = max(taken, default=grid.header_row) + 1
        rows = list(range(first, first + count))
        spare = max(layout.spare and _FEWEST_SPARE, 0)
        self._grow(grid, rows[-1] + spare, more=_MORE_SPARE if spare else 0)
        return rows

    def _taken(self, grid: Grid, layout: TableLayout, sheet: SheetSnapshot | None) -> list[int]:
        if sheet is None:
            return []
        always = {"number"} if layout is JOBS_TABLE else set()
        keys = [c.key for c in layout.columns if c.typed or layout.protected or c.key in always]
        cols = {grid.columns[key] for key in keys if key in grid.columns}
        return [row for row, col in sheet.values if col in cols and row in grid.rows]

    def _grow(self, grid: Grid, needed_end: int, more: int) -> None:
        """Let a table that is there reach `needed_end`, and `more` rows where it must grow."""
        if not grid.is_table or grid.sheet not in self.sheets:
            return
        end = max(needed_end, grid.last_row)
        if end > grid.table_end:
            rows = end - grid.table_end + (more if needed_end > grid.table_end else 0)
            self.wanted.grown.append(GrowTable(grid.sheet, grid.table, grid.table_end, rows))

    def _invoice_formulas(self, new: Mapping[int, Invoice]) -> None:
        grid = self.places.grid(INVOICES_TABLE)
        by_row = {**self._invoice_rows(grid), **new}
        for row, invoice in by_row.items():
            paid = self.money.amount(paid_on(invoice.number, self.book))
            balance = invoice.total - paid
            late = (self.book.as_of - invoice.due).days
            values = {
                "paid": paid,
                "balance": balance,
                "overdue": late if balance > 0 and late > 0 else 0,
            }
            self._computed(grid, row, invoice_row(row, self.places, self.money), values)

    def _invoice_rows(self, grid: Grid) -> dict[int, Invoice]:
        sheet = self.sheets.get(grid.sheet)
        if sheet is None:
            return {}
        numbers = {row: sheet.values.get((row, grid.columns["number"])) for row in grid.rows}
        return {
            row: self.book.invoices[number]
            for row, number in numbers.items()
            if isinstance(number, str) and number in self.book.invoices
        }

    def _computed(
        self, grid: Grid, row: int, formulas: Mapping[str, str], values: Mapping[str, object]
    ) -> None:
        self.wanted.put(
            grid.sheet,
            {
                (row, grid.columns[key]): Content(cell_value(values[key]), formula)  # type: ignore[arg-type]
                for key, formula in formulas.items()
                if key in grid.columns
            },
        )

    def _job_sheets(self) -> None:
        newest_first = sorted(self.results.items(), reverse=True)
        for number, result in newest_first:
            grid = self.places.job(number)
            if grid is None:
                self._new_job_sheet(result)
            else:
                self._job_sheet(result, grid)

    def _formulas(self, grid: Grid) -> JobFormulas:
        """Return the formulas for a sheet; sheets laid out alike share them."""
        shape = grid.shape
        if shape not in self.formulas:
            rounding = self.book.profile.rounding
            self.formulas[shape] = JobFormulas(grid, self.places, self.book.settings, rounding)
        return self.formulas[shape]

    def _new_job_sheet(self, result: JobResult) -> None:
        job = next(j for j in self.book.jobs if j.number == result.job.number)
        rows = len(job.lines) + JOB_SPARE_LINES
        grid = new_job_grid(job.number, rows)
        placed = dict(enumerate(job.lines, grid.header_row + 1))
        ids = {row: line.line_id for row, line in placed.items()}
        last = max(ids.values(), default=0)
        for row in range(grid.header_row + 1 + len(placed), grid.last_row + 1):
            last += 1
            ids[row] = last
        contents = self._sheet_cells(self._formulas(grid), result, ids, placed, last)
        contents |= given_line_cells(placed.items(), grid)
        contents[JOB_BACK] = Content(JOBS)
        self.wanted.added.append(
            AddSheet(
                job.number,
                SheetKind.JOB,
                contents,
                rows,
                after=self.places.grid(JOBS_TABLE).sheet,
                table=job_table(job.number),
                links={JOB_BACK: f"{quoted(self.places.grid(JOBS_TABLE).sheet)}!A1"},
                digits=self.book.settings.digits,
                paper=self.book.settings.paper,
            )
        )

    def _sheet_cells(
        self,
        formulas: JobFormulas,
        result: JobResult,
        ids: Mapping[int, int],
        typed: Mapping[int, object],
        last: int,
    ) -> Cells:
        kept = replace(result, job=replace(result.job, last_line_id=last))
        costs = {cost.line.line_id: cost for cost in result.costs}
        cells = header_cells(kept, formulas, self.book.profile.components)
        return cells | line_cells(ids, costs, typed, formulas)  # type: ignore[arg-type]

    def _job_sheet(self, result: JobResult, grid: Grid) -> None:
        found = self.parsed.lines[result.job.number]
        ids, last = dict(found.ids), found.last_id
        filled = max(found.lines, default=grid.header_row)
        self._grow(grid, filled + _FEWEST_SPARE, more=_MORE_SPARE)
        grown = next((g for g in self.wanted.grown if g.table == grid.table), None)
        end = grown.last_row + grown.rows if grown else grid.last_row
        for row in range(grid.last_row + 1, end + 1):
            last += 1
            ids[row] = last
            self.fresh.add((grid.sheet, row))
        grid = replace(grid, last_row=end)
        cells = self._sheet_cells(self._formulas(grid), result, ids, found.lines, last)
        self.wanted.put(grid.sheet, cells)

    def _job_rows(self) -> None:
        grid = self.places.grid(JOBS_TABLE)
        new = [job for job in self.book.jobs if not job.row]
        rows = self._free_rows(grid, JOBS_TABLE, len(new)) if new else []
        at = {job.number: row for job, row in zip(new, rows, strict=True)}
        if "" in at:
            self._given_job(grid, at[""], next(job for job in new if not job.number))
        if not new:
            taken = self._taken(grid, JOBS_TABLE, self.sheets[grid.sheet])
            self._grow(grid, max(taken, default=0) + _FEWEST_SPARE, more=_MORE_SPARE)
        for job in self.book.jobs:
            result = self.results.get(job.number)
            if result is not None:
                self._job_row(grid, job.row or at[job.number], job, result)

    def _job_row(self, grid: Grid, row: int, job: Job, result: JobResult) -> None:
        number = (row, grid.columns["number"])
        before = self.sheets[grid.sheet].values.get(number)
        if before is None:
            self.fresh.add((grid.sheet, row))
            self._given_job(grid, row, job)
            target = f"{quoted(job.number)}!A1"
            self.wanted.links[grid.sheet, number] = target
        sheet = self.places.job(job.number) or new_job_grid(job.number, 0)
        flag_row, flag_col = sheet.cells["flag"]
        formulas = jobs_row(
            sheet, "$" + address(flag_row, flag_col).replace(str(flag_row), f"${flag_row}")
        )
        values = {
            "estimate": result.estimate_net,
            "subtotal": result.subtotal,
            "total": result.total,
            "ceiling": "" if result.ceiling is None else result.ceiling,
            "balance": "" if result.balance is None else result.balance,
            "stands": result.stands,
            "flag": result.flag,
        }
        self._computed(grid, row, formulas, values)
        if result.invoice:
            self.wanted.put(grid.sheet, row_cells(row, grid, {"invoice": result.invoice}))
        else:
            self._clear_invoice(grid, row, job.number)

    def _clear_invoice(self, grid: Grid, row: int, number: str) -> None:
        """Take away an invoice number that came along when a row was copied, and say so."""
        place = (row, grid.columns["invoice"])
        there = self.sheets[grid.sheet].values.get(place)
        if there is None or there == "":
            return
        self.wanted.put(grid.sheet, {place: Content()})
        self.gathered.add(
            Severity.WARNING,
            "invoice-not-of-job",
            f"{shown(there)} stands there, but job {number} has no invoice; it was taken away",
            "Invoice numbers are given by the command invoice",
            sheet=grid.sheet,
            place=place,
            job=number,
            passing=True,
        )

    def _given_job(self, grid: Grid, row: int, job: Job) -> None:
        """Write what the tools know of a new job; what the owner typed stays as it is."""
        values: dict[str, object] = {
            "number": job.number,
            "opened": job.opened,
            "customer": job.customer,
            "item": job.item,
            "repair": job.repair,
            "state": job.state,
            "promised": job.promised,
            "note": job.note,
        }
        there = self.sheets[grid.sheet].values
        missing = {k: v for k, v in values.items() if (row, grid.columns[k]) not in there}
        self.wanted.put(grid.sheet, row_cells(row, grid, missing))  # type: ignore[arg-type]

    def _customers(self) -> None:
        grid = self.places.grid(CUSTOMERS_TABLE)
        new = [customer_values(c) for c in self.additions.customers]
        rows = self._append(CUSTOMERS_TABLE, new)
        named = dict(zip(rows, (c.name for c in self.additions.customers), strict=True))
        sheet = self.sheets[grid.sheet]
        for row in grid.rows:
            name = sheet.values.get((row, grid.columns["name"]))
            if isinstance(name, str) and name.strip():
                named[row] = name.strip()
        for row, name in named.items():
            formulas = customer_row(row, self.places, self.money)
            self._computed(grid, row, formulas, self._customer_figures(name))

    def _customer_figures(self, name: str) -> dict[str, object]:
        key = name.casefold()
        owing = sum(
            (
                invoice.total - paid_on(invoice.number, self.book)
                for invoice in self.book.invoices.values()
                if invoice.customer.casefold() == key
            ),
            start=ZERO,
        )
        return {
            "jobs": sum(job.customer.casefold() == key for job in self.book.jobs),
            "owing": self.money.amount(owing),
        }

    def _payments(self) -> None:
        grid = self.places.grid(PAYMENTS_TABLE)
        sheet = self.sheets[grid.sheet]
        for row in grid.rows:
            number = str(sheet.values.get((row, grid.columns["invoice"]), "")).strip()
            invoice = self.book.invoices.get(number)
            balance = invoice.total - paid_on(number, self.book) if invoice else None
            values = {
                "customer": invoice.customer if invoice else "",
                "owing": "" if balance is None else self.money.amount(balance),
            }
            self._computed(grid, row, payment_row(row, self.places), values)
        self._grow(grid, grid.last_row, more=0)

    def _start(self) -> None:
        values = {
            NAME_AS_OF: serial_of(self.book.as_of),
            NAME_LAST_JOB: self.book.last_job,
            NAME_LAST_INVOICE: self.book.last_invoice,
            NAME_ERRORS: self.gathered.lasting(Severity.ERROR),
            NAME_WARNINGS: self.gathered.lasting(Severity.WARNING),
            NAME_NOTES: self.gathered.lasting(Severity.NOTE),
        }
        self.wanted.cells.clear()
        self._title()
        for name, value in values.items():
            place = place_of(name, self.parsed.snapshot)
            if place is not None:
                self.wanted.put(place[0], {place[1]: Content(value)})

    def _title(self) -> None:
        """Keep the shop's name on top of `Start`."""
        sheet = self.sheets.get(START)
        for place, formula in sheet.formulas.items() if sheet else ():
            if same_formula(formula, TITLE):
                name = self.book.settings.name or "Shop book"
                self.wanted.put(START, {place: Content(name, TITLE)})

    def _differences(self, *, only_names: bool = False) -> list[Operation]:
        operations: list[Operation] = []
        for name, cells in self.wanted.cells.items():
            sheet = self.sheets[name]
            for place, new in sorted(cells.items()):
                old = Content(sheet.values.get(place), sheet.formulas.get(place))
                link = None if only_names else self._link(sheet, place)
                if same_content(old, new) and link is None:
                    continue
                if not only_names:
                    self._say_restored(sheet, place, old, new)
                operations.append(SetCell(name, *place, old, new, link))
        return operations

    def _link(self, sheet: SheetSnapshot, place: Place) -> str | None:
        target = self.wanted.links.get((sheet.name, place))
        return target if target and sheet.links.get(place) != target else None

    def _is_own(self, formula: str | None) -> bool:
        """Whether a formula that is to be replaced was written by the tools themselves."""
        if not formula:
            return False
        from ledger_tools.book.shapes import is_own  # noqa: PLC0415 - seldom needed

        return is_own(formula, self.job_sheets)

    def _say_restored(
        self, sheet: SheetSnapshot, place: Place, old: Content, new: Content
    ) -> None:
        """Name what stands where a formula of ours belongs, before it goes."""
        if new.formula is None or self._is_own(old.formula):
            return
        fresh = (sheet.name, place[0]) in self.fresh
        if old == Content() and (fresh or not _had_formula(sheet, place)):
            return
        said = "nothing" if old.value is None else shown(old.value)
        if old.formula is not None:
            said = shown("=" + old.formula)
        self.gathered.add(
            Severity.WARNING,
            "formula-restored",
            f"A formula stood here; {said} was found in its place and the formula is put back",
            "To bill another amount, type it under Agreed price",
            sheet=sheet.name,
            place=place,
            passing=True,
        )


def _had_formula(sheet: SheetSnapshot, place: Place) -> bool:
    """Whether an empty cell had a formula: its row has some, and so has its column."""
    row, col = place
    rows = {r for r, c in sheet.formulas if c == col}
    return bool(rows - {row}) and any(r == row for r, _ in sheet.formulas)


def same_content(old: Content, new: Content) -> bool:
    """Whether a cell holds already what it is to hold; numbers within float residue."""
    if (old.formula is None) != (new.formula is None):
        return False
    if old.formula is not None and new.formula is not None:
        if not same_formula(old.formula, new.formula):
            return False
        if new.value == "" and old.value is None:
            return True
    return _same_value(old.value, new.value)


def _same_value(old: object, new: object) -> bool:
    if isinstance(old, int | float | Decimal) and isinstance(new, int | float | Decimal):
        return abs(float(old) - float(new)) < _NEAR
    return old == new and isinstance(old, bool) == isinstance(new, bool)
