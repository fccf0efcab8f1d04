"""Broken books, as owners break them: what is said, where, and that all else is still done."""

from datetime import date
from decimal import Decimal
from typing import Any

import pytest

from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    MATERIALS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    TAX_RATES_TABLE,
    TableLayout,
)
from ledger_tools.book.registers import INVOICE_LINES_TABLE, INVOICES_TABLE
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import NotAShopBookError, Severity
from ledger_tools.shop.plan import Content, GrowTable
from ledger_tools.shop.snapshot import CellError, address
from tests.book.shop import (
    BAD,
    GOOD,
    LABOUR,
    MATERIAL,
    PART,
    SPARE,
    TODAY,
    Shop,
    Typed,
    by_code,
    changed,
    only,
    seed,
    typed_cells,
    with_sheet,
)

ERROR, WARNING, NOTE = Severity.ERROR, Severity.WARNING, Severity.NOTE


def said(outcome: Outcome) -> list[tuple[str, str, str, str]]:
    """Return severity, code, sheet and cell of every finding, in order."""
    return [(f.severity.value, f.code, f.sheet, f.cell) for f in outcome.findings]


REF = CellError("#REF!")
LINE_ERRORS: list[Any] = [
    pytest.param(LABOUR, "actual", "abc", "minutes-unreadable", "'abc'", id="minutes-abc"),
    pytest.param(LABOUR, "actual", 1.5, "minutes-unreadable", "'1.5'", id="minutes-1.5"),
    pytest.param(LABOUR, "actual", "1.5", "minutes-unreadable", "'1.5'", id="minutes-1.5-text"),
    pytest.param(LABOUR, "estimate", -30, "negative-number", "'-30'", id="minutes-negative"),
    pytest.param(LABOUR, "actual", "-30", "minutes-unreadable", "'-30'", id="minutes-minus-text"),
    pytest.param(LABOUR, "actual", True, "minutes-unreadable", "'True'", id="minutes-true"),
    pytest.param(LABOUR, "actual", 1e9, "minutes-unreadable", "'1000000000'", id="minutes-absurd"),
    pytest.param(LABOUR, "actual", 10000, "minutes-absurd", "167 hours", id="minutes-weeks"),
    pytest.param(LABOUR, "actual", REF, "error-value", "#REF!", id="minutes-ref-typed"),
    pytest.param(LABOUR, "actual", Content(None, "Z1"), "not-computed", "not been computed",
                 id="minutes-not-computed"),
    pytest.param(LABOUR, "price", REF, "error-value", "#REF!", id="price-ref-typed"),
    pytest.param(PART, "price", Content(REF, "Other!#REF!"), "error-value", "#REF!",
                 id="price-ref-computed"),
    pytest.param(PART, "agreed_price", Content(REF, "A1/0"), "error-value", "#REF!",
                 id="agreed-ref-computed"),
    pytest.param(PART, "price", "twelve", "not-a-number", "'twelve'", id="price-word"),
    pytest.param(PART, "price", "1,200.50", "not-a-number", "'1,200.50'", id="price-thousands"),
    pytest.param(PART, "price", True, "not-a-number", "'True'", id="price-true"),
    pytest.param(PART, "price", -3, "negative-number", "'-3'", id="price-negative"),
    pytest.param(PART, "price", 1e30, "number-too-large", "too large", id="price-absurd"),
    pytest.param(PART, "price", "1e999999", "not-a-number", "'1e999999'", id="price-exponent"),
    pytest.param(PART, "price", Content(None, "Z1"), "not-computed", "not been computed",
                 id="price-not-computed"),
    pytest.param(MATERIAL, "estimate", -1, "negative-number", "'-1'", id="quantity-negative"),
    pytest.param(MATERIAL, "actual", "3 kg", "not-a-number", "'3 kg'", id="quantity-with-unit"),
    pytest.param(PART, "agreed_price", -5, "negative-number", "'-5'", id="agreed-negative"),
    pytest.param(PART, "cost", "free", "not-a-number", "'free'", id="cost-word"),
    pytest.param(LABOUR, "kind", "welding", "kind-unknown", "'welding'", id="kind-unknown"),
    pytest.param(LABOUR, "kind", None, "kind-missing", "no kind", id="kind-missing"),
    pytest.param(LABOUR, "labour_class", "smith", "class-unknown", "'smith'", id="class-unknown"),
    pytest.param(PART, "tax_class", "vat", "tax-class-unknown", "'vat'", id="tax-class-unknown"),
    pytest.param(LABOUR, "description", "=A1", "formula-in-text", "formula", id="formula-words"),
    pytest.param(LABOUR, "description", Content(REF, "Z1"), "error-value", "#REF!",
                 id="ref-in-words"),
    pytest.param(PART, "non_billable", 2, "more-not-billable", "2 not billable",
                 id="more-not-billable-than-estimated-and-not-entered"),
    pytest.param(LABOUR, "non_billable", 1, "more-not-billable", "1 not billable",
                 id="not-billable-of-nothing-worked"),
]  # fmt: skip


@pytest.mark.parametrize(("row", "key", "typed", "code", "what"), LINE_ERRORS)
def test_a_bad_line_is_named_and_holds_back_its_job_alone(  # noqa: PLR0913 - parts of a case
    shop: Shop, *, row: int, key: str, typed: Typed, code: str, what: str
) -> None:
    """Sheet, cell, what and remedy are said; that job is not computed, the other one is."""
    shop.fill(BAD, row, **{key: typed}, **({"reason": "other"} if "non_b" in key else {}))
    there = shop.sheet(BAD)
    shop.fill(GOOD, LABOUR, actual=60)

    outcome = shop.recompute()

    found = only(outcome, code)
    assert said(outcome) == [("error", code, BAD, shop.cell(BAD, row, key))]
    assert what in found.what
    assert found.remedy
    assert (found.file, found.job) == ("shop.xlsx", BAD)
    assert list(outcome.results) == [GOOD]
    assert shop.head(GOOD, "labour_billed") == 100
    assert shop.sheet(BAD) == there, "a job that cannot be read is left as it is"
    assert shop.parsed().gathered.findings[0].code == code, "it stays until it is mended"


