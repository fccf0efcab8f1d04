"""What must not stand in any file of this repository."""

import os
import re
import zipfile
from collections.abc import Iterator
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parent.parent
LEFT_OUT = {"__pycache__", "_build", "build", "dist", "node_modules", "out"}
KEPT = {".ci", ".github"}
# Each is spelled with a class of one letter, so that this file does not hold what it looks for.
TRACES = {
    "a path of one machine": r"(?<![\w.])/(?:wor[k]|tm[p]|roo[t]|hom[e]|User[s])/",
    "a path of one Windows machine": r"[A-Za-z]:[\\/]User[s]",
    "the host of a package registry": r"py[p]i\.org|python[h]osted\.org|np[m]js\.(?:com|org)",
}


def _files() -> Iterator[Path]:
    for folder, folders, names in os.walk(CHECKOUT):
        folders[:] = [
            name
            for name in folders
            if name in KEPT
            or not (name in LEFT_OUT or name.startswith(".") or name.endswith(".egg-info"))
        ]
        # A second working tree has a file `.git` that says where the first one is.
        yield from (Path(folder, name) for name in names if name != ".git")


def _texts(path: Path) -> Iterator[tuple[str, str]]:
    """Yield name and text of a file, or of each part of a workbook."""
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as parts:
            for part in parts.namelist():
                yield f"{path.relative_to(CHECKOUT)}, {part}", parts.read(part).decode("latin-1")
        return
    content = path.read_bytes()
    if b"\0" not in content:
        yield str(path.relative_to(CHECKOUT)), content.decode("utf-8", "replace")


def _traces(text: str) -> list[str]:
    return [
        f"line {text.count(chr(10), 0, found.start()) + 1}: {what}: {found[0]}"
        for what, pattern in TRACES.items()
        for found in re.finditer(pattern, text)
    ]


def test_no_file_tells_of_a_machine() -> None:
    """No text, and no part of a workbook, holds a machine's path or a registry's address."""
    texts = [pair for path in sorted(_files()) for pair in _texts(path)]
    found = [f"{name}, {trace}" for name, text in texts for trace in _traces(text)]

    assert "pyproject.toml" in {name for name, _ in texts}
    assert not found, "\n".join(found)


@pytest.mark.parametrize(
    "text",
    [
        "open('/tm" + "p/shop.xlsx')",
        "see file:///roo" + "t/book",
        "url=C:" + r"\User" + r"s\Ann\shop.xlsx",
        "https://py" + "pi.org/simple",
    ],
)
def test_a_trace_is_found(text: str) -> None:
    """The search does find what it is for, and names the line."""
    assert _traces(f"first line\n{text}\n")[0].startswith("line 2: ")


@pytest.mark.parametrize(
    "text", ["xl/worksheets/sheet1.xml", "the shop's home/office", "$tmp/out"]
)
def test_an_ordinary_word_is_no_trace(text: str) -> None:
    """Paths within a package and ordinary words are left alone."""
    assert not _traces(text)
