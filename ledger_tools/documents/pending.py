"""Papers that are still to be made: noted before the book is saved, forgotten when they are made.

The note is a file ``.<book>.papers`` beside the book, a number a line. After a run that was cut
off it says which papers the next one has to make. It holds no path, and a number counts only if
the book has issued it.
"""

import contextlib
from collections.abc import Iterable
from pathlib import Path

from ledger_tools.book import disk
from ledger_tools.book.whole import clear_leftovers, put_in_place, written_beside
from ledger_tools.errors import FileInTheWayError

_MOST_READ = 1024 * 1024


def note_of(book: Path) -> Path:
    """Return where the note of a book lies; the book may be a link."""
    real = book.resolve()
    return real.with_name(f".{real.name}.papers")


def pending(book: Path) -> tuple[str, ...]:
    """Return the numbers whose papers a run that was cut off may not have made."""
    note = note_of(book)
    try:
        if disk.facts(note).st_size > _MOST_READ:
            return ()
        written = disk.read(note).decode("utf-8", "replace")
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise _in_the_way(note, error) from error
    return tuple(dict.fromkeys(line for line in written.splitlines() if line))


def note_pending(book: Path, numbers: Iterable[str]) -> None:
    """Note whose papers are to be made, in the place of the note of before; forget it for none.

    Raises:
        FileInTheWayError: The note cannot be written.
    """
    numbers = dict.fromkeys(numbers)
    if not numbers:
        forget_pending(book)
        return
    note = note_of(book)
    content = "".join(f"{number}\n" for number in numbers).encode()
    try:
        clear_leftovers(note)
        with written_beside(note, content) as written:
            put_in_place(written, note)
    except OSError as error:
        raise _in_the_way(note, error) from error


def forget_pending(book: Path) -> None:
    """Forget the note, as all is made; one that stays does no harm."""
    with contextlib.suppress(OSError):
        disk.remove(note_of(book))


def _in_the_way(note: Path, error: OSError) -> FileInTheWayError:
    return FileInTheWayError(
        note.name,
        f"the note of papers to be made cannot be kept beside the book ({error.strerror})",
        "Check that there is room and that you may write in its folder; nothing was issued",
    )
