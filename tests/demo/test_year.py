"""The demonstration: the scenario holds what it promises, and the year it makes is right."""

import os
import re
import subprocess
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from functools import cache
from pathlib import Path

import openpyxl
import pdfplumber
import pytest
from openpyxl.utils.datetime import to_excel
from python_calamine import CalamineWorkbook

from demo import bench, months, scenario, shop, year
from ledger_tools.book.reader import read_snapshot
from ledger_tools.costing.catalogue import Catalogue
from ledger_tools.settings import load_seed
from ledger_tools.settings.lines_file import read_lines
from ledger_tools.shop.intake import lines_of
from ledger_tools.shop.snapshot import address
from tests import libreoffice

CHECKOUT = Path(__file__).resolve().parent.parent.parent
QUARTER = "quarter-2025-Q3.xlsx"
THIRD_QUARTER = (date(2025, 7, 1), date(2025, 9, 30))
ZERO = Decimal(0)

Rows = list[dict[str, object]]


@cache
def _catalogue() -> Catalogue:
    return load_seed("us-ca", as_of=date(2025, 1, 2), beside=None).catalogue


def _sheet_lines(story: scenario.Story) -> list[bench.SheetLine]:
    """Return the lines of a story as they stand on its job sheet before the work."""
    if story.file:
        lines = read_lines(months.LINES / story.file)
    else:
        repair = next(r for r in _catalogue().repairs if r.code == story.repair)
        lines = lines_of(repair, "bench")
    return [
        bench.SheetLine(row, line.kind.value, line.description, float(line.estimate or 0),
                        float(line.cost or 0), 100.0)
        for row, line in enumerate(lines, 12)
    ]  # fmt: skip


def _worked() -> list[scenario.Story]:
    return [story for story in scenario.year() if story.finished]


def _typed(story: scenario.Story) -> bench.Cells:
    return bench.work_on(story, _sheet_lines(story), range(100, 110))


_FINGERPRINT = """
import hashlib
from demo import bench, scenario
lines = [bench.SheetLine(n, "labour", f"Step {n}", 30 + n, 0, 100) for n in range(5)]
lines.append(bench.SheetLine(9, "sublet", "Paint", 1, 140, 168))
told = [(story, sorted(bench.work_on(story, lines, range(20, 30)).items()))
        for story in scenario.year()]
print(hashlib.sha256(repr(told).encode()).hexdigest())
"""


def test_the_year_does_not_hang_on_the_order_of_sets() -> None:
    """Two processes that hash words differently tell the same stories and type the same."""
    told = {
        subprocess.run(
            [sys.executable, "-c", _FINGERPRINT],
            cwd=CHECKOUT,
            env={**os.environ, "PYTHONHASHSEED": seed},
            check=True,
            capture_output=True,
            text=True,
        ).stdout
        for seed in ("1", "2")
    }

    assert len(told) == 1
    assert re.fullmatch(r"[0-9a-f]{64}\n", told.pop())


def test_about_eighty_jobs_of_a_dozen_repair_types() -> None:
    """The year holds 75 to 90 numbered jobs, of at least twelve types of the catalogue."""
    numbered = [story for story in scenario.year() if story.numbered]
    types = {story.repair for story in numbered if story.repair}

    assert 75 <= len(numbered) <= 90
    assert len(types) >= 12
    assert types <= {repair.code for repair in _catalogue().repairs}
    assert len({story.item for story in scenario.year()}) == len(scenario.year())


def test_jobs_end_in_every_typed_state() -> None:
    """Most are billed; some are halted, declined, void, asked about or not begun."""
    states = Counter(story.state for story in scenario.year())

    assert states["to invoice"] >= 65
    assert states["enquiry"] == 3
    assert {"estimated", "authorised", "in work", "halted", "declined", "void"} <= set(states)


def test_jobs_come_into_the_book_in_three_ways() -> None:
    """Rows in Jobs, add-job from the catalogue, add-job from a file of lines."""
    ways = Counter(story.way for story in scenario.year())

    assert ways[scenario.Way.TYPED] >= 30
    assert ways[scenario.Way.COMMAND] >= 15
    assert ways[scenario.Way.FILE] == 3


def test_every_day_is_a_working_day_of_the_year() -> None:
    """Jobs come from Monday to Friday, and are finished after they come."""
    for story in scenario.year():
        assert story.opened.year == 2025
        assert story.opened.weekday() < 5
        assert story.finished is None or story.opened <= story.finished


