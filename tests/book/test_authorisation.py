"""What an authorisation allows in the book: by class of object and place, live as computed."""

from datetime import timedelta
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest

from ledger_tools.billing.authorisation import RuleKind
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    JOBS_TABLE,
    TIME_TABLE,
    TOLERANCES_TABLE,
)
from ledger_tools.book.next_year import open_next_year
from ledger_tools.book.parse import parse
from ledger_tools.book.reader import read_content
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import Severity
from tests.book.shop import TODAY, Shop, Typed, by_code, only
from tests.book.test_formulas import differences

D = Decimal
FEE = Line(1, Kind.FEE, "Towing", actual=D(1), price=D("105.00"))


def _shop(tmp_path: Path, rules: str = "us-mi", *, with_tax: bool = True) -> Shop:
    return Shop.new(tmp_path, "us-ca", rules=rules, with_tax=with_tax)


def _allowed(shop: Shop, row: int) -> tuple[object, ...]:
    keys = ("rule", "limit", "counted")
    return tuple(shop.value(AUTHORISATIONS_TABLE, row, key) for key in keys)


def test_the_class_of_the_job_chooses_the_rule(tmp_path: Path) -> None:
    """Ten dollars or ten percent, whichever is less, for a car; ten percent for an appliance."""
    shop = _shop(tmp_path)
    for name in ("Road vehicle", "appliance", ""):
        shop.add(item=name or "Loose tank", authorised="300.00")
    shop.fill_rows(
        JOBS_TABLE, 1, [{"object_class": n} for n in ("Road vehicle", "appliance", None)]
    )

    outcome = shop.recompute()

    assert [r.ceiling for r in outcome.results.values()] == [D(310), D(330), D(300)]
    assert [_allowed(shop, row) for row in (1, 2, 3)] == [
        ("lesser of", 310, "with tax"), ("percent", 330, "with tax"), ("none", 300, "with tax"),
    ]  # fmt: skip
    assert _allowed(shop, 4) == ("", "", "")
    assert shop.value(JOBS_TABLE, 1, "object_class") == "road vehicle"
    assert [shop.value(JOBS_TABLE, row, "ceiling") for row in (1, 2, 3)] == [310, 330, 300]
    assert shop.recompute().plan.operations == ()


def test_within_the_tolerance_a_job_is_billed_and_above_it_is_not(tmp_path: Path) -> None:
    """105 on 100 is within ten percent; the same on an object no rule names is not."""
    shop = _shop(tmp_path)
    for _ in range(2):
        shop.add(lines=(FEE,), state="to invoice", authorised="100.00")
    shop.fill(JOBS_TABLE, 1, object_class="appliance")

    outcome = shop.invoice()

    assert [r.job.number for r in outcome.results.values() if r.invoice] == ["25-0001"]
    found = [f for f in by_code(outcome, "above-ceiling") if f.severity is Severity.ERROR]
    assert [f.job for f in found] == ["25-0002"]


def test_a_strict_shop_sees_nothing_of_it(tmp_path: Path) -> None:
    """No sheet of rules, and the class hidden; the amount authorised is the limit."""
    shop = _shop(tmp_path, "strict")
    shop.add(authorised="300.00")
    shop.recompute()

    book = openpyxl.load_workbook(shop.path)
    letter = book["Jobs"].cell(1, JOBS_TABLE.col("object_class")).column_letter

    assert "Tolerances" not in book.sheetnames
    assert book["Jobs"].column_dimensions[letter].hidden
    assert _allowed(shop, 1) == ("none", 300, "with tax")
    other = openpyxl.load_workbook(_shop(tmp_path).path)
    assert "Tolerances" in other.sheetnames
    assert not other["Jobs"].column_dimensions[letter].hidden


