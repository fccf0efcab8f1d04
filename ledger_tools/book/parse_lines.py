"""Reading the lines of a job sheet."""

from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.book.cells import Gathered, shown
from ledger_tools.book.parse_catalogue import part_status
from ledger_tools.book.parse_line_time import is_fed, with_time
from ledger_tools.book.places import Grid
from ledger_tools.book.rows import Row
from ledger_tools.costing.catalogue import labour_rate_on, material_named
from ledger_tools.costing.lines import REASONS, Kind, Line
from ledger_tools.costing.time import LineTime
from ledger_tools.shop.model import Job, ShopBook
from ledger_tools.shop.snapshot import SheetSnapshot

_TYPED = (
    "kind", "description", "labour_class", "estimate", "actual", "non_billable", "reason",
    "agreed_price", "vendor", "cost", "tax_class",
)  # fmt: skip


_MOST_MINUTES = 9999
"""Of one line, four weeks of work: whatever is above is a slip."""


class JobLines(NamedTuple):
    """The line rows of one job sheet.

    Attributes:
        lines: Lines that hold anything, by row.
        ids: Line id of every row, also the empty ones.
        last_id: Highest line id ever given on this sheet.
        broken: Whether an error holds the job back.
        fed: Rows whose minutes stand in `Time`.
    """

    lines: Mapping[int, Line]
    ids: Mapping[int, int]
    last_id: int
    broken: bool
    fed: frozenset[int] = frozenset()


def read_job_lines(  # noqa: PLR0913, PLR0917 - what a job sheet is read with
    sheet: SheetSnapshot,
    grid: Grid,
    gathered: Gathered,
    job: Job,
    book: ShopBook,
    time: Mapping[int, LineTime],
) -> JobLines:
    """Return the lines on a job's sheet, with their minutes; findings go to `gathered`.

    Args:
        sheet: The sheet as read.
        grid: Where its lines stand.
        gathered: Where findings go.
        job: The job.
        book: The rest of the book.
        time: What `Time` has for its lines, by line id.
    """
    rows = [Row(sheet, grid, n, gathered, job.number) for n in grid.rows]
    ids, last = _line_ids(rows, grid, sheet)
    lines: dict[int, Line] = {}
    for row in rows:
        if row.holds(*_TYPED) or _typed_price(row, sheet):
            line = _line(row, ids[row.row], book, sheet)
            if line is not None:
                lines[row.row] = _with_time(row, line, time.get(line.line_id), job, book)
    fed = frozenset(n for n, one in lines.items() if one.line_id in time and _is_labour(one))
    return JobLines(lines, ids, last, any(row.broken for row in rows), fed)


def _is_labour(line: Line) -> bool:
    return line.kind is Kind.LABOUR


def _with_time(row: Row, line: Line, given: LineTime | None, job: Job, book: ShopBook) -> Line:
    line = with_time(row, line, given)
    _check_line(row, line, job, book)
    return line


def _line_ids(rows: list[Row], grid: Grid, sheet: SheetSnapshot) -> tuple[dict[int, int], int]:
    """Return the id of every row: the one it has, or the next; a copied row gets a new one."""
    typed: dict[int, int] = {}
    for row in rows:
        value = row.raw("line_id")
        if isinstance(value, int | float) and value > 0 and value == int(value):
            typed[row.row] = int(value)
    high = sheet.values.get(grid.cells.get("last_line", (0, 0)))
    last = max([*typed.values(), int(high) if isinstance(high, int | float) else 0], default=0)
    seen: set[int] = set()
    ids: dict[int, int] = {}
    for row in rows:
        own = typed.get(row.row)
        if own is None or own in seen:
            last += 1
            if row.raw("line_id") is not None:
                row.echoed(
                    "line_id", "line-number-given",
                    f"{shown(row.raw('line_id'))} is the number of another line, or none; "
                    f"this line got {last}",
                )  # fmt: skip
            own = last
        seen.add(own)
        ids[row.row] = own
    return ids, last


def _typed_price(row: Row, sheet: SheetSnapshot) -> bool:
    """Whether the price cell holds the owner's figure rather than the usual rate."""
    formula = sheet.formulas.get(row.place("price"), "")
    return row.holds("price") and "MAXIFS(" not in formula.upper()


def _line(row: Row, line_id: int, book: ShopBook, sheet: SheetSnapshot) -> Line | None:
    kind = row.needed("kind", _kind_reader(row), "kind-missing", "The line has no kind")
    if not kind:
        return None
    labour = kind == Kind.LABOUR
    quantity = row.minutes if labour else row.number
    return Line(
        line_id=line_id,
        kind=Kind(kind),
        description=row.text("description"),
        unit=_unit(row, labour=labour),
        estimate=quantity("estimate"),
        actual=None if is_fed(row, "actual") else quantity("actual"),
        non_billable=None if is_fed(row, "non_billable") else quantity("non_billable"),
        reason=_reason(row),
        price=_price(row, Kind(kind), book, sheet),
        agreed_price=row.number("agreed_price"),
        labour_class=_labour_class(row, book) if labour else "",
        part_status=part_status(row) if kind == Kind.PART else "",
        vendor=row.text("vendor"),
        cost=row.number("cost"),
        tax_class=_tax_class(row, book),
    )


def _unit(row: Row, *, labour: bool) -> str:
    said = row.text("unit")
    if said or not labour:
        return said
    row.echo("unit", "min")
    return "min"


