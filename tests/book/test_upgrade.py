"""Books that older versions made get what came later, and keep everything of their owner's."""

import shutil
from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils.cell import coordinate_to_tuple, range_boundaries

from ledger_tools.book.job_layout import job_table
from ledger_tools.book.later import find_late
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    BOOK_FORMAT,
    FORMAT_PROPERTY,
    JOBS_TABLE,
    RATES_TABLE,
    Column,
    Look,
)
from ledger_tools.book.names import SETTINGS
from ledger_tools.book.parse_settings import late_settings, place_of
from ledger_tools.book.places import Grid, Late, owned_cells
from ledger_tools.errors import Severity
from ledger_tools.shop.model import ShopSettings
from ledger_tools.shop.plan import AddSheet, Extend
from ledger_tools.shop.snapshot import Place, SheetSnapshot, TableArea
from tests import libreoffice
from tests.book.shop import Shop, by_code, changed, only
from tests.book.test_formulas import differences, formula_cells
from tests.faults.scenario import verb
from tests.torture.owner import FIGURES, IN_WORK, PICTURE
from tests.torture.package import Parts
from tests.torture.planned import cells_of
from tests.torture.things import THINGS, evidence

pytestmark = pytest.mark.filterwarnings("ignore:.*extension is not supported:UserWarning")
"""openpyxl says what it would lose if it saved the book; here it reads."""
OLDER = Path(__file__).with_name("older")
DAY = date(2025, 3, 14)
ON_DAY = ("--today", DAY.isoformat())
PLAIN, FULL = "plain", "full"
"""A book with an invoice and a payment, and one full of its owner's things."""
NAMES = (PLAIN, FULL)


def older(folder: Path, name: str) -> Shop:
    """Return a shop whose book is an older one."""
    path = folder / "shop.xlsx"
    shutil.copyfile(OLDER / f"{name}.xlsx", path)
    return Shop(path, DAY)


