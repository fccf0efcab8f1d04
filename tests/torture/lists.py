"""Whether tables, charts and the lists of a book differ in what was planned, and only there."""

import re

from lxml import etree

from tests.torture.package import WORKBOOK, Parts, canonical, main
from tests.torture.planned import (
    REFERENCE,
    Planned,
    area_of,
    cover,
    covering,
    grown_area,
    growths_of,
    unname,
    written,
)

_GROWS = ("fonts", "fills", "borders", "numFmts", "cellXfs", "cellStyleXfs", "cellStyles", "dxfs")


_BY_CELLS = {"sheets", "definedNames", "bookViews", "calcPr"}


def chart_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where charts differ other than by the sheets that went."""
    found = []
    for part in before:
        if "/charts/" in part and part in after:
            root = before.root(part)
            unname(root, planned)
            cover(root, "", growths_of(before, planned))
            found += [part] if canonical(root) != canonical(after.root(part)) else []
    return found


def table_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where tables differ other than by the rows they were to get."""
    found = []
    for name, sheet in before.sheets().items():
        for part in before.related(sheet, "table") if name not in planned.removed else ():
            root = before.root(part)
            for growth in planned.grown:
                if growth.table == root.get("displayName"):
                    area = area_of(root.get("ref", ""))
                    wider = written(grown_area(area, area, growth))
                    for element in (root, *root.iterchildren(main("autoFilter"))):
                        element.set("ref", wider)
            if canonical(root) != canonical(after.root(part)):
                found.append(part)
    return found


