"""Damage that knows what a workbook is made of: cells, rows, tables, relationships, formats."""

from collections.abc import Callable, Sequence
from copy import deepcopy
from random import Random

from lxml import etree

from tests.fuzz.mutate import STRANGE

Change = Callable[[Random, etree._Element], None]
NUMBERS = (
    "-1", "0", "1", "2", "7", "255", "65535", "65536", "1048576", "1048577", "2147483647",
    "2147483648", "4294967295", "4294967296", "99999999999", "-2147483649", "1.5", "1e9", "",
)  # fmt: skip
PLACES = (
    "A1", "B2", "$C$3", "XFD1048576", "XFE1", "A1:XFD1048576", "C5:B2", "A0", "A:A", "1:1",
    "A1:A1", "A5:H30", "A4:J24", "Start!$A$\u00b2", "Start!$XFE$9", "Gone!$A$1", "$A$99999999999",
)  # fmt: skip
TARGETS = (
    "worksheets/sheet1.xml", "worksheets/sheet2.xml", "../worksheets/sheet1.xml", "styles.xml",
    "/xl/workbook.xml", "../tables/table1.xml", "../tables/table2.xml", "sharedStrings.xml",
    "missing.xml", "", "/", "..", "#Jobs!A1", "https://example.org/",
)  # fmt: skip


def _elements(root: etree._Element) -> list[etree._Element]:
    return list(root.iter("*"))


def _alike(random: Random, root: etree._Element) -> tuple[etree._Element, etree._Element]:
    """Return two elements, of one tag where there are two."""
    one = random.choice(_elements(root))
    return one, random.choice(list(root.iter(one.tag)))


def _double(random: Random, root: etree._Element) -> None:
    """Have an element twice: a cell, a row, a sheet, a relationship, a format."""
    one = random.choice(_elements(root))
    if one is not root:
        one.addnext(deepcopy(one))


def _remove(random: Random, root: etree._Element) -> None:
    one = random.choice(_elements(root))
    parent = one.getparent()
    if parent is not None:
        parent.remove(one)


def _change_places(random: Random, root: etree._Element) -> None:
    """Have two children of one element change places, as rows or cells out of order."""
    parent = random.choice([e for e in _elements(root) if len(e) > 1] or [root])
    if len(parent) > 1:
        one, other = random.sample(list(parent), 2)
        at, there = parent.index(one), parent.index(other)
        parent[at], parent[there] = deepcopy(other), deepcopy(one)


def _elsewhere(random: Random, root: etree._Element) -> None:
    """Move an element into another one."""
    one, into = random.choice(_elements(root)), random.choice(_elements(root))
    if one is not root and one not in {into, *into.iterancestors()}:
        into.append(one)


def _exchange(random: Random, root: etree._Element) -> None:
    """Exchange an attribute of two elements of one kind."""
    one, other = _alike(random, root)
    both = sorted(set(map(str, one.attrib)) & set(map(str, other.attrib)))
    if both:
        name = random.choice(both)
        first, second = one.get(name, ""), other.get(name, "")
        one.set(name, second)
        other.set(name, first)


def _same(random: Random, root: etree._Element) -> None:
    """Give an element all attributes of another: two cells of one address, two ids alike."""
    one, other = _alike(random, root)
    for name, value in other.attrib.items():
        one.set(name, value)


def _unset(random: Random, root: etree._Element) -> None:
    one = random.choice([e for e in _elements(root) if e.attrib] or [root])
    if one.attrib:
        del one.attrib[random.choice(sorted(map(str, one.attrib)))]


def _reset(random: Random, root: etree._Element) -> None:
    """Give an attribute another number, place or target."""
    one = random.choice([e for e in _elements(root) if e.attrib] or [root])
    if one.attrib:
        name = random.choice(sorted(map(str, one.attrib)))
        one.set(name, random.choice(random.choice((NUMBERS, PLACES, TARGETS))))


def _retext(random: Random, root: etree._Element) -> None:
    """Give an element another text."""
    one = random.choice([e for e in _elements(root) if e.text] or [root])
    words = [word for word in STRANGE if word.isprintable()]
    one.text = random.choice(random.choice((NUMBERS, PLACES, words)))


CHANGES: Sequence[Change] = (
    _double, _remove, _change_places, _elsewhere, _exchange, _same, _unset, _reset, _reset,
    _retext,
)  # fmt: skip


def restructured(random: Random, part: bytes) -> bytes:
    """Return an XML part that is well formed and not what it should be; another part as it is."""
    try:
        root = etree.fromstring(part)
    except etree.XMLSyntaxError:
        return part
    for _ in range(random.choice((1, 1, 1, 2, 5))):
        random.choice(CHANGES)(random, root)
    return etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)
