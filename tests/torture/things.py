"""What owners put into the book, and how one sees in the markup that it is all there.

The list is what the tests look for after each verb, and what docs/reliability.md shows.
"""

from collections.abc import Callable, Iterator
from typing import NamedTuple

from lxml import etree

from tests.torture.hand import FUTURE, OWN
from tests.torture.owner import (
    FIGURES,
    IN_WORK,
    JOB_BESIDE,
    JOB_COLUMN,
    JOBS_BESIDE,
    JOBS_COLUMN,
    PAID,
    PICTURE,
    RACK,
    letter,
)
from tests.torture.package import (
    RELATION_ID,
    SAME_MARKUP,
    WORKBOOK,
    Parts,
    canonical,
    main,
)
from tests.torture.planned import meaning, texts_of

Evidence = Callable[[Parts, str], list[bytes]]
"""What of a thing stands in a book, on the sheet of a name: nothing that depends on part names."""
WHOLE = ""
"""Stands for the workbook as a whole."""
REGISTERS = ("Customers", "Invoices")
JOB_SHEETS = (PAID, IN_WORK)
LIBREOFFICE, OPENPYXL = "LibreOffice", "openpyxl"
BOTH = frozenset({LIBREOFFICE, OPENPYXL})
_IN_LIBREOFFICE, _IN_OPENPYXL = frozenset({LIBREOFFICE}), frozenset({OPENPYXL})
NEITHER: frozenset[str] = frozenset()


class Thing(NamedTuple):
    """A thing of the owner's.

    Attributes:
        name: As the documentation says it.
        on: Sheets it stands on.
        found: What of it stands in a book.
        left_by: Programs that save the book themselves and leave it, in whatever form.
    """

    name: str
    on: tuple[str, ...]
    found: Evidence
    left_by: frozenset[str] = BOTH


def _holder(parts: Parts, sheet: str) -> str:
    return parts.sheets()[sheet] if sheet else WORKBOOK


def _reached(parts: Parts, start: str, kinds: tuple[str, ...]) -> Iterator[str]:
    """Yield the parts one comes to over relationships of these kinds, one after the other."""
    if not kinds:
        yield start
        return
    for link in parts.links(start):
        if kinds[0] in {link.kind, link.type} and link.target in parts:
            yield from _reached(parts, link.target, kinds[1:])


def parts_over(*kinds: str) -> Evidence:
    """Return what finds parts that one comes to over relationships of these kinds."""

    def found(parts: Parts, sheet: str) -> list[bytes]:
        reached = _reached(parts, _holder(parts, sheet), kinds)
        return sorted(_content(parts, part) for part in dict.fromkeys(reached))

    return found


def _content(parts: Parts, part: str) -> bytes:
    content = parts[part]
    return canonical(etree.fromstring(content)) if content[:1] == b"<" else content


def elements(path: str, *kinds: str) -> Evidence:
    """Return what finds elements of the sheet, or of a part reached from it."""

    def found(parts: Parts, sheet: str) -> list[bytes]:
        reached = _reached(parts, _holder(parts, sheet), kinds)
        roots = [parts.root(part) for part in reached]
        return [said for root in roots for e in root.iterfind(path) for said in [_said(parts, e)]]

    return found


def _said(parts: Parts, element: etree._Element) -> bytes:
    """Return an element with its formats spelled out.

    Ids of relationships are left out, and the cells of rules: those may grow with a table.
    """
    copy = etree.fromstring(etree.tostring(element, with_tail=False))
    for inner in copy.iter("{*}*"):
        for name in (RELATION_ID, "sqref"):
            inner.attrib.pop(name, "")
        if inner.get("dxfId"):
            look = _styles(parts, "dxfs")[int(inner.get("dxfId", "0"))]
            for code in look.iterfind(main("numFmt")):
                code.attrib.pop("numFmtId", "")
            inner.set("dxfId", canonical(look).decode())
    return canonical(copy)


def _styles(parts: Parts, name: str) -> etree._Element:
    held = parts.root(parts.related(WORKBOOK, "styles")[0]).find(main(name))
    assert held is not None, name
    return held


