"""Books that their owner signed, locked, marked as final or protected."""

from collections.abc import Callable

import pytest

from ledger_tools.book.archive import archive_path
from ledger_tools.book.layout import JOBS_TABLE, PAYMENTS_TABLE
from ledger_tools.errors import NotWritableError
from ledger_tools.shop.plan import Content, SetCell
from tests.book.closing import archive
from tests.book.shop import GOOD, LABOUR, Shop
from tests.parts import read_parts, write_parts

BOOK, ROOT = "xl/workbook.xml", "_rels/.rels"
SIGNATURES = (
    b'<Relationship Id="rIdS" Target="/_xmlsignatures/origin.sigs" Type="http://schemas.'
    b'openxmlformats.org/package/2006/relationships/digital-signature/origin"/></Relationships>'
)
LOCKED = b'<workbookProtection lockStructure="1"/><bookViews>'
READ_ONLY = b'<fileSharing readOnlyRecommended="1"/><workbookPr'
FINAL = (
    b'<property fmtid="{D5CDD505-2E9C-101B-9397-08002B2CF9AE}" pid="99" name="_MarkAsFinal">'
    b"<vt:bool>true</vt:bool></property></Properties>"
)
SHEET = b'<sheetProtection sheet="1" objects="1" scenarios="1"/>'


def _mark(shop: Shop, part: str, old: bytes, new: bytes) -> None:
    """Put `new` in the place of `old` in a part, as a spreadsheet program leaves it."""
    parts = read_parts(shop.path)
    assert parts[part].count(old) == 1, parts[part]
    write_parts(shop.path, {**parts, part: parts[part].replace(old, new)})


def _sign(shop: Shop) -> None:
    _mark(shop, ROOT, b"</Relationships>", SIGNATURES)
    write_parts(shop.path, {**read_parts(shop.path), "_xmlsignatures/origin.sigs": b""})


def test_a_signed_book_is_read_and_not_written(shop: Shop) -> None:
    """Whoever signed it meant this state; the remedy is named, and the file is as it was."""
    _sign(shop)
    before = shop.path.read_bytes()

    assert GOOD in shop.check().results
    with pytest.raises(NotWritableError, match=r"digitally signed.*take the signature off"):
        shop.add()

    assert shop.path.read_bytes() == before


def _paid(shop: Shop) -> None:
    """Have the billed job paid in full."""
    owing = shop.check().results[GOOD].balance
    shop.fill(PAYMENTS_TABLE, 2, day=shop.today, invoice="25-0001", amount=owing)
    shop.recompute()


@pytest.mark.parametrize("write", [Shop.add, archive], ids=["sheet added", "sheet taken out"])
def test_sheets_of_a_locked_book_stay_as_they_are(
    billed: Shop, write: Callable[[Shop], object]
) -> None:
    """A spreadsheet program would refuse to add or delete one; nothing at all is written."""
    _paid(billed)
    _mark(billed, BOOK, b"<bookViews>", LOCKED)
    before = billed.path.read_bytes()

    with pytest.raises(NotWritableError, match=r"structure .* is protected.*Protect Workbook"):
        write(billed)

    assert billed.path.read_bytes() == before
    assert not archive_path(billed.path).exists()


def test_an_archive_book_that_is_locked_takes_no_sheet(billed: Shop) -> None:
    """The shop book keeps its sheet then."""
    _paid(billed)
    paid = billed.path.read_bytes()
    archive(billed)
    locked = Shop(archive_path(billed.path))
    _mark(locked, BOOK, b"<bookViews>", LOCKED)
    there = locked.path.read_bytes()
    billed.path.write_bytes(paid)
    billed.fill(GOOD, LABOUR, description="Another word")

    with pytest.raises(NotWritableError, match=r"-archive\.xlsx: a sheet has to be added"):
        archive(billed)

    assert locked.path.read_bytes() == there
    assert billed.sheet(GOOD)


def test_cells_of_a_locked_book_are_written(shop: Shop) -> None:
    """Only the list of sheets is locked; the lock stays."""
    _mark(shop, BOOK, b"<bookViews>", LOCKED)
    shop.fill(GOOD, LABOUR, actual="1h30")

    shop.recompute()

    assert shop.value(GOOD, LABOUR, "actual") == 90
    assert LOCKED.removesuffix(b"<bookViews>") in read_parts(shop.path)[BOOK]


@pytest.mark.parametrize(
    ("part", "old", "new", "kept"),
    [
        pytest.param(BOOK, b"<workbookPr", READ_ONLY, b"readOnlyRecommended", id="read-only"),
        pytest.param("docProps/custom.xml", b"</Properties>", FINAL, b"_MarkAsFinal", id="final"),
    ],
)
def test_a_book_with_a_word_of_advice_is_written(
    shop: Shop, part: str, old: bytes, new: bytes, kept: bytes
) -> None:
    """Both marks advise people and forbid nothing; they stay."""
    _mark(shop, part, old, new)

    assert shop.add() == "25-0003"
    assert kept in read_parts(shop.path)[part]


def test_a_sheet_that_its_owner_protected_is_written_and_stays_protected(shop: Shop) -> None:
    """Protection keeps people from typing; the tools set the same cells as ever."""
    sheets = [n for n, p in read_parts(shop.path).items() if b"<sheetData>" in p]
    for part in sheets:
        if b"<sheetProtection" not in read_parts(shop.path)[part]:
            _mark(shop, part, b"</sheetData>", b"</sheetData>" + SHEET)
    before = [p for n, p in read_parts(shop.path).items() if n in sheets]

    number = shop.add(customer="New Name")

    after = read_parts(shop.path)
    assert number == shop.value(JOBS_TABLE, 3, "number") == "25-0003"
    assert len(before) == sum(SHEET[:24] in after[name] for name in sheets)


def test_a_fault_of_our_own_is_not_called_damage(shop: Shop) -> None:
    """Only a part that cannot be understood is; a value no cell can hold is a bug."""
    operation = SetCell(JOBS_TABLE.sheet, 200, 30, Content(), Content(float("nan")))

    with pytest.raises(ValueError, match="nan cannot stand in a cell"):
        shop.write(operation.sheet, {(operation.row, operation.col): operation.new})
