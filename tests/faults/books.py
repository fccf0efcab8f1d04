"""The books that runs with faults begin with: billed, to be billed, paid, archived."""

import tempfile
from dataclasses import replace
from decimal import Decimal
from functools import cache
from pathlib import Path
from typing import NamedTuple

from ledger_tools.book.archive import archive_path
from ledger_tools.book.create import create_book
from ledger_tools.book.layout import JOBS_TABLE, PAYMENTS_TABLE
from ledger_tools.book.registers import INVOICES_TABLE
from ledger_tools.costing.lines import Kind, Line
from tests.book.shop import Shop, seed
from tests.faults.scenario import BOOK, DAY, verb

FEE = (Line(1, Kind.FEE, "Towing", estimate=Decimal(1), actual=Decimal(1), price=Decimal(50)),)
ALL_ISSUED = {f"25-000{n}": f"25-000{n}" for n in (1, 2, 3)}


class Books(NamedTuple):
    """A book as it grows.

    Attributes:
        first: One job, to be billed.
        issued: Its invoice is issued.
        ready: Two more jobs are to be billed.
        typed: Besides, a job is typed in `Jobs` that has neither number nor sheet yet.
    """

    first: bytes
    issued: bytes
    ready: bytes
    typed: bytes


@cache
def books() -> Books:
    """Return a small book as it grows."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder) / BOOK)
        book = seed("ca-qc")
        few = book.catalogue._replace(repairs=book.catalogue.repairs[:1])
        shop.path.write_bytes(create_book(replace(book, catalogue=few)))
        shop.add(state="to invoice", lines=FEE)
        first = shop.path.read_bytes()
        shop.invoice()
        issued_one = shop.path.read_bytes()
        for customer in ("Ann Bell", "C. Dorn"):
            shop.add(customer=customer, state="to invoice", lines=FEE)
        ready = shop.path.read_bytes()
        shop.fill(JOBS_TABLE, 4, customer="E. Frey", item="Rack", state="in work")
        return Books(first, issued_one, ready, shop.path.read_bytes())


def book_with_invoice() -> bytes:
    """Return a small book with one invoice issued and two jobs that are to be billed."""
    return books().ready


@cache
def waiting() -> bytes:
    """Return a book with two jobs that wait for the customer's yes."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder) / BOOK)
        shop.path.write_bytes(books().issued)
        for customer in ("Ann Bell", "C. Dorn"):
            shop.add(customer=customer, lines=FEE)
        return shop.path.read_bytes()


@cache
def asking() -> bytes:
    """Return a book with a job, its second, of which a part alone is authorised."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder) / BOOK)
        shop.path.write_bytes(books().issued)
        shop.add(customer="Ann Bell", lines=FEE, authorised="1.00")
        return shop.path.read_bytes()


class Paid(NamedTuple):
    """A book whose three jobs are paid.

    Attributes:
        whole: None of them archived.
        book: The first of them archived.
        archive: The archive book that goes with it.
    """

    whole: bytes
    book: bytes
    archive: bytes


@cache
def paid() -> Paid:
    """Return a book with three paid jobs, before and after one is archived."""
    with tempfile.TemporaryDirectory() as folder:
        shop = Shop(Path(folder) / BOOK)
        shop.path.write_bytes(books().ready)
        shop.invoice()
        shop.fill_rows(
            PAYMENTS_TABLE,
            1,
            [
                {"day": shop.today, "invoice": i.number, "amount": i.total}
                for i in shop.parsed().book.invoices.values()
            ],
        )
        shop.recompute()
        whole = shop.path.read_bytes()
        assert verb("archive", str(shop.path), "25-0001", *DAY).code == 0
        return Paid(whole, shop.path.read_bytes(), archive_path(shop.path).read_bytes())


def issued(path: Path) -> dict[str, str]:
    """Return job numbers by invoice number as the register of a book holds them, in its order."""
    return _issued(path.read_bytes())


@cache
def _issued(content: bytes) -> dict[str, str]:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / BOOK).write_bytes(content)
        return _register(Shop(Path(folder) / BOOK))


def _register(shop: Shop) -> dict[str, str]:
    grid = shop.grid(INVOICES_TABLE)
    values = shop.sheet(grid.sheet).values
    rows = range(grid.header_row + 1, grid.table_end + 1)
    pairs = [
        (values.get((r, grid.columns["number"])), values.get((r, grid.columns["job"])))
        for r in rows
    ]
    given = [(str(number), str(job)) for number, job in pairs if number]
    assert len(dict(given)) == len(given), given
    return dict(given)
