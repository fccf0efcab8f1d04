"""An invoice every word of which comes from somebody else."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice
from tests.documents.examples import HOUSING


def hostile_invoice(word: Callable[[], str], amount: Decimal) -> Invoice:
    """Return an invoice of one line, its words from `word`; paper and language are the shop's."""
    kept = {"language", "locale", "paper"}
    line = replace(
        HOUSING.lines[0], description=word(), unit=word(), vendor=word(), reason=word(),
        quantity=Decimal(1), price=amount, amount=amount,
    )  # fmt: skip
    return replace(
        HOUSING,
        customer=word(),
        item=word(),
        job=word(),
        lines=(line,),
        taxes=(),
        subtotal=amount,
        tax=Decimal(0),
        total=amount,
        wording={k: v if k in kept else word() for k, v in HOUSING.wording.items()},
    )
