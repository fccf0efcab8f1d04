"""Whatever call fails, or wherever the program is killed: nothing is lost, no number twice."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from ledger_tools.book import disk
from tests.faults.runs import SCENARIOS
from tests.faults.scenario import BOOK, points, prepared
from tests.faults.sweep import SPARING, tries

ROOT = Path(__file__).resolve().parents[2]
DISK = "ledger_tools/book/disk.py"


@pytest.mark.parametrize("name", SCENARIOS)
def test_nothing_is_lost_whatever_call_fails(name: str) -> None:
    """The book opens in its old or new state, backups are whole, the next run makes the rest."""
    made = [each.make() for each in tries(name, everything=False)]

    assert len(made) >= len(points(SCENARIOS[name])) // SPARING


LISTENER = """
import json, sys
from pathlib import Path
folder, words = Path(sys.argv[1]), json.loads(sys.argv[2])
changes = {}
changing = {"os.rename", "os.remove", "os.rmdir", "os.mkdir", "os.link", "os.symlink", "os.chmod",
            "os.chown", "os.truncate", "os.utime"}
def listen(event, arguments):
    if event == "open":
        path, mode, flags = arguments
        wanted = isinstance(flags, int) and flags & 3 or set(mode or "") & set("wax+")
        if not wanted or not isinstance(path, (str, bytes, Path)):
            return
    elif event not in changing:
        return
    path = str(arguments[0])
    if "__pycache__" in path or not path.startswith(str(folder)):
        return
    frame = sys._getframe(1)
    while frame and "ledger_tools" not in frame.f_code.co_filename:
        frame = frame.f_back
    by = Path(frame.f_code.co_filename).as_posix() if frame else "nobody of ours"
    changes[event] = sorted({*changes.get(event, []), by})
from ledger_tools.commands.main import main
sys.addaudithook(listen)
sys.argv = ["ledger-tools", *words]
try:
    main()
except SystemExit as stop:
    assert not stop.code, stop.code
print("CHANGES", json.dumps(changes))
"""


@pytest.mark.parametrize(
    "words",
    [
        ("invoice",),
        ("estimate",),
        ("extra-work", "25-0002"),
        ("reprint", "--out", "again"),
        ("recompute",),
        ("add-job", "--customer", "Ann", "--item", "Rack"),
        ("quarter", "2025-Q1"),
        ("year-end", "2025"),
        ("new",),
        ("next-year",),
        ("archive",),
    ],
    ids=lambda words: words[0],
)
def test_nothing_is_changed_but_through_the_calls_that_are_tried(words: tuple[str, ...]) -> None:
    """The interpreter itself tells of every file changed; all come from the one list."""
    with prepared(SCENARIOS.get(words[0], SCENARIOS["invoice"])) as folder:
        book = folder / (BOOK if words[0] != "new" else "another.xlsx")
        options = [str(folder / "again") if word == "again" else word for word in words[1:]]
        options += [str(folder / "next.xlsx")] if words[0] == "next-year" else []
        told = json.dumps([words[0], str(book), *options, "--today", "2025-03-20"])
        ran = subprocess.run(
            [sys.executable, "-c", LISTENER, str(folder), told],
            capture_output=True, text=True, cwd=ROOT, check=True,
        )  # fmt: skip
    changes = json.loads(ran.stdout.partition("CHANGES ")[2])

    assert {"open", "os.rename", "os.remove"} <= set(changes)
    callers = {by for found in changes.values() for by in found}
    assert {by.removeprefix(f"{ROOT.as_posix()}/") for by in callers} == {DISK}


@pytest.mark.parametrize("name", SCENARIOS)
def test_what_is_put_in_place_is_on_the_disk_first(name: str) -> None:
    """After a power cut no empty file stands under a good name: bytes first, then the names."""
    calls = points(SCENARIOS[name])

    for at, call in enumerate(calls):
        if call == "replace":
            written = calls[:at][len(calls[:at]) - calls[:at][::-1].index("create") :]
            assert [c for c in written if c != "set_mode"][:3] == ["write", "flush", "close"]
            assert "set_mode" not in written[written.index("flush") :]
            assert "flush_folder" in calls[at + 1 : at + 3]
    assert calls.count("replace") >= 1


def test_the_list_of_calls_is_complete() -> None:
    """Every function of the module is one that can be made to fail."""
    assert {"create", "write", "flush", "replace", "link", "remove", "lock"} <= set(disk.CALLS)
    assert all(callable(getattr(disk, name)) for name in disk.CALLS)
