"""The live formulas of a job sheet whose bill is not simply what was worked.

They say what `billing.basis` says: the net that is billed, what each line bears of the
difference, and what is taken off besides because tax is rounded.
"""

from collections.abc import Callable, Mapping

from ledger_tools.billing.basis import Basis
from ledger_tools.book.layout import AUTHORISATIONS_TABLE, JOBS_TABLE
from ledger_tools.book.names import NAME_MINIMUM
from ledger_tools.book.places import Grid, Places

Base = Callable[[str, str], str]
"""Gives the formula of what a component falls on, of a column of line amounts."""


class AdjustingFormulas:
    """The formulas that hold a bill to a ceiling, a fixed price or a minimum.

    Args:
        grid: The sheet's lines and labelled cells.
        places: The rest of the book.
        digits: Decimal places of amounts.
        base: What a component falls on.
        taxed: Formula of the tax on a base: text of the base, place of the component from 1.
        components: Names of the taxes.
    """

    def __init__(  # noqa: PLR0913 - what the sums of a bill hang on
        self,
        grid: Grid,
        places: Places,
        digits: int,
        *,
        base: Base,
        taxed: Callable[[str, int], str],
        components: tuple[str, ...],
    ) -> None:
        self.grid = grid
        self.places = places
        self.digits = digits
        self.base = base
        self.taxed = taxed
        self.components = tuple(enumerate(components, 1))

    def header(self) -> Mapping[str, str]:
        """Return the formulas of the labelled cells, by key."""
        cell = self.grid.cell
        worked, spread, rest = cell("net_billed"), cell("spread"), cell("rest")
        exact = "+".join(
            f"{self.base(name, 'amount')}*{cell(f'tax{n}_rate')}" for n, name in self.components
        )
        taxes = "+".join(self.taxed(self.base(name, "amount"), n) for n, name in self.components)
        return {
            "basis": self._basis(),
            "price": self._price(),
            "counted": self._counted(),
            "worked_tax": self._round(f"({taxes or '0'})"),
            "exact_tax": exact or "0",
            "spread": self._round(f"({self._net()}-{worked})"),
            "rest": self._rest(),
            "rest_class": self._rest_class(),
            "adjusted": self._round(f"({spread}-{rest})"),
            "to_bill": self._round(f"({worked}+{cell('adjusted')})"),
        }

    def line(self, row: str) -> Mapping[str, str]:
        """Return the formulas of what a line bears, by column key.

        All is counted in whole minor units: such numbers are exact.
        """
        one = 10**self.digits
        amount = f"ROUND({self.grid.at('amount', row)}*{one},0)"
        whole = f"ROUND({self.grid.cell('net_billed')}*{one},0)"
        spread = self.grid.cell("spread")
        spare = f"ROUND(ABS({spread})*{one},0)"
        cut = f"INT({spare}*{amount}/{whole})"
        own, all_of_them = self.grid.at("remainder", row), self.grid.lines("remainder")
        ahead = (
            f'COUNTIFS({all_of_them},">"&{own})+COUNTIFS({all_of_them},{own},'
            f'{self.grid.lines("line_id")},"<"&{self.grid.at("line_id", row)})'
        )
        left = f"ROUND(SUM({all_of_them})/{whole},0)"
        share = f"SIGN({spread})*({cut}+IF({ahead}<{left},1,0))/{one}"
        none = f"OR(N({self.grid.at('amount', row)})=0,{spread}=0)"
        return {
            "remainder": f'IF({none},"",{spare}*{amount}-{whole}*{cut})',
            "adjusted": f'IF({own}="","",ROUND({share},{self.digits}))',
        }

    def tax_base(self, component: str) -> str:
        """Return the formula of what a component falls on, the adjustment taken into account."""
        classes = self.places.tax_classes
        if classes is None:
            return "0"
        rest, named = self.grid.cell("rest"), self.grid.cell("rest_class")
        falls = self.base_of_class(component, named)
        whole = f"{self.base(component, 'amount')}+{self.base(component, 'adjusted')}"
        return self._round(f"({whole}-{rest}*{falls})")

    def base_of_class(self, component: str, named: str) -> str:
        """Return the formula of 1 where a component falls on the class that a cell names."""
        classes = self.places.tax_classes
        if classes is None:
            return "0"
        first = min(classes.columns, key=lambda key: classes.columns[key])
        place = f"MATCH({named},{classes.whole(first)},0)"
        return f'IFERROR(--(INDEX({classes.whole(component)},{place})="yes"),0)'

    def _round(self, exact: str) -> str:
        return f"ROUND({exact},{self.digits})"

    def _of_job(self, key: str) -> str:
        jobs = self.places.grid(JOBS_TABLE)
        return (
            f"INDEX({jobs.whole(key)},MATCH({self.grid.cell('number')},{jobs.whole('number')},0))"
        )

    def _basis(self) -> str:
        typed = self._of_job("basis")
        return f'IF({typed}="","{Basis.ACTUAL}",{typed})'

    def _price(self) -> str:
        agreed = self._of_job("agreed_price")
        return f"IF(ISNUMBER({agreed}),{agreed},{self._authorised()})"

    def _authorised(self) -> str:
        if not self.places.has(AUTHORISATIONS_TABLE):
            return '""'
        given = self.places.grid(AUTHORISATIONS_TABLE)
        jobs, number = given.whole("job"), self.grid.cell("number")
        most = f"_xlfn.MAXIFS({given.whole('amount')},{jobs},{number})"
        return f'IF(COUNTIFS({jobs},{number})=0,"",{most})'

    def _counted(self) -> str:
        """Return the formula of whether the bill is held with tax to what limits it."""
        if not self.places.has(AUTHORISATIONS_TABLE):
            return '"net"'
        given = self.places.grid(AUTHORISATIONS_TABLE)
        number, agreed = self.grid.cell("number"), self._of_job("agreed_price")
        taxed = f'COUNTIFS({given.whole("job")},{number},{given.whole("counted")},"with tax")'
        fixed = f'AND({self.grid.cell("basis")}="{Basis.FIXED}",ISNUMBER({agreed}))'
        return f'IF({fixed},"net",IF({taxed}>0,"with tax","net"))'

    def _net(self) -> str:
        """Return the formula of the net that is billed, before tax is rounded."""
        cell = self.grid.cell
        worked, ceiling, basis = cell("net_billed"), cell("ceiling"), cell("basis")
        least = f"MAX({worked},{NAME_MINIMUM})"
        held = f'IF({cell("counted")}="with tax",{worked}+{cell("worked_tax")},{worked})'
        within = self._within(ceiling)
        bounded = (
            f"IF({self._round(f'({held}-{ceiling})')}>0,"
            f'IF({basis}="{Basis.CAPPED}",MIN({within},{worked}),{worked}),'
            f"MIN({least},MAX({worked},{within})))"
        )
        price = cell("price")
        fixed = f"IF(ISNUMBER({price}),{self._within(price)},{worked})"
        return (
            f'IF({worked}<=0,{worked},IF({basis}="{Basis.FIXED}",{fixed},'
            f"IF(ISNUMBER({ceiling}),{bounded},{least})))"
        )

    def _within(self, bound: str) -> str:
        cell = self.grid.cell
        worked, tax = cell("net_billed"), cell("exact_tax")
        parted = f"IF({worked}+{tax}>0,{bound}*{worked}/({worked}+{tax}),{worked})"
        return (
            f'IF({cell("counted")}="with tax",ROUNDUP(ROUND({parted},8),{self.digits}),'
            f"ROUNDDOWN(ROUND({bound},8),{self.digits}))"
        )

    def _rest(self) -> str:
        cell = self.grid.cell
        limit = f'IF({cell("basis")}="{Basis.FIXED}",{cell("price")},{cell("ceiling")})'
        taxes = "+".join(
            self.taxed(f"ROUND({self.base(name, 'amount')}+{self.base(name, 'adjusted')},8)", n)
            for n, name in self.components
        )
        total = f"{cell('net_billed')}+{cell('spread')}+{taxes or '0'}"
        adjusts = f'OR({cell("spread")}<>0,{cell("basis")}<>"{Basis.ACTUAL}")'
        held = (
            f'AND({cell("net_billed")}>0,{adjusts},{cell("counted")}="with tax",ISNUMBER({limit}))'
        )
        return f"IF({held},MAX(0,{self._round(f'({total}-{limit})')}),0)"

    def _rest_class(self) -> str:
        """Return the formula of the tax class of the line with the largest amount."""
        amounts, ids = self.grid.lines("amount"), self.grid.lines("line_id")
        largest = f"_xlfn.MINIFS({ids},{amounts},MAX({amounts}))"
        row = f"MATCH({largest},{ids},0)"
        named, kind = (f"INDEX({self.grid.lines(key)},{row})" for key in ("tax_class", "kind"))
        return f'IFERROR(IF({named}="",{kind},{named}),"")'
