"""A workbook file as the tests see it: its parts by name, read and put together by hand.

Nothing here comes from `ledger_tools`: what is to be proven of that code is not proven with it.
"""

import io
import posixpath
import zipfile
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

from lxml import etree

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
RELATIONS = "http://schemas.openxmlformats.org/package/2006/relationships"
TYPES = "http://schemas.openxmlformats.org/package/2006/content-types"
SAME_MARKUP = "http://schemas.openxmlformats.org/markup-compatibility/2006"
CONTENT_TYPES = "[Content_Types].xml"
WORKBOOK = "xl/workbook.xml"
RELATION_ID = f"{{{OFFICE}}}id"
BY_KIND = "application/vnd.openxmlformats-officedocument.spreadsheetml.{}+xml"
"""Content type of a part of a workbook."""


class Link(NamedTuple):
    """A relationship: its id, its full type and the part it leads to, or the address outside."""

    id: str
    type: str
    target: str

    @property
    def kind(self) -> str:
        """Last word of the type."""
        return self.type.rpartition("/")[2]


def main(tag: str) -> str:
    """Return a tag of the spreadsheet namespace."""
    return f"{{{MAIN}}}{tag}"


def canonical(element: etree._Element) -> bytes:
    """Return what an element says, whatever prefixes it is written with and what follows it."""
    alone = etree.fromstring(etree.tostring(element, with_tail=False))
    return etree.tostring(alone, method="c14n", exclusive=True)


def rels_of(part: str) -> str:
    """Return the name of the part with the relationships of `part`."""
    folder, name = posixpath.split(part)
    return posixpath.join(folder, "_rels", f"{name}.rels")


@lru_cache(maxsize=4096)
def _links(content: bytes, folder: str) -> tuple[Link, ...]:
    found = []
    for element in etree.fromstring(content):
        target = element.get("Target", "")
        if element.get("TargetMode") != "External":
            target = posixpath.normpath(posixpath.join("/", folder, target)).lstrip("/")
        found.append(Link(element.get("Id", ""), element.get("Type", ""), target))
    return tuple(found)


class Parts(dict[str, bytes]):
    """The parts of a workbook, unpacked, by name and in order."""

    @classmethod
    def read(cls, path: Path) -> "Parts":
        """Return the parts of the file at `path`."""
        return cls.of(path.read_bytes())

    @classmethod
    def of(cls, content: bytes) -> "Parts":
        """Return the parts of the file `content`."""
        with zipfile.ZipFile(io.BytesIO(content)) as opened:
            return cls({info.filename: opened.read(info) for info in opened.infolist()})

    def content(self) -> bytes:
        """Return a file of these parts, the same bytes whenever it is made."""
        target = io.BytesIO()
        with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as opened:
            for name, content in self.items():
                opened.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
        return target.getvalue()

    def root(self, part: str) -> etree._Element:
        """Return the root of an XML part."""
        return etree.fromstring(self[part])

    def put(self, part: str, root: etree._Element) -> None:
        """Write an XML part."""
        self[part] = etree.tostring(root, xml_declaration=True, encoding="UTF-8", standalone=True)

    def links(self, part: str) -> tuple[Link, ...]:
        """Return the relationships of a part; of the file itself for ''."""
        name = rels_of(part)
        return _links(self[name], posixpath.dirname(part)) if name in self else ()

    def sheets(self) -> dict[str, str]:
        """Return the part of each sheet by its name, in tab order."""
        links = {link.id: link.target for link in self.links(WORKBOOK)}
        listed = self.root(WORKBOOK).iterfind(f"{main('sheets')}/{main('sheet')}")
        return {s.get("name", ""): links[s.get(RELATION_ID, "")] for s in listed}

    def sheet(self, name: str) -> etree._Element:
        """Return the root of the sheet `name`."""
        return self.root(self.sheets()[name])

    def related(self, part: str, kind: str) -> list[str]:
        """Return the parts that `part` has relationships of `kind` to."""
        return [link.target for link in self.links(part) if link.kind == kind]

    def relate(self, source: str, kind: str, target: str) -> str:
        """Add a relationship and return its id; `kind` is a full type or an office one's end."""
        name = rels_of(source)
        if name not in self:
            self[name] = f'<Relationships xmlns="{RELATIONS}"/>'.encode()
        root = self.root(name)
        made = f"rIdOwn{len(root) + 1}"
        element = etree.SubElement(root, f"{{{RELATIONS}}}Relationship")
        element.set("Id", made)
        element.set("Type", kind if ":" in kind else f"{OFFICE}/{kind}")
        element.set("Target", f"/{target}")
        self.put(name, root)
        return made

    def declare(self, part: str, content_type: str) -> None:
        """Say of what type a part is."""
        root = self.root(CONTENT_TYPES)
        element = etree.SubElement(root, f"{{{TYPES}}}Override")
        element.set("PartName", f"/{part}")
        element.set("ContentType", content_type)
        self.put(CONTENT_TYPES, root)

    def declare_ending(self, ending: str, content_type: str) -> None:
        """Say of what type all parts with an ending are, where it is not said yet."""
        root = self.root(CONTENT_TYPES)
        if not any(d.get("Extension") == ending for d in root):
            element = etree.Element(f"{{{TYPES}}}Default")
            element.set("Extension", ending)
            element.set("ContentType", content_type)
            root.insert(0, element)
            self.put(CONTENT_TYPES, root)

    def add(self, part: str, content: str | bytes, content_type: str) -> str:
        """Add a part of a type and return its name."""
        self[part] = content if isinstance(content, bytes) else content.encode()
        self.declare(part, content_type)
        return part
