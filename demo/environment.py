"""The virtual environment beside the code, made with nothing but the standard library.

`python demo/run.py` and `python tests/run.py` call this on Linux, macOS and Windows. The
environment is `.venv` in the checkout. It is kept while it fits: same kind of Python, same place,
same pyproject.toml. One that fits needs no network.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import platform
import shutil
import subprocess
import sys
import venv
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parent.parent
ENVIRONMENT = CHECKOUT / ".venv"
OLDEST_PYTHON = (3, 11)

_MARK = ENVIRONMENT / "made-by-ledger-tools.json"
_PYTHON = ENVIRONMENT / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def python_with(extra: str = "") -> Path:
    """Return the Python of an environment that has the checkout and `extra` installed.

    Args:
        extra: Name of a group of optional dependencies in pyproject.toml; empty for none.
    """
    if sys.version_info < OLDEST_PYTHON:
        _stop(f"Python 3.11 or newer is needed; this is Python {platform.python_version()}.")
    had = _extras_installed()
    if had is None:
        _make()
        had = []
    if extra not in had:
        _install(extra)
        _write_mark(sorted({"", extra, *had}))
    return _PYTHON


def run(*command: str | Path) -> int:
    """Return the exit code of a command, run in the checkout."""
    return subprocess.run(
        [str(part) for part in command],
        cwd=CHECKOUT,
        env={**os.environ, "PYTHONUTF8": "1"},
        check=False,
    ).returncode


def _fits() -> dict[str, str]:
    """Return what an environment must agree with to be used again."""
    pyproject = (CHECKOUT / "pyproject.toml").read_bytes()
    major, minor, *_ = sys.version_info
    return {
        "python": f"{platform.python_implementation()} {major}.{minor}",
        "machine": platform.machine(),
        "checkout": str(CHECKOUT),
        "pyproject": hashlib.sha256(pyproject).hexdigest(),
    }


def _extras_installed() -> list[str] | None:
    """Return the groups installed in the environment; None where it must be made anew."""
    try:
        mark = json.loads(_MARK.read_text(encoding="utf-8"))
        fits = {name: mark.get(name) for name in _fits()} == _fits()
        works = fits and run(_PYTHON, "-c", "import ledger_tools") == 0
    except (OSError, ValueError):
        return None
    return list(mark["extras"]) if works else None


def _write_mark(extras: list[str]) -> None:
    text = json.dumps({**_fits(), "extras": extras}, indent=2)
    _MARK.write_text(text + "\n", encoding="utf-8")


def _make() -> None:
    if ENVIRONMENT.exists():
        _remove()
    with_pip = importlib.util.find_spec("ensurepip") is not None
    if not with_pip and importlib.util.find_spec("pip") is None:
        _stop(
            "This Python can make no virtual environment: it has neither ensurepip nor pip. "
            "On Debian and Ubuntu: apt-get install python3-venv"
        )
    print(f"Making a virtual environment in {ENVIRONMENT}", flush=True)
    ENVIRONMENT.mkdir()
    # The mark comes first, so that an environment left half-made is known as ours next time.
    _MARK.write_text("{}\n", encoding="utf-8")
    venv.EnvBuilder(with_pip=with_pip, symlinks=os.name != "nt").create(ENVIRONMENT)


def _remove() -> None:
    if not _MARK.exists():
        _stop(
            f"{ENVIRONMENT} was not made by this program, so it is left alone. "
            "Rename or remove it, then start again."
        )
    if Path(sys.prefix).resolve() == ENVIRONMENT.resolve():
        _stop(
            f"{ENVIRONMENT} no longer fits and this Python runs from it. "
            "Start again with the Python it was made from (deactivate first)."
        )
    shutil.rmtree(ENVIRONMENT)


def _install(extra: str) -> None:
    what = f"{CHECKOUT}[{extra}]" if extra else str(CHECKOUT)
    print("Installing what is needed (the first time takes a minute)", flush=True)
    own_pip = run(
        _PYTHON, "-c", "import importlib.util as u, sys; sys.exit(not u.find_spec('pip'))"
    )
    pip: list[str | Path] = [_PYTHON, "-m", "pip"]
    if own_pip != 0:
        pip = [sys.executable, "-m", "pip", "--python", _PYTHON]
    if run(*pip, "install", "--quiet", "--disable-pip-version-check", "--editable", what) != 0:
        _stop("Installing failed; the reason stands above. Is this machine on the network?")


def _stop(why: str) -> None:
    sys.exit(f"{Path(sys.argv[0]).name}: {why}")
