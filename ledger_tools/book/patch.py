"""Applying a plan to the closed file: only the parts that change are written anew.

Every other part keeps its compressed bytes and its place. All is prepared in memory first; an
operation that is refused leaves the file as it was.
"""

from collections.abc import Callable, Collection, Mapping, Sequence
from functools import cache
from pathlib import Path

from ledger_tools.book.locks import refuse_if_open
from ledger_tools.book.parts.clock import PlainNumbers
from ledger_tools.book.parts.covering import Growth, follow
from ledger_tools.book.parts.extending import Drawn, drawn_parts, extend
from ledger_tools.book.parts.graft import graft
from ledger_tools.book.parts.growth import TablePart, grow, tables_of
from ledger_tools.book.parts.making import make_table
from ledger_tools.book.parts.markup import PartUnfitError
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.properties import set_property
from ledger_tools.book.parts.references import Places
from ledger_tools.book.parts.removal import remove_sheets
from ledger_tools.book.parts.sheet import Sheet
from ledger_tools.book.parts.workbook import Workbook
from ledger_tools.book.reader import BookRead, shared_strings
from ledger_tools.book.save import save_book
from ledger_tools.errors import BookChangedError, BookUnreadableError
from ledger_tools.shop.plan import (
    AddSheet,
    Content,
    DefineName,
    Extend,
    GrowTable,
    Later,
    MakeTable,
    OnSheet,
    Plan,
    RemoveSheet,
    SetCell,
    SetProperty,
)
from ledger_tools.shop.snapshot import Place, Snapshot, address

Draw = Callable[[Sequence[AddSheet]], bytes]
"""Draws new sheets: gives a workbook that holds just these, in order."""
Stale = Mapping[str, Collection[Place]]
"""Cells by sheet whose formulas keep no computed value, as nobody has computed it anew."""


def apply_plan(
    path: Path, plan: Plan, *, read: BookRead, stale: Stale | None = None
) -> Path | None:
    """Carry out `plan` on the workbook at `path` and return the backup of the file before.

    An empty plan leaves the file alone, and there is no backup.

    Args:
        path: The closed book.
        plan: What is to be written.
        read: The book the plan was made from. The file is refused, when its turn to be replaced
            comes, if it is another.
        stale: Formulas that are not the tools' own, as `foreign_formulas` finds them. Their
            computed values may rest on cells that change, so they are dropped, and the
            spreadsheet program computes them on opening.

    Raises:
        BookLockedError: The book is open in a spreadsheet program.
        BookChangedError: The file, or a cell to be written, is not as it was read.
        NotWritableError: A cell, table or sheet cannot be changed as asked.
    """
    if not plan.operations:
        return None
    refuse_if_open(path)
    pieces = _pieces(read.package.again(), plan, stale or {}, _drawn)
    return save_book(path, pieces, old=read.content)


def patched_book(
    content: bytes,
    file: str,
    plan: Plan,
    *,
    stale: Stale | None = None,
    draw: Draw | None = None,
) -> bytes:
    """Return the workbook file `content` with `plan` carried out.

    Args:
        content: The whole file.
        file: Its name, for messages.
        plan: What is to be written.
        stale: Formulas whose computed values are dropped.
        draw: Draws new sheets; the usual drawing if it is not given.

    Raises:
        BookUnreadableError: A part holds what cannot be understood.
        BookChangedError: A cell, table or sheet is not as the plan expects.
        NotWritableError: A cell, table or sheet cannot be changed, or the file is signed.
    """
    return b"".join(_pieces(Package(content, file), plan, stale or {}, draw or _drawn))


def _pieces(package: Package, plan: Plan, stale: Stale, draw: Draw) -> list[bytes | memoryview]:
    """Return the workbook file with `plan` carried out, in pieces."""
    try:
        _patch(package, plan, stale, draw)
        return package.pieces()
    except PartUnfitError as error:
        # A number or reference in a part that nobody needed until now, such as one of a format.
        raise BookUnreadableError(
            package.file,
            f"a part of the file holds what cannot be understood ({error})",
            "Open the file in your spreadsheet program and save it again, or use the last backup",
        ) from error


def _patch(
    package: Package,
    plan: Plan,
    old: Stale,
    draw: Draw,
) -> None:
    package.refuse_signed()
    workbook = Workbook(package)
    added = [op for op in plan.operations if isinstance(op, AddSheet)]
    if added:
        graft(workbook, added, draw(added))
    by_sheet: dict[str, list[OnSheet]] = {}
    for op in plan.operations:
        if isinstance(op, OnSheet):
            by_sheet.setdefault(op.sheet, []).append(op)
    extensions = _extensions(workbook, plan)
    gone = {op.sheet for op in plan.operations if isinstance(op, RemoveSheet)}
    tabs = {tab.name: tab for tab in workbook.cell_tabs()}
    places = Places()
    strings = cache(lambda: shared_strings(package, workbook))
    old = {name: cells for name, cells in old.items() if name not in gone}
    plain = PlainNumbers(workbook)
    grown: list[Growth] = []
    for name in {**by_sheet, **{n: [] for n in old if n in tabs}}:
        if name not in tabs:
            what, remedy = "the sheet is not there any more", "Run the command again"
            raise BookChangedError(f"{package.file}, sheet '{name}'", what, remedy)
        sheet = Sheet(package, tabs[name], strings, places)
        grown += _change(sheet, by_sheet.get(name, []), old.get(name, ()), (plain, extensions))
    follow(workbook, grown, lambda tab: Sheet(package, tab, strings, places))
    _describe(workbook, plan)
    remove_sheets(workbook, gone)
    workbook.ask_to_recalculate()