def workbook_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where the list of sheets and names differs and was not planned to."""
    old, new = before.root(WORKBOOK), after.root(WORKBOOK)
    found = [] if old.nsmap == new.nsmap and old.attrib == new.attrib else ["root"]
    found += [f"{a!r} became {b!r}" for a, b in zip(_kept(old), _kept(new), strict=True) if a != b]
    if _order(before, planned) != list(after.sheets()):
        found.append(f"sheets: {list(after.sheets())}")
    if _listed(old, planned) != [s for s in _listed(new, Planned()) if s in _listed(old, planned)]:
        found.append("sheets: ids changed")
    names, now = names_of(before), names_of(after)
    expected = {key: _name_now(key[0], text, before, planned) for key, text in names.items()}
    expected = {(n, s): t for (n, s), t in expected.items() if s not in planned.removed}
    fresh = {op.name for op in planned.added}
    if {s for n, s in now if n == "_xlnm.Print_Titles" and s in fresh} != fresh:
        found.append("a new sheet has no row to repeat when printed")
    if expected != {(n, s): t for (n, s), t in now.items() if s not in fresh}:
        found.append(f"names: {sorted(expected.items() ^ now.items(), key=str)}")
    if _in_view(before) != _in_view(after):
        found.append(f"the tabs in view are {_in_view(after)}")
    settings = new.find(main("calcPr"))
    if settings is None or settings.get("fullCalcOnLoad") != "1":
        found.append("it does not ask to be computed")
    return found


def _kept(book: etree._Element) -> list[bytes]:
    return [canonical(c) for c in book if etree.QName(c).localname not in _BY_CELLS]


def _order(before: Parts, planned: Planned) -> list[str]:
    names = list(before.sheets())
    last: dict[str, str] = {}
    for op in planned.added:
        after = last.get(op.after, op.after)
        names.insert(names.index(after) + 1 if after else len(names), op.name)
        last[op.after] = op.name
    return [name for name in names if name not in planned.removed]


def _listed(book: etree._Element, planned: Planned) -> list[tuple[tuple[str, str], ...]]:
    sheets = book.iterfind(f"{main('sheets')}/*")
    return [
        tuple(sorted((str(k), str(v)) for k, v in sheet.attrib.items()))
        for sheet in sheets
        if sheet.get("name") not in planned.removed
    ]


def names_of(parts: Parts) -> dict[tuple[str, str], str]:
    """Return what names mean, by name and the sheet they belong to, '' for the whole book."""
    sheets = list(parts.sheets())
    return {
        (d.get("name", ""), "" if scope is None else sheets[int(scope)]): d.text or ""
        for d in parts.root(WORKBOOK).iter(main("definedName"))
        for scope in [d.get("localSheetId")]
    }


def _name_now(name: str, text: str, before: Parts, planned: Planned) -> str:
    """Return what a name means afterwards: a moved sheet is gone, a range may have grown."""
    for gone in planned.removed:
        text = re.sub(rf"'{re.escape(gone)}'![$A-Z0-9:]+", "#REF!", text)
    growths = growths_of(before, planned)
    found = REFERENCE.fullmatch(text) if name == "_xlnm.Print_Area" else None
    for sheet, table, last in growths if found else ():
        # A print area begins above the table, with the title.
        if found and found["sheet"].strip("'") == sheet and int(found["last"]) == table[2]:
            return text.removesuffix(found["last"]) + str(last)
    return covering(text, "", growths)


def _in_view(parts: Parts) -> list[str]:
    """Return the tab in view, and the first that is shown in the row of tabs."""
    sheets = list(parts.sheets())
    return [
        sheets[int(view.get(index, "0"))]
        for view in parts.root(WORKBOOK).iter(main("workbookView"))
        for index in ("activeTab", "firstSheet")
    ]


def style_differences(before: Parts, after: Parts) -> list[str]:
    """Return where formats that were there have changed; more of them may follow."""
    part = before.related(WORKBOOK, "styles")[0]
    old, new = before.root(part), after.root(part)
    found = []
    for held in old:
        tag = etree.QName(held).localname
        now = new.find(str(held.tag))
        if now is None:
            found.append(tag)
        elif tag in _GROWS:
            first = [canonical(c) for c in now][: len(held)]
            found += [tag] if first != [canonical(c) for c in held] else []
        elif canonical(held) != canonical(now):
            found.append(tag)
    return found


def title_differences(before: Parts, after: Parts, planned: Planned) -> list[str]:
    """Return where the file's description says something else than other sheets of cells."""
    part = "docProps/app.xml"
    old, new = before.root(part), after.root(part)
    tags = ("HeadingPairs", "TitlesOfParts")
    kept = [[canonical(c) for c in r if etree.QName(c).localname not in tags] for r in (old, new)]
    listed = [[t.text for t in r.iterfind("{*}TitlesOfParts/*/*")] for r in (old, new)]
    sheets = [[n for n, p in b.sheets().items() if "chart" not in p] for b in (before, after)]
    found = [] if kept[0] == kept[1] else [part]
    if listed[1][: len(sheets[1])] != sheets[1]:
        found.append(f"{part}: sheets {listed[1]}")
    named = [names[len(there) :] for names, there in zip(listed, sheets, strict=True)]
    gone = {f"'{name}'" for name in planned.removed}
    if [n for n in named[0] if str(n).partition("!")[0] not in gone] != named[1]:
        found.append(f"{part}: names {named[1]}")
    return found


def listing_differences(before: Parts, after: Parts) -> list[str]:
    """Return where content types or relationships of parts that stay have changed."""
    found = []
    listings = [p for p in before if p.endswith(".rels") or p == "[Content_Types].xml"]
    for part in listings:
        old, new = before.root(part), after.root(part) if part in after else None
        gone = [] if new is None else [e for e in old if _names_gone(part, e, before, after)]
        kept = [canonical(e) for e in old if e not in gone]
        now = [] if new is None else [canonical(e) for e in new]
        if new is not None and [e for e in now if e in kept] != kept:
            found.append(part)
    return found


def _names_gone(part: str, element: etree._Element, before: Parts, after: Parts) -> bool:
    """Whether an entry is of a part that is not there any more."""
    if part.endswith(".rels"):
        source = part.replace("_rels/", "").removesuffix(".rels")
        links = {link.id: link.target for link in before.links("" if source == "" else source)}
        target = links.get(element.get("Id", ""), "")
        return target in before and target not in after
    return element.get("PartName", "").lstrip("/") not in {"", *after}
