"""What stands in a page of Markdown: tables, fenced blocks, links."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

CHECKOUT = Path(__file__).resolve().parents[2]
DOCS = CHECKOUT / "docs"
PAGES = (
    CHECKOUT / "README.md",
    CHECKOUT / "DEVELOPERS.md",
    CHECKOUT / "CHANGELOG.md",
    *sorted(DOCS.glob("*.md")),
)
_LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")
_FENCE = "```"
_BETWEEN_CELLS = re.compile(r"(?<!\\)\|")


@dataclass(frozen=True, slots=True)
class Table:
    """A table.

    Attributes:
        under: Text of the last heading above it.
        heads: Header row.
        rows: Rows below it, cell by cell, marks of Markdown included.
    """

    under: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A fenced block: the word after the fence, and its lines."""

    language: str
    lines: tuple[str, ...]


def parts(page: str) -> Iterator[Table | Block]:
    """Yield the tables and fenced blocks of a page, in their order."""
    under = ""
    lines = iter(page.splitlines())
    rows: list[tuple[str, ...]] = []
    for line in lines:
        if line.startswith("|"):
            rows.append(_cells(line))
            continue
        yield from _table(under, rows)
        rows = []
        if line.startswith(_FENCE):
            yield Block(line.strip("`{}").strip(), tuple(_until_fence(lines)))
        elif line.startswith("#"):
            under = line.lstrip("#").strip()
    yield from _table(under, rows)


def tables(page: str) -> list[Table]:
    """Return the tables of a page."""
    return [part for part in parts(page) if isinstance(part, Table)]


def links(page: str) -> list[str]:
    """Return where the links and pictures of a page lead, fenced blocks left out."""
    kept, inside = [], False
    for line in page.splitlines():
        inside ^= line.startswith(_FENCE)
        kept.append("" if inside else line)
    return _LINK.findall("\n".join(kept))


def anchors(page: str) -> set[str]:
    """Return the anchors that headings of a page give, as code hosts and MyST spell them."""
    heads = re.findall(r"^#+ (.+)$", page, re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", head.casefold()).strip().replace(" ", "-") for head in heads}


def _cells(line: str) -> tuple[str, ...]:
    inner = line.strip().removeprefix("|").removesuffix("|")
    return tuple(cell.strip().replace(r"\|", "|") for cell in _BETWEEN_CELLS.split(inner))


def _table(under: str, rows: list[tuple[str, ...]]) -> Iterator[Table]:
    if rows:
        yield Table(under, rows[0], tuple(rows[2:]))


def _until_fence(lines: Iterator[str]) -> Iterator[str]:
    for line in lines:
        if line.startswith(_FENCE):
            return
        yield line
