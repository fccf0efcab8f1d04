"""Whenever the power is cut: what was said to be done is there, and no half file is left."""

import os
from collections.abc import Callable
from pathlib import Path

import pytest

from ledger_tools.book import disk
from tests.faults.power import ModelDisk, cuts, watched
from tests.faults.runs import SCENARIOS
from tests.faults.scenario import Ran, Scenario
from tests.faults.sweep import power_cuts

OLD, NEW = b"the old one", b"the new one!"
Found = set[tuple[tuple[str, bytes | None], ...]]


@pytest.mark.parametrize("name", SCENARIOS)
def test_nothing_is_lost_whenever_the_power_is_cut(name: str) -> None:
    """On a disk that keeps the order of names: old state or new, and the next run does the rest.

    A disk that keeps none is left to the long run.
    """
    states = power_cuts(name, everything=False)

    for cut in states:
        cut.meet(SCENARIOS[name])

    assert len(states) > 8
    assert sum(cut.done is not None for cut in states) >= 2


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return a folder with one file."""
    (tmp_path / "a").write_bytes(OLD)
    return tmp_path


def _left(folder: Path, run: Callable[[], object], *, disorder: bool = False) -> Found:
    """Return what a power cut right after `run` can leave, on one kind of disk."""
    model = ModelDisk.of(folder)
    with watched(model, lambda: None):
        run()
    found: Found = set()
    for without_order, state in model.states():
        if without_order == disorder:
            names = ((name, c.content if c else None) for name, (c, _) in state.items())
            found.add(tuple(sorted(names)))
    return found


def _write(path: Path, content: bytes, *, flush: bool) -> None:
    handle = disk.create(path)
    disk.write(handle, memoryview(content))
    if flush:
        disk.flush(handle)
    disk.close(handle)


def test_what_was_not_flushed_may_be_gone_torn_or_blank(folder: Path) -> None:
    """Of a file only written, the name may be lost, and the bytes."""
    found = _left(folder, lambda: _write(folder / "b", NEW, flush=False))

    torn = (b"", NEW[:6], bytes(12), NEW)
    assert found == {(("a", OLD),), *((("a", OLD), ("b", each)) for each in torn)}


def test_what_was_flushed_with_its_folder_is_there(folder: Path) -> None:
    """File and folder brought down: there is but one state left."""

    def run() -> None:
        _write(folder / "b", NEW, flush=True)
        disk.flush_folder(folder)

    assert _left(folder, run, disorder=True) == {(("a", OLD), ("b", NEW))}


def test_a_file_is_replaced_or_not(folder: Path) -> None:
    """Until the folder is brought down either one may stand there."""

    def run() -> None:
        _write(folder / "b", NEW, flush=True)
        disk.replace(folder / "a", folder / "b")

    assert _left(folder, run) == {(("a", OLD),), (("a", OLD), ("b", NEW)), (("a", NEW),)}


def test_order_is_kept_by_one_disk_and_not_by_the_other(folder: Path) -> None:
    """A second name and the end of the first: without order both may be gone."""

    def run() -> None:
        disk.link(folder / "a", folder / "b")
        disk.remove(folder / "a")

    in_order = {(("a", OLD),), (("a", OLD), ("b", OLD)), (("b", OLD),)}
    assert _left(folder, run) == in_order
    (folder / "b").rename(folder / "a")
    assert _left(folder, run, disorder=True) == {*in_order, ()}


def test_a_lost_folder_takes_along_what_lies_in_it(folder: Path) -> None:
    """To bring the inner folder down does not help while its own name may be lost."""
    papers = folder / "papers"

    def run() -> None:
        disk.make_folder(papers)
        _write(papers / "b", NEW, flush=True)
        disk.flush_folder(papers)

    whole = (("a", OLD), ("papers", None), ("papers/b", NEW))
    assert _left(folder, run) == {(("a", OLD),), whole}


@pytest.mark.skipif(os.name == "nt", reason="Windows has no such permissions")
def test_who_may_read_a_file_may_be_lost_as_well(folder: Path) -> None:
    """Set after the flush, it is not on the disk for certain."""
    (folder / "a").chmod(0o644)
    model = ModelDisk.of(folder)
    with watched(model, lambda: None):
        disk.set_mode(folder / "a", 0o600)

    contents = [state["a"][0] for _, state in model.states()]
    assert {content.mode for content in contents if content} == {0o644, 0o600}


def _careless(*, flush: bool) -> Callable[[Path], Ran]:
    """Return a run that replaces a file and does not bring everything down to the disk."""

    def run(folder: Path) -> Ran:
        _write(folder / "b", NEW, flush=flush)
        disk.replace(folder / "a", folder / "b")
        return Ran(0, "done")

    return run


@pytest.mark.parametrize(
    ("flush", "lost"), [(False, "half"), (True, "not done")], ids=["file", "folder"]
)
def test_a_run_that_forgets_to_flush_is_found_out(flush: bool, lost: str) -> None:  # noqa: FBT001
    """Without the file's flush a half file is there; without the folder's, less than was said."""

    def prepare(folder: Path) -> None:
        (folder / "a").write_bytes(OLD)

    def check(folder: Path) -> None:
        assert (folder / "a").read_bytes() in {OLD, NEW}, "half"

    scenario = Scenario("", prepare, _careless(flush=flush), check)
    said = set()
    for cut in cuts(scenario):
        try:
            cut.meet(scenario)
        except AssertionError as wrong:
            said.add("half" if "half" in str(wrong) else "not done")

    assert lost in said
    assert ("half" in said) is not flush
