"""What only a spreadsheet program puts into a file, written by hand: its parts and markup.

Shapes of slicers, threads, controls and their like are from memory of the published extensions of
the format; what counts here is that they are there, unlike anything the tools know.
"""

from typing import cast
from xml.sax.saxutils import escape

from lxml import etree

from tests.torture.marks import own_columns, own_views
from tests.torture.merge import insert, row_of
from tests.torture.owner import FIGURES, IN_WORK, PAID, RACK, THREAD, THREADED
from tests.torture.package import (
    BY_KIND,
    CONTENT_TYPES,
    MAIN,
    OFFICE,
    RELATION_ID,
    SAME_MARKUP,
    WORKBOOK,
    Parts,
    main,
)

OWN = "http://example.org/2031/rack"
"""A namespace that no program knows."""
FUTURE = "http://example.org/2031/relationships/future"
_THREADS = "http://schemas.microsoft.com/office/spreadsheetml/2018/threadedcomments"
_SINCE_2017 = "http://schemas.microsoft.com/office/2017/10/relationships"
_SINCE_2007 = "http://schemas.microsoft.com/office/2007/relationships"
_X14 = "http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"
_X15 = "http://schemas.microsoft.com/office/spreadsheetml/2010/11/main"
_ANNA = "{0B1C2D3E-0000-4000-8000-0000000000AA}"


def add_all(parts: Parts) -> None:
    """Put everything into a shop book that has the owner's sheets already."""
    custom_xml(parts)
    threads(parts)
    printer_settings(parts)
    unknown_parts(parts)
    unknown_markup(parts)
    pivot(parts)
    slicer(parts)
    form_button(parts)
    own_columns(parts)
    own_views(parts)
    calculation_chain(parts)


def custom_xml(parts: Parts) -> None:
    """Data of an add-in, that belongs to the workbook."""
    item = "customXml/item1.xml"
    parts[item] = b'<rack xmlns="http://example.org/2031/rack"><shelf n="1"/></rack>'
    kind = "application/vnd.openxmlformats-officedocument.customXmlProperties+xml"
    properties = parts.add(
        "customXml/itemProps1.xml",
        '<ds:datastoreItem xmlns:ds="http://schemas.openxmlformats.org/officeDocument/2006/'
        'customXml" ds:itemID="{5B8E4E1B-0000-4000-8000-000000000001}"><ds:schemaRefs/>'
        "</ds:datastoreItem>",
        kind,
    )
    parts.declare_ending("xml", "application/xml")
    parts.relate(item, "customXmlProps", properties)
    parts.relate(WORKBOOK, "customXml", item)


def threads(parts: Parts) -> None:
    """Threads of comments on a list of the owner's and on two job sheets, and who wrote them."""
    cells = {PAID: "C12", IN_WORK: "C12", RACK: "B5"}
    for name, number in THREADED.items():
        part = parts.add(
            f"xl/threadedComments/threadedComment{number}.xml",
            f'<ThreadedComments xmlns="{_THREADS}"><threadedComment ref="{cells[name]}" '
            f'dT="2025-02-03T10:00:00.00" personId="{_ANNA}" id="{THREAD % number}">'
            f"<text>Who pays for this? {number}</text></threadedComment></ThreadedComments>",
            "application/vnd.ms-excel.threadedcomments+xml",
        )
        parts.relate(parts.sheets()[name], f"{_SINCE_2017}/threadedComment", part)
    persons = parts.add(
        "xl/persons/person.xml",
        f'<personList xmlns="{_THREADS}"><person displayName="Anna" id="{_ANNA}" userId="anna" '
        'providerId="None"/></personList>',
        "application/vnd.ms-excel.person+xml",
    )
    parts.relate(WORKBOOK, f"{_SINCE_2017}/person", persons)


