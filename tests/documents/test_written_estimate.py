"""What laws and the trade want on a written estimate, read back from the PDF of one of ours.

What they want and we do not print is listed in `docs/sources.md`.
"""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from tests.book.shop import Shop, Typed
from tests.documents.examples import pdf_text
from tests.published import published, said

DAY = ("--today", "2025-03-03")
LINES = (
    "kind,description,quantity,unit_price,vendor,part_status\n"
    '"labour","Weld seam, 240 mm",1.6,100,,\npart,Sender unit,1,64,,used\n'
    "part,Seal,2,3.10,,\nsublet,Line inside,1,84.50,Harbour Coatings,\n"
)
SETTINGS: dict[str, Typed] = {
    "name": "Ferrow Metal Repair",
    "address": "4 Quay Lane",
    "contact": "555 0142",
    "storage_free_days": 3,
    "storage_price": 12.5,
    "deposit_percent": 30,
}


@pytest.fixture(scope="module")
def estimate(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Return the words of an estimate that the commands wrote, single blanks between them."""
    folder = tmp_path_factory.mktemp("estimate")

    def run(*words: str) -> None:
        tool = [sys.executable, "-m", "ledger_tools"]
        subprocess.run([*tool, *words, *DAY], cwd=folder, check=True, capture_output=True)

    run("new", "shop.xlsx", "--rules", "us-ca")
    shop = Shop(folder / "shop.xlsx")
    for name, value in SETTINGS.items():
        shop.decide(f"shop_{name}", value)
    (folder / "lines.csv").write_text(LINES, "utf-8")
    job = ("--customer", "Ann Bell", "--item", "Fuel tank, tractor", "--lines", "lines.csv")
    run("add-job", "shop.xlsx", *job)
    run("estimate", "shop.xlsx")
    return " ".join(pdf_text(next(Path(folder, "estimates").glob("*.pdf")).read_bytes()).split())


@pytest.mark.parametrize("value", published("estimates"))
def test_an_estimate_says_what_is_wanted(value: dict[str, Any], estimate: str) -> None:
    """Each in its words, as a customer reads them."""
    lacking = [words for words in value["expected"]["printed"] if words not in estimate]

    assert lacking == [], said(value)