def attributes(path: str, *names: str) -> Evidence:
    """Return what finds attributes of elements of the sheet."""

    def found(parts: Parts, sheet: str) -> list[bytes]:
        root = parts.root(_holder(parts, sheet))
        held = [root] if path == "." else list(root.iterfind(path))
        return [str(e.get(n)).encode() for e in held for n in names if e.get(n) is not None]

    return found


def columns(number: int, *names: str) -> Evidence:
    """Return what finds attributes of a column."""

    def found(parts: Parts, sheet: str) -> list[bytes]:
        return [
            str(col.get(name)).encode()
            for col in parts.sheet(sheet).iterfind(f"{main('cols')}/{main('col')}")
            if int(col.get("min", "0")) <= number <= int(col.get("max", "0"))
            for name in names
            if col.get(name) not in {None, "0", "false"}
        ]

    return found


def _at(col: int, *rows: int) -> list[str]:
    """Return addresses in a column counted from 0."""
    return [f"{letter(col)}{row}" for row in rows]


def cells(*addresses: str, look: bool = False) -> Evidence:
    """Return what finds what cells show, their formulas, or with `look` how they look."""

    def found(parts: Parts, sheet: str) -> list[bytes]:
        texts = texts_of(parts)
        there = {c.get("r"): c for c in parts.sheet(sheet).iter(main("c"))}
        chosen = [there[a] for a in addresses if a in there]
        if look:
            return [_look(parts, int(cell.get("s", "0"))) for cell in chosen if cell.get("s")]
        said = (meaning(cell, texts) for cell in chosen)
        return [str(formula or shown).encode() for shown, formula in said if formula or shown]

    return found


def _look(parts: Parts, style: int) -> bytes:
    xf = _styles(parts, "cellXfs")[style]
    held = (("fonts", "fontId"), ("fills", "fillId"), ("borders", "borderId"))
    looks = [canonical(_styles(parts, n)[int(xf.get(a, "0"))]) for n, a in held]
    formats = _styles(parts, "numFmts")
    code = [f.get("formatCode", "") for f in formats if f.get("numFmtId") == xf.get("numFmtId")]
    return b"".join([*looks, "".join(code).encode(), *map(canonical, xf)])


def shared(kind: str) -> Evidence:
    """Return what finds formulas that belong to several cells."""
    return lambda parts, sheet: [
        f"{f.getparent().get('r')} {f.get('ref')} {f.text}".encode()  # type: ignore[union-attr]
        for f in parts.sheet(sheet).iter(main("f"))
        if f.get("t") == kind
    ]


def name_of(name: str, sheet: str = "") -> Evidence:
    """Return what finds a defined name that speaks of a sheet."""
    return lambda parts, _: [
        f"{d.get('name')} {d.text}".encode()
        for d in parts.root(WORKBOOK).iter(main("definedName"))
        if d.get("name") == name and sheet in (d.text or "")
    ]


def charts(parts: Parts, sheet: str) -> list[bytes]:
    """Return the charts on a sheet but for the cells they show: those may grow, or be archived."""
    roots = [parts.root(p) for p in _reached(parts, _holder(parts, sheet), ("drawing", "chart"))]
    for root in roots:
        for shown in root.iter("{*}f"):
            shown.text = ""
    return [canonical(root) for root in roots]


def in_cells(parts: Parts, sheet: str) -> list[bytes]:
    """Return the cells that show a picture, with all that pictures in cells rest on."""
    shown = [str(c.get("vm")) for c in parts.sheet(sheet).iter(main("c")) if c.get("vm")]
    rests = [link.target for link in parts.links(WORKBOOK) if "ich" in link.kind]
    rests += parts.related(WORKBOOK, "sheetMetadata")
    pictures = [p for r in rests for p in parts.related(r, "image")]
    held = sorted(_content(parts, part) for part in (*rests, *pictures))
    return [*(f"vm {n}".encode() for n in shown), *held] if shown and pictures else []


def alone(parts: Parts, _: str) -> list[bytes]:
    """Return parts that nothing refers to."""
    return [content for part, content in parts.items() if part.endswith("future/alone.xml")]


def own_validations(parts: Parts, sheet: str) -> list[bytes]:
    """Return the validations that are not the tools'."""
    own = {"0", '"red,blue"'}
    found = parts.sheet(sheet).iter(main("dataValidation"))
    return [_said(parts, e) for e in found if e.findtext(main("formula1")) in own]