def printer_settings(parts: Parts) -> None:
    """What a printer's driver keeps, on `Jobs` and on a job sheet."""
    kind = BY_KIND.format("printerSettings").removesuffix("+xml")
    parts.declare_ending("bin", kind)
    for number, name in enumerate(("Jobs", PAID, IN_WORK), 1):
        part = f"xl/printerSettings/printerSettings{number}.bin"
        parts[part] = b"\x00\x01printer\xff" * 20 + bytes([number])
        sheet = parts.sheets()[name]
        root = parts.root(sheet)
        setup = root.find(main("pageSetup"))
        assert setup is not None
        setup.set(RELATION_ID, parts.relate(sheet, "printerSettings", part))
        parts.put(sheet, root)


def unknown_parts(parts: Parts) -> None:
    """Parts of a type nobody knows, reached by relationships nobody knows; one reached by none."""
    made = parts.add("xl/future/thing1.xml", "<thing/>", "application/vnd.example.future+xml")
    parts.relate(WORKBOOK, FUTURE, made)
    top = parts.add("future/top.dat", b"\x00\xfftop" * 9, "application/vnd.example.top")
    parts.relate("", FUTURE, top)
    parts.add("xl/future/alone.xml", "<alone/>", "application/vnd.example.future+xml")


def unknown_markup(parts: Parts) -> None:
    """Extensions, alternatives and attributes nobody knows, on our sheets and in the workbook."""
    for name in ("Jobs", IN_WORK, FIGURES):
        sheet = parts.sheets()[name]
        root = _speaking(parts.root(sheet))
        root.set(f"{{{OWN}}}shelf", "3")
        row_of(root, 6).set(f"{{{OWN}}}bay", "7")
        _extend(root, "{F00D0000-0000-4000-8000-000000000001}", f'<rack xmlns="{OWN}" kept="1"/>')
        parts.put(sheet, root)
    book = _speaking(parts.root(WORKBOOK))
    book.set(f"{{{OWN}}}shelf", "1")
    first = book.find(main("workbookPr"))
    assert first is not None
    first.addnext(_alternative(f'<rack xmlns="{OWN}" level="2"/>'))
    _extend(book, "{F00D0000-0000-4000-8000-000000000002}", f'<rack xmlns="{OWN}" kept="2"/>')
    parts.put(WORKBOOK, book)


def _speaking(root: etree._Element) -> etree._Element:
    """Return a part that may speak of the unknown namespace, and says it can be ignored."""
    spoken = cast("dict[str, str]", {**root.nsmap, "mc": SAME_MARKUP, "own": OWN})
    new = etree.Element(root.tag, nsmap=spoken)
    for name, value in root.attrib.items():
        new.set(name, value)
    new.extend(list(root))
    ignored = new.get(f"{{{SAME_MARKUP}}}Ignorable", "")
    new.set(f"{{{SAME_MARKUP}}}Ignorable", f"{ignored} own".strip())
    return new


def _alternative(choice: str) -> etree._Element:
    return etree.fromstring(
        f'<mc:AlternateContent xmlns:mc="{SAME_MARKUP}" xmlns:own="{OWN}">'
        f'<mc:Choice Requires="own">{choice}</mc:Choice></mc:AlternateContent>'
    )


def _extend(root: etree._Element, uri: str, content: str) -> None:
    held = root.find(main("extLst"))
    if held is None:
        held = etree.SubElement(root, main("extLst"))
    held.append(etree.fromstring(f'<ext xmlns="{MAIN}" uri="{uri}">{content}</ext>'))


def pivot(parts: Parts) -> None:
    """A pivot table over the owner's list, with its cache and records."""
    cache = _pivot_cache(parts)
    table = _pivot_table(parts)
    parts.relate(table, "pivotCacheDefinition", cache)
    parts.relate(parts.sheets()[RACK], "pivotTable", table)
    book = parts.root(WORKBOOK)
    caches = etree.fromstring(
        f'<pivotCaches xmlns="{MAIN}" xmlns:r="{OFFICE}"><pivotCache cacheId="77" '
        f'r:id="{parts.relate(WORKBOOK, "pivotCacheDefinition", cache)}"/></pivotCaches>'
    )
    settings = book.find(main("calcPr"))
    assert settings is not None
    settings.addnext(caches)
    parts.put(WORKBOOK, book)


