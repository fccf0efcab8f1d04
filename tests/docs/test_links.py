"""Links and pictures of the documentation lead somewhere."""

from pathlib import Path

import pytest

from tests.docs.markdown import CHECKOUT, DOCS, PAGES, anchors, links

PICTURES = ("start", "jobs", "job-sheet", "invoice", "quarter", "year-end")
PNG = b"\x89PNG\r\n\x1a\n"


def _named(path: Path) -> str:
    return path.relative_to(CHECKOUT).as_posix()


@pytest.mark.parametrize("path", PAGES, ids=_named)
def test_every_link_leads_somewhere(path: Path) -> None:
    """A file that is linked to is there, and so is the heading."""
    broken = []
    for link in links(path.read_text(encoding="utf-8")):
        if link.startswith("https://"):
            continue
        file, _, anchor = link.partition("#")
        target = (path.parent / file).resolve() if file else path
        if not target.is_relative_to(CHECKOUT) or not target.is_file():
            broken.append(link)
        elif anchor and anchor not in anchors(target.read_text(encoding="utf-8")):
            broken.append(link)

    assert not broken


@pytest.mark.parametrize("name", PICTURES)
def test_pictures_are_pictures(name: str) -> None:
    """Each picture is a PNG and is shown on some page."""
    picture = DOCS / "pictures" / f"{name}.png"
    shown = {
        (path.parent / link).resolve()
        for path in PAGES
        for link in links(path.read_text(encoding="utf-8"))
    }

    assert picture.read_bytes().startswith(PNG)
    assert picture in shown


def test_every_page_is_in_the_index() -> None:
    """A page that is not in the table of contents is not found."""
    index = (DOCS / "index.md").read_text(encoding="utf-8").splitlines()

    assert {path.stem for path in DOCS.glob("*.md")} - {"index"} <= set(index)


def test_a_link_is_found() -> None:
    """The search does see links and pictures, and leaves fenced blocks alone."""
    page = "A [page](a.md#top) and ![a picture](b.png)\n```\n[no](c.md)\n```\n"

    assert links(page) == ["a.md#top", "b.png"]
    assert anchors("# Rounding and tax\n## What's new?\n") == {"rounding-and-tax", "whats-new"}
