"""The calls by which files are read, changed and held, each in one place so that each can fail.

Books and documents reach the disk through these functions and no others: the tests let every
one of them fail, or kill the program there, and look at what is left.
"""

import os
import sys
from pathlib import Path

if sys.platform == "win32":
    import msvcrt
else:
    import fcntl

_BINARY = getattr(os, "O_BINARY", 0)
_PIECE = 1024 * 1024
"""Bytes of a file that are compared at a time."""


class BusyError(Exception):
    """Another program holds the lock."""


def read(path: Path) -> bytes:
    """Return the bytes of a file."""
    return path.read_bytes()


def same(path: Path, content: bytes) -> bool:
    """Return whether a file holds just these bytes; it is read piece by piece."""
    at = 0
    with path.open("rb") as opened:
        while piece := opened.read(_PIECE):
            if not content.startswith(piece, at):
                return False
            at += len(piece)
    return at == len(content)


def facts(path: Path) -> os.stat_result:
    """Return what the folder says of a file: size, times, permissions."""
    return path.stat()


def names(folder: Path) -> list[str]:
    """Return the names in a folder."""
    return os.listdir(folder)  # noqa: PTH208 - names are all that is wanted of many files


def make_folder(folder: Path) -> None:
    """Make a folder, and those it lies in, where they are missing."""
    folder.mkdir(parents=True, exist_ok=True)


def create(path: Path, mode: int = 0o666) -> int:
    """Make a new file and return its handle; one that is there already is an error."""
    return os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, mode)


def write(handle: int, content: memoryview) -> int:
    """Write some or all of `content` and return how many bytes that were."""
    return os.write(handle, content)


def flush(handle: int) -> None:
    """Bring what was written down to the disk."""
    os.fsync(handle)


def close(handle: int) -> None:
    """Close a file."""
    os.close(handle)


def set_mode(path: Path, mode: int) -> None:
    """Set who may read and write a file."""
    path.chmod(mode)


def set_times(path: Path, times: tuple[int, int]) -> None:
    """Set when a file was last read and saved, in nanoseconds."""
    os.utime(path, ns=times)


def link(path: Path, another: Path) -> None:
    """Give a file another name, without copying its bytes."""
    os.link(path, another)


def replace(path: Path, by: Path) -> None:
    """Put the file `by` in the place of `path`, at one stroke."""
    by.replace(path)


def remove(path: Path) -> None:
    """Remove a file."""
    path.unlink()


def flush_folder(folder: Path) -> None:
    """Bring the names in a folder down to the disk; Windows does so by itself."""
    if sys.platform != "win32":
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def open_lock(path: Path) -> int:
    """Return a handle of a lock file, made where it is missing."""
    try:
        return os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
    except PermissionError:
        # Left over from another person's run: to be looked at is enough to be held.
        return os.open(path, os.O_RDONLY)


def lock(handle: int) -> None:
    """Hold a lock file until it is closed, or the program ends in whatever way.

    Raises:
        BusyError: Another program holds it.
    """
    try:
        if sys.platform == "win32":
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        else:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise BusyError from error
    except PermissionError as error:
        if sys.platform == "win32":
            raise BusyError from error
        raise


CALLS = tuple(
    name
    for name, call in list(globals().items())
    if callable(call) and getattr(call, "__module__", "") == __name__ and name[0].islower()
)
"""Names of the functions above."""