@pytest.mark.libreoffice
@pytest.mark.parametrize("with_tax", [True, False])
def test_libreoffice_agrees_on_every_limit(tmp_path: Path, *, with_tax: bool) -> None:
    """All kinds of rule, before and after a change of rule, half cents, bounds, odd rows."""
    shop = _shop(tmp_path, with_tax=with_tax)
    rules: list[dict[str, Typed]] = [
        {"object_class": kind.value, "kind": kind.value, "share": share, "amount": amount,
         "most": most, "with_tax": counted, "first_day": day}
        for kind, share, amount, most, counted, day in (
            (RuleKind.PERCENT, 0.075, None, None, "no", None),
            (RuleKind.LESSER, 0.1, 10.0, None, "yes", None),
            (RuleKind.GREATER, 0.1, 10.0, 50.0, None, None),
            (RuleKind.GREATER, 0.2, 12.5, None, "no", TODAY),
            (RuleKind.NONE, None, None, None, "yes", None),
            (RuleKind.MAXIMUM, None, None, None, None, None),
        )
    ]  # fmt: skip
    shop.fill_rows(TOLERANCES_TABLE, 3, rules)
    days = (TODAY - timedelta(1), TODAY, TODAY + timedelta(1))
    given: list[dict[str, Typed]] = []
    for count, kind in enumerate((*RuleKind, "no such class", ""), 1):
        shop.add(item=str(kind), lines=(FEE,), authorised="80.05")
        shop.fill(JOBS_TABLE, count, object_class=str(kind).upper() or None)
        given += [
            {"job": f"25-{count:04}", "day": day, "amount": amount}
            for day, amount in zip(days, (33.33, 87.77, 640.0), strict=True)
        ]
    given += [
        {"job": "25-0099", "day": TODAY, "amount": 5.0},
        {"job": "25-0001", "day": None, "amount": 5.0},
        {"job": "25-0001", "day": TODAY, "amount": None},
    ]
    shop.fill_rows(AUTHORISATIONS_TABLE, 8, given)

    outcome = shop.recompute()

    limits = {str(r.ceiling) for r in outcome.results.values()}
    assert limits == {"640.00", "650.00", "688.00", "768.00"}
    assert {_allowed(shop, row)[2] for row in range(1, 28)} == {"net", "with tax"}
    assert _allowed(shop, 29) == ("none", 5, "with tax" if with_tax else "net")
    assert _allowed(shop, 30) == _allowed(shop, 31) == ("", "", "")
    assert differences(shop.path, tmp_path) == []
    assert shop.recompute().plan.operations == ()


def test_a_rule_may_say_whether_tax_counts(tmp_path: Path) -> None:
    """97.60 net is 104.68 with tax: above a hundred only where tax counts."""
    part = Line(1, Kind.PART, "Core", actual=D(1), price=D("97.60"))
    shop = _shop(tmp_path)
    shop.fill_rows(
        TOLERANCES_TABLE, 3,
        [{"object_class": word, "kind": "none", "with_tax": word} for word in ("yes", "no")],
    )  # fmt: skip
    for row, word in enumerate(("yes", "no"), 1):
        shop.add(lines=(part,), state="to invoice", authorised="100.00")
        shop.fill(JOBS_TABLE, row, object_class=word)

    outcome = shop.recompute()

    assert [r.flag for r in outcome.results.values()] == ["above ceiling", ""]
    assert [r.held_against for r in outcome.results.values()] == [D("104.68"), D("97.60")]
    assert "104.68 with tax" in only(outcome, "above-ceiling").what


@pytest.mark.parametrize(
    ("typed", "code", "key"),
    [
        ({"object_class": None}, "class-missing", "object_class"),
        ({"kind": None}, "rule-missing", "kind"),
        ({"kind": "about"}, "rule-unknown", "kind"),
        ({"share": None}, "rule-incomplete", "share"),
        ({"amount": None}, "rule-incomplete", "amount"),
        ({"share": -0.1}, "negative-number", "share"),
        ({"object_class": "appliance"}, "rule-twice", "object_class"),
        ({"with_tax": "perhaps"}, "yes-or-no", "with_tax"),
        ({"first_day": "once"}, "date-unreadable", "first_day"),
    ],
    ids=lambda value: value if isinstance(value, str) else None,
)
def test_a_rule_that_cannot_be_read_allows_nothing(
    tmp_path: Path, typed: dict[str, Typed], code: str, key: str
) -> None:
    """It is named with its cell; the object is held to the amount."""
    shop = _shop(tmp_path)
    rule: dict[str, Typed] = {
        "object_class": "boat",
        "kind": "lesser of",
        "share": 0.1,
        "amount": 5.0,
    }
    shop.fill(TOLERANCES_TABLE, 3, **(rule | typed))
    shop.add(authorised="100.00")
    shop.fill(JOBS_TABLE, 1, object_class="boat")

    outcome = shop.check()

    found = only(outcome, code)
    assert (found.severity, found.sheet) == (Severity.ERROR, "Tolerances")
    assert found.cell == shop.cell(TOLERANCES_TABLE, 3, key)
    assert shop.parsed().book.tolerances == shop.parsed().book.tolerances[:2]


def test_a_class_that_no_rule_names_is_said(tmp_path: Path) -> None:
    """It is kept as typed, and allows nothing above what was authorised."""
    shop = _shop(tmp_path)
    shop.add(authorised="100.00")
    shop.fill(JOBS_TABLE, 1, object_class="rocket")

    outcome = shop.recompute()

    found = only(outcome, "object-class-unknown")
    assert (found.severity, found.cell) == (
        Severity.WARNING, shop.cell(JOBS_TABLE, 1, "object_class"),
    )  # fmt: skip
    assert "road vehicle, appliance" in found.remedy
    assert outcome.results["25-0001"].ceiling == 100
    assert shop.value(JOBS_TABLE, 1, "object_class") == "rocket"


