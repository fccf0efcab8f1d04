"""What the tools' own cells are to hold: formulas with their computed values, and given words."""

from collections.abc import Collection, Iterable, Mapping
from datetime import date
from decimal import Decimal

from ledger_tools.billing.basis import Basis, Bill
from ledger_tools.billing.estimate import EXTRA_WORK, Estimate
from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.book.cells import serial_of
from ledger_tools.book.formulas.authorisations import COUNTED
from ledger_tools.book.formulas.job import MARK_EXTRA, MARK_OVER, MARK_REASON, JobFormulas
from ledger_tools.book.formulas.time import line_time
from ledger_tools.book.names import Setting
from ledger_tools.book.parse_invoices import TAX_KIND
from ledger_tools.book.places import Grid
from ledger_tools.costing.job_cost import LineCost
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.costing.time import BILLABLE, TimeEntry
from ledger_tools.hours import MINUTES_A_DAY
from ledger_tools.money import ZERO
from ledger_tools.shop.model import (
    Authorisation,
    Customer,
    Job,
    Option,
    Payment,
    ShopSettings,
)
from ledger_tools.shop.plan import Content
from ledger_tools.shop.results import JobResult, Limit
from ledger_tools.shop.snapshot import Place, Scalar

Cells = dict[Place, Content]
CellValue = Decimal | date | str | int | None
Values = Mapping[str, CellValue]
"""What one row is to hold, by column key."""


def cell_value(value: CellValue) -> Scalar:
    """Return a value as a cell holds it: numbers as numbers, days as serial numbers."""
    if isinstance(value, date):
        return serial_of(value)
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    return value


def setting_value(settings: ShopSettings, setting: Setting) -> Decimal | str | int:
    """Return what the cell of a setting holds.

    >>> from ledger_tools.book.names import SETTINGS
    >>> [setting_value(ShopSettings(), s) for s in SETTINGS if s.key in ("step", "scope")]
    [6, 'job']
    """
    owner = settings.hours if setting.key in settings.hours._fields else settings
    value: Decimal | str | int = getattr(owner, setting.key)
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value


def header_cells(result: JobResult, formulas: JobFormulas, components: tuple[str, ...]) -> Cells:
    """Return the cells above a job's lines: title, totals, tax, standing."""
    grid = formulas.grid
    values = _header_values(result)
    cells: Cells = {grid.cells["number"]: Content(result.job.number)}
    for key, formula in formulas.header(components).items():
        if key in grid.cells:
            cells[grid.cells[key]] = Content(values[key], formula)
    for n, component in enumerate(components, 1):
        cells[grid.cells[f"tax{n}_name"]] = Content(component)
    if "last_line" in grid.cells:
        cells[grid.cells["last_line"]] = Content(result.job.last_line_id)
    cells[grid.cells["item"]] = Content(result.job.item, formulas.item())
    cells[grid.cells["flag"]] = Content(result.flag, formulas.flag())
    return cells


def _header_values(result: JobResult) -> dict[str, Scalar]:
    job = result.job
    taxes: dict[str, Decimal | None] = {}
    for n, (tax, promised) in enumerate(zip(result.taxes, result.estimate_taxes, strict=True), 1):
        taxes[f"tax{n}_rate"] = tax.rate
        taxes[f"tax{n}_base"] = tax.base
        taxes[f"tax{n}_billed"] = tax.amount
        taxes[f"tax{n}_estimated"] = promised.amount
    values: Values = {
        "customer": job.customer,
        "repair": job.repair,
        "opened": job.opened,
        "promised": job.promised or "",
        "invoice": result.invoice,
        "stands": result.stands,
        "invoiced": result.invoiced or "",
        "balance": "" if result.balance is None else result.balance,
        "net_estimated": result.estimate_net,
        "net_billed": result.worked,
        "to_bill": result.subtotal,
        "tax_estimated": result.estimate_total - result.estimate_net,
        "tax_billed": result.tax,
        "total_estimated": result.estimate_total,
        "total_billed": result.total,
        "ceiling": "" if result.ceiling is None else result.ceiling,
        "over": result.worked - result.estimate_net,
        "estimate_minutes": result.estimate_minutes,
        "actual_minutes": result.actual_minutes,
        "non_billable_minutes": result.non_billable_minutes,
        "billed_hours": result.billed_hours,
        "non_billable_value": result.non_billable_value,
        **{f"{kind}_estimated": amount for kind, amount in result.estimated.items()},
        **{f"{kind}_billed": amount for kind, amount in result.billed.items()},
        **taxes,
        **_bill_values(result.bill),
    }
    return {key: cell_value(value) for key, value in values.items()}


