"""What happens in the shop in 2025: which job comes when, how it goes, how it is paid.

Nothing is read and nothing is written here; the same year comes out every time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from enum import StrEnum
from random import Random
from typing import Any

from demo import shop
from demo.chance import happens, mixed, one_of, stream, whole

YEAR = 2025
_LAST_OPENED = date(YEAR, 12, 22)
_SATURDAY = 5
_BEGUN_AFTER = 10
"""Days a job of December waits before work on it begins."""


class Way(StrEnum):
    """How a job gets into the book."""

    TYPED = "typed in Jobs"
    COMMAND = "add-job --repair"
    FILE = "add-job --lines"


@dataclass(frozen=True, slots=True)
class Idle:
    """Minutes that are worked and not billed, on top of the billable ones.

    Attributes:
        reason: As the book lists it.
        step: Which labour line, counted from the longest.
        minutes: How many.
    """

    reason: str
    step: int
    minutes: int


@dataclass(frozen=True, slots=True)
class Instalment:
    """A part of an invoice that is paid.

    Attributes:
        after: Days after the invoice.
        share: Part of the total; 1 with the last instalment pays what is left.
        how: As the book lists it.
    """

    after: int
    share: Decimal
    how: str


@dataclass(frozen=True, slots=True)
class Story:
    """One job from the first word to the last payment.

    Attributes:
        n: Number of the story, in order of days.
        opened: Day it comes in.
        customer: Name.
        item: What is brought.
        repair: Repair code; empty where the lines come from a file.
        way: How it gets into the book.
        file: File of its lines.
        state: Where it is to stand at the end: *to invoice* for work that is billed.
        promised: Day the customer is told; None for none.
        finished: Last day of work; None where it is not worked on.
        authorised: Part of the estimate with tax that the customer authorises; None for nothing.
        forgotten: Whether nobody rings the customer when the work goes above the ceiling.
        overrun: How much longer the longest step takes than usual.
        worse: Minutes for damage that nobody saw, on a line of their own.
        idle: Minutes not billed.
        passed_on: Whether a dearer sublet bill is passed on to the customer.
        discount: Amount off, zero for none.
        delivery: Fee for collecting and bringing back, zero for none.
        agreed: Whether a price is agreed for the longest step.
        warranty: Whether it comes back under warranty: nothing is billed.
        paid: Instalments; empty where the invoice stays unpaid.
        note: The owner's remark in `Jobs`.
    """

    n: int
    opened: date
    customer: str
    item: str
    repair: str
    way: Way = Way.TYPED
    file: str = ""
    state: str = "to invoice"
    promised: date | None = None
    finished: date | None = None
    authorised: Decimal | None = None
    forgotten: bool = False
    overrun: float = 1.0
    worse: int = 0
    idle: tuple[Idle, ...] = ()
    passed_on: bool = True
    discount: Decimal = Decimal(0)
    delivery: Decimal = Decimal(0)
    agreed: bool = False
    warranty: bool = False
    paid: tuple[Instalment, ...] = ()
    note: str = ""

    @property
    def asked_first(self) -> bool:
        """Whether the customer says yes before the job is opened by command."""
        return self.way is not Way.TYPED and (self.forgotten or self.n % 3 == 1)

    @property
    def numbered(self) -> bool:
        """Whether the job gets a number; an enquiry does not."""
        return self.state != "enquiry"


def year() -> tuple[Story, ...]:
    """Return the stories of the year, in order of the day they begin."""
    chance = stream(0)
    visits = mixed(list(_visits()), chance)
    days = _spaced(len(visits), chance)
    stories = [
        _lived(_begun(n, day, visit))
        for n, (day, visit) in enumerate(zip(days, visits, strict=True), 1)
    ]
    told = [_as_told(story) for story in stories]
    return tuple(sorted([*told, *_others(len(told), told)], key=lambda s: (s.opened, s.n)))


def _visits() -> Iterator[tuple[str, str, str, str]]:
    """Yield customer, item, repair code and file of lines of every usual job."""
    for customer in (*shop.CUSTOMERS, shop.STRANGER):
        for item, repair in customer.brings:
            yield customer.name, item, repair, ""
    for name, item, file in shop.FROM_FILE:
        yield name, item, "", file


def working_days(first: date, last: date) -> list[date]:
    """Return the days from Monday to Friday between two days, both included."""
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return [day for day in days if day.weekday() < _SATURDAY]


def working_day(day: date) -> date:
    """Return `day`, or the Friday before where it falls on a weekend."""
    return day - timedelta(days=max(0, day.weekday() - _SATURDAY + 1))


def month_end(day: date) -> date:
    """Return the last day of the month that holds `day`."""
    return (day.replace(day=1) + timedelta(days=32)).replace(day=1) - timedelta(days=1)


def _spaced(count: int, chance: Random) -> list[date]:
    """Return `count` working days spread over the year, in order."""
    days = working_days(date(YEAR, 1, 3), _LAST_OPENED)
    return [days[int((n + chance.random()) * len(days) / count)] for n in range(count)]


def _begun(n: int, day: date, visit: tuple[str, str, str, str]) -> Story:
    customer, item, repair, file = visit
    return Story(n, day, customer, item, repair, file=file)


def _lived(story: Story) -> Story:
    """Return the story with what chance makes of it."""
    chance = stream(1, story.n)
    finished = story.opened + timedelta(days=whole(3, 16, chance))
    late_month = story.opened.day > month_end(story.opened).day - 12
    way = Way.COMMAND if late_month and happens(0.9, chance) else Way.TYPED
    told = replace(
        story,
        way=Way.FILE if story.file else way,
        promised=working_day(story.opened + timedelta(days=whole(10, 18, chance))),
        finished=working_day(finished),
        authorised=one_of((None, Decimal("1.1"), Decimal("1.15"), Decimal("1.25")), chance),
        overrun=1.0 if happens(0.78, chance) else 1.3 + 0.5 * chance.random(),
        worse=whole(3, 12, chance) * 5 if happens(0.13, chance) else 0,
        idle=tuple(_idle(chance)),
        passed_on=happens(0.6, chance),
        agreed=happens(0.07, chance),
    )
    return replace(
        told,
        discount=Decimal(whole(2, 6, chance) * 5) if happens(0.12, chance) else Decimal(0),
        delivery=Decimal(35) if happens(0.1, chance) else Decimal(0),
        paid=_paid(chance),
    )


def _idle(chance: Random) -> Iterator[Idle]:
    usual = (("rework", 15, 45), ("waiting", 10, 40), ("set-up", 8, 20), ("demonstration", 10, 30),
             ("teaching", 15, 50))  # fmt: skip
    for step in range(2):
        if chance.random() < (0.34, 0.12)[step]:
            reason, least, most = one_of(usual, chance)
            yield Idle(reason, step, whole(least, most, chance))


_HABITS = ("at once",) * 3 + ("in time",) * 9 + ("late",) * 4 + ("in parts",) * 3 + ("never",)


def _paid(chance: Random) -> tuple[Instalment, ...]:
    habit = one_of(_HABITS, chance)
    how = one_of(("bank", "bank", "cheque"), chance)
    whole_sum = Decimal(1)
    if habit == "at once":
        return (Instalment(0, whole_sum, one_of(("card", "cash"), chance)),)
    if habit == "in time":
        return (Instalment(whole(4, 21, chance), whole_sum, how),)
    if habit == "late":
        return (Instalment(whole(24, 60, chance), whole_sum, how),)
    if habit == "in parts":
        first = Instalment(whole(5, 20, chance), Decimal("0.5"), how)
        return (first, Instalment(whole(30, 75, chance), whole_sum, how))
    return ()


_TOLD: dict[str, dict[str, Any]] = {
    # The first of the year: with its authorisation the sheet Authorisations comes into the book.
    "Keg washer pipe": {"way": Way.COMMAND, "authorised": Decimal("1.4")},
    # The ceiling that is met: the customer said so much and no more, and nobody rang in time.
    "Screen deck frame": {
        "way": Way.COMMAND,
        "authorised": Decimal("1.02"),
        "forgotten": True,
        "overrun": 1.7,
        "worse": 55,
        "note": "More cracks than the dye showed",
    },
    # The one for the pictures: longer than estimated, minutes not billed, dearer sublet work.
    "Yard gate, bent by a bull": {
        "way": Way.TYPED,
        "authorised": Decimal("1.3"),
        "overrun": 1.45,
        "worse": 0,
        "idle": (Idle("rework", 0, 25), Idle("teaching", 1, 20)),
        "passed_on": True,
        "discount": Decimal(0),
        "delivery": Decimal(35),
        "agreed": False,
        "paid": (Instalment(12, Decimal("0.5"), "bank"), Instalment(47, Decimal(1), "bank")),
    },
    shop.STRANGER.brings[0][0]: {"way": Way.TYPED},
    "Old saloon radiator": {
        "state": "declined",
        "finished": None,
        "note": "A new radiator is cheaper; customer declined",
    },
    "Slurry pump casing": {
        "state": "halted",
        "opened": date(YEAR, 12, 3),
        "promised": date(YEAR, 12, 17),
        "finished": date(YEAR, 12, 12),
        "authorised": Decimal("1.1"),
        "note": "Wall too thin to weld; waiting for the customer's word",
    },
    "Tap manifold": {"discount": Decimal(30), "authorised": Decimal("1.15")},
    "Vintage tractor fuel tank, taken off": {
        "way": Way.COMMAND,
        "authorised": Decimal("1.2"),
        "paid": (
            Instalment(3, Decimal("0.4"), "cash"),
            Instalment(33, Decimal("0.4"), "cash"),
        ),
        "note": "Pays in parts; the last one is still to come",
    },
    # The last days of the year.
    "Bicycle stand": {
        "opened": date(YEAR, 12, 17),
        "promised": date(2026, 1, 9),
        "way": Way.TYPED,
        "state": "authorised",
        "authorised": Decimal("1.1"),
        "finished": None,
        "note": "Begins on 5 January",
    },
    "Vineyard tractor radiator": {
        "opened": date(YEAR, 12, 18),
        "promised": None,
        "way": Way.TYPED,
        "state": "estimated",
        "authorised": None,
        "finished": None,
        "note": "Estimate sent, no answer yet",
    },
    "Van radiator, old style": {"paid": (), "note": "Three reminders, no answer"},
}
"""What this year is remembered for, by item; chance has no say in it."""


def _as_told(story: Story) -> Story:
    told = replace(story, **_TOLD.get(story.item, {}))
    if told.state != "to invoice" or told.finished is None:
        return told
    if told.finished <= date(YEAR, 12, 29):
        return told
    return _unfinished(told)


def _unfinished(story: Story) -> Story:
    """Return a job of the last days of the year: estimated, authorised or still in work."""
    since = (date(YEAR, 12, 31) - story.opened).days
    state = (
        "in work" if since > _BEGUN_AFTER else "authorised" if story.authorised else "estimated"
    )
    working = state == "in work"
    return replace(story, state=state, finished=date(YEAR, 12, 30) if working else None)


def _others(n: int, usual: list[Story]) -> list[Story]:
    """Return what is not an ordinary job: refused, cancelled, asked about, come back."""
    lathe = next(story for story in usual if story.item == "Lathe apron housing")
    back = working_day((lathe.finished or lathe.opened) + timedelta(days=40))
    return [
        Story(
            n + 1, date(YEAR, 4, 9), "Saltmarsh Boatyard", "Fuel tank built into a hull", "",
            state="declined", note="Belongs to a vessel: outside our work, referred",
        ),
        Story(
            n + 2, date(YEAR, 8, 14), "Willow Bend School", "Bicycle stand (typed twice)", "FRAME",
            state="void", note="The same job was typed twice",
        ),
        Story(
            n + 3, back, "T. Nakagawa", "Lathe apron housing, come back", "ALU-HOUS",
            finished=working_day(back + timedelta(days=4)), warranty=True,
            note="Weld opened again: warranty, nothing billed",
        ),
        Story(n + 4, date(YEAR, 11, 24), "R. Haddad", "Water trough, split seam", "",
              state="enquiry", note="Band of 150 to 220 given by telephone"),
        Story(n + 5, date(YEAR, 12, 15), "Oxbow Rowing Club", "Rigger sockets, six", "",
              state="enquiry", note="Wants a price in the new year"),
        Story(n + 6, date(YEAR, 12, 17), "Cobble Lane Apartments", "Boiler room door frame", "",
              state="enquiry"),
    ]  # fmt: skip
