"""Each verb, on a book full of its owner's things, changes what it must and nothing else."""

import struct
import zipfile
from io import BytesIO

import pytest

from tests.torture import compare, lists
from tests.torture.build import LATER, shop_book, torture_book, type_words
from tests.torture.owner import FIGURES, IN_WORK, PAID, PICTURE, RACK
from tests.torture.package import WORKBOOK, Parts, main, rels_of
from tests.torture.planned import Planned, cells_of, meaning, texts_of
from tests.torture.runs import BOOK, CASES, NEW, READING, Case, Run, ran, run_of
from tests.torture.things import THINGS, WHOLE, WITH_JOB_SHEETS, evidence

_LISTS = {
    *("[Content_Types].xml", "xl/_rels/workbook.xml.rels", WORKBOOK, "docProps/app.xml"),
}
_OWNERS = {f"sheet {FIGURES}", f"sheet {RACK}"}
"""Formulas on them may rest on what was written, so their values are computed anew."""
_CHART = f"chart of {FIGURES}"
"""It shows all lines of a job, and there are more of them now."""
TOUCHED = {
    "recompute": {
        *(*_LISTS, *_OWNERS, "xl/calcChain.xml", _CHART),
        *("sheet Start", "sheet Jobs", "sheet Customers", "sheet Invoices"),
        *(f"sheet {PAID}", f"sheet {IN_WORK}", f"table Job_{IN_WORK.replace('-', '_')}"),
    },
    "add-job": {
        *_LISTS,
        *("sheet Start", "sheet Jobs", "sheet Customers", "sheet Authorisations"),
    },
    "invoice": {
        *(*_LISTS, *_OWNERS, "xl/calcChain.xml", _CHART),
        *("sheet Start", "sheet Jobs", "sheet Customers", "sheet Invoices", "table Invoices"),
        *("sheet Invoice lines", "table InvoiceLines", "sheet 25-0002"),
        *(f"sheet {PAID}", f"sheet {IN_WORK}", f"table Job_{IN_WORK.replace('-', '_')}"),
    },
    "invoice after a payment": {
        WORKBOOK,  # the print area of Invoices grows
        *("sheet Start", "sheet Jobs", "sheet Customers", "sheet Invoices", "table Invoices"),
        *("sheet Invoice lines", "table InvoiceLines", "sheet 25-0002", "sheet Payments"),
        f"sheet {IN_WORK}",
    },
    "estimate": {
        *(*_LISTS, "xl/styles.xml", "sheet Start", "sheet Options"),
        *(f"sheet 25-000{n}" for n in range(1, 6)),  # their flags look at Estimates from now on
    },
    "extra-work": {
        WORKBOOK,  # the print areas of both registers grow
        *("sheet Start", "sheet Jobs", "sheet 25-0004", "sheet Estimates", "table Estimates"),
        *("sheet Estimate lines", "table EstimateLines"),
    },
    "recompute for a fixed price": {"sheet Start", "sheet Jobs", f"sheet {IN_WORK}"},
    "archive": {
        *(*_LISTS, *_OWNERS, "xl/calcChain.xml", _CHART, f"chart of {PICTURE}"),
        *("sheet Start", "sheet Jobs", "sheet Customers", "sheet Invoices"),
        *(f"sheet {IN_WORK}", f"table Job_{IN_WORK.replace('-', '_')}"),
    },
}
"""Parts that were there and may be written anew, by verb; sheets and tables by their names."""
TOUCHED["recompute for options"] = {*TOUCHED["recompute"], "xl/styles.xml"}

NEW_SHEETS = {
    "recompute": ["25-0005"],
    "add-job": ["25-0006"],
    "invoice": ["25-0005"],
    "invoice after a payment": [],
    "archive": ["25-0005", "Archived lines"],
    "recompute for options": ["Options", "25-0005"],
    "estimate": ["Estimates", "Estimate lines"],
    "extra-work": [],
    "recompute for a fixed price": [],
}
REFERRING = (
    f"sheet '{FIGURES}', cell D3: The formula here",
    f"sheet '{FIGURES}', cell D10: The formula here",
    "The name 'own_paid'",
    f"sheet '{PICTURE}': A chart",
    f"sheet '{RACK}', cell G5: A choice",
)
"""Where the owner speaks of the sheet of the paid job."""


