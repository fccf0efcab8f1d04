"""Links and pictures of the documentation lead somewhere."""

import re
from pathlib import Path

import pytest

from tests.docs.markdown import CHECKOUT, DOCS, PAGES, anchors, links

PICTURES = ("start", "jobs", "job-sheet", "invoice", "options", "quarter", "year-end")
PNG = b"\x89PNG\r\n\x1a\n"


def _named(path: Path) -> str:
    return path.relative_to(CHECKOUT).as_posix()


def _leads_somewhere(link: str, page: Path) -> bool:
    """Whether a link within the repository ends at a file, and at a heading it names."""
    if link.startswith("https://"):
        return True
    file, _, anchor = link.partition("#")
    target = (page.parent / file).resolve() if file else page
    if not target.is_relative_to(CHECKOUT) or not target.is_file():
        return False
    return not anchor or anchor in anchors(target.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", PAGES, ids=_named)
def test_every_link_leads_somewhere(path: Path) -> None:
    """A file that is linked to is there, and so is the heading."""
    page = path.read_text(encoding="utf-8")
    broken = [link for link in links(page) if not _leads_somewhere(link, path)]

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


def test_programs_that_are_to_be_started_are_there() -> None:
    """What a page says to start with `python` within the checkout can be started."""
    pages = "\n".join(path.read_text(encoding="utf-8") for path in PAGES)
    scripts = set(re.findall(r"\bpython ([\w/]+\.py)\b", pages))
    modules = set(re.findall(r"\bpython -m ((?:docs|tests|demo)[\w.]*\w)", pages))
    paths = {CHECKOUT / script for script in scripts}
    for module in modules:
        path = CHECKOUT / module.replace(".", "/")
        paths.add(path / "__main__.py" if path.is_dir() else path.with_suffix(".py"))

    assert {"demo/run.py", "tests/run.py"} <= scripts
    assert "docs.write" in modules
    assert not [path for path in paths if not path.is_file()]


def test_every_page_is_in_the_index() -> None:
    """A page that is not in the table of contents is not found."""
    index = (DOCS / "index.md").read_text(encoding="utf-8").splitlines()

    assert {path.stem for path in DOCS.glob("*.md")} - {"index"} <= set(index)


def test_a_broken_link_is_found_out() -> None:
    """A file that is not there, a heading that is not, and a way out of the repository."""
    for link in ("no-such.md", "#no-such-heading", "../../etc/passwd"):
        assert not _leads_somewhere(link, CHECKOUT / "README.md")
    assert _leads_somewhere("README.md#tests", CHECKOUT / "README.md")


def test_a_link_is_found() -> None:
    """The search does see links and pictures, and leaves fenced blocks alone."""
    page = "A [page](a.md#top) and ![a picture](b.png)\n```\n[no](c.md)\n```\n"

    assert links(page) == ["a.md#top", "b.png"]
    assert anchors("# Rounding and tax\n## What's new?\n") == {"rounding-and-tax", "whats-new"}
