"""The same for a book that another program saved, and one with macros.

What such a program drops of the owner's is gone before the tools come; what it leaves is kept.
"""

import tempfile
import warnings
from collections.abc import Callable
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Any

import openpyxl
import pytest
import python_calamine

from ledger_tools.shop.snapshot import Place
from tests import libreoffice
from tests.book.test_formulas import plain
from tests.book.test_patch import _audit
from tests.torture import compare, lists
from tests.torture.build import torture_book
from tests.torture.owner import FIGURES, PICTURE, RACK
from tests.torture.package import Parts
from tests.torture.planned import cells_of, meaning, texts_of
from tests.torture.runs import BOOK, CASES, MACRO_BOOK, NEW, READING, Run, ran
from tests.torture.things import LIBREOFFICE, MACROS, OPENPYXL, THINGS, Thing, evidence

ARCHIVE = "shop-archive.xlsx"
WITH_MACROS = "with macros"
BY_OPENPYXL_WITH_MACROS = "openpyxl, with macros"
AS_IT_IS = "as it is"
"""How the book comes to the tools."""


def _loaded(content: bytes, **options: bool) -> Any:  # noqa: ANN401 - untyped
    with warnings.catch_warnings():
        # It warns of parts it would drop on saving.
        warnings.simplefilter("ignore", UserWarning)
        return openpyxl.load_workbook(BytesIO(content), **options)


@pytest.fixture(scope="module")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], bytes]:
    """Return a maker of the torture book in each form, made once."""

    @cache
    def made(form: str) -> bytes:
        if form == LIBREOFFICE:
            folder = tmp_path_factory.mktemp("saved")
            (folder / BOOK).write_bytes(torture_book())
            return libreoffice.resaved(folder / BOOK, folder).read_bytes()
        if form in {OPENPYXL, BY_OPENPYXL_WITH_MACROS}:
            target = BytesIO()
            macros = form == BY_OPENPYXL_WITH_MACROS
            _loaded(torture_book(macros=macros), keep_vba=macros).save(target)
            return target.getvalue()
        return torture_book(macros=form == WITH_MACROS)

    return made


@pytest.fixture(scope="module")
def run_on(saved: Callable[[str], bytes]) -> Callable[[str, str], Run]:
    """Return a runner of a case on the book in a form, each run once."""

    @cache
    def run(form: str, name: str) -> Run:
        case = {**CASES, **READING}[name]
        return ran(case, run(form, case.after).book if case.after else saved(form))

    return run


RunOn = Callable[[str, str], Run]


def _each(form: str, *names: str) -> list[Any]:
    marks = pytest.mark.libreoffice if form == LIBREOFFICE else ()
    return [pytest.param(form, name, marks=marks) for name in names]


WRITING = [
    *_each(WITH_MACROS, "recompute", "archive"),
    *_each(BY_OPENPYXL_WITH_MACROS, "recompute"),
    *_each(OPENPYXL, *CASES),
    *_each(LIBREOFFICE, *CASES),
]
LEAVING = [
    each
    for form in (OPENPYXL, LIBREOFFICE)
    for each in _each(form, "archive, refused", "recompute a second time", "next-year", "check")
]


def _things(form: str) -> tuple[Thing, ...]:
    return (*THINGS, *MACROS) if "macros" in form else THINGS


@pytest.mark.parametrize(("form", "name"), WRITING)
def test_what_is_left_of_the_owner_s_is_kept(run_on: RunOn, form: str, name: str) -> None:
    """Each thing stands there as it stood in the file that the tools were given."""
    run = run_on(form, name)
    planned = run.planned
    before, after = (evidence(Parts.of(b), _things(form)) for b in (run.before, run.book))

    assert run.code == 0, run.said
    changed = {k for k in before if before[k] != after.get(k) and k[1] not in planned.removed}
    assert changed == set()


@pytest.mark.parametrize(("form", "name"), WRITING)
def test_its_sheets_differ_in_the_cells_planned_alone(run_on: RunOn, form: str, name: str) -> None:
    """As in the book that Excel-like programs write."""
    run = run_on(form, name)
    before, after, planned = Parts.of(run.before), Parts.of(run.book), run.planned
    sheets = [s for s, part in before.sheets().items() if "chartsheet" not in part]

    assert [
        said
        for sheet in sheets
        if sheet not in planned.removed
        for said in compare.sheet_differences(before, after, sheet, planned)
    ] == []
    assert lists.table_differences(before, after, planned) == []
    assert lists.chart_differences(before, after, planned) == []
    assert lists.workbook_differences(before, after, planned) == []
    assert lists.style_differences(before, after) == []
    assert lists.listing_differences(before, after) == []


@pytest.mark.parametrize(("form", "name"), LEAVING)
def test_reading_verbs_leave_its_bytes(run_on: RunOn, form: str, name: str) -> None:
    """Also of a book that another program saved."""
    run = run_on(form, name)

    assert run.code == int(name == "archive, refused"), run.said
    assert run.book == run.before


