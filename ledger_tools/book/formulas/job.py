"""The live formulas of a job sheet."""

from collections.abc import Mapping
from functools import cache, cached_property

from ledger_tools.billing.basis import Basis
from ledger_tools.billing.estimate import EXTRA_WORK, OPEN
from ledger_tools.book.formulas.adjusting import AdjustingFormulas
from ledger_tools.book.formulas.authorisations import held_against
from ledger_tools.book.formulas.text import rounded
from ledger_tools.book.layout import (
    AUTHORISATIONS_TABLE,
    JOBS_TABLE,
    PAYMENTS_TABLE,
    RATES_TABLE,
    TAX_RATES_TABLE,
)
from ledger_tools.book.names import NAME_AS_OF
from ledger_tools.book.places import Grid, Places, quoted
from ledger_tools.book.registers import ESTIMATES_TABLE, INVOICES_TABLE
from ledger_tools.costing.lines import Kind
from ledger_tools.money import Rounding
from ledger_tools.shop.model import ShopSettings
from ledger_tools.shop.results import (
    ABOVE_CEILING,
    ASKED,
    AT_CEILING,
    INVOICED,
    NO_PRICE,
    OVER_ESTIMATE,
    PAID,
    TO_INVOICE,
    WRITTEN_DOWN,
)
from ledger_tools.shop.snapshot import column_letters

_SETTLED = (TO_INVOICE, INVOICED, PAID)
_CLASS_ROWS = 40
_ROW = "\x00"
"""Stands for the row of a line while its formulas are written; no sheet can hold it."""
RECOMPUTE = "recompute"
"""Flag of a job whose basis was changed since its sheet was computed."""
MARK_MINUTES = "minutes?"
MARK_OVER = "over"
MARK_EXTRA = "extra"
MARK_REASON = "reason?"


