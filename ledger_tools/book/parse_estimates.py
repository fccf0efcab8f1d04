"""Reading estimates back from the registers, every word and figure, and what was accepted."""

from dataclasses import dataclass, field
from decimal import Decimal

from ledger_tools.billing.advised import advised_in
from ledger_tools.billing.estimate import EXTRA_WORK, Acceptance, Estimate, Request
from ledger_tools.billing.invoice import InvoiceLine, wrong_sums
from ledger_tools.billing.offer import offers_in
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.book.formulas.authorisations import COUNTED
from ledger_tools.book.layout import REACHED
from ledger_tools.book.parse_invoices import TAX_KIND
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE, ESTIMATES_TABLE
from ledger_tools.book.rows import Reading, Row
from ledger_tools.book.wording import from_text
from ledger_tools.costing.lines import Kind
from ledger_tools.money import ZERO, Rounding, plain

_BACKUP = "Take the row from a backup: rows of estimates are not changed by hand"
_ABOUT_IT = ("accepted_by", "accepted_how", "accepted_option")
_SUM_COLUMNS = {"net amount": "subtotal", "tax": "tax", "total": "total"}


@dataclass(slots=True)
class _Parts:
    """What the rows of one estimate hold.

    Attributes:
        first: The first of its rows.
        lines: Promised lines.
        taxes: Components of the tax.
    """

    first: Row
    lines: list[InvoiceLine] = field(default_factory=list)
    taxes: list[TaxAmount] = field(default_factory=list)


def read_estimates(reading: Reading, currency: str, money: Rounding) -> dict[str, Estimate]:
    """Return every revision by number, in the order of their rows.

    An error in a row names its job, which gets no new estimate until it is mended.
    """
    parts = _lines(reading, money)
    orphans = dict(parts)
    estimates: dict[str, Estimate] = {}
    for row in reading.rows(ESTIMATES_TABLE, "number", "job", "total", "accepted_on"):
        row.job = row.text("job")
        orphans.pop(str(row.raw("number")), None)
        estimate = _estimate(row, parts, currency, money)
        if estimate is None:
            continue
        if estimate.number in estimates:
            row.error(
                "number", "estimate-number-twice",
                f"Estimate {estimate.number} stands here twice", _BACKUP,
            )  # fmt: skip
            continue
        _check_sums(row, estimate)
        estimates[estimate.number] = estimate
    for number, lost in orphans.items():
        _say_orphan(number, lost.first)
    return estimates


def _check_sums(row: Row, estimate: Estimate) -> None:
    """Warn of an estimate whose rows do not add up any more; it is printed as they stand."""
    for name, kept, comes_to in () if row.broken else wrong_sums(estimate):
        row.warning(
            _SUM_COLUMNS[name], "estimate-sum",
            f"Estimate {estimate.number}: the {name} kept is {plain(kept)}, "
            f"its parts come to {plain(comes_to)}",
            "Put its rows in Estimates and Estimate lines back as they were, from a backup",
        )  # fmt: skip


def _say_orphan(number: str, row: Row) -> None:
    """Name an estimate that has lost its row in `Estimates`: its number would be given again."""
    if number:
        row.error(
            "estimate", "estimate-row-missing",
            f"Estimate {number} has its lines here and no row in Estimates",
            "Take its row in Estimates from a backup: rows of estimates are not changed by hand",
        )  # fmt: skip


def _lines(reading: Reading, money: Rounding) -> dict[str, _Parts]:
    """Return lines and taxes by estimate."""
    found: dict[str, _Parts] = {}
    for row in reading.rows(ESTIMATE_LINES_TABLE, "estimate", "kind"):
        number = row.text("estimate")
        row.job = number.rpartition("/")[0]
        parts = found.setdefault(number, _Parts(row))
        if row.text("kind") == TAX_KIND:
            parts.taxes.append(_tax(row, money))
        elif line := _line(row, money):
            parts.lines.append(line)
    return found


def _amount(row: Row, key: str) -> Decimal:
    return row.number(key, negative=True) or ZERO