JOB_ERRORS: list[Any] = [
    pytest.param("customer", "=B1", "formula-in-text", "formula", id="formula-customer"),
    pytest.param("customer", Content(None, "B1"), "not-computed", "computed",
                 id="formula-customer-not-computed"),
    pytest.param("customer", None, "customer-missing", "no customer", id="no-customer"),
    pytest.param("repair", "OIL", "repair-unknown", "'OIL'", id="unknown-repair"),
    pytest.param("state", "finished", "state-unknown", "'finished'", id="unknown-state"),
    pytest.param("opened", "yesterday", "date-unreadable", "'yesterday'", id="date-word"),
    pytest.param("opened", "03/04/2025", "date-unreadable", "'03/04/2025'", id="date-slashes"),
    pytest.param("opened", 12, "date-unreadable", "'12'", id="date-small-number"),
    pytest.param("promised", True, "date-unreadable", "'True'", id="date-true"),
    pytest.param("promised", REF, "error-value", "#REF!", id="date-ref"),
    pytest.param("number", "=B1", "formula-in-text", "formula", id="formula-number"),
]  # fmt: skip


@pytest.mark.parametrize(("key", "typed", "code", "what"), JOB_ERRORS)
def test_a_bad_row_of_jobs_holds_back_that_job_alone(
    shop: Shop, key: str, typed: Typed, code: str, what: str
) -> None:
    """A row that cannot be read is named and left alone; the other job is worked out."""
    shop.type_job(2, **{key: typed})
    there = shop.sheet("Jobs").values, shop.sheet(BAD)

    outcome = shop.recompute()

    assert said(outcome) == [("error", code, "Jobs", shop.cell(JOBS_TABLE, 2, key))]
    assert what in outcome.findings[0].what
    assert outcome.findings[0].remedy
    assert list(outcome.results) == [GOOD]
    assert (shop.sheet("Jobs").values, shop.sheet(BAD)) == there


@pytest.mark.parametrize(("key", "typed", "code", "what"), JOB_ERRORS[:-1])
def test_a_new_row_that_cannot_be_read_gets_no_number(
    shop: Shop, key: str, typed: Typed, code: str, what: str
) -> None:
    """A typed row with an error is not opened; the row below it is, with the next number."""
    row = {"customer": "C. Dorn", "item": "Rack", "repair": "GATE", key: typed}
    shop.type_job(3, **row)
    shop.type_job(4, customer="E. Ferri", item="Gate", repair="gate")

    outcome = shop.recompute()

    errors = [f for f in outcome.findings if f.severity is ERROR]
    assert [(f.code, f.cell) for f in errors] == [(code, shop.cell(JOBS_TABLE, 3, key))]
    assert what in errors[0].what
    assert outcome.opened == ("25-0003",)
    assert shop.value(JOBS_TABLE, 3, "number") is None
    assert shop.value(JOBS_TABLE, 4, "number") == "25-0003"


@pytest.mark.parametrize(("letters", "read"), [(32_767, True), (32_768, False)])
def test_a_text_longer_than_a_cell_can_hold_holds_back_its_job(
    shop: Shop, *, letters: int, read: bool
) -> None:
    """Another program may have stored one; it could not be copied to where it is shown."""
    grid = shop.grid(BAD)
    place = (grid.header_row + PART, grid.columns["description"])
    snapshot = changed(shop.snapshot(), BAD, {place: "x" * letters})

    outcome = work_out(snapshot, as_of=TODAY)

    assert list(outcome.results) == ([GOOD, BAD] if read else [GOOD])
    assert [(f.code, f.cell, len(f.what) < 200) for f in outcome.findings] == (
        [] if read else [("text-too-long", address(*place), True)]
    )


def test_everything_wrong_is_said_at_once(shop: Shop) -> None:
    """Findings of settings, registers, jobs and lines come together, each at its cell."""
    shop.decide("shop_hour_step", "x")
    shop.fill(RATES_TABLE, 4, labour_class="bench", first_day=TODAY, rate="much")
    shop.fill(TAX_RATES_TABLE, 1, first_day="soon")
    shop.fill(CUSTOMERS_TABLE, 2, name=None)
    shop.fill(CUSTOMERS_TABLE, 2, contact="555 0134")
    shop.fill(PAYMENTS_TABLE, 1, day=TODAY, amount="ten")
    shop.fill(REPAIRS_TABLE, 1, kind="magic")
    shop.fill(MATERIALS_TABLE, 1, price=None)
    shop.type_job(1, state="finished")
    shop.fill(BAD, LABOUR, actual="abc", estimate=0.3)
    shop.fill(BAD, PART, price="x")

    outcome = shop.check()

    errors = {(f.code, f.sheet, f.cell) for f in outcome.findings if f.severity is ERROR}
    assert errors == {
        ("setting-unreadable", "Start", "K16"),
        ("not-a-number", "Rates", shop.cell(RATES_TABLE, 4, "rate")),
        ("date-unreadable", "Taxes", shop.cell(TAX_RATES_TABLE, 1, "first_day")),
        ("customer-missing", "Customers", shop.cell(CUSTOMERS_TABLE, 2, "name")),
        ("not-a-number", "Payments", shop.cell(PAYMENTS_TABLE, 1, "amount")),
        ("kind-unknown", "Repairs", shop.cell(REPAIRS_TABLE, 1, "kind")),
        ("price-missing", "Materials", shop.cell(MATERIALS_TABLE, 1, "price")),
        ("state-unknown", "Jobs", shop.cell(JOBS_TABLE, 1, "state")),
        ("minutes-unreadable", BAD, shop.cell(BAD, LABOUR, "actual")),
        ("not-a-number", BAD, shop.cell(BAD, PART, "price")),
    }
    assert all(f.what and f.remedy and f.file == "shop.xlsx" for f in outcome.findings)
    assert not outcome.results


def test_the_count_of_findings_stands_on_start(shop: Shop) -> None:
    """Errors stay counted after a recompute; what the recompute mended does not."""
    shop.fill(BAD, LABOUR, actual="abc")
    shop.fill(GOOD, LABOUR, actual="1h30")

    outcome = shop.recompute()

    assert [f.code for f in outcome.findings] == ["minutes-read", "minutes-unreadable"]
    names = {name: shop.named(name) for name in ("shop_errors", "shop_warnings", "shop_notes")}
    assert names == {"shop_errors": 1, "shop_warnings": 0, "shop_notes": 0}


@pytest.mark.parametrize(
    ("typed", "minutes"),
    [("90", 90), ("1:30", 90), ("1h30", 90), ("1.5h", 90), ("1,5 h", 90), ("90 min", 90),
     (0.0625, 90), (0.5, 720), ("0", 0)],
)  # fmt: skip
def test_minutes_are_read_kindly_and_put_back_plainly(
    shop: Shop, typed: Typed, minutes: int
) -> None:
    """What was understood is said, stands there afterwards, and is not said again."""
    shop.fill(BAD, LABOUR, actual=typed)

    outcome = shop.recompute()

    found = only(outcome, "minutes-read")
    assert found.severity is (WARNING if typed == 0.5 else NOTE)
    assert f"{minutes} minutes" in found.what
    assert shop.value(BAD, LABOUR, "actual") == minutes
    assert shop.head(BAD, "actual_minutes") == minutes
    assert shop.recompute().findings == ()


