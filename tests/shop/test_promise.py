"""Estimates as values: which jobs get one, what they promise, what an acceptance becomes."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest

from ledger_tools.billing.estimate import Acceptance, Estimate
from ledger_tools.costing.lines import Kind
from ledger_tools.errors import Severity
from ledger_tools.shop.acceptance import Settled, settle_acceptances
from ledger_tools.shop.model import Authorisation, Customer, Job, ShopBook
from ledger_tools.shop.promise import Promised, with_estimates, write_estimates
from ledger_tools.shop.results import JobResult
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

LABOUR = work(1, 0, actual=None, estimate=Decimal(98), price=Decimal(100))
PLATE = goods(2, Kind.MATERIAL, "0", "12.35", actual=None, estimate=Decimal(3))
ADDED = work(3, 40, price=Decimal(100))
NUMBER = "25-0001/1"


def waiting(*lines: object, **changes: object) -> Job:
    """Return a job that waits for the customer's yes."""
    job = job_of(*(lines or (LABOUR, PLATE, ADDED)), state="estimated")  # type: ignore[arg-type]
    return replace(job, **changes)  # type: ignore[arg-type]


def promised(book: ShopBook, *named: str, valid: int | None = None) -> Promised:
    """Write the estimates of a book."""

    def wording(customer: Customer, result: JobResult) -> Mapping[str, str]:
        return {"customer_address": customer.address, "job": result.job.number}

    return write_estimates(results_of(book), book, wording, named=named, valid_days=valid)


def written(book: ShopBook) -> ShopBook:
    """Return the book with its estimates written."""
    return with_estimates(book, promised(book))


def accepted(book: ShopBook, day: date, number: str = NUMBER, who: str = "Ann") -> ShopBook:
    """Return the book with an estimate accepted."""
    said = replace(book.estimates[number], accepted=Acceptance(day, who, "telephone"))
    return replace(book, estimates={**book.estimates, number: said})


def codes(settled: Settled) -> list[tuple[str, str]]:
    """Return what is said of acceptances, with the estimate."""
    return [(number, finding.code) for number, finding in settled.findings]


def test_an_estimate_promises_rounded_hours_and_quantities() -> None:
    """98 minutes are 1.6 hours; a line without estimate is not promised; tax is on top."""
    book = book_of("ca-qc", waiting())

    (estimate,) = promised(book).new

    assert [(x.line_id, x.quantity, x.price, x.amount) for x in estimate.lines] == [
        (1, Decimal("1.6"), Decimal(100), Decimal("160.00")),
        (2, Decimal(3), Decimal("12.35"), Decimal("37.05")),
    ]
    assert (estimate.number, estimate.revision, estimate.subtotal) == (
        NUMBER,
        1,
        Decimal("197.05"),
    )
    # By hand: 5 % and 9.975 % of 197.05 are 9.8525 and 19.6557...
    assert [t.amount for t in estimate.taxes] == [Decimal("9.85"), Decimal("19.66")]
    assert (estimate.tax, estimate.total) == (Decimal("29.51"), Decimal("226.56"))


def test_an_estimate_is_valid_as_long_as_the_shop_or_the_command_says() -> None:
    """30 days as shipped, else what Start says, else what was asked for."""
    book = book_of("none", waiting())
    days = [
        (promised(b, valid=v).new[0].valid_until - TODAY).days
        for b, v in ((book, None), (decided(book, valid_days=10), None), (book, 7))
    ]

    assert days == [30, 10, 7]


@pytest.mark.parametrize(
    ("percent", "deposit"), [(0, "0.00"), (30, "59.12"), (33, "65.03"), (100, "197.05")]
)
def test_the_deposit_is_a_part_of_the_total_rounded_once(percent: int, deposit: str) -> None:
    """30 % of 197.05 is 59.115, half a cent goes up."""
    book = decided(book_of("none", waiting()), deposit_percent=percent)

    assert promised(book).new[0].deposit == Decimal(deposit)


def test_the_same_lines_give_no_second_revision() -> None:
    """Nothing is written for a job that did not change; named, its last revision is told."""
    book = replace(written(book_of("none", waiting())), as_of=TODAY + timedelta(days=30))

    assert promised(book) == Promised()
    assert promised(book, "25-0001") == Promised(again=(NUMBER,))


