"""The live formulas of `Options`: what each comes to, its expected cost, and where it stands.

They say what `costing.options` and `shop.options` say.
"""

from ledger_tools.billing.offer import Choice
from ledger_tools.book.cells import FIRST_SERIAL, LAST_SERIAL
from ledger_tools.book.formulas.text import rounded
from ledger_tools.book.layout import YES_NO
from ledger_tools.book.names import NAME_REPAIR_BELOW, NAME_WITH_TAX
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.places import Grid, Places, quoted
from ledger_tools.costing.options import REPAIR, REPAIRS, REPLACE, OptionKind
from ledger_tools.money import Rounding


def option_row(row: int, places: Places, sheet: Grid | None, money: Rounding) -> dict[str, str]:
    """Return the formulas of a row.

    Args:
        row: Where it stands.
        places: The book.
        sheet: The sheet of its job; None where it has none.
        money: How amounts become whole minor units.
    """
    own = places.grid(OPTIONS_TABLE)
    return {
        "comes_to": _comes_to(own, row, sheet),
        "expected": _expected(own, row, money),
        "share": _share(own, row),
        "rule": _rule(own, row),
        "stands": _stands(own, row),
    }


def _comes_to(own: Grid, row: int, sheet: Grid | None) -> str:
    kind, price = own.at("kind", row), own.at("price", row)
    estimated = '""'
    if sheet is not None:
        net, total = (
            f"{quoted(sheet.sheet)}!{sheet.cell(key)}"
            for key in ("net_estimated", "total_estimated")
        )
        estimated = f'IF({NAME_WITH_TAX}="no",{net},{total})'
    empty = f'IF({kind}="{OptionKind.REFUSE}",0,{estimated})'
    typed = f'IF(AND(ISNUMBER({price}),N({price})>=0),{price},"")'
    return f'IF(TRIM({kind})="","",IF(TRIM({price})="",{empty},{typed}))'


def _expected(own: Grid, row: int, money: Rounding) -> str:
    price, chance, cost = (own.at(key, row) for key in ("comes_to", "chance", "come_back"))
    known = (
        f"AND(ISNUMBER({price}),ISNUMBER({chance}),N({chance})>=0,N({chance})<=1,"
        f"OR(N({chance})=0,AND(ISNUMBER({cost}),N({cost})>=0)))"
    )
    return f'IF({known},{rounded(f"(N({price})+N({chance})*N({cost}))", money)},"")'


def _share(own: Grid, row: int) -> str:
    job, kind, price = (own.at(key, row) for key in ("job", "kind", "comes_to"))
    new = (
        f"_xlfn.MINIFS({own.whole('comes_to')},{own.whole('job')},{job},"
        f'{own.whole("kind")},"{OptionKind.NEW}")'
    )
    weighed = f'AND(TRIM({job})<>"",{kind}<>"{OptionKind.REFUSE}",ISNUMBER({price}))'
    return f'IF({weighed},IF({new}>0,ROUND(N({price})/{new},4),""),"")'


def _rule(own: Grid, row: int) -> str:
    kind, share = own.at("kind", row), own.at("share", row)
    repairs = ",".join(f'{kind}="{word}"' for word in REPAIRS)
    weighed = f"AND(N({NAME_REPAIR_BELOW})>0,ISNUMBER({share}),OR({repairs}))"
    below = f"ROUND(N({share})*100,2)<{NAME_REPAIR_BELOW}"
    return f'IF({weighed},IF({below},"{REPAIR}","{REPLACE}"),"")'


def _stands(own: Grid, row: int) -> str:
    job, option, taken, advised = (
        own.at(key, row) for key in ("job", "option", "chosen_on", "advised")
    )
    of_job = f"{own.whole('job')},{job}"
    others = f'COUNTIFS({of_job},{own.whole("advised")},"{YES_NO[0]}")'
    against = f'AND({advised}<>"{YES_NO[0]}",{others}>0)'
    chosen = f'IF({against},"{Choice.AGAINST}","{Choice.CHOSEN}")'
    days = own.whole("chosen_on")
    beside = f'COUNTIFS({of_job},{days},">={FIRST_SERIAL}",{days},"<={LAST_SERIAL}")'
    is_day = f"AND(N({taken})>={FIRST_SERIAL},N({taken})<={LAST_SERIAL})"
    left = f'IF({beside}>0,"{Choice.NOT_CHOSEN}","{Choice.OPEN}")'
    nameless = f'OR(TRIM({job})="",TRIM({option})="")'
    return f'IF({nameless},"",IF({is_day},{chosen},{left}))'