def test_plain_minutes_are_not_talked_about(shop: Shop) -> None:
    """A whole number of minutes is what it is; nothing is said."""
    shop.fill(BAD, LABOUR, actual=90)

    assert shop.recompute().findings == ()


@pytest.mark.parametrize(
    ("table", "key", "typed", "code", "back"),
    [
        (BAD, "price", " 12.50 ", "number-read", 12.5),
        (BAD, "kind", " PART ", "words-read", "part"),
        (BAD, "tax_class", "zero ", "words-read", "zero"),
        (JOBS_TABLE, "state", "In  Work", "words-read", "in work"),
        (JOBS_TABLE, "repair", "oil-pan", "words-read", "OIL-PAN"),
        (JOBS_TABLE, "customer", "  Ann Bell", "words-read", "Ann Bell"),
        (JOBS_TABLE, "item", "Pan ", "words-read", "Pan"),
        (JOBS_TABLE, "promised", "2025-04-01", "date-read", 45748),
        (JOBS_TABLE, "promised", 20250401, "date-read", 45748),
    ],
)  # fmt: skip
def test_words_are_put_back_as_they_were_read(  # noqa: PLR0913 - parts of a case
    shop: Shop, *, table: TableLayout | str, key: str, typed: Typed, code: str, back: Typed
) -> None:
    """Live formulas compare words as they stand, so they are put back as they were understood."""
    row = PART if table == BAD else 2
    shop.fill(table, row, **{key: typed})

    outcome = shop.recompute()

    assert [(f.severity, f.code, f.cell) for f in outcome.findings] == [
        (NOTE, code, shop.cell(table, row, key))
    ]
    assert shop.value(table, row, key) == back
    assert shop.recompute().plan.operations == ()


def test_a_customer_typed_as_a_number_becomes_text(shop: Shop) -> None:
    """A name that is a number counts like any name: in Customers, and in its formula."""
    shop.type_job(3, customer=1234, item="Rack")

    outcome = shop.recompute()

    assert only(outcome, "words-read").severity is NOTE
    assert shop.value(JOBS_TABLE, 3, "customer") == "1234"
    assert shop.value(CUSTOMERS_TABLE, 3, "name") == "1234"
    assert shop.value(CUSTOMERS_TABLE, 3, "jobs") == 1


def test_an_unknown_reason_counts_as_other(shop: Shop) -> None:
    """The job is computed all the same; the owner hears of it."""
    shop.fill(BAD, LABOUR, actual=30, non_billable=30, reason="nap")

    outcome = shop.recompute()

    found = only(outcome, "reason-unknown")
    assert (found.severity, found.cell) == (WARNING, shop.cell(BAD, LABOUR, "reason"))
    assert outcome.results[BAD].costs[0].line.reason == "other"


def test_work_not_billed_wants_a_reason(shop: Shop) -> None:
    """Without one the line is marked, the job computed."""
    shop.fill(BAD, LABOUR, actual=30, non_billable=10)

    outcome = shop.recompute()

    assert said(outcome) == [("warning", "reason-missing", BAD, shop.cell(BAD, LABOUR, "reason"))]
    assert shop.value(BAD, LABOUR, "mark") == "reason?"
    assert BAD in outcome.results


def test_not_billable_may_be_all_that_was_done(shop: Shop) -> None:
    """As much as was worked is the most; a minute more is refused."""
    shop.fill(BAD, LABOUR, actual=30, non_billable=30, reason="rework")
    assert shop.check().results[BAD].subtotal == 0

    shop.fill(BAD, LABOUR, non_billable=31)
    assert only(shop.check(), "more-not-billable").severity is ERROR


def test_a_missing_price_is_a_warning_until_the_job_is_to_be_billed(shop: Shop) -> None:
    """Before billing it counts as nothing and is said; then it holds the job back."""
    shop.fill(BAD, SPARE, kind="part", description="Gasket", estimate=1)

    early = only(shop.check(), "price-missing")
    shop.type_job(2, state="to invoice")
    late = shop.check()

    assert (early.severity, early.cell) == (WARNING, shop.cell(BAD, SPARE, "price"))
    assert only(late, "price-missing").severity is ERROR
    assert list(late.results) == [GOOD]


def test_a_price_of_zero_is_a_price(shop: Shop) -> None:
    """Free is said with a 0, and nothing is asked."""
    shop.fill(BAD, SPARE, kind="part", description="Gasket", estimate=1, price=0)

    assert shop.check().findings == ()


@pytest.mark.parametrize("sheet", ["Jobs", "Customers", "Payments", "Rates", "Repairs", "Taxes",
                                   "Materials", "Start"])  # fmt: skip
def test_a_missing_sheet_stops_everything(shop: Shop, sheet: str) -> None:
    """Nothing is written where a sheet is gone; the others are not blamed for it."""
    snapshot = shop.snapshot()
    left = tuple(s for s in snapshot.sheets if s.name != sheet)
    names = {n: v for n, v in snapshot.names.items() if not v.startswith(f"{sheet}!")}

    outcome = work_out(snapshot._replace(sheets=left, names=names), as_of=TODAY)

    assert said(outcome)[0] == ("error", "sheet-missing", sheet, "")
    assert {f.code for f in outcome.findings} == {"sheet-missing"}
    assert "backup" in outcome.findings[0].remedy
    assert (outcome.plan.operations, outcome.sound) == ((), False)


def test_a_start_that_is_gone_is_missing_though_names_speak_of_it(shop: Shop) -> None:
    """A damaged list of sheets leaves the names as they were."""
    snapshot = shop.snapshot()
    left = tuple(s for s in snapshot.sheets if s.name != "Start")

    outcome = work_out(snapshot._replace(sheets=left), as_of=TODAY)

    assert said(outcome)[0] == ("error", "sheet-missing", "Start", "")
    assert not outcome.plan.operations


