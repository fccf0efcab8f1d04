"""What a part is, on the papers: each is listed as new unless it is marked."""

import io
from dataclasses import replace

import openpyxl
import pytest

from ledger_tools.costing.lines import Kind
from ledger_tools.documents.invoice import invoice_pdf
from ledger_tools.documents.invoice_sheet import invoice_workbook
from tests.documents import examples
from tests.documents.examples import line

SOURCE = "16 CCR 3353: each part is listed as new unless marked (read in the source)"
WORDS = {
    "en": ("Used part", "Reconditioned part", "Parts are new unless marked."),
    "de": ("Gebrauchtteil", "Aufgearbeitetes Teil", "Teile sind neu, soweit nicht anders"),
    "fr": ("Pièce d\u2019occasion", "Pièce reconditionnée", "Les pièces sont neuves, sauf"),
}
PARTS = (
    replace(line(1, Kind.PART, "Core", "1", "80.00"), part_status="used"),
    replace(line(2, Kind.PART, "Cap", "1", "20.00"), part_status="reconditioned"),
    line(3, Kind.PART, "Seal", "1", "5.00"),
)


@pytest.mark.parametrize("language", WORDS)
def test_each_part_says_what_it_is(language: str) -> None:
    """Beside the part; of one that says nothing the line below the parts speaks."""
    paper = examples.invoice(*PARTS, wording=examples.wording(language))
    text = " ".join(examples.pdf_text(invoice_pdf(paper)).split())

    core, cap, new = (text.index(words) for words in WORDS[language])
    assert text.index("Core") < core < text.index("Cap") < cap < text.index("Seal") < new, SOURCE


def test_the_workbook_says_the_same_and_its_sums_leave_the_words_out() -> None:
    """The words stand in rows of their own; the subtotal is the sum of the parts alone."""
    labour = line(4, Kind.LABOUR, "Fit", "1.0", "100.00")
    paper = examples.invoice(*PARTS, labour, wording=examples.wording())
    book = openpyxl.load_workbook(io.BytesIO(invoice_workbook(paper)))
    cells = {c.coordinate: str(c.value) for row in book.worksheets[0] for c in row if c.value}
    told = "\n".join(cells.values())
    row = {word: at[1:] for at, text in cells.items() for word in ("Core", "Seal")
           if text.startswith(word)}  # fmt: skip

    assert [words for words in WORDS["en"] if words not in told] == []
    assert f"=ROUND(SUM(E{row['Core']}:E{row['Seal']}),2)" in cells.values()


def test_a_paper_without_parts_says_nothing_of_them() -> None:
    """A repair that takes none."""
    paper = examples.invoice(line(1, Kind.LABOUR, "Weld", "1.0", "100.00"))

    assert "Parts are new" not in examples.pdf_text(invoice_pdf(paper))


def test_a_paper_from_before_prints_as_it_was() -> None:
    """Its frozen words do not hold the line, so it is not put in."""
    words = {k: v for k, v in examples.wording().items() if k != "label.parts_new"}
    paper = examples.invoice(PARTS[2], wording=words)

    assert "Parts are new" not in examples.pdf_text(invoice_pdf(paper))
