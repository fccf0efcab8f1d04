"""Power cuts: a model of a disk that loses what was not brought down to it.

The calls of a run are watched. What a file holds is certain after `flush`; which names a folder
holds is certain after `flush_folder` of that folder. All else the disk may have brought down or
not. Two kinds of disk are tried: one that keeps the order in which the names of a folder changed,
as file systems with a journal do, and one that keeps no order at all.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from itertools import chain, combinations, product
from pathlib import Path
from typing import Any, NamedTuple
from unittest import mock

from ledger_tools.book import disk
from tests.faults.scenario import BOOK, SAVED, Scenario, empty_folder, files, prepared, put

FOLDER = -1
"""Stands for a folder where otherwise the number of a file stands."""
MOST_IN_ANY_ORDER = 8
"""Changes of names of which every selection is tried; of more, those that lack or have a few."""
FEW = 2


class Change(NamedTuple):
    """A change of the names in one folder.

    Attributes:
        folder: The folder.
        gone: Name that is not there any more; empty for none.
        name: Name that is there from now on; empty for none.
        file: Number of the file it names, or `FOLDER`.
    """

    folder: str
    gone: str
    name: str
    file: int


class Content(NamedTuple):
    """What is in a file, and who may read and write it."""

    content: bytes
    mode: int


@dataclass(slots=True)
class File:
    """A file: as the disk has it for certain, and as it was last written."""

    certain: Content
    now: Content

    def states(self) -> list[Content]:
        """Return what a power cut may leave of it: nothing, the half, blanks, or all."""
        content, mode = self.now
        torn = (b"", content[: len(content) // 2], b"\0" * len(content), content)
        found = torn if content != self.certain.content else (content,)
        return [Content(each, m) for each in found for m in {self.certain.mode, mode}]


State = Mapping[str, tuple[Content | None, int]]
"""What is found by name after a power cut: content, None for a folder, and number of the file."""


@dataclass(slots=True)
class ModelDisk:
    """What the disk has for certain, and what it may have besides.

    Attributes:
        root: The folder of the run.
        files: All files, also those that lost their names.
        certain: Files by the names that the disk has for certain.
        pending: Changes of names since then, in order.
        handles: Open files.
    """

    root: Path
    files: list[File] = field(default_factory=list)
    certain: dict[str, int] = field(default_factory=dict)
    pending: list[Change] = field(default_factory=list)
    handles: dict[int, int] = field(default_factory=dict)

    @classmethod
    def of(cls, root: Path) -> "ModelDisk":
        """Return a disk that has all that is in the folder `root`."""
        made = cls(root)
        for path in sorted(root.rglob("*")):
            name = path.relative_to(root).as_posix()
            made.certain[name] = FOLDER if path.is_dir() else made._file(path.read_bytes())
            if path.is_file():
                made.files[-1].now = Content(path.read_bytes(), path.stat().st_mode & 0o777)
                made.files[-1].certain = made.files[-1].now
        return made

    def note(self, call: str, arguments: tuple[Any, ...], result: Any) -> None:  # noqa: ANN401
        """Follow a call that went well."""
        follow = getattr(self, f"_{call}", None)
        if follow:
            follow(result, *arguments)

    def states(self) -> Iterator[tuple[bool, State]]:
        """Yield what a power cut may leave now, and whether it takes a disk without order."""
        for ordered, changes in self._selections():
            names = self._named(changes)
            found = {number for number in names.values() if number != FOLDER}
            each = [[(n, state) for state in self.files[n].states()] for n in sorted(found)]
            for chosen in product(*each):
                contents: dict[int, Content | None] = {**dict(chosen), FOLDER: None}
                yield not ordered, {k: (contents[n], n) for k, n in names.items()}

    def _selections(self) -> Iterator[tuple[bool, Sequence[Change]]]:
        """Yield which pending changes the disk has, those that keep the order first."""
        folders = list(dict.fromkeys(change.folder for change in self.pending))
        queues = [[c for c in self.pending if c.folder == folder] for folder in folders]
        lengths = (range(len(queue) + 1) for queue in queues)
        for counts in product(*lengths):
            yield True, [c for q, n in zip(queues, counts, strict=True) for c in q[:n]]
        count = len(self.pending)
        sizes = [n for n in range(count + 1) if count <= MOST_IN_ANY_ORDER or _few(n, count)]
        for chosen in chain.from_iterable(combinations(self.pending, n) for n in sizes):
            yield False, chosen

    def _named(self, changes: Sequence[Change]) -> dict[str, int]:
        """Return the files by name with these changes; what lies in a lost folder is lost."""
        names = dict(self.certain)
        for change in changes:
            names.pop(change.gone, None)
            if change.name:
                names[change.name] = change.file
        return {k: n for k, n in names.items() if _folder(k) in {"", *names}}

    def _now(self) -> dict[str, int]:
        return self._named(self.pending)

    def _name(self, path: Path) -> str:
        return path.resolve().relative_to(self.root.resolve()).as_posix()

    def _file(self, content: bytes, mode: int = 0o644) -> int:
        fresh = Content(content, mode)
        self.files.append(File(fresh, fresh))
        return len(self.files) - 1

    def _change(self, gone: str, name: str, file: int) -> None:
        self.pending.append(Change(_folder(name or gone), gone, name, file))

    def _create(self, handle: int, path: Path, mode: int = 0o666) -> None:
        del mode  # what it comes to depends on whoever runs it
        number = self._file(b"", path.stat().st_mode & 0o777)
        self.handles[handle] = number
        self._change("", self._name(path), number)

    def _open_lock(self, handle: int, path: Path) -> None:
        del handle
        if self._name(path) not in self._now():
            self._change("", self._name(path), self._file(b""))

    def _write(self, written: int, handle: int, content: memoryview) -> None:
        file = self.files[self.handles[handle]]
        file.now = Content(file.now.content + bytes(content[:written]), file.now.mode)

    def _flush(self, result: None, handle: int) -> None:
        del result
        file = self.files[self.handles[handle]]
        file.certain = file.now

    def _set_mode(self, result: None, path: Path, mode: int) -> None:
        del result
        file = self.files[self._now()[self._name(path)]]
        file.now = Content(file.now.content, mode)

    def _link(self, result: None, path: Path, another: Path) -> None:
        del result
        self._change("", self._name(another), self._now()[self._name(path)])

    def _replace(self, result: None, path: Path, by: Path) -> None:
        del result
        self._change(self._name(by), self._name(path), self._now()[self._name(by)])

    def _remove(self, result: None, path: Path) -> None:
        del result
        self._change(self._name(path), "", FOLDER)

    def _make_folder(self, result: None, folder: Path) -> None:
        del result
        there, steps = self._now(), Path(self._name(folder))
        for step in (*reversed(steps.parents), steps):
            name = step.as_posix()
            if name not in {".", *there}:
                self._change("", name, FOLDER)

    def _flush_folder(self, result: None, folder: Path) -> None:
        del result
        name = self._name(folder)
        here = "" if name == "." else name
        ours = [change for change in self.pending if change.folder == here]
        self.pending = [change for change in self.pending if change.folder != here]
        names = dict(self.certain)
        for change in ours:
            names.pop(change.gone, None)
            if change.name:
                names[change.name] = change.file
        self.certain = names


def _few(n: int, count: int) -> bool:
    return n <= FEW or n >= count - FEW


def _folder(name: str) -> str:
    return name.rpartition("/")[0]


@contextmanager
def watched(model: ModelDisk, after: Callable[[], None]) -> Iterator[None]:
    """Let `model` follow every call to the disk, and call `after` each time."""
    with ExitStack() as patched:
        for name in disk.CALLS:
            wrapped = _wrapped(name, getattr(disk, name), model, after)
            patched.enter_context(mock.patch.object(disk, name, wrapped))
        yield


def _wrapped(
    name: str, call: Callable[..., Any], model: ModelDisk, after: Callable[[], None]
) -> Callable[..., Any]:
    def wrapper(*arguments: Any) -> Any:  # noqa: ANN401 - stands for every call of the list
        result = call(*arguments)
        model.note(name, arguments, result)
        after()
        return result

    return wrapper


class Cut(NamedTuple):
    """What one power cut leaves.

    Attributes:
        state: The files that are found.
        disorder: Whether it takes a disk that does not keep the order of names.
        mode: Who might read the book and write it before the run.
        done: What people saw when the run had ended well; None for a cut before its end.
    """

    state: State
    disorder: bool
    mode: int
    done: Mapping[str, bytes] | None

    def meet(self, scenario: Scenario) -> None:
        """Look at what is left, and let the next run finish the work."""
        with empty_folder() as folder:
            self._lay_out(folder)
            assert self.read_by_others(), "who may read the book has changed"
            if self.done is not None:
                there = files(folder)
                assert {name: there.get(name) for name in self.done} == self.done
            scenario.check(folder)

    def read_by_others(self) -> bool:
        """Whether the book, where there is one, may be read by those who might before."""
        found, _ = self.state.get(BOOK, (None, FOLDER))
        return found is None or found.mode == self.mode

    def _lay_out(self, folder: Path) -> None:
        first: dict[int, Path] = {}
        for name, (found, number) in sorted(self.state.items()):
            path = folder / name
            if found is None:
                path.mkdir()
            elif number in first:
                path.hardlink_to(first[number])
            else:
                put(path, found.content, SAVED)
                path.chmod(found.mode)
                first[number] = path


def cuts(scenario: Scenario) -> list[Cut]:
    """Return the different states that a power cut at any time of a run can leave."""
    found: dict[object, Cut] = {}
    with prepared(scenario) as folder:
        model = ModelDisk.of(folder)
        number = model.certain.get(BOOK, FOLDER)
        mode = model.files[number].now.mode if number != FOLDER else 0

        def collect(done: Mapping[str, bytes] | None = None) -> None:
            for disorder, state in model.states():
                key = frozenset((name, content) for name, (content, _) in state.items())
                found.setdefault((key, done is not None), Cut(state, disorder, mode, done))

        collect()
        with watched(model, collect):
            ran = scenario.run(folder)
        assert ran.code == 0, ran.said
        collect(files(folder))
    return list(found.values())