def test_a_named_estimate_that_ran_out_is_dated_anew() -> None:
    """On the last day it is the same; a day later a new revision, unless it was accepted."""
    book = replace(written(book_of("none", waiting())), as_of=TODAY + timedelta(days=31))

    assert promised(book).new == ()
    assert [e.number for e in promised(book, "25-0001").new] == ["25-0001/2"]
    assert promised(accepted(book, TODAY), "25-0001").again == (NUMBER,)


@pytest.mark.parametrize(
    "changes",
    [
        {"lines": (replace(LABOUR, estimate=Decimal(105)), PLATE)},
        {"lines": (replace(LABOUR, description="Weld twice"), PLATE)},
        {"lines": (LABOUR, replace(PLATE, vendor="Steel & Co"))},
        {"lines": (LABOUR,)},
        {"item": "Another oil pan"},
        {"customer": "D. Frey"},
    ],
    ids=["minutes", "words", "vendor", "line gone", "item", "customer"],
)
def test_what_is_promised_otherwise_is_the_next_revision(changes: dict[str, object]) -> None:
    """The old revision stays as it was."""
    before = written(book_of("none", waiting()))
    book = replace(before, jobs=(waiting(**changes),))

    (estimate,) = promised(book).new

    assert estimate.number == "25-0001/2"
    assert with_estimates(book, promised(book)).estimates[NUMBER] == before.estimates[NUMBER]


def test_minutes_worked_do_not_change_an_estimate() -> None:
    """What is done, and lines that were never estimated, are no promise."""
    book = written(book_of("none", waiting()))
    done = waiting(replace(LABOUR, actual=Decimal(200)), PLATE, replace(ADDED, actual=Decimal(9)))

    assert promised(replace(book, jobs=(done,))) == Promised()


@pytest.mark.parametrize("state", ["to invoice", "declined", "void"])
def test_a_job_past_its_estimate_gets_none(state: str) -> None:
    """It is refused where it is named, and left alone else."""
    book = book_of("none", replace(waiting(), state=state))

    (said,) = promised(book, "25-0001").findings

    assert (said.code, said.severity) == ("job-not-to-estimate", Severity.ERROR)
    assert promised(book) == Promised()


@pytest.mark.parametrize("state", ["authorised", "in work", "halted"])
def test_a_job_in_work_gets_an_estimate_only_when_named(state: str) -> None:
    """Nobody is sent a paper they did not wait for."""
    book = book_of("none", replace(waiting(), state=state))

    assert promised(book).new == ()
    assert len(promised(book, "25-0001").new) == 1


@pytest.mark.parametrize(
    ("line", "code"),
    [
        (ADDED, "nothing-to-estimate"),
        (goods(1, Kind.DISCOUNT, "1", "5", estimate=Decimal(1)), "negative-total"),
    ],
    ids=["nothing estimated", "less than nothing"],
)
def test_a_job_with_nothing_to_promise_gets_none(line: object, code: str) -> None:
    """It is named with the reason."""
    found = promised(book_of("none", waiting(line)), "25-0001")

    assert (found.new, [f.code for f in found.findings]) == ((), [code])


def test_an_agreed_price_is_not_promised_silently() -> None:
    """The estimate says quantity x price, and the owner is told."""
    found = promised(book_of("none", waiting(replace(LABOUR, agreed_price=Decimal(90)))))

    assert found.new[0].total == Decimal("160.00")
    assert [f.code for f in found.findings] == ["agreed-not-estimated"]


@pytest.mark.parametrize(("with_tax", "amount"), [(True, "226.56"), (False, "197.05")])
def test_an_acceptance_becomes_the_first_authorisation(with_tax: bool, amount: str) -> None:  # noqa: FBT001
    """The amount is with tax or before it, as the shop means authorised amounts."""
    book = decided(written(book_of("ca-qc", waiting())), authorised_with_tax=with_tax)

    settled = settle_acceptances(accepted(book, TODAY))

    assert settled.given == (
        Authorisation("25-0001", TODAY, Decimal(amount), "Ann", "telephone", "Estimate 25-0001/1"),
    )
    assert codes(settled) == [(NUMBER, "authorised-by-estimate"), (NUMBER, "estimate-accepted")]


