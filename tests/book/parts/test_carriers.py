"""What speaks of sheets from outside the cells is found with the place where it is seen."""

from pathlib import Path

import pytest

from ledger_tools.book.parts.carriers import Carrier, carriers
from ledger_tools.book.parts.package import Package
from ledger_tools.book.parts.workbook import Workbook
from tests.book.mixed import mixed_book


@pytest.fixture
def workbook(tmp_path: Path) -> Workbook:
    """Return a workbook full of what owners put into theirs."""
    return Workbook(Package(mixed_book(tmp_path / "shop.xlsx").read_bytes(), "shop.xlsx"))


def test_all_that_speaks_of_a_sheet_is_found(workbook: Workbook) -> None:
    """Charts on a sheet and as a sheet, a sparkline, names with and without a sheet."""
    found = {c for c in carriers(workbook, ()) if "Jobs!" in c.text}

    assert found == {
        Carrier("", "", "The name 'job_numbers'", "Jobs!$A$5:$A$9"),
        Carrier("Jobs", "", "The name 'Print Titles'", "Jobs!$4:$4"),
        Carrier("Jobs", "H5", "A sparkline", "Jobs!C5:C9"),
        Carrier("Own sheet", "I2", "A chart", "Jobs!$E$5:$E$9"),
        Carrier("Own sheet", "I2", "A chart", "Jobs!$A$5:$A$9"),
        Carrier("Picture", "", "A chart", "Jobs!$C$5:$C$9"),
    }


def test_what_leaves_with_its_sheet_does_not_count(workbook: Workbook) -> None:
    """Neither what stands on it nor a name that belongs to it."""
    sheets = {c.sheet for c in carriers(workbook, {"own sheet", "jobs", "picture"})}

    assert sheets == {"", "Last & least"}
