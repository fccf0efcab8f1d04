"""Options weighed against each other: what each comes to, and where it stands."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.estimate import Acceptance, Estimate
from ledger_tools.billing.offer import CHOSEN, MOST, Choice, Offered
from ledger_tools.costing.options import (
    REPAIRS,
    OptionKind,
    expected_cost,
    repair_or_replace,
    share_of_new,
)
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import ZERO, Rounding
from ledger_tools.shop.model import Option, ShopBook
from ledger_tools.shop.results import JobResult

CLOSED = ("declined", "void")


class Weighed(NamedTuple):
    """What one option comes to beside the others of its job.

    Attributes:
        option: The option as typed.
        price: What the customer would pay, None while that cannot be told.
        expected: Expected cost, None while it cannot be told.
        share: Of the price of replacing new.
        rule: What the shop's own rule says, empty for nothing.
        stands: Where it stands; empty for an option without letter or job.
    """

    option: Option
    price: Decimal | None
    expected: Decimal | None
    share: Decimal | None
    rule: str
    stands: Choice | None


def is_as_estimated(option: Option) -> bool:
    """Whether an option costs what the lines of its job are estimated at."""
    return not option.priced and option.kind.casefold() != OptionKind.REFUSE


def estimated_price(result: JobResult, book: ShopBook) -> Decimal:
    """Return what the lines of a job are estimated at, meant as authorised amounts are."""
    return (
        result.estimate_total if book.settings.authorised_with_tax else result.estimate_net
    )  # fmt: skip


def weigh(options: list[Option], result: JobResult | None, book: ShopBook) -> list[Weighed]:
    """Return what the options of one job come to; `result` is what the job comes to."""
    money = Rounding(book.settings.digits)
    prices = [_price(option, result, book) for option in options]
    new = [
        price
        for option, price in zip(options, prices, strict=True)
        if option.kind == OptionKind.NEW and price is not None
    ]
    found = []
    for option, price in zip(options, prices, strict=True):
        share = None
        if option.job and option.kind != OptionKind.REFUSE:
            share = share_of_new(price, min(new, default=None))
        rule = repair_or_replace(share, book.settings.repair_below)
        found.append(
            Weighed(
                option,
                price,
                expected_cost(price, option.chance, option.come_back, money),
                share,
                rule if option.kind in REPAIRS else "",
                standing_of(option, options),
            )
        )
    return found


def _price(option: Option, result: JobResult | None, book: ShopBook) -> Decimal | None:
    if not option.kind:
        return None
    if option.priced:
        return option.price
    if not is_as_estimated(option):
        return ZERO
    return estimated_price(result, book) if result is not None else None


def standing_of(option: Option, beside: list[Option]) -> Choice | None:
    """Return where an option stands among those of its job; None where it has no letter or job."""
    if not (option.job and option.option):
        return None
    if option.chosen:
        others = any(other.advised for other in beside) and not option.advised
        return Choice.AGAINST if others else Choice.CHOSEN
    return Choice.NOT_CHOSEN if any(other.chosen for other in beside) else Choice.OPEN


def by_job(book: ShopBook) -> dict[str, list[Option]]:
    """Return the options of each job, by its number in lower case."""
    found: dict[str, list[Option]] = defaultdict(list)
    for option in book.options:
        found[option.job.casefold()].append(option)
    return found


def weighed_options(book: ShopBook, results: Mapping[str, JobResult]) -> dict[int, Weighed]:
    """Return what every option comes to, by row.

    Those of a job that cannot be worked out are left out.
    """
    there = {number.casefold(): result for number, result in results.items()}
    numbered = {job.number.casefold() for job in book.jobs if job.number}
    return {
        weighed.option.row: weighed
        for job, options in by_job(book).items()
        if job in there or job not in numbered
        for weighed in weigh(options, there.get(job), book)
    }


def offers_of(result: JobResult, book: ShopBook) -> tuple[Offered, ...]:
    """Return what an estimate offers, in order of the letters; nothing for a job of one way."""
    own = by_job(book).get(result.job.number.casefold(), [])
    money = Rounding(book.settings.digits)
    told = (_offered(weighed, money) for weighed in weigh(own, result, book))
    return tuple(sorted(told, key=lambda o: (len(o.option), o.option.casefold())))


def _offered(weighed: Weighed, money: Rounding) -> Offered:
    option = weighed.option

    def amount(exact: Decimal | None) -> Decimal | None:
        return None if exact is None else money.amount(exact)

    return Offered(
        option=option.option,
        kind=option.kind,
        description=option.description,
        price=money.amount(weighed.price or ZERO),
        as_estimated=is_as_estimated(option),
        sublet=amount(option.sublet),
        lead_days=option.lead_days,
        guarantee=option.guarantee,
        chance=option.chance,
        come_back=amount(option.come_back),
        expected=weighed.expected,
        share=weighed.share,
        advised=option.advised,
        stands=weighed.stands or Choice.OPEN,
    )


def unfit_to_offer(job: str, offers: tuple[Offered, ...]) -> list[Finding]:
    """Return what stands against printing a job's options, or should be known."""
    if len(offers) > MOST:
        return [
            Finding(
                Severity.ERROR, "options-too-many",
                f"Job {job} has {len(offers)} options; a page is wide enough for {MOST}",
                "Take those out that nobody would choose", sheet="Options", job=job,
            )
        ]  # fmt: skip
    as_estimated = [o.option for o in offers if o.as_estimated]
    chosen = any(o.stands in CHOSEN for o in offers)
    if not offers or chosen or len(as_estimated) == 1:
        return []
    stands = "no option" if not as_estimated else f"options {' and '.join(as_estimated)}"
    return [
        Finding(
            Severity.WARNING, "options-estimated",
            f"The lines of job {job} are those of {stands}: an empty price means them",
            "Leave the price empty in the one row whose work the lines are, and nowhere else",
            sheet="Options", job=job,
        )
    ]  # fmt: skip


