"""Jobs billed up to a ceiling or at a fixed price: on paper, archived, carried over."""

from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pytest

from ledger_tools.book.layout import JOBS_TABLE, PAYMENTS_TABLE
from ledger_tools.book.names import NAME_MINIMUM
from ledger_tools.book.registers import ESTIMATES_TABLE
from tests import libreoffice
from tests.book.shop import TODAY, Shop
from tests.book.test_formulas import differences
from tests.commands.conftest import Lt

HEADER = "kind,description,quantity,unit_price,actual,non_billable,reason,vendor,cost,markup\n"
WORK = "labour,Weld seam,1,100.00,150,,,,,\npart,Drain plug,1,21.70,1,,,,9.00,\n"
DAY = ("--today", "2025-03-03")


@pytest.fixture
def capped(lt: Lt, taxed_book: Path, lines: Callable[[str], Path]) -> Path:
    """Return a book with a job of 271.70 net, of which 230.00 with tax is authorised."""
    ran = lt(
        "add-job", taxed_book, "--customer", "Ann Bell", "--item", "Tank", "--state", "to invoice",
        "--lines", lines(HEADER + WORK), "--authorised", "230", "--basis", "capped", *DAY,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    return taxed_book


def test_the_write_down_stands_on_paper(lt: Lt, capped: Path) -> None:
    """The lines at what they were worked at, a row for each tax class, the total authorised."""
    said = lt("invoice", capped, "--json", *DAY).json()
    (pdf,) = (f for f in said["invoices"][0]["files"] if f.endswith(".pdf"))
    with pdfplumber.open(capped.parent / pdf) as paper:
        text = paper.pages[0].extract_text()

    assert said["invoices"][0]["total"] == "230.00"
    for words in (
        "Weld seam 2.5 h 100.00 250.00",
        "Drain plug 1 21.70 21.70",
        "Written down to what was authorised: Work 1 -65.93 -65.93",
        "Written down to what was authorised: Parts 1 -5.72 -5.72",
        "230.00",
    ):
        assert words in text.replace("\N{MINUS SIGN}", "-"), text


def test_it_is_printed_again_byte_for_byte(lt: Lt, capped: Path) -> None:
    """The rows of the register hold all of it."""
    first = lt("invoice", capped, "--json", *DAY).json()["invoices"][0]["files"]
    before = {f: (capped.parent / f).read_bytes() for f in first}

    lt("reprint", capped, "25-0001", "--out", "again", *DAY)

    for file, content in before.items():
        assert (Path("again") / Path(file).name).read_bytes() == content


def test_recompute_says_how_it_is_billed(lt: Lt, capped: Path) -> None:
    """What was worked beside what is billed, and the warning that some of it is not."""
    said = lt("recompute", capped, "--json", *DAY).json()
    job = said["jobs"][0]

    assert (job["basis"], job["worked"], job["total"]) == ("capped", "271.70", "230.00")
    assert [f["code"] for f in said["findings"]] == ["written-down"]


def test_an_agreed_price_is_for_a_fixed_job(lt: Lt, taxed_book: Path) -> None:
    """It makes the job one; beside another basis it is wrong use."""
    base = ("add-job", taxed_book, "--customer", "A", "--item", "x", "--agreed-price", "120")

    assert lt(*base, "--json", *DAY).json()["jobs"][0]["basis"] == "fixed"
    assert lt(*base, "--basis", "capped", *DAY).code == 2


@pytest.mark.parametrize("verb", ["archive", "next-year"])
def test_it_stays_what_it_was_when_the_book_is_closed(lt: Lt, capped: Path, verb: str) -> None:
    """An archived job comes to what its invoice says; an open one goes on as it was billed."""
    if verb == "next-year":
        before = lt("recompute", capped, "--json", *DAY).json()["jobs"][0]
        assert lt(verb, capped, "new.xlsx", "--today", "2026-01-02").code == 0
        after = lt("recompute", "new.xlsx", "--json", "--today", "2026-01-02").json()["jobs"][0]
        assert after == before
        return
    lt("invoice", capped, *DAY)
    ran = lt("check", capped, "--json", *DAY).json()
    total = ran["jobs"][0]["total"]
    _pay(capped, total)
    said = lt("archive", capped, "--json", *DAY).json()

    assert said["jobs"][0]["total"] == total == "230.00"
    assert lt("recompute", capped, "--json", *DAY).json()["jobs"][0]["total"] == total


def _pay(book: Path, total: str) -> None:
    Shop(book).fill(PAYMENTS_TABLE, 1, day=TODAY, invoice="25-0001", amount=Decimal(total))


@pytest.mark.libreoffice
def test_the_quarter_holds_what_was_billed(lt: Lt, capped: Path, tmp_path: Path) -> None:
    """Its live sums agree with LibreOffice, and the net of its kinds is that of the invoice."""
    lt("invoice", capped, *DAY)
    files = lt("quarter", capped, "2025-Q1", "--json", *DAY).json()["files"]
    (book,) = (Path(f) for f in files if f.endswith(".xlsx"))

    assert differences(book, tmp_path) == []
    figures = libreoffice.recalculated(book, tmp_path)
    numbers = [v for sheet in figures.values() for v in sheet.values() if isinstance(v, float)]
    assert {200.05, -71.65} <= {*numbers}


def test_an_estimate_promises_the_fixed_price(
    lt: Lt, taxed_book: Path, lines: Callable[[str], Path]
) -> None:
    """The lines as reckoned, the difference, and the agreed price: once accepted it may be billed.

    121.70 net at 110.00: GST 5.50 and QST 10.97, of 110.00 x 0.09975 = 10.97250.
    """
    lt(
        "add-job", taxed_book, "--customer", "Ann Bell", "--item", "Tank",
        "--lines", lines(HEADER + WORK), "--agreed-price", "110", *DAY,
    )  # fmt: skip
    said = lt("estimate", taxed_book, "--json", *DAY).json()["estimates"][0]
    (pdf,) = (f for f in said["files"] if f.endswith(".pdf"))
    with pdfplumber.open(taxed_book.parent / pdf) as paper:
        text = " ".join(w for page in paper.pages for w in page.extract_text().split())

    assert (said["subtotal"], said["tax"], said["total"]) == ("110.00", "16.47", "126.47")
    assert "Difference to the fixed price" in text
    assert "The price is fixed and does not follow the hours." in text
    shop = Shop(taxed_book)
    shop.fill(ESTIMATES_TABLE, 1, accepted_on=TODAY, accepted_by="Ann", accepted_how="in person")
    shop.fill(JOBS_TABLE, 1, state="to invoice")
    lt("recompute", taxed_book, *DAY)
    billed = lt("invoice", taxed_book, "--json", *DAY).json()
    assert [i["total"] for i in billed["invoices"]] == ["126.47"]
    assert lt("estimate", taxed_book, "--json", *DAY).json()["estimates"] == []


def test_no_estimate_is_below_the_minimum_charge(
    lt: Lt, taxed_book: Path, lines: Callable[[str], Path]
) -> None:
    """Else the minimum could not be billed on the word that was given."""
    lt(
        "add-job", taxed_book, "--customer", "Ann Bell", "--item", "Tank",
        "--lines", lines(HEADER + WORK), *DAY,
    )  # fmt: skip
    Shop(taxed_book).decide(NAME_MINIMUM, Decimal(150))
    said = lt("estimate", taxed_book, "--json", *DAY).json()["estimates"][0]

    assert said["subtotal"] == "150.00"
    assert (
        "Up to the minimum charge: Work"
        in Shop(taxed_book).sheet("Estimate lines").values.values()
    )