def _packed(content: bytes) -> dict[str, bytes]:
    """Return the compressed bytes of each part, in the order of the file."""
    found = {}
    with zipfile.ZipFile(BytesIO(content)) as opened:
        for info in sorted(opened.infolist(), key=lambda i: i.header_offset):
            lengths = struct.unpack_from("<2H", content, info.header_offset + 26)
            start = info.header_offset + 30 + sum(lengths)
            found[info.filename] = content[start : start + info.compress_size]
    return found


def _labels(parts: Parts) -> dict[str, str]:
    """Return sheets, their tables and charts by their parts, in words."""
    found = {}
    for name, sheet in parts.sheets().items():
        found[sheet] = f"sheet {name}"
        for part in parts.related(sheet, "table"):
            found[part] = f"table {parts.root(part).get('displayName')}"
        for drawing in parts.related(sheet, "drawing"):
            found |= dict.fromkeys(parts.related(drawing, "chart"), f"chart of {name}")
    return found


def _books(run: Run) -> tuple[Parts, Parts, Planned]:
    return Parts.of(run.before), Parts.of(run.book), run.planned


def _reached(parts: Parts, start: str) -> set[str]:
    """Return the parts one comes to from `start`, with their relationships."""
    found: set[str] = set()
    waiting = [start]
    while waiting:
        part = waiting.pop()
        if part in parts and part not in found:
            found |= {part, *({rels_of(part)} & parts.keys())}
            waiting += [link.target for link in parts.links(part)]
    return found


@pytest.mark.parametrize("name", READING)
def test_a_verb_that_has_nothing_to_write_leaves_every_byte(name: str) -> None:
    """Not one byte of the book differs, and there is no backup."""
    run = run_of(name)

    assert run.code == int(name == "archive, refused"), run.said
    assert run.book == run.before
    assert not [file for file in run.files if "backups" in file]


@pytest.mark.parametrize("name", CASES)
def test_other_parts_keep_their_compressed_bytes_and_order(name: str) -> None:
    """Just the parts stated differ; none is moved in the file; those that go are the sheet's."""
    run = run_of(name)
    before, after = _packed(run.before), _packed(run.book)
    old, new, planned = _books(run)
    labels = _labels(old)
    gone = _gone(old, planned)

    assert run.code == 0, run.said
    assert [n for n in after if n in before] == [n for n in before if n in after]
    changed = {n for n in before if before[n] != after.get(n)} - gone
    assert {labels.get(n, n) for n in changed} == TOUCHED[name]
    assert not gone & after.keys()
    assert set(after) - set(before) == _fresh(new, NEW_SHEETS[name])
    assert [op.name for op in planned.added] == NEW_SHEETS[name]


def _gone(old: Parts, planned: Planned) -> set[str]:
    """Return the parts that belong to sheets that go, and to nothing else."""
    sheets = old.sheets()
    off = {part for name in planned.removed for part in _reached(old, sheets[name])}
    kept = {part for part in sheets if part not in planned.removed}
    return off - {p for name in kept for p in _reached(old, sheets[name])}


def _fresh(new: Parts, names: list[str]) -> set[str]:
    return {part for name in names for part in _reached(new, new.sheets()[name])}


@pytest.mark.parametrize("name", CASES)
def test_sheets_differ_in_the_cells_planned_alone(name: str) -> None:
    """Each planned cell holds what was planned; all other markup says what it said."""
    before, after, planned = _books(run_of(name))
    sheets = [s for s, part in before.sheets().items() if "chartsheet" not in part]

    found = [
        said
        for sheet in sheets
        if sheet not in planned.removed
        for said in compare.sheet_differences(before, after, sheet, planned)
    ]

    assert found == []
    assert sum(map(len, planned.cells.values())) > 10


@pytest.mark.parametrize("name", CASES)
def test_tables_names_formats_and_lists_keep_the_rest(name: str) -> None:
    """Tables and names grow as planned, formats and entries are added to, the rest stays."""
    before, after, planned = _books(run_of(name))

    assert lists.table_differences(before, after, planned) == []
    assert lists.chart_differences(before, after, planned) == []
    assert lists.workbook_differences(before, after, planned) == []
    assert lists.style_differences(before, after) == []
    assert lists.listing_differences(before, after) == []
    assert lists.title_differences(before, after, planned) == []


