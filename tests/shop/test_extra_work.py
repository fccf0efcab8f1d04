"""Requests for extra work as values: what is asked for, what a yes and a no become."""

import random
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from ledger_tools.billing.authorisation import RuleKind, ToleranceRule, limit_of
from ledger_tools.billing.estimate import Acceptance, Estimate, Request, share_more
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.hours import HourPolicy
from ledger_tools.money import ZERO
from ledger_tools.shop.acceptance import settle_acceptances
from ledger_tools.shop.declined import declined_lines, worked_though_declined
from ledger_tools.shop.extra_work import Standing, ask_for_extra
from ledger_tools.shop.issue import issue_invoices
from ledger_tools.shop.model import Customer, Job, ShopBook
from ledger_tools.shop.papers import open_request
from ledger_tools.shop.promise import Promised, with_estimates, write_estimates
from ledger_tools.shop.results import result_of
from tests.shop.examples import (
    TODAY,
    authorised,
    book_of,
    decided,
    goods,
    job_of,
    results_of,
    work,
)

JOB = "25-0001"
ESTIMATE, REQUEST, SECOND = f"{JOB}/1", f"{JOB}/2", f"{JOB}/3"
HUNDRED = Decimal(100)
WELD = work(1, 0, actual=None, estimate=Decimal(96), price=HUNDRED)
PLATE = goods(2, Kind.MATERIAL, "0", "12.35", actual=None, estimate=Decimal(3))
FOUND = work(3, 0, actual=None, estimate=Decimal(60), price=HUNDRED)


def in_work(*lines: Line, state: str = "in work") -> Job:
    """Return a job that is worked on."""
    return job_of(*lines, state=state)


def asked(book: ShopBook, *found: str, valid: int | None = None) -> Promised:
    """Ask for extra work on the job."""

    def wording(customer: Customer, before: Standing, taxed: bool) -> Mapping[str, str]:  # noqa: FBT001 - told by the type
        return {"for": customer.name, "agreed_in": before.agreed.number if before.agreed else "",
                "taxed": str(taxed)}  # fmt: skip

    return ask_for_extra(results_of(book), book, wording, job=JOB, found=found, valid_days=valid)


def with_paper(book: ShopBook, promised: Promised) -> ShopBook:
    """Return the book with a new paper in it."""
    assert promised.new, [f.what for f in promised.findings]
    return with_estimates(book, promised)


def answered(book: ShopBook, number: str, day: date = TODAY, *, yes: bool = True) -> ShopBook:
    """Return the book with a yes or a no to a paper, and the authorisations it becomes."""
    paper = book.estimates[number]
    said = replace(
        paper,
        accepted=Acceptance(day, "Ann", "telephone") if yes else None,
        declined=None if yes else day,
    )
    book = replace(book, estimates={**book.estimates, number: said})
    given = settle_acceptances(book).given
    return replace(book, authorisations=(*book.authorisations, *given))


def with_lines(book: ShopBook, *lines: Line, **changes: object) -> ShopBook:
    """Return the book with other lines in its job."""
    job = replace(book.jobs[0], lines=lines, **changes)  # type: ignore[arg-type]
    return replace(book, jobs=(job,))


def agreed(profile: str, *lines: Line) -> ShopBook:
    """Return a book whose job has an accepted estimate of these lines, and is worked on."""
    book = book_of(profile, in_work(*lines, state="estimated"))
    promised = write_estimates(results_of(book), book, lambda _, __: {})
    book = answered(with_paper(book, promised), ESTIMATE)
    return with_lines(book, *lines, state="in work")


def codes(promised: Promised) -> list[str]:
    """Return what is said of a run."""
    return [finding.code for finding in promised.findings]


def asked_of(promised: Promised) -> tuple[Estimate, Request]:
    """Return the one new request."""
    (paper,) = promised.new
    assert paper.request is not None
    return paper, paper.request


