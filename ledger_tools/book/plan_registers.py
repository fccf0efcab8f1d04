"""What the registers are to hold: authorisations, invoices, customers, payments."""

from collections.abc import Mapping
from dataclasses import replace

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import is_number
from ledger_tools.book.contents import (
    Values,
    authorisation_values,
    customer_values,
    invoice_line_values,
    invoice_values,
    limit_values,
    tax_line_values,
)
from ledger_tools.book.formulas.authorisations import authorisation_row
from ledger_tools.book.formulas.registers import customer_row, invoice_row, payment_row
from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    PAYMENTS_TABLE,
    REPAIRS_TABLE,
    TIME_TABLE,
    TOLERANCES_TABLE,
    TableLayout,
)
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.places import WHEN_NEEDED, Grid, Places, new_grid
from ledger_tools.book.plan_archived import plan_archived_lines
from ledger_tools.book.planning import Additions, Planning
from ledger_tools.book.registers import (
    ARCHIVED_LINES_TABLE,
    ESTIMATE_LINES_TABLE,
    ESTIMATES_TABLE,
    INVOICE_LINES_TABLE,
    INVOICES_TABLE,
)
from ledger_tools.book.when_there import plan_what_is_there
from ledger_tools.book.wording import as_text
from ledger_tools.money import ZERO, from_cell, plain
from ledger_tools.shop.model import Authorisation, ShopBook
from ledger_tools.shop.plan import AddSheet, Content, SheetKind
from ledger_tools.shop.results import JobResult, limit_by, paid_on
from ledger_tools.shop.snapshot import Scalar

_KINDS = {
    TIME_TABLE.table: SheetKind.TIME,
    TOLERANCES_TABLE.table: SheetKind.TOLERANCES,
    GUARANTEES_TABLE.table: SheetKind.GUARANTEES,
    OPTIONS_TABLE.table: SheetKind.OPTIONS,
    AUTHORISATIONS_TABLE.table: SheetKind.AUTHORISATIONS,
    ESTIMATES_TABLE.table: SheetKind.ESTIMATES,
    ESTIMATE_LINES_TABLE.table: SheetKind.ESTIMATE_LINES,
    INVOICES_TABLE.table: SheetKind.INVOICES,
    INVOICE_LINES_TABLE.table: SheetKind.INVOICE_LINES,
    ARCHIVED_LINES_TABLE.table: SheetKind.ARCHIVED_LINES,
}
_AUTHORISED_STATES = ("authorised", "in work", "halted", "to invoice")
"""States a job should not be in without the customer's word."""


def places_to_be(
    places: Places, book: ShopBook, additions: Additions, results: Mapping[str, JobResult]
) -> Places:
    """Return the places once new registers stand, so that formulas can refer to them."""
    archived = [len(r.costs) for n, r in results.items() if r.job.archived and places.job(n)]
    invoices, estimates = additions.invoices, additions.estimates
    begun = any(job.state in _AUTHORISED_STATES for job in book.jobs)
    rows = {
        AUTHORISATIONS_TABLE: len(additions.authorisations) + AUTHORISATIONS_TABLE.spare,
        TIME_TABLE: len(additions.time) + TIME_TABLE.spare,
        OPTIONS_TABLE: len(additions.options) + OPTIONS_TABLE.spare,
        ESTIMATES_TABLE: len(estimates),
        ESTIMATE_LINES_TABLE: sum(len(e.lines) + len(e.taxes) for e in estimates),
        INVOICES_TABLE: len(invoices),
        INVOICE_LINES_TABLE: sum(len(i.lines) + len(i.taxes) for i in invoices),
        ARCHIVED_LINES_TABLE: sum(archived),
    }
    needed = {
        # Once work may have begun, somebody must be able to write down what was authorised.
        AUTHORISATIONS_TABLE: begun or bool(additions.authorisations),
        TIME_TABLE: book.settings.keep_time or bool(additions.time),
        OPTIONS_TABLE: book.settings.offer_options or bool(additions.options),
        ESTIMATES_TABLE: bool(estimates),
        ESTIMATE_LINES_TABLE: bool(estimates),
        INVOICES_TABLE: bool(invoices),
        INVOICE_LINES_TABLE: bool(invoices),
        ARCHIVED_LINES_TABLE: bool(archived),
    }
    new = {
        layout.table: new_grid(layout, max(rows[layout], 1))
        for layout, wanted in needed.items()
        if wanted and not places.has(layout)
    }
    return replace(places, grids={**places.grids, **new})


def plan_registers(planning: Planning) -> None:
    """Want the rows a command adds to the registers, and the sheets of those that are new."""
    added = planning.additions
    given = added.authorisations
    rows = planning.append(AUTHORISATIONS_TABLE, [authorisation_values(a) for a in given])
    new = dict(zip(rows, given, strict=True))
    if planning.places.has(AUTHORISATIONS_TABLE):
        _plan_limits(planning, new)
    issued = [invoice_values(i, as_text(i.wording)) for i in added.invoices]
    rows = planning.append(INVOICES_TABLE, issued)
    lines = [values for invoice in added.invoices for values in _lines_and_taxes(invoice)]
    planning.append(INVOICE_LINES_TABLE, lines)
    if planning.places.has(INVOICES_TABLE):
        _plan_invoices(planning, dict(zip(rows, added.invoices, strict=True)))
    plan_archived_lines(planning)
    plan_what_is_there(planning)
    for layout in WHEN_NEEDED:
        if planning.places.has(layout) and not planning.parsed.places.has(layout):
            _add_register(planning, layout)


