"""The sheet `Time`: minutes kept row by row, what lines get from them, what is said of them."""

from dataclasses import replace
from datetime import date, time, timedelta
from decimal import Decimal
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger_tools.book.layout import PAYMENTS_TABLE, TIME_TABLE
from ledger_tools.book.next_year import open_next_year
from ledger_tools.book.parse import parse
from ledger_tools.book.reader import read_content
from ledger_tools.book.registers import INVOICE_LINES_TABLE
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.commands.session import Session
from ledger_tools.costing.lines import REASONS, Kind, Line
from ledger_tools.errors import Severity
from ledger_tools.shop.results import JobResult
from tests import libreoffice
from tests.book.closing import archive
from tests.book.shop import TODAY, Shop, Typed, by_code, only
from tests.book.test_formulas import differences

D = Decimal
JOB, OTHER = "25-0001", "25-0002"
LABOUR = (
    Line(1, Kind.LABOUR, "Strip", estimate=D(60), labour_class="bench"),
    Line(2, Kind.LABOUR, "Weld", estimate=D(90), labour_class="bench"),
    Line(3, Kind.PART, "Gasket", actual=D(1), price=D("12.00")),
)


def clock(hours: int, minutes: int = 0) -> float:
    """Return a time of day as a spreadsheet keeps it."""
    return (hours * 60 + minutes) / 1440


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a book with two jobs that keeps its minutes in `Time`."""
    shop = Shop.new(tmp_path_factory.mktemp("kept"), "us-ca")
    for customer in ("R. Calder", "Ann Bell"):
        shop.add(customer=customer, lines=LABOUR, state="in work")
    shop.decide("shop_keep_time", "yes")
    shop.recompute()
    return shop.path.read_bytes()


@pytest.fixture
def shop(tmp_path: Path, kept: bytes) -> Shop:
    """Return a shop of its own that keeps its minutes in `Time`."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(kept)
    return Shop(path)


def entry(line: int | None = 1, minutes: Typed = 30, **other: Typed) -> dict[str, Typed]:
    """Return a row of `Time`, without empty cells."""
    typed: dict[str, Typed] = {"day": TODAY, "who": "Jo", "job": JOB, "line_id": line}
    typed |= {"minutes": minutes, "reason": "billable"}
    return {key: value for key, value in (typed | other).items() if value is not None}


def keep(shop: Shop, *rows: dict[str, Typed]) -> None:
    """Type rows into `Time`, from the first on."""
    shop.fill_rows(TIME_TABLE, 1, rows)


def place(shop: Shop, row: int, key: str) -> tuple[str, str]:
    """Return sheet and address of a cell of `Time`."""
    return "Time", shop.cell(TIME_TABLE, row, key)


def test_the_sheet_comes_when_the_shop_wants_it(tmp_path: Path) -> None:
    """No sheet by default; yes on Start makes it, once; no takes none away."""
    shop = Shop.new(tmp_path)
    shop.recompute()
    assert "Time" not in {sheet.name for sheet in shop.snapshot().sheets}

    shop.decide("shop_keep_time", "yes")
    shop.recompute()
    assert shop.recompute().plan.operations == ()

    shop.decide("shop_keep_time", "no")
    shop.recompute()
    assert [sheet.name for sheet in shop.snapshot().sheets].count("Time") == 1


def test_a_line_gets_its_minutes_from_its_rows(shop: Shop) -> None:
    """Minutes or start and stop, billable or not; formulas, and nothing left to write after."""
    keep(
        shop,
        entry(minutes="1h30"),
        entry(minutes=None, start=clock(8, 15), stop="9:00", reason="rework"),
        entry(minutes=20, reason="teaching"),
        entry(2, 45, job=OTHER, reason=None),
    )

    outcome = shop.recompute()

    line, other = (outcome.results[n].job.lines for n in (JOB, OTHER))
    assert (line[0].actual, line[0].non_billable, line[0].reason) == (D(155), D(65), "rework")
    assert (line[1].actual, other[1].actual, other[1].reason) == (None, D(45), "")
    assert [shop.value(TIME_TABLE, row, "counted") for row in (1, 2, 3, 4)] == [90, 45, 20, 45]
    cells = ("actual", "non_billable", "reason")
    assert [shop.value(JOB, 1, key) for key in cells] == [155, 65, "rework"]
    assert shop.check().findings == ()
    assert shop.recompute().plan.operations == ()