@pytest.mark.parametrize(
    ("sheet", "header", "typed"),
    [
        ("Jobs", "Customer", None),
        ("Jobs", "So far", "Sum"),
        ("Rates", "Rate an hour", "Hourly"),
        ("Taxes", "First day", None),
        (BAD, "Actual", "Real"),
        (BAD, "Line", None),
    ],
)
def test_a_missing_header_stops_everything(
    shop: Shop, sheet: str, header: str, typed: Typed
) -> None:
    """A header that was deleted or renamed is named with its sheet, and nothing is written."""
    there = shop.sheet(sheet).values
    place = max(p for p, value in there.items() if value == header)
    shop.write(sheet, {place: typed})
    before = shop.path.read_bytes()

    outcome = shop.recompute()

    assert said(outcome) == [("error", "header-missing", sheet, "")]
    assert f"'{header}'" in outcome.findings[0].what
    assert shop.path.read_bytes() == before


def test_all_missing_headers_are_said_at_once(shop: Shop) -> None:
    """Three headers in two sheets are three findings."""
    for sheet, header in (("Jobs", "Item"), ("Jobs", "State"), ("Payments", "Amount")):
        there = shop.sheet(sheet).values
        shop.write(sheet, {min(p for p, v in there.items() if v == header): "?"})

    outcome = shop.check()

    assert [f.what for f in outcome.findings] == [
        "The column 'Item' is missing",
        "The column 'State' is missing",
        "The column 'Amount' is missing",
    ]


def test_blanks_and_case_do_not_lose_a_header(shop: Shop) -> None:
    """`ACTUAL ` is still the column Actual."""
    grid = shop.grid(BAD)
    shop.write(BAD, {(grid.header_row, grid.columns["actual"]): " ACTUAL "})

    assert shop.check().findings == ()


def test_a_workbook_of_another_kind_is_refused(shop: Shop) -> None:
    """A workbook without the mark of a shop book is none; nor is one of a newer format."""
    snapshot = shop.snapshot()

    with pytest.raises(NotAShopBookError, match="is not a shop book"):
        work_out(snapshot._replace(properties={}), as_of=TODAY)
    with pytest.raises(NotAShopBookError, match="newer version"):
        work_out(snapshot._replace(properties={"Shop book format": "3"}), as_of=TODAY)


def test_a_job_number_that_stands_twice_holds_both_back(shop: Shop) -> None:
    """Nobody can say which row is meant, so neither is computed."""
    shop.type_job(3, number=BAD, customer="C. Dorn", item="Rack")

    outcome = shop.recompute()

    found = only(outcome, "job-number-twice")
    assert (found.severity, found.cell) == (ERROR, shop.cell(JOBS_TABLE, 3, "number"))
    assert "row 6" in found.what
    assert list(outcome.results) == [GOOD]
    assert outcome.opened == ()


def test_a_copied_row_with_its_number_cleared_is_a_new_job(billed: Shop) -> None:
    """The invoice number that came along with the copy is taken away, and said."""
    billed.type_job(
        3, customer="R. Calder", item="Pan again", repair="OIL-PAN", state="in work",
        invoice="25-0001", total=Content(5.0, f"'{GOOD}'!$M$8"),
    )  # fmt: skip

    outcome = billed.recompute()

    found = only(outcome, "invoice-not-of-job")
    assert (found.severity, found.cell) == (WARNING, billed.cell(JOBS_TABLE, 3, "invoice"))
    assert outcome.opened == ("25-0003",)
    assert billed.value(JOBS_TABLE, 3, "invoice") is None
    assert billed.value(JOBS_TABLE, 3, "stands") == "in work"
    assert billed.value(JOBS_TABLE, 1, "invoice") == "25-0001"
    assert billed.recompute().plan.operations == ()


COMPUTED = [
    (BAD, LABOUR, "amount"), (BAD, LABOUR, "billed"), (BAD, SPARE, "amount"),
    (JOBS_TABLE, 2, "total"), (CUSTOMERS_TABLE, 2, "jobs"),
]  # fmt: skip


@pytest.mark.parametrize("typed", [99, "mine", "=40+2", REF])
@pytest.mark.parametrize(("table", "row", "key"), COMPUTED)
def test_a_formula_typed_over_is_put_back_and_what_stood_there_named(
    shop: Shop, table: TableLayout | str, row: int, key: str, typed: Typed
) -> None:
    """A figure, words, nothing, a formula of the owner's: said, with cell, and mended."""
    grid = shop.grid(table)
    place = (grid.header_row + row, grid.columns[key])
    before = shop.sheet(grid.sheet)
    shop.fill(table, row, **{key: typed})

    outcome = shop.recompute()

    found = only(outcome, "formula-restored")
    assert (found.severity, found.sheet, found.cell) == (
        WARNING, grid.sheet, shop.cell(table, row, key),
    )  # fmt: skip
    assert f"'{typed}'" in found.what
    assert "Agreed price" in found.remedy
    assert shop.sheet(grid.sheet).formulas[place] == before.formulas[place]
    assert shop.sheet(grid.sheet).values.get(place) == before.values.get(place)
    assert shop.recompute().findings == ()


@pytest.mark.parametrize(("table", "row", "key"), COMPUTED[:-1])
def test_a_deleted_formula_is_put_back_and_named(
    shop: Shop, table: TableLayout | str, row: int, key: str
) -> None:
    """An emptied cell whose neighbours have formulas had one too."""
    grid = shop.grid(table)
    place = (grid.header_row + row, grid.columns[key])
    before = shop.sheet(grid.sheet)
    shop.fill(table, row, **{key: None})

    outcome = shop.recompute()

    found = only(outcome, "formula-restored")
    assert (found.cell, "nothing" in found.what) == (shop.cell(table, row, key), True)
    assert shop.sheet(grid.sheet).formulas[place] == before.formulas[place]


@pytest.mark.parametrize("key", ["net_billed", "total_billed", "customer", "ceiling"])
def test_a_figure_above_the_lines_is_put_back_too(shop: Shop, key: str) -> None:
    """The labelled cells of a job sheet are formulas as well."""
    grid = shop.grid(BAD)
    formula = shop.sheet(BAD).formulas[grid.cells[key]]
    shop.write(BAD, {grid.cells[key]: "=1+1"})

    outcome = shop.recompute()

    assert "'=1+1'" in only(outcome, "formula-restored").what
    assert shop.sheet(BAD).formulas[grid.cells[key]] == formula


def test_a_figure_typed_in_a_computed_column_of_a_new_row_is_named(shop: Shop) -> None:
    """An owner who types 500 under Estimate in a new row hears where it went."""
    shop.type_job(3, customer="C. Dorn", item="Rack", estimate=500)

    outcome = shop.recompute()

    found = only(outcome, "formula-restored")
    assert ("'500'" in found.what, found.cell) == (True, shop.cell(JOBS_TABLE, 3, "estimate"))


