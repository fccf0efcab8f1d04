"""What only some books hold: time, options, estimates, rules of a place.

The modules for it are loaded where it is there, so that a small book is soon checked.
"""

# ruff: noqa: PLC0415 - loading late is what this module is for

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from ledger_tools.book.guarantee_layout import GUARANTEES_TABLE
from ledger_tools.book.layout import TIME_TABLE, TOLERANCES_TABLE
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE, ESTIMATES_TABLE

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from ledger_tools.billing.authorisation import ToleranceRule
    from ledger_tools.billing.estimate import Estimate
    from ledger_tools.billing.guarantee import GuaranteeRule
    from ledger_tools.book.parse import Parsed
    from ledger_tools.book.parse_options import OptionRow
    from ledger_tools.book.parse_time import TimeRow
    from ledger_tools.book.planning import Planning
    from ledger_tools.book.rows import Reading
    from ledger_tools.money import Rounding
    from ledger_tools.shop.model import Authorisation, ShopBook
    from ledger_tools.shop.results import JobResult


class Read(NamedTuple):
    """What was read of the sheets that only some books hold.

    Attributes:
        time: Rows of `Time`.
        options: Rows of `Options`.
        tolerances: Rules on what may be billed above the authorised amount.
        guarantees: Rules on what is guaranteed by law.
        estimates: Every revision, by number.
    """

    time: tuple[TimeRow, ...] = ()
    options: tuple[OptionRow, ...] = ()
    tolerances: tuple[ToleranceRule, ...] = ()
    guarantees: tuple[GuaranteeRule, ...] = ()
    estimates: Mapping[str, Estimate] = {}


def read_what_is_there(reading: Reading, currency: str, money: Rounding) -> Read:
    """Return what the sheets hold that are there; findings go to the reading."""
    read, places = Read(), reading.places
    if places.has(TIME_TABLE):
        from ledger_tools.book.parse_time import read_time

        read = read._replace(time=read_time(reading))
    if places.has(OPTIONS_TABLE):
        from ledger_tools.book.parse_options import read_options

        read = read._replace(options=read_options(reading))
    if places.has(TOLERANCES_TABLE):
        from ledger_tools.book.parse_tolerances import read_tolerances

        read = read._replace(tolerances=tuple(read_tolerances(reading)))
    if places.has(GUARANTEES_TABLE):
        from ledger_tools.book.parse_guarantees import read_guarantees

        read = read._replace(guarantees=tuple(read_guarantees(reading)))
    if places.has(ESTIMATES_TABLE) or places.has(ESTIMATE_LINES_TABLE):
        from ledger_tools.book.parse_estimates import read_estimates

        read = read._replace(estimates=read_estimates(reading, currency, money))
    return read


def check_what_is_there(read: Read, book: ShopBook) -> None:
    """Find what does not fit the jobs of the book."""
    if read.time:
        from ledger_tools.book.parse_time import check_time

        check_time(read.time, book)
    if read.options:
        from ledger_tools.book.parse_options import check_options

        check_options(read.options, book)


def settle_acceptances(
    parsed: Parsed, book: ShopBook
) -> tuple[tuple[Authorisation, ...], ShopBook]:
    """Return the authorisations that follow from acceptances, and the book with the choices."""
    given: tuple[Authorisation, ...] = ()
    if book.estimates:
        from ledger_tools.book.acceptances import say_acceptances

        given, book = say_acceptances(parsed, book)
    if book.options:
        from ledger_tools.book.choices import say_choices

        say_choices(parsed, book)
    return given, book


def say_declined(parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult]) -> None:
    """Warn of work that goes on though it was declined."""
    if book.estimates:
        from ledger_tools.book.acceptances import say_declined as said

        said(parsed, book, results)


def open_requests(book: ShopBook) -> Collection[str]:
    """Return the jobs whose request for extra work is not answered."""
    if not book.estimates:
        return ()
    from ledger_tools.shop.papers import open_requests as waiting

    return waiting(book)


def with_options_priced(
    parsed: Parsed, book: ShopBook, results: Mapping[str, JobResult]
) -> ShopBook:
    """Return the book with the prices of options kept that are settled, and note odd ones."""
    if not book.options:
        return book
    from ledger_tools.book.choices import say_sublets
    from ledger_tools.shop.options import with_prices_kept

    book = with_prices_kept(book, results)
    say_sublets(parsed, book, results)
    return book


def plan_what_is_there(planning: Planning) -> None:
    """Want the rows of the registers that only some books hold."""
    places = planning.places
    if planning.additions.estimates or places.has(ESTIMATES_TABLE):
        from ledger_tools.book.plan_estimates import plan_estimates

        plan_estimates(planning)
    if places.has(TIME_TABLE):
        from ledger_tools.book.plan_time import plan_time

        plan_time(planning)
    if places.has(OPTIONS_TABLE):
        from ledger_tools.book.plan_options import plan_options

        plan_options(planning)
