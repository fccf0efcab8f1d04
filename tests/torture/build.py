"""A real shop book, made by the verbs, and what its owner puts into it."""

import tempfile
from collections.abc import Mapping
from functools import cache
from pathlib import Path

from lxml import etree

from ledger_tools.book.layout import CUSTOMERS_TABLE, PAYMENTS_TABLE
from tests.book.shop import Shop, Typed
from tests.faults.scenario import verb
from tests.torture.hand import add_all, with_macros
from tests.torture.merge import Merge, put_cell, row_of
from tests.torture.owner import FIGURES, IN_WORK, owner_workbook
from tests.torture.package import Parts, main

DAY = ("--today", "2025-02-03")
LATER = ("--today", "2025-03-14")
TO_INVOICE, ESTIMATED, TYPED = "25-0002", "25-0004", "25-0005"
"""Jobs with no things of the owner's on their sheets; the last is still to be opened."""
_JOBS: tuple[Mapping[str, str], ...] = (
    {"customer": "R. Calder", "item": "Oil pan", "repair": "OIL-PAN", "state": "to invoice"},
    {"customer": "Ann Bell", "item": "Tank", "repair": "TANK-LINE", "state": "to invoice"},
    {"customer": "R. Calder", "item": "Housing", "repair": "THREAD", "state": "in work"},
    {"customer": "Été Sàrl", "item": "Gate", "repair": "GATE", "state": "estimated"},
)


def run(*words: str) -> str:
    """Run a verb that must succeed and return what it said."""
    ran = verb(*words)
    assert ran.code == 0, ran.said
    return ran.said


@cache
def shop_book() -> bytes:
    """Return a book with four jobs: one paid, one to invoice, one past its estimate, one new."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shop.xlsx"
        book = str(path)
        run("new", book, "--tax", "us-ca", *DAY)
        shop = Shop(path)
        shop.decide("shop_name", "Ferrow Metal Repair")
        for job in _JOBS[:1]:
            _open(book, job)
        _addresses(shop, 1)
        run("invoice", book, *DAY)
        total = float(shop.parsed().book.invoices["25-0001"].total)
        _type(shop, day=45_700, invoice="25-0001", amount=total)
        for job in _JOBS[1:]:
            _open(book, job)
        _addresses(shop, 3)
        shop.fill(IN_WORK, 1, actual=45)
        shop.fill(IN_WORK, 2, actual=90, non_billable=20, reason="teaching")
        run("recompute", book, *DAY)
        return path.read_bytes()


def _open(book: str, job: Mapping[str, str]) -> None:
    words = [word for key, value in job.items() for word in (f"--{key}", value)]
    run("add-job", book, *words, "--authorised", "3000", *DAY)


def _addresses(shop: Shop, rows: int) -> None:
    for row in range(1, rows + 1):
        shop.fill(CUSTOMERS_TABLE, row, address=f"{row} Mill Road")


def _type(shop: Shop, **typed: Typed) -> None:
    shop.fill(PAYMENTS_TABLE, 1, **typed)


@cache
def torture_book(*, macros: bool = False) -> bytes:
    """Return that book full of its owner's things, worked out, with new words typed into it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "shop.xlsx"
        path.write_bytes(shop_book())
        parts = Parts.read(path)
        owner = Parts.read(owner_workbook(Path(folder) / "owner.xlsx"))
        Merge(parts, owner).run(first=FIGURES)
        add_all(parts)
        if macros:
            with_macros(parts)
        type_words(parts)
        return parts.content()


def type_words(parts: Parts) -> None:
    """Type what gives every verb work: a job, minutes, lines to the end of the table, a price.

    One figure of the tools is typed over.
    """
    _write(parts, "Jobs", {"C9": "New Yard", "D9": "Grain chute", "E9": "THREAD"})
    _write(parts, IN_WORK, {"G13": "1h10", "M12": 5})
    for row in range(18, 23):
        line = {f"B{row}": "fee", f"C{row}": f"Towing {row}"}
        _write(parts, IN_WORK, {**line, f"F{row}": 1, f"K{row}": 10.5})


def typed_into(content: bytes, typed: Mapping[str, Mapping[str, str | float]]) -> bytes:
    """Return a book with words typed into it, by sheet and cell."""
    parts = Parts.of(content)
    for name, cells in typed.items():
        _write(parts, name, cells)
    return parts.content()


def _write(parts: Parts, name: str, cells: Mapping[str, str | float]) -> None:
    sheet = parts.sheets()[name]
    root = parts.root(sheet)
    for where, value in cells.items():
        row = row_of(root, int(where.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")))
        there = next((c for c in row if c.get("r") == where), None)
        cell = etree.Element(main("c"), {"r": where})
        if there is not None:
            cell.set("s", there.get("s", "0"))
            row.remove(there)
        if isinstance(value, str):
            cell.set("t", "inlineStr")
            etree.SubElement(etree.SubElement(cell, main("is")), main("t")).text = value
        else:
            etree.SubElement(cell, main("v")).text = str(value)
        put_cell(row, cell)
    parts.put(sheet, root)
