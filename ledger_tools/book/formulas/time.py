"""The live formulas of `Time`, and those by which a line of a job gets its minutes from there."""

from ledger_tools.book.layout import JOBS_TABLE, TIME_TABLE
from ledger_tools.book.places import Grid, Places
from ledger_tools.costing.time import BILLABLE, LONGEST_NIGHT
from ledger_tools.hours import MINUTES_A_DAY

REMARK_MINUTES = "minutes?"
REMARK_NO_JOB = "no job"
REMARK_JOB = "job?"
REMARK_LINE = "line?"
REMARK_NIGHT = "next day"
_TYPED = ("day", "job", "line_id", "start", "stop", "minutes")
FED = ("actual", "non_billable")
"""Cells of a line that are filled from `Time`."""


def time_row(row: int, places: Places) -> dict[str, str]:
    """Return the formulas of a row: minutes that count, and what is to be seen about it.

    They say what `costing.time.counted` says. Overlaps are not among them: every row would look
    through all others at each key stroke.
    """
    own = places.grid(TIME_TABLE)
    start, stop, minutes = (own.at(key, row) for key in ("start", "stop", "minutes"))
    clocks = f"AND({_is_clock(start)},{_is_clock(stop)})"
    night = f"N({stop})<N({start})"
    span = f"ROUND((N({stop})-N({start})+IF({night},1,0))*{MINUTES_A_DAY},0)"
    most = f"IF({night},{LONGEST_NIGHT},{MINUTES_A_DAY})"
    fits = f'OR({minutes}="",{minutes}={span})'
    typed = (
        f"IF(AND(N({minutes})>=1,N({minutes})<={MINUTES_A_DAY},N({minutes})=INT(N({minutes}))),"
        f'{minutes},"")'
    )
    lasted = f'IF(AND({span}>=1,{span}<={most},{fits}),{span},"")'
    return {"counted": f"IF({clocks},{lasted},{typed})", "remark": _remark(row, places, night)}


def _is_clock(cell: str) -> str:
    """Return what holds for a cell with a time of day: a part of a day, in whole minutes."""
    of_a_day = f"N({cell})*{MINUTES_A_DAY}"
    return (
        f"ISNUMBER({cell}),N({cell})>=0,N({cell})<=1,ABS({of_a_day}-ROUND({of_a_day},0))<0.000001"
    )


def _remark(row: int, places: Places, night: str) -> str:
    own, jobs = places.grid(TIME_TABLE), places.grid(JOBS_TABLE)
    at = {key: own.at(key, row) for key in (*_TYPED, "counted", "reason")}
    nothing = "&".join(at[key] for key in _TYPED)
    numbers = jobs.whole("number")
    # Looked up and compared: a job called `25-*` would be found as a pattern.
    known = f"IFERROR(INDEX({numbers},MATCH({at['job']},{numbers},0))={at['job']},0)"
    billable = f'OR({at["reason"]}="",{at["reason"]}="{BILLABLE}")'
    both = f'AND({at["start"]}<>"",{at["stop"]}<>"",{night})'
    return (
        f'IF({nothing}="","",IF({at["counted"]}="","{REMARK_MINUTES}",'
        f'IF({at["job"]}="","{REMARK_NO_JOB}",IF(NOT({known}),"{REMARK_JOB}",'
        f'IF(AND({at["line_id"]}="",{billable}),"{REMARK_LINE}",'
        f'IF({both},"{REMARK_NIGHT}",""))))))'
    )


def line_time(row: int, sheet: Grid, places: Places) -> dict[str, str]:
    """Return the formulas of a line that has rows in `Time`: its minutes, and those not billed."""
    time = places.grid(TIME_TABLE)
    of_line = (
        f"{time.whole('job')},{sheet.cell('number')},"
        f"{time.whole('line_id')},{sheet.at('line_id', row)}"
    )
    minutes, reasons = time.whole("counted"), time.whole("reason")
    named = f'SUMIFS({minutes},{of_line},{reasons},"?*")'
    billable = f'SUMIFS({minutes},{of_line},{reasons},"{BILLABLE}")'
    return {"actual": f"SUMIFS({minutes},{of_line})", "non_billable": f"{named}-{billable}"}


def is_line_time(formula: str) -> bool:
    """Whether a formula is one that the tools put into a line for its rows in `Time`."""
    if "SUMIFS(" not in formula.upper():
        return False
    from ledger_tools.book.formulas.shapes import shape, time_shapes  # noqa: PLC0415 - seldom needed

    return shape(formula) in time_shapes()