def _bill_values(bill: Bill | None) -> Values:
    """Return what the bill is held to and adjusted by; empty where it is what was worked."""
    if bill is None:
        return {"adjusted": ""}
    terms, worked, adjustment = bill.terms, bill.worked, bill.adjustment
    return {
        "basis": terms.basis.value,
        "price": terms.price.amount if terms.price else "",
        "counted": COUNTED[bool(terms.limit and terms.limit.with_tax)],
        "worked_tax": worked.tax,
        "exact_tax": worked.exact_tax,
        "spread": adjustment.spread if adjustment else ZERO,
        "rest": adjustment.rest if adjustment else ZERO,
        "rest_class": bill.largest_class,
        "adjusted": adjustment.total if adjustment else ZERO,
    }


def line_cells(
    rows: Mapping[int, int],
    costs: Mapping[int, LineCost],
    typed: Mapping[int, Line],
    formulas: JobFormulas,
    fed: Collection[int] = (),
) -> Cells:
    """Return the computed cells of all line rows, empty rows too.

    Args:
        rows: Line id of every row.
        costs: What each line comes to, by line id.
        typed: Lines as typed, by row; a labour line without typed price gets its rate's formula.
        formulas: The sheet's formulas.
        fed: Rows whose minutes stand in `Time`.
    """
    grid = formulas.grid
    promised = sum((cost.estimated for cost in costs.values()), start=ZERO) > 0
    cells: Cells = {}
    for row, line_id in rows.items():
        cost = costs.get(line_id)
        cells[row, grid.columns["line_id"]] = Content(line_id)
        values = _line_values(cost, promised=promised)
        for key, formula in formulas.line(row).items():
            cells[row, grid.columns[key]] = Content(values[key], formula)
        if row in fed and cost is not None:
            for key, formula in line_time(row, grid, formulas.places).items():
                minutes = getattr(cost.line, key) or ZERO
                cells[row, grid.columns[key]] = Content(cell_value(minutes), formula)
        if row not in typed or typed[row].price is None:
            labour = cost is not None and cost.line.kind is Kind.LABOUR
            rate = cell_value(cost.line.price or ZERO) if cost and labour else ""
            cells[row, grid.columns["price"]] = Content(rate, formulas.price(row))
    return cells


def _line_values(cost: LineCost | None, *, promised: bool) -> dict[str, Scalar]:
    if cost is None:
        return dict.fromkeys(("billed", "amount", "mark", "estimated"), "")
    return {
        "billed": cell_value(cost.billed),
        "amount": cell_value(cost.amount),
        "mark": _mark(cost.line, promised=promised),
        "estimated": cell_value(cost.estimated),
    }


def share_cells(rows: Mapping[int, int], result: JobResult, formulas: JobFormulas) -> Cells:
    """Return what each line bears of an adjustment; `rows` are the line ids of every row."""
    grid = formulas.grid
    shares = result.adjustment.shares if result.adjustment else ()
    borne = {c.line.line_id for c in result.costs if c.amount}
    by_line = {share.line_id: share for share in shares if share.line_id in borne}
    cells: Cells = {}
    for row, line_id in rows.items():
        share = by_line.get(line_id)
        values: dict[str, Scalar] = {
            "adjusted": cell_value(share.amount) if share else "",
            "remainder": share.remainder if share else "",
        }
        for key, formula in formulas.shares(row).items():
            cells[row, grid.columns[key]] = Content(values[key], formula)
    return cells


def _mark(line: Line, *, promised: bool) -> str:
    """Return what to look at in a line; work outside the estimate only where there is one."""
    estimate, actual = line.estimate or ZERO, line.actual or ZERO
    if (line.non_billable or ZERO) > 0 and not line.reason:
        return MARK_REASON
    if estimate > 0:
        return MARK_OVER if actual > estimate else ""
    return MARK_EXTRA if promised and actual > 0 and line.kind is not Kind.DISCOUNT else ""


