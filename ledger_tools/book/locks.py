"""Whether a workbook is open in a spreadsheet program, by the files such programs leave beside it.

Excel puts ``~$name.xlsx`` there, LibreOffice ``.~lock.name.xlsx#``. Both may be left over from a
program that was cut off; only a person can tell.
"""

from pathlib import Path

from ledger_tools.book.whole import is_there
from ledger_tools.errors import BookLockedError

_MOST_READ = 1024


def locks_of(path: Path) -> tuple[Path, ...]:
    """Return the lock files that lie beside the workbook at `path`."""
    real = path.resolve()
    beside = (real.with_name(f"~${real.name}"), real.with_name(f".~lock.{real.name}#"))
    return tuple(lock for lock in beside if is_there(lock))


def refuse_if_open(path: Path) -> None:
    """Refuse to go on while the workbook at `path` is open elsewhere.

    Raises:
        BookLockedError: A spreadsheet program holds it open, or left its lock file behind.
    """
    for lock in locks_of(path):
        who = _holder(lock)
        raise BookLockedError(
            path.name,
            f"the book is open in a spreadsheet program{f' ({who})' if who else ''}",
            f"Save and close it there and try again; if no program has it open, delete the "
            f"file '{lock.name}' beside it",
        )


def _holder(lock: Path) -> str:
    """Return who opened the book and on which machine, as far as the lock file says so.

    LibreOffice writes name, user, machine, time and profile parted by commas; Excel one byte of
    length and the name.
    """
    try:
        with lock.open("rb") as opened:
            written = opened.read(_MOST_READ)
    except OSError:
        return ""
    if lock.name.startswith(".~lock."):
        fields = written.decode("utf-8", "replace").split(",")
        said = [field for field in fields[:3] if field.strip()]
        return ", ".join(dict.fromkeys(said)) if len(fields) > len(said) else ""
    named = written[1 : 1 + written[0]] if written else b""
    name = named.decode("utf-8", "replace").strip()
    return name if name.isprintable() else ""