def _pivot_cache(parts: Parts) -> str:
    fields = '<sharedItems count="2"><s v="a"/><s v="b"/></sharedItems>'
    cache = parts.add(
        "xl/pivotCache/pivotCacheDefinition1.xml",
        f'<pivotCacheDefinition xmlns="{MAIN}" xmlns:r="{OFFICE}" r:id="rIdOwn1" '
        'refreshedBy="Anna" refreshedDate="45000" createdVersion="6" refreshedVersion="6" '
        'recordCount="3"><cacheSource type="worksheet"><worksheetSource ref="A15:A18" '
        f'sheet="{escape(RACK)}"/></cacheSource><cacheFields count="1">'
        f'<cacheField name="Thing" numFmtId="0">{fields}'
        "</cacheField></cacheFields></pivotCacheDefinition>",
        BY_KIND.format("pivotCacheDefinition"),
    )
    records = parts.add(
        "xl/pivotCache/pivotCacheRecords1.xml",
        f'<pivotCacheRecords xmlns="{MAIN}" count="3"><r><x v="0"/></r><r><x v="1"/></r>'
        '<r><x v="0"/></r></pivotCacheRecords>',
        BY_KIND.format("pivotCacheRecords"),
    )
    parts.relate(cache, "pivotCacheRecords", records)
    return cache


def _pivot_table(parts: Parts) -> str:
    return parts.add(
        "xl/pivotTables/pivotTable1.xml",
        f'<pivotTableDefinition xmlns="{MAIN}" name="OwnPivot" cacheId="77" dataCaption="Values" '
        'createdVersion="6" updatedVersion="6" minRefreshableVersion="3">'
        '<location ref="H5:I8" firstHeaderRow="1" firstDataRow="1" firstDataCol="1"/>'
        '<pivotFields count="1"><pivotField axis="axisRow" dataField="1" showAll="0">'
        '<items count="3"><item x="0"/><item x="1"/><item t="default"/></items></pivotField>'
        "</pivotFields>"
        '<rowFields count="1"><field x="0"/></rowFields><rowItems count="3"><i><x/></i>'
        '<i><x v="1"/></i><i t="grand"><x/></i></rowItems><colItems count="1"><i/></colItems>'
        '<dataFields count="1"><dataField name="Count of Thing" fld="0" subtotal="count"/>'
        "</dataFields><pivotTableStyleInfo "
        'name="PivotStyleLight16" showRowHeaders="1" showColHeaders="1"/></pivotTableDefinition>',
        BY_KIND.format("pivotTable"),
    )


