"""The invoice as PDF: every figure can be read back, words are data, bytes are the same."""

import dataclasses
import hashlib
import io
import subprocess
import sys

import pdfplumber
import pytest

from ledger_tools.costing.lines import Kind
from ledger_tools.documents.invoice import invoice_pdf
from ledger_tools.documents.paper import paper_findings
from ledger_tools.shop.model import ShopSettings
from tests.documents.examples import (
    HOUSING,
    LONG,
    SHOP,
    TWO_TAXES,
    invoice,
    line,
    pdf_pages,
    pdf_text,
    plain,
    wording,
)

HOSTILE = '=HYPERLINK("http://x.example") #read("/etc/passwd") *b* _e_ $x$ [c] <l> @r \\ // `raw`'


def lines_of(content: bytes) -> list[str]:
    """Return the lines of text on all pages."""
    return pdf_text(content).splitlines()


def test_every_figure_of_the_lines_can_be_read_back() -> None:
    """Description, quantity, unit, price and amount stand in one row each."""
    said = lines_of(invoice_pdf(TWO_TAXES))

    for row in (
        "Purge and prepare tank 1.5 h 95.00 142.50",
        "Dismantle and refit 1.0 h agreed 80.00",
        "Subtotal 222.50",
        "Steel plate 1.5 mm 0.25 m² 48.40 12.10",
        "Welding consumables 1.00 set 18.755 18.76",
        "Filler cap gasket 2.00 pc 4.35 8.70",
        "Parts are new unless marked. Subtotal 39.56",
        "Lining, two coats 1 pc 1,145.00 1,145.00",
        "Done by Harbour Coatings",
        "Disposal of flushing water 1 pc 22.50 22.50",
        "Regular customer 1 pc -25.00 -25.00",
        "Storage, waived 3 pc 0.00 0.00",
        "Subtotal -2.50",
    ):
        assert row in said, row


def test_totals_taxes_and_dates_can_be_read_back() -> None:
    """Net, each tax with rate and base, the total, and until when to pay it."""
    said = pdf_text(invoice_pdf(TWO_TAXES))

    # 1404.56 x 0.05 = 70.228 and x 0.09975 = 140.10486, each rounded once: by hand.
    for words in (
        "Net amount 1,404.56",
        "GST 5% on 1,404.56 70.23",
        "QST 9.975% on 1,404.56 140.10",
        "Total to pay $1,614.89",
        "Amount, CAD",
        "Invoice 25-0001",
        "February 3, 2025",
        "Please pay by February 17, 2025.",
        "25-0007",
        "Fuel tank, tractor",
        "Brightwater Metal Repair",
        "14 Foundry Lane",
        "GST 12345 6789 RT0001",
        "8 Orchard Road",
        "nearest 6 minutes",
    ):
        assert words in said, words


def test_no_tax_line_is_invented() -> None:
    """Without a component, net and total stand alone."""
    said = pdf_text(invoice_pdf(HOUSING))

    assert "Net amount 160.00" in said
    assert "%" not in said
    assert "tax" not in said.lower()


def test_french_invoice_has_no_english_word() -> None:
    """Labels, figures and dates are the language's own."""
    shop = dataclasses.replace(SHOP, language="fr", locale="fr_CA")
    said = pdf_text(invoice_pdf(dataclasses.replace(TWO_TAXES, wording=wording("fr", shop))))

    for words in (
        "Facture 25-0001",
        "3 février 2025",
        "Main-d\u2019œuvre",
        "GST 5 % sur 1 404,56 70,23",
        "QST 9,975 % sur 1 404,56 140,10",
        "1 614,89 $",
        "Page 1 de 1",
    ):
        assert words in said, words
    assert not any(
        word in said for word in ("Total to", "Price", "agreed", "Subtotal", "Page 1 of")
    )


@pytest.mark.parametrize(
    "words", [HOSTILE, "@SUM(A1)", "{number} {{x}}", "ł ß é Ж €", "-- ... --- 'a' \"b\""]
)
def test_customers_words_are_printed_letter_by_letter(words: str) -> None:
    """No text is read as markup, code, a formula or a file."""
    said = invoice(
        line(1, Kind.LABOUR, words, "1", "1.00"), customer=words, item=words, number="25-0009"
    )

    shown = pdf_text(invoice_pdf(said))

    # The item has a line to itself; name and description may be broken between words.
    assert words in shown.splitlines()
    assert all(shown.count(word) >= 3 for word in words.split())
    assert "root:" not in shown


def test_direction_and_control_marks_do_not_reach_the_paper() -> None:
    """An amount cannot be turned round by a mark in a name."""
    said = pdf_text(
        invoice_pdf(dataclasses.replace(HOUSING, customer="Ada \u202e00.1\x00\x1b Mill"))
    )

    assert "Ada 00.1 Mill" in said


def test_letter_without_a_glyph_is_a_box_and_the_invoice_is_made() -> None:
    """One name in another script does not stop a batch."""
    assert "□□ Forge" in pdf_text(invoice_pdf(dataclasses.replace(HOUSING, customer="山田 Forge")))


