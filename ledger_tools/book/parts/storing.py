"""Values put into a cell the way a workbook stores them."""

from math import isfinite

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import main
from ledger_tools.errors import NotWritableError
from ledger_tools.shop.snapshot import CellError, Scalar

LONGEST_TEXT = 32_767
"""Characters a cell can hold."""


def store(cell: etree._Element, value: Scalar, where: str, *, computed: bool) -> None:
    """Store `value` in the empty element `cell`; None stores nothing.

    Args:
        cell: Element that holds at most a formula.
        value: What the cell is to show.
        where: File, sheet and cell, for messages.
        computed: Whether `value` is the result of the cell's formula. Other text is stored in
            the cell itself, and is text whatever it looks like.

    Raises:
        NotWritableError: The text is too long for a cell.
    """
    if isinstance(value, str) and not isinstance(value, CellError):
        _store_text(cell, value, where, computed=computed)
    elif value is not None:
        if isinstance(value, (bool, CellError)):
            cell.set("t", "b" if isinstance(value, bool) else "e")
        etree.SubElement(cell, main("v")).text = plain_text(value)


def plain_text(value: float | str) -> str:
    """Return a number, truth value or error as a workbook stores it.

    >>> plain_text(160.0), plain_text(0.1), plain_text(True)
    ('160', '0.1', '1')
    """
    if isinstance(value, bool):
        return str(int(value))
    if isinstance(value, float):
        if not isfinite(value):
            msg = f"{value!r} cannot stand in a cell"
            raise ValueError(msg)
        whole = repr(value).removesuffix(".0")
        return "0" if whole == "-0" else whole
    return str(value)


def _store_text(cell: etree._Element, value: str, where: str, *, computed: bool) -> None:
    text = markup.writable(value)
    if len(text) > LONGEST_TEXT:
        raise NotWritableError(
            where,
            f"a text of {len(text)} characters does not fit in a cell",
            f"Shorten it to {LONGEST_TEXT} characters",
        )
    if computed:
        cell.set("t", "str")
        etree.SubElement(cell, main("v")).text = text
        return
    cell.set("t", "inlineStr")
    written = etree.SubElement(etree.SubElement(cell, main("is")), main("t"))
    written.text = text
    if text != text.strip() or "\n" in text:
        written.set(markup.SPACE, "preserve")
