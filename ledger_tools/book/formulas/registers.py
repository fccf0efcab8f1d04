"""The live formulas of the registers: jobs, customers, payments, invoices, estimates."""

from ledger_tools.billing.estimate import ACCEPTED, DECLINED, EXPIRED, OPEN, REPLACED
from ledger_tools.book.formulas.text import rounded
from ledger_tools.book.layout import (
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    PAYMENTS_TABLE,
)
from ledger_tools.book.names import NAME_AS_OF
from ledger_tools.book.places import Grid, Places, quoted
from ledger_tools.book.registers import ESTIMATES_TABLE, INVOICES_TABLE
from ledger_tools.money import Rounding
from ledger_tools.shop.results import (
    ARCHIVED,
    INVOICED,
)

_REGISTER_ROWS = 5000

TITLE = 'IF(shop_name="","Shop book",shop_name)'
"""The first line of `Start`."""


def jobs_row(sheet: Grid, flag: str) -> dict[str, str]:
    """Return the formulas of a job's row in `Jobs`: what its sheet says. `flag` is its address."""
    cells = {
        "estimate": "net_estimated",
        "subtotal": "to_bill",
        "total": "total_billed",
        "ceiling": "ceiling",
        "balance": "balance",
        "stands": "stands",
    }
    there = {key: f"{quoted(sheet.sheet)}!{sheet.cell(cell)}" for key, cell in cells.items()}
    return there | {"flag": f"{quoted(sheet.sheet)}!{flag}"}


def archived_row(row: int, places: Places, money: Rounding) -> dict[str, str]:
    """Return what stays live in the row of `Jobs` of an archived job: what is owing, its standing.

    Money given back, or a payment that is taken away again, makes an archived job stand open.
    """
    own, payments = places.grid(JOBS_TABLE), places.grid(PAYMENTS_TABLE)
    invoices = places.grid(INVOICES_TABLE)
    number, balance = own.at("invoice", row), own.at("balance", row)
    owed = f"SUMIFS({invoices.whole('total')},{invoices.whole('number')},{number})"
    paid = f"SUMIFS({payments.whole('amount')},{payments.whole('invoice')},{number})"
    return {
        "balance": rounded(f"{owed}-{paid}", money),
        "stands": f'IF({balance}>0,"{INVOICED}","{ARCHIVED}")',
    }


def customer_row(row: int, places: Places, money: Rounding) -> dict[str, str]:
    """Return the formulas of a customer's row. Names are compared whole, never as a pattern."""
    jobs, own = places.grid(JOBS_TABLE), places.grid(CUSTOMERS_TABLE)
    name = own.at("name", row)
    found = {"jobs": f"SUMPRODUCT(--({jobs.part('customer', _REGISTER_ROWS)}={name}))"}
    if not places.has(INVOICES_TABLE):
        return found
    invoices = places.grid(INVOICES_TABLE)
    names, owed = (invoices.part(key, _REGISTER_ROWS) for key in ("customer", "balance"))
    return found | {"owing": rounded(f"SUMPRODUCT(--({names}={name}),{owed})", money)}


def payment_row(row: int, places: Places) -> dict[str, str]:
    """Return the formulas of a payment's row: who paid, and what the invoice still owes."""
    own = places.grid(PAYMENTS_TABLE)
    number = own.at("invoice", row)
    if not places.has(INVOICES_TABLE):
        return {}
    invoices = places.grid(INVOICES_TABLE)

    def of_invoice(key: str) -> str:
        at = f"MATCH({number},{invoices.whole('number')},0)"
        return f'IF({number}="","",IFERROR(INDEX({invoices.whole(key)},{at}),""))'

    return {"customer": of_invoice("customer"), "owing": of_invoice("balance")}


def invoice_row(row: int, places: Places, money: Rounding) -> dict[str, str]:
    """Return the formulas of an issued invoice's row: paid, owing, days overdue."""
    own, payments = places.grid(INVOICES_TABLE), places.grid(PAYMENTS_TABLE)
    amounts, numbers = payments.whole("amount"), payments.whole("invoice")
    number, paid, balance, due = (own.at(k, row) for k in ("number", "paid", "balance", "due"))
    return {
        "paid": rounded(f"SUMIFS({amounts},{numbers},{number})", money),
        "balance": rounded(f"({own.at('total', row)}-{paid})", money),
        "overdue": f"IF(AND({balance}>0,{NAME_AS_OF}>{due}),{NAME_AS_OF}-{due},0)",
    }


def estimate_row(row: int, places: Places) -> dict[str, str]:
    """Return the formula of an estimate's row: accepted, declined, replaced, expired or open."""
    own = places.grid(ESTIMATES_TABLE)
    accepted, declined, job, revision, until = (
        own.at(key, row)
        for key in ("accepted_on", "declined_on", "job", "revision", "valid_until")
    )
    newer = f'COUNTIFS({own.whole("job")},{job},{own.whole("revision")},">"&{revision})'
    return {
        "stands": f'IF({accepted}<>"","{ACCEPTED}",IF({declined}<>"","{DECLINED}",'
        f'IF({newer}>0,"{REPLACED}",IF({until}<{NAME_AS_OF},"{EXPIRED}","{OPEN}"))))'
    }