@pytest.mark.parametrize("name", ["x" * 5000, "Long Name " * 500])
def test_very_long_name_is_printed_whole_and_inside_the_page(name: str) -> None:
    """5,000 letters run over pages; none is lost or beyond the margin."""
    content = invoice_pdf(dataclasses.replace(HOUSING, customer=name))
    letters = "".join(name.split())

    shown = "".join(pdf_text(content).split())
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        rightmost = max(char["x1"] for page in pdf.pages for char in page.chars)
        width = float(pdf.pages[0].width)

    assert shown.count(letters[0]) >= letters.count(letters[0])
    assert rightmost < width - 40


def test_long_invoice_repeats_its_heads_and_counts_its_pages() -> None:
    """Every page with lines says what the columns and the section are."""
    pages = pdf_pages(invoice_pdf(LONG))

    assert len(pages) == 3
    for number, page in enumerate(pages, 1):
        assert f"Page {number} of {len(pages)}" in page
        assert ("Description Quantity Unit Price Amount, CAD" in page) == ("Step" in page)
    assert all("Invoice 25-0080 · Ada Millwright" in page for page in pages[1:])
    told = "\n".join(pages)
    assert all(f"Step {each} of a long" in told for each in range(1, 81))


def test_section_name_is_repeated_on_the_page_it_runs_on_to() -> None:
    """The first rows of a later page stand under the name of their section."""
    first, second, *_ = pdf_pages(invoice_pdf(LONG))

    # Labour ends with step 27 on the first page, materials run on to the second.
    assert "Amount, CAD\nWork\nStep 1 of" in first
    assert "Materials and parts\nStep 28 of" in first
    assert "Amount, CAD\nMaterials and parts\nStep 36 of" in second


@pytest.mark.parametrize(("paper", "size"), [("A4", (595, 842)), ("Letter", (612, 792))])
def test_page_has_the_size_of_its_paper(paper: str, size: tuple[int, int]) -> None:
    """Sizes in points: A4 is 210 x 297 mm (ISO 216), Letter 8.5 x 11 in."""
    shop = ShopSettings(name="Brightwater", paper=paper)
    content = invoice_pdf(dataclasses.replace(HOUSING, wording=wording(shop=shop)))

    with pdfplumber.open(io.BytesIO(content)) as pdf:
        assert (round(pdf.pages[0].width), round(pdf.pages[0].height)) == size


def test_same_invoice_gives_the_same_bytes_also_in_another_process() -> None:
    """No clock, path or chance is in the file."""
    here = hashlib.sha256(invoice_pdf(TWO_TAXES)).hexdigest()
    program = (
        "import hashlib; from tests.documents.examples import TWO_TAXES;"
        "from ledger_tools.documents.invoice import invoice_pdf;"
        "print(hashlib.sha256(invoice_pdf(TWO_TAXES)).hexdigest())"
    )
    there = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    ).stdout.strip()

    assert hashlib.sha256(invoice_pdf(TWO_TAXES)).hexdigest() == here == there


def test_file_says_what_it_is_and_nothing_of_the_machine() -> None:
    """Title, shop and day come from the invoice; archive and reader standards are claimed."""
    content = invoice_pdf(TWO_TAXES)
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        told = pdf.metadata

    assert plain(told["Title"]) == "Invoice 25-0001"
    assert told["Author"] == "Brightwater Metal Repair"
    assert told["CreationDate"].startswith("D:20250203")
    assert b"<pdfaid:part>3</pdfaid:part>" in content
    assert b"<pdfuaid:part>1</pdfuaid:part>" in content
    assert b".typ" not in content


def test_other_figure_gives_other_bytes() -> None:
    """The comparison of bytes above can fail."""
    assert invoice_pdf(HOUSING) != invoice_pdf(dataclasses.replace(HOUSING, job="25-0008"))


def test_empty_shop_and_no_lines_still_give_a_page() -> None:
    """A shop that has told nothing of itself yet is no reason to fail."""
    bare = invoice(wording={}, customer="", item="")

    assert "Total to pay" in pdf_text(invoice_pdf(bare))


@pytest.mark.parametrize("words", ["", "\u202e", "a" * 40_000], ids=["none", "unseen", "endless"])
@pytest.mark.parametrize("key", ["label.payment", "label.note", "label.invoice", "shop_name"])
def test_whatever_the_shop_s_own_words_are_the_invoice_is_made(key: str, words: str) -> None:
    """A heading that shows nothing is left away, one without end is cut; the paper is there."""
    wording = {**HOUSING.wording, "job_note": "Thank you", key: words}

    assert invoice_pdf(dataclasses.replace(HOUSING, wording=wording)).startswith(b"%PDF")


@pytest.mark.parametrize(
    "words", ["\u0592", "\u0592\U00053f9d\u1d1d\u2d4cgQ", "\u0301", "\u064b\u20dd"]
)
def test_a_mark_alone_stops_no_invoice(words: str) -> None:
    """It is printed as a box and reported."""
    marked = dataclasses.replace(HOUSING, item=words, customer=words)

    assert invoice_pdf(marked).startswith(b"%PDF")
    assert [f.code for f in paper_findings(marked)] == ["letters-not-shown"]
