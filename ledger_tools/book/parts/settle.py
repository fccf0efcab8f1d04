"""Sheets made to stand alone: what they say of other sheets becomes what it showed there."""

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from lxml import etree

from ledger_tools.book.parts.markup import main
from ledger_tools.book.parts.mentions import mentions
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.workbook import Tab
from ledger_tools.shop.plan import Content
from ledger_tools.shop.snapshot import Place, SheetSnapshot

_GOES_ALONG = frozenset(
    {
        *("table", "drawing", "vmlDrawing", "legacyDrawing", "comments", "threadedComment"),
        *("hyperlink", "printerSettings", "image", "ctrlProp", "customProperty"),
    }
)
"""Kinds of relationship a sheet may have that a copy of the part satisfies."""


@dataclass(frozen=True, slots=True)
class Alone:
    """What a sheet may speak of when it stands alone.

    Attributes:
        sheet: Its name.
        tables: Names of its tables.
        names: Defined names that hold there too.
    """

    sheet: str
    tables: Collection[str]
    names: Collection[str]

    def holds(self, formula: str) -> bool:
        """Return whether `formula` speaks of nothing else."""
        said = mentions(formula)
        others = (mentions(text).sheets for text in said.texts if "!" in text)
        sheets = said.sheets.union(*others)
        return (
            sheets <= {self.sheet.lower()}
            and said.tables <= {name.lower() for name in self.tables}
            and said.names <= {name.lower() for name in self.names}
        )


def settled_cells(sheet: SheetSnapshot, alone: Alone) -> dict[Place, Content]:
    """Return what the cells are to hold whose formulas speak of other sheets: what they showed.

    A formula that nobody has computed yet is kept as text, so that it is not lost.
    """
    found: dict[Place, Content] = {}
    for place, formula in sheet.formulas.items():
        if not alone.holds(formula):
            value = sheet.values.get(place, f"={formula}")
            found[place] = Content(None if value == "" else value)
    return found


def settle_rules(root: etree._Element, alone: Alone, places: Mapping[str, str]) -> None:
    """Take away marks, choices and links of a sheet that lead to sheets which are not there.

    Args:
        root: The sheet.
        alone: What it may speak of.
        places: Where links lead now, by where they led.
    """
    for element in list(root.iter("{*}cfRule", "{*}dataValidation")):
        if not all(alone.holds(text) for text in _formulas(element)):
            _take_out(element)
    for link in list(root.iter(main("hyperlink"))):
        location = link.get("location", "")
        if location in places:
            link.set("location", places[location])
        elif location and mentions(location).sheets - {alone.sheet.lower()}:
            _take_out(link)


def names_in_rules(root: etree._Element) -> set[str]:
    """Return the defined names that marks of a sheet speak of, in lower case."""
    rules = root.iter("{*}cfRule")
    return {name for rule in rules for text in _formulas(rule) for name in mentions(text).names}


def unfit_to_move(package: Package, tab: Tab) -> str:
    """Return what on a sheet cannot go along to another workbook; '' for nothing."""
    for relation in package.relations(tab.part):
        if not relation.external and relation.kind not in _GOES_ALONG:
            return f"it holds what only this book can hold ({relation.kind})"
    content = package.read(tab.part)
    if b' vm="' in content or b' cm="' in content:
        return "a cell holds a picture or a formula that fills other cells by itself"
    return ""


def _formulas(element: etree._Element) -> Iterator[str]:
    for formula in element.iter("{*}f", "{*}formula", "{*}formula1", "{*}formula2"):
        text = "".join(map(str, formula.itertext())).strip()
        if text:
            yield text


def _take_out(element: etree._Element) -> None:
    """Take an element out of its list, and the list where it is empty then."""
    parent = element.getparent()
    if parent is None:
        return
    parent.remove(element)
    left: Iterable[etree._Element] = parent.iterchildren(
        "{*}cfRule", "{*}dataValidation", "{*}hyperlink"
    )
    count = sum(1 for _ in left)
    if parent.get("count") is not None:
        parent.set("count", str(count))
    if not count:
        _drop(parent)


def _drop(element: etree._Element) -> None:
    """Drop an empty list, and what held it alone."""
    parent = element.getparent()
    if parent is None:
        return
    parent.remove(element)
    if not len(parent) and etree.QName(parent).localname != "worksheet":
        _drop(parent)
