"""One run at a time: a lock beside a file while these tools write it.

The operating system gives the lock back when a program ends in whatever way, so that a run that
was killed holds up nobody; the empty lock file it may leave means nothing.
"""

import contextlib
import errno
import os
import time
from collections.abc import Iterator
from pathlib import Path

from ledger_tools.book import disk
from ledger_tools.errors import BookLockedError

PATIENCE = 10.0
"""Seconds that a run waits for another one to finish."""
_EVERY = 0.02
_NO_LOCKS = {errno.ENOLCK, errno.ENOTSUP, errno.ENOSYS, errno.EINVAL, errno.EBADF}
"""What file systems say that know no locks, as some of the network."""


def lock_of(path: Path) -> Path:
    """Return the lock file of `path`."""
    return path.with_name(f".{path.name.lstrip('.')}.lock")


@contextlib.contextmanager
def turn(path: Path, *, named: str = "") -> Iterator[bool]:
    """Hold `path` alone among these tools; give False where the file system knows no locks.

    Args:
        path: What is to be written.
        named: What a message calls it; the name of the file if not given.

    Raises:
        BookLockedError: Another run still holds it.
        OSError: The lock file cannot be made.
    """
    lock = lock_of(path)
    until = time.monotonic() + PATIENCE
    handle, alone = _taken(lock)
    while handle is None:
        if time.monotonic() >= until:
            raise BookLockedError(
                named or path.name,
                "another run of these tools is writing it",
                "Wait until that run has ended and try again; nothing was written",
            )
        time.sleep(_EVERY)
        handle, alone = _taken(lock)
    try:
        yield alone
    finally:
        _give_back(lock, handle)


def _taken(lock: Path) -> tuple[int | None, bool]:
    """Return the handle of the lock, None while another run holds it, and whether it holds."""
    handle = disk.open_lock(lock)
    try:
        disk.lock(handle)
        if _is_still_there(lock, handle):
            return handle, True
    except disk.BusyError:
        pass
    except OSError as error:
        if error.errno in _NO_LOCKS:
            return handle, False
        _close(handle)
        raise
    _close(handle)
    return None, False


def _is_still_there(lock: Path, handle: int) -> bool:
    """Whether the file that is held is the one that lies there: its last holder removed it."""
    try:
        return os.path.samestat(os.fstat(handle), disk.facts(lock))
    except FileNotFoundError:
        return False


def _give_back(lock: Path, handle: int) -> None:
    """Remove the lock file and let it go; Windows removes only what nobody holds."""
    if os.name == "nt":
        _close(handle)
    with contextlib.suppress(OSError):
        disk.remove(lock)
    if os.name != "nt":
        _close(handle)


def _close(handle: int) -> None:
    with contextlib.suppress(OSError):
        disk.close(handle)