def test_every_customer_is_known_or_the_stranger() -> None:
    """Some 25 customers, each with an address; nobody else is named."""
    known = {customer.name for customer in shop.CUSTOMERS}

    assert 24 <= len(known) <= 30
    assert all(customer.address and customer.contact for customer in shop.CUSTOMERS)
    assert {story.customer for story in scenario.year()} == known | {shop.STRANGER.name}


def test_money_comes_in_at_once_late_in_parts_or_never() -> None:
    """There are payments at the counter, after the due day, in parts, and none at all."""
    billed = [story for story in scenario.year() if story.state == "to invoice"]
    late = shop.SHOP["terms_days"]

    assert any(p.after == 0 for s in billed for p in s.paid)
    assert any(p.after > late for s in billed for p in s.paid)  # type: ignore[operator]
    assert sum(len(s.paid) > 1 for s in billed) >= 5
    assert sum(not s.paid for s in billed) >= 3


def test_minutes_are_not_billed_for_six_reasons() -> None:
    """Rework, demonstration, teaching, waiting, warranty and set-up all occur."""
    reasons = {v for s in _worked() for (_, key), v in _typed(s).items() if key == "reason"}

    assert reasons == {"rework", "demonstration", "teaching", "waiting", "warranty", "set-up"}


def test_minutes_not_billed_are_never_more_than_those_worked() -> None:
    """What is typed as not billable is a part of what is typed as actual."""
    for story in _worked():
        cells = _typed(story)
        for (row, key), value in cells.items():
            if key == "non_billable":
                assert bench.minutes_meant(value) <= bench.minutes_meant(cells[row, "actual"])


def test_a_part_of_the_jobs_overruns() -> None:
    """Between a sixth and a half of the jobs take over a tenth longer than estimated."""
    over = sum(bench.overran(_sheet_lines(s), _typed(s)) for s in _worked())

    assert len(_worked()) / 6 < over < len(_worked()) / 2


def test_sublet_bills_differ_from_what_was_quoted() -> None:
    """Four to six vendors do sublet work; most bills are dearer or cheaper than quoted."""
    bills = [
        (line, _typed(story)[line.row, "cost"])
        for story in _worked()
        for line in _sheet_lines(story)
        if line.kind == "sublet" and not story.warranty
    ]

    assert len(bills) >= 40
    assert sum(float(bill) > line.cost for line, bill in bills) >= 20
    assert sum(float(bill) < line.cost for line, bill in bills) >= 3
    catalogued = {o.vendor for r in _catalogue().repairs for o in r.operations if o.vendor}
    assert catalogued == set(shop.VENDORS)
    assert 4 <= len(set(shop.VENDORS.values()) - {shop.VENDORS["Core maker"]}) <= 6


def test_discounts_fees_agreed_prices_and_damage_found_late_occur() -> None:
    """Each of them happens at least three times."""
    stories = _worked()

    assert sum(story.discount > 0 for story in stories) >= 3
    assert sum(story.delivery > 0 for story in stories) >= 3
    assert sum(story.agreed for story in stories) >= 3
    assert sum(story.worse > 0 for story in stories) >= 3


def test_minutes_are_written_as_people_write_them() -> None:
    """Plain minutes, words, clock times and the number a spreadsheet makes of them occur."""
    typed = [v for s in _worked() for (_, key), v in _typed(s).items() if key == "actual"]
    words = [value for value in typed if isinstance(value, str)]

    assert any("h" in word for word in words)
    assert any(":" in word for word in words)
    assert any(word.endswith(" min") for word in words)
    assert any(isinstance(value, float) and 0 < value < 1 for value in typed)


@pytest.mark.parametrize(
    ("typed", "minutes"), [("1h05", 65), ("1:05", 65), ("9 min", 9), (65 / 1440, 65), (65, 65)]
)
def test_minutes_meant_reads_every_way_of_writing(typed: bench.Typed, minutes: int) -> None:
    """The stories' own reading of minutes agrees with what was meant."""
    assert bench.minutes_meant(typed) == minutes


def test_half_the_work_has_no_extras() -> None:
    """Of unfinished work only minutes are typed, in fewer rows than of finished work."""
    story = next(s for s in _worked() if s.discount or s.delivery)
    whole, half = _typed(story), bench.halfway(_typed(story))

    assert {key for _, key in half} <= {"actual", "non_billable", "reason"}
    assert 0 < len({row for row, _ in half}) < len({row for row, _ in whole})


