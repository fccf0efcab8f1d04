"""The table of what owners put into the book and where it is after the tools have written it."""

from docs.write.parts import table
from tests.torture.owner import FIGURES, PICTURE, RACK
from tests.torture.runs import CASES, READING
from tests.torture.things import (
    JOB_SHEETS,
    LIBREOFFICE,
    MACROS,
    OPENPYXL,
    THINGS,
    WHOLE,
    WITH_JOB_SHEETS,
    Thing,
)

_OWN = {FIGURES, PICTURE, RACK}
_WHERE = ("the workbook", "own sheets", "sheets of the tools", "job sheets")


def kept_part() -> str:
    """Return a table of the owner's things, and how much is tried."""
    heads = (
        "What you put in",
        "On",
        "Goes with an archived job, and with an open one to the next year",
        "Left by LibreOffice's own save",
        "Left by openpyxl's",
    )
    rows = [
        (
            thing.name,
            ", ".join(_places(thing)),
            "yes" if _moves(thing) else "stays in the book",
            "not tried" if thing in MACROS else _left(thing, LIBREOFFICE),
            _left(thing, OPENPYXL),
        )
        for thing in (*THINGS, *MACROS)
    ]
    places = sum(len(thing.on) for thing in (*THINGS, *MACROS))
    counted = (
        f"{len(rows)} kinds of things at {places} places, {len(CASES)} runs that write the book "
        f"and {len(READING)} that must not."
    )
    return f"{table(heads, rows)}\n\n{counted}"


def _places(thing: Thing) -> list[str]:
    found = {_place(sheet) for sheet in thing.on}
    return [where for where in _WHERE if where in found]


def _place(sheet: str) -> str:
    if sheet == WHOLE:
        return _WHERE[0]
    if sheet in _OWN:
        return _WHERE[1]
    return _WHERE[3] if sheet in JOB_SHEETS else _WHERE[2]


def _left(thing: Thing, program: str) -> str:
    return "yes" if program in thing.left_by else "no"


def _moves(thing: Thing) -> bool:
    return bool({*thing.on} & {*JOB_SHEETS}) or thing.name in WITH_JOB_SHEETS
