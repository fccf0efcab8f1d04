"""Whether a period's figures tie to the registers: both figures, their difference and a word."""

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import islice, pairwise

from ledger_tools.billing.numbering import sequence_of
from ledger_tools.billing.summaries import PeriodSummary, labour_minutes
from ledger_tools.book.layout import Look
from ledger_tools.book.look import INK, LINE, RUST, STEEL, money_format
from ledger_tools.documents.blocks import Content, Formula
from ledger_tools.documents.pack import Pack
from ledger_tools.documents.period_blocks import during
from ledger_tools.documents.period_details import UNKNOWN, PeriodRegisters
from ledger_tools.money import ZERO, Rounding
from ledger_tools.shop.model import ShopBook

CHECKS = "Checks"
OK = "OK"
LOOK = "LOOK"
FIRST_ROW = 5
MOST_NAMED = 6
WORD_COL = 6
_RIGHT: dict[str, object] = {"align": "right"}
_AFTER_FIGURE: dict[str, object] = {"indent": 1}
_COLUMNS: tuple[tuple[str, float, dict[str, object]], ...] = (
    ("Check", 42, {}),
    ("What is compared", 58, {}),
    ("Here", 13, _RIGHT),
    ("Against", 13, _RIGHT),
    ("Difference", 11, _RIGHT),
    ("", 9, _AFTER_FIGURE),
    ("Where to look", 46, _AFTER_FIGURE),
)


@dataclass(frozen=True, slots=True)
class Check:
    """Two figures that should be the same.

    Attributes:
        name: What is checked.
        says: Which two figures.
        here: One figure.
        against: The other.
        look: Money, or whole numbers.
        where: Where to look if they differ.
    """

    name: str
    says: str
    here: Formula
    against: Formula | int
    look: Look = Look.MONEY
    where: str = ""

    @property
    def difference(self) -> Decimal | int:
        """The first figure less the second."""
        other = self.against.value if isinstance(self.against, Formula) else self.against
        return Decimal(self.here.value) - Decimal(other)

    @property
    def word(self) -> str:
        """OK, or LOOK where they differ."""
        return LOOK if self.difference else OK


def register_checks(
    pack: Pack, book: ShopBook, summary: PeriodSummary, rows: PeriodRegisters
) -> list[Check]:
    """Return what holds for the registers of any period."""
    lines = [line for invoice in rows.issued for line in invoice.lines]
    taxes = [tax for invoice in rows.issued for tax in invoice.taxes]
    return [
        Check(
            "Lines add up to the invoices",
            "Sum of all invoice lines, against net of the invoices",
            Formula(pack.rounded("SUM(Lines[Amount])"), sum((x.amount for x in lines), ZERO)),
            _of_invoices(pack, "Net", summary.net),
            where="Lines: compare each invoice with its net on Invoices",
        ),
        Check(
            "Tax rows add up to the invoices",
            "Sum of all tax rows, against tax of the invoices",
            Formula(pack.rounded("SUM(Taxes[Amount])"), sum((t.amount for t in taxes), ZERO)),
            _of_invoices(pack, "Tax", summary.tax),
            where="Taxes: compare each invoice with its tax on Invoices",
        ),
        Check(
            "Net and tax make the total",
            "Net plus tax, against total of the invoices",
            Formula(
                pack.rounded(
                    f"SUMIFS(Invoices[Net],{during('Invoices[Date]')})"
                    f"+SUMIFS(Invoices[Tax],{during('Invoices[Date]')})"
                ),
                summary.net + summary.tax,
            ),
            _of_invoices(pack, "Total", summary.total),
            where="Invoices: net and tax of each row",
        ),
        _tax_again(book, rows),
        _roll_forward(pack, summary),
        _sequence(book, summary, rows),
        _unknown_payments(rows),
        _missing_costs(summary, rows),
    ]


def _of_invoices(pack: Pack, header: str, value: Decimal) -> Formula:
    dated = during("Invoices[Date]")
    return Formula(pack.rounded(f"SUMIFS(Invoices[{header}],{dated})"), value)