def test_a_book_without_the_settings_is_read_as_ever(shop: Shop) -> None:
    """Books made before have no such cells on Start: no finding, and no minutes are asked for."""
    snapshot = shop.snapshot()
    names = {
        k: v for k, v in snapshot.names.items() if k not in {"shop_keep_time", "shop_gap_minutes"}
    }

    older = snapshot._replace(names=names, properties={"Shop book format": "1"})

    parsed = parse(older, as_of=TODAY)

    assert parsed.gathered.findings == []
    assert (parsed.book.settings.keep_time, parsed.book.settings.gap_minutes) == (False, 0)


def test_minutes_in_both_places_are_an_error_and_nothing_is_billed(shop: Shop) -> None:
    """The line's cell is named, and the rows of Time; the job's figures stay as they were."""
    shop.fill(JOB, 1, actual=60)
    keep(shop, entry(), entry(minutes=15), entry(1, job=OTHER))
    for row in (1, 2):
        shop.type_job(row, state="to invoice")

    outcome = shop.invoice()

    found = only(outcome, "minutes-twice")
    grid = shop.grid(TIME_TABLE)
    assert (found.sheet, found.cell, found.job) == (JOB, shop.cell(JOB, 1, "actual"), JOB)
    assert f"rows {grid.header_row + 1}, {grid.header_row + 2}" in found.what
    assert [i.job for i in outcome.book.invoices.values()] == [OTHER]
    assert shop.value(JOB, 1, "actual") == 60


def test_a_line_whose_rows_are_gone_is_typed_again(shop: Shop) -> None:
    """Formulas and reason go, with a note; a row that moved to another line feeds that."""
    keep(shop, entry(reason="rework"))
    shop.recompute()
    shop.fill(TIME_TABLE, 1, line_id=2)

    outcome = shop.recompute()

    gone = only(outcome, "line-time-gone")
    assert (gone.severity, gone.cell) == (Severity.NOTE, shop.cell(JOB, 1, "actual"))
    cells = ("actual", "non_billable", "reason")
    assert [shop.value(JOB, 1, key) for key in cells] == [None, None, None]
    assert [shop.value(JOB, 2, key) for key in cells] == [30, 30, "rework"]
    assert shop.check().findings == ()


def test_lines_may_get_their_minutes_one_after_the_other(shop: Shop) -> None:
    """An empty cell beside one that is filled from Time was never typed over: nothing is said."""
    keep(shop, entry(1))
    shop.recompute()
    shop.fill_rows(TIME_TABLE, 2, [entry(2)])

    assert shop.recompute().findings == ()
    assert [shop.value(JOB, row, "actual") for row in (1, 2)] == [30, 30]


def test_a_typed_reason_gives_way_to_that_of_the_rows(shop: Shop) -> None:
    """What stood there is named."""
    shop.fill(JOB, 1, reason="waiting")
    keep(shop, entry(reason="rework"))

    assert "'waiting'" in only(shop.recompute(), "reason-from-time").what
    assert shop.value(JOB, 1, "reason") == "rework"


BAD: list[Any] = [
    pytest.param(entry(minutes=None), "time-missing", "minutes", id="nothing"),
    pytest.param(entry(minutes=None, start=clock(8)), "time-missing", "minutes", id="no-stop"),
    pytest.param(
        entry(minutes=None, start=clock(8), stop=clock(8)), "time-missing", "stop", id="no-length"
    ),
    pytest.param(entry(minutes="long"), "minutes-unreadable", "minutes", id="word"),
    pytest.param(entry(minutes=-5), "negative-number", "minutes", id="negative"),
    pytest.param(entry(minutes=1441), "time-absurd", "minutes", id="absurd"),
    pytest.param(entry(minutes=0), "time-absurd", "minutes", id="zero"),
    pytest.param(
        entry(minutes=None, start=8.25, stop=clock(9)), "clock-unreadable", "start", id="fraction"
    ),
    pytest.param(
        entry(minutes=None, start=clock(8), stop="noon"), "clock-unreadable", "stop", id="noon"
    ),
    pytest.param(
        entry(minutes=50, start=clock(8), stop=clock(9)), "time-disagrees", "minutes", id="both"
    ),
    pytest.param(
        entry(minutes=None, start=clock(9), stop=clock(8)), "stop-before-start", "stop", id="back"
    ),
    pytest.param(entry(job="25-0099"), "time-job-unknown", "job", id="no-such-job"),
    pytest.param(entry(99), "time-line-unknown", "line_id", id="no-such-line"),
    pytest.param(entry(None, line_id=1.5), "time-line-unknown", "line_id", id="half-a-line"),
    pytest.param(entry(3), "time-line-not-labour", "line_id", id="part"),
    pytest.param(entry(None), "time-line-missing", "line_id", id="billable-without-line"),
    pytest.param(entry(reason="idle"), "time-class-unknown", "reason", id="class"),
    pytest.param(entry(day=None), "date-missing", "day", id="no-date"),
]


