"""What a part is, from the job sheet to the registers: new, used or reconditioned."""

from pathlib import Path

import pytest

from ledger_tools.book.layout import REPAIRS_TABLE
from ledger_tools.book.parse import Parsed
from ledger_tools.costing.lines import Kind, Line
from tests.book.shop import Shop, seed

LINES = (
    Line(1, Kind.LABOUR, "Fit core", labour_class="bench"),
    Line(2, Kind.PART, "Core", part_status="used"),
    Line(3, Kind.PART, "Cap"),
)


def statuses(parsed: Parsed) -> list[str]:
    """Return what each line of the first job is, in order."""
    return [line.part_status for line in parsed.book.jobs[0].lines]


def test_a_part_keeps_what_it_is_on_its_sheet(tmp_path: Path) -> None:
    """The column of classes holds it for a part, and the class of labour for labour."""
    shop = Shop.new(tmp_path)
    job = shop.add(lines=LINES)

    assert [shop.value(job, n, "labour_class") for n in (1, 2, 3)] == ["bench", "used", None]
    assert statuses(shop.parsed()) == ["", "used", ""]


@pytest.mark.parametrize(
    ("typed", "read", "put_back"),
    [
        ("Reconditioned", "reconditioned", "reconditioned"),
        ("NEW", "", "new"),
        ("  used ", "used", "used"),
    ],
)
def test_the_word_is_read_kindly(tmp_path: Path, typed: str, read: str, put_back: str) -> None:
    """However it is cased; new is what nothing means too."""
    shop = Shop.new(tmp_path)
    job = shop.add(lines=LINES)
    shop.fill(job, 3, labour_class=typed)

    outcome = shop.recompute()

    assert statuses(shop.parsed()) == ["", "used", read]
    assert shop.value(job, 3, "labour_class") == put_back
    assert not [f for f in outcome.findings if f.code == "part-status-unknown"]


@pytest.mark.parametrize("word", ["bench", "second-hand"])
def test_another_word_is_asked_about(tmp_path: Path, word: str) -> None:
    """A class of labour is none of the three either; the job waits, the cell is named."""
    shop = Shop.new(tmp_path)
    job = shop.add(lines=LINES)
    shop.fill(job, 3, labour_class=word)

    outcome = shop.check()

    (found,) = [f for f in outcome.findings if f.code == "part-status-unknown"]
    assert (found.sheet, found.cell) == (job, shop.cell(job, 3, "labour_class"))
    assert "new, used, reconditioned" in found.remedy
    assert job not in outcome.results


def test_a_part_of_the_catalogue_brings_its_status(tmp_path: Path) -> None:
    """Typed once in Repairs, it stands in every job of that type."""
    shop = Shop.new(tmp_path)
    steps = [s for r in seed().catalogue.repairs for s in r.operations]
    repairs = [(r, s) for r in seed().catalogue.repairs for s in r.operations]
    n = next(i for i, s in enumerate(steps, 1) if s.kind is Kind.PART)
    shop.fill(REPAIRS_TABLE, n, labour_class="Used")

    shop.add(repair=repairs[n - 1][0].code)

    (job,) = shop.parsed().book.jobs
    own = [line.part_status for line in job.lines if line.kind is Kind.PART]
    assert own.count("used") == 1