@dataclass(frozen=True)
class Made:
    """What one run of the demonstration left.

    Attributes:
        out: The folder.
        shop: The shop at the end of the year.
    """

    out: Path
    shop: months.Year

    @property
    def book(self) -> Path:
        """The shop book."""
        return self.out / year.BOOK

    @property
    def quarter(self) -> Path:
        """The summary of the third quarter."""
        return self.out / year.SUMMARIES / QUARTER


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Made:
    """Run the demonstration once."""
    out = tmp_path_factory.mktemp("demo")
    return Made(out, year.live(out))


def _rows(path: Path, sheet: str) -> Rows:
    """Return the filled rows of a register as openpyxl reads them, by header."""
    cells = openpyxl.load_workbook(path, data_only=True)[sheet]
    rows = list(cells.iter_rows(min_row=4, values_only=True))
    heads = [str(head) for head in rows[0]]
    return [dict(zip(heads, row, strict=True)) for row in rows[1:] if row[0] is not None]


def _money(value: object) -> Decimal:
    return Decimal(repr(value)) if isinstance(value, int | float) else ZERO


def _day(value: object) -> date:
    assert isinstance(value, datetime)
    return value.date()


def _in_quarter(value: object) -> bool:
    return THIRD_QUARTER[0] <= _day(value) <= THIRD_QUARTER[1]


def _same(ours: object, theirs: object) -> bool:
    if isinstance(ours, int | float) and isinstance(theirs, int | float):
        return abs(ours - theirs) < 1e-6
    return ours == theirs


def _plain(value: object) -> object:
    """Return a value without the reader's own type for days; nothing for an empty text."""
    if isinstance(value, datetime | date):
        return float(to_excel(value))
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value or None
    return float(value)


def _values(path: Path) -> dict[tuple[str, str], object]:
    """Return the stored values of a workbook by sheet and cell; empty ones are left out."""
    found = libreoffice.cell_values(path)
    plain = {(s, cell): _plain(v) for s, cells in found.items() for cell, v in cells.items()}
    return {place: value for place, value in plain.items() if value is not None}


def _formulas(path: Path) -> Iterator[tuple[str, str]]:
    for sheet in read_snapshot(path).sheets:
        yield from ((sheet.name, address(*place)) for place in sheet.formulas)


def _assert_recalculated(path: Path, tmp: Path, *, at_least: int) -> None:
    """Assert that LibreOffice computes what every formula's stored value says."""
    ours, computed = _values(path), libreoffice.recalculated(path, tmp)
    formulas = list(_formulas(path))
    figures = [place for place in formulas if isinstance(ours.get(place), float)]
    wrong = [
        (sheet, cell, ours.get((sheet, cell)), computed[sheet].get(cell))
        for sheet, cell in formulas
        if not _same(ours.get((sheet, cell)), _plain(computed[sheet].get(cell)))
    ]

    assert len(figures) >= at_least
    assert not wrong, wrong[:20]


@pytest.mark.libreoffice
def test_libreoffice_computes_every_figure_of_the_book(made: Made, tmp_path: Path) -> None:
    """All formulas of the whole book, recalculated, show what the tools wrote."""
    _assert_recalculated(made.book, tmp_path, at_least=7_000)


@pytest.mark.libreoffice
@pytest.mark.parametrize("name", [QUARTER, "year-end-2025.xlsx"])
def test_libreoffice_computes_every_figure_of_a_summary(
    made: Made, tmp_path: Path, name: str
) -> None:
    """All formulas of a summary workbook, recalculated, show what the tools wrote."""
    _assert_recalculated(made.out / year.SUMMARIES / name, tmp_path, at_least=100)


def test_invoice_numbers_have_no_gap(made: Made) -> None:
    """Numbers run from 1 without a gap, one a billed job, each with two papers."""
    rows = _rows(made.book, "Invoices")
    numbers = [row["Invoice"] for row in rows]
    billed = [s for s in scenario.year() if s.state == "to invoice"]

    assert numbers == [f"25-{n:04}" for n in range(1, len(billed) + 1)]
    assert len({row["Job"] for row in rows}) == len(rows)
    assert sorted(path.name for path in (made.out / year.INVOICES).iterdir()) == sorted(
        f"invoice-{number}{suffix}" for number in numbers for suffix in (".pdf", ".xlsx")
    )


