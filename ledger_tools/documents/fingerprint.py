"""What a paper was printed with: where it is the same, a reprint is the same bytes."""

import hashlib
from functools import cache
from importlib.metadata import version

from ledger_tools import __version__
from ledger_tools.book import look
from ledger_tools.documents.font import FONTS
from ledger_tools.documents.page import TEMPLATES

PRINTED_BY = ("typst", "xlsxwriter", "babel")
SHORT = 12


@cache
def fingerprint() -> str:
    """Return a short digest of templates, fonts, look and the versions that print with them."""
    digest = hashlib.sha256()
    versions = [f"{name} {version(name)}" for name in PRINTED_BY]
    colours = [look.FONT, look.INK, look.STEEL, look.LINE, look.RUST]
    sizes = [str(size) for size in (look.SIZE_TITLE, look.SIZE_BODY, look.SIZE_SMALL)]
    for told in (__version__, *versions, *colours, *sizes):
        digest.update(told.encode() + b"\0")
    for path in sorted([*TEMPLATES.glob("*.typ"), *FONTS.glob("*.ttf")]):
        digest.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()[:SHORT]