class JobFormulas:
    """The formulas of one job sheet.

    Args:
        grid: The sheet's lines and labelled cells.
        places: The rest of the book.
        settings: Hour policy and currency digits.
        tax_rounding: How a component's tax is rounded.
        adjusting: Whether the bill may be another than what was worked.
    """

    def __init__(
        self,
        grid: Grid,
        places: Places,
        settings: ShopSettings,
        tax_rounding: Rounding,
        *,
        adjusting: bool = False,
    ) -> None:
        self.grid = grid
        self.places = places
        self.settings = settings
        self.tax_rounding = tax_rounding
        self.money = Rounding(settings.digits)
        self.adjusting = adjusting

    def line(self, row: int) -> dict[str, str]:
        """Return the formulas of one line's computed cells, by column key."""
        return {key: text.replace(_ROW, str(row)) for key, text in self._line.items()}

    @cached_property
    def _line(self) -> dict[str, str]:
        row = _ROW
        at = self.grid.at
        kind, estimate, actual = at("kind", row), at("estimate", row), at("actual", row)
        off, price, agreed = at("non_billable", row), at("price", row), at("agreed_price", row)
        stands = self.grid.cell("stands")
        settled = ",".join(f'{stands}="{state}"' for state in _SETTLED)
        quantity = (
            f'IF({actual}="",IF(OR({settled}),N({estimate})-N({off}),0),N({actual})-N({off}))'
        )
        hours = self._hours(row, f"(N({actual})-N({off}))", ("actual", "non_billable"))
        promised = self._hours(row, f"N({estimate})", ("estimate",))
        sign = f'IF({kind}="{Kind.DISCOUNT}",-1,1)'
        billed = at("billed", row)
        worth = f"IF(ISNUMBER({agreed}),{agreed},N({billed})*N({price}))"
        estimated = f'IF({kind}="{Kind.LABOUR}",{promised},N({estimate}))*N({price})'
        return {
            "billed": f'IF({kind}="","",IF({kind}="{Kind.LABOUR}",{hours},{quantity}))',
            "amount": f'IF({kind}="","",{rounded(f"{sign}*{worth}", self.money)})',
            "mark": self._mark(row),
            "estimated": f'IF({kind}="","",{rounded(f"{sign}*{estimated}", self.money)})',
        }

    def shares(self, row: int) -> dict[str, str]:
        """Return the formulas of what one line bears of an adjustment, by column key."""
        return {key: text.replace(_ROW, str(row)) for key, text in self._shares.items()}

    @cached_property
    def _shares(self) -> Mapping[str, str]:
        return self._adjusted(()).line(_ROW)

    def price(self, row: int) -> str:
        """Return the price a labour line has where none is typed: the rate of its class."""
        return self._price.replace(_ROW, str(row))

    @cached_property
    def _price(self) -> str:
        row = _ROW
        rates = self.places.grid(RATES_TABLE)
        labour_class = self.grid.at("labour_class", row)
        day, classes = rates.whole("first_day"), rates.whole("labour_class")
        opened = self.grid.cell("opened")
        last = f'_xlfn.MAXIFS({day},{classes},{labour_class},{day},"<="&{opened})'
        rate = f"SUMIFS({rates.whole('rate')},{classes},{labour_class},{day},{last})"
        return f'IF({self.grid.at("kind", row)}="{Kind.LABOUR}",{rate},"")'

    def _hours(self, row: str, own: str, keys: tuple[str, ...]) -> str:
        policy = self.settings.hours
        add = policy.step - 1 if policy.direction == "up" else policy.step / 2
        if policy.scope == "line":
            return f"ROUND(FLOOR({own}+{add:g},{policy.step})/60,4)"
        kind, price, line = (self.grid.lines(k) for k in ("kind", "price", "line_id"))
        of_this_rate = (
            f'{kind},"{Kind.LABOUR}",{price},{self.grid.at("price", row)},'
            f'{line},"<="&{self.grid.at("line_id", row)}'
        )
        upto = "-".join(f"SUMIFS({self.grid.lines(key)},{of_this_rate})" for key in keys)
        return (
            f"ROUND((FLOOR({upto}+{add:g},{policy.step})"
            f"-FLOOR({upto}-{own}+{add:g},{policy.step}))/60,4)"
        )

    def _mark(self, row: str) -> str:
        at = self.grid.at
        kind, estimate, actual, off = (
            at(key, row) for key in ("kind", "estimate", "actual", "non_billable")
        )
        unread = ",".join(
            f"ISTEXT({cell}),N({cell})<0,N({cell})<>INT(N({cell}))"
            for cell in (estimate, actual, off)
        )
        promised = self.grid.cell("net_estimated")
        extra = f'AND({kind}<>"{Kind.DISCOUNT}",N({estimate})=0,N({actual})>0,{promised}>0)'
        return (
            f'IF({kind}="","",IF(AND({kind}="{Kind.LABOUR}",OR({unread})),"{MARK_MINUTES}",'
            f'IF(AND(N({off})>0,{at("reason", row)}=""),"{MARK_REASON}",'
            f'IF(AND(N({estimate})>0,N({actual})>N({estimate})),"{MARK_OVER}",'
            f'IF({extra},"{MARK_EXTRA}","")))))'
        )

    @cache  # noqa: B019 - lives as long as one plan
    def header(self, components: tuple[str, ...]) -> dict[str, str]:
        """Return the formulas of the labelled cells above the lines, by key."""
        return (
            self._from_register()
            | self._standing()
            | self._by_kind()
            | self._taxes(components)
            | self._against_estimate()
            | self._to_bill(components)
        )

    def _to_bill(self, components: tuple[str, ...]) -> dict[str, str]:
        if self.adjusting:
            return dict(self._adjusted(components).header())
        return {
            "to_bill": rounded(f"({self.grid.cell('net_billed')})", self.money),
            "adjusted": '""',
        }

    def _adjusted(self, components: tuple[str, ...]) -> AdjustingFormulas:
        return AdjustingFormulas(
            self.grid,
            self.places,
            self.settings.digits,
            base=self._base,
            taxed=lambda base, n: rounded(
                f"{base}*{self.grid.cell(f'tax{n}_rate')}", self.tax_rounding
            ),
            components=components,
        )

    def item(self) -> str:
        """Return the item as `Jobs` has it."""
        return self._job_field("item") + '&""'

    def _job_field(self, key: str) -> str:
        jobs = self.places.grid(JOBS_TABLE)
        return f"INDEX({jobs.whole(key)},{self._job_row()})"

    def _job_row(self) -> str:
        jobs = self.places.grid(JOBS_TABLE)
        return f"MATCH({self.grid.cell('number')},{jobs.whole('number')},0)"

    def _from_register(self) -> dict[str, str]:
        def text(key: str) -> str:
            return f'{self._job_field(key)}&""'

        def day(key: str) -> str:
            field = self._job_field(key)
            return f'IF({field}="","",{field})'

        return {
            "customer": text("customer"),
            "repair": text("repair"),
            "opened": day("opened"),
            "promised": day("promised"),
            "invoice": text("invoice"),
        }

    def _standing(self) -> dict[str, str]:
        typed = f'{self._job_field("state")}&""'
        if not self.places.has(INVOICES_TABLE):
            return {"stands": typed, "invoiced": '""', "balance": '""'}
        invoices = self.places.grid(INVOICES_TABLE)
        payments = self.places.grid(PAYMENTS_TABLE)
        number, balance = self.grid.cell("invoice"), self.grid.cell("balance")
        issued = f"INDEX({invoices.whole('day')},MATCH({number},{invoices.whole('number')},0))"
        owed = f"SUMIFS({invoices.whole('total')},{invoices.whole('number')},{number})"
        paid = f"SUMIFS({payments.whole('amount')},{payments.whole('invoice')},{number})"
        return {
            "stands": f'IF({number}="",{typed},IF({balance}>0,"{INVOICED}","{PAID}"))',
            "invoiced": f'IF({number}="","",{issued})',
            "balance": f'IF({number}="","",{rounded(f"{owed}-{paid}", self.money)})',
        }

    def _by_kind(self) -> dict[str, str]:
        found = {}
        kinds = self.grid.lines("kind")
        for part, column in (("estimated", "estimated"), ("billed", "amount")):
            amounts = self.grid.lines(column)
            for kind in Kind:
                found[f"{kind}_{part}"] = rounded(
                    f'SUMIFS({amounts},{kinds},"{kind}")', self.money
                )
            # Not the column's sum: a total that an owner types under the lines would count twice.
            nets = "+".join(self.grid.cell(f"{kind}_{part}") for kind in Kind)
            found[f"net_{part}"] = rounded(f"({nets})", self.money)
        return found

    def _taxes(self, components: tuple[str, ...]) -> dict[str, str]:
        found: dict[str, str] = {}
        for n, component in enumerate(components, 1):
            rate, base = self.grid.cell(f"tax{n}_rate"), self.grid.cell(f"tax{n}_base")
            found[f"tax{n}_rate"] = self._rate(n)
            found[f"tax{n}_base"] = (
                self._adjusted(components).tax_base(component)
                if self.adjusting
                else self._base(component, "amount")
            )
            found[f"tax{n}_billed"] = rounded(f"{base}*{rate}", self.tax_rounding)
            found[f"tax{n}_estimated"] = rounded(
                f"{self._base(component, 'estimated')}*{rate}", self.tax_rounding
            )
        for part in ("estimated", "billed"):
            taxes = [self.grid.cell(f"tax{n}_{part}") for n, _ in enumerate(components, 1)]
            tax = self.grid.cell(f"tax_{part}")
            net = self.grid.cell("to_bill" if part == "billed" else "net_estimated")
            found[f"tax_{part}"] = rounded("+".join(taxes) or "0", self.money)
            found[f"total_{part}"] = rounded(f"{net}+{tax}", self.money)
        return found

    def _rate(self, n: int) -> str:
        rates = self.places.grid(TAX_RATES_TABLE)
        name = self.grid.cell(f"tax{n}_name")
        day, names = rates.whole("first_day"), rates.whole("component")
        issued = self.grid.cell("invoiced")
        tax_day = f'IF({issued}="",{NAME_AS_OF},{issued})'
        last = f'_xlfn.MAXIFS({day},{names},{name},{day},"<="&{tax_day})'
        return f"SUMIFS({rates.whole('rate')},{names},{name},{day},{last})"

    def _base(self, component: str, column: str) -> str:
        classes = self.places.tax_classes
        if classes is None:
            return "0"
        top, end = classes.header_row + 1, classes.header_row + _CLASS_ROWS
        first = column_letters(min(classes.columns.values()))
        own = column_letters(classes.columns[component])
        sheet = quoted(classes.sheet)
        named = f"{sheet}!${first}${top}:${first}${end}"
        falls_on = f'{sheet}!${own}${top}:${own}${end}="yes"'
        amounts, kinds, other = (self.grid.lines(k) for k in (column, "kind", "tax_class"))
        by_class = (
            f'SUMIFS({amounts},{kinds},{named})-SUMIFS({amounts},{kinds},{named},{other},"?*")'
            f"+SUMIFS({amounts},{other},{named})"
        )
        return rounded(f"SUMPRODUCT(({by_class})*({falls_on}))", self.money)

    def _against_estimate(self) -> dict[str, str]:
        def minutes(key: str) -> str:
            return f'SUMIFS({self.grid.lines(key)},{self.grid.lines("kind")},"{Kind.LABOUR}")'

        off, price, kind = (self.grid.lines(k) for k in ("non_billable", "price", "kind"))
        lost_time = f'SUMPRODUCT(--({kind}="{Kind.LABOUR}"),{off},{price})/60'
        lost_goods = f'SUMPRODUCT(--({kind}<>"{Kind.LABOUR}"),{off},{price})'
        return {
            "ceiling": self._ceiling(),
            "over": rounded(
                f"({self.grid.cell('net_billed')}-{self.grid.cell('net_estimated')})", self.money
            ),
            "estimate_minutes": minutes("estimate"),
            "actual_minutes": minutes("actual"),
            "non_billable_minutes": minutes("non_billable"),
            "billed_hours": f"ROUND({minutes('billed')},4)",
            "non_billable_value": rounded(f"({lost_time}+{lost_goods})", self.money),
        }

    def _ceiling(self) -> str:
        if not self.places.has(AUTHORISATIONS_TABLE):
            return '""'
        given = self.places.grid(AUTHORISATIONS_TABLE)
        number, jobs = self.grid.cell("number"), given.whole("job")
        return (
            f'IF(COUNTIFS({jobs},{number})=0,"",'
            f"_xlfn.MAXIFS({given.whole('limit')},{jobs},{number}))"
        )

    def flag(self) -> str:
        """Return the words an owner must see above the lines; empty when all is well."""
        cell = self.grid.cell
        ceiling, net, estimate = cell("ceiling"), cell("net_billed"), cell("net_estimated")
        held = held_against(cell("to_bill"), cell("total_billed"), cell("number"), self.places)
        left = f"ROUND(N({ceiling})-{held},{self.settings.digits})"
        going_on = ",".join(f'{cell("stands")}<>"{word}"' for word in _SETTLED)
        reached = f"AND(ISNUMBER({ceiling}),{held}>0,{left}=0,{going_on})"
        asked = self._flag_of_request()
        return (
            f'IF(COUNTIF({self.grid.lines("mark")},"minutes~?")>0,"{MARK_MINUTES}",'
            f'IF(AND(ISNUMBER({ceiling}),{left}<0),"{ABOVE_CEILING}",'
            f"{asked}"
            f"{self._flag_of_basis()}"
            f'IF({reached},"{AT_CEILING}",'
            f'IF(AND({estimate}>0,{net}>{estimate}),"{OVER_ESTIMATE}",""))))'
            + (")" if self.adjusting else "")
            + (")" if asked else "")
            + ")"
        )

    def _flag_of_request(self) -> str:
        """Return the beginning of a formula: whether extra work is asked for and not answered."""
        if not self.places.has(ESTIMATES_TABLE):
            return ""
        papers = self.places.grid(ESTIMATES_TABLE)
        if "paper" not in papers.columns:
            return ""
        job, paper, stands = (papers.whole(key) for key in ("job", "paper", "stands"))
        waiting = f'{paper},"{EXTRA_WORK}",{stands},"{OPEN}"'
        number, invoice = self.grid.cell("number"), self.grid.cell("invoice")
        return f'IF(AND({invoice}="",COUNTIFS({job},{number},{waiting})>0),"{ASKED}",'

    def _flag_of_basis(self) -> str:
        """Return the beginning of a formula: what is to be said of how the job is billed."""
        cell = self.grid.cell
        if not self.adjusting:
            typed = self._job_field("basis")
            return f'IF(AND({typed}<>"",{typed}<>"{Basis.ACTUAL}"),"{RECOMPUTE}",'
        no_price = f'IF(ISNUMBER({cell("price")}),"","{NO_PRICE}")'
        return (
            f'IF({cell("basis")}="{Basis.FIXED}",{no_price},'
            f'IF({cell("adjusted")}<0,"{WRITTEN_DOWN}",'
        )