def test_the_ceiling_stopped_one_invoice_until_more_was_authorised(made: Made) -> None:
    """The job nobody rang about was refused, then authorised again and billed the same day."""
    job = made.shop.job_of("Screen deck frame")
    refused = [(finding["sheet"], finding["code"]) for finding in made.shop.refused]
    given = [row for row in _rows(made.book, "Authorisations") if row["Job"] == job]
    invoice = next(row for row in _rows(made.book, "Invoices") if row["Job"] == job)

    assert refused == [(job, "above-ceiling")]
    assert len(given) == 2
    assert _money(given[0]["Amount"]) < _money(invoice["Total"]) <= _money(given[1]["Amount"])


def test_no_error_is_left_at_the_end(made: Made) -> None:
    """The counts on Start, written by the last recompute, say that nothing is to be mended."""
    start = next(s for s in read_snapshot(made.book).sheets if s.name == "Start")
    labels = {value: place for place, value in start.values.items()}
    row, col = labels["Errors"]

    assert start.values[row, col + 1] == 0


@pytest.mark.parametrize("name", [year.BOOK, f"{year.SUMMARIES}/{QUARTER}"])
def test_three_readers_read_the_same(made: Made, name: str) -> None:
    """Our reader, openpyxl and calamine agree on every cell."""
    path = made.out / name
    own = {
        (sheet.name, address(*place)): _plain(value)
        for sheet in read_snapshot(path).sheets
        for place, value in sheet.values.items()
    }
    own = {place: value for place, value in own.items() if value is not None}
    other = _values(path)
    third = dict(_calamine(path))

    assert len(own) > 500
    assert own.keys() == other.keys()
    assert not [place for place in own if not _same(own[place], other[place])]
    assert third.keys() == own.keys()
    assert not [place for place in own if not _same(own[place], third[place])]


def _calamine(path: Path) -> Iterator[tuple[tuple[str, str], object]]:
    book = CalamineWorkbook.from_path(path)
    for name in book.sheet_names:
        sheet = book.get_sheet_by_name(name)
        for row, cells in enumerate(sheet.to_python(skip_empty_area=False), 1):
            for col, value in enumerate(cells, 1):
                plain = _plain(value)
                if plain is not None:
                    yield (name, address(row, col)), plain


def test_totals_are_read_back_from_paper(made: Made) -> None:
    """Net, tax and total of the first, the dearest and the last invoice stand in their PDF."""
    rows = _rows(made.book, "Invoices")
    dearest = max(rows, key=lambda row: _money(row["Total"]))
    for row in (rows[0], dearest, rows[-1]):
        path = made.out / year.INVOICES / f"invoice-{row['Invoice']}.pdf"
        with pdfplumber.open(path) as paper:
            words = " ".join(page.extract_text() for page in paper.pages)

        assert f"Invoice {row['Invoice']}" in words
        assert f"Net amount {_money(row['Net']):,.2f}" in words
        assert f"Total to pay ${_money(row['Total']):,.2f}" in words


def _summary(path: Path) -> Mapping[tuple[int, int], object]:
    cells = openpyxl.load_workbook(path, data_only=True)["Quarter"]
    return {
        (cell.row, cell.column): cell.value for row in cells.iter_rows() for cell in row
        if cell.value is not None
    }  # fmt: skip


def _under(cells: Mapping[tuple[int, int], object], title: str) -> dict[str, list[Decimal]]:
    """Return the figures of a block of the summary by their label, from its title to its end."""
    top, col = max(place for place, value in cells.items() if value == title)
    width = 5
    found: dict[str, list[Decimal]] = {}
    for row in range(top + 2, top + 40):
        label = cells.get((row, col))
        if label is None:
            return found
        figures = [cells.get((row, col + n)) for n in range(1, width)]
        found[str(label)] = [_money(value) for value in figures if value is not None]
    return found


def _billed_lines(made: Made) -> Rows:
    """Return the lines of the quarter's invoices, tax rows included."""
    quarter = {r["Invoice"] for r in _rows(made.book, "Invoices") if _in_quarter(r["Date"])}
    return [row for row in _rows(made.book, "Invoice lines") if row["Invoice"] in quarter]


