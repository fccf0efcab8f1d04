"""LibreOffice edits a shop's book as owners do; the command line then goes on with it."""

import contextlib
import gc
import io
import json
import shutil
import sys
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from lxml import etree

from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.parts.markup import main as main_tag
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.workbook import Workbook
from ledger_tools.book.reader import read_snapshot
from ledger_tools.commands.main import main
from ledger_tools.shop.snapshot import Scalar, SheetSnapshot
from tests import libreoffice
from tests.book.edits import BILLED, EDITS, JOBS, REFUSED, WAITING, WORK, Edit, kept_shop
from tests.book.shop import TODAY, Shop

pytestmark = pytest.mark.libreoffice(edits=True)
_TRUE = {"1", "true"}
_NEW_JOB = ("--customer", "Ann Bell", "--item", "Gate", "--repair", "OIL-PAN")


@dataclass(frozen=True)
class Worked:
    """What became of one edited book.

    Attributes:
        first: What the first `recompute` gave.
        second: What the second gave.
        wrote: Whether the second wrote anything, and one after the shop had gone on.
        stood: How the owner's things stood as LibreOffice saved them.
        stands: How they stand after `recompute`.
        invoices: What was invoiced afterwards.
        differ: Cells that LibreOffice computes otherwise than the book has them in the end.
    """

    first: dict[str, Any]
    second: dict[str, Any]
    wrote: tuple[bool, bool]
    stood: dict[str, Any]
    stands: dict[str, Any]
    invoices: list[dict[str, Any]]
    differ: list[Any] | None = None


@dataclass(frozen=True)
class Books:
    """All books LibreOffice has edited.

    Attributes:
        folder: Where they lie, as LibreOffice saved them.
        untouched: The first `recompute` and the invoices of a book nobody edited.
        worked: What became of each, by name of the edit.
    """

    folder: Path
    untouched: tuple[dict[str, Any], list[dict[str, Any]]]
    worked: dict[str, Worked]


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> Books:
    """Have LibreOffice make every edit in one start, and check what came of them in another."""
    folder = tmp_path_factory.mktemp("edits")
    shop = kept_shop(folder)
    steps = {name: edit.steps for name, edit in EDITS.items()}
    steps |= {name: steps for name, (steps, _) in REFUSED.items()}
    libreoffice.edited([(shop.path, folder / f"{name}.xlsx", s) for name, s in steps.items()])
    made = {name: _worked_on(folder / f"{name}.xlsx", edit) for name, edit in EDITS.items()}
    asked = [(_own(folder / f"{name}.xlsx"), None, [["recalculated"]]) for name in EDITS]
    answers = dict(zip(EDITS, libreoffice.edited(asked), strict=True))
    first = _json("recompute", shop.path)
    untouched = first, _go_on(shop.path)
    worked = {name: replace(found, differ=answers[name][0]) for name, found in made.items()}
    return Books(folder, untouched, worked)


def _worked_on(edited: Path, edit: Edit) -> Worked:
    path = _own(edited)
    shutil.copy(edited, path)
    stood = _arranged(path, edit)
    first = _json("recompute", path)
    second, wrote = _recomputed(path)
    stands = _arranged(path, edit)
    invoices = _go_on(path, edit)
    _, wrote_later = _recomputed(path)
    return Worked(first, second, (wrote, wrote_later), stood, stands, invoices)


def _recomputed(path: Path) -> tuple[dict[str, Any], bool]:
    """Return what `recompute` gives, and whether it wrote anything."""
    before = path.read_bytes()
    found = _json("recompute", path)
    return found, path.read_bytes() != before


def _go_on(path: Path, edit: Edit | None = None) -> list[dict[str, Any]]:
    """Add a job and bill what waits, where the edit leaves a book that can go on."""
    if edit is not None and not edit.goes_on:
        return []
    _json("add-job", path, *_NEW_JOB)
    invoices: list[dict[str, Any]] = _json("invoice", path, "--out", path.parent / path.stem)[
        "invoices"
    ]
    return [{k: v for k, v in invoice.items() if k != "files"} for invoice in invoices]


def _own(edited: Path) -> Path:
    """Return the copy that the tools work on."""
    return edited.with_name(f"{edited.stem} worked on.xlsx")


def _json(*words: object) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(_run(*words, "--json")[1])
    return found


def _run(*words: object) -> tuple[int, str, str]:
    """Return exit code, stdout and stderr of the command line."""
    out, err = io.StringIO(), io.StringIO()
    arguments = ["ledger-tools", *map(str, words), "--today", str(TODAY)]
    with pytest.MonkeyPatch.context() as patch, contextlib.ExitStack() as stack:
        patch.setattr(sys, "argv", arguments)
        patch.setattr(gc, "disable", lambda: None)
        stack.enter_context(contextlib.redirect_stdout(out))
        stack.enter_context(contextlib.redirect_stderr(err))
        with pytest.raises(SystemExit) as stop:
            main()
    assert isinstance(stop.value.code, int)
    return stop.value.code, out.getvalue(), err.getvalue()


def _arranged(path: Path, edit: Edit) -> dict[str, Any]:
    """Return how an owner has arranged each sheet, and the cells that are the owner's."""
    package = Package(path.read_bytes(), path.name)
    tabs = Workbook(package).cell_tabs()
    sheets = {sheet.name: sheet for sheet in read_snapshot(path).sheets}
    return {tab.name: dict(_arrangement(package, tab.part)) for tab in tabs} | {
        "own": {
            (name, cell): _shown(sheets[name], cell)
            for name, cells in edit.kept.items()
            for cell in cells
        }
    }