def test_a_lower_authorisation_is_said(tmp_path: Path) -> None:
    """Whoever types the addition means more than stands there; the higher amount stays."""
    shop = _shop(tmp_path)
    shop.add(authorised="300.00")
    shop.fill(AUTHORISATIONS_TABLE, 2, job="25-0001", day=TODAY + timedelta(1), amount=120.0)

    outcome = shop.check()

    found = only(outcome, "authorisation-lower")
    assert found.cell == shop.cell(AUTHORISATIONS_TABLE, 2, "amount")
    assert "the 300 authorised on 2025-03-03" in found.what
    assert outcome.results["25-0001"].ceiling == 300


def test_nothing_is_billed_on_a_lower_authorisation(tmp_path: Path) -> None:
    """Nobody can say which is meant; other jobs go out, and a billed one is warned of."""
    shop = _shop(tmp_path)
    for _ in range(2):
        shop.add(lines=(FEE,), state="to invoice", authorised="300.00")
    shop.fill(AUTHORISATIONS_TABLE, 3, job="25-0001", day=TODAY, amount=120.0)

    outcome = shop.invoice()

    assert [r.job.number for r in outcome.results.values() if r.invoice] == ["25-0002"]
    assert only(outcome, "authorisation-lower").severity is Severity.ERROR
    shop.fill(AUTHORISATIONS_TABLE, 3, job="25-0002")
    assert only(shop.check(), "authorisation-lower").severity is Severity.WARNING


@pytest.mark.parametrize(
    ("worked", "consent", "billed"),
    [(-2, -3, True), (-2, -2, True), (-2, -1, False), (None, 0, True), (None, 1, False)],
)
def test_consent_dated_after_the_work_holds_the_job(
    tmp_path: Path, worked: int | None, consent: int, *, billed: bool
) -> None:
    """On the day of the last work it may have come before it; the day after it did not.

    Where no day of work is kept, the day of the invoice stands for it.
    """
    shop = _shop(tmp_path)
    labour = Line(1, Kind.LABOUR, "Weld", actual=None if worked else D(60), price=D(90))
    shop.add(lines=(labour,), state="to invoice")
    if worked:
        shop.decide("shop_keep_time", "yes")
        shop.recompute()
        day = TODAY + timedelta(worked)
        shop.fill(TIME_TABLE, 1, day=day, who="A", job="25-0001", line_id=1.0, minutes=60.0)
    first = shop.add(item="Other", authorised="10.00")
    shop.fill(AUTHORISATIONS_TABLE, 2, job="25-0001", day=TODAY + timedelta(consent), amount=500.0)

    outcome = shop.invoice()

    assert first == "25-0002"
    assert bool(outcome.invoices) is billed, [str(f) for f in outcome.findings]
    found = by_code(outcome, "authorisation-late")
    assert [(f.severity, f.cell) for f in found] == (
        [] if billed else [(Severity.ERROR, shop.cell(AUTHORISATIONS_TABLE, 2, "day"))]
    )


def test_an_authorisation_given_after_the_invoice_is_said(tmp_path: Path) -> None:
    """On the day of the invoice it still may have been before it."""
    shop = _shop(tmp_path)
    shop.add(lines=(FEE,), state="to invoice", authorised="300.00")
    shop.invoice()
    assert by_code(shop.check(), "authorisation-late") == []
    shop.fill(AUTHORISATIONS_TABLE, 2, job="25-0001", day=TODAY + timedelta(1), amount=320.0)

    found = only(shop.check(), "authorisation-late")

    assert found.cell == shop.cell(AUTHORISATIONS_TABLE, 2, "day")
    assert "invoice 25-0001 of 2025-03-03" in found.what


def test_the_next_year_has_the_same_rules(tmp_path: Path) -> None:
    """With classes and limits of the jobs that are open."""
    shop = _shop(tmp_path)
    shop.add(authorised="300.00")
    shop.fill(JOBS_TABLE, 1, object_class="road vehicle")
    shop.recompute()

    made = open_next_year(shop.session().read, "new.xlsx", as_of=TODAY, year=2026)

    assert [f for f in made.findings if f.severity is Severity.ERROR] == []
    assert ("Tolerances", True) in {(check.what, check.same) for check in made.checks}
    book = parse(read_content(made.content, "new.xlsx"), as_of=TODAY).book
    assert [rule.object_class for rule in book.tolerances] == ["road vehicle", "appliance"]
    assert made.outcome.results["25-0001"].ceiling == 310