def test_an_acceptance_is_written_once() -> None:
    """With its row there, only the job's state is left to say."""
    book = accepted(written(book_of("none", waiting())), TODAY)
    book = replace(book, authorisations=settle_acceptances(book).given)

    assert settle_acceptances(book).given == ()
    assert codes(settle_acceptances(book)) == [(NUMBER, "estimate-accepted")]
    done = replace(book, jobs=(waiting(state="authorised"),))
    assert settle_acceptances(done) == Settled((), ())


def test_a_job_with_an_authorisation_gets_no_second_one() -> None:
    """Also where its scope names the estimate of another revision: 25-0001/11 is not 25-0001/1."""
    base = accepted(written(book_of("none", waiting())), TODAY)
    other = authorised(base, "100")
    named = Authorisation("25-0001", TODAY, Decimal(9), scope="Estimate 25-0001/11")

    for there in (other, replace(base, authorisations=(named,))):
        settled = settle_acceptances(there)
        assert settled.given == ()
        assert (NUMBER, "accepted-beside") in codes(settled)


@pytest.mark.parametrize(
    ("days", "code", "severity", "written_down"),
    [
        (-1, "accepted-before", Severity.ERROR, False),
        (0, "", None, True),
        (30, "", None, True),
        (31, "accepted-late", Severity.WARNING, True),
    ],
    ids=["day before", "same day", "last day", "day after"],
)
def test_the_day_of_an_acceptance_must_fit(
    days: int, code: str, severity: Severity | None, written_down: bool  # noqa: FBT001
) -> None:  # fmt: skip
    """Before its date it is an error and authorises nothing; after the last day a warning."""
    settled = settle_acceptances(
        accepted(written(book_of("none", waiting())), TODAY + timedelta(days=days))
    )
    said = {f.code: f.severity for _, f in settled.findings if f.severity is not Severity.NOTE}

    assert said == ({code: severity} if code else {})
    assert bool(settled.given) is written_down


def twice_estimated() -> ShopBook:
    """Return a book with two revisions of an estimate, the second of a day later."""
    book = written(book_of("none", waiting()))
    later = replace(book, jobs=(waiting(LABOUR),), as_of=TODAY + timedelta(days=1))
    return written(later)


@pytest.mark.parametrize(("days", "said"), [(0, False), (1, True)])
def test_accepting_a_replaced_estimate_is_questioned(days: int, said: bool) -> None:  # noqa: FBT001
    """From the day on that the newer one was there."""
    settled = settle_acceptances(accepted(twice_estimated(), TODAY + timedelta(days=days)))

    assert ((NUMBER, "accepted-replaced") in codes(settled)) is said
    assert [a.amount for a in settled.given] == [Decimal("197.05")]


def test_of_two_acceptances_the_first_authorises() -> None:
    """The later one is named, until a row of Authorisations says that it is for it."""
    second = "25-0001/2"
    book = accepted(accepted(twice_estimated(), TODAY), TODAY + timedelta(days=2), second)

    settled = settle_acceptances(book)
    assert [a.scope for a in settled.given] == [f"Estimate {NUMBER}"]
    assert (second, "accepted-twice") in codes(settled)

    row = Authorisation("25-0001", TODAY, Decimal(200), scope=f"as in estimate {second}")
    book = replace(book, authorisations=(*settled.given, row))
    assert codes(settle_acceptances(book)) == [(NUMBER, "estimate-accepted")]


def test_an_acceptance_by_nobody_is_questioned() -> None:
    """It is the proof of what may be billed."""
    settled = settle_acceptances(accepted(written(book_of("none", waiting())), TODAY, who=""))

    assert (NUMBER, "acceptance-incomplete") in codes(settled)


def test_estimates_change_no_figure_of_a_job() -> None:
    """What a job comes to is the same with and without them."""
    book = book_of("ca-qc", waiting())

    assert results_of(written(book)) == results_of(book)
    assert isinstance(written(book).estimates[NUMBER], Estimate)
