"""The invoice as workbook: the PDF's words and figures, live sums, ready to print."""

import dataclasses
import hashlib
import io
import re
import subprocess
import sys
from decimal import Decimal
from pathlib import Path
from zipfile import ZipFile

import openpyxl
import pdfplumber
import pytest

from ledger_tools.billing.tax import TaxAmount
from ledger_tools.costing.lines import Kind
from ledger_tools.documents.invoice import invoice_pdf
from ledger_tools.documents.invoice_sheet import invoice_workbook
from tests import libreoffice
from tests.documents.examples import (
    HOUSING,
    LONG,
    SHOP,
    TWO_TAXES,
    invoice,
    line,
    pdf_text,
    wording,
)

HOSTILE = [
    '=HYPERLINK("http://x.example","y")',
    "@SUM(A1)",
    "+1+1",
    "-1",
    "{=1}",
    "http://x.example",
    "mailto:a@b.example",
]


WHOLE_UNITS = invoice(
    line(1, Kind.PART, "Bolt", "0.35", "90", "32"),
    line(2, Kind.MATERIAL, "Rod", "1.1", "15", "17"),
    rates=(("Tax", "0.05"),),
    currency="JPY",
    taxes=(TaxAmount("Tax", Decimal(49), Decimal("0.05"), Decimal(2)),),
    tax=Decimal(2),
    total=Decimal(51),
)
"""31.5 and 16.5 yen, each of them a hair less as binary numbers."""


def cells(content: bytes, *, values: bool) -> dict[str, object]:
    """Return what the cells hold, formulas or their stored values."""
    sheet = openpyxl.load_workbook(io.BytesIO(content), data_only=values).worksheets[0]
    told = (cell for row in sheet.iter_rows() for cell in row if cell.value is not None)
    return {cell.coordinate: cell.value for cell in told}


def formulas(content: bytes) -> dict[str, str]:
    """Return the formulas by cell."""
    return {
        cell: str(text)
        for cell, text in cells(content, values=False).items()
        if isinstance(text, str) and text.startswith("=ROUND")
    }


def amounts(content: bytes) -> dict[str, object]:
    """Return the stored values of the column of amounts by cell."""
    told = cells(content, values=True)
    return {c: v for c, v in told.items() if c.startswith("E") and isinstance(v, int | float)}


@pytest.mark.parametrize("sample", [HOUSING, TWO_TAXES, LONG], ids=["one", "two-taxes", "long"])
def test_every_amount_stands_on_the_pdf_too(sample: object) -> None:
    """Stored values, which printing shows, are the PDF's figures in the PDF's order."""
    assert isinstance(sample, type(HOUSING))
    shown = [f"{value:,.2f}" for value in amounts(invoice_workbook(sample)).values()]
    on_paper = re.findall(
        r"-?[\d,]+\.\d\d(?=\n)", pdf_text(invoice_pdf(sample)).replace("$", "") + "\n"
    )

    assert sorted(shown) == sorted(on_paper)


def test_line_amounts_and_totals_are_live() -> None:
    """Quantity x price, subtotals, net, taxes and total are formulas; agreed prices are not."""
    content = invoice_workbook(TWO_TAXES)
    live, stored = formulas(content), amounts(content)

    # Nine lines of which one is agreed, three subtotals, net, two taxes, total.
    assert len([cell for cell in live if cell.startswith("E")]) == 8 + 3 + 1 + 2 + 1
    assert [stored[cell] for cell in stored if cell not in live] == [80]


def test_formula_that_would_give_another_figure_is_not_written() -> None:
    """A tax rounded down is kept as issued: half up would print a cent more."""
    down = TaxAmount("GST", Decimal("160.00"), Decimal("0.0725"), Decimal("11.59"))
    odd = dataclasses.replace(
        HOUSING, taxes=(down,), tax=Decimal("11.59"), total=Decimal("171.59")
    )
    content = invoice_workbook(odd)

    kept = [cell for cell in amounts(content) if cell not in formulas(content)]
    assert [amounts(content)[cell] for cell in kept] == [11.59]


def test_a_tax_on_a_part_of_the_lines_shows_what_it_falls_on() -> None:
    """Rate and base stand beside the tax and multiply to it: 8 % of 8.70, not of 168.70."""
    on_parts = TaxAmount("Sales tax", Decimal("8.70"), Decimal("0.08"), Decimal("0.70"))
    part = line(2, Kind.PART, "Filler cap gasket", "2", "4.35")
    content = invoice_workbook(
        invoice(HOUSING.lines[0], part, taxes=(on_parts,), tax=on_parts.amount,
                total=Decimal("169.40"))
    )  # fmt: skip
    told = cells(content, values=True)
    (row,) = (cell[1:] for cell, value in told.items() if value == 0.70)

    assert (told[f"B{row}"], told[f"D{row}"]) == (0.08, 8.70)
    assert formulas(content)[f"E{row}"] == f"=ROUND(D{row}*B{row},2)"


def test_kept_total_is_printed_although_its_parts_come_to_another() -> None:
    """What was issued stands, on both papers."""
    odd = dataclasses.replace(HOUSING, total=Decimal("159.99"))

    assert list(amounts(invoice_workbook(odd)).values())[-1] == 159.99
    assert "$159.99" in pdf_text(invoice_pdf(odd))


