"""The XML inside a workbook: its namespaces, read without entities or network, and written."""

import re
from collections.abc import Sequence

from lxml import etree

from ledger_tools.errors import BookUnreadableError

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
EXTENDED = "http://schemas.openxmlformats.org/officeDocument/2006/extended-properties"
VARIANTS = "http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes"
CUSTOM = "http://schemas.openxmlformats.org/officeDocument/2006/custom-properties"
EXCEL_MAIN = "http://schemas.microsoft.com/office/excel/2006/main"
STRICT = "http://purl.oclc.org/ooxml/"

SPACE = "{http://www.w3.org/XML/1998/namespace}space"
RELATION_ID = f"{{{OFFICE}}}id"

_MOST_DIGITS = 10
_SHOWN = 40
# Compiled where they are first met: reading seldom needs them.
_UNWRITABLE = "[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]"
_LINE_END = "\r\n?"
_ESCAPED = "_x([0-9A-Fa-f]{4})_"


class PartUnfitError(Exception):
    """A number or reference in a part is none; the text says what stands there."""


def main(tag: str) -> str:
    """Return `tag` in the spreadsheet namespace, as lxml writes it."""
    return f"{{{MAIN}}}{tag}"


def parse(content: bytes, file: str, part: str) -> etree._Element:
    """Return the root of an XML part.

    Raises:
        BookUnreadableError: The part is no XML, or declares a document type: entities could
            reach other files or swell without end, and no spreadsheet program writes them.
    """
    parser = etree.XMLParser(
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
        strip_cdata=False,
        collect_ids=False,
    )
    try:
        root = etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise _unreadable(file, f"part '{part}' is damaged ({error.msg})") from error
    if root.getroottree().docinfo.doctype:  # type: ignore[union-attr] # the stubs lack it
        raise _unreadable(file, f"part '{part}' declares a document type")
    return root


def whole_number(text: str) -> int:
    """Return the whole number that an attribute or an element of a part holds.

    >>> whole_number("12"), whole_number(" -1 ")
    (12, -1)

    Raises:
        PartUnfitError: It is none, or has more digits than any number of a workbook.
    """
    if text.isascii() and text.isdigit() and len(text) <= _MOST_DIGITS:
        return int(text)
    plain = text.strip(" \t\r\n")
    digits = plain[1:] if plain[:1] in {"+", "-"} else plain
    if not (digits.isascii() and digits.isdigit() and len(digits) <= _MOST_DIGITS):
        raise PartUnfitError(f"'{text[:_SHOWN]}' is no whole number")
    return int(plain)


def is_utf8(head: bytes) -> bool:
    """Return whether an XML part that begins with `head` is in UTF-8."""
    declared = head[:120].partition(b"?>")[0].lower()
    return b"encoding" not in declared or b"utf-8" in declared


def serialise(root: etree._Element) -> bytes:
    """Return the bytes of an XML part."""
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)


def writable(text: str) -> str:
    r"""Return `text` as a cell can hold it: line ends as newline, control characters left out.

    Text that looks like the file format's own escapes is escaped, so that it stays text
    (ECMA-376 Part 1, 22.9.2.19, ST_Xstring).

    >>> writable("a\r\nb\x07")
    'a\nb'
    """
    clean = re.sub(_UNWRITABLE, "", re.sub(_LINE_END, "\n", text))
    return re.sub(_ESCAPED, r"_x005F\g<0>", clean) if "_x" in clean else clean


def readable(text: str) -> str:
    r"""Return the text a cell shows, with the file format's escapes undone.

    >>> readable("10_x000D_")
    '10\r'
    """
    return re.sub(_ESCAPED, lambda m: chr(int(m[1], 16)), text) if "_x" in text else text


def insert_ordered(parent: etree._Element, child: etree._Element, order: Sequence[str]) -> None:
    """Insert `child` where the schema wants it.

    Args:
        parent: Element of the spreadsheet namespace.
        child: New element, whose local name stands in `order`.
        order: Local names of all children in schema order.
    """
    later = {main(tag) for tag in order[order.index(etree.QName(child).localname) + 1 :]}
    for position, other in enumerate(parent):
        if other.tag in later:
            parent.insert(position, child)
            return
    parent.append(child)


def _unreadable(file: str, what: str) -> BookUnreadableError:
    return BookUnreadableError(
        file,
        what,
        "Open the file in your spreadsheet program and save it again, or use the last backup",
    )
