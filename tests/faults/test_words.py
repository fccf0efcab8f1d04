"""What stands in the way of writing is said in a clear word, and the book is as it was."""

import pytest

from tests.faults.words import OBSTACLES, Obstacle, meet

SAID = {
    "The disk is full": "the book cannot be written (No space left on device)",
    "The folder is read-only": "cannot be written (Permission denied)",
    "The book is marked as read-only": "the book is marked as read-only",
    "Excel has it open (`~$shop.xlsx`)": "open in a spreadsheet program (Anna)",
    "LibreOffice has it open (`.~lock.shop.xlsx#`)": "spreadsheet program (anna, bench)",
    "Windows holds the file open for another program": "another program holds it open",
    "Another program saved it since it was read": "saved by another program since it was read",
    "Another run of these tools is writing it": "another run of these tools is writing it",
    "The folder of backups cannot be written": "folder 'shop-backups': the backup cannot be",
    "The disk knows no hard links": "Wrote ",
    "The clock was set back": "Wrote ",
}


@pytest.mark.parametrize("obstacle", OBSTACLES, ids=lambda obstacle: obstacle.name)
def test_recompute_says_what_is_in_the_way(obstacle: Obstacle) -> None:
    """Exit code, words and a remedy; what cannot be written is not touched."""
    ran, untouched = meet(obstacle)

    assert ran.code == obstacle.code, ran.said
    assert SAID[obstacle.name] in ran.said
    if obstacle.code and "saved it since" not in obstacle.name:
        assert untouched


@pytest.mark.parametrize(
    "obstacle", [o for o in OBSTACLES if o.code], ids=lambda obstacle: obstacle.name
)
def test_invoice_issues_nothing_then(obstacle: Obstacle) -> None:
    """No number is given, no paper made, and the same cause ends it with the same exit code."""
    ran, untouched = meet(obstacle, "invoice")

    assert ran.code == obstacle.code, ran.said
    assert "Issued" not in ran.said
    assert "Traceback" not in ran.said
    if "saved it since" not in obstacle.name:
        assert untouched


def test_invoice_says_that_the_clock_was_set_back() -> None:
    """The numbers go on; that the dates do not is a warning."""
    (obstacle,) = (o for o in OBSTACLES if "clock" in o.name)

    ran, _ = meet(obstacle, "invoice")

    assert ran.code == 0
    assert "Invoices are dated 2024-12-31, and 25-0001 was issued on 2025-03-03" in ran.said