@pytest.mark.parametrize(
    ("form", "program"),
    [
        (OPENPYXL, OPENPYXL),
        (BY_OPENPYXL_WITH_MACROS, OPENPYXL),
        pytest.param(LIBREOFFICE, LIBREOFFICE, marks=pytest.mark.libreoffice),
    ],
)
def test_what_the_program_itself_leaves_is_as_documented(
    saved: Callable[[str], bytes], form: str, program: str
) -> None:
    """Neither more nor less than the page of reliability says."""
    things = _things(form)
    there = evidence(Parts.of(saved(form)), things)
    left = {t.name for t in things if all(there.get((t.name, sheet)) for sheet in t.on)}

    assert left == {t.name for t in things if program in t.left_by}


@pytest.mark.parametrize(("form", "name"), WRITING)
def test_every_cell_of_the_tools_is_as_in_the_other_book(
    run_on: RunOn, form: str, name: str
) -> None:
    """Formulas that the save destroyed are put back; each figure is the same to the cent."""
    expected, found = (_figures(run_on(f, name).book) for f in (AS_IT_IS, form))

    assert found == expected
    assert sum(map(len, found.values())) > 600


@cache
def _figures(content: bytes) -> dict[str, dict[Place, tuple[object, object]]]:
    """Return formula and value of each cell the tools compute."""
    parts = Parts.of(content)
    texts = texts_of(parts)
    found: dict[str, dict[Place, tuple[object, object]]] = {}
    for name in parts.sheets().keys() - _OWN:
        cells = cells_of(parts.sheet(name)).items()
        said = {place: meaning(cell, texts) for place, cell in cells}
        last = _LAST_OURS.get(name, 18)
        found[name] = {
            place: (formula, value or "")
            for place, (value, formula) in said.items()
            if formula is not None and place[1] <= last
        }
    return found


_LAST_OURS = {"Jobs": 18, "Start": 16, "Customers": 16, "Invoices": 16}
"""The last column of the tools, where it is not the eighteenth."""
_OWN = {FIGURES, PICTURE, RACK}


OPENED = (
    (AS_IT_IS, "invoice after a payment", BOOK),
    (AS_IT_IS, "archive", BOOK),
    (AS_IT_IS, "archive", ARCHIVE),
    (AS_IT_IS, "next-year", NEW),
    (WITH_MACROS, "recompute", MACRO_BOOK),
    (OPENPYXL, "invoice after a payment", BOOK),
    (LIBREOFFICE, "invoice after a payment", BOOK),
    (LIBREOFFICE, "next-year", NEW),
)
"""Files that other programs are given: how the book came, the verb, which file it wrote."""
OPENED_BY_OTHERS = [
    pytest.param(*each, marks=pytest.mark.libreoffice if each[0] == LIBREOFFICE else ())
    for each in OPENED
]


@cache
def _said_of(content: bytes, suffix: str) -> frozenset[str]:
    """Return what a checker of the format has to say of a file, wherever in it."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / f"book{suffix}"
        path.write_bytes(content)
        return frozenset(said.partition(": ")[2] for said in _audit(path))


@pytest.mark.parametrize(("form", "name", "file"), OPENED_BY_OTHERS)
def test_other_programs_open_it(
    run_on: RunOn,
    saved: Callable[[str], bytes],
    form: str,
    name: str,
    file: str,
) -> None:
    """Two readers open every file, and a checker of the format finds nothing new in it."""
    run = run_on(form, name)
    content = run.files[file]
    names = list(Parts.of(content).sheets())

    assert _loaded(content).sheetnames == names
    assert python_calamine.CalamineWorkbook.from_filelike(BytesIO(content)).sheet_names == names
    assert _said_of(content, Path(file).suffix) <= _said_of(saved(form), Path(run.name).suffix)


@pytest.mark.libreoffice
@pytest.mark.parametrize(("form", "name", "file"), OPENED)
def test_libreoffice_computes_the_figures_that_stand_there(
    run_on: RunOn, form: str, name: str, file: str, tmp_path: Path
) -> None:
    """Every formula of the tools has a value, and comes to the same."""
    path = tmp_path / file
    path.write_bytes(run_on(form, name).files[file])
    formulas, stored = _loaded(path.read_bytes()), libreoffice.cell_values(path)
    computed = libreoffice.recalculated(path, tmp_path)
    compared = [
        (sheet.title, cell.coordinate)
        for sheet in formulas.worksheets
        if sheet.title not in _OWN
        for row in sheet.iter_rows(max_col=_LAST_OURS.get(sheet.title, 18))
        for cell in row
        if cell.data_type == "f"
    ]

    assert len(compared) > (60 if file == ARCHIVE else 300)
    assert [
        (sheet, cell, stored[sheet].get(cell), computed[sheet].get(cell))
        for sheet, cell in compared
        if plain(stored[sheet].get(cell)) != plain(computed[sheet].get(cell))
    ] == []
