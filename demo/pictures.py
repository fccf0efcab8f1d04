"""The pictures in the documentation, made from the demonstration's own output.

    python demo/pictures.py [FOLDER]

Sheets of the book are taken from a window of LibreOffice Calc on a screen of ordinary size;
invoice and summaries are pages as they are printed. Needs LibreOffice, poppler (pdftoppm), Xvfb,
xdotool and ImageMagick: on Debian, `apt-get install libreoffice-calc poppler-utils xvfb xdotool
imagemagick`. Run the demonstration first.
"""

from __future__ import annotations

import contextlib
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from demo import year
from demo.scenario import YEAR
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.locate import find_places
from ledger_tools.book.reader import read_snapshot
from tests.docs.walkthrough import Command, run, steps, type_in

HERE = Path(__file__).resolve().parent
PICTURES = HERE.parent / "docs" / "pictures"
MOST_BYTES = 300_000
_DISPLAY = ":91"
_TOP, _BELOW, _RIGHT = 107, 23, 62
"""Pixels of menus above the sheet, of the status line below it, of the bar at its right."""
_NAME_BOX = (62, 89)
_LONGEST = 60
"""Seconds LibreOffice may take to show a book."""
# No page breaks on the screen, no tip of the day, no bar at the right.
_SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema">
<item oor:path="/org.openoffice.Office.Calc/Content/Display">
<prop oor:name="PageBreak" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Layout/Other">
<prop oor:name="PageBreaks" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Layout/Line">
<prop oor:name="PageBreak" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Common/Misc">
<prop oor:name="FirstRun" oor:op="fuse"><value>false</value></prop></item>
<item oor:path="/org.openoffice.Office.Common/Misc">
<prop oor:name="ShowTipOfTheDay" oor:op="fuse"><value>false</value></prop></item>
</oor:items>
"""


OVERRUN = HERE.parent / "docs" / "an-overrun.md"
OVERRUN_BOOK = "shop-2025.xlsx"
_OF_OVERRUN: dict[str, str | tuple[str, ...]] = {
    "overrun-estimate": "estimates/estimate-25-0001-1.pdf",
    "overrun-request": "estimates/extra-work-25-0001-2.pdf",
    "overrun-halt": ("Jobs.A1", "Jobs.H14"),
    "overrun-ceiling": ("$'25-0001'.A1", "$'25-0001'.C17"),
    "overrun-invoice": "invoices/invoice-25-0001.pdf",
}
"""Papers, or cells gone to in the book, by the pictures of the page on the job that grows."""


@dataclass(frozen=True, slots=True)
class View:
    """A sheet as it is looked at.

    Attributes:
        name: Name of the picture.
        visits: Cells gone to, the last one is where the cursor stays.
        width: Pixels of the screen.
        height: Pixels of the screen.
    """

    name: str
    visits: tuple[str, ...]
    width: int = 1366
    height: int = 768


def main(out: Path) -> int:
    """Make all pictures from the demonstration in `out` and return the exit code."""
    book = out / year.BOOK
    if not book.is_file():
        print(f"There is no {book}: run demo/run.py first.", file=sys.stderr)
        return 1
    PICTURES.mkdir(parents=True, exist_ok=True)
    job, invoice, last_row = _pictured(book)
    summaries = out / year.SUMMARIES
    with tempfile.TemporaryDirectory() as folder:
        tmp = Path(folder)
        for view in (
            View("start", ("Start.A1", "Start.K5")),
            View("jobs", ("Jobs.A1", f"Jobs.D{last_row - 8}"), width=1700),
            View("job-sheet", (f"$'{job}'.A1", f"$'{job}'.C17")),
        ):
            _screen(book, view, tmp)
        _page(out / year.INVOICES / f"invoice-{invoice}.pdf", "invoice", 1)
        (estimate,) = (out / year.ESTIMATES).glob("*.pdf")
        _page(estimate, "options", 2)
        _overrun(tmp)
        for sheet, name in (
            (f"quarter-{YEAR}-Q3", "quarter"),
            (f"year-end-{YEAR}", "year-end"),
        ):
            _page(_printed(summaries / f"{sheet}.xlsx", tmp), name, 1 if name == "quarter" else 2)
    return _too_large()


def _overrun(tmp: Path) -> None:
    """Make the pictures of the page on the job that grows, each as things stand there."""
    for name, show in _OF_OVERRUN.items():
        folder = tmp / name
        folder.mkdir()
        for step in steps(OVERRUN.read_text(encoding="utf-8").split(f"(pictures/{name}.png)")[0]):
            if isinstance(step, Command):
                run(step, folder)
            else:
                type_in(folder / OVERRUN_BOOK, step)
        if isinstance(show, str):
            _page(folder / show, name, 1)
        else:
            _screen(folder / OVERRUN_BOOK, View(name, show), tmp)


def _pictured(book: Path) -> tuple[str, str, int]:
    """Return the job in the pictures, its invoice, and the last row of `Jobs`."""
    snapshot = read_snapshot(book)
    grid = find_places(snapshot).grid(JOBS_TABLE)
    cells = next(s for s in snapshot.sheets if s.name == grid.sheet).values
    of_item = {cells.get((row, grid.columns["item"])): row for row in grid.rows}
    row = of_item[year.PICTURED]
    filled = max(row for item, row in of_item.items() if item)
    job, invoice = (str(cells[row, grid.columns[key]]) for key in ("number", "invoice"))
    return job, invoice, filled


def _too_large() -> int:
    large = [path for path in PICTURES.glob("*.png") if path.stat().st_size > MOST_BYTES]
    for path in large:
        print(f"{path.name} is larger than {MOST_BYTES} bytes", file=sys.stderr)
    return int(bool(large))


def _program(name: str) -> str:
    found = shutil.which(name)
    if found is None:
        sys.exit(f"pictures.py: {name} is not installed; the first lines of this file say what is")
    return found


def _run(*command: str | Path) -> str:
    """Return what a command prints; one that fails ends the program with its words."""
    program, *arguments = map(str, command)
    done = subprocess.run(
        [_program(program), *arguments], capture_output=True, text=True, check=False
    )
    if done.returncode:
        sys.exit(f"pictures.py: {program} failed: {done.stderr}")
    return done.stdout.strip()


def _profile(tmp: Path) -> str:
    settings = tmp / "profile" / "user" / "registrymodifications.xcu"
    if not settings.exists():
        settings.parent.mkdir(parents=True)
        settings.write_text(_SETTINGS, encoding="utf-8")
    return f"-env:UserInstallation={(tmp / 'profile').as_uri()}"


def _printed(workbook: Path, tmp: Path) -> Path:
    """Return the workbook as a PDF, as it would be printed."""
    _run("soffice", _profile(tmp), "--headless", "--convert-to", "pdf", "--outdir", tmp, workbook)
    return tmp / f"{workbook.stem}.pdf"


def _page(pdf: Path, name: str, page: int) -> None:
    """Make the picture of a page, its empty margins cut to a few pixels."""
    whole = PICTURES / f"{name}.whole"
    _run(
        "pdftoppm",
        "-r",
        "110",
        "-f",
        str(page),
        "-l",
        str(page),
        "-png",
        "-singlefile",
        pdf,
        whole,
    )
    made = whole.with_suffix(".whole.png")
    _save(made, name, "-trim", "+repage", "-bordercolor", "white", "-border", "24")
    made.unlink()


def _save(source: Path, name: str, *changes: str) -> None:
    """Write a picture with few colours and nothing in it that differs from run to run."""
    few = ("-strip", "-dither", "None", "-colors", "128")
    _run("convert", source, *changes, *few, f"PNG8:{PICTURES / name}.png")
    print(f"docs/pictures/{name}.png", flush=True)


def _screen(book: Path, view: View, tmp: Path) -> None:
    """Make the picture of a sheet as it stands on the screen, without the menus."""
    copy = tmp / book.name
    shutil.copy(book, copy)
    shot = tmp / f"{view.name}.png"
    with _window(copy, view, tmp) as keys:
        for cell in view.visits:
            keys("mousemove", *map(str, _NAME_BOX), "click", "1")
            keys("key", "ctrl+a")
            keys("type", "--delay", "20", cell)
            keys("key", "Return")
            time.sleep(1)
        _run("import", "-display", _DISPLAY, "-window", "root", shot)
    wide, high = view.width - _RIGHT, view.height - _TOP - _BELOW
    _save(shot, view.name, "-crop", f"{wide}x{high}+0+{_TOP}", "+repage")


class _Keys:
    """A hand at the keyboard of the invisible screen."""

    def __call__(self, *words: str) -> str:
        time.sleep(0.3)
        return _run("env", f"DISPLAY={_DISPLAY}", "xdotool", *words)


@contextlib.contextmanager
def _window(book: Path, view: View, tmp: Path) -> Iterator[_Keys]:
    """Show the book in a window that fills an invisible screen."""
    size = f"{view.width}x{view.height}x24"
    keys = _Keys()
    with _started("Xvfb", _DISPLAY, "-screen", "0", size):
        time.sleep(1)
        office = ("soffice", _profile(tmp), "--norestore", "--nologo", "--calc", str(book))
        with _started("env", f"DISPLAY={_DISPLAY}", *office):
            window = _found(keys, book.name)
            keys("windowsize", window, str(view.width), str(view.height))
            keys("windowmove", window, "0", "0")
            time.sleep(2)
            yield keys
            keys("key", "ctrl+q")
            time.sleep(2)


def _found(keys: _Keys, name: str) -> str:
    """Return the window that shows a file, once it is there."""
    _program("xdotool")
    for _ in range(_LONGEST):
        with contextlib.suppress(SystemExit):
            window = keys("search", "--onlyvisible", "--name", name)
            time.sleep(4)
            return window.splitlines()[-1]
        time.sleep(1)
    sys.exit(f"pictures.py: LibreOffice showed no window of {name}")


@contextlib.contextmanager
def _started(*command: str) -> Iterator[None]:
    program, *arguments = command
    with subprocess.Popen(
        [_program(program), *arguments],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    ) as running:
        try:
            yield
        finally:
            running.terminate()


if __name__ == "__main__":
    sys.exit(main(Path(sys.argv[1] if sys.argv[1:] else HERE / "out").resolve()))
