"""The tables of the page of reliability, from the faults and files that the tests try."""

from docs.write.parts import table
from tests.book.hostile import FILES
from tests.faults.power import cuts
from tests.faults.runs import SCENARIOS
from tests.faults.scenario import points
from tests.faults.sweep import FAULTS, tries
from tests.faults.words import OBSTACLES, meet


def faults_part() -> str:
    """Return a table of the runs, their calls to the disk and the faults that are tried."""
    rows = [
        (
            scenario.says,
            len(points(scenario)),
            _count(name, everything=False),
            _count(name),
            sum(not cut.disorder for cut in cuts(scenario)),
            len(cuts(scenario)),
        )
        for name, scenario in SCENARIOS.items()
    ]
    rows.append(("Together", *(sum(column) for column in list(zip(*rows, strict=True))[1:])))
    heads = (
        "Run",
        "Calls to the disk",
        "Faults whenever the tests run",
        "Faults in the long run",
        "States after a power cut, order kept",
        "The same, any order",
    )
    counted = table(heads, [(name, *map(str, counts)) for name, *counts in rows])
    return f"{counted}\n\nEach call is tried with {len(FAULTS)} faults in the long run."


def _count(name: str, *, everything: bool = True) -> int:
    return sum(1 for _ in tries(name, everything=everything))


def obstacles_part() -> str:
    """Return a table of what can stand in the way, and what `recompute` says then."""
    rows = []
    for obstacle in OBSTACLES:
        ran, _ = meet(obstacle)
        said = " ".join(ran.said.split()).removeprefix("Error: ")
        rows.append((obstacle.name, str(ran.code), said.replace("|", "\\|")))
    return table(("In the way", "Exit code", "`recompute` says"), rows)


def hostile_part() -> str:
    """Return a table of hostile and wrong files, and what is said of them."""
    rows = [(each.name.replace("\\", "\\\\"), _said(each.said)) for each in FILES]
    return table(("File", "Answer"), rows)


def _said(words: str) -> str:
    return f"refused: ... {words} ..." if words else "read as usual; it does no harm"
