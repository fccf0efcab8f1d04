"""Options on an estimate: side by side on the PDF and on a sheet of the workbook, frozen."""

import io
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import openpyxl
import pdfplumber
import pytest

from ledger_tools import settings
from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.offer import Choice, Offered, offers_wording
from ledger_tools.documents import paper
from ledger_tools.documents.estimate import estimate_pdf
from ledger_tools.documents.estimate_sheet import estimate_workbook
from ledger_tools.documents.offers import NOTHING, offers
from ledger_tools.documents.texts import (
    OPTION_LABELS,
    OPTION_PRICES,
    estimate_wording,
    text_findings,
)
from tests import libreoffice
from tests.documents.examples import CUSTOMER, LONG, SHOP, TWO_TAXES, pdf_pages, pdf_text
from tests.documents.test_estimate import LANGUAGES, estimate, words_of

D = Decimal
WELD = Offered(
    "A", "weld and reseal", "Weld the seam, seal inside", TWO_TAXES.total, as_estimated=True,
    sublet=D("1145.00"), lead_days=6, guarantee="90", chance=D("0.15"), come_back=D("240.00"),
    expected=D("1650.89"), share=D("0.5383"), advised=True,
)  # fmt: skip
NEW = Offered(
    "B", "replace new", "New tank, fitted", D("3000.00"), lead_days=21, guarantee="as its maker",
    chance=D("0.005"), expected=D("3000.60"), share=D(1), come_back=D("120.00"),
)  # fmt: skip
LEAVE = Offered("C", "refuse", '=1+1 *bold* #read("x")', D("0.00"))
THREE = (WELD, NEW, LEAVE)


def offering(
    options: tuple[Offered, ...] = THREE, language: str = "en", **shop: object
) -> Estimate:
    """Return an estimate that offers options."""
    told = replace(SHOP, language=language, **shop)  # type: ignore[arg-type]
    texts = settings.load_texts(language)
    words = estimate_wording(told, CUSTOMER, texts, taxed=True, offers=options)
    words |= offers_wording(options, with_tax=told.authorised_with_tax)
    return replace(estimate(TWO_TAXES, language), wording=words)


def tops(content: bytes, *words: str) -> list[float]:
    """Return how far from the top of their page words stand."""
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        found = {w["text"]: w["top"] for page in pdf.pages for w in page.extract_words()}
    return [round(found[word], 1) for word in words]


def sheet_of(content: bytes) -> list[list[object]]:
    """Return the rows of the second sheet, without empty cells."""
    book = openpyxl.load_workbook(io.BytesIO(content))
    rows = book.worksheets[1].iter_rows(values_only=True)
    return [told for row in rows if (told := [v for v in row if v is not None])]


def test_options_stand_side_by_side_with_all_that_was_said_of_them() -> None:
    """Letters in one line, prices in one line; words for the kinds; the advised one says so."""
    content = estimate_pdf(offering())

    said = words_of(content)
    for words in (
        "Repair or replace",
        "Please tick one.",
        "Option A Option B Option C",
        "Weld and reseal Replace, new Left as it is, no work",
        "advised",
        f"Price with tax $1,614.89 $3,000.00 {NOTHING}",
        "as listed above",
        f"Sublet work in it $1,145.00 {NOTHING} {NOTHING}",
        f"Days until done 6 21 {NOTHING}",
        f"Guarantee 90 days as its maker {NOTHING}",
        f"Chance of a come-back 15% 0.5% {NOTHING}",
        f"Expected cost $1,650.89 $3,000.60 {NOTHING}",
        f"Price beside new 54% 100% {NOTHING}",
        '*bold* #read("x")',
    ):
        assert words in said, words
    assert len(set(tops(content, "$3,000.00", "$3,000.60"))) == 2
    block = offers(offering())
    assert block is not None
    assert [head.marks for head in block.heads] == ["advised", "", ""]


def test_the_consent_is_to_the_option_ticked() -> None:
    """Once one is chosen it is to the work listed, and nothing is to be ticked any more."""
    chosen = (WELD._replace(stands=Choice.NOT_CHOSEN), NEW._replace(stands=Choice.AGAINST))

    assert "I choose the option ticked in estimate 25-0007/2" in paper.consent(offering())
    after = words_of(estimate_pdf(offering(chosen)))
    assert "advised, not chosen" in after
    assert "chosen against our advice" in after
    assert "tick" not in after
    assert "I consent to the work listed in estimate 25-0007/2, up to $1,614.89" in after


def test_what_was_not_chosen_is_as_black_as_what_was() -> None:
    """Nothing of it is greyed."""
    chosen = (WELD._replace(stands=Choice.NOT_CHOSEN), NEW._replace(stands=Choice.CHOSEN))
    with pdfplumber.open(io.BytesIO(estimate_pdf(offering(chosen)))) as pdf:
        marks = [
            char
            for words in ("not chosen", "Replace, new", "3,000.00", "1,614.89")
            for found in [f for page in pdf.pages for f in page.search(words)]
            for char in found["chars"]
        ]

    assert len(marks) > 30
    assert len({char["non_stroking_color"] for char in marks}) == 1


