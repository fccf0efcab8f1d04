"""Options as values: weighed against each other, offered, chosen, and kept as they were."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from ledger_tools.billing.estimate import Acceptance
from ledger_tools.billing.offer import Choice
from ledger_tools.errors import Severity
from ledger_tools.shop.acceptance import Settled, settle_acceptances
from ledger_tools.shop.model import Authorisation, Option, ShopBook
from ledger_tools.shop.options import (
    offers_of,
    weighed_options,
    with_choices,
    with_prices_kept,
)
from ledger_tools.shop.promise import with_estimates, write_estimates
from tests.shop.examples import TODAY, book_of, decided, results_of
from tests.shop.test_promise import LABOUR, PLATE, accepted, codes, promised, waiting

D = Decimal
NUMBER = "25-0001/1"
TOTAL, NET = D("226.56"), D("197.05")
"""What the lines of the job come to with two taxes, and before them."""


def option(letter: str, kind: str, price: str | None = None, **more: object) -> Option:
    """Return an option of the job, in a row of its own."""
    typed = None if price is None else D(price)
    row = 5 + "ABCDEFG".index(letter)
    told = Option("25-0001", letter, kind, row, price=typed, priced=typed is not None)
    return told._replace(**more)  # type: ignore[arg-type]


WELD = option("A", "weld and reseal", chance=D("0.15"), come_back=D(240), advised=True)
NEW = option("B", "replace new", "640", chance=D(0), lead_days=21)
LEAVE = option("C", "refuse")


def offering(*options: Option, **settings: object) -> ShopBook:
    """Return a book in which a job that waits has options: weld, new, leave it."""
    book = replace(book_of("ca-qc", waiting()), options=options or (WELD, NEW, LEAVE))
    return decided(book, **settings)


def settled(book: ShopBook, option_named: str = "", day: date = TODAY) -> tuple[Settled, ShopBook]:
    """Return what the acceptance of the first estimate comes to, and the book with it."""
    book = accepted(book if book.estimates else with_estimates(book, promised(book)), day)
    said = book.estimates[NUMBER]
    assert said.accepted is not None
    chosen = replace(said, accepted=said.accepted._replace(option=option_named))
    book = replace(book, estimates={**book.estimates, NUMBER: chosen})
    return settle_acceptances(book), book


def told(book: ShopBook) -> dict[str, tuple[object, ...]]:
    """Return what each option comes to, by letter."""
    weighed = weighed_options(book, results_of(book)).values()
    return {w.option.option: (w.price, w.expected, w.share, w.rule, w.stands) for w in weighed}


def test_options_are_weighed_against_each_other() -> None:
    """An empty price is the estimate's; 226.56 + 0.15 x 240 is 262.56; 226.56 is 35.4 % of 640."""
    assert told(offering(repair_below=36)) == {
        "A": (TOTAL, D("262.56"), D("0.3540"), "repair", Choice.OPEN),
        "B": (D(640), D("640.00"), D("1.0000"), "", Choice.OPEN),
        "C": (D(0), None, None, "", Choice.OPEN),
    }


def test_an_empty_price_is_meant_as_authorised_amounts_are() -> None:
    """Before tax where Start says so; the share of new follows."""
    assert told(offering(authorised_with_tax=False))["A"][:3] == (NET, D("233.05"), D("0.3079"))


def test_the_cheaper_of_two_new_ones_is_what_a_repair_is_held_against() -> None:
    """The order of the rows does not matter."""
    dear = NEW._replace(option="D", row=9, price=D(900))
    for options in ((WELD, NEW, dear), (dear, NEW, WELD)):
        assert told(offering(*options))["A"][2] == D("0.3540")


def test_what_a_price_that_cannot_be_read_does() -> None:
    """It counts for nothing, and the estimate is not taken in its stead."""
    assert told(offering(WELD._replace(priced=True), NEW))["A"][:3] == (None, None, None)


def test_options_are_offered_in_order_of_their_letters() -> None:
    """Two-letter names come after one-letter ones, whatever the order of rows."""
    book = offering(WELD._replace(option="AA"), LEAVE, NEW)
    (result,) = results_of(book).values()

    assert [o.option for o in offers_of(result, book)] == ["B", "C", "AA"]


def test_an_estimate_keeps_what_it_offers() -> None:
    """Words and figures as they were on its day, whatever becomes of the rows."""
    (estimate,) = promised(offering()).new

    weld, new, leave = estimate.offers
    assert (weld.price, weld.as_estimated, weld.expected) == (TOTAL, True, D("262.56"))
    assert (new.price, new.lead_days, new.as_estimated) == (D("640.00"), 21, False)
    assert (leave.price, leave.as_estimated) == (D("0.00"), False)
    assert estimate.total == TOTAL


