"""A workbook file as its parts, found by the relationships between them, never by their names.

Parts that nobody writes keep their compressed bytes and their place in the file.
"""

import re
from collections.abc import Collection

from lxml import etree

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.archive import (
    pack,
    unpack,
    unpack_start,
    write_entries,
)
from ledger_tools.book.parts.listed import TYPES_PART, Known, listed
from ledger_tools.book.parts.relations import Relation, relation_of, relations_part
from ledger_tools.errors import BookUnreadableError, NotWritableError

_START = 768
_ROOT = re.compile(
    r"(?:<\?xml version=['\"]1.0['\"] encoding=['\"](?i:utf-8)['\"][^<>]*\?>\s*)?"
    r'<[A-Za-z]+((?: [A-Za-z:0-9]+="[ !#-%\'-;=?-~]*")*) ?/?>'
)
_ATTRIBUTE = re.compile(r' ([A-Za-z:0-9]+)="([^"]*)"')
_MANY = 16
"""Relationships from which on they are kept for the next look."""
_MOST_LOOKED_AT = 4
"""Trees that are kept for the next look: those of the parts that all others hang on."""


class Package:
    """The parts of one workbook file, some of them changed.

    Args:
        content: The whole file; it stays at hand as `old`.
        file: Its name, for messages.

    Raises:
        BookUnreadableError: The file is no workbook, or not one that can be read safely.
    """

    def __init__(self, content: bytes, file: str, known: Known | None = None) -> None:
        found = known or listed(content, file)
        self.file = file
        self.old = content
        self._entries = dict(found.entries)
        self._spelling = dict(found.spelling)
        self._attributes = dict(found.attributes)
        self._edited: dict[str, etree._Element] = {}
        self._looked_at: dict[str, etree._Element] = {}
        self._relations: dict[str, list[Relation]] = {}

    def again(self) -> "Package":
        """Return the file to be changed apart from this one, its list of parts not read anew."""
        return Package(self.old, self.file, Known(self._entries, self._spelling, self._attributes))

    def has(self, name: str) -> bool:
        """Return whether there is a part `name`; upper and lower case are the same."""
        return name.lower() in self._spelling

    def read(self, name: str) -> bytes:
        """Return the bytes of the part `name` as they would be saved now."""
        spelled = self._spelled(name)
        if spelled in self._edited:
            return markup.serialise(self._edited[spelled])
        return unpack(self._entries[spelled], self.file)

    def root(self, name: str) -> etree._Element:
        """Return the root of the XML part `name`, to look at."""
        spelled = self._spelled(name)
        found = self._edited.get(spelled, self._looked_at.get(spelled))
        if found is None:
            found = self.tree(spelled)
            if len(self._looked_at) == _MOST_LOOKED_AT:
                del self._looked_at[next(iter(self._looked_at))]
            self._looked_at[spelled] = found
        return found

    def tree(self, name: str) -> etree._Element:
        """Return the root of the XML part `name`, read anew; changes in it are not saved."""
        return markup.parse(self.read(name), self.file, self._spelled(name))

    def edit(self, name: str) -> etree._Element:
        """Return the root of the XML part `name`; what is changed in it will be saved."""
        spelled = self._spelled(name)
        if spelled not in self._edited:
            root = self.root(spelled)
            self._forget(spelled)
            self._edited[spelled] = root
        return self._edited[spelled]

    def root_attributes(self, name: str) -> dict[str, str]:
        """Return the attributes of the root of `name`, mostly without reading all of it."""
        spelled = self._spelled(name)
        if spelled in self._attributes:
            return self._attributes[spelled]
        if spelled not in self._edited:
            start = unpack_start(self._entries[spelled], _START).decode("ascii", "replace")
            found = _ROOT.match(start)
            if found:
                named = _ATTRIBUTE.findall(found[1])
                attributes = {n: v for n, v in named if not n.startswith("xmlns")}
                self._attributes[spelled] = attributes
                return attributes
        return {str(k): str(v) for k, v in self.root(spelled).attrib.items()}

    def write(self, name: str, content: bytes) -> None:
        """Put `content` in the place of the part `name`, or add it at the end."""
        spelled = self._spelling.setdefault(name.lower(), name)
        self._forget(spelled)
        self._entries[spelled] = pack(spelled, content)

    def add(self, pattern: str, content: bytes, content_type: str) -> str:
        """Add a part and return its name: `pattern` with the first free number for ``{}``."""
        number = 1
        while self.has(pattern.format(number)):
            number += 1
        name = pattern.format(number)
        self.write(name, content)
        override = etree.SubElement(self._types(), f"{{{markup.TYPES}}}Override")
        override.set("PartName", f"/{name}")
        override.set("ContentType", content_type)
        return name

    def drop(self, source: str, relation: Relation) -> None:
        """Drop the part that `relation` of `source` leads to, and the relationship."""
        spelled = self._spelling.pop(relation.target.lower(), None)
        if spelled:
            self._forget(spelled)
            del self._entries[spelled]
            for override in self._types().iter(f"{{{markup.TYPES}}}Override"):
                if override.get("PartName", "").lower() == f"/{spelled.lower()}":
                    self._types().remove(override)
                    break
        self.unrelate(source, relation.id)

    def discard(self, names: Collection[str]) -> None:
        """Drop parts that nothing refers to any more, with their relationships.

        Args:
            names: Names of the parts, in any case.
        """
        gone = {name.lower() for name in names}
        for name in gone | {relations_part(name) for name in gone}:
            spelled = self._spelling.pop(name, None)
            if spelled:
                self._forget(spelled)
                self._relations.pop(spelled, None)
                del self._entries[spelled]
        for override in self._types().findall(f"{{{markup.TYPES}}}Override"):
            if override.get("PartName", "").lower().lstrip("/") in gone:
                self._types().remove(override)

    def content_type(self, name: str) -> str:
        """Return the content type of the part `name`."""
        by_ending = ""
        ending = name.rpartition(".")[2].lower()
        for declared in self.root(TYPES_PART):
            if declared.get("PartName", "").lower() == f"/{name.lower()}":
                return declared.get("ContentType", "")
            if declared.get("Extension", "").lower() == ending:
                by_ending = declared.get("ContentType", "")
        return by_ending

    def parts_of_type(self, content_type: str) -> list[str]:
        """Return the names of the parts declared to be of `content_type`."""
        return [
            name
            for declared in self.root(TYPES_PART).iter(f"{{{markup.TYPES}}}Override")
            if declared.get("ContentType") == content_type
            and self.has(name := declared.get("PartName", "").lstrip("/"))
        ]

    def relations(self, source: str) -> list[Relation]:
        """Return the relationships of the part `source`; of the file itself for ''."""
        name = relations_part(source)
        if source not in self._relations:
            elements = self.root(name) if self.has(name) else ()
            found = [relation_of(source, element) for element in elements]
            if len(found) < _MANY:
                return found
            self._relations[source] = found
        return self._relations[source]

    def related(self, source: str, kind: str) -> list[str]:
        """Return the parts that `source` has a relationship of `kind` to."""
        return [
            r.target
            for r in self.relations(source)
            if r.type.endswith(f"/{kind}") and not r.external and self.has(r.target)
        ]

    def relate(self, source: str, kind: str, target: str) -> str:
        """Add a relationship from the part `source` to the part `target` and return its id.

        Args:
            source: Name of the part that refers.
            kind: Last word of an office relationship type, such as ``worksheet``.
            target: Name of the other part.
        """
        root = self._relations_root(source)
        taken = {element.get("Id") for element in root}
        number = len(root) + 1
        while f"rId{number}" in taken:
            number += 1
        made = Relation(f"rId{number}", f"{markup.OFFICE}/{kind}", target, external=False)
        self.add_relation(source, made)
        return made.id

    def add_relation(self, source: str, relation: Relation) -> None:
        """Add `relation` to those of the part `source`, with the id it has."""
        element = etree.SubElement(
            self._relations_root(source), f"{{{markup.RELATIONS}}}Relationship"
        )
        element.set("Id", relation.id)
        element.set("Type", relation.type)
        element.set("Target", relation.target if relation.external else f"/{relation.target}")
        if relation.external and relation.mode:
            element.set("TargetMode", relation.mode)
        if source in self._relations:
            self._relations[source].append(relation)

    def unrelate(self, source: str, *relation_ids: str) -> None:
        """Drop relationships of `source`."""
        root = self._relations_root(source)
        self._relations.pop(source, None)
        for element in list(root):
            if element.get("Id") in relation_ids:
                root.remove(element)

    def refuse_signed(self) -> None:
        """Refuse to change a file that carries a digital signature, which no change survives.

        Raises:
            NotWritableError: It does: ECMA-376 Part 2, digital signature origin relationship.
        """
        if any(r.type.endswith("/digital-signature/origin") for r in self.relations("")):
            raise NotWritableError(
                self.file,
                "the file is digitally signed, and any change would break the signature",
                "Keep a copy as it is signed, take the signature off the book in your "
                "spreadsheet program, save and try again",
            )

    def pieces(self) -> list[bytes | memoryview]:
        """Return the whole file with everything that was changed, piece by piece."""
        for name, root in self._edited.items():
            self._entries[name] = pack(name, markup.serialise(root))
        self._edited.clear()
        return write_entries(self._entries.values(), self.old)

    def content(self) -> bytes:
        """Return the whole file with everything that was changed."""
        return b"".join(self.pieces())

    def _forget(self, spelled: str) -> None:
        """Forget the tree of a part that is written anew or goes."""
        self._edited.pop(spelled, None)
        self._looked_at.pop(spelled, None)
        self._attributes.pop(spelled, None)

    def _relations_root(self, source: str) -> etree._Element:
        name = relations_part(source)
        if not self.has(name):
            self.write(name, f'<Relationships xmlns="{markup.RELATIONS}"/>'.encode())
        return self.edit(name)

    def _types(self) -> etree._Element:
        return self.edit(TYPES_PART)

    def _spelled(self, name: str) -> str:
        """Return the name of a part as it is written in the file."""
        try:
            return self._spelling[name.lower()]
        except KeyError:
            raise BookUnreadableError(
                self.file,
                f"the file is damaged: its part '{name}' is missing",
                "Restore the last backup",
            ) from None