def test_a_changed_setting_rewrites_formulas_without_a_word(shop: Shop) -> None:
    """Formulas of ours that the settings outdate are no finding; the figures follow."""
    shop.fill(BAD, LABOUR, actual=8)
    shop.fill(BAD, 2, actual=8)
    assert shop.recompute().results[BAD].billed_hours == Decimal("0.3")
    shop.decide("shop_hour_step", 15)
    shop.decide("shop_hour_direction", "up")
    shop.decide("shop_hour_scope", "line")

    outcome = shop.recompute()

    assert outcome.findings == ()
    assert outcome.results[BAD].billed_hours == Decimal("0.5")


SETTINGS: list[Any] = [
    pytest.param("shop_hour_step", "x", "from 1 to 60", id="step-word"),
    pytest.param("shop_hour_step", 0, "from 1 to 60", id="step-zero"),
    pytest.param("shop_hour_step", 6.5, "from 1 to 60", id="step-fraction"),
    pytest.param("shop_hour_step", None, "has decided", id="step-empty"),
    pytest.param("shop_hour_step", "\u00b2", "from 1 to 60", id="step-superscript"),
    pytest.param("shop_hour_direction", "down", "nearest or up", id="direction"),
    pytest.param("shop_hour_scope", "shop", "job or line", id="scope"),
    pytest.param("shop_digits", 7, "from 0 to 4", id="digits"),
    pytest.param("shop_first_month", 13, "from 1 to 12", id="month"),
    pytest.param("shop_terms_days", -1, "from 0 to 999", id="terms"),
    pytest.param("shop_currency", "Pounds", "three letters", id="currency"),
    pytest.param("shop_paper", "A3", "A4 or Letter", id="paper"),
    pytest.param("shop_require_authorisation", "perhaps", "yes or no", id="yes-no"),
    pytest.param("shop_number_pattern", "job", "{n:04}", id="pattern-without-number"),
    pytest.param("shop_number_pattern", "{n}/{yy}", "Give something like", id="pattern-slash"),
    pytest.param("tax_rounding", "bankers", "half-up", id="tax-rounding"),
]


@pytest.mark.parametrize(("name", "typed", "wanted"), SETTINGS)
def test_a_setting_that_cannot_be_is_an_error_and_nothing_is_billed(
    shop: Shop, name: str, typed: Typed, wanted: str
) -> None:
    """The cell is named and what may stand there; an invoice by a guessed setting is refused."""
    shop.decide(name, typed)
    shop.fill(GOOD, LABOUR, actual=60)
    shop.type_job(1, state="to invoice")
    for row in (10, 11, 12):
        shop.fill(GOOD, row, price=1)

    outcome = shop.invoice()

    found = only(outcome, "setting-unreadable")
    assert found.severity is ERROR
    assert wanted in found.remedy
    assert found.cell
    assert outcome.invoices == ()
    assert only(outcome, "nothing-billed").severity is ERROR
    shop.decide(name, _usual(name))
    assert shop.invoice().invoices == ("25-0001",)


def _usual(name: str) -> Typed:
    usual: dict[str, Typed] = {
        "shop_hour_step": 6, "shop_hour_direction": "nearest", "shop_hour_scope": "job",
        "shop_digits": 2, "shop_first_month": 1, "shop_terms_days": 14, "shop_paper": "Letter",
        "shop_require_authorisation": "no", "shop_number_pattern": "{yy}-{n:04}",
        "tax_rounding": "half-up", "shop_currency": "USD",
    }  # fmt: skip
    return usual[name]


def test_settings_are_read_whatever_their_case(shop: Shop) -> None:
    """`UP` is up, and yes may come back from a spreadsheet program as TRUE."""
    shop.decide("shop_hour_direction", "UP")
    shop.decide("shop_require_authorisation", True)

    settings = shop.parsed().book.settings

    assert (settings.hours.direction, settings.require_authorisation) == ("up", True)


@pytest.mark.parametrize("cell", ["#REF!", "$A$1048577", "$XFE$1", "$A$\u00b2", "$A$1:$B$2"])
def test_a_setting_whose_cell_lost_its_name_is_an_error(shop: Shop, cell: str) -> None:
    """A deleted row of Start, or a name for no cell, is not taken for the usual value."""
    snapshot = shop.snapshot()
    names = {**snapshot.names, "shop_hour_step": f"Start!{cell}"}

    outcome = work_out(snapshot._replace(names=names), as_of=TODAY)

    assert "'Bill labour in steps of (min)' is gone" in only(outcome, "setting-unreadable").what


@pytest.mark.parametrize(
    ("table", "row", "typed", "code"),
    [
        (RATES_TABLE, 1, {"rate": "much"}, "not-a-number"),
        (RATES_TABLE, 1, {"labour_class": None}, "class-missing"),
        (RATES_TABLE, 4, {"labour_class": "bench", "rate": 5}, "date-missing"),
        (TAX_RATES_TABLE, 1, {"rate": -1}, "negative-number"),
        (TAX_RATES_TABLE, 1, {"rate": None}, "rate-missing"),
        (TAX_RATES_TABLE, 6, {"component": "GTS", "first_day": TODAY, "rate": 0.1}, "tax-unknown"),
    ],
)
def test_an_error_in_rates_or_taxes_bears_upon_every_invoice(
    shop: Shop, table: TableLayout, row: int, typed: dict[str, Typed], code: str
) -> None:
    """Billing at an older rate because the new row cannot be read would be a guess."""
    shop.type_job(1, state="to invoice")
    for line in (10, 11, 12):
        shop.fill(GOOD, line, price=1)
    shop.fill(table, row, **typed)

    outcome = shop.invoice()

    assert only(outcome, code).sheet == table.sheet
    assert only(outcome, "nothing-billed").severity is ERROR
    assert outcome.invoices == ()


def test_a_tax_class_says_yes_or_no(shop: Shop) -> None:
    """A cell that says neither is asked about; TRUE, as another program may write, is yes."""
    grid = shop.parsed().places.tax_classes
    assert grid is not None
    place = (grid.header_row + 1, grid.columns["GST"])
    shop.write(grid.sheet, {place: "sure"})
    unclear = shop.check()
    shop.write(grid.sheet, {place: True})
    outcome = shop.recompute()

    assert only(unclear, "yes-or-no").severity is ERROR
    assert shop.sheet(grid.sheet).values[place] == "yes"
    assert "GST" in outcome.book.profile.taxable["labour"]