@pytest.mark.parametrize(
    "changed",
    [
        {"options": (WELD, NEW._replace(price=D(650)), LEAVE)},
        {"options": (WELD, NEW)},
        {"options": (WELD, NEW._replace(guarantee="two years"), LEAVE)},
        {"options": (WELD._replace(advised=False), NEW, LEAVE)},
        {"options": ()},
    ],
    ids=["price", "one less", "guarantee", "advice", "none"],
)
def test_other_options_are_another_revision(changed: dict[str, tuple[Option, ...]]) -> None:
    """What the customer chooses from is part of the promise."""
    book = with_estimates(offering(), promised(offering()))

    assert [e.number for e in promised(replace(book, **changed)).new] == ["25-0001/2"]  # type: ignore[arg-type]


def test_prices_meant_otherwise_are_another_revision() -> None:
    """Where Start changes, the same figure is another price."""
    book = with_estimates(offering(), promised(offering()))
    options = (WELD, NEW._replace(price=D(640)))
    same = replace(book, options=(WELD._replace(price=TOTAL, priced=True), *book.options[1:]))

    assert promised(same).new == ()
    assert len(promised(decided(same, authorised_with_tax=False)).new) == 1
    assert len(promised(replace(book, options=options)).new) == 1


def test_more_options_than_a_page_holds_are_refused() -> None:
    """Five are printed, six are not, and no estimate is written."""
    six = tuple(option(letter, "other repair", "10") for letter in "ABCDEF")

    assert len(promised(offering(*six[:4], WELD._replace(option="G"))).new) == 1
    found = promised(offering(*six))
    assert (found.new, [f.code for f in found.findings]) == ((), ["options-too-many"])


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((WELD, NEW), []),
        ((WELD._replace(price=D(9), priced=True), NEW), ["options-estimated"]),
        ((WELD, option("B", "line"), NEW), ["options-estimated"]),
        ((LEAVE,), ["options-estimated"]),
    ],
    ids=["one", "none", "two", "only to leave it"],
)
def test_the_lines_are_those_of_one_option(options: tuple[Option, ...], said: list[str]) -> None:
    """It is asked about where no option or more than one has an empty price."""
    found = promised(offering(*options))

    assert ([f.code for f in found.findings], len(found.new)) == (said, 1)


@pytest.mark.parametrize(
    ("letter", "with_tax", "amount"),
    [("a", True, TOTAL), ("A", False, NET), ("B", True, D(640)), ("b", False, D(640))],
)
def test_the_price_of_the_option_is_authorised(
    letter: str, with_tax: bool, amount: Decimal  # noqa: FBT001
) -> None:  # fmt: skip
    """As printed: the lines where they are those of the option, else its own price."""
    found, _ = settled(offering(authorised_with_tax=with_tax), letter)

    (given,) = found.given
    assert (given.amount, given.scope) == (amount, f"Estimate {NUMBER} option {letter.upper()}")
    assert [(r.row, r.chosen.option) for r in found.chosen] == [
        (5 if letter in "aA" else 6, letter.upper())
    ]
    assert codes(found) == [(NUMBER, "authorised-by-estimate"), (NUMBER, "estimate-accepted")]


def test_a_price_changed_after_the_estimate_authorises_nothing_else() -> None:
    """The customer said yes to the figure on the paper."""
    book = with_estimates(offering(), promised(offering()))
    dearer = replace(book, options=(WELD, NEW._replace(price=D(900)), LEAVE))

    (given,) = settled(dearer, "B")[0].given

    assert given.amount == D(640)


def test_to_leave_it_authorises_nothing() -> None:
    """The choice is on record all the same; the state is the owner's."""
    found, book = settled(offering(), "C")

    assert (found.given, [r.row for r in found.chosen]) == ((), [7])
    assert codes(found) == [(NUMBER, "option-refused")]
    done = replace(book, jobs=(waiting(state="declined"),))
    assert codes(settle_acceptances(done)) == []


@pytest.mark.parametrize(("letter", "code"), [("", "option-unnamed"), ("D", "option-not-offered")])
def test_without_an_option_that_was_offered_nothing_is_authorised(letter: str, code: str) -> None:
    """Nothing is guessed: it is an error until the letter stands there."""
    found, _ = settled(offering(), letter)

    assert (found.given, found.chosen) == ((), ())
    assert [(f.code, f.severity) for _, f in found.findings] == [(code, Severity.ERROR)]


def test_an_option_of_an_estimate_that_offered_none_is_an_error() -> None:
    """Options typed since were not on the paper."""
    plain = replace(offering(), options=())
    book = replace(with_estimates(plain, promised(plain)), options=(WELD, NEW))

    assert codes(settled(book, "B")[0]) == [(NUMBER, "option-not-offered")]


def test_the_only_option_need_not_be_named() -> None:
    """There is nothing to confuse it with."""
    found, _ = settled(offering(WELD), "")

    assert [given.amount for given in found.given] == [TOTAL]
    assert [r.row for r in found.chosen] == [5]


def test_prices_meant_otherwise_since_are_not_authorised() -> None:
    """640 with tax is not 640 before tax; of the lines both are known."""
    book = with_estimates(offering(), promised(offering()))
    otherwise = decided(book, authorised_with_tax=False)

    assert codes(settled(otherwise, "B")[0]) == [(NUMBER, "option-tax")]
    assert [given.amount for given in settled(otherwise, "A")[0].given] == [NET]


