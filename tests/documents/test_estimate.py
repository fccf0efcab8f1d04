"""Estimates on paper: what stands there, in every language, and the same in the workbook."""

import io
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from ledger_tools import settings
from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.documents import paper
from ledger_tools.documents.estimate import estimate_pdf
from ledger_tools.documents.estimate_sheet import estimate_workbook
from ledger_tools.documents.names import paper_files
from ledger_tools.documents.texts import (
    CONSENTS,
    ESTIMATE_LABELS,
    HOURS_POLICIES,
    estimate_wording,
    text_findings,
)
from tests import libreoffice
from tests.documents.examples import CUSTOMER, HOUSING, LONG, SHOP, TWO_TAXES, pdf_pages, pdf_text

LANGUAGES = ("en", "fr", "de")


def estimate(
    of: Invoice = HOUSING, language: str = "en", deposit: str = "0", **shop: object
) -> Estimate:
    """Return an estimate that promises what an invoice bills."""
    told = replace(SHOP, language=language, **shop)  # type: ignore[arg-type]
    words = estimate_wording(
        told, CUSTOMER, settings.load_texts(language), taxed=bool(paper.charged(of))
    )
    return Estimate(
        number=f"{of.job}/2",
        job=of.job,
        revision=2,
        day=of.day,
        valid_until=date(2025, 3, 5),
        customer=of.customer,
        item=of.item,
        lines=of.lines,
        taxes=of.taxes,
        subtotal=of.subtotal,
        tax=of.tax,
        total=of.total,
        deposit=Decimal(deposit),
        currency=of.currency,
        wording=words,
    )


def words_of(content: bytes) -> str:
    """Return the words of a PDF in one line."""
    return " ".join(pdf_text(content).split())


def cells_of(content: bytes) -> list[object]:
    """Return what the cells of a workbook show."""
    sheet = openpyxl.load_workbook(io.BytesIO(content), data_only=True, rich_text=True).worksheets[
        0
    ]
    return [cell.value for row in sheet.iter_rows() for cell in row if cell.value is not None]


def test_the_paper_says_what_is_promised_and_until_when() -> None:
    """Number with revision, last day, hours and rate, total, terms, and what is consented to."""
    said = words_of(estimate_pdf(estimate()))

    for words in (
        "Estimate 25-0007/2",
        "Valid until March 5, 2025",
        "Weld crack in housing 1.6 h 100.00 160.00",
        "Estimated total $160.00",
        "This estimate assumes",
        "Making good of earlier repairs.",
        "I consent to the work listed in estimate 25-0007/2, up to $160.00.",
        "Working time is added up",
    ):
        assert words in said, words
    for words in ("Invoice", "pay", "Due", "Deposit", "with tax"):
        assert words not in said, words


@pytest.mark.parametrize(
    ("with_tax", "consented"),
    [(True, "up to $1,614.89 with tax"), (False, "up to $1,404.56 before tax")],
)
def test_consent_is_to_the_amount_that_is_authorised(with_tax: bool, consented: str) -> None:  # noqa: FBT001
    """With tax or before it, as the shop means authorised amounts."""
    told = estimate(TWO_TAXES, authorised_with_tax=with_tax)

    assert consented in paper.consent(told)
    assert consented in words_of(estimate_pdf(told))


def test_a_deposit_is_asked_only_where_the_shop_asks_one() -> None:
    """Its part and amount stand below the total, on both papers."""
    told = estimate(TWO_TAXES, deposit="484.47", deposit_percent=30)

    assert "30% of the total $484.47" in words_of(estimate_pdf(told)).replace("\u202f", "")
    cells = cells_of(estimate_workbook(told))
    assert 484.47 in cells
    assert not any("Deposit" in str(cell) for cell in cells_of(estimate_workbook(estimate())))


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_language_has_every_word(language: str) -> None:
    """Labels, consents and the texts to pick from; the marks in them are the English ones."""
    texts, english = settings.load_texts(language), settings.load_texts("en")
    picked = [key for key in english if key.startswith(("assumed_", "excluded_"))]

    assert text_findings(language, texts, ESTIMATE_LABELS) == []
    assert len(picked) > 10
    for key in (*ESTIMATE_LABELS, *CONSENTS, *HOURS_POLICIES, *picked):
        marks = [
            sorted(part.split("}")[0] for part in t[key].split("{")[1:]) for t in (texts, english)
        ]
        assert marks[0] == marks[1], key
        assert texts[key], key


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_paper_is_made_in_every_language(language: str, size: str) -> None:
    """Terms come in that language, and no mark is left unfilled."""
    told = estimate(TWO_TAXES, language, "50", deposit_percent=5, paper=size)

    said = words_of(estimate_pdf(told))

    assert settings.load_texts(language)["excluded_earlier_repairs"] in said
    assert "{" not in said
    assert paper.paper_findings(told) == []


def test_terms_are_picked_by_name_or_printed_as_typed() -> None:
    """Names may be cased and spaced as one likes; markup and formulas stay words."""
    own = '=1+1 *bold* #read("x")'
    told = estimate(assumptions=f"One  FAULT\n\n{own}", exclusions="")

    assert paper.terms(told) == [
        ("This estimate assumes", f"There is one fault, at the place that was shown to us.\n{own}")
    ]
    assert own in words_of(estimate_pdf(told))
    assert any(own in str(cell) for cell in cells_of(estimate_workbook(told)))


def test_sublet_work_names_who_is_to_do_it() -> None:
    """An estimate does not say that it was done."""
    said = words_of(estimate_pdf(estimate(TWO_TAXES)))

    assert "By Harbour Coatings" in said
    assert "Done by" not in said


@pytest.mark.parametrize(
    ("job", "name"), [("25-0007", "estimate-25-0007-2"), ("../x", "estimate-_x-2")]
)
def test_files_are_named_by_job_and_revision(job: str, name: str) -> None:
    """A job number is no path."""
    files = paper_files(replace(estimate(), job=job), Path("out"))

    assert files == [Path("out") / f"{name}{end}" for end in (".pdf", ".xlsx")]


def test_consent_is_not_parted_by_the_end_of_a_page() -> None:
    """Sentence and lines to sign stand on one page, wherever the lines before them end."""
    parts = ("I consent to", "Signature", "how reached")
    pages_of = set()
    for count in range(9, 21):
        pages = pdf_pages(estimate_pdf(estimate(replace(LONG, lines=LONG.lines[:count]))))
        found = {n for n, page in enumerate(pages) for part in parts if part in page}
        assert len(found) == 1, (count, found)
        pages_of |= found

    assert len(pages_of) > 1, "in none of these cases did the page end nearby"


@pytest.mark.libreoffice
def test_libreoffice_computes_the_same_amounts(tmp_path: Path) -> None:
    """The live formulas of the workbook give the figures that were written."""
    path = tmp_path / "estimate.xlsx"
    path.write_bytes(estimate_workbook(estimate(TWO_TAXES, deposit="50", deposit_percent=3)))
    sheet = openpyxl.load_workbook(path, data_only=True).worksheets[0]
    ours = {
        cell.coordinate: cell.value
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, int | float)
    }

    (theirs,) = libreoffice.recalculated(path, tmp_path).values()

    assert {cell: theirs[cell] for cell in ours} == pytest.approx(ours, abs=1e-9)
    assert 1614.89 in ours.values()