@pytest.mark.parametrize(("row", "code", "key"), BAD)
def test_bad_rows_are_named_by_their_cell_and_hold_their_job(
    row: dict[str, Typed], code: str, key: str, shop: Shop
) -> None:
    """The job of the row is not billed, the other is."""
    keep(shop, entry(1, job=OTHER), row)
    for n in (1, 2):
        shop.type_job(n, state="to invoice")

    outcome = shop.invoice()

    found = only(outcome, code)
    assert (found.severity, found.sheet, found.cell) == (Severity.ERROR, *place(shop, 2, key))
    assert found.remedy
    if row["job"] == JOB:
        assert [i.job for i in outcome.book.invoices.values()] == [OTHER]


def test_minutes_of_no_job_and_of_no_line_are_warned_of(shop: Shop) -> None:
    """They count for the shop and are in no job's figures."""
    keep(shop, entry(None, job=None), entry(None, reason="waiting"))

    outcome = shop.recompute()

    assert [f.severity for f in outcome.findings] == [Severity.WARNING] * 2
    assert by_code(outcome, "time-without-job")[0].cell == place(shop, 1, "job")[1]
    assert by_code(outcome, "time-without-line")[0].cell == place(shop, 2, "line_id")[1]
    assert outcome.results[JOB].actual_minutes == 0
    assert [shop.value(TIME_TABLE, row, "remark") for row in (1, 2)] == ["no job", ""]


def test_overlaps_of_one_person_are_warned_of(shop: Shop) -> None:
    """Also over midnight and over two jobs; end to end and other people's are none."""

    def at(start: float, stop: float, **more: Typed) -> dict[str, Typed]:
        return entry(minutes=None) | {"start": start, "stop": stop} | more

    keep(
        shop,
        at(clock(8), clock(9)),
        at(clock(9), clock(10)),
        at(clock(8, 30), clock(9), who="Al"),
        at(clock(9, 45), clock(11), who="JO", job=OTHER),
        at(clock(23), clock(1), day=TODAY - timedelta(days=1)),
        at(clock(0, 30), clock(0, 50)),
    )

    outcome = shop.recompute()

    found = by_code(outcome, "time-overlap")
    assert [f.cell for f in found] == [place(shop, n, "start")[1] for n in (6, 4)]
    assert "15 of these minutes" in found[1].what
    night = only(outcome, "past-midnight")
    assert (night.severity, night.cell) == (Severity.NOTE, place(shop, 5, "stop")[1])
    assert shop.value(TIME_TABLE, 5, "remark") == "next day"
    assert outcome.results[JOB].actual_minutes == 60 + 60 + 30 + 120 + 20


def test_times_of_day_are_shown_as_such(shop: Shop) -> None:
    """Typed as words, they are put back as times in a cell that shows times."""
    keep(shop, entry(minutes=None, start="8:15", stop="9h05"))
    codes = [f.code for f in shop.recompute().findings]

    cells = openpyxl.load_workbook(shop.path)["Time"]
    shown = [cells[shop.cell(TIME_TABLE, 1, key)] for key in ("start", "stop")]
    assert codes == ["clock-read", "clock-read"]
    assert [cell.value for cell in shown] == [time(8, 15), time(9, 5)]
    assert [cell.number_format for cell in shown] == ["hh:mm", "hh:mm"]


def test_a_night_may_have_sixteen_hours(shop: Shop) -> None:
    """960 minutes over midnight count; 961 are an error, tested above as a stop before start."""
    keep(shop, entry(minutes=None, start=clock(20), stop=clock(12)))
    assert shop.recompute().results[JOB].actual_minutes == 960

    keep(shop, entry(minutes=None, start=clock(20), stop=clock(12, 1)))
    assert only(shop.recompute(), "stop-before-start").cell == place(shop, 1, "stop")[1]


def test_gaps_are_named_when_asked_for(shop: Shop) -> None:
    """From the length the shop says on; the same gap one minute shorter is none."""
    keep(
        shop,
        entry(minutes=None, start=clock(8), stop=clock(9)),
        entry(minutes=None, start=clock(9, 30), stop=clock(10)),
    )
    assert by_code(shop.check(), "time-gap") == []

    shop.decide("shop_gap_minutes", 31)
    assert by_code(shop.check(), "time-gap") == []

    shop.decide("shop_gap_minutes", 30)
    found = only(shop.check(), "time-gap")
    assert (found.severity, found.cell) == (Severity.NOTE, place(shop, 2, "start")[1])