def test_income_and_tax_of_the_quarter_are_sums_of_the_register(made: Made) -> None:
    """Loops over the book's registers give the quarter's income by kind and its tax."""
    kinds: defaultdict[str, Decimal] = defaultdict(Decimal)
    taxes: defaultdict[str, Decimal] = defaultdict(Decimal)
    for row in _billed_lines(made):
        by = taxes if row["Kind"] == "tax" else kinds
        by[str(row["Description" if row["Kind"] == "tax" else "Kind"])] += _money(row["Amount"])
    cells = _summary(made.quarter)
    income = _under(cells, "Net income by kind and month")
    words = {"Labour": "labour", "Materials": "material", "Parts": "part",
             "Sublet work": "sublet", "Fees": "fee", "Discounts": "discount"}  # fmt: skip
    collected = _under(cells, "Tax collected")

    assert {label: income[label][-1] for label in words} == {
        label: kinds[kind] for label, kind in words.items()
    }
    assert income["Net"][-1] == sum(kinds.values())
    assert {name: figures[-1] for name, figures in collected.items() if name != "Total"} == taxes
    assert collected["Total"][-1] == sum(taxes.values()) > 0


def test_sublets_and_idle_minutes_of_the_quarter_are_sums_of_the_register(made: Made) -> None:
    """Loops give billed and cost by vendor, and minutes and value not billed by reason."""
    vendors: defaultdict[str, list[Decimal]] = defaultdict(lambda: [ZERO] * 4)
    reasons: defaultdict[str, list[Decimal]] = defaultdict(lambda: [ZERO] * 2)
    for row in _billed_lines(made):
        if row["Kind"] == "sublet":
            billed, cost = _money(row["Amount"]), _money(row["Cost"])
            added = (Decimal(1), billed, cost, billed - cost)
            sums = vendors[str(row["Vendor"])]
            vendors[str(row["Vendor"])] = [s + a for s, a in zip(sums, added, strict=True)]
        if row["Not billable"]:
            minutes = _money(row["Not billable"]) if row["Kind"] == "labour" else ZERO
            reason = str(row["Reason"])
            value = _money(row["Value not billed"])
            reasons[reason] = [reasons[reason][0] + minutes, reasons[reason][1] + value]
    cells = _summary(made.quarter)
    sublets = _under(cells, "Sublet work by vendor")
    idle = _under(cells, "Not billed, by reason")

    assert len(vendors) >= 3
    assert {name: f for name, f in sublets.items() if name != "Total"} == vendors
    assert {name: f for name, f in idle.items() if name != "Total"} == reasons


def test_what_is_owed_at_the_end_of_the_quarter_is_invoices_less_payments(made: Made) -> None:
    """Loops over Invoices and Payments give what was received and what is owed."""
    issued = sum(
        (_money(r["Total"]) for r in _rows(made.book, "Invoices")
         if _day(r["Date"]) <= THIRD_QUARTER[1]), start=ZERO,
    )  # fmt: skip
    payments = [r for r in _rows(made.book, "Payments") if r["Amount"] is not None]
    received = sum(
        (_money(r["Amount"]) for r in payments if _day(r["Date"]) <= THIRD_QUARTER[1]), start=ZERO
    )
    in_quarter = sum((_money(r["Amount"]) for r in payments if _in_quarter(r["Date"])), start=ZERO)
    rolled = _under(_summary(made.quarter), "Owed, from start to end")

    assert rolled["Less payments received"][-1] == -in_quarter
    assert rolled["At the end"][-1] == issued - received > 0


def test_a_second_run_into_the_same_folder_says_nothing_of_the_first(tmp_path: Path) -> None:
    """What an earlier run made is taken away, what is not of it stays."""
    (tmp_path / year.BOOK).write_bytes(b"old")
    (tmp_path / year.INVOICES).mkdir()
    (tmp_path / year.INVOICES / "invoice-24-0001.pdf").write_bytes(b"old")
    (tmp_path / "letter.txt").write_text("mine", encoding="utf-8")

    year._clear(tmp_path)

    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]


def test_an_open_book_is_not_taken_away(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """While a spreadsheet program holds the book, the demonstration stops with a word."""
    (tmp_path / year.BOOK).write_bytes(b"old")
    (tmp_path / f".~lock.{year.BOOK}#").write_text("", encoding="utf-8")

    assert year.main(tmp_path) == 1
    assert "open in a spreadsheet program" in capsys.readouterr().err
    assert (tmp_path / year.BOOK).read_bytes() == b"old"