@pytest.mark.parametrize(
    ("with_tax", "taxed", "head"),
    [
        (True, True, "Price with tax"),
        (False, True, "Price before tax"),
        (True, False, "Price"),
    ],
)
def test_the_prices_say_how_they_are_meant(with_tax: bool, taxed: bool, head: str) -> None:  # noqa: FBT001
    """As authorised amounts are; where nothing is taxed there is nothing to say."""
    told = replace(SHOP, authorised_with_tax=with_tax)
    texts = settings.load_texts("en")
    words = estimate_wording(told, CUSTOMER, texts, taxed=taxed, offers=THREE)

    assert words["option_price"] == head


def test_an_estimate_without_options_is_as_it_was() -> None:
    """No word, no sheet, and no entry among its words."""
    plain = estimate(TWO_TAXES)
    empty = replace(plain, wording={**plain.wording, "options": ""})

    assert not any("option" in key for key in plain.wording)
    assert offers(plain) is None
    assert estimate_pdf(empty) == estimate_pdf(plain)
    book = openpyxl.load_workbook(io.BytesIO(estimate_workbook(plain)))
    assert len(book.worksheets) == 1
    assert "Repair or replace" not in words_of(estimate_pdf(plain))


def test_rows_that_nobody_fills_are_left_out() -> None:
    """Two bare options show what they are and what they cost."""
    bare = (Offered("A", "line", "", D(9)), Offered("B", "other repair", "", D("8.5")))
    block = offers(offering(bare))

    assert block is not None
    assert block.rows == (("Price with tax", ("$9.00", "$8.50")),)
    assert block.says == "Please tick one."


def test_the_workbook_has_them_side_by_side_too() -> None:
    """On a sheet of their own, every text a text; a formula in a description stays words."""
    content = estimate_workbook(offering())
    rows = sheet_of(content)

    assert ["Option A", "Option B", "Option C"] in rows
    assert ["Price with tax", "$1,614.89\nas listed above", "$3,000.00", NOTHING] in rows
    assert ["Expected cost", "$1,650.89", "$3,000.60", NOTHING] in rows
    assert any('=1+1 *bold* #read("x")' in row for row in rows)
    sheet = openpyxl.load_workbook(io.BytesIO(content)).worksheets[1]
    assert not any(cell.data_type == "f" for row in sheet.iter_rows() for cell in row)
    assert sheet.page_setup.orientation != "landscape"
    assert estimate_workbook(offering()) == content


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_the_words_of_options(language: str) -> None:
    """Each label, each head of the prices, none in another language by slip."""
    texts, english = settings.load_texts(language), settings.load_texts("en")

    assert text_findings(language, texts, OPTION_LABELS) == []
    assert all(texts[key] for key in (*OPTION_LABELS, *OPTION_PRICES))
    if language != "en":
        same = [key for key in OPTION_LABELS if texts[key] == english[key]]
        assert same == ["option"]


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_five_options_fit_on_a_page(language: str, size: str) -> None:
    """No letter stands beyond the margins, in any language; letters stand in one line."""
    five = tuple(
        WELD._replace(option=letter, kind=kind, as_estimated=letter == "A", price=D("123456.78"))
        for letter, kind in zip(
            "ABCDE",
            ("weld and reseal", "replace reconditioned", "replace used", "replace new", "refuse"),
            strict=True,
        )
    )
    content = estimate_pdf(offering(five, language, paper=size))

    with pdfplumber.open(io.BytesIO(content)) as pdf:
        for page in pdf.pages:
            letters = [char for char in page.chars if char["text"].strip()]
            left = min(char["x0"] for char in letters)
            right = max(char["x1"] for char in letters)
            assert 50 < left < right < float(page.width) - 50
    head = settings.load_texts(language)["option"]
    line = " ".join(head.replace("{option}", letter) for letter in "ABCDE")
    assert line in " ".join(pdf_text(content).split())


def test_options_are_not_parted_by_the_end_of_a_page() -> None:
    """Letters and expected costs stand on one page, wherever the lines before them end."""
    pages_of = set()
    for count in range(8, 26, 3):
        many = replace(offering(), lines=LONG.lines[:count])
        pages = pdf_pages(estimate_pdf(many))
        parts = ("Repair or replace", "Option A", "Expected cost", "Price beside new")
        found = {n for n, page in enumerate(pages) for part in parts if part in page}
        assert len(found) == 1, (count, found)
        pages_of |= found

    assert len(pages_of) > 1, "in none of these cases did the page end nearby"


def test_long_words_go_on_on_the_next_page() -> None:
    """A description of a page and a half is printed whole, the letters again above the rest."""
    long = " ".join(f"word{n}" for n in range(700))
    content = estimate_pdf(offering((WELD._replace(description=long), NEW)))

    pages = pdf_pages(content)
    assert len(pages) > 2
    said = " ".join(" ".join(pages).split())
    assert all(f"word{n}" in said for n in range(0, 700, 50))
    rows = sheet_of(estimate_workbook(offering((WELD._replace(description=long), NEW))))
    told = " ".join(str(value) for row in rows for value in row)
    assert "word699" in told


@pytest.mark.libreoffice
def test_libreoffice_prints_the_options_on_one_page(tmp_path: Path) -> None:
    """The sheet of options is one page wide and one long."""
    path = tmp_path / "estimate.xlsx"
    path.write_bytes(estimate_workbook(offering((*THREE, NEW._replace(option="D")))))

    pages = pdf_pages(libreoffice.to_pdf(path, tmp_path).read_bytes())

    (found,) = (page for page in pages if "Option A" in page)
    assert all(f"Option {letter}" in found for letter in "ABCD")
    assert "Expected cost" in found
