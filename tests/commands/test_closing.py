"""`archive` and `next-year` as a person types them: what they say, write and end with."""

from pathlib import Path

import pytest

from tests.book.closing import PAID, year_end_shop
from tests.commands.conftest import Lt, files_in

DAY = ("--today", "2025-12-30")


@pytest.fixture(scope="module")
def year_end_book(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Return a book at the end of its year, made once."""
    return year_end_shop(tmp_path_factory.mktemp("year-end")).path.read_bytes()


@pytest.fixture
def shop(tmp_path: Path, year_end_book: bytes) -> Path:
    """Return that book in the working folder."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(year_end_book)
    return path


def test_archive_says_which_jobs_it_moved_and_where(lt: Lt, shop: Path) -> None:
    """Both books are written, the old one is kept among the backups."""
    ran = lt("archive", "shop.xlsx", *DAY)

    assert ran.code == 0, ran.err
    assert ran.out == f"Moved 3 jobs to shop-archive.xlsx: {', '.join(PAID)}.\n"
    assert {"shop.xlsx", "shop-archive.xlsx"} <= set(files_in(shop.parent))
    assert [n for n in files_in(shop.parent) if n.startswith("shop-backups")]


def test_archive_through_a_link_lays_its_book_beside_the_book(lt: Lt, shop: Path) -> None:
    """Whatever links lead to the book, it has one archive."""
    link = shop.parent / "elsewhere" / "link.xlsx"
    link.parent.mkdir()
    link.symlink_to(shop)

    ran = lt("archive", link, *DAY)

    assert ran.code == 0, ran.err
    assert shop.with_name("shop-archive.xlsx").is_file()
    assert list(link.parent.iterdir()) == [link]


def test_archive_as_json_lists_the_jobs(lt: Lt, shop: Path) -> None:
    """Each with the figures it keeps; recompute says the same of them afterwards."""
    said = lt("archive", shop.name, PAID[0], "--json", *DAY).json()

    assert [job["job"] for job in said["jobs"]] == [PAID[0]]
    assert said["jobs"][0]["state"] == "archived"
    assert said["files"] == ["shop-archive.xlsx", "shop.xlsx"]
    jobs = lt("recompute", shop.name, "--json", *DAY).json()["jobs"]
    assert [job for job in jobs if job["job"] == PAID[0]] == said["jobs"]


def test_a_dry_run_of_archive_writes_nothing(lt: Lt, shop: Path) -> None:
    """It says what would go where."""
    before = files_in(shop.parent)

    ran = lt("archive", "shop.xlsx", "--dry-run", *DAY)

    assert ran.out.startswith("Would move 3 jobs to shop-archive.xlsx")
    assert files_in(shop.parent) == before


def test_a_job_that_is_not_there_is_wrong_use(lt: Lt, shop: Path) -> None:
    """Nothing is moved for a slip."""
    before = files_in(shop.parent)

    ran = lt("archive", "shop.xlsx", PAID[0], "25-0999", *DAY)

    assert ran.code == 2
    assert "There is no job 25-0999" in ran.err
    assert files_in(shop.parent) == before


def test_a_job_that_is_not_paid_is_told(lt: Lt, shop: Path) -> None:
    """Exit code 1, with where it stands; nothing else was asked for, so nothing moves."""
    before = files_in(shop.parent)

    ran = lt("archive", shop.name, "25-0009", *DAY)

    assert ran.code == 1
    assert "Job 25-0009 stands at 'in work'" in ran.err
    assert ran.out == "No job was moved.\n"
    assert files_in(shop.parent) == before


@pytest.mark.parametrize("open_one", ["shop.xlsx", "shop-archive.xlsx"])
def test_archive_waits_while_a_book_is_open(lt: Lt, shop: Path, open_one: str) -> None:
    """Either book open in a spreadsheet program: nothing is written to the other."""
    lock = shop.with_name(f".~lock.{open_one}#")
    lock.write_text(",ann,bench,30.12.2025 10:00,file:///x;", encoding="utf-8")
    before = files_in(shop.parent)

    ran = lt("archive", shop.name, *DAY)

    assert ran.code == 1
    assert "open in a spreadsheet program" in ran.err
    assert files_in(shop.parent) == before


def test_papers_and_summaries_are_made_after_archiving(lt: Lt, shop: Path) -> None:
    """Reprint, quarter and year-end of an archived book give the bytes they gave before."""

    def made() -> dict[str, bytes]:
        for verb in ("reprint", "year-end"):
            assert lt(verb, "shop.xlsx", "--out", "out", *DAY).code in {0, 1}
        assert lt("quarter", "shop.xlsx", "2025-Q1", "--out", "out", *DAY).code == 0
        return files_in(shop.parent / "out")

    before = made()
    assert lt("archive", "shop.xlsx", *DAY).code == 0

    assert made() == before
    assert len(before) > 4


def test_next_year_compares_both_books(lt: Lt, shop: Path) -> None:
    """Every line of the comparison is printed with the figure both have."""
    ran = lt("next-year", shop.name, "shop-2026.xlsx", *DAY)

    assert ran.code == 0, ran.err
    lines = ran.out.splitlines()
    assert lines[0].startswith("Opened shop-2026.xlsx for 2026: 7 open jobs, 3 invoices")
    assert all(line.endswith("the same in both books") for line in lines[1:])
    assert "Highest invoice number: 5, the same in both books" in lines
    assert any(line.startswith("Open jobs: 7, estimated ") for line in lines)
    assert lt("check", "shop-2026.xlsx", *DAY).out.endswith("recompute would write nothing.\n")


def test_next_year_as_json_gives_both_sides(lt: Lt, shop: Path) -> None:
    """Each check says what the old book has and what the new one has."""
    said = lt("next-year", shop.name, "new.xlsx", "--dry-run", "--json", *DAY).json()

    assert [check for check in said["checks"] if check["old"] != check["new"]] == []
    assert {"Open jobs", "Owed on 2025-12-31"} <= {check["what"] for check in said["checks"]}
    assert len(said["jobs"]) == 7
    assert not shop.with_name("new.xlsx").exists()


def test_next_year_writes_over_nothing(lt: Lt, shop: Path) -> None:
    """A file of that name stays as it is, and so does the old book."""
    shop.with_name("new.xlsx").write_bytes(b"mine")

    ran = lt("next-year", shop.name, "new.xlsx", *DAY)

    assert ran.code == 2
    assert "there already" in ran.err
    assert shop.with_name("new.xlsx").read_bytes() == b"mine"


def test_next_year_makes_no_book_of_one_with_errors(lt: Lt, shop: Path) -> None:
    """Exit code 1, with what is to be mended first."""
    from tests.book.shop import Shop  # noqa: PLC0415

    Shop(shop).fill("25-0009", 1, actual="an hour")

    ran = lt("next-year", shop.name, "new.xlsx", *DAY)

    assert ran.code == 1
    assert ran.out == "No book was made.\n"
    assert "Mend them first; no book was made" in ran.err
    assert not shop.with_name("new.xlsx").exists()
