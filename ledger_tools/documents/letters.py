"""Letters on paper: customers' words are printed as they stand, as far as a font can show them.

What would steer a printer, a reader or a line of text instead of standing on it (control
characters, marks that turn the direction of writing round) is left out. A letter the shipped font
does not have is printed as an empty box, so that it is seen, and reported; the invoice is made.
"""

import re
import unicodedata
from collections.abc import Iterator

from ledger_tools.documents import font

BOX = "□"
"""What stands where a letter cannot be shown."""

LONGEST_WORD = 24
"""Letters a word may have before it may also be broken inside."""

_LINE_ENDS = re.compile("\r\n|[\r\n\v\f\x85\u2028\u2029]")
_LONG_WORD = re.compile(rf"\S{{{LONGEST_WORD + 1},}}")
_BREAK_HERE = "\u200b"
_SELECTORS = range(0xFE00, 0xFE10)
_NO_CHARACTER = 0xFFFE


def clean(text: str) -> str:
    r"""Return `text` as lines of plain characters, without control and direction marks.

    >>> clean("Tank\x07 \u202eevil\u202c\r\nrepair")
    'Tank evil\nrepair'
    """
    lines = _LINE_ENDS.sub("\n", unicodedata.normalize("NFC", text)).replace("\t", " ")
    return "".join(_plain(letter) for letter in lines)


def clean_line(text: str) -> str:
    r"""Return `text` cleaned and in one line.

    >>> clean_line("  Ada\n Mill  ")
    'Ada Mill'
    """
    return " ".join(clean(text).split())


def printable(text: str) -> str:
    """Return cleaned `text` with a box for each letter that cannot be shown.

    >>> printable("山 Forge")
    '□ Forge'
    """
    return "".join(shown for _, shown in _each(text))


def missing(text: str) -> str:
    """Return the letters of `text` that are printed as a box, each once, in order."""
    boxes = (letter for letter, shown in _each(clean(text)) if shown == BOX != letter)
    return "".join(dict.fromkeys(boxes))


def _each(text: str) -> Iterator[tuple[str, str]]:
    """Yield each letter with what is printed for it."""
    before = ""
    for letter in text:
        shown = BOX if _floats(letter, before) else _shown(letter)
        yield letter, shown
        before = shown[-1:]


def _floats(letter: str, before: str) -> bool:
    """Whether a letter is a mark, such as an accent, with nothing before it to stand on."""
    if not unicodedata.category(letter).startswith("M"):
        return False
    return not before or unicodedata.category(before)[0] not in "LMN"


def breakable(text: str) -> str:
    """Return `text` with invisible places to break a word too long for a column."""
    return _LONG_WORD.sub(lambda word: _BREAK_HERE.join(word[0]), text)


def _plain(letter: str) -> str:
    kind = unicodedata.category(letter)
    if letter == "\n":
        return letter
    if kind in {"Cc", "Cf"} or ord(letter) in _SELECTORS:
        return ""
    lone_half = kind == "Cs" or ord(letter) & _NO_CHARACTER == _NO_CHARACTER
    return BOX if lone_half else letter


def _shown(letter: str) -> str:
    if letter == "\n" or ord(letter) in font.letters():
        return letter
    alike = unicodedata.normalize("NFKC", letter)
    return alike if all(ord(part) in font.letters() for part in alike) else BOX