@pytest.mark.parametrize("words", HOSTILE)
def test_customers_words_stay_text(words: str, tmp_path: Path) -> None:
    """A formula, a link or a sign given as a name is a name."""
    told = dict.fromkeys(("payment", "job_note", "shop_name", "customer_address"), words)
    content = invoice_workbook(
        invoice(
            line(1, Kind.SUBLET, words, "1", "1.00", unit=words, vendor=words),
            customer=words,
            item=words,
            job=words,
            wording={**wording(), **told},
        )
    )
    (tmp_path / "x.xlsx").write_bytes(content)

    held = [str(value) for value in cells(content, values=False).values()]
    with ZipFile(io.BytesIO(content)) as parts:
        sheet = parts.read("xl/worksheets/sheet1.xml").decode()
        assert not any(
            "externalLink" in name or "sheet1.xml.rels" in name for name in parts.namelist()
        )
    assert sum(words in value for value in held) >= 6
    assert all(text.startswith("ROUND") for text in re.findall(r"<f>(.*?)</f>", sheet))
    assert "<hyperlink" not in sheet


def test_ampersand_in_the_shop_name_does_not_steer_the_footer() -> None:
    """`&P` in a name is not a page number, and digits after the size are not part of it."""
    shop = dataclasses.replace(SHOP, name="2 Smith &Pages & Co")
    content = invoice_workbook(dataclasses.replace(HOUSING, wording=wording(shop=shop)))
    with ZipFile(io.BytesIO(content)) as parts:
        sheet = parts.read("xl/worksheets/sheet1.xml").decode()

    footer = re.search(r"<oddFooter>(.*?)</oddFooter>", sheet)
    assert footer
    assert footer[1].replace("&amp;", "&") == (
        '&L&"Arial,Regular"&8&K4F6272 2 Smith &&Pages && Co · Invoice 25-0001'
        '&R&"Arial,Regular"&8&K4F6272 Page &P of &N'
    )


def test_very_long_words_are_shown_whole() -> None:
    """5,000 letters go on in the rows below, none higher than the format allows."""
    name = "x" * 5000
    content = invoice_workbook(dataclasses.replace(HOUSING, customer=name))
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]

    held = "".join(str(cell.value or "") for cell in sheet["A"])
    assert name in held.replace("\n", "")
    assert max(row.height or 0 for row in sheet.row_dimensions.values()) <= 409


def test_letters_the_pdf_cannot_show_are_kept() -> None:
    """The workbook is shown with the reader's own fonts."""
    content = invoice_workbook(dataclasses.replace(HOUSING, customer="山田\x00\u202e Forge"))

    assert "山田 Forge" in cells(content, values=True).values()


@pytest.mark.parametrize(("paper", "code"), [("A4", "9"), ("Letter", "1")])
def test_sheet_is_set_up_for_its_paper(paper: str, code: str) -> None:
    """Paper size, fit to width, repeated heads and print area are in the file."""
    shop = dataclasses.replace(SHOP, paper=paper)
    content = invoice_workbook(dataclasses.replace(HOUSING, wording=wording(shop=shop)))
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[0]

    heads = int(str(sheet.print_title_rows).split("$")[1].split(":")[0])
    assert str(sheet.page_setup.paperSize) == code
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.cell(heads, 1).value == "Description"
    assert str(sheet.print_area).endswith(f"!$A$1:$E${sheet.max_row}")


def test_same_invoice_gives_the_same_bytes_also_in_another_process() -> None:
    """No clock or chance is in the file."""
    here = hashlib.sha256(invoice_workbook(TWO_TAXES)).hexdigest()
    program = (
        "import hashlib; from tests.documents.examples import TWO_TAXES;"
        "from ledger_tools.documents.invoice_sheet import invoice_workbook;"
        "print(hashlib.sha256(invoice_workbook(TWO_TAXES)).hexdigest())"
    )
    there = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout.strip()

    assert hashlib.sha256(invoice_workbook(TWO_TAXES)).hexdigest() == here == there


@pytest.mark.libreoffice
@pytest.mark.parametrize(
    "sample", [TWO_TAXES, LONG, WHOLE_UNITS], ids=["two-taxes", "long", "whole-units"]
)
def test_libreoffice_computes_the_same_amounts(sample: object, tmp_path: Path) -> None:
    """A second calculator, computing every formula anew, comes to the cent we stored."""
    assert isinstance(sample, type(HOUSING))
    path = tmp_path / "invoice.xlsx"
    path.write_bytes(invoice_workbook(sample))

    (anew,) = libreoffice.recalculated(path, tmp_path).values()

    stored = cells(path.read_bytes(), values=True)
    live = formulas(path.read_bytes())
    assert len(live) >= len(sample.lines)
    assert {cell: anew[cell] for cell in live} == {
        cell: pytest.approx(stored[cell], abs=1e-9) for cell in live
    }


@pytest.mark.libreoffice
def test_printed_workbook_counts_pages_and_repeats_its_heads(tmp_path: Path) -> None:
    """LibreOffice prints each page with heads and number, on the paper asked for."""
    path = tmp_path / "invoice.xlsx"
    path.write_bytes(invoice_workbook(LONG))

    with pdfplumber.open(libreoffice.to_pdf(path, tmp_path)) as pdf:
        sizes = {(round(page.width), round(page.height)) for page in pdf.pages}
        pages = [page.extract_text() for page in pdf.pages]

    assert sizes == {(595, 842)}
    assert len(pages) > 1
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert "Description" in page