def _owners_cells() -> dict[str, set[tuple[int, int]]]:
    """Return the cells that hold what the owner put there, and not what they typed for us."""
    with_words = Parts.of(shop_book())
    type_words(with_words)
    full = Parts.of(torture_book())
    found = {}
    for name in full.sheets():
        there = _held(with_words, name) if name in with_words.sheets() else {}
        now = _held(full, name)
        found[name] = {place for place, said in now.items() if said != there.get(place)}
    return found


def _held(parts: Parts, name: str) -> dict[tuple[int, int], object]:
    texts = texts_of(parts)
    cells = cells_of(parts.sheet(name)).items()
    return {place: said for place, c in cells if (said := meaning(c, texts)) != (None, None)}


@pytest.mark.parametrize("name", CASES)
def test_no_cell_of_the_owner_is_written(name: str) -> None:
    """Only their formulas over an archived sheet become values, and were named before."""
    planned = run_of(name).planned
    owners = _owners_cells()
    written = {
        (sheet, place)
        for sheet, cells in planned.cells.items()
        for place in cells
        if place in owners.get(sheet, set())
    }

    settled = {(FIGURES, (3, 4)), (FIGURES, (10, 4))} if name == "archive" else set()
    assert sum(map(len, owners.values())) > 80
    assert written == settled


@pytest.mark.parametrize("name", CASES)
def test_only_formulas_of_the_owner_lose_their_values(name: str) -> None:
    """What the tools compute keeps a value; an owner's formula keeps its text."""
    run = run_of(name)
    before, _, planned = _books(run)
    owners = _owners_cells()
    lost = {(sheet, place) for sheet, places in planned.stale.items() for place in places}

    assert {(s, p) for s, p in lost if p not in owners.get(s, set())} == set()
    assert all(cells_of(before.sheet(s))[p].find(main("f")) is not None for s, p in lost)


@pytest.mark.parametrize("name", CASES)
def test_every_thing_of_the_owner_is_there(name: str) -> None:
    """On whatever sheet it stood, it stands there as it was."""
    before, after, planned = _books(run_of(name))
    old, new = evidence(before, THINGS), evidence(after, THINGS)

    assert all(old.values())
    assert {key for key in old if old[key] != new.get(key) and key[1] not in planned.removed} == (
        set()
    )


def test_archive_names_first_what_refers_to_a_sheet_that_goes() -> None:
    """Cells, a name, a chart and a choice are told with their places before anything moves."""
    run = run_of("archive, refused")
    told = [line for line in run.said.splitlines() if "which goes to the archive book" in line]

    assert len(told) == len(REFERRING)
    for said in REFERRING:
        assert [line for line in told if said in line], (said, run.said)
    assert list(run.files) == [BOOK]


@pytest.mark.parametrize(
    ("name", "file", "sheet"),
    [("archive", "shop-archive.xlsx", PAID), ("next-year", NEW, IN_WORK)],
)
def test_a_sheet_that_moves_takes_everything_along(name: str, file: str, sheet: str) -> None:
    """Pictures, charts, comments, threads and who wrote them stand in the other book."""
    run = run_of(name)
    old, new = (evidence(Parts.of(b), THINGS) for b in (run.before, run.files[file]))

    on_sheet = {key for key in old if key[1] == sheet}
    assert len(on_sheet) > 15
    assert {key for key in on_sheet if old[key] != new[key]} == set()
    names = [lists.names_of(Parts.of(b)) for b in (run.before, run.files[file])]
    own = [{n: text for (n, s), text in there.items() if s == sheet} for there in names]
    assert own[0]
    assert own[0] == own[1]
    for thing in WITH_JOB_SHEETS:
        assert new[thing, WHOLE] == old[thing, WHOLE]
    stay = {t.name for t in THINGS if t.on == (WHOLE,)} - {*WITH_JOB_SHEETS}
    assert {thing for thing in stay if new[thing, WHOLE]} == set()


def test_a_formula_nobody_has_computed_is_not_emptied_by_archive() -> None:
    """Right after recompute it has no value to keep: it stays as text, which is told before."""
    book = run_of("recompute").book
    told, moved = (ran(Case("archive", (*how, *LATER)), book) for how in ((), ("--anyway",)))
    after = Parts.of(moved.book)
    cell = cells_of(after.sheet(FIGURES))[3, 4]

    assert meaning(cell, texts_of(after)) == (f"=SUM('{PAID}'!M12:M40)", None)
    assert "cell D3" in moved.said
    assert moved.said.count("kept as text") == 2
    assert told.said.count("open and save the book in your spreadsheet program first") == 2