def _extensions(workbook: Workbook, plan: Plan) -> dict[Later, Drawn]:
    """Return what sheets of an older book get, drawn and ready to be put in."""
    wanted = dict.fromkeys(op.later for op in plan.operations if isinstance(op, Extend))
    if not wanted:
        return {}
    from ledger_tools.book.draw import drawn_later  # noqa: PLC0415 - loads a writer of workbooks

    drawn = drawn_parts(workbook, drawn_later(list(wanted)))
    return dict(zip(wanted, drawn, strict=True))


def _describe(workbook: Workbook, plan: Plan) -> None:
    """Carry out what concerns the whole book: names and properties."""
    for op in plan.operations:
        if isinstance(op, DefineName):
            workbook.name(op.name, op.refers_to)
        elif isinstance(op, SetProperty):
            set_property(workbook.package, op.name, op.value)


def foreign_formulas(
    snapshot: Snapshot, ours: Callable[[str, int, int], bool]
) -> dict[str, list[Place]]:
    """Return the formulas with a computed value that are not the tools' own, by sheet.

    Args:
        snapshot: The book as read.
        ours: Whether the tools compute the cell at a sheet, row and column: then its value is
            either planned anew or still true.
    """
    found: dict[str, list[Place]] = {}
    for sheet in snapshot.sheets:
        values, name = sheet.values, sheet.name
        places = [p for p in sheet.formulas if p in values and not ours(name, *p)]
        if places:
            found[name] = places
    return found


def _drawn(adds: Sequence[AddSheet]) -> bytes:
    """Return the new sheets as the tools draw them."""
    from ledger_tools.book.draw import donor  # noqa: PLC0415 - loads a writer of workbooks

    return donor(adds)


def _change(
    sheet: Sheet,
    operations: Sequence[OnSheet],
    stale: Collection[Place],
    formats: tuple[PlainNumbers, Mapping[Later, Drawn]],
) -> list[Growth]:
    """Carry out what concerns one sheet: tables grow first, then cells are set.

    Returns the tables that grew.
    """
    plain, extensions = formats
    forgotten = [sheet.forget_value(place) for place in stale]
    for op in operations:
        if isinstance(op, MakeTable):
            make_table(sheet, op)
        elif isinstance(op, Extend):
            extend(sheet, op, extensions[op.later])
    grown = [grow(sheet, op) for op in operations if isinstance(op, GrowTable) and op.rows > 0]
    cells = [op for op in operations if isinstance(op, SetCell)]
    tables = tables_of(sheet.package, sheet.part) if cells else []
    for cell in cells:
        _set(sheet, cell, tables, plain)
    if operations or any(forgotten):
        sheet.save()
    return grown


def _set(sheet: Sheet, op: SetCell, tables: Sequence[TablePart], plain: PlainNumbers) -> None:
    place = op.row, op.col
    found = sheet.content(place)
    if not same(found, op.old):
        raise BookChangedError(
            sheet.where(address(*place)),
            f"the cell holds {_said(found)} and not {_said(op.old)} as when it was read",
            "Nothing was written; run the command again",
        )
    if op.new.value not in {None, ""}:
        sheet.show(op.row)
    missing = sheet.style(place) is None
    sheet.put(place, op.new, style=_style_for(sheet, place, tables) if missing else None)
    value = op.new.value
    # A part of a day is a time of day, and meant to be shown as one.
    if isinstance(value, int | float) and not 0 <= value < 1:
        there = sheet.style(place) or "0"
        if plain.style(there) != there:
            sheet.set_style(place, plain.style(there))
    if op.link is not None:
        display = op.new.value if isinstance(op.new.value, str) else ""
        sheet.link(place, op.link, display)


def same(found: Content, expected: Content) -> bool:
    """Return whether two contents are the same: 1 and 1.0 are, 1 and TRUE are not."""
    if found.formula != expected.formula:
        return False
    truth = isinstance(found.value, bool), isinstance(expected.value, bool)
    return truth[0] == truth[1] and found.value == expected.value


def _style_for(sheet: Sheet, place: Place, tables: Sequence[TablePart]) -> str:
    """Return the format of a cell that is not there yet.

    Inside a table it is that of the nearest cell above it in the same column and table.
    """
    row, col = place
    for table in tables:
        if table.holds(row, col):
            for above in range(row - 1, table.area.first_row, -1):
                style = sheet.style((above, col))
                if style is not None:
                    return style
    return sheet.empty_style(place)


def _said(content: Content) -> str:
    """Return what a cell holds, for a message."""
    if content.formula is not None:
        return f"the formula '={content.formula}' showing {content.value!r}"
    return "nothing" if content.value is None else repr(content.value)