def test_a_choice_is_written_once_with_the_price_that_was_printed() -> None:
    """Day, who and how; what had no price gets the one the customer saw."""
    found, book = settled(offering(), "B")
    after = with_choices(book, found.chosen)

    weld, new, leave = after.options
    assert new.chosen == Acceptance(TODAY, "Ann", "telephone")
    assert (weld.chosen, weld.price, leave.price) == (None, TOTAL, None)
    assert [v[4] for v in told(after).values()] == [
        Choice.NOT_CHOSEN, Choice.AGAINST, Choice.NOT_CHOSEN,
    ]  # fmt: skip
    assert settle_acceptances(after).chosen == ()


def test_what_was_offered_does_not_follow_the_lines_of_what_was_chosen() -> None:
    """The job's lines become those of the new part; the weld stays at its price."""
    found, book = settled(offering(), "B")
    after = with_choices(book, found.chosen)
    dear = replace(after, jobs=(waiting(replace(LABOUR, estimate=D(300)), PLATE),))

    assert told(dear)["A"][0] == TOTAL


def test_a_choice_typed_by_hand_keeps_the_prices_of_its_day() -> None:
    """So does a bill; an open choice goes on following the lines."""
    book = offering(WELD, NEW._replace(chosen=Acceptance(TODAY)))

    kept = with_prices_kept(book, results_of(book)).options

    assert [o.price for o in kept] == [TOTAL, D(640)]
    assert with_prices_kept(offering(), results_of(offering())).options == (WELD, NEW, LEAVE)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"chosen": Acceptance(TODAY, "Ann", "telephone")}, []),
        ({"chosen": Acceptance(TODAY, "Bo", "telephone")}, ["choice-changed"]),
        ({"chosen": Acceptance(TODAY - timedelta(1), "Ann", "telephone")},
         ["choice-changed"]),
    ],
    ids=["the same", "another person", "another day"],
)  # fmt: skip
def test_a_choice_told_otherwise_in_two_places_is_named(
    typed: dict[str, object], said: list[str]
) -> None:
    """Nothing is overwritten."""
    book = with_estimates(offering(), promised(offering()))
    there = replace(book, options=(WELD, NEW._replace(**typed), LEAVE))  # type: ignore[arg-type]

    found, _ = settled(there, "B")

    assert found.chosen == ()
    assert [c for _, c in codes(found) if c.startswith("choice")] == said


def test_another_choice_later_is_named_and_changes_nothing() -> None:
    """The first stays on record; so does what it authorised."""
    first, book = settled(offering(), "A")
    book = replace(with_choices(book, first.chosen), authorisations=first.given)

    later, _ = settled(book, "B")

    assert (later.given, later.chosen) == ((), ())
    assert (NUMBER, "choice-changed") in codes(later)


def test_an_option_without_its_row_is_named_and_authorised_as_printed() -> None:
    """The paper is proof enough of the price; the record is missed."""
    book = with_estimates(offering(), promised(offering()))
    found, _ = settled(replace(book, options=(WELD,)), "B")

    assert [given.amount for given in found.given] == [D(640)]
    assert (NUMBER, "option-gone") in codes(found)


def test_after_the_choice_an_estimate_is_of_what_was_chosen() -> None:
    """A new revision shows what was chosen, and its acceptance is to its lines."""
    first, book = settled(offering(), "B")
    book = replace(with_choices(book, first.chosen), authorisations=first.given)
    book = replace(book, as_of=TODAY + timedelta(1), jobs=(waiting(LABOUR),))
    (second,) = write_estimates(results_of(book), book, lambda *_: {}, named=("25-0001",)).new

    assert [o.stands for o in second.offers][1] is Choice.AGAINST
    book = replace(book, estimates={second.number: replace(
        second, accepted=Acceptance(book.as_of, "Ann", "mail"))}, authorisations=())  # fmt: skip
    (given,) = settle_acceptances(book).given
    assert given.amount == second.total != D(640)


def test_a_chosen_job_prints_its_estimate_again_as_it_was() -> None:
    """That a choice was made is no other promise."""
    first, book = settled(offering(), "B")
    book = replace(with_choices(book, first.chosen), authorisations=first.given)

    assert promised(book, "25-0001").again == (NUMBER,)


def test_options_of_no_job_are_weighed_by_what_stands_there() -> None:
    """An own price counts, an empty one has nothing to follow."""
    lost = [o._replace(job="25-0009") for o in (WELD, NEW)]

    assert [w[0] for w in told(offering(*lost)).values()] == [None, D(640)]


def test_an_authorisation_that_names_the_estimate_is_the_choice_s() -> None:
    """The row written once is known again by its number, with the option behind it."""
    first, book = settled(offering(), "B")
    book = replace(with_choices(book, first.chosen), authorisations=first.given)

    assert settle_acceptances(book).given == ()
    other = Authorisation("25-0001", TODAY, D(5), scope="by telephone")
    beside = settle_acceptances(replace(book, authorisations=(other,)))
    assert (NUMBER, "accepted-beside") in codes(beside)
