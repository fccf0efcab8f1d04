"""The option that an accepted estimate chooses: what it authorises, and what is doubtful of it."""

from collections.abc import Iterator
from decimal import Decimal

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.offer import CHOSEN, WITH_TAX, Offered, offered_as
from ledger_tools.costing.options import OptionKind
from ledger_tools.errors import Finding, Severity
from ledger_tools.shop.model import Job, Option, ShopBook
from ledger_tools.shop.options import CLOSED, Recorded, by_job


def choice_of(estimate: Estimate) -> Offered | None:
    """Return the option an accepted estimate chooses; None where it offers none, or is unclear.

    The only one offered need not be named, nor one that was chosen before the estimate.
    """
    offers, said = estimate.offers, estimate.accepted.option if estimate.accepted else ""
    if said:
        return offered_as(said, offers)
    chosen = [offered for offered in offers if offered.stands in CHOSEN]
    only = chosen or (offers if len(offers) == 1 else ())
    return only[0] if len(only) == 1 else None


def refuses(estimate: Estimate) -> bool:
    """Whether what was chosen is to leave the item as it is."""
    chosen = choice_of(estimate)
    return chosen is not None and chosen.kind == OptionKind.REFUSE


def amount_of(estimate: Estimate, *, with_tax: bool) -> Decimal:
    """Return what an accepted estimate authorises: the price of its option as printed."""
    chosen = choice_of(estimate)
    lines = estimate.total if with_tax else estimate.subtotal
    return lines if chosen is None or _is_of_lines(chosen) else chosen.price


def _is_of_lines(chosen: Offered) -> bool:
    """Whether the lines of the estimate are those of the option: it says so, or came after it."""
    return chosen.as_estimated or chosen.stands in CHOSEN


def is_of_lines(estimate: Estimate) -> bool:
    """Whether what was accepted is the work in the lines of the estimate."""
    chosen = choice_of(estimate)
    return chosen is None or _is_of_lines(chosen)


def about_choice(estimate: Estimate, job: Job) -> list[Finding]:
    """Return a note while a job stands open whose customer chose to leave the item."""
    chosen = choice_of(estimate)
    if chosen is None or job.state in CLOSED:
        return []
    return [
        Finding(
            Severity.NOTE, "option-refused",
            f"Estimate {estimate.number}: the customer chose option {chosen.option}, "
            f"'{chosen.kind}', so nothing is authorised",
            "Set the state of the job in Jobs to 'declined'; the tools leave it to you",
            job=job.number,
        )
    ]  # fmt: skip


def option_doubts(estimate: Estimate, book: ShopBook) -> Iterator[Finding]:
    """Yield what is doubtful about the option of an accepted estimate."""
    said = estimate.accepted.option if estimate.accepted else ""
    chosen, letters = choice_of(estimate), [offered.option for offered in estimate.offers]
    if chosen is None and said:
        offers = f"it offered {', '.join(letters)}" if letters else "it offered none"
        yield Finding(
            Severity.ERROR, "option-not-offered",
            f"Estimate {estimate.number} is accepted with option '{said}'; {offers}",
            "Type the letter the customer chose, as printed; nothing is authorised until then",
            job=estimate.job,
        )  # fmt: skip
    elif chosen is None and letters:
        yield Finding(
            Severity.ERROR, "option-unnamed",
            f"Estimate {estimate.number} offered options {', '.join(letters)}, and is accepted "
            "without one",
            "Type under Option which the customer chose; nothing is authorised until then",
            job=estimate.job,
        )  # fmt: skip
    elif chosen is not None:
        yield from _meant_otherwise(estimate, chosen, book)
        yield from _changed(estimate, chosen, book)


def _meant_otherwise(estimate: Estimate, chosen: Offered, book: ShopBook) -> Iterator[Finding]:
    """Yield an error where prices were printed with tax and are now meant without, or back."""
    printed = estimate.wording.get(WITH_TAX) == "yes"
    if _is_of_lines(chosen) or printed == book.settings.authorised_with_tax:
        return
    if any(estimate.number in a.scope.split() for a in book.authorisations):
        return
    yield Finding(
        Severity.ERROR, "option-tax",
        f"The price of option {chosen.option} was printed {'with' if printed else 'before'} tax, "
        "and Start means authorised amounts otherwise now",
        "Put the setting back, or write a new estimate and have that accepted", job=estimate.job,
    )  # fmt: skip


def _changed(estimate: Estimate, chosen: Offered, book: ShopBook) -> Iterator[Finding]:
    """Yield a warning where another choice is on record, or the option is there no more."""
    own = by_job(book).get(estimate.job.casefold(), [])
    here = _row_of(chosen, own)
    others = [o for o in own if o.chosen and o is not here]
    what = remedy = ""
    if here is None:
        what = "has no row in Options any more"
        remedy = "Put the row back: it is the record of what was offered"
    elif others:
        what = f"is chosen here, and option {others[0].option} in Options"
        remedy = "Ask which is meant, and clear the other choice yourself; nothing is overwritten"
    elif here.chosen and estimate.accepted and here.chosen[:3] != estimate.accepted[:3]:
        what = f"is chosen otherwise in Options: on {here.chosen.day}, by '{here.chosen.who}'"
        remedy = "Put day, who and how right in one of the two sheets; nothing is overwritten"
    if what:
        yield Finding(
            Severity.WARNING, "option-gone" if here is None else "choice-changed",
            f"Estimate {estimate.number}: option {chosen.option} {what}", remedy, job=estimate.job,
        )  # fmt: skip


def _row_of(chosen: Offered, own: list[Option]) -> Option | None:
    letter = chosen.option.casefold()
    return next((o for o in own if o.option.casefold() == letter), None)


def recorded_choice(estimate: Estimate, book: ShopBook) -> list[Recorded]:
    """Return the choice an accepted estimate makes, where none stands on record yet."""
    chosen = choice_of(estimate)
    own = by_job(book).get(estimate.job.casefold(), [])
    here = _row_of(chosen, own) if chosen else None
    if chosen is None or here is None or any(option.chosen for option in own):
        return []
    return [Recorded(estimate, chosen, here.row)]