def test_after_the_invoice_only_a_come_back_is_written_on_a_job(shop: Shop) -> None:
    """It counts in the job's minutes, is billed to none, and the invoice stays as it is."""
    keep(shop, entry(minutes=60))
    shop.type_job(1, state="to invoice")
    before = shop.invoice().book.invoices
    later = TODAY + timedelta(days=1)
    shop.fill_rows(TIME_TABLE, 2, [entry(minutes=25, day=later, reason="warranty")])

    outcome = shop.recompute()

    result = outcome.results[JOB]
    assert outcome.findings == ()
    assert (result.actual_minutes, result.non_billable_minutes) == (85, 25)
    assert dict(outcome.book.invoices) == dict(before)
    assert result.total == next(iter(before.values())).total

    shop.fill(TIME_TABLE, 2, reason="rework")
    found = only(shop.check(), "time-after-invoice")
    assert (found.severity, found.cell) == (Severity.ERROR, place(shop, 2, "job")[1])
    shop.fill(TIME_TABLE, 2, day=TODAY)
    assert by_code(shop.check(), "time-after-invoice") == []


def test_customers_text_is_never_a_formula_or_a_pattern(shop: Shop) -> None:
    """A job called like a pattern is no job; words with = in front stay words."""
    keep(shop, entry(minutes=30, job="25-*", who=None, note="'=1+1"))

    outcome = shop.recompute()

    assert only(outcome, "time-job-unknown").cell == place(shop, 1, "job")[1]
    assert outcome.results[JOB].actual_minutes == 0


@pytest.mark.libreoffice
def test_libreoffice_computes_the_same(shop: Shop, tmp_path: Path) -> None:
    """Every kind of row, good and bad: what counts, what is remarked, what lines get."""
    clocks = (
        (8, 0, 9, 0),
        (22, 0, 2, 0),
        (9, 0, 8, 0),
        (20, 0, 12, 0),
        (0, 0, 0, 0),
        (7, 5, 7, 6),
    )
    rows = [
        entry(1 + n % 2, None, start=clock(a, b), stop=clock(c, d), who=f"P{n}")
        for n, (a, b, c, d) in enumerate(clocks)
    ]
    rows += [
        entry(2, 50, start=clock(8), stop=clock(9), who="x"),
        entry(2, 60, start=clock(8), stop=clock(9), who="y"),
        entry(2, 45, start=clock(8), who="z"),
        entry(1, 7, reason="rework", job=OTHER),
        entry(1, 8, reason="waiting", job=OTHER),
        entry(1, 9, reason=None, job=OTHER),
        entry(1, 1440), entry(1, 1441), entry(1, 0), entry(1, "word"), entry(1, 8.25),
        entry(None, None, start=8.25, stop=9.5, line_id=1),
        entry(None, None, start=clock(8), stop=0.12345, line_id=1),
        entry(9), entry(None), entry(None, reason="waiting"), entry(job="25-0099"),
        entry(job=None), entry(job="25-*"),
    ]  # fmt: skip
    keep(shop, *rows)
    outcome = shop.recompute()

    assert outcome.results[OTHER].actual_minutes == 24
    assert outcome.results[JOB].actual_minutes > 2000
    assert differences(shop.path, tmp_path) == []


@pytest.mark.libreoffice
def test_a_save_of_libreoffice_changes_nothing(shop: Shop, tmp_path: Path) -> None:
    """Formulas of fed lines are still known as such: no typed minutes are seen beside the rows."""
    keep(shop, entry(), entry(2, None, start=clock(22), stop=clock(1), reason="rework"))
    before = shop.recompute().results[JOB]
    shop.path.write_bytes(libreoffice.resaved(shop.path, tmp_path).read_bytes())

    outcome = shop.recompute()

    assert [f.code for f in outcome.findings] == ["past-midnight"]
    assert outcome.results[JOB] == before
    shop.fill(TIME_TABLE, 1, line_id=2)
    assert only(shop.recompute(), "line-time-gone").cell == shop.cell(JOB, 1, "actual")


ROW = st.tuples(
    st.sampled_from([1, 2]),
    st.integers(1, 300),
    st.sampled_from(["billable", *REASONS]),
    st.integers(0, 1439) | st.none(),
)


def _figures(outcome: Outcome) -> dict[str, tuple[object, ...]]:
    def of(result: JobResult) -> tuple[object, ...]:
        bare = replace(result.job, lines=())
        return result._replace(job=bare), result.job.lines

    return {number: of(result) for number, result in outcome.results.items()}


