"""The quarter's workbook: live figures, ties to the register, one page, the same bytes."""

import io
import random
import re
import zipfile
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pdfplumber
import pytest
from openpyxl.workbook import Workbook
from openxml_audit import OpenXmlValidator

from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.periods import period_from
from ledger_tools.billing.receivables import Receipt
from ledger_tools.billing.summaries import summarise
from ledger_tools.costing.lines import Kind
from ledger_tools.documents.quarter import quarter_workbook
from ledger_tools.money import Rounding
from ledger_tools.shop.model import Payment, ShopBook
from tests import libreoffice
from tests.documents.registers import (
    awkward_book,
    invoice_of,
    other_line,
    sample_book,
    sublet_invoice,
    with_invoices,
)
from tests.documents.second_calculator import differences

Q3 = period_from("2025-Q3")
BOOK = sample_book()
SAFE = {
    "ABS", "COUNTIF", "COUNTIFS", "EDATE", "EXACT", "IF", "MAX", "ROUND", "SUM", "SUMIFS",
    "SUMPRODUCT", "_xlfn.MAXIFS", "_xlfn.MINIFS",
}  # fmt: skip
"""Functions that Excel and LibreOffice 7.4 compute alike."""


def whole_units_book() -> ShopBook:
    """Return a book in a currency without minor unit; a tax of 884.5 is a hair less in binary."""
    settings = replace(BOOK.settings, currency="JPY", digits=0)
    profile = BOOK.profile._replace(currency="JPY", rounding=Rounding(0))
    lines = (other_line(1, Kind.PART, "12200"), other_line(2, Kind.SUBLET, "8000", cost="7001"))
    made = invoice_of("25-0001", Q3.first, lines, profile=profile)
    return replace(with_invoices(made), settings=settings, profile=profile)


BOOKS = {
    "sample": BOOK,
    "awkward": awkward_book(),
    "whole-units": whole_units_book(),
    "nothing-ever": with_invoices(),
}


def opened(content: bytes, *, values: bool = False) -> Workbook:
    """Return the workbook as another library reads it."""
    return openpyxl.load_workbook(io.BytesIO(content), data_only=values)


def checks(book: ShopBook) -> dict[str, tuple[str, str]]:
    """Return the word of each check and where it says to look."""
    sheet = opened(quarter_workbook(book, Q3), values=True)["Checks"]
    rows = sheet.iter_rows(min_row=5, values_only=True)
    return {str(row[0]): (str(row[5]), str(row[6] or "")) for row in rows if row[0]}


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", BOOKS)
def test_every_figure_is_what_its_formula_gives(name: str, tmp_path: Path) -> None:
    """LibreOffice computes each cell of the workbook to the figure stored in it."""
    figures, found = differences(quarter_workbook(BOOKS[name], Q3), tmp_path)

    assert not found
    assert figures > 60


@pytest.mark.libreoffice
def test_figures_follow_a_changed_line(tmp_path: Path) -> None:
    """One line raised by 1.00: kind, month and job follow, and the checks say LOOK."""
    book = opened(quarter_workbook(BOOK, Q3))
    lines = book["Lines"]
    before = opened(quarter_workbook(BOOK, Q3), values=True)
    assert (lines["E5"].value, lines["B5"].value.month) == ("labour", 7)
    lines["J5"] = lines["J5"].value + 1
    path = tmp_path / "changed.xlsx"
    book.save(path)

    after = libreoffice.recalculated(path, tmp_path)

    for cell in ("B10", "E10", "B16", "E16"):
        shown = before["Quarter"][cell].value
        assert after["Quarter"][cell] == pytest.approx(shown + 1), cell
    assert after["Jobs"]["L5"] == pytest.approx(before["Jobs"]["L5"].value + 1)
    assert after["Checks"]["E5"] == pytest.approx(1)
    assert after["Checks"]["F5"] == "LOOK"
    assert after["Quarter"]["G2"] == "LOOK: 2 of 10 checks"


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", ["sample", "nothing-ever"])
def test_the_front_sheet_is_one_page(name: str, tmp_path: Path) -> None:
    """Everything of the front sheet prints on the first page; the second is the register."""
    path = tmp_path / "quarter.xlsx"
    path.write_bytes(quarter_workbook(BOOKS[name], Q3))

    with pdfplumber.open(libreoffice.to_pdf(path, tmp_path)) as pdf:
        first, second = (page.extract_text() for page in pdf.pages[:2])

    assert first.startswith("Quarter 2025-Q3")
    assert "Labour by repair type" in first
    assert second.startswith("Invoices")


