"""LibreOffice as second calculator and as the other program that saves a shop book.

Each function starts LibreOffice without a window, one at a time on the machine, with a profile of
its own, and fails loudly: a conversion that leaves no file is an error, never an empty answer.
"""

import contextlib
import functools
import getpass
import json
import os
import re
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import warnings
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import openpyxl

REQUIRED = "LEDGER_TOOLS_REQUIRE_LIBREOFFICE"
PROGRAM = "LEDGER_TOOLS_SOFFICE"
LONGEST = 300
"""Seconds one conversion may take."""

_USUAL_PLACES = (
    "/Applications/LibreOffice.app/Contents/MacOS/soffice",
    "/opt/libreoffice/program/soffice",
    "/snap/bin/libreoffice",
    r"%ProgramFiles%\LibreOffice\program\soffice.com",
    r"%ProgramFiles(x86)%\LibreOffice\program\soffice.com",
)
_SAVED_AS = {
    ".xlsx": "xlsx:Calc MS Excel 2007 XML",
    ".xlsm": "xlsm:Calc MS Excel 2007 VBA XML",
}
# LibreOffice shows an .xlsx file's cached values as they are; 0 makes it compute every formula.
_ALWAYS_RECALCULATE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry"
 xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="ODFRecalcMode" oor:op="fuse"><value>0</value></prop></item>
</oor:items>
"""


Steps = Sequence[Sequence[Any]]
"""What is done in a workbook: methods of `hands.Hands`, each with its arguments."""
_HANDS = Path(__file__).with_name("hands.py")


class LibreOfficeError(RuntimeError):
    """LibreOffice is missing, took too long or left no file."""


@functools.cache
def soffice() -> str | None:
    """Return the path of LibreOffice's program, None where it is not installed."""
    named = os.environ.get(PROGRAM)
    if named:
        return named
    on_path = shutil.which("soffice") or shutil.which("libreoffice")
    if on_path:
        return on_path
    places = (os.path.expandvars(place) for place in _USUAL_PLACES)
    return next((place for place in places if Path(place).is_file()), None)


@functools.cache
def python() -> str | None:
    """Return the path of a Python that can talk to LibreOffice, None where there is none.

    LibreOffice brings one along, or uses that of the system with the package `python3-uno`.
    """
    program = soffice()
    beside = Path(program).resolve().parent if program else Path()
    own = (beside / "python", beside / "python.exe", beside.parent / "Resources" / "python")
    usual = (shutil.which("python3") or "", "/usr/bin/python3", sys.executable)
    there = (str(path) for path in own if path.is_file())
    for candidate in dict.fromkeys((*there, *filter(None, usual))):
        tried = subprocess.run(
            [candidate, "-c", "import uno"], capture_output=True, check=False, timeout=60
        )
        if tried.returncode == 0:
            return candidate
    return None


def required() -> bool:
    """Return whether a missing LibreOffice is a failure and not a skipped test."""
    return os.environ.get(REQUIRED, "") not in {"", "0"}


def recalculated(path: Path, tmp: Path) -> dict[str, dict[str, object]]:
    """Return every value of the workbook after LibreOffice has computed all its formulas anew.

    The answer goes from sheet name to cell address to value; empty cells are left out.
    """
    made = _converted(path, tmp / "recalculated", "xlsx:Calc MS Excel 2007 XML", recalculate=True)
    return cell_values(made)


def resaved(path: Path, tmp: Path) -> Path:
    """Return the workbook as LibreOffice saves it, with the settings it has when first started."""
    return _converted(path, tmp / "resaved", _SAVED_AS[path.suffix.lower()])


def edited(books: Sequence[tuple[Path, Path | None, Steps]]) -> list[list[Any]]:
    """Have LibreOffice open workbooks, edit them and save them, all in one start.

    Args:
        books: For each the file, where to save it or None, and what is done in it.

    Returns:
        For each book the answers of its steps.
    """
    program, interpreter = soffice(), python()
    if program is None or interpreter is None:
        raise LibreOfficeError("LibreOffice or its Python is not installed; see README.md")
    pipe = f"ledger-tools-{os.getpid()}"
    asked = [[str(f.resolve()), str(t.resolve()) if t else "", list(s)] for f, t, s in books]
    with _alone() as home:
        profile = _profile(home, recalculate=False)
        listening = [
            program,
            f"-env:UserInstallation={profile.as_uri()}",
            "--headless",
            "--norestore",
            f"--accept=pipe,name={pipe};urp",
        ]
        with subprocess.Popen(
            listening,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            text=True,
            start_new_session=True,
        ) as running:
            try:
                return _answers(interpreter, {"pipe": pipe, "books": asked})
            except BaseException:
                _end(running)
                shutil.rmtree(profile, ignore_errors=True)
                raise