def _invoice(shop: Shop) -> tuple[Outcome, list[object]]:
    shop.type_job(1, state="to invoice")
    outcome = shop.invoice()
    sheet = shop.sheet("Invoice lines")
    rows = sorted(sheet.values.items())
    return outcome, [value for (row, _), value in rows if row >= INVOICE_LINES_TABLE.first_row]


@settings(
    max_examples=12, deadline=None, derandomize=True,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)  # fmt: skip
@given(rows=st.lists(ROW, min_size=1, max_size=9), seed=st.randoms(use_true_random=False))
def test_time_comes_to_the_same_as_minutes_typed(
    rows: list[tuple[int, int, str, int | None]], seed: Random, kept: bytes, tmp_path: Path
) -> None:
    """In every figure and on the invoice; and the order of the rows changes nothing."""
    path = tmp_path / "shop.xlsx"

    def fed(order: list[tuple[int, int, str, int | None]]) -> tuple[Outcome, list[object]]:
        path.write_bytes(kept)
        shop = Shop(path)
        typed = []
        for n, (line, minutes, reason, start) in enumerate(order):
            times: dict[str, Typed] = {"minutes": minutes}
            if start is not None:
                stop = (start + minutes) % 1440
                times = {"start": start / 1440, "stop": stop / 1440}
            typed.append(entry(line, None, reason=reason, who=f"P{n}") | times)
        keep(shop, *typed)
        return _invoice(shop)

    outcome, paper = fed(rows)
    shuffled = list(rows)
    seed.shuffle(shuffled)
    again, other = fed(shuffled)
    path.write_bytes(kept)
    shop = Shop(path)
    for line in outcome.results[JOB].job.lines[:2]:
        if line.actual is not None:
            figures: dict[str, Typed] = {"actual": line.actual, "non_billable": line.non_billable}
            shop.fill(JOB, line.line_id, **figures, reason=line.reason or None)
    by_hand, typed_paper = _invoice(shop)

    worked = {n: sum(m for at, m, _, _ in rows if at == n) for n in (1, 2)}
    off = sum(m for _, m, reason, _ in rows if reason != "billable")
    result = outcome.results[JOB]
    assert {n: int(result.job.lines[n - 1].actual or 0) for n in (1, 2)} == worked
    assert result.non_billable_minutes == off
    assert _figures(outcome) == _figures(again) == _figures(by_hand)
    assert paper == other == typed_paper
    assert len(paper) > 20


def test_archived_jobs_keep_their_minutes(shop: Shop) -> None:
    """The sheet goes, the rows of Time stay, and no figure changes."""
    keep(shop, entry(minutes=60), entry(2, 30, reason="rework"))
    shop.type_job(1, state="to invoice")
    invoice = next(iter(shop.invoice().book.invoices.values()))
    shop.fill(PAYMENTS_TABLE, 1, day=TODAY, invoice=invoice.number, amount=invoice.total)
    before = shop.recompute().results[JOB]

    archive(shop)

    outcome = shop.recompute()
    after = outcome.results[JOB]
    assert after.job.archived
    assert (after.actual_minutes, after.non_billable_minutes) == (90, 30)
    assert after.total == before.total
    assert [shop.value(TIME_TABLE, row, "counted") for row in (1, 2)] == [60, 30]
    assert outcome.findings == ()

    shop.fill_rows(TIME_TABLE, 3, [entry(minutes=25, reason="warranty")])
    late = shop.recompute()
    found = only(late, "time-archived")
    assert (found.severity, found.cell) == (Severity.WARNING, place(shop, 3, "job")[1])
    assert late.results[JOB].actual_minutes == 90


def test_the_next_year_takes_the_rows_of_open_jobs(shop: Shop) -> None:
    """Every row of an open job goes along, start and stop too; those of other jobs stay."""
    keep(
        shop,
        entry(minutes=None, start=clock(22), stop=clock(1)),
        entry(2, 30, reason="rework", note="again"),
        entry(1, 15, job=OTHER),
        entry(None, 10, job=None),
    )
    shop.type_job(2, state="to invoice")
    shop.invoice()

    session: Session = shop.session()
    made = open_next_year(session.read, "next.xlsx", as_of=TODAY, year=2026)

    assert all(check.same for check in made.checks)
    compared = {check.what: check.old for check in made.checks}
    assert compared["Minutes in Time of open jobs"] == "2 rows, 210 min"
    new = work_out(read_content(made.content, "next.xlsx"), as_of=date(2026, 1, 5))
    assert [f.code for f in new.findings] == ["past-midnight"]
    assert [(e.minutes, e.start, e.reason, e.note) for e in new.book.time] == [
        (180, 22 * 60, "", ""), (30, None, "rework", "again"),
    ]  # fmt: skip
    assert new.results[JOB].actual_minutes == 210
