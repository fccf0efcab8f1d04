"""Documents on disk: plain names, whole files, unchanged ones left alone."""

import dataclasses
from pathlib import Path

import pytest

from ledger_tools.documents import store
from ledger_tools.documents.fingerprint import fingerprint
from ledger_tools.documents.names import file_stem
from ledger_tools.errors import FileInTheWayError, RequestError
from tests.documents.examples import HOUSING


def test_invoice_is_written_as_pdf_and_workbook(tmp_path: Path) -> None:
    """The folder is made; the files are named after the number; nothing else is left."""
    paths = store.write_paper(HOUSING, tmp_path / "invoices")

    assert [path.name for path in paths] == ["invoice-25-0001.pdf", "invoice-25-0001.xlsx"]
    assert sorted(path.name for path in (tmp_path / "invoices").iterdir()) == [
        path.name for path in paths
    ]
    assert paths[0].read_bytes().startswith(b"%PDF-")
    assert paths[1].read_bytes().startswith(b"PK")


def test_unchanged_document_is_not_rewritten(tmp_path: Path) -> None:
    """A reprint of the same bytes leaves the file as it was, another one replaces it."""
    first = [path.stat().st_mtime_ns for path in store.write_paper(HOUSING, tmp_path)]
    again = [path.stat().st_mtime_ns for path in store.write_paper(HOUSING, tmp_path)]

    assert first == again
    assert store.write_document(tmp_path / "invoice-25-0001.pdf", b"other")
    assert not store.write_document(tmp_path / "invoice-25-0001.pdf", b"other")


@pytest.mark.parametrize(
    ("number", "stem"),
    [
        ("25-0001", "25-0001"),
        ("2025/0001", "2025_0001"),
        ("../../etc/passwd", "_.._etc_passwd"),
        ("C:\\x", "C__x"),
        ("a\x00b\nc", "a_b_c"),
        ("№ 7", "__7"),
        ("9" * 300, "9" * 60),
    ],
)
def test_number_never_becomes_a_path(number: str, stem: str, tmp_path: Path) -> None:
    """Whatever the number, the file lies in the folder asked for."""
    paths = store.write_paper(dataclasses.replace(HOUSING, number=number), tmp_path)

    assert file_stem(number) == stem
    assert [path.parent for path in paths] == [tmp_path, tmp_path]
    assert sorted(tmp_path.iterdir()) == sorted(paths)


def test_document_without_number_is_refused() -> None:
    """A paper that was not issued is not filed."""
    with pytest.raises(RequestError, match="without a number"):
        file_stem(" ")


def test_file_where_the_folder_should_be_is_a_clear_error(tmp_path: Path) -> None:
    """What is in the way is named and left as it was."""
    (tmp_path / "invoices").write_text("mine", encoding="utf-8")

    with pytest.raises(FileInTheWayError, match="choose another folder with --out"):
        store.write_paper(HOUSING, tmp_path / "invoices")
    assert (tmp_path / "invoices").read_text(encoding="utf-8") == "mine"


def test_failed_write_leaves_the_old_file_and_no_rest(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A write that breaks off leaves the document that was there."""
    path = tmp_path / "invoice-25-0001.pdf"
    path.write_bytes(b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(FileInTheWayError, match="No space left on device"):
        store.write_document(path, b"new")

    assert [(each.name, each.read_bytes()) for each in tmp_path.iterdir()] == [(path.name, b"old")]


def test_fingerprint_is_short_and_follows_the_template(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Another template is another fingerprint, the same one the same."""
    before = fingerprint()
    fingerprint.cache_clear()
    again = fingerprint()
    fingerprint.cache_clear()
    (tmp_path / "invoice.typ").write_text("another", encoding="utf-8")
    monkeypatch.setattr("ledger_tools.documents.fingerprint.TEMPLATES", tmp_path)

    other = fingerprint()
    fingerprint.cache_clear()

    assert len(before) == 12
    assert before == again != other
