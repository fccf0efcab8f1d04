"""The part that lists the sheets and names of a workbook, read and changed."""

from collections.abc import Collection, Mapping
from typing import NamedTuple

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.markup import main, whole_number
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.titles import Listing, lists_sheets, name_title
from ledger_tools.errors import BookUnreadableError, NotWritableError

_SAVED_AGAIN = "Open it in your spreadsheet program and save it as an Excel workbook (.xlsx)"
_ORDER = (
    *("fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets"),
    *("functionGroups", "externalReferences", "definedNames", "calcPr", "oleSize"),
    *("customWorkbookViews", "pivotCaches", "smartTagPr", "smartTagTypes", "webPublishing"),
    *("fileRecoveryPr", "webPublishObjects", "extLst"),
)
_TRUE = {"1", "true"}


class Tab(NamedTuple):
    """A sheet as the workbook lists it.

    Attributes:
        name: Name on the tab.
        part: Part that holds it.
        cells: Whether it is a sheet of cells; otherwise a chart or a dialog.
    """

    name: str
    part: str
    cells: bool


class Workbook:
    """The list of sheets and names of a workbook.

    Args:
        package: The file; what is changed here is changed in it.

    Raises:
        BookUnreadableError: There is no workbook in the file, or one of another format.
    """

    def __init__(self, package: Package) -> None:
        self.package = package
        self.part = _workbook_part(package)
        root = package.root(self.part)
        if root.tag != main("workbook"):
            what = "the file is saved as Strict Open XML" if _strict(root) else "it is no workbook"
            raise BookUnreadableError(package.file, what, _SAVED_AGAIN)
        properties = root.find(main("workbookPr"))
        self.from_1904 = properties is not None and properties.get("date1904") in _TRUE
        self.tabs = self._tabs(root)
        self._added: list[str] = []

    def cell_tabs(self) -> list[Tab]:
        """Return the sheets of cells, in tab order."""
        return [tab for tab in self.tabs if tab.cells]

    def names(self) -> dict[str, str]:
        """Return the defined names of the whole book with what they refer to."""
        found = self.package.root(self.part).iterfind(f"{main('definedNames')}/*")
        return {
            name.get("name", ""): name.text or ""
            for name in found
            if name.tag == main("definedName") and name.get("localSheetId") is None
        }

    def single(self, kind: str) -> str:
        """Return the one part of `kind` that the workbook has, such as its styles; or ''."""
        return next(iter(self.package.related(self.part, kind)), "")

    def refuse_locked(self) -> None:
        """Refuse to add or take out a sheet where the owner has locked the list of sheets.

        Raises:
            NotWritableError: The structure of the workbook is protected.
        """
        locked = self.package.root(self.part).find(main("workbookProtection"))
        if locked is not None and locked.get("lockStructure") in _TRUE:
            raise NotWritableError(
                self.package.file,
                "a sheet has to be added or taken out, and the structure of the workbook is "
                "protected",
                "Take that protection off (Review > Protect Workbook), save and try again",
            )

    def insert(self, position: int, name: str, part: str) -> None:
        """List a new sheet of cells at `position`, counted from 0 from the left.

        Names that belong to a sheet and the tab in view move with their sheets.
        """
        root = self.package.edit(self.part)
        sheets = root.find(main("sheets"))
        if sheets is None:
            raise BookUnreadableError(self.package.file, "it lists no sheets", _SAVED_AGAIN)
        ids = [whole_number(sheet.get("sheetId", "0")) for sheet in sheets]
        sheet = etree.Element(main("sheet"))
        sheet.set("name", name)
        sheet.set("sheetId", str(max(ids, default=0) + 1))
        sheet.set(markup.RELATION_ID, self.package.relate(self.part, "worksheet", part))
        sheets.insert(position, sheet)
        self.tabs.insert(position, Tab(name, part, cells=True))
        for defined in root.iterfind(f"{main('definedNames')}/{main('definedName')}"):
            _move_index(defined, "localSheetId", position)
        for view in root.iterfind(f"{main('bookViews')}/{main('workbookView')}"):
            _move_index(view, "activeTab", position, absent=0)
            _move_index(view, "firstSheet", position, absent=0)

    def define(self, name: str, refers_to: str, attributes: dict[str, str]) -> None:
        """Add a defined name."""
        root = self.package.edit(self.part)
        names = root.find(main("definedNames"))
        if names is None:
            names = etree.Element(main("definedNames"))
            markup.insert_ordered(root, names, _ORDER)
        defined = etree.SubElement(names, main("definedName"))
        defined.set("name", name)
        for key, value in attributes.items():
            defined.set(key, value)
        defined.text = refers_to
        self._added.append(self._title(defined))

    def name(self, name: str, refers_to: str) -> None:
        """Let a name of the whole book refer to something, whether it is there or not."""
        for place, defined in enumerate(self._defined_names()):
            if defined.get("name", "").lower() == name.lower() and not defined.get("localSheetId"):
                self.restate({place: refers_to})
                return
        self.define(name, refers_to, {})
        self.list_titles(len(self.cell_tabs()))

    def restate(self, names: Mapping[int, str]) -> None:
        """Have defined names, by their place in the list, refer to something else."""
        if names:
            there = list(self.package.edit(self.part).iterfind(f"{main('definedNames')}/*"))
            for position, refers_to in names.items():
                there[position].text = refers_to

    def ask_to_recalculate(self) -> None:
        """Have the spreadsheet program compute everything on opening; drop its chain of cells."""
        for relation in self.package.relations(self.part):
            if relation.kind == "calcChain" and not relation.external:
                self.package.drop(self.part, relation)
        root = self.package.root(self.part)
        settings = root.find(main("calcPr"))
        if settings is not None and settings.get("fullCalcOnLoad") in _TRUE:
            return
        root = self.package.edit(self.part)
        settings = root.find(main("calcPr"))
        if settings is None:
            settings = etree.Element(main("calcPr"))
            markup.insert_ordered(root, settings, _ORDER)
        settings.set("fullCalcOnLoad", "1")

    def list_titles(self, before: int, *, gone: Collection[str] = ()) -> None:
        """List the sheets again in the file's description, where it lists them.

        Args:
            before: How many sheets of cells the description lists now.
            gone: Sheets that were taken out, whose names are not listed any more.
        """
        tabs = [tab.name for tab in self.cell_tabs()]
        for part in self.package.related("", "extended-properties"):
            if lists_sheets(self.package.root(part), before):
                listing = Listing(self.package.edit(part))
                listing.put_sheets(before, tabs)
                listing.drop_names_of(gone)
                names = [self._title(defined) for defined in self._defined_names()]
                listing.add_names(list(filter(None, names)), self._added)

    def _defined_names(self) -> list[etree._Element]:
        names = self.package.root(self.part).iterfind(f"{main('definedNames')}/*")
        return [name for name in names if name.tag == main("definedName")]

    def _title(self, defined: etree._Element) -> str:
        """Return a name as the file's description lists it; '' for one that it does not list."""
        name, scope = defined.get("name", ""), defined.get("localSheetId")
        if defined.get("hidden") in _TRUE or name == "_xlnm._FilterDatabase":
            return ""
        sheet = next((t.name for n, t in enumerate(self.tabs) if str(n) == scope), "")
        return name_title(name, sheet)

    def _tabs(self, root: etree._Element) -> list[Tab]:
        related = {r.id: r for r in self.package.relations(self.part)}
        tabs = []
        for sheet in root.iterfind(f"{main('sheets')}/{main('sheet')}"):
            relation = related.get(sheet.get(markup.RELATION_ID, ""))
            name = sheet.get("name", "")
            if relation is None or relation.external:
                what = f"the file is damaged: its sheet '{name}' is missing"
                raise BookUnreadableError(self.package.file, what, "Restore the last backup")
            tabs.append(Tab(name, relation.target, relation.kind == "worksheet"))
        return tabs


def _workbook_part(package: Package) -> str:
    for relation in package.relations(""):
        if relation.kind != "officeDocument" or relation.external:
            continue
        if relation.type.startswith(markup.STRICT):
            what = "the file is saved as Strict Open XML"
        elif relation.target.endswith(".bin"):
            what = "the file is a binary workbook (.xlsb)"
        elif package.has(relation.target):
            return relation.target
        else:
            break
        raise BookUnreadableError(package.file, what, _SAVED_AGAIN)
    raise BookUnreadableError(package.file, "there is no workbook in the file", _SAVED_AGAIN)


def _strict(root: etree._Element) -> bool:
    return str(root.tag).startswith("{" + markup.STRICT)


def _move_index(
    element: etree._Element, attribute: str, position: int, *, absent: int | None = None
) -> None:
    """Count a tab one higher if it stands at `position` or right of it."""
    text = element.get(attribute)
    index = absent if text is None else whole_number(text)
    if index is not None and index >= position:
        element.set(attribute, str(index + 1))
