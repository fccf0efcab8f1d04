"""The sheet `Options`: what is typed and computed, what is said of it, what a choice leaves."""

from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from ledger_tools.book.layout import AUTHORISATIONS_TABLE, PAYMENTS_TABLE
from ledger_tools.book.next_year import open_next_year
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.reader import read_content
from ledger_tools.book.registers import ESTIMATES_TABLE
from ledger_tools.book.work import Outcome, work_out
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import Severity
from ledger_tools.shop.options import offers_of
from ledger_tools.shop.plan import Content
from ledger_tools.shop.promise import write_estimates
from tests.book.closing import archive
from tests.book.shop import TODAY, Shop, Typed, by_code, only
from tests.book.test_formulas import differences

D = Decimal
JOB, OTHER = "25-0001", "25-0002"
LINES = (
    Line(1, Kind.LABOUR, "Weld seam", estimate=D(98), price=D(100)),
    Line(2, Kind.SUBLET, "Seal", estimate=D(1), price=D("84.50"), vendor="Harbour Coatings"),
)
TOTAL = 281.12
"""By hand: 160 + 84.50, 5 % of it 12.225, 9.975 % of it 24.388..."""
WELD: dict[str, Typed] = {
    "job": JOB, "option": "A", "kind": "weld and reseal", "description": "Weld the seam, seal",
    "sublet": 84.5, "lead_days": 6, "guarantee": 90, "chance": 0.15, "come_back": 240,
    "advised": "yes",
}  # fmt: skip
NEW: dict[str, Typed] = {
    "job": JOB, "option": "B", "kind": "replace new", "price": 640, "lead_days": 21, "chance": 0,
}  # fmt: skip
LEAVE: dict[str, Typed] = {"job": JOB, "option": "C", "kind": "refuse"}
COMPUTED = ("comes_to", "expected", "share", "rule", "stands")