def code_names(parts: Parts, sheet: str) -> list[bytes]:
    """Return by what name macros call a sheet or the book."""
    tag = "sheetPr" if sheet else "workbookPr"
    return attributes(main(tag), "codeName")(parts, sheet)


def header_pictures(parts: Parts, sheet: str) -> list[bytes]:
    """Return the head of printed pages and the pictures in it."""
    root = parts.sheet(sheet)
    marks = {e.get(RELATION_ID) for e in root.iter(main("legacyDrawingHF"))}
    found = [link.target for link in parts.links(_holder(parts, sheet)) if link.id in marks]
    pictures = [p for part in found for p in parts.related(part, "image")]
    return [*(parts[part] for part in (*found, *pictures))]


_X14 = "{http://schemas.microsoft.com/office/spreadsheetml/2009/9/main}"
_DRAWN = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
_OURS = ("Start", "Jobs", *JOB_SHEETS, *REGISTERS)
THINGS = (
    Thing("Charts", (FIGURES, "Jobs", *JOB_SHEETS), charts),
    Thing("Chart sheet", (PICTURE,), charts),
    Thing(
        "Pictures, with place and size",
        (FIGURES, *_OURS),
        elements(f".//{_DRAWN}pic", "drawing"),
    ),
    Thing("The pictures themselves", (FIGURES, *_OURS), parts_over("drawing", "image")),
    Thing(
        "Text boxes",
        (FIGURES, "Start", *JOB_SHEETS, *REGISTERS),
        elements(f".//{_DRAWN}sp", "drawing"),
        _IN_LIBREOFFICE,
    ),
    Thing("Pictures in cells", (FIGURES, "Jobs"), in_cells, NEITHER),
    Thing("Comments", (FIGURES, RACK, *_OURS), parts_over("comments")),
    Thing("Look of comments", (FIGURES, RACK, *_OURS), parts_over("vmlDrawing")),
    Thing("Threads of comments", (RACK, *JOB_SHEETS), parts_over("threadedComment"), NEITHER),
    Thing("Who wrote in them", (WHOLE,), parts_over("person"), NEITHER),
    Thing("Form button", (FIGURES,), elements(".//{*}control"), _IN_LIBREOFFICE),
    Thing("Properties of form controls", (FIGURES,), parts_over("ctrlProp"), _IN_LIBREOFFICE),
    Thing(
        "Sparklines",
        (FIGURES, "Jobs", *JOB_SHEETS),
        elements(f".//{_X14}sparkline"),
        _IN_LIBREOFFICE,
    ),
    Thing(
        "Conditional formats with their looks",
        (FIGURES, "Jobs", *JOB_SHEETS),
        elements(main("conditionalFormatting")),
    ),
    Thing(
        "Data bars of 2010",
        (FIGURES, "Jobs", *JOB_SHEETS),
        elements(f".//{_X14}dataBar"),
        _IN_LIBREOFFICE,
    ),
    Thing("Validations", (FIGURES, "Jobs", *JOB_SHEETS), own_validations),
    Thing("Rich text", (FIGURES,), cells("H1")),
    Thing("Shared formulas, as such", (FIGURES,), shared("shared"), NEITHER),
    Thing("Array formulas", (FIGURES,), shared("array")),
    Thing(
        "Formulas over job sheets and registers",
        (FIGURES,),
        cells("D2", "D4", "D5", "D6", "D7", "D8", "D9"),
    ),
    Thing("Links out and in", (FIGURES,), elements(f".//{main('hyperlink')}")),
    Thing("Own column in a table of the tools", ("Jobs",), cells(*_at(JOBS_COLUMN, 4, 5, 9))),
    Thing("Own column in a table of lines", JOB_SHEETS, cells(*_at(JOB_COLUMN, 11, 12, 16))),
    Thing(
        "Own cells beside a table",
        ("Jobs", *JOB_SHEETS),
        cells(*_at(JOBS_BESIDE, 5, 6), *_at(JOB_BESIDE, 9, 11, 30)),
    ),
    Thing("Own cells beside registers", ("Start", *REGISTERS), cells("Q4", "Q5")),
    Thing(
        "Own cell formats",
        ("Jobs", *JOB_SHEETS),
        cells(*_at(JOBS_BESIDE, 4), *_at(JOB_COLUMN, 12), *_at(JOB_BESIDE, 30), look=True),
    ),
    Thing("Column widths", ("Jobs",), columns(4, "width")),
    Thing("Column width on a job sheet", (IN_WORK,), columns(3, "width")),
    Thing("Hidden columns", ("Jobs",), columns(7, "hidden")),
    Thing("Hidden column of an own sheet", (RACK,), columns(5, "hidden")),
    Thing(
        "Frozen panes",
        ("Jobs", RACK),
        attributes(f".//{main('pane')}", "xSplit", "ySplit"),
        _IN_OPENPYXL,  # LibreOffice keeps them where it has a window
    ),
    Thing("Row heights and hidden rows", (RACK,), attributes(f".//{main('row')}", "ht", "hidden")),
    Thing("Outline", (RACK,), attributes(f".//{main('row')}", "outlineLevel")),
    Thing("Row height on a job sheet", JOB_SHEETS, attributes(f".//{main('row')}[@r='30']", "ht")),
    Thing("Merged cells", (RACK,), elements(f".//{main('mergeCell')}")),
    Thing("Filters with their choice", (RACK,), elements(main("autoFilter"))),
    Thing("Own table with totals", (RACK,), parts_over("table")),
    Thing("Print area", (WHOLE,), name_of("_xlnm.Print_Area", RACK)),
    Thing("Page breaks", (RACK,), elements(main("rowBreaks"))),
    Thing("Sheet protection", (RACK,), elements(main("sheetProtection"))),
    Thing("Tab colour", (FIGURES,), elements(f".//{main('tabColor')}")),
    Thing("Pictures in page heads", (RACK, *JOB_SHEETS), header_pictures, NEITHER),
    Thing("Printer settings", ("Jobs", *JOB_SHEETS), parts_over("printerSettings"), NEITHER),
    Thing("Name for the whole book", (WHOLE,), name_of("own_job")),
    Thing("Name for one sheet", (WHOLE,), name_of("own_scope")),
    Thing("Pivot table", (RACK,), parts_over("pivotTable"), _IN_OPENPYXL),
    Thing(
        "Cache and records of a pivot table",
        (WHOLE,),
        parts_over("pivotCacheDefinition"),
        _IN_OPENPYXL,
    ),
    Thing("Slicer", (RACK,), parts_over("slicer"), NEITHER),
    Thing("Cache of a slicer", (WHOLE,), parts_over("slicerCache"), NEITHER),
    Thing("Custom XML", (WHOLE,), parts_over("customXml"), NEITHER),
    Thing("Its properties", (WHOLE,), parts_over("customXml", "customXmlProps"), NEITHER),
    Thing("Parts of unknown type", (WHOLE,), parts_over(FUTURE), NEITHER),
    Thing("Parts nothing refers to", (WHOLE,), alone, NEITHER),
    Thing(
        "Unknown extensions",
        (WHOLE, "Jobs", IN_WORK, FIGURES),
        elements(f".//{{{OWN}}}rack[@kept]"),
        NEITHER,
    ),
    Thing(
        "Unknown alternatives", (WHOLE,), elements(f"{{{SAME_MARKUP}}}AlternateContent"), NEITHER
    ),
    Thing(
        "Unknown attributes",
        (WHOLE, "Jobs", IN_WORK, FIGURES),
        attributes(".", f"{{{OWN}}}shelf", f"{{{SAME_MARKUP}}}Ignorable"),
        NEITHER,
    ),
)
MACROS = (
    Thing("Macros", (WHOLE,), parts_over("vbaProject"), _IN_OPENPYXL),
    Thing("Names of sheets in macros", (WHOLE, "Jobs", FIGURES), code_names, _IN_OPENPYXL),
)
"""What a book with macros has besides; LibreOffice is not asked to save it, for they are none."""


WITH_JOB_SHEETS = ("Who wrote in them",)
"""Things of the whole book that go along with a job sheet."""


def evidence(parts: Parts, things: tuple[Thing, ...]) -> dict[tuple[str, str], list[bytes]]:
    """Return what stands in a book of each thing on each sheet it was put on, if that is there."""
    sheets = {WHOLE, *parts.sheets()}
    return {
        (thing.name, sheet): thing.found(parts, sheet)
        for thing in things
        for sheet in thing.on
        if sheet in sheets
    }
