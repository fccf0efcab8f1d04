"""Formulas that stand in no cell: in marks, choices, sparklines, charts, shapes and controls."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts.markup import main

_CHART_2012 = "http://schemas.microsoft.com/office/drawing/2012/chart"
_TAGS = frozenset({"f", "formula", "formula1", "formula2"})
_MORE_TAGS = frozenset(
    {
        main("calculatedColumnFormula"),
        main("totalsRowFormula"),
        f"{{{_CHART_2012}}}sqref",
    }
)
_ATTRIBUTES = frozenset(
    {
        *("textlink", "cellRange", "linkedCell", "listFillRange"),
        *("fmlaLink", "fmlaRange", "fmlaTxbx", "fmlaGroup", "fmlaMacro", "macro"),
    }
)
_BOUND = main("cfvo")
"""Where a colour scale, data bar or set of icons begins or ends."""
_HINT = re.compile(
    rb"<(?:\w+:)?(?:f|cfvo|formula[12]?|sqref|calculatedColumnFormula|totalsRowFormula)\b"
    rb"| (?:textlink|cellRange|linkedCell|listFillRange|fmla\w+|macro)="
)


class Slot(NamedTuple):
    """A place for a formula.

    Attributes:
        element: The element that holds it.
        attribute: In which attribute; empty for its text.
    """

    element: etree._Element
    attribute: str = ""

    @property
    def text(self) -> str:
        """The formula."""
        return (self.element.get(self.attribute) if self.attribute else self.element.text) or ""

    def put(self, text: str) -> None:
        """Have it hold another formula."""
        if self.attribute:
            self.element.set(self.attribute, text)
        else:
            self.element.text = text


def may_speak_of_sheets(content: bytes) -> bool:
    """Return whether outside its cells a part has what looks like a formula that names a sheet.

    A table's name is followed by a bracket, a sheet's by an exclamation mark.
    """
    rest = without_cells(content)
    return (b"!" in rest or b"[" in rest) and _HINT.search(rest) is not None


def without_cells(content: bytes) -> bytes:
    """Return a sheet without its cells, which is most of it; another part as it is."""
    head, opened, body = content.partition(b"<sheetData>")
    _, closed, tail = body.rpartition(b"</sheetData>")
    # In a comment the words mean nothing.
    return head + opened + closed + tail if closed and b"<!" not in content else content


def slots(root: etree._Element) -> list[Slot]:
    """Return the places for formulas of a part that are no cells."""
    found = []
    for element in _elements(root):
        if element.tag in _MORE_TAGS or etree.QName(element).localname in _TAGS:
            found.append(Slot(element))
        bound = {"val"} if element.tag == _BOUND else set()
        found += [Slot(element, str(a)) for a in element.attrib if a in _ATTRIBUTES | bound]
    return found


def _elements(root: etree._Element) -> Iterator[etree._Element]:
    """Yield the elements of a part without those of its cells."""
    yield root
    for child in root.iterchildren("*"):
        if child.tag != main("sheetData"):
            yield from child.iter("*")