@pytest.fixture(scope="module")
def offering(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a book with two jobs, the first with three options."""
    shop = Shop.new(tmp_path_factory.mktemp("offering"), "ca-qc")
    for customer in ("Ann Bell", "R. Calder"):
        shop.add(customer=customer, lines=LINES)
    shop.decide("shop_offer_options", "yes")
    shop.decide("shop_repair_below", 50)
    shop.recompute()
    shop.fill_rows(OPTIONS_TABLE, 1, [WELD, NEW, LEAVE])
    shop.recompute()
    return shop.path.read_bytes()


@pytest.fixture
def shop(tmp_path: Path, offering: bytes) -> Shop:
    """Return a shop of its own with that book."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(offering)
    return Shop(path)


def estimate(shop: Shop, *named: str) -> Outcome:
    """Write the estimates that wait and save the book."""
    session = shop.session()
    outcome = work_out(
        session.snapshot,
        as_of=shop.today,
        promise=lambda results, book: write_estimates(
            results, book, lambda *_: {"shop_name": "Ferrow"}, named=named
        ),
    )
    session.save(outcome)
    return outcome


def accept(shop: Shop, option: str | None, **more: Typed) -> None:
    """Type that the first estimate is accepted."""
    typed: dict[str, Typed] = {
        "accepted_on": TODAY, "accepted_by": "Ann Bell", "accepted_how": "telephone",
    }  # fmt: skip
    shop.fill(ESTIMATES_TABLE, 1, **{**typed, "accepted_option": option, **more})


def shown(shop: Shop, row: int, *keys: str) -> list[Any]:
    """Return what cells of a row of `Options` show."""
    return [shop.value(OPTIONS_TABLE, row, key) for key in keys]


def test_the_sheet_comes_when_the_shop_wants_it(tmp_path: Path) -> None:
    """No sheet by default; yes on Start makes it, once; no takes none away."""
    shop = Shop.new(tmp_path)
    shop.recompute()
    assert "Options" not in {sheet.name for sheet in shop.snapshot().sheets}

    shop.decide("shop_offer_options", "yes")
    shop.recompute()
    assert shop.recompute().plan.operations == ()

    shop.decide("shop_offer_options", "no")
    shop.recompute()
    assert [sheet.name for sheet in shop.snapshot().sheets].count("Options") == 1


def test_every_option_is_weighed_live(shop: Shop) -> None:
    """281.12 + 0.15 x 240 is 317.12; 281.12 is 43.93 % of 640, below the shop's 50."""
    assert shown(shop, 1, *COMPUTED) == [TOTAL, 317.12, 0.4393, "repair", "open"]
    assert shown(shop, 2, *COMPUTED) == [640, 640, 1, "", "open"]
    assert shown(shop, 3, *COMPUTED) == [0, "", "", "", "open"]
    assert shown(shop, 4, *COMPUTED) == ["", "", "", "", ""]
    assert shop.check().findings == ()
    assert shop.recompute().plan.operations == ()


def test_an_empty_price_follows_the_lines(shop: Shop) -> None:
    """Before tax where Start says so; the column of the owner stays empty."""
    shop.fill(JOB, 1, estimate=30)
    shop.decide("shop_authorised_with_tax", "no")

    shop.recompute()

    assert shown(shop, 1, "price", "comes_to") == [None, 134.5]


@pytest.mark.parametrize(
    ("row", "key", "typed", "code", "severity"),
    [
        (1, "kind", "solder", "option-kind-unknown", Severity.ERROR),
        (1, "kind", None, "option-kind-missing", Severity.ERROR),
        (1, "chance", 1.01, "option-chance", Severity.ERROR),
        (1, "chance", 15, "option-chance", Severity.ERROR),
        (1, "chance", "often", "not-a-number", Severity.ERROR),
        (1, "chance", -0.1, "negative-number", Severity.ERROR),
        (2, "price", "abc", "not-a-number", Severity.ERROR),
        (2, "price", -640, "negative-number", Severity.ERROR),
        (1, "lead_days", 1.5, "option-days", Severity.ERROR),
        (1, "description", "=A1&B1", "formula-in-text", Severity.ERROR),
        (1, "guarantee", "=1+1", "formula-in-text", Severity.ERROR),
        (2, "option", "a", "option-twice", Severity.ERROR),
        (2, "option", None, "option-missing", Severity.ERROR),
        (1, "job", None, "job-missing", Severity.ERROR),
        (1, "advised", "perhaps", "yes-or-no", Severity.ERROR),
        (1, "chosen_by", "Ann", "choice-undated", Severity.ERROR),
        (1, "chosen_on", "soon", "date-unreadable", Severity.ERROR),
        (1, "chosen_how", "owl", "reached-unknown", Severity.ERROR),
        (2, "advised", "Yes", "advised-twice", Severity.WARNING),
        (2, "sublet", 641, "option-sublet", Severity.WARNING),
        (1, "sublet", 281.13, "option-sublet", Severity.WARNING),
        (3, "job", "25-0009", "option-without-job", Severity.WARNING),
    ],
)
def test_what_cannot_be_is_named_at_its_cell(  # noqa: PLR0913, PLR0917 - parts of a case
    shop: Shop, row: int, key: str, typed: Typed, code: str, severity: Severity
) -> None:
    """Sheet, cell and a remedy; the job is not estimated where it is an error."""
    shop.fill(OPTIONS_TABLE, row, **{key: typed})

    found = by_code(estimate(shop, JOB), code)

    at = {f.cell for f in found if f.sheet == "Options"}
    expected = {"choice-undated": "chosen_on"}.get(code, key)
    assert shop.cell(OPTIONS_TABLE, row, expected) in at
    assert all(f.remedy and f.severity is severity for f in found)
    held = severity is Severity.ERROR and code != "job-missing"
    assert (NUMBER in shop.parsed().book.estimates) is not held


NUMBER = f"{JOB}/1"


@pytest.mark.parametrize("chance", [0, 1])
def test_a_chance_is_from_none_to_certain(shop: Shop, chance: int) -> None:
    """Both bounds are chances."""
    shop.fill(OPTIONS_TABLE, 1, chance=chance)

    assert by_code(shop.recompute(), "option-chance") == []
    assert shown(shop, 1, "expected") == [round(TOTAL + chance * 240, 2)]


def test_words_are_read_kindly(shop: Shop) -> None:
    """Other capitals and numbers as letters are put back; a bare number of days is a guarantee."""
    shop.fill(OPTIONS_TABLE, 2, kind="Replace New", option=2, price="640.00")

    outcome = shop.recompute()

    assert {f.code for f in outcome.findings} == {"words-read", "number-read"}
    assert shown(shop, 2, "kind", "option", "price") == ["replace new", "2", 640]
    (result,) = [r for n, r in outcome.results.items() if n == JOB]
    assert [o.guarantee for o in offers_of(result, outcome.book) if o.option == "A"] == ["90"]


def test_an_acceptance_with_an_option_is_recorded_and_authorised(shop: Shop) -> None:
    """Day, who and how beside the option, its printed price authorised; against advice is said."""
    estimate(shop, JOB)
    accept(shop, "b")

    outcome = shop.recompute()

    assert shown(shop, 2, "chosen_by", "chosen_how", "stands") == [
        "Ann Bell", "telephone", "chosen against advice",
    ]  # fmt: skip
    assert shown(shop, 1, "price", "stands") == [TOTAL, "not chosen"]
    assert shown(shop, 3, "price", "stands") == [None, "not chosen"]
    given = [shop.value(AUTHORISATIONS_TABLE, 1, key) for key in ("amount", "who", "scope")]
    assert given == [640, "Ann Bell", f"Estimate {NUMBER} option B"]
    assert outcome.results[JOB].ceiling == D(640)
    again = shop.recompute()
    assert again.plan.operations == ()
    assert {f.code for f in again.findings} == {"estimate-accepted", "chosen-against-advice"}
    said = only(again, "chosen-against-advice")
    assert (said.sheet, said.cell) == ("Options", shop.cell(OPTIONS_TABLE, 2, "stands"))
    assert "option B is chosen, A was advised" in said.what


def test_the_advised_option_is_chosen_without_a_word(shop: Shop) -> None:
    """Its price is that of the lines, which the estimate said."""
    estimate(shop, JOB)
    accept(shop, "A")

    outcome = shop.recompute()

    assert shown(shop, 1, "stands", "price") == ["chosen", TOTAL]
    assert outcome.results[JOB].ceiling == D(str(TOTAL))
    assert by_code(outcome, "chosen-against-advice") == []


@pytest.mark.parametrize(
    ("option", "code"), [(None, "option-unnamed"), ("X", "option-not-offered")]
)
def test_an_acceptance_that_names_no_option_of_it_writes_nothing(
    shop: Shop, option: str | None, code: str
) -> None:
    """The error stands at the acceptance; neither choice nor authorisation is written."""
    estimate(shop, JOB)
    accept(shop, option)

    outcome = shop.recompute()

    said = only(outcome, code)
    cell = shop.cell(ESTIMATES_TABLE, 1, "accepted_on")
    assert (said.severity, said.sheet, said.cell) == (Severity.ERROR, "Estimates", cell)
    assert outcome.results[JOB].ceiling is None
    assert shown(shop, 1, "chosen_on", "stands") == [None, "open"]


def test_an_option_typed_beside_no_day_asks_for_the_day(shop: Shop) -> None:
    """As who and how do."""
    estimate(shop, JOB)
    accept(shop, "A", accepted_on=None, accepted_by=None, accepted_how=None)

    assert only(shop.recompute(), "acceptance-undated").severity is Severity.ERROR


def test_the_choice_to_leave_it_authorises_nothing(shop: Shop) -> None:
    """It stands on record, and the job can be declined."""
    estimate(shop, JOB)
    accept(shop, "C")

    outcome = shop.recompute()

    assert outcome.results[JOB].ceiling is None
    assert shown(shop, 3, "stands", "price") == ["chosen against advice", None]
    assert only(outcome, "option-refused").severity is Severity.NOTE
    shop.type_job(1, state="declined")
    assert shop.recompute().findings == ()


def test_a_choice_that_changes_later_is_named_and_nothing_overwritten(shop: Shop) -> None:
    """Neither day nor option of the first choice goes, nor its price."""
    estimate(shop, JOB)
    accept(shop, "B")
    shop.recompute()
    before = [shown(shop, row, "price", "chosen_on", "chosen_by", "stands") for row in (1, 2, 3)]

    accept(shop, "A", accepted_on=date(2025, 3, 4))
    outcome = shop.recompute()

    assert only(outcome, "choice-changed").severity is Severity.WARNING
    after = [shown(shop, row, "price", "chosen_on", "chosen_by", "stands") for row in (1, 2, 3)]
    assert after == before
    assert outcome.results[JOB].ceiling == D(640)


def test_blanks_and_what_is_no_day_are_no_choice(shop: Shop) -> None:
    """A blank in a cell is nothing; a day that cannot be read is an error, and nobody chose."""
    shop.fill(OPTIONS_TABLE, 1, price=" ", chosen_on=" ")
    shop.fill(OPTIONS_TABLE, 2, chosen_on="soon")
    shop.recompute()
    assert [shown(shop, row, "comes_to", "stands") for row in (1, 2)] == [
        [TOTAL, "open"], [640, "open"],
    ]  # fmt: skip

    shop.fill(OPTIONS_TABLE, 2, chosen_on=TODAY)
    shop.recompute()

    assert shown(shop, 1, "price", "stands") == [TOTAL, "not chosen"]
    assert shop.recompute().plan.operations == ()


def test_two_choices_typed_by_hand_are_named(shop: Shop) -> None:
    """At the second one."""
    for row in (1, 2):
        shop.fill(OPTIONS_TABLE, row, chosen_on=TODAY, chosen_by="Ann", chosen_how="mail")

    said = only(shop.recompute(), "chosen-twice")

    assert said.cell == shop.cell(OPTIONS_TABLE, 2, "chosen_on")


def test_what_the_tools_computed_is_put_back(shop: Shop) -> None:
    """A figure typed over a formula is named and goes."""
    shop.fill(OPTIONS_TABLE, 1, expected=1)

    assert only(shop.recompute(), "formula-restored").cell == shop.cell(
        OPTIONS_TABLE, 1, "expected"
    )
    assert shown(shop, 1, "expected") == [317.12]


def test_a_formula_of_the_owner_s_for_a_price_stays(shop: Shop) -> None:
    """What it shows is the price; a choice fills in empty cells and no other."""
    shop.fill(OPTIONS_TABLE, 2, price=Content(640.0, "600+40"))
    shop.fill(OPTIONS_TABLE, 1, chosen_on=TODAY, chosen_by="Ann", chosen_how="mail")

    shop.recompute()

    sheet, place = shop.sheet("Options"), shop.grid(OPTIONS_TABLE)
    assert sheet.formulas[place.header_row + 2, place.columns["price"]] == "600+40"
    assert shown(shop, 2, "comes_to") == [640]
    assert shown(shop, 1, "price") == [TOTAL]


def test_another_job_opened_changes_no_option(shop: Shop) -> None:
    """Only what is of the new job is written."""
    shop.add()

    assert shop.recompute().plan.operations == ()
    assert shown(shop, 1, *COMPUTED) == [TOTAL, 317.12, 0.4393, "repair", "open"]


def test_rows_typed_below_the_table_are_taken_in(shop: Shop) -> None:
    """The table grows, and rows for more are ready with their formulas."""
    end = shop.grid(OPTIONS_TABLE).table_end - shop.grid(OPTIONS_TABLE).header_row
    shop.fill(OPTIONS_TABLE, end + 1, job=OTHER, option="A", kind="replace used", price=99)

    shop.recompute()

    assert shown(shop, end + 1, "comes_to", "stands") == [99, "open"]
    assert shop.grid(OPTIONS_TABLE).table_end > shop.grid(OPTIONS_TABLE).header_row + end + 1
    assert shop.recompute().plan.operations == ()


def test_wording_that_was_tampered_with_is_an_error(shop: Shop) -> None:
    """The job gets no estimate and no authorisation from it."""
    estimate(shop, JOB)
    said = str(shop.value(ESTIMATES_TABLE, 1, "wording"))
    shop.fill(ESTIMATES_TABLE, 1, wording=said.replace('\\"price\\": \\"640', '\\"price\\": \\"x'))
    accept(shop, "B")

    outcome = shop.recompute()

    assert only(outcome, "estimate-wording").cell == shop.cell(ESTIMATES_TABLE, 1, "wording")
    assert outcome.results[JOB].ceiling is None


def _billed(shop: Shop) -> None:
    shop.type_job(1, state="to invoice")
    shop.fill(JOB, 1, actual=98)
    invoice = next(iter(shop.invoice(JOB).book.invoices.values()))
    shop.fill(PAYMENTS_TABLE, 1, day=TODAY, invoice=invoice.number, amount=invoice.total)
    shop.recompute()


def test_archived_jobs_keep_their_options(shop: Shop) -> None:
    """The sheet goes, the rows stay with the price that was offered, and no figure changes."""
    estimate(shop, JOB)
    accept(shop, "A")
    shop.recompute()
    _billed(shop)
    before = [shown(shop, row, *COMPUTED) for row in (1, 2, 3)]

    archiving = archive(shop, JOB)

    assert archiving.book, archiving
    outcome = shop.recompute()
    assert outcome.results[JOB].job.archived
    assert [shown(shop, row, *COMPUTED) for row in (1, 2, 3)] == before
    assert [f.code for f in outcome.findings] == []


def test_an_open_choice_is_archived_at_its_price_of_then(shop: Shop) -> None:
    """Nobody chose, the work was billed all the same: what was offered is kept."""
    _billed(shop)
    assert shown(shop, 1, "price", "stands") == [TOTAL, "open"]

    archive(shop, JOB)

    assert shown(shop, 1, *COMPUTED) == [TOTAL, 317.12, 0.4393, "repair", "open"]


def test_the_next_year_takes_the_options_of_open_jobs(shop: Shop) -> None:
    """With the choice made on them; those of billed jobs stay in their year."""
    estimate(shop, JOB)
    accept(shop, "B")
    shop.fill_rows(
        OPTIONS_TABLE, 4, [{"job": OTHER, "option": "A", "kind": "line", "price": 5, "chance": 0}]
    )
    shop.recompute()
    shop.type_job(2, state="to invoice")
    shop.fill(OTHER, 1, actual=98)
    shop.invoice(OTHER)

    made = open_next_year(shop.session().read, "next.xlsx", as_of=TODAY, year=2026)

    assert all(check.same for check in made.checks)
    old = shop.parsed().book.options
    new = work_out(read_content(made.content, "next.xlsx"), as_of=date(2026, 1, 5))
    assert [(o.option, o.price, o.chosen, o.advised) for o in new.book.options] == [
        (o.option, o.price, o.chosen, o.advised) for o in old if o.job == JOB
    ]
    assert {f.code for f in new.findings} == {"estimate-accepted", "chosen-against-advice"}
    assert new.results[JOB].ceiling == D(640)


def _crowded(shop: Shop) -> None:
    """Type options of every sort: other jobs, other capitals, gaps, prices that are none."""
    kinds = ("weld and reseal", "line", "replace used", "replace reconditioned", "replace new")
    rows: list[dict[str, Typed]] = [
        {
            "job": OTHER, "option": letter, "kind": kind, "price": price, "chance": chance,
            "come_back": cost, "advised": "yes" if letter == "C" else None,
        }
        for letter, kind, price, chance, cost in zip(
            "ABCDE", kinds, (None, 0.125, 320, "abc", 319.99), (0.005, 1, 0, 0.5, None),
            (1, 0.1, None, 7, 7), strict=True,
        )
    ]  # fmt: skip
    rows += [
        {"job": "25-0009", "option": "A", "kind": "replace new", "chance": 0},
        {"job": OTHER, "kind": "refuse", "price": 35, "chance": 0.2, "come_back": 90},
        {"option": "F", "kind": "line", "price": 10, "chance": 2, "come_back": 5},
        {"job": OTHER, "option": "I", "kind": "replace new", "price": 400, "chance": 0},
        {"job": OTHER, "option": "G", "price": 10, "chance": 0.1, "come_back": -5},
        {"job": JOB, "option": "H", "kind": "refuse", "chosen_on": TODAY},
        {"job": OTHER, "option": "J", "kind": "line", "price": " ", "chosen_on": " "},
        {"job": OTHER, "option": "K", "kind": "line", "price": 1, "chosen_on": "soon"},
        {"job": OTHER, "option": "L", "kind": "line", "price": 1, "chosen_on": 7},
    ]
    for at, row in enumerate(rows, 4):
        shop.fill(OPTIONS_TABLE, at, **{k: v for k, v in row.items() if v is not None})


@pytest.mark.libreoffice
@pytest.mark.parametrize("with_tax", ["yes", "no"])
def test_libreoffice_weighs_every_option_the_same(
    shop: Shop, tmp_path: Path, with_tax: str
) -> None:
    """Prices, expected costs, shares, rules and standings of a whole book, errors among them."""
    shop.decide("shop_authorised_with_tax", with_tax)
    estimate(shop, JOB)
    _crowded(shop)
    shop.recompute()

    assert shown(shop, 1, "stands", "comes_to") != [None, None]
    assert [shown(shop, row, "stands")[0] for row in (1, 4, 9, 14)] == [
        "not chosen", "open", "open", "chosen against advice",
    ]  # fmt: skip
    assert differences(shop.path, tmp_path) == []
