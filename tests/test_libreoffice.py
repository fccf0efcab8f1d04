"""The helper that asks LibreOffice: what it finds, what it recalculates, how it fails."""

from pathlib import Path

import pytest
import xlsxwriter

from tests import libreoffice


def _book_with_false_cache(path: Path) -> Path:
    book = xlsxwriter.Workbook(path)
    sheet = book.add_worksheet("Sums")
    sheet.write_number("A1", 19.5)
    sheet.write_formula("A2", "=A1*2", value=1)
    book.close()
    return path


@pytest.mark.libreoffice
def test_every_formula_is_computed_anew(tmp_path: Path) -> None:
    """A wrong cached value does not survive: otherwise a comparison would prove nothing."""
    book = _book_with_false_cache(tmp_path / "a book with blanks.xlsx")

    assert libreoffice.cell_values(book)["Sums"]["A2"] == 1
    assert libreoffice.recalculated(book, tmp_path) == {"Sums": {"A1": 19.5, "A2": 39}}


@pytest.mark.libreoffice
def test_a_plain_save_keeps_cached_values(tmp_path: Path) -> None:
    """The ordinary settings are the other profile's: the cached value stays as it was."""
    book = _book_with_false_cache(tmp_path / "book.xlsx")

    saved = libreoffice.resaved(book, tmp_path)

    assert saved != book
    assert libreoffice.cell_values(saved)["Sums"]["A2"] == 1


@pytest.mark.libreoffice
def test_printing_gives_a_pdf(tmp_path: Path) -> None:
    """The file begins as a PDF does."""
    book = _book_with_false_cache(tmp_path / "book.xlsx")

    assert libreoffice.to_pdf(book, tmp_path).read_bytes().startswith(b"%PDF-")


@pytest.mark.libreoffice
def test_no_file_is_an_error(tmp_path: Path) -> None:
    """A workbook that is not there gives an error, not an empty answer."""
    with pytest.raises(libreoffice.LibreOfficeError, match=r"missing\.xlsx"):
        libreoffice.recalculated(tmp_path / "missing.xlsx", tmp_path)


def test_a_missing_program_is_an_error(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without LibreOffice the helper refuses; only the marker may skip a test."""
    monkeypatch.setattr(libreoffice, "soffice", lambda: None)

    with pytest.raises(libreoffice.LibreOfficeError, match="not installed"):
        libreoffice.to_pdf(tmp_path / "book.xlsx", tmp_path)
