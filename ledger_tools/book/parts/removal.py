"""Sheets taken out of a workbook, with everything in the file that only they refer to."""

from collections.abc import Collection, Iterable

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import main, whole_number
from ledger_tools.book.parts.mentions import without_sheets
from ledger_tools.book.parts.outside import may_speak_of_sheets, slots
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.workbook import Tab, Workbook
from ledger_tools.errors import BookChangedError, NotWritableError

_PARTS_WITH_FORMULAS = frozenset(
    {"worksheet", "drawing", "chart", "chartEx", "chartUserShapes", "ctrlProp", "table"}
)


def remove_sheets(workbook: Workbook, names: Collection[str]) -> None:
    """Take the sheets `names` out of the file of `workbook`.

    Names, marks and charts that meant a cell of them mean ``#REF!`` from then on, as they do when
    a spreadsheet program deletes a sheet. Formulas in cells are the caller's to settle before.

    Raises:
        BookChangedError: A sheet is not there any more.
        NotWritableError: No sheet would be left, or the list of sheets is locked.
    """
    gone = [tab for tab in workbook.tabs if tab.name in names]
    if len(gone) < len(set(names)):
        missing = sorted(set(names) - {tab.name for tab in gone})
        raise BookChangedError(
            f"{workbook.package.file}, sheet '{missing[0]}'",
            "the sheet is not there any more",
            "Run the command again",
        )
    if not gone:
        return
    workbook.refuse_locked()
    package = workbook.package
    if len(gone) == len(workbook.tabs):
        raise NotWritableError(package.file, "no sheet would be left", "Keep one of the sheets")
    before = len(workbook.cell_tabs())
    tables = {table.lower() for tab in gone for table in _tables(package, tab)}
    reached = _reached(package)
    _unlist(workbook, gone)
    package.discard(reached - _reached(package))
    _settle_names(workbook, names, tables)
    _settle_parts(workbook, names, tables)
    workbook.list_titles(before, gone={tab.name for tab in gone})


def _tables(package: Package, tab: Tab) -> Iterable[str]:
    return (
        package.root_attributes(part).get("displayName", "")
        for part in package.related(tab.part, "table")
    )


def _reached(package: Package) -> set[str]:
    """Return the parts one comes to from the file's own relationships, in lower case."""
    found: set[str] = set()
    waiting = [""]
    while waiting:
        source = waiting.pop()
        for relation in package.relations(source):
            target = relation.target.lower()
            if not relation.external and target not in found and package.has(target):
                found.add(target)
                waiting.append(relation.target)
    return found


def _unlist(workbook: Workbook, gone: list[Tab]) -> None:
    """Take the sheets off the list of sheets; indexes that count tabs move with the others."""
    package = workbook.package
    root = package.edit(workbook.part)
    sheets = root.find(main("sheets"))
    if sheets is None:
        return
    names_gone = {tab.name for tab in gone}
    left = [index for index, tab in enumerate(workbook.tabs) if tab.name not in names_gone]
    positions = {index: position for position, index in enumerate(left)}
    visible = [positions[i] for i in left if sheets[i].get("state", "visible") == "visible"]
    if not visible:
        what = "no sheet would be left that can be seen"
        raise NotWritableError(package.file, what, "Unhide one of the sheets, save and try again")
    off = [sheet for index, sheet in enumerate(sheets) if index not in positions]
    for sheet in off:
        sheets.remove(sheet)
    package.unrelate(workbook.part, *(sheet.get(markup.RELATION_ID, "") for sheet in off))
    _move_names(root, positions)
    for view in root.iterfind(f"{main('bookViews')}/{main('workbookView')}"):
        _move_index(view, "activeTab", positions, visible)
        _move_index(view, "firstSheet", positions, visible)
    ids = {sheet.get("sheetId") for sheet in off}
    for own in root.iterfind(f"{main('customWorkbookViews')}/{main('customWorkbookView')}"):
        if own.get("activeSheetId") in ids:
            own.set("activeSheetId", sheets[visible[0]].get("sheetId", "1"))
    workbook.tabs[:] = [workbook.tabs[index] for index in left]


def _move_names(root: etree._Element, positions: dict[int, int]) -> None:
    """Have names that belong to a sheet follow it; those of a sheet that is gone go too."""
    names = root.find(main("definedNames"))
    if names is None:
        return
    for defined in list(names):
        scope = defined.get("localSheetId")
        if scope is not None:
            index = whole_number(scope)
            if index in positions:
                defined.set("localSheetId", str(positions[index]))
            else:
                names.remove(defined)
    if not len(names):
        root.remove(names)


def _move_index(
    view: etree._Element, attribute: str, positions: dict[int, int], visible: list[int]
) -> None:
    """Have a view count the tabs that are left.

    A tab that is gone gives its place to the next one that can be seen, at the end to the last.
    """
    index = whole_number(view.get(attribute) or "0")
    if index in positions:
        new = positions[index]
    else:
        further = sum(1 for i in positions if i < index)
        new = next((tab for tab in visible if tab >= further), visible[-1])
    if new or view.get(attribute):
        view.set(attribute, str(new))


def _settle_names(workbook: Workbook, names: Collection[str], tables: Collection[str]) -> None:
    root = workbook.package.root(workbook.part)
    for defined in root.iterfind(f"{main('definedNames')}/{main('definedName')}"):
        text = defined.text or ""
        settled = without_sheets(text, names, tables)
        if settled != text:
            defined.text = settled
            workbook.package.edit(workbook.part)


def _settle_parts(workbook: Workbook, names: Collection[str], tables: Collection[str]) -> None:
    """Settle formulas of marks, choices, charts, shapes and controls on the sheets that stay."""
    package = workbook.package
    parts = {part for tab in workbook.tabs for part in _formula_parts(workbook, tab)}
    for part in sorted(parts):
        if not may_speak_of_sheets(package.read(part)):
            continue
        root = package.root(part)
        changed = False
        for slot in slots(root):
            settled = without_sheets(slot.text, names, tables)
            if settled != slot.text:
                slot.put(settled)
                changed = True
        if changed:
            package.write(part, markup.serialise(root))


def _formula_parts(workbook: Workbook, tab: Tab) -> list[str]:
    """Return the part of a sheet and those on it that may hold formulas."""
    package = workbook.package
    found: list[str] = []
    waiting = [tab.part]
    while waiting:
        part = waiting.pop(0)
        if part not in found:
            found.append(part)
            waiting += [
                relation.target
                for relation in package.relations(part)
                if relation.kind in _PARTS_WITH_FORMULAS
                and not relation.external
                and package.has(relation.target)
            ]
    return found
