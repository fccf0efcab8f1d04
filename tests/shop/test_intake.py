"""Opening a job: its number, its lines from the catalogue, its customer."""

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest

from ledger_tools.costing.catalogue import Material, Operation, RepairType
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import UnknownClassError, UnknownRepairError
from ledger_tools.shop.intake import (
    draft_job,
    first_authorisation,
    fitted,
    highest_job,
    known_repair,
    lines_of,
    near_match,
    new_customers,
    open_jobs,
    price_of,
    stocked,
    waiting_jobs,
)
from ledger_tools.shop.model import Customer, Job, ShopBook
from tests.shop.examples import TODAY, book_of, decided, job_of

D = Decimal
TANK = RepairType(
    "TANK",
    "Tank",
    (
        Operation(Kind.LABOUR, "Weld", "welding", 20, 35, 75, hot_work=True),
        Operation(Kind.LABOUR, "Clean", "", 10, 15, 20, tax_class="zero"),
        Operation(
            Kind.SUBLET, "Line", quantity=D(1), unit="job", cost=D(140), markup=D("0.2"),
            vendor="Liner",
        ),
        Operation(Kind.FEE, "Disposal", quantity=D(1), price=D(18), cost=D(5)),
        Operation(Kind.PART, "Seal"),
    ),
)  # fmt: skip


def typed(row: int, **more: object) -> Job:
    """Return a row typed in Jobs, without number."""
    job = replace(job_of(state="estimated"), number="", row=row)
    return replace(job, **more)  # type: ignore[arg-type]


def book(*jobs: Job) -> ShopBook:
    """Return a book with one repair type."""
    shop = book_of("ca-qc", *jobs)
    return replace(shop, catalogue=shop.catalogue._replace(repairs=(TANK,)))


def test_lines_come_from_the_catalogue_in_working_order() -> None:
    """Standard minutes are the estimate, cost with markup the price, an empty class the usual."""
    weld, clean, lining, fee, seal = lines_of(TANK, "bench")

    assert (weld.line_id, weld.estimate, weld.unit, weld.labour_class) == (
        1, D(35), "min", "welding",
    )  # fmt: skip
    assert (weld.price, weld.actual) == (None, None)
    assert (clean.labour_class, clean.tax_class) == ("bench", "zero")
    assert (lining.estimate, lining.price, lining.vendor) == (D(1), D(168), "Liner")
    assert lining.labour_class == ""
    assert (fee.price, fee.cost) == (D(18), D(5))
    assert (seal.line_id, seal.estimate, seal.price) == (5, None, None)


@pytest.mark.parametrize(
    ("price", "cost", "markup", "expected"),
    [
        ("18", "5", "0.2", "18"),
        ("0", "5", "0.2", "0"),
        (None, "140", "0.20", "168"),
        (None, "140", None, "140"),
        (None, "0.0335", "0.5", "0.05025"),
        (None, None, "0.2", None),
    ],
)
def test_a_price_wins_over_cost_and_markup(
    price: str | None, cost: str | None, markup: str | None, expected: str | None
) -> None:
    """A unit price is never rounded; without price and cost there is none."""
    values = (None if v is None else D(v) for v in (price, cost, markup))

    assert price_of(*values) == (None if expected is None else D(expected))


def test_jobs_are_numbered_in_the_order_of_their_rows() -> None:
    """After the highest number ever given, with the year the job was opened in."""
    rows = (typed(5, opened=date(2024, 12, 30)), job_of(number="25-0003"), typed(7), typed(8))

    opened = open_jobs(book(*rows))

    assert [job.number for job in opened.jobs] == ["24-0004", "25-0003", "25-0005", "25-0006"]
    assert opened.last_job == 6


def test_a_number_once_given_is_never_given_again() -> None:
    """The book remembers the last one, though its row be gone."""
    shop = replace(book(typed(5)), last_job=41)

    assert open_jobs(shop).jobs[0].number == "25-0042"
    assert highest_job(replace(book(job_of(number="25-0099")), last_job=41)) == 99
    assert highest_job(replace(book(job_of(number="old job")), last_job=41)) == 41
    assert highest_job(book()) == 0


@pytest.mark.parametrize("more", [{"state": "enquiry"}, {"unreadable": True}])
def test_an_enquiry_or_an_unreadable_row_gets_no_number(more: dict[str, object]) -> None:
    """The row below gets the next one."""
    opened = open_jobs(book(typed(5, **more), typed(6)))

    assert [job.number for job in opened.jobs] == ["", "25-0001"]


def test_typed_rows_can_be_left_waiting() -> None:
    """add-job numbers its own job and counts the others."""
    shop = book(typed(5), typed(6, state="enquiry"), typed(0))

    opened = open_jobs(shop, drafts_only=True)

    assert [job.number for job in opened.jobs] == ["", "", "25-0001"]
    assert waiting_jobs(book(typed(5), typed(6, state="enquiry"), job_of())) == 1


def test_an_opened_job_has_the_lines_of_its_repair_type() -> None:
    """However the code is cased; without repair type it has none."""
    with_type, without = open_jobs(book(typed(5, repair="tank"), typed(6))).jobs

    assert (with_type.repair, len(with_type.lines), with_type.last_line_id) == ("TANK", 5, 5)
    assert (without.lines, without.last_line_id) == ((), 0)