class Recorded(NamedTuple):
    """A choice that goes into `Options`, with the estimate it was made on."""

    estimate: Estimate
    chosen: Offered
    row: int


def with_choices(book: ShopBook, recorded: tuple[Recorded, ...]) -> ShopBook:
    """Return the book with choices written beside their options, and the prices printed then.

    An option without a price was offered at what the lines came to; they may change now that
    one way is chosen, what was offered does not.
    """
    chosen = {each.row: each.estimate.accepted for each in recorded}
    printed = {
        (each.estimate.job.casefold(), offered.option.casefold()): offered.price
        for each in recorded
        for offered in each.estimate.offers
        if offered.as_estimated
    }

    def settled(option: Option) -> Option:
        accepted = chosen.get(option.row)
        if accepted:
            option = option._replace(chosen=Acceptance(*accepted[:3]))
        price = printed.get((option.job.casefold(), option.option.casefold()))
        if price is not None and is_as_estimated(option):
            option = option._replace(price=price, priced=True)
        return option

    return replace(book, options=tuple(map(settled, book.options)))


def with_prices_kept(book: ShopBook, results: Mapping[str, JobResult]) -> ShopBook:
    """Return the book with a price on every option of the jobs whose choice is made or billed.

    From then on the lines of such a job are those of one way, or gone into the archive.
    """
    there = {number.casefold(): result for number, result in results.items()}
    made = {o.job.casefold() for o in book.options if o.chosen}
    made |= {job for job, result in there.items() if result.invoice}

    def kept(option: Option) -> Option:
        job = option.job.casefold()
        if job not in made or job not in there or not option.kind or not is_as_estimated(option):
            return option
        return option._replace(price=estimated_price(there[job], book), priced=True)

    return replace(book, options=tuple(map(kept, book.options)))