def _kind_reader(row: Row) -> Callable[[str], str]:
    return lambda key: row.choice(key, tuple(k.value for k in Kind), "kind-unknown")


def _price(row: Row, kind: Kind, book: ShopBook, sheet: SheetSnapshot) -> Decimal | None:
    """Return the typed price, or the one in the sheet Materials for a material of that name."""
    if _typed_price(row, sheet):
        return row.number("price")
    if kind is not Kind.MATERIAL:
        return None
    known = material_named(row.text("description"), book.catalogue.materials)
    if known is None:
        return None
    said = f"The price {known.price:f} was taken from the sheet Materials"
    row.echoed("price", "price-from-materials", said)
    row.echo("price", float(known.price))
    if row.raw("unit") is None and known.unit:
        row.echo("unit", known.unit)
    if row.raw("cost") is None and known.cost is not None:
        row.echo("cost", float(known.cost))
    return known.price


def _reason(row: Row) -> str:
    said = row.text("reason")
    if said and said.casefold() not in REASONS:
        row.warning(
            "reason", "reason-unknown", f"The reason '{said}' is counted as 'other'",
            f"Choose one of: {', '.join(REASONS)}",
        )  # fmt: skip
        return "other"
    return said.casefold()


def _labour_class(row: Row, book: ShopBook) -> str:
    typed = row.name("labour_class")
    said = typed or book.settings.default_class
    for rate in book.catalogue.rates:
        if rate.labour_class.casefold() == said.casefold():
            if not typed and row.raw("labour_class") is None:
                row.echoed(
                    "labour_class", "class-filled-in", f"The usual class '{said}' was filled in"
                )
                row.echo("labour_class", rate.labour_class)
            return rate.labour_class
    classes = ", ".join(dict.fromkeys(r.labour_class for r in book.catalogue.rates))
    row.error(
        "labour_class", "class-unknown", f"Labour class '{said}' is not in the sheet Rates",
        f"Choose one of: {classes}",
    )  # fmt: skip
    return said


def _tax_class(row: Row, book: ShopBook) -> str:
    said = row.name("tax_class")
    for known in book.profile.taxable:
        if known.casefold() == said.casefold():
            return known
    if said:
        row.error(
            "tax_class", "tax-class-unknown", f"Tax class '{said}' is not in the sheet Taxes",
            f"Choose one of: {', '.join(book.profile.taxable)}",
        )  # fmt: skip
    return ""


def _check_line(row: Row, line: Line, job: Job, book: ShopBook) -> None:
    zero = Decimal(0)
    _check_minutes(row, line)
    off = line.non_billable or zero
    if off > 0 and not line.reason:
        row.warning(
            "reason", "reason-missing", "Work is marked not billable without a reason",
            f"Choose one of: {', '.join(REASONS)}",
        )  # fmt: skip
    done = line.actual if line.actual is not None or line.kind is Kind.LABOUR else line.estimate
    if off > (done or zero):
        row.error(
            "non_billable", "more-not-billable",
            f"{off:f} not billable is more than the {done or zero:f} done",
            "Actual counts everything done, billable or not",
        )  # fmt: skip
    if line.taxed_as not in book.profile.taxable:
        row.error(
            "tax_class", "tax-class-unknown", f"The sheet Taxes has no class '{line.taxed_as}'",
            "Add a row for it to the table of classes",
        )  # fmt: skip
    _check_quantity(row, line)
    _check_price(row, line, job, book)


def _check_minutes(row: Row, line: Line) -> None:
    """Refuse minutes that are a slip of the hand: billed, they would be weeks of work."""
    if line.kind is not Kind.LABOUR:
        return
    for key in ("estimate", "actual", "non_billable"):
        minutes = getattr(line, key)
        if minutes is not None and minutes > _MOST_MINUTES:
            row.error(
                key, "minutes-absurd",
                f"{minutes:f} minutes are {minutes / 60:.0f} hours in one line",
                f"Correct them; more than {_MOST_MINUTES} minutes go on several lines",
            )  # fmt: skip


def _check_quantity(row: Row, line: Line) -> None:
    """Ask for the quantity of a line that has a price and none: it would be billed as nothing."""
    if line.kind is Kind.LABOUR or line.price is None or line.agreed_price is not None:
        return
    if line.estimate is None and line.actual is None and not row.broken:
        row.warning(
            "actual", "quantity-missing", "The line has a price and no quantity: it counts as 0",
            "Type the quantity under Actual, 1 for a fee or a discount",
        )  # fmt: skip


def _check_price(row: Row, line: Line, job: Job, book: ShopBook) -> None:
    if line.price is not None or line.agreed_price is not None or row.wrong("price"):
        return
    if line.kind is Kind.LABOUR:
        known = any(r.labour_class == line.labour_class for r in book.catalogue.rates)
        if known and labour_rate_on(job.opened, line.labour_class, book.catalogue.rates) is None:
            row.error(
                "price", "rate-missing",
                f"Class '{line.labour_class}' has no rate on {job.opened.isoformat()}, "
                "the day the job was opened",
                "Add a row with an earlier first day to Rates, or type a price",
            )  # fmt: skip
    elif (line.estimate or line.actual) and job.state == "to invoice":
        row.error(
            "price", "price-missing", "The line has a quantity and no price",
            "Type a price (0 for free) or an agreed price",
        )  # fmt: skip
    elif line.estimate or line.actual:
        row.warning(
            "price", "price-missing", "The line has a quantity and no price, so it counts as 0",
            "Type a price (0 for free) or an agreed price",
        )  # fmt: skip