def given_line_cells(lines: Iterable[tuple[int, Line]], grid: Grid) -> Cells:
    """Return the cells of lines that come from the catalogue or a file, by row, as if typed."""
    cells: Cells = {}
    for row, line in lines:
        given = {
            "kind": line.kind.value,
            "description": line.description,
            "labour_class": line.class_word,
            "unit": line.unit,
            "estimate": line.estimate,
            "actual": line.actual,
            "non_billable": line.non_billable,
            "reason": line.reason,
            "price": line.price,
            "agreed_price": line.agreed_price,
            "vendor": line.vendor,
            "cost": line.cost,
            "tax_class": line.tax_class,
        }
        for key, value in given.items():
            if value not in (None, ""):
                cells[row, grid.columns[key]] = Content(cell_value(value))
    return cells


def row_cells(row: int, grid: Grid, values: Values) -> Cells:
    """Return the cells of one row of a register; empty values are left out."""
    return {
        (row, grid.columns[key]): Content(cell_value(value))
        for key, value in values.items()
        if value not in (None, "")
    }


def customer_values(customer: Customer) -> Values:
    """Return a customer's typed cells."""
    return {
        "name": customer.name,
        "address": customer.address,
        "contact": customer.contact,
        "tax_number": customer.tax_number,
        "note": customer.note,
    }


def job_values(job: Job) -> Values:
    """Return the cells of a job's row in `Jobs` that people type, and its number."""
    return {
        "number": job.number,
        "opened": job.opened,
        "customer": job.customer,
        "item": job.item,
        "repair": job.repair,
        "state": job.state,
        "promised": job.promised,
        "object_class": job.object_class,
        "basis": "" if job.basis is Basis.ACTUAL else job.basis.value,
        "agreed_price": job.agreed_price,
        "note": job.note,
        "told_from": job.told.least if job.told else None,
        "told_to": job.told.most if job.told else None,
    }


def payment_values(payment: Payment) -> Values:
    """Return a payment's typed cells."""
    return {
        "day": payment.day,
        "invoice": payment.invoice,
        "amount": payment.amount,
        "how": payment.how,
        "note": payment.note,
    }


def authorisation_values(given: Authorisation) -> Values:
    """Return an authorisation's cells."""
    return {
        "job": given.job,
        "day": given.day,
        "amount": given.amount,
        "who": given.who,
        "how": given.how,
        "scope": given.scope,
        "taken_by": given.taken_by,
        "evidence": given.evidence,
    }


def limit_values(limit: Limit | None, row: int) -> Values:
    """Return what an authorisation allows; empty where there is none.

    Args:
        limit: What it allows.
        row: Row of the rule in `Tolerances`, 0 for none.
    """
    if limit is None:
        return dict.fromkeys(("rule_row", "rule", "limit", "counted"), "")
    return {
        "rule_row": row,
        "rule": limit.rule.kind.value,
        "limit": limit.amount,
        "counted": COUNTED[limit.with_tax],
    }


def time_values(entry: TimeEntry) -> Values:
    """Return the typed cells of a row of `Time`; times of day are parts of a day."""

    def of_a_day(minutes: int | None) -> Decimal | None:
        return None if minutes is None else Decimal(minutes) / MINUTES_A_DAY

    return {
        "day": entry.day,
        "who": entry.who,
        "job": entry.job,
        "line_id": entry.line_id,
        "start": of_a_day(entry.start),
        "stop": of_a_day(entry.stop),
        "minutes": entry.typed,
        "reason": entry.reason or BILLABLE,
        "note": entry.note,
    }


def invoice_values(invoice: Invoice, wording: str) -> Values:
    """Return an invoice's frozen cells; `wording` is its words as one text."""
    return {
        "number": invoice.number,
        "job": invoice.job,
        "day": invoice.day,
        "due": invoice.due,
        "customer": invoice.customer,
        "item": invoice.item,
        "repair": invoice.repair,
        "subtotal": invoice.subtotal,
        "tax": invoice.tax,
        "total": invoice.total,
        "fingerprint": invoice.fingerprint,
        "wording": wording,
    }


