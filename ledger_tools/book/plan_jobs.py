"""What the job sheets and the rows of `Jobs` are to hold."""

from collections.abc import Hashable, Mapping
from dataclasses import replace

from ledger_tools.book.cells import shown
from ledger_tools.book.contents import (
    Cells,
    Values,
    given_line_cells,
    header_cells,
    job_values,
    line_cells,
    row_cells,
    share_cells,
)
from ledger_tools.book.differences import unlike
from ledger_tools.book.formulas.job import JobFormulas
from ledger_tools.book.formulas.registers import jobs_row
from ledger_tools.book.job_layout import JOB_BACK, JOB_SPARE_LINES, job_table
from ledger_tools.book.layout import JOBS, JOBS_TABLE
from ledger_tools.book.places import Grid, new_job_grid, quoted
from ledger_tools.book.plan_archived import plan_archived_row
from ledger_tools.book.planning import FEWEST_SPARE, MORE_SPARE, Planning
from ledger_tools.costing.lines import Line
from ledger_tools.errors import Severity
from ledger_tools.shop.model import Job
from ledger_tools.shop.plan import AddSheet, Content, SheetKind
from ledger_tools.shop.results import JobResult
from ledger_tools.shop.snapshot import column_letters


class JobSheets:
    """The job sheets of one plan; sheets that are laid out alike share their formulas."""

    def __init__(self, planning: Planning) -> None:
        self._planning = planning
        self._formulas: dict[Hashable, JobFormulas] = {}

    def plan(self) -> None:
        """Want every worked-out job on its sheet, on a new one where it has none."""
        newest_first = sorted(self._planning.results.items(), reverse=True)
        for number, result in newest_first:
            if result.job.archived:
                continue
            grid = self._planning.places.job(number)
            if grid is None:
                self._add(result)
            else:
                self._update(result, grid)

    def _formulas_for(self, grid: Grid, *, adjusting: bool) -> JobFormulas:
        shape = grid.shape, adjusting
        if shape not in self._formulas:
            book = self._planning.book
            self._formulas[shape] = JobFormulas(
                grid,
                self._planning.places,
                book.settings,
                book.profile.rounding,
                adjusting=adjusting,
            )
        return self._formulas[shape]

    def _add(self, result: JobResult) -> None:
        book = self._planning.book
        job = next(j for j in book.jobs if j.number == result.job.number)
        rows = len(job.lines) + JOB_SPARE_LINES
        grid = new_job_grid(job.number, rows)
        placed = dict(enumerate(job.lines, grid.header_row + 1))
        ids = {row: line.line_id for row, line in placed.items()}
        last = max(ids.values(), default=0)
        for row in range(grid.header_row + 1 + len(placed), grid.last_row + 1):
            last += 1
            ids[row] = last
        contents = self._cells(result, grid, ids, placed, last, frozenset())
        contents |= given_line_cells(placed.items(), grid)
        contents[JOB_BACK] = Content(JOBS)
        register = self._planning.places.grid(JOBS_TABLE).sheet
        self._planning.added.append(
            AddSheet(
                job.number,
                SheetKind.JOB,
                contents,
                rows,
                after=register,
                table=job_table(job.number),
                links={JOB_BACK: f"{quoted(register)}!A1"},
                digits=book.settings.digits,
                paper=book.settings.paper,
            )
        )

    def _update(self, result: JobResult, grid: Grid) -> None:
        planning = self._planning
        found = planning.parsed.lines[result.job.number]
        ids, last = dict(found.ids), found.last_id
        filled = max(found.lines, default=grid.header_row)
        planning.grow(grid, filled + FEWEST_SPARE, more=MORE_SPARE)
        grown = next((g for g in planning.grown if g.table == grid.table), None)
        end = grown.last_row + grown.rows if grown else grid.last_row
        for row in range(grid.last_row + 1, end + 1):
            last += 1
            ids[row] = last
            planning.fresh.add((grid.sheet, row))
        grid = replace(grid, last_row=end)
        # What is there already is not kept until the end: books hold millions of such cells.
        cells = self._cells(result, grid, ids, found.lines, last, found.fed)
        planning.put(grid.sheet, unlike(planning.sheets[grid.sheet], cells))

    def _cells(  # noqa: PLR0913, PLR0917 - what a sheet is made from
        self,
        result: JobResult,
        grid: Grid,
        ids: Mapping[int, int],
        typed: Mapping[int, Line],
        last: int,
        fed: frozenset[int],
    ) -> Cells:
        """Return the computed cells of a sheet whose highest line id is now `last`."""
        formulas = self._formulas_for(grid, adjusting=result.bill is not None)
        kept = result._replace(job=replace(result.job, last_line_id=last))
        costs = {cost.line.line_id: cost for cost in result.costs}
        cells = header_cells(kept, formulas, self._planning.book.profile.components)
        if formulas.adjusting:
            cells |= share_cells(ids, result, formulas)
        return cells | line_cells(ids, costs, typed, formulas, fed)


