"""Which pages hold a part that is written by a program, and what each should say."""

from collections.abc import Callable, Mapping
from pathlib import Path

from docs.write.commands import commands_part
from docs.write.kept import kept_part
from docs.write.parts import with_part
from docs.write.reliability import faults_part, hostile_part, obstacles_part
from docs.write.sources import sources_part
from docs.write.taxes import taxes_part

DOCS = Path(__file__).resolve().parents[1]
PAGES: Mapping[Path, Mapping[str, Callable[[], str]]] = {
    DOCS / "commands.md": {"commands": commands_part},
    DOCS / "reliability.md": {
        "what is kept": kept_part,
        "faults": faults_part,
        "obstacles": obstacles_part,
        "hostile files": hostile_part,
    },
    DOCS / "rounding-and-tax.md": {"tax profiles": taxes_part},
    DOCS / "sources.md": {"published values": sources_part},
}


def written(path: Path) -> str:
    """Return the page at `path` as it should stand today."""
    page = path.read_text(encoding="utf-8")
    for name, part in PAGES[path].items():
        page = with_part(page, name, part())
    return page