def test_own_lines_stand_instead_of_those_of_the_repair_type() -> None:
    """A file of lines is the whole job."""
    line = Line(1, Kind.FEE, "Towing")

    (opened,) = open_jobs(book(typed(5, repair="TANK", lines=(line,)))).jobs

    assert (opened.lines, opened.repair) == ((line,), "TANK")


def test_opening_twice_opens_once() -> None:
    """An opened job has a number."""
    once = open_jobs(book(typed(5)))

    assert open_jobs(once) == once


def test_material_in_stock_brings_price_unit_and_cost() -> None:
    """Only where the line has none of its own, and only material."""
    shop = book()
    stock = (Material("Argon", "l", D("0.03"), D("0.05")), Material("Rod", "kg", None, D(24)))
    catalogue = shop.catalogue._replace(materials=stock)
    line = Line(1, Kind.MATERIAL, "ARGON")

    filled = stocked(line, catalogue)

    assert (filled.price, filled.unit, filled.cost) == (D("0.05"), "l", D("0.03"))
    own = replace(line, price=D(0), unit="bottle", cost=D(9))
    assert stocked(own, catalogue) == own
    assert stocked(replace(own, price=None), catalogue) == replace(own, price=D("0.05"))
    assert stocked(replace(line, kind=Kind.PART), catalogue).price is None
    assert stocked(replace(line, description="Helium"), catalogue).price is None
    assert stocked(replace(line, description="rod", cost=D(9)), catalogue).cost == 9


def test_a_draft_has_no_needless_blanks() -> None:
    """Names are compared, so blanks around and between words do not count."""
    draft = draft_job("  R.  Calder ", " Pan ", repair=" TANK ", state="in work", opened=TODAY)

    assert (draft.customer, draft.item, draft.repair) == ("R. Calder", "Pan", "TANK")
    assert (draft.number, draft.row) == ("", 0)


def test_a_draft_is_fitted_to_the_words_of_the_book() -> None:
    """Classes as the book writes them; labour without class gets the usual one."""
    lines = (
        Line(1, Kind.LABOUR, "a", labour_class="WELDING", tax_class="Zero"),
        Line(2, Kind.LABOUR, "b"),
        Line(3, Kind.PART, "c"),
    )
    draft = draft_job("A", "b", repair="tank", state="in work", opened=TODAY, lines=lines)

    weld, usual, part = fitted(draft, book()).lines

    assert (weld.labour_class, weld.tax_class) == ("welding", "zero")
    assert (usual.labour_class, part.labour_class) == ("bench", "")


@pytest.mark.parametrize(
    ("repair", "line", "error", "names"),
    [
        ("TNK", Line(1, Kind.FEE, "x"), UnknownRepairError, "'TNK'.*TANK"),
        ("", Line(1, Kind.LABOUR, "x", labour_class="smith"), UnknownClassError, "'smith'.*bench"),
        ("", Line(1, Kind.FEE, "x", tax_class="vat"), UnknownClassError, "'vat'.*zero"),
    ],
)
def test_an_unknown_code_is_refused_with_those_there_are(
    repair: str, line: Line, error: type[Exception], names: str
) -> None:
    """What was said and what may be said are both named."""
    draft = draft_job("A", "b", repair=repair, state="in work", opened=TODAY, lines=(line,))

    with pytest.raises(error, match=names):
        fitted(draft, book())


def test_no_usual_class_leaves_a_labour_line_without() -> None:
    """A shop without usual class has to name one; nothing is guessed."""
    draft = draft_job(
        "A", "b", repair="", state="in work", opened=TODAY, lines=(Line(1, Kind.LABOUR, "x"),)
    )

    assert fitted(draft, decided(book(), default_class="")).lines[0].labour_class == ""


def test_repair_types_are_known_in_any_case() -> None:
    """Lower case is fine, a part of the code is not."""
    assert known_repair("tank", book()) == TANK
    assert known_repair("TAN", book()) is None
    assert known_repair("", book()) is None


def test_new_customers_are_those_the_book_does_not_hold() -> None:
    """Each once, in the order of the jobs, with a note; unreadable rows name nobody."""
    jobs = (
        typed(5, customer="Ann Bell"),
        typed(6, customer="KNOWN"),
        typed(7, customer="ANN BELL"),
        typed(8, customer="Broken", unreadable=True),
        typed(9, customer="C. Dorn", state="enquiry"),
    )
    shop = replace(book(*jobs), customers=(Customer("Known"),))

    new = new_customers(shop)

    assert [c.name for c in new] == ["Ann Bell", "C. Dorn"]
    assert new[0].note


@pytest.mark.parametrize(
    ("name", "near"),
    [
        ("R. Caldar", "R. Calder"),
        ("r calder", "R. Calder"),
        ("R.Calder", "R. Calder"),
        ("Harbour Boats", ""),
        ("", ""),
    ],
)
def test_a_near_name_may_be_a_slip(name: str, near: str) -> None:
    """A letter or a dot apart is near, another name is not."""
    assert near_match(name, ["Ann Bell", "R. Calder"]) == near


def test_nobody_is_near_an_empty_list() -> None:
    """The first customer is always new."""
    assert near_match("R. Calder", []) == ""


def test_the_first_authorisation_is_the_whole_amount() -> None:
    """Its job is filled in once it has a number."""
    given = first_authorisation(D(160), TODAY)

    assert (given.job, given.amount, given.day) == ("", D(160), TODAY)