def _tax_again(book: ShopBook, rows: PeriodRegisters) -> Check:
    rounding = Rounding(book.settings.digits)
    unit = Decimal(1).scaleb(-rounding.digits)
    off = [
        invoice.number
        for invoice in rows.issued
        for tax in invoice.taxes
        if abs(tax.amount - rounding.amount(tax.base * tax.rate)) > unit
    ]
    gap = f"ROUND(ABS(Taxes[Amount]-Taxes[Rate x taxable]),{rounding.digits})"
    return Check(
        "Tax is rate times taxable amount",
        "Tax rows over one minor unit away, against none",
        Formula(f"SUMPRODUCT(({gap}>{unit})*1)", len(off)),
        0,
        Look.MINUTES,
        _named(off, "Taxes"),
    )


def _roll_forward(pack: Pack, summary: PeriodSummary) -> Check:
    before = '"<"&period_first'
    opening = f"SUMIFS(Invoices[Total],Invoices[Date],{before})"
    paid_before = f"SUMIFS(Payments[Amount],Payments[Date],{before})"
    invoiced = f"SUMIFS(Invoices[Total],{during('Invoices[Date]')})"
    received = f"SUMIFS(Payments[Amount],{during('Payments[Date]')})"
    held = '(Payments[Stands for]<>"invoice")*(Payments[Date]<=period_last)'
    return Check(
        "What is owed rolls forward",
        "Opening + invoiced - received, against all balances",
        Formula(
            pack.rounded(f"{opening}-{paid_before}+{invoiced}-{received}"),
            summary.roll_forward.closing,
        ),
        Formula(
            pack.rounded(f"SUM(Invoices[Owing])-SUMPRODUCT({held},Payments[Amount])"),
            summary.receivables.total,
        ),
        where="Payments: rows on an invoice that is not on Invoices",
    )


def _sequence(book: ShopBook, summary: PeriodSummary, rows: PeriodRegisters) -> Check:
    numbers = _sequence_numbers(rows, book.settings.number_pattern)
    missing = [str(n) for n in islice(_gaps(numbers), MOST_NAMED)]
    dated = during("Invoices[Date]")
    column = "Invoices[Number in sequence]"
    span = f"_xlfn.MAXIFS({column},{dated})-_xlfn.MINIFS({column},{dated})+1"
    spanned = numbers[-1] - numbers[0] + 1 if numbers else 0
    where = f"Not in this period: number {', '.join(missing)}" if missing else ""
    return Check(
        "Invoice numbers run without a gap",
        "Numbers from first to last, against invoices issued",
        Formula(f'IF(COUNTIFS({dated},{column},">0")=0,0,{span})', spanned),
        Formula(f"COUNTIFS({dated})", summary.invoices),
        Look.MINUTES,
        where or "Invoices: a number that is not written by the shop's pattern",
    )


def _sequence_numbers(rows: PeriodRegisters, pattern: str) -> list[int]:
    found = (sequence_of(invoice.number, pattern) for invoice in rows.issued)
    return sorted(n for n in found if n is not None)


def _gaps(numbers: list[int]) -> Iterator[int]:
    """Yield the numbers missing between the first and the last, one by one: there may be many."""
    for before, after in pairwise(numbers):
        yield from range(before + 1, after)


def _unknown_payments(rows: PeriodRegisters) -> Check:
    unknown = [p.invoice or "(empty)" for p in rows.payments if p.invoice not in rows.known]
    return Check(
        "Payments name an invoice of the book",
        "Payments on a number that is no invoice, against none",
        Formula(f'COUNTIFS(Payments[Stands for],"{UNKNOWN}")', len(unknown)),
        0,
        Look.MINUTES,
        _named(unknown, "Payments"),
    )