@pytest.fixture(scope="module", params=NAMES)
def upgraded(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """Return a shop whose older book was worked out once; nobody may change it."""
    shop = older(tmp_path_factory.mktemp("upgraded"), request.param)
    shop.recompute()
    return shop


@pytest.mark.parametrize("name", NAMES)
def test_recompute_says_what_an_older_book_gets(tmp_path: Path, name: str) -> None:
    """No error stands in its way, and none of its formulas is taken for an owner's."""
    shop = older(tmp_path, name)

    outcome = shop.recompute()
    said = only(outcome, "book-upgraded")

    assert said.severity is Severity.NOTE
    for word in ("format 1", "'Object class'", "'Limit'", "'Estimates leave out'"):
        assert word in said.what
    assert not [f for f in outcome.findings if f.severity is Severity.ERROR]
    typed_over = [f.cell for f in by_code(outcome, "formula-restored")]
    assert typed_over == ([] if name == PLAIN else ["M12"])


def test_a_second_recompute_changes_nothing(upgraded: Shop) -> None:
    """The book says of itself that it is of the new format, and is done."""
    again = upgraded.check()

    assert upgraded.snapshot().properties[FORMAT_PROPERTY] == str(BOOK_FORMAT)
    assert again.plan.operations == ()
    assert by_code(again, "book-upgraded") == []
    assert late_settings(upgraded.snapshot()) == []


def test_columns_stand_in_their_tables_as_in_a_new_book(upgraded: Shop, tmp_path: Path) -> None:
    """Headers, formats, choices, hints; hidden where a new book without tolerances hides them."""
    new = Shop.new(tmp_path)
    new.add(authorised="100", state="in work")
    ours, model = (openpyxl.load_workbook(shop.path) for shop in (upgraded, new))

    for layout in (JOBS_TABLE, AUTHORISATIONS_TABLE):
        there, usual = upgraded.grid(layout), new.grid(layout)
        sheet, other = ours[there.sheet], model[usual.sheet]
        area = range_boundaries(sheet.tables[layout.table].ref)
        for column in layout.columns:
            col, at = there.columns[column.key], usual.columns[column.key]
            assert area[0] <= col <= area[2], column.header
            if column.since == 1:
                continue
            for row in (there.header_row, there.header_row + 1, there.table_end):
                cell, expected = sheet.cell(row, col), other.cell(usual.header_row + 1, at)
                if row == there.header_row:
                    expected = other.cell(usual.header_row, at)
                    assert cell.value == column.header
                for part in ("font", "fill", "border", "number_format", "protection"):
                    assert repr(getattr(cell, part)) == repr(getattr(expected, part)), (cell, part)
            letter, model_letter = there.letter(column.key), usual.letter(column.key)
            assert (
                sheet.column_dimensions[letter].hidden
                == other.column_dimensions[model_letter].hidden
            )
            assert _rules(sheet, letter, there.header_row + 1) == _rules(
                other, model_letter, usual.header_row + 1
            )


def _rules(sheet: openpyxl.worksheet.worksheet.Worksheet, letter: str, row: int) -> list[object]:
    """Return choices and hints of a cell, with how far down they reach."""
    return [
        (rule.type, rule.formula1, rule.promptTitle, rule.prompt, rule.errorTitle)
        for rule in sheet.data_validations.dataValidation
        if f"{letter}{row}" in rule.sqref
    ]


def test_settings_stand_below_the_others_as_usual(upgraded: Shop) -> None:
    """Each with its label, its name and what it is where nobody has decided."""
    snapshot = upgraded.snapshot()
    later = [s for s in SETTINGS if s.since > 1]
    earlier = [p[1] for s in SETTINGS if s.since == 1 and (p := place_of(s.name, snapshot))]
    sheet = upgraded.sheet("Start")

    for setting in later:
        found = place_of(setting.name, snapshot)
        assert found is not None, setting.name
        row, col = found[1]
        assert row > max(earlier)[0]
        assert sheet.values[row, col - 1] == setting.label
    settings = upgraded.parsed().book.settings
    usual = ShopSettings()
    assert all(getattr(settings, s.key) == getattr(usual, s.key) for s in later)


def test_words_that_lines_choose_from_have_their_names(upgraded: Shop) -> None:
    """New sheets offer job numbers and what a part may be; the names lead to them."""
    snapshot = upgraded.snapshot()
    sheet, _, cells = snapshot.names["part_status"].partition("!")
    rates = openpyxl.load_workbook(upgraded.path)[sheet.strip("'")]

    assert [row[0].value for row in rates[cells.replace("$", "")]] == [
        "new",
        "used",
        "reconditioned",
    ]
    assert snapshot.names["job_numbers"].startswith("Jobs!$A$5:INDEX(")
    assert rates.title == RATES_TABLE.sheet


@pytest.mark.libreoffice
def test_libreoffice_computes_every_figure_of_an_upgraded_book(
    upgraded: Shop, tmp_path: Path
) -> None:
    """Old formulas and new ones: none differs from what stands in its cell."""
    ours = owned_cells(upgraded.parsed().places)
    at = {
        f"{sheet}!{cell}"
        for sheet, cells in formula_cells(upgraded.path).items()
        for cell in cells
        if ours(sheet, *coordinate_to_tuple(cell))
    }

    assert len(at) > 300
    assert [d for d in differences(upgraded.path, tmp_path) if d.split(":")[0] in at] == []


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", NAMES)
def test_an_older_book_that_libreoffice_saved_is_upgraded_too(tmp_path: Path, name: str) -> None:
    """Its formulas are known again, its tables widened, and it is done after one run."""
    shop = older(tmp_path, name)
    shutil.copyfile(libreoffice.resaved(shop.path, tmp_path), shop.path)

    outcome = shop.recompute()

    assert only(outcome, "book-upgraded")
    assert not [f for f in outcome.findings if f.severity is Severity.ERROR]
    assert [f.cell for f in by_code(outcome, "formula-restored")] in ([], ["M12"])
    assert shop.check().plan.operations == ()


def test_everything_of_the_owners_is_kept(tmp_path: Path) -> None:
    """Charts, pictures, notes, names, links: as the markup has them, on every sheet."""
    shop = older(tmp_path, FULL)
    before = evidence(Parts.read(shop.path), THINGS)

    shop.recompute()
    after = evidence(Parts.read(shop.path), THINGS)

    assert sum(map(len, before.values())) > 100
    other = {key for key, there in before.items() if after[key] != there}
    assert {thing for thing, _ in other} <= GROWN | BY_ADDRESS
    assert len({thing for thing, _ in before}) > 2 * len(GROWN | BY_ADDRESS)


GROWN = {"Charts"}
"""One shows all lines of a job, and there are more of them now."""
BY_ADDRESS = {
    "Own cell formats",
    "Own cells beside a table",
    "Own column in a table of lines",
    "Own column in a table of the tools",
}
"""Looked for where newer books have room for them; here the next test looks at every cell."""


def test_no_cell_of_the_owners_changes(tmp_path: Path) -> None:
    """Neither value nor formula nor format, and no cell of theirs is one of the tools now."""
    shop = older(tmp_path, FULL)
    places = shop.parsed().places
    wanted = {(late.sheet, place) for late in places.late.values() for place in _new(late, shop)}
    ours = owned_cells(places)
    before = {s.name: s for s in shop.snapshot().sheets}
    formats = _formats(shop)
    theirs = [
        (name, place)
        for name, cells in formats.items()
        for place in cells
        if not ours(name, *place) and place in {**before[name].values, **before[name].formulas}
    ]

    shop.recompute()
    after = {s.name: s for s in shop.snapshot().sheets}
    now = _formats(shop)

    assert len(theirs) > 500
    assert not wanted & set(theirs)
    as_of = {place_of(name, shop.snapshot()) for name in COUNTS}
    for name, place in set(theirs) - as_of - GROWING:
        old, new = before[name], after[name]
        assert new.formulas.get(place) == old.formulas.get(place), (name, place)
        assert now[name][place] == formats[name][place], (name, place)
        if place not in old.formulas:
            assert new.values.get(place) == old.values.get(place), (name, place)


GROWING = {(IN_WORK, (13, 20)), (FIGURES, (11, 4))}
"""Sums over all lines of a job, which follow its table."""
COUNTS = ("shop_as_of", "shop_errors", "shop_warnings", "shop_notes", "shop_last_job")


def _new(late: Late, shop: Shop) -> Iterator[Place]:
    """Yield the cells that are new on a sheet."""
    grids = {**shop.parsed().places.grids, **shop.parsed().places.jobs}
    grid = grids[late.table]
    for col in late.columns.values():
        yield from ((row, col) for row in range(grid.header_row, grid.last_row + 1))
    for places in late.cells.values():
        yield from places


def _formats(shop: Shop) -> dict[str, dict[Place, str]]:
    """Return the number of the format of each cell, by sheet."""
    parts = Parts.read(shop.path)
    return {
        name: {place: cell.get("s", "0") for place, cell in cells_of(parts.sheet(name)).items()}
        for name in parts.sheets()
        if name != PICTURE
    }


def test_papers_are_the_same_before_and_after(tmp_path: Path) -> None:
    """An invoice that went out is printed from the book as it was, byte for byte."""
    shop = older(tmp_path, PLAIN)
    papers: list[Mapping[str, bytes]] = []
    for folder in ("before", "after"):
        ran = verb("reprint", str(shop.path), "25-0001", "--out", str(tmp_path / folder))
        assert ran.code == 0, ran.said
        papers.append({p.name: p.read_bytes() for p in (tmp_path / folder).iterdir()})
        shop.recompute()

    assert len(papers[0]) == 2
    assert papers[0] == papers[1]


@pytest.mark.parametrize("name", NAMES)
def test_check_counts_without_what_is_missing_and_writes_nothing(
    tmp_path: Path, name: str
) -> None:
    """The figures are those that recompute comes to."""
    shop = older(tmp_path, name)
    before = shop.path.read_bytes()

    checked = verb("check", str(shop.path), *ON_DAY)
    dry = verb("recompute", str(shop.path), "--dry-run", *ON_DAY)
    outcome = shop.check()

    assert (checked.code, dry.code) == (0, 0)
    assert "made by an older version" in checked.said
    assert "made by an older version" in dry.said
    assert shop.path.read_bytes() == before
    assert shop.recompute().results == outcome.results


VERBS = {
    "add-job": ("--customer", "R. Calder", "--item", "Pan", "--repair", "OIL-PAN"),
    "invoice": ("--out", "papers"),
    "estimate": ("--out", "papers"),
    "archive": ("--anyway",),
}


@pytest.mark.parametrize("name", VERBS)
def test_every_verb_that_writes_brings_the_book_up_to_date(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """And leaves nothing to do for recompute: new cells have their figures in all jobs."""
    monkeypatch.chdir(tmp_path)
    shop = older(tmp_path, FULL)
    shop.fill(JOBS_TABLE, 2, state="in work")

    ran = verb(name, str(shop.path), *VERBS[name], *ON_DAY)

    assert ran.code == 0, ran.said
    assert shop.snapshot().properties[FORMAT_PROPERTY] == str(BOOK_FORMAT)
    later = [op for op in shop.check().plan.operations if not isinstance(op, AddSheet)]
    assert not [op for op in later if isinstance(op, Extend)]
    assert not [c for c in typed_formulas(shop) if c is None]


def typed_formulas(shop: Shop) -> list[str | None]:
    """Return what the computed columns of Authorisations hold in the first row."""
    grid = shop.grid(AUTHORISATIONS_TABLE)
    formulas = shop.sheet(grid.sheet).formulas
    keys = [c.key for c in AUTHORISATIONS_TABLE.columns if not c.typed]
    return [formulas.get((grid.header_row + 1, grid.columns[key])) for key in keys]


@pytest.mark.parametrize("name", ["quarter", "year-end"])
def test_summaries_read_an_older_book_as_it_is(tmp_path: Path, name: str) -> None:
    """They write nothing into it and need nothing new."""
    shop = older(tmp_path, PLAIN)
    before = shop.path.read_bytes()
    period = "2025-Q1" if name == "quarter" else "2025"

    ran = verb(name, str(shop.path), period, "--out", str(tmp_path / "out"), *ON_DAY)

    assert ran.code == 0, ran.said
    assert shop.path.read_bytes() == before


def test_next_year_asks_for_recompute_first(tmp_path: Path) -> None:
    """Sheets of the older book would go into the new one as they are."""
    shop = older(tmp_path, PLAIN)
    words = ("next-year", str(shop.path), str(tmp_path / "new.xlsx"), "--year", "2026", *ON_DAY)

    refused = verb(*words)
    shop.recompute()
    made = verb(*words)

    assert refused.code == 1
    assert "Run recompute first" in refused.said
    assert made.code == 0, made.said


def test_what_stands_in_the_way_is_named_and_nothing_is_written(tmp_path: Path) -> None:
    """A remark right of Jobs stays where it is, and the finding says what to do."""
    shop = older(tmp_path, PLAIN)
    grid = shop.grid(JOBS_TABLE)
    col = 1 + max(t.last_col for t in shop.sheet(grid.sheet).tables)
    snapshot = changed(shop.snapshot(), grid.sheet, {(grid.header_row + 2, col): "call first"})
    shop.write(grid.sheet, {(grid.header_row + 2, col): "call first"})

    outcome = shop.recompute()
    said = only(outcome, "header-missing")

    assert (said.severity, said.sheet, said.cell) == (Severity.ERROR, "Jobs", "Q6")
    assert "'Object class'" in said.what
    assert "Move it some columns to the right" in said.remedy
    assert outcome.plan.operations == ()
    assert shop.snapshot() == snapshot


def test_a_column_the_owner_keeps_beside_the_table_becomes_part_of_it(tmp_path: Path) -> None:
    """It has a header of its own; the new column goes right of it."""
    shop = older(tmp_path, PLAIN)
    grid = shop.grid(JOBS_TABLE)
    end = max(t.last_col for t in shop.sheet(grid.sheet).tables)
    own = {(grid.header_row, end + 1): "Colour", (grid.header_row + 1, end + 1): "red"}
    shop.write(grid.sheet, own)

    shop.recompute()
    there = shop.grid(JOBS_TABLE)
    sheet = shop.sheet(there.sheet)

    assert there.columns["object_class"] > end + 1
    assert {place: sheet.values[place] for place in own} == own
    assert sheet.tables[0].last_col >= there.columns["object_class"]
    table = openpyxl.load_workbook(shop.path)["Jobs"].tables["Jobs"]
    assert "Colour" in table.column_names
    assert shop.check().plan.operations == ()


def test_a_computed_column_may_stand_apart_one_to_type_in_may_not() -> None:
    """What is typed is sorted with its row; what is computed is computed anew."""
    area = TableArea("T", 4, 1, 9, 2)
    values = {(4, 1): "Job", (4, 2): "Note", (6, 3): "photo"}
    sheet = SheetSnapshot("S", values, {}, (area,))
    grid = Grid("S", "T", {"job": 1, "note": 2}, 4, 9, 9)
    computed, typed = Column("a", "A", 9, Look.MONEY, typed=False), Column("b", "B", 9)

    assert find_late([computed], grid, 2, sheet) == ({"a": 4}, 2, None)
    assert find_late([computed, typed], grid, 2, sheet) == ({}, 2, (6, 3))
    free = SheetSnapshot("S", {(4, 1): "Job", (4, 2): "Note"}, {}, (area,))
    assert find_late([computed, typed], grid, 2, free) == ({"a": 3, "b": 4}, 4, None)


def test_an_owners_column_of_the_same_name_is_not_computed_over(tmp_path: Path) -> None:
    """Words typed under the header of a column that is computed now are named, and stay."""
    shop = older(tmp_path, PLAIN)
    grid = shop.grid(AUTHORISATIONS_TABLE)
    end = max(t.last_col for t in shop.sheet(grid.sheet).tables)
    own = {(grid.header_row, end + 1): "Limit", (grid.header_row + 1, end + 1): "soft"}
    shop.write(grid.sheet, own)

    outcome = shop.recompute()

    assert only(outcome, "header-missing").cell == "I5"
    assert outcome.plan.operations == ()


def test_labels_of_a_job_sheet_go_beside_what_stands_in_their_place(tmp_path: Path) -> None:
    """An owner's words above the lines stay; label and figure stand right of them."""
    shop = older(tmp_path, PLAIN)
    label, value = shop.parsed().places.late[job_table("25-0001")].cells["to_bill"]
    shop.write("25-0001", {value: "ask Anna"})

    shop.recompute()
    sheet, figure = shop.sheet("25-0001"), shop.grid("25-0001").cells["to_bill"]
    by = figure[1] - value[1]

    assert sheet.values[value] == "ask Anna"
    assert value not in sheet.formulas
    assert by > 0
    assert sheet.values[label[0], label[1] + by] == "To bill"
    assert figure in sheet.formulas
    assert shop.check().plan.operations == ()


def test_a_job_added_to_an_older_book_leaves_the_other_jobs_whole(tmp_path: Path) -> None:
    """New cells of all sheets have their formulas and figures, not those of the new job alone."""
    shop = older(tmp_path, PLAIN)

    shop.add(item="Pan", repair="OIL-PAN")

    assert shop.check().plan.operations == ()