def _answers(interpreter: str, asked: dict[str, Any]) -> list[list[Any]]:
    """Return what `hands.py` answers, run by a Python that can talk to LibreOffice."""
    try:
        said = subprocess.run(
            [interpreter, str(_HANDS)],
            input=json.dumps(asked),
            capture_output=True,
            text=True,
            check=False,
            timeout=LONGEST,
        )
    except subprocess.TimeoutExpired:
        raise LibreOfficeError(f"LibreOffice took over {LONGEST} s to edit") from None
    if said.returncode:
        raise LibreOfficeError(f"LibreOffice did not edit as asked:\n{said.stderr}")
    answers: list[list[Any]] = json.loads(said.stdout)
    return answers


def to_pdf(path: Path, tmp: Path) -> Path:
    """Return a PDF of the workbook as LibreOffice prints it."""
    return _converted(path, tmp / "pdf", "pdf:calc_pdf_Export")


def cell_values(path: Path) -> dict[str, dict[str, object]]:
    """Return the values stored in a workbook's cells, as openpyxl reads them.

    The answer goes from sheet name to cell address to value; empty cells are left out.
    """
    with warnings.catch_warnings():
        # openpyxl warns of parts it would drop on saving; here it only reads.
        warnings.simplefilter("ignore", UserWarning)
        book = openpyxl.load_workbook(path, data_only=True)
    return {
        sheet.title: {
            cell.coordinate: cell.value
            for row in sheet.iter_rows()
            for cell in row
            if cell.value is not None
        }
        for sheet in book.worksheets
    }


def _converted(path: Path, out: Path, to: str, *, recalculate: bool = False) -> Path:
    program = soffice()
    if program is None:
        raise LibreOfficeError("LibreOffice is not installed; see README.md, 'Tests'")
    out.mkdir(parents=True, exist_ok=True)
    made = out / f"{path.stem}.{to.partition(':')[0]}"
    if made.resolve() == path.resolve():
        raise LibreOfficeError(f"{path} would be written over itself")
    made.unlink(missing_ok=True)
    with _alone() as home:
        profile = _profile(home, recalculate=recalculate)
        command = [
            program,
            f"-env:UserInstallation={profile.as_uri()}",
            "--headless",
            "--norestore",
            "--convert-to",
            to,
            "--outdir",
            str(out),
            str(path),
        ]
        try:
            _run(command, made)
        except LibreOfficeError:
            shutil.rmtree(profile, ignore_errors=True)
            raise
    return made


def _run(command: list[str], made: Path) -> None:
    with subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        start_new_session=True,
    ) as running:
        try:
            said, _ = running.communicate(timeout=LONGEST)
        except subprocess.TimeoutExpired:
            _end(running)
            raise LibreOfficeError(f"LibreOffice took over {LONGEST} s: {command}") from None
        except BaseException:
            _end(running)
            raise
    if running.returncode:
        raise LibreOfficeError(f"LibreOffice ended with {running.returncode}: {command}\n{said}")
    if not made.is_file() or not made.stat().st_size:
        raise LibreOfficeError(f"LibreOffice made no {made.name}: {command}\n{said}")


def _end(running: subprocess.Popen[str]) -> None:
    """End LibreOffice with the processes it started; the first one is only a launcher."""
    if sys.platform == "win32":
        killer = shutil.which("taskkill") or "taskkill"
        subprocess.run([killer, "/F", "/T", "/PID", str(running.pid)], check=False)
    else:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(running.pid, signal.SIGKILL)
    running.wait()


def _profile(home: Path, *, recalculate: bool) -> Path:
    profile = home / ("recalculate" if recalculate else "plain")
    settings = profile / "user" / "registrymodifications.xcu"
    if recalculate and not settings.exists():
        settings.parent.mkdir(parents=True, exist_ok=True)
        settings.write_text(_ALWAYS_RECALCULATE, encoding="utf-8")
    return profile


@contextlib.contextmanager
def _alone() -> Iterator[Path]:
    """Yield the folder of the profiles while no other test process uses it."""
    who = re.sub(r"\W", "_", getpass.getuser())
    home = Path(tempfile.gettempdir()) / f"ledger-tools-libreoffice-{who}"
    home.mkdir(mode=0o700, exist_ok=True)
    with (home / "lock").open("a+b") as lock:
        _wait_for(lock.fileno())
        yield home


def _wait_for(lock: int) -> None:
    """Lock an open file; closing it lets the next one in."""
    if sys.platform == "win32":
        import msvcrt  # noqa: PLC0415 - exists on Windows only

        while True:
            with contextlib.suppress(OSError):
                os.lseek(lock, 0, os.SEEK_SET)
                msvcrt.locking(lock, msvcrt.LK_NBLCK, 1)
                return
            time.sleep(0.2)
    else:
        import fcntl  # noqa: PLC0415 - does not exist on Windows

        fcntl.flock(lock, fcntl.LOCK_EX)