def _missing_costs(summary: PeriodSummary, rows: PeriodRegisters) -> Check:
    lacking = [
        f"{invoice.number} line {line.line_id}"
        for invoice in rows.issued
        for line in invoice.lines
        if line.kind.value == "sublet" and line.cost is None
    ]
    return Check(
        "Sublet lines have a cost",
        "Sublet lines without a cost, against none",
        Formula(
            'SUMPRODUCT((Lines[Kind]="sublet")*(Lines[Cost]=""))',
            sum(vendor.without_cost for vendor in summary.sublets),
        ),
        0,
        Look.MINUTES,
        _named(lacking, "Lines"),
    )


def worked_minutes_check(rows: PeriodRegisters) -> Check:
    """Return whether the jobs' minutes are those of all labour lines."""
    lines = [line for invoice in rows.issued for line in invoice.lines]
    worked = sum(labour_minutes(line)[1] for line in lines)
    return Check(
        "Minutes of the jobs are those of the lines",
        "Minutes of all jobs, against those of all labour lines",
        Formula("SUM(Jobs[Worked min])", worked),
        Formula('SUMIFS(Lines[Actual],Lines[Kind],"labour")', worked),
        Look.MINUTES,
        "Jobs and Lines",
    )


def _named(names: list[str], sheet: str) -> str:
    if not names:
        return sheet
    more = f" and {len(names) - MOST_NAMED} more" if len(names) > MOST_NAMED else ""
    return f"{sheet}: {', '.join(names[:MOST_NAMED])}{more}"


def verdict(checks: list[Check]) -> Formula:
    """Return one live sentence on all checks, for the front sheet."""
    marks = f"{CHECKS}!$F${FIRST_ROW}:$F${FIRST_ROW + len(checks) - 1}"
    amiss = sum(check.word == LOOK for check in checks)
    fine = f"All {len(checks)} checks OK"
    count = f'COUNTIF({marks},"{LOOK}")'
    text = f'IF({count}=0,"{fine}","{LOOK}: "&{count}&" of {len(checks)} checks")'
    return Formula(text, f"{LOOK}: {amiss} of {len(checks)} checks" if amiss else fine)


def checks_sheet(pack: Pack, checks: list[Check], *, back: str) -> None:
    """Add the sheet `Checks`."""
    sheet = pack.sheet(CHECKS, (width for _, width, _ in _COLUMNS), landscape=True)
    pack.heading(
        sheet, CHECKS, "Two ways to each figure. LOOK: they differ; the last column says where."
    )
    pack.back(sheet, back)
    for col, (head, _, properties) in enumerate(_COLUMNS, 1):
        style = pack.style(bold=True, font_color=STEEL, bottom=1, bottom_color=INK, **properties)
        pack.put(sheet, FIRST_ROW - 1, col, head, style)
    for row, check in enumerate(checks, FIRST_ROW):
        for col, (content, look) in enumerate(_cells(check, pack.digits), 1):
            shown = {Look.MONEY: money_format(pack.digits), Look.MINUTES: "0"}
            _, _, properties = _COLUMNS[col - 1]
            style = pack.style(
                num_format=shown.get(look, "General"),
                bold=col == WORD_COL,
                bottom=1,
                bottom_color=LINE,
                **properties,
            )
            pack.put(sheet, row, col, content, style)
    mark = {"type": "cell", "criteria": "==", "value": f'"{LOOK}"'}
    red = {"format": pack.workbook.add_format({"font_color": RUST, "bold": True})}
    last = FIRST_ROW + len(checks) - 1
    sheet.conditional_format(FIRST_ROW - 1, WORD_COL - 1, last - 1, WORD_COL - 1, mark | red)
    sheet.freeze_panes(FIRST_ROW - 1, 1)
    sheet.repeat_rows(FIRST_ROW - 2)


def _cells(check: Check, digits: int) -> list[tuple[Content, Look]]:
    row_word = f'IF(E{{row}}=0,"{OK}","{LOOK}")'
    return [
        (check.name, Look.TEXT),
        (check.says, Look.TEXT),
        (check.here, check.look),
        (check.against, check.look),
        (Formula(f"ROUND(C{{row}}-D{{row}},{digits})", check.difference), check.look),
        (Formula(row_word, check.word), Look.TEXT),
        (check.where if check.difference else "", Look.TEXT),
    ]