def test_an_owner_s_note_beside_the_tax_classes_is_no_tax(shop: Shop) -> None:
    """A column that no rate names and that says neither yes nor no is the owner's."""
    snapshot = shop.snapshot()
    grid = shop.parsed().places.tax_classes
    assert grid is not None
    col = max(grid.columns.values()) + 1
    notes = {(grid.header_row, col): "My note", (grid.header_row + 1, col): "ask Ann"}

    outcome = work_out(
        changed(snapshot, grid.sheet, notes, table=grid.table, wider=1), as_of=TODAY
    )

    assert outcome.findings == ()
    assert outcome.book.profile.components == ("GST", "QST")


def test_no_labour_rate_on_the_day_the_job_was_opened(shop: Shop) -> None:
    """A job older than the first rate of its class is held back, with the day."""
    shop.type_job(2, opened=date(1999, 12, 31))

    outcome = shop.check()

    found = by_code(outcome, "rate-missing")
    assert found[0].cell == shop.cell(BAD, LABOUR, "price")
    assert "1999-12-31" in found[0].what
    assert list(outcome.results) == [GOOD]


def test_no_tax_rate_on_the_day(shop: Shop) -> None:
    """Before the tax's first day the job is named and left out."""
    for row in range(1, 5):
        shop.fill(TAX_RATES_TABLE, row, first_day=date(2030, 1, row))

    outcome = shop.check()

    assert {f.code for f in outcome.findings} == {"rate-missing"}
    assert {f.job for f in outcome.findings} == {GOOD, BAD}
    assert not outcome.results


def test_a_job_that_lost_its_day_of_opening_gets_the_as_of_day(shop: Shop) -> None:
    """The live rate needs a day; the one filled in is said, with what hangs on it."""
    shop.type_job(2, opened=None)

    outcome = shop.recompute()

    found = only(outcome, "date-filled-in")
    assert (found.severity, found.cell) == (WARNING, shop.cell(JOBS_TABLE, 2, "opened"))
    assert shop.value(JOBS_TABLE, 2, "opened") == 45719
    assert shop.recompute().findings == ()


def test_a_labour_line_without_class_gets_the_usual_one(shop: Shop) -> None:
    """The class is written down, so that the live rate is the one that was computed with."""
    shop.fill(BAD, SPARE, kind="labour", description="Polish", actual=60)

    outcome = shop.recompute()

    assert only(outcome, "class-filled-in").cell == shop.cell(BAD, SPARE, "labour_class")
    assert shop.value(BAD, SPARE, "labour_class") == "bench"
    assert shop.value(BAD, SPARE, "amount") == 100


def test_a_payment_for_no_invoice_counts_for_none(billed: Shop) -> None:
    """The row is named; the invoice of the other payment is as it was."""
    billed.fill(PAYMENTS_TABLE, 2, day=TODAY, invoice="25-0099", amount=5)
    billed.fill(PAYMENTS_TABLE, 3, day=TODAY, amount=5)

    outcome = billed.recompute()

    found = by_code(outcome, "payment-without-invoice")
    assert [(f.severity, f.cell) for f in found] == [
        (WARNING, billed.cell(PAYMENTS_TABLE, 2, "invoice")),
        (WARNING, billed.cell(PAYMENTS_TABLE, 3, "invoice")),
    ]
    assert "'25-0099'" in found[0].what
    assert billed.value(INVOICES_TABLE, 1, "paid") == 10


def test_a_payment_without_date_is_an_error_and_counts(billed: Shop) -> None:
    """The money came in; the live balance counts it, and so do we."""
    billed.fill(PAYMENTS_TABLE, 2, invoice="25-0001", amount=5)

    outcome = billed.recompute()

    assert only(outcome, "date-missing").severity is ERROR
    assert billed.value(INVOICES_TABLE, 1, "paid") == 15


def test_a_formula_for_an_invoice_number_is_said_once(billed: Shop) -> None:
    """One cell, one finding."""
    billed.fill(PAYMENTS_TABLE, 2, day=TODAY, invoice="=A1", amount=5)

    outcome = billed.check()

    assert said(outcome) == [
        ("error", "formula-in-text", "Payments", billed.cell(PAYMENTS_TABLE, 2, "invoice"))
    ]


def test_an_authorisation_for_no_job_is_said(billed: Shop) -> None:
    """A slip in the job number would leave the job without a ceiling, so it is named."""
    billed.fill(AUTHORISATIONS_TABLE, 2, job="25-0200", day=TODAY, amount=5)

    found = only(billed.check(), "authorisation-without-job")

    assert (found.severity, found.cell) == (WARNING, billed.cell(AUTHORISATIONS_TABLE, 2, "job"))


@pytest.mark.parametrize("typed", [{"amount": "lots"}, {"amount": None}, {"day": "soon"}])
def test_a_job_whose_authorisation_cannot_be_read_is_not_billed(
    billed: Shop, typed: dict[str, Typed]
) -> None:
    """Its ceiling is not known then; it is computed, and held back."""
    row = {"job": BAD, "day": TODAY, "amount": 5, **typed}
    billed.fill(AUTHORISATIONS_TABLE, 2, **row)
    billed.type_job(2, state="to invoice")
    billed.fill(BAD, LABOUR, actual=60)
    for line in (10, 11, 12):
        billed.fill(BAD, line, price=1)

    outcome = billed.invoice()

    (found,) = [f for f in outcome.findings if f.severity is ERROR]
    assert (found.sheet, found.job) == ("Authorisations", BAD)
    assert BAD in outcome.results
    assert outcome.invoices == ()


@pytest.mark.parametrize("typed", ["seven", None, 1.5, -1])
def test_a_last_number_that_cannot_be_read_bills_nothing(shop: Shop, typed: Typed) -> None:
    """A number might be given twice; what was typed stays for the owner to mend."""
    shop.decide("shop_last_invoice", typed)
    shop.type_job(1, state="to invoice")

    outcome = shop.invoice()

    assert "'Last invoice'" in only(outcome, "setting-unreadable").what
    assert outcome.invoices == ()
    assert shop.named("shop_last_invoice") == typed


def test_a_last_number_typed_as_text_counts(shop: Shop) -> None:
    """The next invoice gets the number after it."""
    shop.decide("shop_last_invoice", "7")
    shop.type_job(1, state="to invoice")

    assert shop.invoice().invoices == ("25-0008",)
    assert shop.named("shop_last_invoice") == 8


@pytest.mark.parametrize("name", ["shop_last_invoice", "shop_last_job", "shop_tax_number"])
def test_a_cell_of_start_that_is_gone_is_named(shop: Shop, name: str) -> None:
    """Its row was deleted: numbers would begin anew, papers would lack words."""
    snapshot = shop.snapshot()
    names = {key: cell for key, cell in snapshot.names.items() if key != name}

    outcome = work_out(snapshot._replace(names=names), as_of=TODAY)

    found = only(outcome, "setting-unreadable")
    assert (found.severity, "is gone" in found.what) == (ERROR, True)
    assert f"Name a cell {name} again" in found.remedy