def slicer(parts: Parts) -> None:
    """A slicer on the owner's table."""
    cache = parts.add(
        "xl/slicerCaches/slicerCache1.xml",
        f'<slicerCacheDefinition xmlns="{_X14}" xmlns:x="{MAIN}" name="Slicer_Place" '
        'sourceName="Place"><extLst><x:ext uri="{2F2917AC-EB37-4324-AD4E-5DD8C200BD13}" '
        f'xmlns:x15="{_X15}"><x15:tableSlicerCache tableId="9001" column="1"/></x:ext></extLst>'
        "</slicerCacheDefinition>",
        "application/vnd.ms-excel.slicerCache+xml",
    )
    shown = parts.add(
        "xl/slicers/slicer1.xml",
        f'<slicers xmlns="{_X14}"><slicer name="Place" cache="Slicer_Place" caption="Place" '
        'rowHeight="241300"/></slicers>',
        "application/vnd.ms-excel.slicer+xml",
    )
    of_cache = parts.relate(WORKBOOK, f"{_SINCE_2007}/slicerCache", cache)
    sheet = parts.sheets()[RACK]
    of_slicer = parts.relate(sheet, f"{_SINCE_2007}/slicer", shown)
    book, root = parts.root(WORKBOOK), parts.root(sheet)
    _extend(
        book,
        "{46BE6895-7355-4a93-B00E-2C351335B9C9}",
        f'<x15:slicerCaches xmlns:x15="{_X15}" xmlns:x14="{_X14}" xmlns:r="{OFFICE}">'
        f'<x14:slicerCache r:id="{of_cache}"/></x15:slicerCaches>',
    )
    _extend(
        root,
        "{3A4CF648-6AED-40f4-86FF-DC5316D8AED3}",
        f'<x14:slicerList xmlns:x14="{_X14}" xmlns:r="{OFFICE}"><x14:slicer r:id="{of_slicer}"/>'
        "</x14:slicerList>",
    )
    names = book.find(main("definedNames"))
    assert names is not None
    etree.SubElement(names, main("definedName"), {"name": "Slicer_Place"}).text = "#N/A"
    parts.put(WORKBOOK, book)
    parts.put(sheet, root)


def form_button(parts: Parts) -> None:
    """The form button of the owner's sheet as newer programs keep it: with properties."""
    properties = parts.add(
        "xl/ctrlProps/ctrlProp1.xml",
        f'<formControlPr xmlns="{_X14}" objectType="Button" lockText="1"/>',
        "application/vnd.ms-excel.controlproperties+xml",
    )
    sheet = parts.sheets()[FIGURES]
    relation = parts.relate(sheet, "ctrlProp", properties)
    root = parts.root(sheet)
    control = etree.fromstring(
        f'<mc:AlternateContent xmlns:mc="{SAME_MARKUP}" xmlns="{MAIN}" xmlns:r="{OFFICE}" '
        f'xmlns:x14="{_X14}"><mc:Choice Requires="x14"><controls><control shapeId="1026" '
        f'r:id="{relation}" name="Button 1"/></controls></mc:Choice></mc:AlternateContent>'
    )
    insert(root, control)
    parts.put(sheet, root)


def calculation_chain(parts: Parts) -> None:
    """The order in which Excel computes; a chain that names no formula makes it report damage."""
    part = parts.add(
        "xl/calcChain.xml",
        f'<calcChain xmlns="{MAIN}"><c r="B2" i="1"/></calcChain>',
        BY_KIND.format("calcChain"),
    )
    parts.relate(WORKBOOK, "calcChain", part)


def with_macros(parts: Parts) -> None:
    """Turn the book into one with macros: a project of its own, and names for code."""
    root = parts.root(CONTENT_TYPES)
    for declared in root:
        if declared.get("PartName") == f"/{WORKBOOK}":
            declared.set("ContentType", "application/vnd.ms-excel.sheet.macroEnabled.main+xml")
    parts.put(CONTENT_TYPES, root)
    project = parts.add(
        "xl/vbaProject.bin",
        b"\xd0\xcf\x11\xe0" + b"macros" * 99,
        "application/vnd.ms-office.vbaProject",
    )
    parts.relate(
        WORKBOOK, "http://schemas.microsoft.com/office/2006/relationships/vbaProject", project
    )
    book = parts.root(WORKBOOK)
    properties = book.find(main("workbookPr"))
    assert properties is not None
    properties.set("codeName", "ThisWorkbook")
    parts.put(WORKBOOK, book)
    for name in ("Jobs", IN_WORK, FIGURES):
        sheet = parts.sheets()[name]
        sheet_root = parts.root(sheet)
        named = sheet_root.find(main("sheetPr"))
        if named is None:
            named = etree.Element(main("sheetPr"))
            sheet_root.insert(0, named)
        named.set("codeName", "Own" + "".join(c for c in name if c.isalnum()))
        parts.put(sheet, sheet_root)