def plan_job_rows(planning: Planning) -> None:
    """Want the rows of `Jobs`: those of new jobs, and what each job's sheet says."""
    grid = planning.places.grid(JOBS_TABLE)
    new = [job for job in planning.book.jobs if not job.row]
    rows = planning.free_rows(JOBS_TABLE, len(new)) if new else []
    at = {job.number: row for job, row in zip(new, rows, strict=True)}
    if "" in at:
        _give(planning, grid, at[""], next(job for job in new if not job.number))
    if not new:
        taken = planning.taken(JOBS_TABLE)
        planning.grow(grid, max(taken, default=0) + FEWEST_SPARE, more=MORE_SPARE)
    for job in planning.book.jobs:
        result = planning.results.get(job.number)
        if result is not None and job.archived:
            plan_archived_row(planning, grid, job.row, result)
        elif result is not None:
            _plan_row(planning, grid, job.row or at[job.number], job, result)


def _plan_row(planning: Planning, grid: Grid, row: int, job: Job, result: JobResult) -> None:
    number = (row, grid.columns["number"])
    if planning.sheets[grid.sheet].values.get(number) is None:
        planning.fresh.add((grid.sheet, row))
        _give(planning, grid, row, job)
        planning.links[grid.sheet, number] = f"{quoted(job.number)}!A1"
    sheet = planning.places.job(job.number) or new_job_grid(job.number, 0)
    flag_row, flag_col = sheet.cells["flag"]
    formulas = jobs_row(sheet, f"${column_letters(flag_col)}${flag_row}")
    values: Values = {
        "estimate": result.estimate_net,
        "subtotal": result.subtotal,
        "total": result.total,
        "ceiling": "" if result.ceiling is None else result.ceiling,
        "balance": "" if result.balance is None else result.balance,
        "stands": result.stands,
        "flag": result.flag,
    }
    planning.put_computed(grid, row, formulas, values)
    if result.invoice:
        planning.put(grid.sheet, row_cells(row, grid, {"invoice": result.invoice}))
    else:
        _clear_invoice(planning, grid, row, job.number)


def _clear_invoice(planning: Planning, grid: Grid, row: int, number: str) -> None:
    """Take away an invoice number that came along when a row was copied, and say so."""
    place = (row, grid.columns["invoice"])
    there = planning.sheets[grid.sheet].values.get(place)
    if there is None or there == "":
        return
    planning.put(grid.sheet, {place: Content()})
    planning.gathered.add(
        Severity.WARNING,
        "invoice-not-of-job",
        f"{shown(there)} stands there, but job {number} has no invoice; it was taken away",
        "Invoice numbers are given by the command invoice",
        sheet=grid.sheet,
        place=place,
        job=number,
        passing=True,
    )


def _give(planning: Planning, grid: Grid, row: int, job: Job) -> None:
    """Want what the tools know of a new job; what the owner typed stays as it is."""
    values = job_values(job)
    there = planning.sheets[grid.sheet].values
    missing = {k: v for k, v in values.items() if (row, grid.columns[k]) not in there}
    planning.put(grid.sheet, row_cells(row, grid, missing))
