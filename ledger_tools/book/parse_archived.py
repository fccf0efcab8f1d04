"""Reading the lines of archived jobs back from their register, as they came to then."""

from collections.abc import Callable, Iterator, Mapping
from typing import NamedTuple

from ledger_tools.book.layout import KIND_WORDS
from ledger_tools.book.registers import ARCHIVED_LINES_TABLE
from ledger_tools.book.rows import Row
from ledger_tools.costing.job_cost import LineCost, value_not_billed
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.money import ZERO, Rounding

RowSource = Callable[..., Iterator[Row]]


class ArchivedJobs(NamedTuple):
    """The register of archived lines.

    Attributes:
        costs: What each line came to, in order of line id, by job number.
        broken: Jobs with a row that cannot be read.
    """

    costs: Mapping[str, tuple[LineCost, ...]]
    broken: frozenset[str]


def read_archived(rows: RowSource, money: Rounding) -> ArchivedJobs:
    """Return the lines of archived jobs; an error in a row names its job."""
    found: dict[str, list[LineCost]] = {}
    broken: set[str] = set()
    for row in rows(ARCHIVED_LINES_TABLE, "job", "kind"):
        row.job = row.text("job")
        cost = _cost(row, money)
        if cost is not None:
            found.setdefault(row.job, []).append(cost)
        if row.broken:
            broken.add(row.job)
    in_order = {
        job: tuple(sorted(costs, key=lambda cost: cost.line.line_id))
        for job, costs in found.items()
    }
    return ArchivedJobs(in_order, frozenset(broken))


def _cost(row: Row, money: Rounding) -> LineCost | None:
    kind = row.choice("kind", KIND_WORDS, "kind-unknown")
    if not kind:
        return None
    line = Line(
        line_id=int(row.number("line_id") or ZERO),
        kind=Kind(kind),
        description=row.text("description"),
        unit=row.text("unit"),
        estimate=row.number("estimate"),
        actual=row.number("actual"),
        non_billable=row.number("non_billable"),
        reason=row.text("reason"),
        price=row.number("price"),
        agreed_price=row.number("agreed_price"),
        labour_class="" if kind == Kind.PART else row.text("labour_class"),
        part_status=row.text("labour_class") if kind == Kind.PART else "",
        vendor=row.text("vendor"),
        cost=row.number("cost"),
        tax_class=row.text("tax_class"),
    )
    return LineCost(
        line,
        row.number("billed", negative=True) or ZERO,
        money.amount(row.number("amount", negative=True) or ZERO),
        money.amount(row.number("estimated", negative=True) or ZERO),
        value_not_billed((line,)),
    )