def test_a_request_sets_new_and_raised_lines_beside_what_was_agreed() -> None:
    """Worked beyond its estimate, added, unchanged: each says what it was agreed at."""
    book = agreed("ca-qc", WELD, PLATE)
    book = with_lines(book, replace(WELD, actual=Decimal(150)), PLATE, FOUND)

    paper, request = asked_of(asked(book, "Crack under the bracket"))

    # By hand: 96 min are 160.00, 150 min are 250.00, 60 min 100.00, 3 x 12.35 = 37.05.
    assert [(x.line_id, x.quantity, x.amount, x.before) for x in paper.lines] == [
        (1, Decimal("2.5"), Decimal("250.00"), Decimal("160.00")),
        (2, Decimal(3), Decimal("37.05"), Decimal("37.05")),
        (3, Decimal(1), Decimal("100.00"), None),
    ]
    assert [x.line_id for x in paper.changed] == [1, 3]
    # 197.05 with 9.85 and 19.66 tax was agreed; 387.05 has 19.35 (19.3525) and 38.61 (38.608...).
    assert (paper.number, paper.total) == (REQUEST, Decimal("445.01"))
    assert request == Request("Crack under the bracket", Decimal("226.56"))
    assert (paper.more, share_more(paper)) == (Decimal("218.45"), Decimal("0.964"))


def test_minutes_not_billable_and_agreed_prices_count_as_they_are_billed() -> None:
    """Of 150 minutes 40 are not billable, which leaves 110; an agreed price stands."""
    worked = replace(WELD, actual=Decimal(150), non_billable=Decimal(40), reason="rework")
    book = with_lines(agreed("none", WELD), worked, replace(FOUND, agreed_price=Decimal("75.50")))

    paper, _ = asked_of(asked(book))

    # 110 min are 1.8333 h, the nearest tenth is 1.8; with the hour of line 3, 2.8 h in all.
    assert [(x.amount, x.price) for x in paper.lines] == [
        (Decimal("180.00"), HUNDRED), (Decimal("75.50"), None),
    ]  # fmt: skip


def test_a_line_that_fell_away_is_listed_at_nothing() -> None:
    """So what was agreed, and what is added or taken away, come to the new total."""
    book = with_lines(agreed("none", WELD, PLATE), WELD, replace(FOUND, estimate=Decimal(120)))

    paper, _ = asked_of(asked(book))

    assert [(x.line_id, x.amount, x.before) for x in paper.changed] == [
        (2, Decimal("0.00"), Decimal("37.05")), (3, Decimal("200.00"), None),
    ]  # fmt: skip


def test_without_an_accepted_paper_every_line_is_listed() -> None:
    """The amount typed in Authorisations is what they are held against, and a note says so."""
    book = authorised(book_of("none", in_work(WELD, FOUND)), "180")

    promised = asked(book)
    paper, request = asked_of(promised)

    assert codes(promised) == ["extra-work-whole"]
    assert [line.before for line in paper.changed] == [None, None]
    assert (request.authorised, paper.more) == (Decimal("180.00"), Decimal("80.00"))


@pytest.mark.parametrize(
    ("amount", "found", "said"),
    [
        (None, (), "nothing-authorised"),
        (None, ("Crack",), "nothing-authorised"),
        ("260.00", ("Crack",), "nothing-to-ask-for"),
        ("250.00", (), "nothing-to-ask-for"),
        ("250.00", ("Crack",), "extra-work-whole"),
        ("236.37", (), "nothing-to-ask-for"),
        ("236.36", (), "extra-work-whole"),
    ],
)
def test_what_is_authorised_or_allowed_is_not_asked_for(
    amount: str | None, found: tuple[str, ...], said: str
) -> None:
    """260.00 expected; ten percent above 236.36 allow 259.99, which is too little by a cent.

    With --found more than the amount is asked for though the rule would allow it.
    """
    rule = ToleranceRule("tank", RuleKind.PERCENT, share=Decimal("0.10"))
    book = replace(book_of("none", in_work(WELD, FOUND)), tolerances=(rule,))
    book = with_lines(book, WELD, FOUND, object_class="tank")
    if amount:
        book = authorised(book, amount)

    promised = asked(book, *found)

    assert codes(promised) == [said]
    assert bool(promised.new) == (said == "extra-work-whole")


@pytest.mark.parametrize("state", ["enquiry", "declined", "void"])
def test_a_job_that_does_not_go_on_asks_for_nothing(state: str) -> None:
    """The state is named, and those that may."""
    book = authorised(book_of("none", in_work(WELD, state=state)), "10")

    promised = asked(book)

    assert (promised.new, codes(promised)) == ((), ["job-not-to-extend"])


def test_an_unchanged_request_is_printed_again() -> None:
    """Without words of its own the run keeps what was found; other words are a new request."""
    book = with_paper(b := with_lines(agreed("none", WELD), WELD, FOUND), asked(b, "Crack"))

    assert asked(book).again == asked(book, "Crack").again == (REQUEST,)
    assert asked(book, "Hole").new[0].number == SECOND
    later = replace(book, as_of=TODAY + timedelta(days=31))
    assert asked(later).new[0].number == SECOND
    assert asked(later).new[0].request == Request("Crack", Decimal("160.00"))


