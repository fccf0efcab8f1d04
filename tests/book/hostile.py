"""Files that are hostile, broken or of the wrong kind, made from a shop book."""

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Callable
from typing import NamedTuple

from tests.faults.books import book_with_invoice

SHEET = "xl/worksheets/sheet2.xml"
TYPES, BOOK = "[Content_Types].xml", "xl/workbook.xml"
Parts = dict[str, bytes]
MB = 1024 * 1024
_ENTITIES = b'<!DOCTYPE x [<!ENTITY a "%s">%s]>' % (
    b"a" * 1000,
    b"".join(b'<!ENTITY %c "%s">' % (n + 1, b"&%c;" % n * 100) for n in b"abcdefgh"),
)
_FILE = b'<!DOCTYPE x [<!ENTITY f SYSTEM "file:///etc/hostname">]>'


class Hostile(NamedTuple):
    """A file, and what is said of it.

    Attributes:
        name: What it is, in words for the documentation.
        made: Makes the file.
        said: Words of the refusal; empty where the file is read, as it does no harm.
        holds_a_job: Whether it holds back one job alone, and the others are worked out.
    """

    name: str
    made: Callable[[], bytes]
    said: str
    holds_a_job: bool = False


def parts() -> Parts:
    """Return the parts of a shop book with an invoice."""
    with zipfile.ZipFile(io.BytesIO(book_with_invoice())) as opened:
        return {info.filename: opened.read(info) for info in opened.infolist()}


def zipped(content: Parts) -> bytes:
    """Return a zip file of parts."""
    target = io.BytesIO()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as opened:
        for name, part in content.items():
            opened.writestr(name, part)
    return target.getvalue()


def _with(part: str, old: bytes, new: bytes) -> Callable[[], bytes]:
    def made() -> bytes:
        content = parts()
        assert old in content[part], (part, old)
        return zipped({**content, part: content[part].replace(old, new, 1)})

    return made


def _adding(name: str, part: bytes) -> Callable[[], bytes]:
    return lambda: zipped({**parts(), name: part})


def _bomb(size: int, *, told: int | None = None) -> Callable[[], bytes]:
    """Return a maker of a book with a sheet of `size` blanks, told to be another size."""

    def made() -> bytes:
        content = parts()
        head, tail = content[SHEET].split(b"<sheetData>", 1)
        swollen = head + b" " * size + b"<sheetData>" + tail
        file = zipped({**content, SHEET: swollen})
        if told is None:
            return file
        at = file.index(b"PK\1\2")
        while SHEET.encode() not in file[at : at + 46 + 60]:
            at = file.index(b"PK\1\2", at + 4)
        return file[: at + 24] + struct.pack("<L", told) + file[at + 28 :]

    return made


def _many_parts() -> bytes:
    return zipped({**parts(), **{f"x/{n}": b"" for n in range(20_000)}})


def _cells(cells: bytes) -> Callable[[], bytes]:
    """Return a maker of a book that has rows more at the end of the sheet of jobs."""
    return _with(SHEET, b"</sheetData>", cells + b"</sheetData>")


def _customer(text: bytes) -> Callable[[], bytes]:
    """Return a maker of a book in which a customer is called `text`."""
    return _with(SHEET, b">Ann Bell<", b">" + text + b"<")


def _endless_table() -> bytes:
    """Return a book whose table of jobs reaches down to the last row there is."""
    content = parts()
    (name,) = (n for n, part in content.items() if b'displayName="Jobs"' in part)
    ends = re.compile(rb'(ref="A\d+:[A-Z]+)\d+"')
    return zipped({**content, name: ends.sub(rb'\g<1>1048576"', content[name])})


def _deep() -> bytes:
    return b"<a>" * 50_000 + b"</a>" * 50_000


def _ole(name: str) -> bytes:
    return bytes.fromhex("d0cf11e0a1b11ae1") + b"\0" * 4096 + name.encode("utf-16-le")


def _zip64() -> bytes:
    file = book_with_invoice()
    end = file.rindex(b"PK\5\6")
    return file[: end + 10] + b"\xff\xff" + file[end + 12 :]


