"""The year-end pack: four quarters make the year, the year ties to the register."""

import io
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet
from openxml_audit import OpenXmlValidator

from ledger_tools.documents.year_end import year_end_workbook
from ledger_tools.shop.model import Payment, ShopBook
from tests.documents.registers import awkward_book, sample_book, sublet_invoice, with_invoices
from tests.documents.second_calculator import differences

BOOK = sample_book()


def april_book() -> ShopBook:
    """Return the sample shop with a year that begins in April."""
    return replace(BOOK, settings=replace(BOOK.settings, first_month=4))


BOOKS = {
    "sample": BOOK,
    "awkward": awkward_book(),
    "from-april": april_book(),
    "nothing-ever": with_invoices(),
}


def sheet_of(book: ShopBook, name: str) -> Worksheet:
    """Return a sheet of the pack of 2025, with the figures stored in it."""
    content = io.BytesIO(year_end_workbook(book, 2025))
    return openpyxl.load_workbook(content, data_only=True)[name]


def row_of(sheet: Worksheet, label: str) -> list[Decimal]:
    """Return the figures of four quarters and the year in the first row with that label."""
    row = next(r for r in sheet.iter_rows(values_only=True) if r[0] == label)
    return [Decimal(str(figure)) for figure in row[2:7]]


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", BOOKS)
def test_every_figure_is_what_its_formula_gives(name: str, tmp_path: Path) -> None:
    """LibreOffice computes each cell of the pack to the figure stored in it."""
    figures, found = differences(year_end_workbook(BOOKS[name], 2025), tmp_path)

    assert not found
    assert figures > 150


@pytest.mark.parametrize("name", BOOKS)
def test_four_quarters_make_the_year(name: str) -> None:
    """Each figure of the year is the sum of its quarters; balances pass on."""
    sheet = sheet_of(BOOKS[name], "Quarters")

    for label in ("Labour", "Sublet work", "Net", "Invoiced with tax", "Billed", "Invoices"):
        *quarters, year = row_of(sheet, label)
        assert sum(quarters) == year, label
    opening, closing = row_of(sheet, "At the start"), row_of(sheet, "At the end")
    assert opening[1:4] == closing[:3]
    assert (opening[4], closing[4]) == (opening[0], closing[3])


def test_net_by_quarter_the_plain_way() -> None:
    """A loop over raw lines gives the four nets."""
    nets = [Decimal(0)] * 4
    for invoice in BOOK.invoices.values():
        for line in invoice.lines:
            if invoice.day.year == 2025:
                nets[(invoice.day.month - 1) // 3] += line.amount

    assert row_of(sheet_of(BOOK, "Quarters"), "Net") == [*nets, sum(nets)]


def test_a_year_from_april_ends_in_march() -> None:
    """The columns carry the days of the shop's own quarters."""
    sheet = sheet_of(april_book(), "Quarters")

    assert sheet["C6"].value.date() == date(2025, 4, 1)
    assert sheet["F7"].value.date() == date(2026, 3, 31)
    april = date(2025, 4, 1)
    invoiced = sum(i.total for i in BOOK.invoices.values() if i.day < april)
    received = sum(p.amount for p in BOOK.payments if p.day < april)
    assert row_of(sheet, "At the start")[0] == invoiced - received > 0


def test_the_register_holds_every_invoice_of_the_year() -> None:
    """Each number of the year stands in the sales register, once."""
    sheet = sheet_of(BOOK, "Invoices")
    numbers = [row[0] for row in sheet.iter_rows(min_row=5, values_only=True)]

    assert sheet["A1"].value == "Sales register"
    assert len(set(numbers)) == len(numbers)
    assert set(numbers) >= {n for n, i in BOOK.invoices.items() if i.day.year == 2025}


def test_open_invoices_show_what_came_in_since() -> None:
    """Owing is as on the last day of the year; a payment of January stands beside it."""
    invoice = sublet_invoice("25-0001", "90.00", day=date(2025, 12, 1))
    paid = (
        Payment(date(2025, 12, 31), "25-0001", Decimal("20.00")),
        Payment(date(2026, 1, 5), "25-0001", Decimal("30.00")),
    )
    sheet = sheet_of(with_invoices(invoice, payments=paid), "Receivables")

    (row,) = [r for r in sheet.iter_rows(values_only=True) if r[0] == "25-0001"]
    assert row[4:9] == (90, 20, 70, (date(2025, 12, 31) - invoice.due).days, 30)
    assert sheet_of(with_invoices(invoice, payments=paid), "Payments")["G6"].value == "paid later"


def test_vendor_totals_are_those_of_the_lines() -> None:
    """Billed and cost of each vendor over the year, by a loop over raw lines."""
    sums: dict[str, list[Decimal]] = {}
    for invoice in BOOK.invoices.values():
        for line in invoice.lines:
            if line.vendor and invoice.day.year == 2025:
                own = sums.setdefault(line.vendor, [Decimal(0), Decimal(0)])
                own[0] += line.amount
                own[1] += line.cost or 0
    rows = sheet_of(BOOK, "Sublets").iter_rows(min_row=7, values_only=True)
    shown = {r[0]: [Decimal(str(r[2])), Decimal(str(r[3]))] for r in rows if r[0] in sums}

    assert shown == sums
    assert len(sums) == 3


@pytest.mark.parametrize("name", ["sample", "from-april", "nothing-ever"])
def test_a_sound_year_passes_every_check(name: str) -> None:
    """Quarters, year and register tie."""
    rows = list(sheet_of(BOOKS[name], "Checks").iter_rows(min_row=5, values_only=True))

    assert len(rows) == 14
    assert {row[5] for row in rows} == {"OK"}


def test_the_cover_says_what_is_not_in_it() -> None:
    """Contents with links, limits, tax rules with their caution."""
    sheet = sheet_of(BOOK, "Year-end")
    words = [str(row[0]) for row in sheet.iter_rows(values_only=True) if row[0]]

    assert any("check with your authority" in text for text in words)
    assert BOOK.profile.caution in words
    linked = {c.value for row in sheet.iter_rows() for c in row if c.hyperlink}
    assert {"Quarters", "Receivables", "Sublets", "Invoices", "Checks"} <= linked


@pytest.mark.parametrize("name", BOOKS)
def test_the_file_keeps_to_the_standard(name: str, tmp_path: Path) -> None:
    """An independent reading of the file format finds nothing."""
    path = tmp_path / "year.xlsx"
    path.write_bytes(year_end_workbook(BOOKS[name], 2025))

    assert [str(error) for error in OpenXmlValidator().validate(path).errors] == []


def test_the_same_book_gives_the_same_bytes() -> None:
    """A second run, and the rows in reverse, give the same file."""
    once = year_end_workbook(BOOK, 2025)
    backwards = dict(reversed(list(BOOK.invoices.items())))

    assert year_end_workbook(BOOK, 2025) == once
    assert year_end_workbook(replace(BOOK, invoices=backwards), 2025) == once
    assert year_end_workbook(BOOK, 2025, today=BOOK.as_of + timedelta(days=1)) == once