def _plan_limits(planning: Planning, new: Mapping[int, Authorisation]) -> None:
    """Want in every row of Authorisations what it allows."""
    book = planning.book
    grid = planning.places.grid(AUTHORISATIONS_TABLE)
    given = {**{a.row: a for a in book.authorisations if a.row}, **new}
    jobs = {job.number.casefold(): job.object_class for job in book.jobs}
    for row in sorted({*grid.rows, *new}):
        there = given.get(row)
        limit = limit_by(there, jobs.get(there.job.casefold(), ""), book) if there else None
        values = limit_values(limit, limit.rule.row if limit else 0)
        formulas = authorisation_row(row, planning.places, book.settings.digits)
        planning.put_computed(grid, row, formulas, values)
    planning.grow(grid, grid.last_row, more=0)


def _lines_and_taxes(invoice: Invoice) -> list[Values]:
    lines = (invoice_line_values(invoice.number, line) for line in invoice.lines)
    return [*lines, *tax_line_values("invoice", invoice.number, invoice.taxes)]


def _add_register(planning: Planning, layout: TableLayout) -> None:
    grid = planning.places.grid(layout)
    planning.added.append(
        AddSheet(
            grid.sheet,
            _KINDS[layout.table],
            planning.cells.pop(grid.sheet, {}),
            rows=grid.table_end - grid.header_row,
            table=grid.table,
            digits=planning.book.settings.digits,
            paper=planning.book.settings.paper,
        )
    )


def _plan_invoices(planning: Planning, new: Mapping[int, Invoice]) -> None:
    """Want what is paid, owing and overdue in every row of Invoices."""
    book, money = planning.book, planning.money
    grid = planning.places.grid(INVOICES_TABLE)
    for row, invoice in {**_invoice_rows(planning, grid), **new}.items():
        paid = money.amount(paid_on(invoice.number, book))
        balance = invoice.total - paid
        late = (book.as_of - invoice.due).days
        values: Values = {
            "paid": paid,
            "balance": balance,
            "overdue": late if balance > 0 and late > 0 else 0,
        }
        planning.put_computed(grid, row, invoice_row(row, planning.places, money), values)


def _invoice_rows(planning: Planning, grid: Grid) -> dict[int, Invoice]:
    sheet = planning.sheets.get(grid.sheet)
    if sheet is None:
        return {}
    issued = planning.book.invoices
    numbers = {row: sheet.values.get((row, grid.columns["number"])) for row in grid.rows}
    return {
        row: issued[number]
        for row, number in numbers.items()
        if isinstance(number, str) and number in issued
    }


def plan_customers(planning: Planning) -> None:
    """Want the new customers, and for every customer how many jobs there are and what is owed."""
    grid = planning.places.grid(CUSTOMERS_TABLE)
    new = planning.additions.customers
    rows = planning.append(CUSTOMERS_TABLE, [customer_values(c) for c in new])
    named = dict(zip(rows, (c.name for c in new), strict=True))
    sheet = planning.sheets[grid.sheet]
    for row in grid.rows:
        name = sheet.values.get((row, grid.columns["name"]))
        if isinstance(name, str) and name.strip():
            named[row] = name.strip()
    for row, name in named.items():
        formulas = customer_row(row, planning.places, planning.money)
        planning.put_computed(grid, row, formulas, _customer_figures(planning, name))


def _customer_figures(planning: Planning, name: str) -> Values:
    book, key = planning.book, name.casefold()
    owing = sum(
        (
            invoice.total - paid_on(invoice.number, book)
            for invoice in book.invoices.values()
            if invoice.customer.casefold() == key
        ),
        start=ZERO,
    )
    return {
        "jobs": sum(job.customer.casefold() == key for job in book.jobs),
        "owing": planning.money.amount(owing),
    }


def plan_payments(planning: Planning) -> None:
    """Want for every payment whose invoice it is and what that still owes."""
    book = planning.book
    grid = planning.places.grid(PAYMENTS_TABLE)
    sheet = planning.sheets[grid.sheet]
    issued = {number.casefold(): invoice for number, invoice in book.invoices.items()}
    for row in grid.rows:
        said = str(sheet.values.get((row, grid.columns["invoice"]), "")).strip()
        invoice = issued.get(said.casefold())
        balance = invoice.total - paid_on(invoice.number, book) if invoice else None
        values: Values = {
            "customer": invoice.customer if invoice else "",
            "owing": "" if balance is None else planning.money.amount(balance),
        }
        planning.put_computed(grid, row, payment_row(row, planning.places), values)
    planning.grow(grid, grid.last_row, more=0)


def plan_codes(planning: Planning) -> None:
    """Want the live list of repair codes to show what it computes, its formulas as they stand.

    A program that saves without computing leaves it empty, and `Jobs` would offer nothing.
    """
    repairs = planning.places.grid(REPAIRS_TABLE)
    name, col = planning.places.codes
    if not col or "code" not in repairs.columns:
        return
    sheet = planning.sheets[name]
    typed = (sheet.values.get((row, repairs.columns["code"])) for row in repairs.rows)
    codes = list({text.casefold(): text for text in map(_as_code, typed) if text}.values())
    below = (
        place for place in sheet.formulas if place[1] == col and place[0] > repairs.header_row
    )
    for number, place in enumerate(sorted(below)):
        shown = codes[number] if number < len(codes) else ""
        planning.put(name, {place: Content(shown, sheet.formulas[place])})


def _as_code(value: Scalar) -> str:
    return plain(from_cell(value)) if is_number(value) else str(value or "")