def _tax(row: Row, money: Rounding) -> TaxAmount:
    base, amount = (money.amount(_amount(row, key)) for key in ("price", "amount"))
    return TaxAmount(row.text("description"), base, _amount(row, "quantity"), amount)


def _line(row: Row, money: Rounding) -> InvoiceLine | None:
    kind = row.choice("kind", tuple(k.value for k in Kind), "kind-unknown")
    if not kind:
        return None
    quantity, amount = _amount(row, "quantity"), money.amount(_amount(row, "amount"))
    before = row.number("before", negative=True)
    return InvoiceLine(
        line_id=int(_amount(row, "line_id")),
        kind=Kind(kind),
        description=row.text("description"),
        quantity=quantity,
        unit=row.text("unit"),
        price=row.number("price", negative=True),
        amount=amount,
        taxed_as=row.text("taxed_as"),
        labour_class="" if kind == Kind.PART else row.text("labour_class"),
        part_status=row.text("labour_class") if kind == Kind.PART else "",
        vendor=row.text("vendor"),
        estimate=_amount(row, "minutes") if kind == Kind.LABOUR.value else quantity,
        estimated=amount,
        before=None if before is None else money.amount(before),
    )


def _estimate(
    row: Row, parts: dict[str, _Parts], currency: str, money: Rounding
) -> Estimate | None:
    number = row.needed("number", row.text, "estimate-number-missing", "It has no number")
    day = row.needed("day", row.day, "date-missing", "The estimate has no date")
    until = row.needed("valid_until", row.day, "date-missing", "It has no last day")
    accepted, declined = _accepted(row), row.day("declined_on")
    if row.holds("accepted_on") and row.holds("declined_on"):
        row.error(
            "declined_on", "accepted-and-declined",
            "It is accepted and declined",
            "Clear one of the two days; nothing is authorised until then",
        )  # fmt: skip
    if not (number and day and until):
        return None
    kept = parts.get(number, _Parts(row))
    subtotal, tax, total, deposit = (
        money.amount(_amount(row, key)) for key in ("subtotal", "tax", "total", "deposit")
    )
    return Estimate(
        number=number,
        job=row.text("job"),
        revision=int(_amount(row, "revision")),
        day=day,
        valid_until=until,
        customer=row.text("customer"),
        item=row.text("item"),
        lines=tuple(kept.lines),
        taxes=tuple(kept.taxes),
        subtotal=subtotal,
        tax=tax,
        total=total,
        deposit=deposit,
        currency=currency,
        wording=_wording(row),
        fingerprint=row.text("fingerprint"),
        accepted=None if row.broken else accepted,
        declined=declined,
        request=_request(row, money),
    )


def _request(row: Row, money: Rounding) -> Request | None:
    """Return what makes a row a request for extra work, None for one of an estimate."""
    if not row.choice("paper", (EXTRA_WORK,), "paper-unknown"):
        return None
    counted = row.choice("counted", COUNTED, "counted-unknown")
    authorised = money.amount(_amount(row, "authorised"))
    return Request(row.text("found"), authorised, with_tax=counted != COUNTED[False])


def _accepted(row: Row) -> Acceptance | None:
    """Return the acceptance typed in a row; who or how without a day is an error."""
    who, how = row.text("accepted_by"), row.choice("accepted_how", REACHED, "reached-unknown")
    option = row.text("accepted_option")
    day = row.day("accepted_on")
    if day is None and row.holds(*_ABOUT_IT) and not row.wrong("accepted_on"):
        row.error(
            "accepted_on", "acceptance-undated",
            "It says who accepted the estimate or how, and not when",
            "Fill in the day the customer said yes, or clear the cells beside it",
        )  # fmt: skip
    return Acceptance(day, who, how, option) if day and not row.broken else None


def _wording(row: Row) -> dict[str, str]:
    said = from_text(row.text("wording"))
    if said is None:
        row.error(
            "wording", "estimate-wording", "The wording of the paper cannot be read", _BACKUP
        )
        return {}
    try:
        offers_in(said)
        advised_in(said)
    except ValueError:
        row.error(
            "wording",
            "estimate-wording",
            "The options of the paper, or what was declined, cannot be read",
            _BACKUP,
        )
        return {}
    return said
