"""Files that are whole or not there: written beside their place, brought to the disk, put there.

What a killed run leaves is a file ``.<name>-<letters>.part`` beside the place; the next one that
writes the same file removes it.
"""

import contextlib
import errno
import os
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from ledger_tools.book import disk

_NO_FOLDER_FLUSH = {errno.EINVAL, errno.ENOTSUP, errno.ENOSYS, errno.EACCES, errno.EBADF}
"""What file systems say that cannot bring a folder down to the disk by itself."""


FileContent = bytes | Sequence[bytes | memoryview]
"""A whole file, in one piece or in several."""
_BLOCK = 1024 * 1024
"""Bytes up to which small pieces are written together."""


class NotConfirmedError(OSError):
    """The file is in its place, but the disk does not confirm it."""


def is_there(path: Path) -> bool:
    """Return whether there is a file; none has a name that the disk finds too long."""
    return os.path.exists(path)  # noqa: PTH110 - `Path.exists` fails for such a name


@contextlib.contextmanager
def written_beside(
    path: Path,
    content: FileContent,
    *,
    mode: int | None = None,
    times: tuple[int, int] | None = None,
) -> Iterator[Path]:
    """Give a new file with `content` in the folder of `path`; it is removed at the end.

    Args:
        path: The place it is meant for.
        content: The whole file.
        mode: Who may read and write it; None for what new files usually have.
        times: When it was last read and saved, in nanoseconds; None for now.

    Raises:
        OSError: It cannot be written.
    """
    written = path.with_name(f".{path.name}-{os.urandom(4).hex()}.part")
    handle = disk.create(written, 0o666 if mode is None else 0o600)
    try:
        _fill(handle, content, None if mode is None else (written, mode))
        if times is not None:
            disk.set_times(written, times)
        yield written
    finally:
        with contextlib.suppress(OSError):
            disk.remove(written)


def put_in_place(written: Path, path: Path) -> None:
    """Put a file that was written beside `path` there.

    Raises:
        NotConfirmedError: It is there, but after a power cut the old one may be back.
        OSError: It cannot be put there; what was there is untouched.
    """
    disk.replace(path, written)
    confirm(path.parent)


def confirm(folder: Path) -> None:
    """Bring the names in a folder down to the disk, where the file system knows how.

    Raises:
        NotConfirmedError: The disk does not confirm it.
    """
    try:
        disk.flush_folder(folder)
    except OSError as error:
        if error.errno not in _NO_FOLDER_FLUSH:
            raise NotConfirmedError(error.errno, error.strerror) from error


def make_folder(folder: Path) -> None:
    """Make a folder where it is missing, and bring its name down to the disk.

    What is put there is certain only when the name of the folder is.

    Raises:
        OSError: It cannot be made, or the disk does not confirm it: nothing lies in it yet.
    """
    missing = [step for step in (folder, *folder.parents) if not step.exists()]
    disk.make_folder(folder)
    try:
        for step in reversed(missing):
            confirm(step.parent)
    except NotConfirmedError as error:
        raise OSError(error.errno, error.strerror) from error


def clear_leftovers(path: Path) -> None:
    """Remove what killed runs left of writing `path`; nobody else may be writing it now."""
    ours = re.compile(rf"\.{re.escape(path.name)}-[0-9a-f]{{8}}\.part")
    with contextlib.suppress(OSError):
        for name in filter(ours.fullmatch, disk.names(path.parent)):
            with contextlib.suppress(OSError):
                disk.remove(path.with_name(name))


def _fill(handle: int, content: FileContent, readers: tuple[Path, int] | None) -> None:
    try:
        for block in _blocks(content):
            rest = block
            while rest:
                rest = rest[disk.write(handle, rest) :]
        if readers:
            # Before the flush: who may read a file is brought down to the disk with its bytes.
            disk.set_mode(*readers)
        disk.flush(handle)
    finally:
        disk.close(handle)


def _blocks(content: FileContent) -> Iterator[memoryview]:
    """Yield a file in few blocks, without copying what is large."""
    small: list[bytes | memoryview] = []
    for piece in (content,) if isinstance(content, bytes) else content:
        if len(piece) < _BLOCK:
            small.append(piece)
        if small and (len(piece) >= _BLOCK or sum(map(len, small)) >= _BLOCK):
            yield memoryview(b"".join(small))
            small = []
        if len(piece) >= _BLOCK:
            yield memoryview(piece)
    yield memoryview(b"".join(small))
