"""Faults: one call of the thin list `ledger_tools.book.disk` fails, or the program dies there."""

import errno
import os
import signal
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from typing import Any
from unittest import mock

from ledger_tools.book import disk

ERRORS = (errno.ENOSPC, errno.EIO, errno.EACCES)
"""The disk is full, the disk is broken, the folder or file may not be written."""
KILL = getattr(signal, "SIGKILL", signal.SIGTERM)
"""The signal nobody can refuse; Windows knows only the other, and ends the program as well."""


@dataclass(slots=True)
class Calls:
    """The calls of a run, in order, and the one that is to fail.

    Attributes:
        fail: What happens at that call.
        at: Which call that is, counted from 0; None for none.
        made: Names of the calls so far.
    """

    fail: Callable[[], None]
    at: int | None = None
    made: list[str] = field(default_factory=list)

    def hit(self, name: str) -> bool:
        """Note a call, and return whether it is the one."""
        self.made.append(name)
        return len(self.made) - 1 == self.at

    @property
    def reached(self) -> bool:
        """Whether the run came to the call that was to fail."""
        return self.at is not None and len(self.made) > self.at


@contextmanager
def failing(at: int | None, fail: Callable[[], None]) -> Iterator[Calls]:
    """Let the call number `at` fail: half a write is written, all else is not begun."""
    calls = Calls(fail, at)
    with ExitStack() as patched:
        for name in disk.CALLS:
            wrapped = _wrapped(name, getattr(disk, name), calls)
            patched.enter_context(mock.patch.object(disk, name, wrapped))
        yield calls


def refused_with(number: int) -> Callable[[], None]:
    """Return a fault that raises the error of that number."""

    def fail() -> None:
        raise OSError(number, os.strerror(number))

    return fail


def killed() -> None:
    """End this program at once, as kill -9 or a power cut does: nothing is tidied up."""
    os.kill(os.getpid(), KILL)


def _wrapped(name: str, call: Callable[..., Any], calls: Calls) -> Callable[..., Any]:
    def wrapper(*arguments: Any) -> Any:  # noqa: ANN401 - stands for every call of the list
        if calls.hit(name):
            if name == "write":
                handle, content = arguments
                call(handle, content[: len(content) // 2])
            elif name == "close":
                call(*arguments)
            calls.fail()
        return call(*arguments)

    return wrapper
