"""The live formulas of `Authorisations`: which rule holds for a row, and what it allows."""

from ledger_tools.billing.authorisation import RuleKind
from ledger_tools.book.layout import AUTHORISATIONS_TABLE, JOBS_TABLE, TOLERANCES_TABLE
from ledger_tools.book.names import NAME_WITH_TAX
from ledger_tools.book.places import Grid, Places, quoted

COUNTED = ("net", "with tax")
"""What of the work is held against a limit."""
_RULES = 300
"""Rows of `Tolerances` that formulas look through."""
_NO_BOUND = "1E+15"


def authorisation_row(row: int, places: Places, digits: int) -> dict[str, str]:
    """Return the formulas of a row: place of the rule, its name, the limit, what is counted.

    They say what `billing.authorisation` says: the rule last begun on the day of the row for the
    class of object that `Jobs` names, and none where there is no such rule.
    """
    own = places.grid(AUTHORISATIONS_TABLE)
    job, day, amount = (own.at(key, row) for key in ("job", "day", "amount"))
    at, rule = own.at("rule_row", row), own.at("rule", row)
    whole = f'AND({job}<>"",ISNUMBER({day}),ISNUMBER({amount}))'
    counted = f'IF({NAME_WITH_TAX}="no","{COUNTED[0]}","{COUNTED[1]}")'
    allowed = amount
    if places.has(TOLERANCES_TABLE):
        rules = places.grid(TOLERANCES_TABLE)
        allowed = f"{amount}+{_tolerance(rules, amount, at, rule)}"
        said = _of(rules, "with_tax", at)
        counted = f'IF({said}="yes","{COUNTED[1]}",IF({said}="no","{COUNTED[0]}",{counted}))'
        place, name = _row_of_rule(places, job, day), _of(rules, "kind", at)
        name = f'IF({name}="","{RuleKind.NONE}",{name})'
    else:
        place, name = "0", f'"{RuleKind.NONE}"'
    limit = f"ROUNDDOWN(ROUND({allowed},8),{digits})"
    return {
        "rule_row": f'IF({whole},{place},"")',
        "rule": f'IF({whole},{name},"")',
        "limit": f'IF({whole},{limit},"")',
        "counted": f'IF({whole},{counted},"")',
    }


def _row_of_rule(places: Places, job: str, day: str) -> str:
    """Return the formula of the row of the rule in `Tolerances`, 0 for none.

    An empty first day counts as the first of all days.
    """
    jobs, rules = places.grid(JOBS_TABLE), places.grid(TOLERANCES_TABLE)
    classes, begins = (_below(rules, key) for key in ("object_class", "first_day"))
    own = f"INDEX({jobs.whole('object_class')},MATCH({job},{jobs.whole('number')},0))"
    mine = f'({classes}=IFERROR({own}&"",""))*({classes}<>"")*({begins}<={day})'
    last = f"SUMPRODUCT(MAX({mine}*({begins}+1)))"
    return f"SUMPRODUCT({mine}*({begins}+1={last})*ROW({classes}))"


def _below(rules: Grid, key: str) -> str:
    """Return a reference to a column of `Tolerances` below its header, which is no number."""
    letter, first = rules.letter(key), rules.header_row + 1
    return f"{quoted(rules.sheet)}!${letter}${first}:${letter}${first + _RULES}"


def _of(rules: Grid, key: str, at: str) -> str:
    """Return the formula of what the rule in row `at` says; empty text where there is none."""
    return f'IF(N({at})=0,"",INDEX({rules.whole(key)},{at})&"")'


def _tolerance(rules: Grid, amount: str, at: str, rule: str) -> str:
    def number(key: str) -> str:
        return f"IF(N({at})=0,0,N(INDEX({rules.whole(key)},{at})))"

    share = f"{amount}*{number('share')}"
    most = f'IF({_of(rules, "most", at)}="",{_NO_BOUND},{number("most")})'
    return (
        f'IF({rule}="{RuleKind.PERCENT}",{share},'
        f'IF({rule}="{RuleKind.LESSER}",MIN({share},{number("amount")}),'
        f'IF({rule}="{RuleKind.GREATER}",MIN(MAX({share},{number("amount")}),{most}),0)))'
    )


def held_against(net: str, total: str, job: str, places: Places) -> str:
    """Return the formula of what is held against a job's ceiling: its net, or with tax.

    Args:
        net: Cell of the job's net.
        total: Cell of its total with tax.
        job: Cell of its number.
        places: The book; without `Authorisations` the shop's setting decides.
    """
    if not places.has(AUTHORISATIONS_TABLE):
        return f'IF({NAME_WITH_TAX}="no",{net},{total})'
    given = places.grid(AUTHORISATIONS_TABLE)
    counted = f'COUNTIFS({given.whole("job")},{job},{given.whole("counted")},"{COUNTED[1]}")'
    return f"IF({counted}>0,{total},{net})"