def test_a_yes_becomes_the_next_authorisation_once() -> None:
    """Its amount is the new total, not the addition; what it is for names the paper."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = answered(with_paper(book, asked(book)), REQUEST)

    first, second = book.authorisations

    assert (first.amount, second.amount) == (Decimal("160.00"), Decimal("260.00"))
    assert (second.scope, second.who) == (f"Extra work {REQUEST}", "Ann")
    assert settle_acceptances(book).given == ()
    assert codes(asked(book)) == ["nothing-to-ask-for"]
    assert result_of(book.jobs[0], book).ceiling == Decimal("260.00")


def test_the_amount_is_meant_as_authorised_amounts_are() -> None:
    """Where Start means them before tax, net is asked for and authorised."""
    book = decided(agreed("ca-qc", WELD), authorised_with_tax=False)
    book = replace(book, authorisations=(book.authorisations[0]._replace(amount=Decimal(160)),))
    book = with_lines(book, WELD, FOUND)

    paper, request = asked_of(promised := asked(book))
    book = answered(with_paper(book, promised), REQUEST)

    assert (request.with_tax, paper.more, paper.total) == (False, HUNDRED, Decimal("298.94"))
    assert book.authorisations[-1].amount == Decimal("260.00")


def test_a_no_leaves_the_ceiling_and_stays_on_record() -> None:
    """The invoice says what was declined; a later yes to the same line takes it off again."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = answered(with_paper(book, asked(book, "Crack")), REQUEST, yes=False)

    assert [(d.line.line_id, d.amount) for d in declined_lines(JOB, book)] == [(3, HUNDRED)]
    assert result_of(book.jobs[0], book).ceiling == Decimal("160.00")
    done = with_lines(book, replace(WELD, actual=Decimal(96)), state="to invoice")
    (invoice,) = issue_invoices(results_of(done), done, lambda _, __: {}).invoices
    assert invoice.wording["advised"] == '[["Weld", "100.00", "2025-03-31"]]'
    again = answered(with_paper(book, asked(book, "Crack again")), SECOND)
    assert "advised" not in again.estimates[SECOND].wording
    assert declined_lines(JOB, again) == []


def test_other_lines_that_were_declined_stand_on_the_next_request() -> None:
    """What is asked for again does not."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = answered(with_paper(book, asked(book)), REQUEST, yes=False)
    other = replace(FOUND, line_id=4, estimate=Decimal(30))

    paper, _ = asked_of(asked(with_lines(book, WELD, other), "Hole"))

    assert paper.wording["advised"] == '[["Weld", "100.00", "2025-03-31"]]'


def test_work_on_a_declined_line_is_named() -> None:
    """From the first minute billed on it; not when the minutes are not billable."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = answered(with_paper(book, asked(book)), REQUEST, yes=False)

    def named(**changes: object) -> list[str]:
        there = with_lines(book, WELD, replace(FOUND, **changes))  # type: ignore[arg-type]
        return [f.code for _, f in worked_though_declined(results_of(there), there)]

    assert named(actual=Decimal(6)) == ["declined-worked"]
    free = {"actual": Decimal(6), "non_billable": Decimal(6)}
    assert named() == named(**free) == []


def test_an_open_request_is_said_at_the_invoice_and_while_work_goes_on() -> None:
    """A warning, as the ceiling rules; a note asks to halt; neither once it is answered."""
    worked = replace(WELD, actual=Decimal(96))
    book = with_lines(agreed("none", WELD), worked, FOUND)
    book = with_paper(book, asked(book))
    due = with_lines(book, worked, state="to invoice")
    halted = with_lines(book, worked, state="halted")

    def said(there: ShopBook) -> list[str]:
        return [finding.code for _, finding in settle_acceptances(there).findings]

    issued = issue_invoices(results_of(due), due, lambda _, __: {})
    assert [f.code for f in issued.findings] == ["extra-work-open"]
    assert len(issued.invoices) == 1
    assert said(book) == ["extra-work-waits"]
    assert said(halted) == []
    no = answered(due, REQUEST, yes=False)
    assert open_request(JOB, no) is None
    assert issue_invoices(results_of(no), no, lambda _, __: {}).findings == ()


