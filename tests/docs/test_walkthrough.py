"""The README and the tutorial can be followed: what they have typed and run does as they say."""

import json
import re
from decimal import Decimal
from pathlib import Path

import openpyxl
import pdfplumber
import pytest

from tests.docs.markdown import CHECKOUT, DOCS, tables
from tests.docs.walkthrough import Command, run, steps, type_in

README = CHECKOUT / "README.md"
TUTORIAL = DOCS / "first-invoice.md"
OVERRUN = DOCS / "an-overrun.md"
BOOK = "shop-2025.xlsx"
_CELLS = re.compile(r"\d+ cells?\b")


def follow(page: Path, folder: Path) -> None:
    """Do every step of a page in `folder`; each command prints what the page says.

    How many cells a command writes may change with the layout of the book, so it is not compared.
    """
    for step in steps(page.read_text(encoding="utf-8")):
        if isinstance(step, Command):
            printed = [_CELLS.sub("N cells", line) for line in run(step, folder)]
            assert printed == [_CELLS.sub("N cells", line) for line in step.prints], step.line
        else:
            type_in(folder / BOOK, step)


def job_of(folder: Path) -> dict[str, object]:
    """Return what the book says of its first job at the end."""
    said = run(Command(f"ledger-tools check {BOOK} --today 2025-12-31 --json", ()), folder)
    job: dict[str, object] = json.loads("\n".join(said))["jobs"][0]
    return job


@pytest.fixture(scope="module")
def followed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder in which the README was followed."""
    folder = tmp_path_factory.mktemp("a shop")
    follow(README, folder)
    return folder


@pytest.mark.parametrize(
    ("key", "comes_to"),
    [
        ("actual_minutes", 101),
        ("non_billable_minutes", 20),
        ("subtotal", "151.34"),
        ("total", "151.94"),
        ("estimate_total", "91.94"),
    ],
)
def test_readme_tells_what_the_book_says(followed: Path, key: str, comes_to: object) -> None:
    """The figures in its prose are those of the job it had the reader enter."""
    assert job_of(followed)[key] == comes_to
    assert str(comes_to) in README.read_text(encoding="utf-8")


def test_readme_ends_with_papers_and_summaries(followed: Path) -> None:
    """Whoever follows it holds an invoice as PDF and workbook, a quarter and a year-end."""
    papers = {path.name for path in (followed / "invoices").iterdir()}
    summaries = {path.name for path in (followed / "summaries").iterdir()}

    assert papers == {"invoice-25-0001.pdf", "invoice-25-0001.xlsx"}
    assert summaries == {"quarter-2025-Q1.xlsx", "year-end-2025.xlsx"}


def test_accountants_questions_lead_to_sheets(followed: Path) -> None:
    """Each question is answered on a sheet that the workbook has."""
    books = {
        name: openpyxl.load_workbook(followed / "summaries" / file, read_only=True).sheetnames
        for name, file in (
            ("quarter", "quarter-2025-Q1.xlsx"),
            ("year-end", "year-end-2025.xlsx"),
        )
    }
    (asked,) = (t for t in tables(README.read_text(encoding="utf-8")) if t.heads[0] == "Question")

    assert asked.rows
    assert not [row for row in asked.rows if row[2] not in books[row[1]]]


@pytest.mark.parametrize(
    ("workbook", "under", "where"),
    [
        ("quarter-2025-Q1.xlsx", "The quarter", "quarter"),
        ("year-end-2025.xlsx", "The year-end", "year-end"),
    ],
)
def test_sheets_and_checks_of_a_summary_are_described(
    followed: Path, workbook: str, under: str, where: str
) -> None:
    """The page on quarter and year-end lists the sheets and checks there are, in their order."""
    book = openpyxl.load_workbook(followed / "summaries" / workbook, data_only=True)
    page = tables((DOCS / "year-end.md").read_text(encoding="utf-8"))
    (sheets,) = (table for table in page if table.under == under)
    (checks,) = (table for table in page if table.heads[0] == "Check")
    here = [row[0].value for row in book["Checks"].iter_rows(min_row=5)]

    assert [row[0] for row in sheets.rows] == book.sheetnames
    assert [row[0] for row in checks.rows if row[1] in ("both", where)] == here


def test_tutorial_tells_what_the_book_says(tmp_path: Path) -> None:
    """The tutorial can be followed, and its figures are those of the book."""
    follow(TUTORIAL, tmp_path)
    job = job_of(tmp_path)
    page = TUTORIAL.read_text(encoding="utf-8")

    assert (job["subtotal"], job["total"], job["balance"]) == ("256.00", "307.20", "107.20")
    assert job["billed_hours"] == "1.6"
    for figure in ("1.6 hours", "160.00", "256.00", "307.20", "107.20"):
        assert figure in page


def test_the_job_that_grows_tells_what_the_book_says(tmp_path: Path) -> None:
    """It can be followed; what was agreed, worked and billed in it is what the book says.

    The ceilings are those of the rule: ten dollars or ten percent above the amount authorised,
    whichever is less (MCL 257.1332, read on the page Amended Estimates of the Michigan Department
    of State).
    """
    follow(OVERRUN, tmp_path)
    job = job_of(tmp_path)
    page = OVERRUN.read_text(encoding="utf-8")
    given = (Decimal("503.40"), Decimal("672.40"))
    limits = [amount + min(amount / 10, Decimal(10)) for amount in given]

    assert Decimal(str(job["ceiling"])) == limits[-1]
    assert (job["worked"], job["total"]) == ("730.40", str(limits[-1]))
    assert all(str(figure) in page for figure in (*given, limits[-1], "730.40", "48.00"))
    papers = {path.name for path in (tmp_path / "estimates").glob("*.pdf")}
    assert papers == {
        "estimate-25-0001-1.pdf", "extra-work-25-0001-2.pdf", "extra-work-25-0001-3.pdf",
    }  # fmt: skip
    with pdfplumber.open(tmp_path / "invoices" / "invoice-25-0001.pdf") as invoice:
        text = invoice.pages[0].extract_text()
    for words in ("Written down to what was authorised: Work", "Advised, declined", "stud"):
        assert words in text


def test_a_page_that_is_wrong_is_found_out(tmp_path: Path) -> None:
    """A command that prints something else than its page says fails the test."""
    page = tmp_path / "page.md"
    page.write_text(
        "```console\n$ ledger-tools new shop-2025.xlsx --today 2025-02-03\nDone.\n```\n",
        encoding="utf-8",
    )

    with pytest.raises(AssertionError, match="ledger-tools new"):
        follow(page, tmp_path)
