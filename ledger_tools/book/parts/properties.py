"""Custom properties of the document, which say what kind of book it is."""

from ledger_tools.book.parts import markup
from ledger_tools.book.parts.package import Package
from ledger_tools.errors import BookChangedError

_PROPERTY = f"{{{markup.CUSTOM}}}property"


def set_property(package: Package, name: str, value: str) -> None:
    """Have a custom property hold `value`; its kind stays.

    Raises:
        BookChangedError: There is no such property any more.
    """
    for part in package.related("", "custom-properties"):
        for found in package.root(part).iterchildren(_PROPERTY):
            if found.get("name") == name and len(found):
                edited = package.edit(part).iterchildren(_PROPERTY)
                next(p for p in edited if p.get("name") == name)[0].text = value
                return
    what = f"the property '{name}' is not there any more"
    raise BookChangedError(package.file, what, "Run the command again")