def test_a_no_before_the_paper_was_written_is_an_error() -> None:
    """The day of the answer is named."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = answered(with_paper(book, asked(book)), REQUEST, TODAY - timedelta(days=1), yes=False)

    assert [f.code for _, f in settle_acceptances(book).findings] == ["declined-before"]


def test_a_request_written_on_the_day_of_a_yes_does_not_doubt_it() -> None:
    """It counts on what was accepted; a request beside another unanswered one replaces it."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = with_paper(book, asked(book, "Crack"))
    fresh = with_paper(book, asked(book, "Hole"))
    told = answered(fresh, REQUEST)

    assert settle_acceptances(book).findings[0][1].code == "extra-work-waits"
    assert "accepted-replaced" in [f.code for _, f in settle_acceptances(told).findings]


def test_another_estimate_is_compared_with_the_last_estimate() -> None:
    """A request in between is none: the estimate is printed again, or is the next paper."""
    book = with_lines(agreed("none", WELD), WELD, FOUND)
    book = with_paper(book, asked(book))

    def estimated(there: ShopBook) -> Promised:
        return write_estimates(results_of(there), there, lambda _, __: {}, named=(JOB,))

    assert estimated(with_lines(book, WELD)).again == (ESTIMATE,)
    assert estimated(book).new[0].number == SECOND


def _random_line(line_id: int, chance: random.Random) -> Line:
    if chance.random() < 0.5:
        return work(
            line_id, 0, actual=_perhaps(chance, 300), estimate=_perhaps(chance, 240),
            price=Decimal(chance.choice((60, 95, 100))),
        )  # fmt: skip
    kind = chance.choice((Kind.MATERIAL, Kind.PART, Kind.SUBLET, Kind.FEE, Kind.DISCOUNT))
    dearest = 500 if kind is Kind.DISCOUNT else 20000
    price = f"{Decimal(chance.randrange(1, dearest)) / 100:.2f}"
    line = goods(line_id, kind, "0", price, actual=_perhaps(chance, 5))
    return replace(line, estimate=_perhaps(chance, 5))


def _perhaps(chance: random.Random, most: int) -> Decimal | None:
    return Decimal(chance.randrange(most)) if chance.random() < 0.7 else None


_RULES = (
    ToleranceRule("tank", RuleKind.PERCENT, share=Decimal("0.10")),
    ToleranceRule("tank", RuleKind.LESSER, share=Decimal("0.1"), amount=Decimal(10)),
    ToleranceRule("tank", RuleKind.GREATER, share=Decimal("0.1"), amount=Decimal(10),
                  most=Decimal(50)),
    ToleranceRule("tank", RuleKind.NONE),
)  # fmt: skip


@pytest.mark.parametrize("seed", range(150))
def test_what_was_agreed_and_what_is_added_are_the_new_total(seed: int) -> None:
    """To the cent, whatever the order of rows; a yes raises the ceiling to its limit."""
    chance = random.Random(seed)  # noqa: S311 - draws cases
    was = [_random_line(n, chance) for n in range(1, 6)]
    was[0] = replace(WELD, actual=None)
    now = [replace(line, actual=_perhaps(chance, 300)) for line in was if chance.random() < 0.8]
    now += [_random_line(n, chance) for n in range(6, 9)]
    policy = HourPolicy(chance.choice((1, 6, 15)), chance.choice(("nearest", "up")),
                        chance.choice(("job", "line")))  # fmt: skip
    book = decided(book_of("ca-qc", in_work(*was, state="estimated")), hours=policy)
    rule = chance.choice(_RULES)
    book = with_lines(replace(book, tolerances=(rule,)), *was, object_class="tank")
    promised = write_estimates(results_of(book), book, lambda _, __: {})
    book = answered(with_paper(book, promised), ESTIMATE)
    agreed_to = book.estimates[ESTIMATE].subtotal
    book = with_lines(book, *now, state="in work")
    shuffled = with_lines(book, *chance.sample(now, len(now)))

    request = asked(book, "Crack")
    if not request.new:
        assert codes(request) == ["nothing-to-ask-for"]
        return
    paper, _ = asked_of(request)

    added = sum((x.amount - (x.before or ZERO) for x in paper.changed), ZERO)
    assert agreed_to + added == paper.subtotal
    assert (paper.lines, paper.total) == (
        (other := asked_of(asked(shuffled, "Crack"))[0]).lines, other.total,
    )  # fmt: skip
    before = result_of(book.jobs[0], book).ceiling
    book = answered(with_paper(book, request), REQUEST)
    limit = limit_of(paper.total, rule, digits=2)
    assert before is not None
    assert result_of(book.jobs[0], book).ceiling == limit > before