def invoice_line_values(number: str, line: InvoiceLine) -> Values:
    """Return the frozen cells of one billed line."""
    return {
        "invoice": number,
        "line_id": line.line_id or None,
        "kind": line.kind.value,
        "description": line.description,
        "quantity": line.quantity,
        "unit": line.unit,
        "price": line.price,
        "amount": line.amount,
        "taxed_as": line.taxed_as,
        "labour_class": line.class_word,
        "vendor": line.vendor,
        "cost": line.cost,
        "estimate": line.estimate,
        "actual": line.actual,
        "non_billable": line.non_billable,
        "reason": line.reason,
        "non_billable_value": line.non_billable_value,
        "estimated": line.estimated,
    }


def estimate_values(estimate: Estimate, wording: str) -> Values:
    """Return an estimate's frozen cells and its acceptance; `wording` is its words as one text."""
    accepted = estimate.accepted
    return {
        "number": estimate.number,
        "job": estimate.job,
        "revision": estimate.revision,
        "day": estimate.day,
        "valid_until": estimate.valid_until,
        "customer": estimate.customer,
        "item": estimate.item,
        "subtotal": estimate.subtotal,
        "tax": estimate.tax,
        "total": estimate.total,
        "deposit": estimate.deposit or None,
        "accepted_on": accepted.day if accepted else None,
        "accepted_by": accepted.who if accepted else "",
        "accepted_how": accepted.how if accepted else "",
        "accepted_option": accepted.option if accepted else "",
        "declined_on": estimate.declined,
        "paper": EXTRA_WORK if estimate.request else "",
        "found": estimate.request.found if estimate.request else "",
        "authorised": estimate.request.authorised if estimate.request else None,
        "counted": COUNTED[estimate.request.with_tax] if estimate.request else "",
        "fingerprint": estimate.fingerprint,
        "wording": wording,
    }


def estimate_line_values(number: str, line: InvoiceLine) -> Values:
    """Return the frozen cells of one promised line."""
    return {
        "estimate": number,
        "line_id": line.line_id or None,
        "kind": line.kind.value,
        "description": line.description,
        "quantity": line.quantity,
        "unit": line.unit,
        "price": line.price,
        "amount": line.amount,
        "taxed_as": line.taxed_as,
        "labour_class": line.class_word,
        "vendor": line.vendor,
        "minutes": line.estimate if line.kind is Kind.LABOUR else None,
        "before": line.before,
    }


def option_values(option: Option) -> Values:
    """Return an option's typed cells, its choice with them."""
    chosen = option.chosen
    return {
        "job": option.job,
        "option": option.option,
        "kind": option.kind,
        "description": option.description,
        "price": option.price,
        "sublet": option.sublet,
        "lead_days": option.lead_days,
        "guarantee": option.guarantee,
        "chance": option.chance,
        "come_back": option.come_back,
        "advised": "yes" if option.advised else "",
        "chosen_on": chosen.day if chosen else None,
        "chosen_by": chosen.who if chosen else "",
        "chosen_how": chosen.how if chosen else "",
        "note": option.note,
    }


def archived_line_values(number: str, cost: LineCost) -> Values:
    """Return the cells of one line of an archived job, typed and computed."""
    line = cost.line
    return {
        "job": number,
        "line_id": line.line_id,
        "kind": line.kind.value,
        "description": line.description,
        "labour_class": line.class_word,
        "unit": line.unit,
        "estimate": line.estimate,
        "actual": line.actual,
        "non_billable": line.non_billable,
        "reason": line.reason,
        "billed": cost.billed,
        "price": line.price,
        "agreed_price": line.agreed_price,
        "amount": cost.amount,
        "vendor": line.vendor,
        "cost": line.cost,
        "tax_class": line.tax_class,
        "estimated": cost.estimated,
    }


def tax_line_values(paper: str, number: str, taxes: Iterable[TaxAmount]) -> list[Values]:
    """Return the frozen rows of the taxes on a paper; `paper` is the column of its number."""
    return [
        {
            paper: number,
            "kind": TAX_KIND,
            "description": tax.component,
            "quantity": tax.rate,
            "price": tax.base,
            "amount": tax.amount,
        }
        for tax in taxes
    ]
