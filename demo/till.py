"""Invoices sent and money coming in: what each customer owes and when it is paid."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from demo.owner import Desk
from demo.scenario import Instalment, Story, working_day
from ledger_tools.book.layout import PAYMENTS_TABLE


class Till:
    """What was billed and what is still to come in.

    Attributes:
        billed: Numbers of the jobs that were billed.
    """

    def __init__(self) -> None:
        self.billed: set[str] = set()
        self._totals: dict[str, Decimal] = {}
        self._received: dict[str, Decimal] = {}
        self._due: list[tuple[date, str, Instalment]] = []

    def send(
        self, invoices: list[dict[str, Any]], stories: Mapping[str, Story], day: date
    ) -> None:
        """Remember invoices that went out, and when their customers will pay."""
        for invoice in invoices:
            number = invoice["number"]
            self.billed.add(invoice["job"])
            self._totals[number] = Decimal(invoice["total"])
            for instalment in stories[invoice["job"]].paid:
                comes = working_day(day + timedelta(days=instalment.after))
                self._due.append((max(day, comes), number, instalment))

    def waits(self, last: date) -> bool:
        """Whether payments that came in by `last` are still to be typed."""
        return any(day <= last for day, _, _ in self._due)

    def receive(self, desk: Desk, last: date) -> int:
        """Type the payments that came in by `last` and return how many they are."""
        now = sorted((due for due in self._due if due[0] <= last), key=lambda due: due[:2])
        self._due = [due for due in self._due if due[0] > last]
        for day, number, instalment in now:
            amount = self._amount(number, instalment)
            self._received[number] = self._received.get(number, Decimal(0)) + amount
            desk.add_row(
                PAYMENTS_TABLE, day=day, invoice=number, amount=float(amount), how=instalment.how
            )
        return len(now)

    def _amount(self, number: str, instalment: Instalment) -> Decimal:
        """Return a part in whole dollars, or what is left with the last instalment."""
        total = self._totals[number]
        if instalment.share == 1:
            return total - self._received.get(number, Decimal(0))
        return (total * instalment.share).quantize(Decimal(1))
