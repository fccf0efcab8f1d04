"""The links from one part of a workbook file to another, or out of the file."""

import posixpath
from typing import NamedTuple

from lxml import etree


class Relation(NamedTuple):
    """A link from one part to another, or out of the file.

    Attributes:
        id: Name of the relationship within its source.
        type: Full relationship type.
        target: Name of the part, or the address outside the file as it is written.
        external: Whether the target is no part: it lies outside the file, or is a place such as
            ``#Jobs!A1`` to which a picture leads.
        mode: How the file marks a target that is no part.
    """

    id: str
    type: str
    target: str
    external: bool
    mode: str = "External"

    @property
    def kind(self) -> str:
        """Last word of the type, such as ``worksheet``."""
        return self.type.rpartition("/")[2]


def relation_of(source: str, element: etree._Element) -> Relation:
    """Return what an element among the relationships of the part `source` says."""
    target = element.get("Target", "")
    mode = element.get("TargetMode", "")
    external = mode == "External" or target.startswith("#")
    if not external:
        folder = "" if target[:1] == "/" else f"{source.rpartition('/')[0]}/"
        target = f"{folder}{target}"
        if "/." in target or "//" in target or target[:1] == ".":
            target = posixpath.normpath(f"/{target}")
        target = target.lstrip("/")
    return Relation(element.get("Id", ""), element.get("Type", ""), target, external, mode)


def relations_part(source: str) -> str:
    """Return the name of the part that holds the relationships of `source`.

    >>> relations_part("xl/workbook.xml")
    'xl/_rels/workbook.xml.rels'
    """
    folder, name = posixpath.split(source)
    return posixpath.join(folder, "_rels", f"{name}.rels")
