"""Books that several tests begin with, made once and copied."""

from pathlib import Path

import pytest

from ledger_tools.book.layout import PAYMENTS_TABLE
from tests.book.shop import GOOD, LABOUR, TODAY, Shop


@pytest.fixture(scope="module")
def two_jobs(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a book with two jobs of one repair type."""
    shop = Shop.new(tmp_path_factory.mktemp("two"), "ca-qc")
    shop.add(item="Pan", repair="OIL-PAN", state="in work")
    shop.add(customer="Ann Bell", item="Other pan", repair="OIL-PAN", state="in work")
    return shop.path.read_bytes()


@pytest.fixture
def shop(tmp_path: Path, two_jobs: bytes) -> Shop:
    """Return a shop of its own with the two jobs."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(two_jobs)
    return Shop(path)


@pytest.fixture(scope="module")
def billed_book(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return the bytes of a book whose first job is billed and paid in part."""
    shop = Shop.new(tmp_path_factory.mktemp("billed"), "ca-qc")
    shop.add(item="Pan", repair="OIL-PAN", state="to invoice", authorised="1000.00")
    shop.fill(GOOD, LABOUR, actual=60)
    shop.add(customer="Ann Bell", item="Other pan", repair="OIL-PAN", state="in work")
    shop.invoice()
    shop.fill(PAYMENTS_TABLE, 1, day=TODAY, invoice="25-0001", amount=10)
    shop.recompute()
    return shop.path.read_bytes()


@pytest.fixture
def billed(tmp_path: Path, billed_book: bytes) -> Shop:
    """Return a shop of its own with the billed job."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(billed_book)
    return Shop(path)