def _encrypted_part() -> bytes:
    file = book_with_invoice()
    at = file.index(b"PK\1\2")
    return file[: at + 8] + b"\1" + file[at + 9 :]


def _other_office_file() -> bytes:
    types = b'<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"/>'
    return zipped({TYPES: types, "word/document.xml": b"<w/>"})


def _spreadsheet_of_another_kind() -> bytes:
    return zipped({"mimetype": b"application/vnd.oasis.opendocument.spreadsheet"})


def _png() -> bytes:
    return b"\x89PNG\r\n\x1a\n" + zlib.compress(b"\0" * 100)


_STRICT = b"http://purl.oclc.org/ooxml/spreadsheetml/main"
_MAIN = b"http://schemas.openxmlformats.org/spreadsheetml/2006/main"
_RELATIONS = "xl/_rels/workbook.xml.rels"
FILES = (
    Hostile("A zip bomb: a sheet of 260 MB in a small file", _bomb(260 * MB), "more than a shop"),
    Hostile("A zip bomb that tells a small size", _bomb(50 * MB, told=5000), "checksum"),
    Hostile("A sheet of 100 MB of blanks", _bomb(100 * MB), "is damaged"),
    Hostile("20,000 empty parts", _many_parts, ""),
    Hostile(
        "An XML bomb: entities that swell",
        _with(SHEET, b"<worksheet", _ENTITIES + b"<worksheet"),
        "document type",
    ),
    Hostile(
        "An entity that reads a file",
        _with(BOOK, b"<workbook", _FILE + b"<workbook"),
        "document type",
    ),
    Hostile(
        "XML nested 50,000 deep",
        _with(SHEET, b"<sheetData>", _deep() + b"<sheetData>"),
        "is damaged",
    ),
    Hostile("A part named ../../x", _adding("../../x", b"x"), "unfit name"),
    Hostile("A part named /etc/passwd", _adding("/etc/passwd", b"x"), "unfit name"),
    Hostile("A part named C:\\x", _adding("C:\\x", b"x"), "unfit name"),
    Hostile(
        "A sheet that lies at ../../../../etc/passwd",
        _with(_RELATIONS, b"worksheets/sheet2.xml", b"../../../../etc/passwd"),
        "is missing",
    ),
    Hostile(
        "A sheet that lies outside the file",
        _with(
            _RELATIONS,
            b'Target="worksheets/sheet2.xml"',
            b'TargetMode="External" Target="file:///etc/passwd"',
        ),
        "is missing",
    ),
    Hostile(
        "A cell at XFD1048576",
        _cells(b'<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>'),
        "",
    ),
    Hostile(
        "A cell beyond the last row",
        _cells(b'<row r="1048577"><c r="A1048577"><v>1</v></c></row>'),
        "cannot be read",
    ),
    Hostile(
        "A text of 10 MB in a cell",
        _customer(b"x" * 10 * MB),
        "has 10485760 letters",
        holds_a_job=True,
    ),
    Hostile("A table down to the last row of the sheet", _endless_table, ""),
    Hostile("Protected by a password", lambda: _ole("EncryptedPackage"), "password"),
    Hostile("Encrypted inside the zip", _encrypted_part, "is encrypted"),
    Hostile("Strict Open XML", _with(BOOK, _MAIN, _STRICT), "Strict Open XML"),
    Hostile("zip64", _zip64, "zip64"),
    Hostile("A workbook of before 2007 (.xls)", lambda: _ole("Workbook"), "before 2007"),
    Hostile("A text document (.docx)", _other_office_file, "no workbook in the file"),
    Hostile(
        "An OpenDocument spreadsheet (.ods)", _spreadsheet_of_another_kind, "not an Excel workbook"
    ),
    Hostile("A picture", _png, "not an Excel workbook"),
    Hostile("A list of commas (.csv)", lambda: b"Job,Customer\n", "not an Excel workbook"),
    Hostile("An empty file", lambda: b"", "the file is empty"),
)
