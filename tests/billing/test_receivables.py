"""What is owed on a day, by age from the due date."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.receivables import (
    BUCKETS,
    Receipt,
    balance_on,
    bucket_of,
    paid_to,
    receivables_on,
)
from ledger_tools.costing.lines import Kind
from tests.documents.registers import invoice_of, other_line
from tests.published import published, said

DAY = date(2025, 9, 30)


def owed(number: str, amount: str, *, day: date = DAY, due: date = DAY) -> Invoice:
    """Return an invoice without tax."""
    made = invoice_of(number, day, (other_line(1, Kind.SUBLET, amount),))
    return replace(made, due=due)


@pytest.mark.parametrize("value", published("receivables", prefix="aging-"))
def test_age_has_the_customary_bucket(value: dict[str, Any]) -> None:
    """Days past the due date decide; the last day of a bucket still belongs to it."""
    assert bucket_of(value["inputs"]["days_past_due"]) == value["expected"]["bucket"], said(value)


@pytest.mark.parametrize("value", published("receivables", prefix="exercise-ageing"))
def test_a_worked_exercise_of_ageing(value: dict[str, Any]) -> None:
    """Each amount of the exercise falls in its bucket, and the sum is the one printed."""
    pairs = zip(value["inputs"]["days_past_due"], value["inputs"]["amounts"], strict=True)
    invoices = [
        owed(str(n), amount, day=DAY - timedelta(days=120), due=DAY - timedelta(days=days))
        for n, (days, amount) in enumerate(pairs)
    ]

    found = receivables_on(DAY, invoices, [])

    assert [str(debt.amount) for debt in found.by_age] == value["inputs"]["amounts"], said(value)
    assert found.total == Decimal(value["expected"]["receivables"]), said(value)
    assert found.overdue == found.total - Decimal(value["inputs"]["amounts"][0])


def test_age_counts_from_the_due_date() -> None:
    """An invoice forty days old that was due yesterday is one day late, not forty."""
    invoice = owed("1", "80.00", day=DAY - timedelta(days=40), due=DAY - timedelta(days=1))

    found = receivables_on(DAY, [invoice], [])

    assert [debt.bucket for debt in found.by_age if debt.amount] == ["1-30"]


def test_a_payment_counts_from_its_day_on() -> None:
    """Paid on the day counts, paid the day after does not."""
    invoice = owed("1", "80.00")
    receipts = [
        Receipt(DAY, "1", Decimal("30.00")),
        Receipt(DAY + timedelta(days=1), "1", Decimal("50.00")),
        Receipt(DAY, "2", Decimal("7.00")),
    ]

    assert paid_to(DAY, "1", receipts) == Decimal("30.00")
    assert balance_on(DAY, invoice, receipts) == Decimal("50.00")
    assert balance_on(DAY + timedelta(days=1), invoice, receipts) == 0
    assert receivables_on(DAY, [invoice], receipts[:2]).total == Decimal("50.00")


def test_nothing_is_owed_before_the_invoice() -> None:
    """An invoice of tomorrow is no debt today, even if it is paid already."""
    invoice = owed("1", "80.00", day=DAY + timedelta(days=1))
    early = Receipt(DAY, "1", Decimal("20.00"))

    assert balance_on(DAY, invoice, []) == 0
    found = receivables_on(DAY, [invoice], [early])
    assert (found.owed, found.ahead, found.total) == (0, Decimal("-20.00"), Decimal("-20.00"))


def test_money_held_stands_beside_the_debts() -> None:
    """Overpaid and unknown payments are shown, not set off against what others owe."""
    invoices = [owed("1", "100.00"), owed("2", "40.00")]
    receipts = [Receipt(DAY, "2", Decimal("45.00")), Receipt(DAY, "9", Decimal("8.00"))]

    found = receivables_on(DAY, invoices, receipts)

    assert found.owed == Decimal("100.00")
    assert found.overpaid == Decimal("-5.00")
    assert found.ahead == Decimal("-8.00")
    assert found.total == Decimal("87.00")
    assert [debt.invoices for debt in found.by_age] == [1, 0, 0, 0, 0]


def test_a_settled_invoice_is_not_counted() -> None:
    """Paid in full, it is no debt of nothing."""
    found = receivables_on(DAY, [owed("1", "80.00")], [Receipt(DAY, "1", Decimal("80.00"))])

    assert [debt.invoices for debt in found.by_age] == [0, 0, 0, 0, 0]


def test_every_bucket_is_there_with_nothing_owed() -> None:
    """No debts still give five rows, none of them a negative zero."""
    found = receivables_on(DAY, [], [])

    assert [debt.bucket for debt in found.by_age] == list(BUCKETS)
    assert str(found.total) == "0"