def _arrangement(package: Package, part: str) -> Iterator[tuple[str, Any]]:
    root = package.root(part)
    for tag in ("sheetViews", "cols", "mergeCells"):
        yield tag, [etree.tostring(found) for found in root.iterfind(main_tag(tag))]
    rows = list(root.iter(main_tag("row")))
    hidden = [row.get("r") for row in rows if row.get("hidden") in _TRUE]
    yield "hidden", hidden
    yield "grouped", [row.get("r") for row in rows if row.get("outlineLevel", "0") != "0"]
    cells = ((str(cell.get("r")), cell.get("s", "0")) for cell in root.iter(main_tag("c")))
    yield "formats", {cell: style for cell, style in cells if style != "0"}
    tables = (package.root(table) for table in package.related(part, "table"))
    columns = (column for table in tables for column in table.iter(main_tag("filterColumn")))
    yield "filters", [etree.tostring(column) for column in columns]
    yield "notes", [package.read(note) for note in package.related(part, "comments")]


def _shown(sheet: SheetSnapshot, cell: str) -> tuple[Scalar, str | None]:
    """Return a cell's formula, or its value where it has none."""
    letters = cell.rstrip("0123456789")
    place = int(cell.removeprefix(letters)), ord(letters) - 64
    formula = sheet.formulas.get(place)
    return sheet.values.get(place) if formula is None else None, formula


def _jobs(given: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {job["job"]: job for job in given["jobs"]}


def _said(given: dict[str, Any]) -> set[tuple[str, str, str]]:
    return {(f["code"], f["sheet"], f["cell"]) for f in given["findings"]}


@pytest.mark.parametrize("name", EDITS)
def test_figures_are_those_of_the_untouched_book(books: Books, name: str) -> None:
    """Every job comes to the same, to the cent, save those the edit changed in fact."""
    before, after = _jobs(books.untouched[0]), _jobs(books.worked[name].first)

    different = {n for n in before | after if before.get(n) != after.get(n)}

    assert different == EDITS[name].changes
    assert set(before) == {BILLED, WORK, WAITING}


@pytest.mark.parametrize("name", EDITS)
def test_findings_are_the_ones_that_help(books: Books, name: str) -> None:
    """Each names its sheet and cell; nothing else is said, and less the second time."""
    worked, edit = books.worked[name], EDITS[name]

    assert _said(worked.first) == edit.says
    assert _said(worked.second) == edit.stays


@pytest.mark.parametrize("name", EDITS)
def test_a_second_recompute_writes_nothing(books: Books, name: str) -> None:
    """What was put back or put together stays, also after jobs were added and billed."""
    worked = books.worked[name]

    assert worked.wrote == (False, False)
    assert _jobs(worked.second) == _jobs(worked.first)


@pytest.mark.parametrize("name", EDITS)
def test_libreoffice_computes_what_the_book_shows(books: Books, name: str) -> None:
    """All live formulas of the rearranged book still mean what they meant."""
    assert books.worked[name].differ == []


@pytest.mark.parametrize("name", EDITS)
def test_what_is_the_owners_stays(books: Books, name: str) -> None:
    """Sheets, their order, own cells, formats, what is merged, hidden, frozen, filtered, noted."""
    worked, grows = books.worked[name], EDITS[name].grows
    new = set(worked.stands) - set(worked.stood)

    assert [n for n in worked.stands if n not in new] == list(worked.stood)
    for sheet, stood in worked.stood.items():
        stands = worked.stands[sheet]
        if sheet != "own":
            there = {} if grows else stood["formats"]
            stood |= {"formats": there}
            stands |= {"formats": {c: s for c, s in stands["formats"].items() if c in there}}
        assert stands == stood, sheet
    assert (None, None) not in worked.stood["own"].values()


@pytest.mark.parametrize("name", [name for name, edit in EDITS.items() if edit.goes_on])
def test_the_shop_goes_on_with_the_edited_book(books: Books, name: str) -> None:
    """A job is added, and what waits is billed with the same number, lines and amounts."""
    issued = books.untouched[1]

    assert books.worked[name].invoices == issued
    assert [invoice["job"] for invoice in issued] == [WAITING]


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_relied_on_is_refused(books: Books, name: str, tmp_path: Path) -> None:
    """The message says where and how to mend it, and the file stays byte by byte."""
    path = tmp_path / "shop.xlsx"
    shutil.copy(books.folder / f"{name}.xlsx", path)

    code, _, said = _run("recompute", path)

    assert code == 1
    assert REFUSED[name][1] in said
    assert path.read_bytes() == (books.folder / f"{name}.xlsx").read_bytes()
    assert list(tmp_path.iterdir()) == [path]


def test_edits_are_really_made(books: Books) -> None:
    """The books differ from the untouched one where they should: else all else proves nothing."""
    assert list(books.worked["every sheet renamed"].stood)[1] == "2. Jobs's"
    hidden = books.worked["sorted, filtered, hidden, grouped"].stood
    assert hidden[JOBS]["filters"]
    assert {"14", "15"} <= set(hidden[WORK]["hidden"])
    assert hidden[WAITING]["grouped"] == ["13", "14", "15", "16"]
    looks = books.worked["coloured, formatted, merged, noted"].stood
    assert looks[WORK]["mergeCells"]
    assert looks[WORK]["notes"]
    dissolved = Shop(books.folder / "sheets renamed and tables dissolved.xlsx").snapshot()
    assert not next(s for s in dissolved.sheets if s.name == "2. Jobs's").tables
    assert JOBS_TABLE.table not in {t.name for s in dissolved.sheets for t in s.tables}