def test_summary_figures_are_formulas() -> None:
    """On the front sheet only days and tax rates are plain figures."""
    sheet = opened(quarter_workbook(BOOK, Q3))["Quarter"]
    plain = {
        cell.coordinate: cell.value
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, int | float) and not cell.is_date
    }

    assert sorted(plain.values()) == [0.01, 0.0125, 0.0725]
    live = [c for row in sheet.iter_rows() for c in row if c.data_type == "f"]
    assert len(live) > 100


@pytest.mark.parametrize("name", BOOKS)
def test_formulas_use_functions_both_programs_know(name: str) -> None:
    """No function outside the list appears, and money formulas end rounded."""
    cells = [
        cell
        for sheet in opened(quarter_workbook(BOOKS[name], Q3))
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    used = {word for c in cells for word in re.findall(r"([A-Za-z_][\w.]*)\(", str(c.value))}
    amounts = [c for c in cells if c.number_format.startswith("#,##0.00")]
    # A bare reference shows a figure that is rounded where it stands.
    rounded = re.compile(r"=-?ROUND\(|=\w+!\$\w+\$\d+$")
    loose = [f"{c.coordinate} {c.value}" for c in amounts if not rounded.match(str(c.value))]

    assert used <= SAFE
    assert not loose
    assert bool(amounts) is (BOOKS[name].settings.digits == 2)


def test_front_figures_are_the_summary() -> None:
    """Large figures and the income table show what the registers sum up to."""
    receipts = [Receipt(p.day, p.invoice, p.amount) for p in BOOK.payments]
    found = summarise(Q3, BOOK.invoices.values(), receipts, today=BOOK.as_of)
    sheet = opened(quarter_workbook(BOOK, Q3), values=True)["Quarter"]

    shown = [sheet[cell].value for cell in ("A6", "B6", "D6", "G6", "H6", "J6")]
    owed = found.receivables
    assert [Decimal(str(figure)) for figure in shown] == [
        found.net, found.tax, found.total, found.roll_forward.received, owed.owed, owed.overdue,
    ]  # fmt: skip
    labour = [Decimal(str(sheet.cell(10, col).value)) for col in (2, 3, 4)]
    assert labour == list(found.income[0].by_month)
    assert sheet["K3"].value.date() == Q3.last


def test_a_running_quarter_is_aged_to_today() -> None:
    """The day given is shown as the day debts are aged on, and counts days overdue."""
    made = sublet_invoice("25-0001", "10.00")
    book = opened(
        quarter_workbook(with_invoices(made), Q3, today=made.due + timedelta(days=3)), values=True
    )

    assert book["Quarter"]["K3"].value.date() == made.due + timedelta(days=3)
    assert [book["Invoices"][cell].value for cell in ("M5", "N5")] == [3, "1-30"]


@pytest.mark.libreoffice
def test_what_is_due_today_is_not_overdue(tmp_path: Path) -> None:
    """On the due date nothing is overdue, in figure and in formula; a day later all is."""
    made = sublet_invoice("25-0001", "10.00")
    for days, overdue in ((0, 0), (1, 10)):
        today = made.due + timedelta(days=days)
        content = quarter_workbook(with_invoices(made), Q3, today=today)

        assert opened(content, values=True)["Quarter"]["J6"].value == overdue
        assert differences(content, tmp_path)[1] == []


def test_a_sound_register_passes_every_check() -> None:
    """Ten checks, all OK."""
    assert [word for word, _ in checks(BOOK).values()] == ["OK"] * 10


def test_a_gap_in_the_numbers_is_named() -> None:
    """Numbers 1, 2 and 5: the check names 3 and 4."""
    numbers = ("25-0001", "25-0002", "25-0005")
    book = with_invoices(*(sublet_invoice(n, "10.00", cost="9.00") for n in numbers))

    word, where = checks(book)["Invoice numbers run without a gap"]

    assert (word, where) == ("LOOK", "Not in this period: number 3, 4")


@pytest.mark.parametrize("last", ["25-0002", "25-99999999999"])
def test_a_huge_gap_takes_no_time(last: str) -> None:
    """Only the first few missing numbers are named, however many there are."""
    book = with_invoices(sublet_invoice("25-0001", "1.00"), sublet_invoice(last, "1.00"))

    word, where = checks(book)["Invoice numbers run without a gap"]

    assert word == ("OK" if last == "25-0002" else "LOOK")
    assert len(where) < 60


def test_a_payment_on_no_invoice_is_named() -> None:
    """A slip in the invoice number is found; a payment ahead of its invoice is not a slip."""
    later = sublet_invoice("25-0002", "10.00", day=Q3.last + timedelta(days=1))
    paid = (
        Payment(Q3.last, "25-0002", Decimal("4.00")),
        Payment(Q3.last, "52-0001", Decimal("6.00")),
    )
    book = with_invoices(sublet_invoice("25-0001", "10.00"), later, payments=paid)

    found = checks(book)

    assert found["Payments name an invoice of the book"] == ("LOOK", "Payments: 52-0001")
    assert found["What is owed rolls forward"][0] == "OK"


def test_tax_that_is_not_its_rate_is_named() -> None:
    """Two cents off is a finding, one cent may be another rounding rule."""
    made = invoice_of("25-0001", Q3.first, (other_line(1, Kind.PART, "100.00"),))

    def off(cents: str) -> Invoice:
        state = made.taxes[0]._replace(amount=made.taxes[0].amount + Decimal(cents))
        changed = Decimal(cents)
        return replace(
            made, taxes=(state, *made.taxes[1:]),
            tax=made.tax + changed, total=made.total + changed,
        )  # fmt: skip

    name = "Tax is rate times taxable amount"
    assert checks(with_invoices(off("0.01")))[name][0] == "OK"
    assert checks(with_invoices(off("-0.02")))[name] == ("LOOK", "Taxes: 25-0001")


def test_a_register_that_does_not_add_up_is_seen() -> None:
    """Net, tax and total each have a check of their own."""
    made = invoice_of("25-0001", Q3.first, (other_line(1, Kind.PART, "100.00"),))
    cent = Decimal("0.01")

    def amiss(**changed: Decimal) -> set[str]:
        found = checks(with_invoices(replace(made, **changed)))  # type: ignore[arg-type]
        return {name for name, (word, _) in found.items() if word == "LOOK"}

    assert amiss() == set()
    assert amiss(total=made.total + cent) == {"Net and tax make the total"}
    assert amiss(tax=made.tax + cent, total=made.total + cent) == {
        "Tax rows add up to the invoices"
    }
    assert amiss(subtotal=made.subtotal + cent, total=made.total + cent) == {
        "Lines add up to the invoices",
        "Income by kind and month is the net",
    }


def test_words_of_others_stay_words() -> None:
    """Names, items, notes and vendors that look like formulas are text in every sheet."""
    content = quarter_workbook(awkward_book(), Q3)
    book = opened(content)

    for sheet in ("Invoices", "Lines", "Payments", "Jobs"):
        texts = [c for row in book[sheet].iter_rows(min_row=5) for c in row]
        odd = [c for c in texts if str(c.value).startswith(("=1+1", "=5", "=overpaid", "@SUM"))]
        assert odd, sheet
        assert {c.data_type for c in odd} == {"s"}, sheet
    with zipfile.ZipFile(io.BytesIO(content)) as parts:
        external = [n for n in parts.namelist() if b'TargetMode="External"' in parts.read(n)]
    assert external == []


def test_vendors_that_look_like_patterns_are_told_apart() -> None:
    """`A*`, `AB` and `a*` are three vendors, each with its own amount."""
    sheet = opened(quarter_workbook(awkward_book(), Q3), values=True)["Quarter"]
    rows = [[c.value for c in row[:5]] for row in sheet.iter_rows()]
    top = next(n for n, row in enumerate(rows) if row[0] == "Sublet work by vendor")
    vendors = {row[0]: row[2] for row in rows[top + 2 : top + 11]}

    assert (vendors["A*"], vendors["AB"], vendors["a*"]) == (1.05, 2.05, 3.05)
    assert (vendors[">5"], vendors["no vendor named"]) == (4.05, 8.05)


def test_older_invoices_are_listed_until_they_are_settled() -> None:
    """Open at the start or paid since: listed. Settled before: left out, with its payments."""
    old = date(2025, 6, 1)
    invoices = [sublet_invoice(f"25-000{n}", "10.00", day=old) for n in (1, 2, 3)]
    paid = (
        Payment(Q3.first - timedelta(days=1), "25-0001", Decimal("10.00")),
        Payment(Q3.first, "25-0002", Decimal("10.00")),
    )
    book = opened(quarter_workbook(with_invoices(*invoices, payments=paid), Q3), values=True)

    column = [c.value for c in book["Invoices"]["A"][4:]]
    assert column == ["25-0002", "25-0003"]
    assert [c.value for c in book["Payments"]["B"][4:]] == ["25-0002"]
    assert book["Quarter"]["H6"].value == 10


def test_an_invoice_of_the_first_day_is_listed_though_paid_before() -> None:
    """It belongs to the period: income, tax and its row; the payment stands beside it."""
    made = sublet_invoice("25-0001", "10.00", day=Q3.first)
    early = Payment(Q3.first - timedelta(days=1), "25-0001", Decimal("10.00"))
    book = opened(quarter_workbook(with_invoices(made, payments=(early,)), Q3), values=True)

    assert book["Invoices"]["A5"].value == book["Payments"]["B5"].value == "25-0001"
    assert (book["Quarter"]["D6"].value, book["Quarter"]["H6"].value) == (10, 0)
    assert [row[5] for row in book["Checks"].iter_rows(min_row=5, values_only=True)][:5] == [
        "OK"
    ] * 5


def test_amounts_have_the_currency_s_decimals() -> None:
    """A currency without minor unit shows whole amounts, and is named on the page."""
    sheet = opened(quarter_workbook(whole_units_book(), Q3))["Quarter"]

    assert sheet["A6"].number_format.startswith("#,##0;")
    assert "JPY" in sheet["A3"].value


def test_detail_sheets_are_tables_with_links_back() -> None:
    """Each detail sheet holds one table over all its rows, and leads back to the front."""
    book = opened(quarter_workbook(BOOK, Q3))

    for name in ("Invoices", "Lines", "Taxes", "Payments", "Jobs"):
        sheet = book[name]
        (table,) = sheet.tables.values()
        assert table.ref == f"A4:{sheet.cell(4, sheet.max_column).column_letter}{sheet.max_row}"
        assert sheet["A3"].hyperlink.location == "'Quarter'!A1"
        assert sheet.print_title_rows == "$4:$4"
    assert book["Quarter"]["A6"].hyperlink.location == "'Invoices'!A1"
    assert len(book["Quarter"]._charts) == 4


@pytest.mark.parametrize("name", BOOKS)
def test_the_file_keeps_to_the_standard(name: str, tmp_path: Path) -> None:
    """An independent reading of the file format finds nothing."""
    path = tmp_path / "quarter.xlsx"
    path.write_bytes(quarter_workbook(BOOKS[name], Q3))

    assert [str(error) for error in OpenXmlValidator().validate(path).errors] == []


def test_the_same_book_gives_the_same_bytes() -> None:
    """Neither a second run nor another order of the rows changes a byte."""
    shuffled = list(BOOK.invoices.items())
    random.Random(1).shuffle(shuffled)  # noqa: S311 - an order, nothing secret

    once = quarter_workbook(BOOK, Q3)

    assert quarter_workbook(BOOK, Q3) == once
    assert quarter_workbook(replace(BOOK, invoices=dict(shuffled)), Q3) == once
