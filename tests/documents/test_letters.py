"""Letters: what steers a line is left out, what a font lacks is seen and named."""

import pytest

from ledger_tools.documents import font
from ledger_tools.documents.letters import BOX, breakable, clean, clean_line, missing, printable


@pytest.mark.parametrize(
    "mark", ["\u202e", "\u2066", "\u200f", "\x00", "\x1b", "\u200d", "\ufeff"]
)
def test_control_and_direction_marks_are_left_out(mark: str) -> None:
    """A name cannot turn the writing round or send a code to a printer."""
    assert clean(f"Ada{mark} Mill") == "Ada Mill"


@pytest.mark.parametrize("ending", ["\r\n", "\r", "\u2028", "\x85", "\v"])
def test_every_line_ending_ends_a_line(ending: str) -> None:
    """An address typed anywhere keeps its lines."""
    assert clean(f"8 Orchard Road{ending}Mill Bay") == "8 Orchard Road\nMill Bay"
    assert clean_line(f"8 Orchard Road{ending}Mill Bay") == "8 Orchard Road Mill Bay"


@pytest.mark.parametrize("broken", ["\ud800", "\uffff", "\U0001fffe"])
def test_half_a_character_becomes_a_box(broken: str) -> None:
    """What no file can store is seen as a box in both documents."""
    assert clean(broken) == BOX


def test_letters_of_many_languages_are_kept() -> None:
    """The shipped fonts hold Latin, Greek, Cyrillic and the signs of money."""
    words = "ł ß é ő Ж Ω € £ — ½ ²"

    assert printable(clean(words)) == words
    assert missing(words) == ""


def test_missing_letters_are_boxes_and_named_once() -> None:
    """Each letter that cannot be shown is a box in its place and is told once."""
    assert printable("山田 Ada 山") == f"{BOX}{BOX} Ada {BOX}"
    assert missing("山田 Ada 山 \u202e🔧") == "山田🔧"


def test_two_part_letter_is_put_together() -> None:
    """A letter typed as base and accent is the same letter."""
    assert clean("e\u0301") == "é"


def test_wide_letter_is_shown_as_its_plain_one() -> None:
    """Full-width letters from an East Asian keyboard are readable as plain ones."""
    assert printable("\uff34\uff11") == "T1"
    assert missing("\uff34\uff11") == ""


def test_only_a_word_too_long_gets_places_to_break() -> None:
    """Ordinary words are not touched."""
    assert breakable("a" * 24) == "a" * 24
    assert breakable("a" * 25) == "\u200b".join("a" * 25)


def test_widths_are_those_of_the_design() -> None:
    """A digit is 0.556 em wide, an m 0.833: Helvetica's widths in Adobe's AFM (from memory)."""
    regular = font.font(font.REGULAR)

    assert regular.width("0", 1000) == pytest.approx(556, abs=1)
    assert regular.width("m", 1000) == pytest.approx(833, abs=1)
    assert font.font(font.BOLD).width("m", 1000) == pytest.approx(889, abs=1)


def test_lines_are_no_wider_than_asked_and_lose_no_letter() -> None:
    """A word too wide is broken; nothing is left out."""
    words = "Weld " + "w" * 60 + " and dress"
    lines = font.wrapped(words, 100, size=10)

    assert all(font.font(font.REGULAR).width(each, 10) <= 100 for each in lines)
    assert "".join(lines).replace(" ", "") == words.replace(" ", "")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("\u0592", BOX),
        ("\u0301a", f"{BOX}a"),
        ("Pan \u0301", f"Pan {BOX}"),
        ("山\u0301", BOX * 2),
        ("x\u0301\u0302", "x\u0301\u0302"),
        ("א\u05b4", "א\u05b4"),
    ],
)
def test_a_mark_with_nothing_to_stand_on_is_a_box(text: str, shown: str) -> None:
    """An accent belongs on a letter; alone, the typesetter would refuse the whole invoice."""
    assert printable(clean(text)) == shown
    assert bool(missing(text)) is (BOX in shown)