def test_an_invoice_number_that_stands_twice_is_an_error(billed: Shop) -> None:
    """Issued rows are not changed by hand; nothing is billed on top of it."""
    billed.type_job(2, state="to invoice")
    billed.fill(BAD, LABOUR, actual=60)
    for line in (10, 11, 12):
        billed.fill(BAD, line, price=1)
    assert billed.invoice().invoices == ("25-0002",)
    billed.fill(INVOICES_TABLE, 2, number="25-0001")
    billed.type_job(3, customer="C. Dorn", item="Rack", state="to invoice")

    outcome = billed.invoice()

    found = only(outcome, "invoice-number-twice")
    assert (found.severity, found.cell) == (ERROR, billed.cell(INVOICES_TABLE, 2, "number"))
    assert "backup" in found.remedy
    assert only(outcome, "nothing-billed")
    assert outcome.invoices == ()


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("subtotal", "the net amount kept is 1.00, its parts come to 136.05"),
        ("tax", "the tax kept is 1.00, its parts come to 20.37"),
        ("total", "the total kept is 1.00, its parts come to 156.42"),
    ],
)
def test_a_kept_sum_that_does_not_add_up_is_told(billed: Shop, key: str, words: str) -> None:
    """A register changed by hand is noticed by every verb, where it was changed."""
    billed.fill(INVOICES_TABLE, 1, **{key: 1})

    said = by_code(billed.check(), "invoice-sum")
    (found,) = [f for f in said if words in f.what]

    assert (found.severity, found.cell) == (WARNING, billed.cell(INVOICES_TABLE, 1, key))


def test_a_row_that_is_gone_from_invoices_bills_nothing_again(billed: Shop) -> None:
    """Its lines and its number in Jobs tell; the number stays there, and nothing is billed."""
    columns = [column.key for column in INVOICES_TABLE.columns]
    billed.fill(INVOICES_TABLE, 1, **dict.fromkeys(columns))
    billed.type_job(2, state="to invoice")

    outcome = billed.invoice()

    found = only(outcome, "invoice-row-missing")
    assert (found.severity, found.cell) == (ERROR, billed.cell(INVOICE_LINES_TABLE, 1, "invoice"))
    assert "25-0001" in found.what
    assert only(outcome, "invoice-gone").cell == billed.cell(JOBS_TABLE, 1, "invoice")
    assert only(outcome, "nothing-billed")
    assert (outcome.invoices, list(outcome.results)) == ((), [BAD])
    assert billed.value(JOBS_TABLE, 1, "invoice") == "25-0001"


def test_a_job_whose_registers_are_gone_is_not_billed_again(billed: Shop) -> None:
    """With both registers deleted its number in Jobs is left to tell; other jobs are billed."""
    for table in (INVOICES_TABLE, INVOICE_LINES_TABLE):
        gone = dict.fromkeys(column.key for column in table.columns)
        billed.fill_rows(table, 1, [gone] * len(billed.grid(table).rows))
    billed.type_job(3, customer="C. Dorn", item="Rack", repair="OIL-PAN", state="to invoice")

    outcome = billed.invoice()

    assert only(outcome, "invoice-gone").job == GOOD
    assert GOOD not in outcome.results
    assert outcome.invoices == ("25-0002",)


def test_broken_wording_of_an_invoice_is_an_error(billed: Shop) -> None:
    """The frozen words are needed to print it again."""
    billed.fill(INVOICES_TABLE, 1, wording="{no json")

    assert only(billed.check(), "invoice-wording").severity is ERROR


@pytest.mark.parametrize("key", ["day", "due", "total"])
def test_a_job_whose_invoice_cannot_be_read_is_left_as_it_is(billed: Shop, key: str) -> None:
    """It is not taken for a job without invoice: nothing of it is computed or billed again."""
    billed.fill(INVOICES_TABLE, 1, **{key: "soon"})
    there = billed.sheet("Jobs").values, billed.sheet(GOOD)

    outcome = billed.invoice()

    assert {f.job for f in outcome.findings if f.severity is ERROR} == {GOOD, ""}
    assert list(outcome.results) == [BAD]
    assert outcome.invoices == ()
    assert (billed.sheet("Jobs").values, billed.sheet(GOOD)) == there


def test_an_unknown_kind_among_issued_lines_is_an_error(billed: Shop) -> None:
    """A register row that cannot be read is named with its cell, and so is its invoice."""
    billed.fill(INVOICE_LINES_TABLE, 1, kind="magic")

    outcome = billed.check()

    assert only(outcome, "invoice-lines-unreadable").job == GOOD
    assert list(outcome.results) == [BAD]
    found = only(outcome, "kind-unknown")

    assert (found.sheet, found.cell) == (
        "Invoice lines", billed.cell(INVOICE_LINES_TABLE, 1, "kind"),
    )  # fmt: skip


def test_a_job_whose_sheet_was_deleted(shop: Shop) -> None:
    """Its row is named; the row's formulas are not touched, the other job is worked out."""
    snapshot = shop.snapshot()
    left = tuple(s for s in snapshot.sheets if s.name != BAD)

    outcome = work_out(snapshot._replace(sheets=left), as_of=TODAY)

    assert said(outcome) == [
        ("error", "job-sheet-missing", "Jobs", shop.cell(JOBS_TABLE, 2, "number"))
    ]
    assert list(outcome.results) == [GOOD]
    assert not [op for op in typed_cells(outcome) if op.sheet == "Jobs"]


@pytest.mark.parametrize("state", ["declined", "void"])
def test_a_job_that_came_to_nothing_may_lose_its_sheet(shop: Shop, state: str) -> None:
    """Nothing is left to compute, so nothing is asked."""
    shop.type_job(2, state=state)
    snapshot = shop.snapshot()
    left = tuple(s for s in snapshot.sheets if s.name != BAD)

    outcome = work_out(snapshot._replace(sheets=left), as_of=TODAY)

    assert outcome.findings == ()
    assert list(outcome.results) == [GOOD]


