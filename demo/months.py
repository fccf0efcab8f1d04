"""The year month by month: what the owner types, which commands are run."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import ROUND_UP, Decimal
from pathlib import Path
from typing import Any

from demo import bench, shop
from demo.owner import Desk
from demo.scenario import Story, Way, month_end, year
from demo.till import Till
from demo.tools import Tools
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    CUSTOMERS_TABLE,
    JOBS_TABLE,
    RATES_TABLE,
    REPAIRS_TABLE,
    TAX_RATES_TABLE,
)
from ledger_tools.book.option_layout import OPTIONS_TABLE

LINES = Path(__file__).resolve().parent / "lines"
MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September",
    "October", "November", "December",
)  # fmt: skip
_TENS = Decimal(10)


class Year:
    """The shop from January to December.

    Attributes:
        book: The shop book.
        till: What was billed and paid.
        tool: Runs a command on the book.
        refused: What `invoice` said of jobs it refused.
    """

    def __init__(self, book: Path) -> None:
        self.book = book
        self.till = Till()
        self.tool = Tools(book).run
        self.refused: list[dict[str, str]] = []
        self._stories = year()
        self._numbers: dict[int, str] = {}
        self._authorised: set[int] = set()
        self._begun: set[int] = set()
        self._worked: set[int] = set()

    def job_of(self, item: str) -> str:
        """Return the number of the job for an item."""
        return self._numbers[next(s.n for s in self._stories if s.item == item)]

    def _by_job(self) -> dict[str, Story]:
        """Return the stories whose jobs have a number, by that number."""
        return {self._numbers[s.n]: s for s in self._stories if s.n in self._numbers}

    def open_shop(self) -> None:
        """Make the book, fill in the shop, its customers and its vendors."""
        self.tool("new", "--tax", "us-ca", today=date(2025, 1, 2))
        desk = Desk(self.book)
        desk.set_up(shop.SHOP)
        for customer in shop.CUSTOMERS:
            desk.add_row(
                CUSTOMERS_TABLE,
                name=customer.name,
                address=customer.address,
                contact=customer.contact,
            )
        for row in desk.grid(REPAIRS_TABLE).rows:
            vendor = desk.shown(REPAIRS_TABLE, row, "vendor")
            if vendor in shop.VENDORS:
                desk.correct(REPAIRS_TABLE, row, vendor=shop.VENDORS[vendor])
        desk.save()

    def month(self, first: date) -> str:
        """Live through a month and return what happened in a line."""
        last = month_end(first)
        new = [s for s in self._stories if first <= s.opened <= last]
        self._open_typed([s for s in new if s.way is Way.TYPED], last)
        for story in new:
            if story.way is not Way.TYPED:
                self._open_by_command(story)
        received = self._evening(first, last)
        self._ring_customers(self.tool("recompute", today=last), last)
        issued = self._invoice(last)
        received += self._counter(last)
        report = self.tool("recompute", today=last)
        owing = sum((Decimal(job["balance"] or 0) for job in report["jobs"]), start=Decimal(0))
        opened = sum(story.numbered for story in new)
        return (
            f"{MONTHS[first.month - 1]:<10}{opened:>3} jobs opened, {issued:>2} invoices, "
            f"{received:>2} payments, {owing:>9,.2f} owing at the end"
        )

    def _open_typed(self, new: list[Story], last: date) -> None:
        """Type rows in `Jobs`, save, recompute: numbers and sheets appear."""
        desk = Desk(self.book)
        for story in new:
            values: dict[str, str | date] = {
                "opened": story.opened,
                "customer": story.customer,
                "item": story.item,
            }
            if story.repair:
                values["repair"] = story.repair
            if story.promised:
                values["promised"] = story.promised
            if not story.numbered:
                values |= {"state": story.state, "note": story.note}
            desk.add_row(JOBS_TABLE, **values)
        desk.save()
        report = self.tool("recompute", today=min(last, max(s.opened for s in new)))
        numbers = {(job["customer"], job["item"]): job["job"] for job in report["jobs"]}
        for story in new:
            if story.numbered:
                self._numbers[story.n] = numbers[story.customer, story.item]

    def _open_by_command(self, story: Story) -> None:
        words: list[object] = ["--customer", story.customer, "--item", story.item]
        words += ["--repair", story.repair] if story.repair else []
        words += ["--lines", LINES / story.file] if story.file else []
        if story.authorised and story.asked_first:
            look = self.tool("add-job", *words, "--dry-run", today=story.opened)
            estimate = Decimal(look["jobs"][0]["estimate_total"])
            words += ["--authorised", _rounded_up(estimate * story.authorised)]
            self._authorised.add(story.n)
        report = self.tool("add-job", *words, "--state", "in work", today=story.opened)
        self._numbers[story.n] = report["jobs"][0]["job"]

    def _evening(self, first: date, last: date) -> int:
        """Type what happened in the month, save, and return how many payments came in."""
        desk = Desk(self.book)
        rows = desk.find_rows(JOBS_TABLE, "number")
        for story in self._stories:
            if story.n in self._numbers and story.opened <= last and story.n not in self._worked:
                self._write_up(desk, story, int(rows[self._numbers[story.n]]), last)
        self._fill_in_strangers(desk)
        self._new_rates(desk, first, last)
        received = self.till.receive(desk, last)
        desk.save()
        return received

    def _write_up(self, desk: Desk, story: Story, row: int, last: date) -> None:
        """Type what is known of one job at the end of a month."""
        job = self._numbers[story.n]
        self._authorise(desk, story, job)
        self._weigh(desk, story, job)
        if story.note:
            desk.correct(JOBS_TABLE, row, note=story.note)
        if story.promised and story.n not in self._begun:
            desk.correct(JOBS_TABLE, row, promised=story.promised)
        lines, free = desk.lines(job)
        cells = bench.work_on(story, lines, free) if story.finished else {}
        over = story.finished is None or story.finished <= last
        if not over or story.state in ("in work", "halted"):
            cells = bench.halfway(cells)
        if story.n not in self._begun or over:
            desk.work(job, cells)
        self._begun.add(story.n)
        desk.correct(JOBS_TABLE, row, state=story.state if over else "in work")
        if over:
            self._worked.add(story.n)

    def _authorise(self, desk: Desk, story: Story, job: str) -> None:
        """Type the customer's word on the estimate, once."""
        if not story.authorised or story.n in self._authorised:
            return
        self._authorised.add(story.n)
        estimate = Decimal(str(desk.total_estimated(job)))
        desk.add_row(
            AUTHORISATIONS_TABLE,
            job=job,
            day=story.opened + timedelta(days=1),
            amount=float(_rounded_up(estimate * story.authorised)),
            who=story.customer,
            how="telephone",
            scope="as estimated",
        )

    def _weigh(self, desk: Desk, story: Story, job: str) -> None:
        """Type the ways to go on that were weighed with the customer, once."""
        if story.n in self._begun:
            return
        for option in shop.OPTIONS.get(story.item, ()):
            row = desk.add_row(OPTIONS_TABLE, job=job, **option)
            if "chosen_how" in option:
                desk.correct(OPTIONS_TABLE, row, chosen_on=story.opened, chosen_by=story.customer)

    def _fill_in_strangers(self, desk: Desk) -> None:
        """Give the address of a customer whom recompute took from a job."""
        row = desk.find_rows(CUSTOMERS_TABLE, "name").get(shop.STRANGER.name)
        if row and desk.shown(CUSTOMERS_TABLE, row, "address") is None:
            desk.correct(
                CUSTOMERS_TABLE,
                row,
                address=shop.STRANGER.address,
                contact=shop.STRANGER.contact,
            )

    def _new_rates(self, desk: Desk, first: date, last: date) -> None:
        """Type rates the owner hears of in this month: a new row, the old one stays."""
        if first <= shop.WELDING_RATE.typed_on <= last:
            desk.add_row(
                RATES_TABLE,
                labour_class="welding",
                first_day=shop.WELDING_RATE.first_day,
                rate=float(shop.WELDING_RATE.rate),
                note="Gas and power are dearer",
            )
        if first <= shop.DISTRICT_TAX.typed_on <= last:
            desk.add_row(
                TAX_RATES_TABLE,
                component="District tax",
                first_day=shop.DISTRICT_TAX.first_day,
                rate=float(shop.DISTRICT_TAX.rate),
                source="Invented for this demonstration",
            )

    def _counter(self, last: date) -> int:
        """Type what was paid at the counter on the day of the invoice."""
        if not self.till.waits(last):
            return 0
        desk = Desk(self.book)
        received = self.till.receive(desk, last)
        desk.save()
        return received

    def _ring_customers(self, report: dict[str, Any], last: date) -> None:
        """Have the rest authorised where a recompute finds a job above its ceiling."""
        forgotten = {self._numbers.get(story.n) for story in self._stories if story.forgotten}
        above = [
            job
            for job in report["jobs"]
            if job["ceiling"] and Decimal(job["total"]) > Decimal(job["ceiling"])
        ]
        to_ring = [job for job in above if job["job"] not in forgotten]
        if to_ring:
            desk = Desk(self.book)
            for job in to_ring:
                self._authorise_more(desk, job, last)
            desk.save()

    def _authorise_more(self, desk: Desk, job: dict[str, Any], day: date) -> None:
        desk.add_row(
            AUTHORISATIONS_TABLE,
            job=job["job"],
            day=day,
            amount=float(_rounded_up(Decimal(job["total"]))),
            who=job["customer"],
            how="telephone",
            scope="more damage than could be seen",
        )

    def _invoice(self, last: date) -> int:
        """Issue the month's invoices; a job above its ceiling is refused, mended and billed."""
        held = self._forgotten_ceilings()
        report = self.tool("invoice", today=last, stops=bool(held))
        self.till.send(report["invoices"], self._by_job(), last)
        issued = len(report["invoices"])
        if held:
            self.refused = [f for f in report["findings"] if f["severity"] == "error"]
            desk = Desk(self.book)
            for job in self.tool("recompute", "--dry-run", today=last)["jobs"]:
                if job["job"] in held:
                    self._authorise_more(desk, job, last)
            desk.save()
            late = self.tool("invoice", *held, today=last)
            self.till.send(late["invoices"], self._by_job(), last)
            issued += len(late["invoices"])
        return issued

    def _forgotten_ceilings(self) -> list[str]:
        """Return the jobs to be billed whose customer nobody has rung."""
        worked = [s for s in self._stories if s.forgotten and s.n in self._worked]
        return [self._numbers[s.n] for s in worked if self._numbers[s.n] not in self.till.billed]


def _rounded_up(amount: Decimal) -> Decimal:
    """Return `amount` rounded up to the next ten, as customers say it."""
    return (amount / _TENS).quantize(Decimal(1), ROUND_UP) * _TENS