def test_a_copied_line_gets_a_number_of_its_own(shop: Shop) -> None:
    """The first keeps the number, the copy gets the next one never used, and both count."""
    number = shop.value(BAD, LABOUR, "line_id")
    last = shop.head(BAD, "last_line")
    shop.fill(BAD, LABOUR, actual=30)
    shop.fill(BAD, SPARE, line_id=number, kind="labour", labour_class="bench", actual=60,
              description="Again")  # fmt: skip

    outcome = shop.recompute()

    assert isinstance(last, float)
    assert only(outcome, "line-number-given").severity is NOTE
    assert shop.value(BAD, LABOUR, "line_id") == number
    assert shop.value(BAD, SPARE, "line_id") == last + 1
    assert shop.head(BAD, "last_line") == last + 1
    assert outcome.results[BAD].actual_minutes == 90


def test_a_line_number_is_never_given_again(shop: Shop) -> None:
    """A cleared number is replaced by the next one never used, even if lower ones are free."""
    last = shop.head(BAD, "last_line")
    assert isinstance(last, float)
    rows = range(SPARE, int(last) + 1)
    shop.fill_rows(BAD, SPARE, [{"line_id": None} for _ in rows])
    shop.fill(BAD, SPARE, kind="fee", description="Towing", actual=1, price=5)

    shop.recompute()

    assert shop.value(BAD, SPARE, "line_id") == last + 1


def test_lines_typed_right_under_the_table_are_taken_in(shop: Shop) -> None:
    """They count, get a number, formulas and room below; the table grows."""
    grid = shop.grid(BAD)
    under = grid.table_end - grid.header_row + 1
    shop.fill(BAD, under, kind="labour", labour_class="bench", description="More", actual=60)

    outcome = shop.recompute()

    (grown,) = [op for op in outcome.plan.operations if isinstance(op, GrowTable)]
    assert (grown.sheet, grown.last_row) == (BAD, grid.table_end)
    assert outcome.findings == ()
    assert shop.value(BAD, under, "amount") == 100
    assert shop.value(BAD, under, "line_id") == under
    assert shop.head(BAD, "labour_billed") == 100
    assert shop.grid(BAD).table_end >= grid.table_end + 4
    assert shop.recompute().plan.operations == ()


def test_a_figure_typed_under_a_computed_header_below_the_table_is_named(shop: Shop) -> None:
    """A row under the table may bring figures where formulas go; they are said."""
    grid = shop.grid(BAD)
    under = grid.table_end - grid.header_row + 1
    shop.fill(BAD, under, kind="fee", description="Towing", actual=1, price=5, amount=7)

    outcome = shop.recompute()

    assert "'7'" in only(outcome, "formula-restored").what
    assert shop.value(BAD, under, "amount") == 5


def test_jobs_typed_right_under_the_table_are_taken_in(shop: Shop) -> None:
    """A row under the table of Jobs is a job like any other."""
    grid = shop.grid(JOBS_TABLE)
    under = grid.table_end - grid.header_row + 1
    shop.type_job(under, customer="C. Dorn", item="Rack")

    outcome = shop.recompute()

    assert outcome.opened == ("25-0003",)
    assert shop.value(JOBS_TABLE, under, "number") == "25-0003"
    assert shop.grid(JOBS_TABLE).table_end > grid.table_end


def test_a_full_table_of_jobs_grows_before_it_is_full(shop: Shop) -> None:
    """There are always a few free rows left to type in."""
    grid = shop.grid(JOBS_TABLE)
    last = grid.table_end - grid.header_row
    shop.fill_rows(
        JOBS_TABLE, 3, [{"customer": "C. Dorn", "state": "enquiry"} for _ in range(3, last + 1)]
    )

    shop.recompute()

    assert shop.grid(JOBS_TABLE).table_end >= grid.table_end + 3


def test_a_customer_much_like_another_is_asked_about(shop: Shop) -> None:
    """A near name is taken for a new customer, with a warning; the same in other case is not."""
    shop.type_job(3, customer="R. Caldar", item="Rack")
    shop.type_job(4, customer="ANN BELL", item="Rack")

    outcome = shop.recompute()

    found = only(outcome, "customer-near")
    assert (found.severity, found.cell) == (WARNING, shop.cell(JOBS_TABLE, 3, "customer"))
    assert "'R. Calder'" in found.what
    assert [f.what for f in by_code(outcome, "customer-added")] == [
        "'R. Caldar' was added to Customers"
    ]


def test_a_customer_that_stands_twice_is_said(shop: Shop) -> None:
    """The second row is not used."""
    shop.fill(CUSTOMERS_TABLE, 3, name="ann bell", address="Elsewhere")

    found = only(shop.check(), "customer-twice")

    assert (found.severity, found.cell) == (WARNING, shop.cell(CUSTOMERS_TABLE, 3, "name"))


def test_a_repair_type_with_a_broken_step_is_not_used(shop: Shop) -> None:
    """A job of that type is not opened with half of its lines."""
    shop.fill(REPAIRS_TABLE, 1, likely="often")
    shop.type_job(3, customer="C. Dorn", item="Tank", repair="TANK-WELD")

    outcome = shop.recompute()

    assert only(outcome, "minutes-unreadable").sheet == "Repairs"
    assert only(outcome, "repair-unknown").sheet == "Jobs"
    assert outcome.opened == ()
    assert len(outcome.book.catalogue.repairs) == len(seed().catalogue.repairs) - 1


def test_a_material_known_by_name_brings_its_price(shop: Shop) -> None:
    """Price, unit and cost are written down from the sheet Materials, and said."""
    material = seed().catalogue.materials[0]
    shop.fill(BAD, SPARE, kind="material", description=material.name.upper(), actual=2)

    outcome = shop.recompute()

    assert only(outcome, "price-from-materials").severity is NOTE
    assert shop.value(BAD, SPARE, "price") == float(material.price)
    assert shop.value(BAD, SPARE, "unit") == material.unit
    assert shop.recompute().findings == ()


def test_a_dissolved_register_is_found_by_its_headers(shop: Shop) -> None:
    """A table turned into plain cells is still the register, as long as its headers stand."""
    snapshot = shop.snapshot()
    customers = next(s for s in snapshot.sheets if s.name == "Customers")

    outcome = work_out(
        with_sheet(snapshot, "Customers", customers.replaced(tables=())), as_of=TODAY
    )

    assert only(outcome, "table-restored").sheet == "Customers"
    assert [c.name for c in outcome.book.customers] == ["R. Calder", "Ann Bell"]


def test_a_line_with_nothing_but_a_number_is_no_line(shop: Shop) -> None:
    """Empty, numbered rows are room to type in."""
    lines = next(j for j in shop.parsed().book.jobs if j.number == BAD).lines

    assert len(lines) == 14
    assert all(isinstance(line, Line) and line.kind in Kind for line in lines)
