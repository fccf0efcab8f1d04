"""What `--json` prints: one object, amounts and hours as text, unknown as null."""

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.commands.conftest import Lt

HEADER = "kind,description,quantity,unit_price,actual,non_billable,reason,vendor,cost,markup\n"
JOB = HEADER + "labour,Weld,1,100.00,1h50,12,demonstration,,,\n"
JOB_KEYS = {
    "job", "customer", "item", "state", "estimate_net", "estimate_total", "ceiling",
    "actual_minutes", "non_billable_minutes", "billed_hours", "subtotal", "taxes", "tax", "total",
    "invoice", "balance", "basis", "worked",
}  # fmt: skip
INVOICE_KEYS = {
    "number", "job", "date", "customer", "subtotal", "taxes", "tax", "total", "files",
}  # fmt: skip
FINDING_KEYS = {"severity", "code", "file", "sheet", "cell", "what", "remedy"}


@pytest.fixture
def job(lt: Lt, taxed_book: Path, lines: Callable[[str], Path]) -> Path:
    """Return a book with one job of 110 minutes, 12 of them not billable."""
    ran = lt(
        "add-job", taxed_book, "--customer", "R. Calder", "--item", "Pan", "--state", "to invoice",
        "--lines", lines(JOB), "--today", "2025-03-03",
    )  # fmt: skip
    assert ran.code == 0, ran.err
    return taxed_book


def test_jobs(lt: Lt, job: Path) -> None:
    """Every figure of a job, as the design of the commands says."""
    said = lt("check", job, "--today", "2025-03-03", "--json").json()

    assert said == {
        "jobs": [
            {
                "job": "25-0001",
                "customer": "R. Calder",
                "item": "Pan",
                "state": "to invoice",
                "estimate_net": "100.00",
                "estimate_total": "114.98",
                "ceiling": None,
                "actual_minutes": 110,
                "non_billable_minutes": 12,
                "billed_hours": "1.6",
                "basis": "actual",
                "worked": "160.00",
                "subtotal": "160.00",
                "taxes": [
                    {"component": "GST", "base": "160.00", "rate": "0.05", "amount": "8.00"},
                    {"component": "QST", "base": "160.00", "rate": "0.09975", "amount": "15.96"},
                ],
                "tax": "23.96",
                "total": "183.96",
                "invoice": None,
                "balance": None,
            }
        ],
        "findings": [],
        "files": [],
    }


@pytest.mark.parametrize("verb", ["check", "recompute"])
def test_check_and_recompute_say_the_same_of_jobs(lt: Lt, job: Path, verb: str) -> None:
    """Keys and figures do not depend on the verb; nothing written is no file."""
    said = lt(verb, job, "--today", "2025-03-03", "--json").json()

    assert list(said) == ["jobs", "findings", "files"]
    assert set(said["jobs"][0]) == JOB_KEYS
    assert said["files"] == []


def test_add_job_gives_that_job_and_the_book(lt: Lt, job: Path) -> None:
    """The new job alone, its ceiling as text, the book among the files, the customer known."""
    said = lt(
        "add-job", job, "--customer", "r. calder", "--item", "x", "--repair", "gate",
        "--authorised", "1000", "--today", "2025-03-03", "--json",
    ).json()  # fmt: skip

    assert [j["job"] for j in said["jobs"]] == ["25-0002"]
    assert said["jobs"][0]["ceiling"] == "1000.00"
    assert said["jobs"][0]["state"] == "estimated"
    assert said["files"] == ["taxed.xlsx"]


def test_a_whole_hour_stays_plain(lt: Lt, job: Path, lines: Callable[[str], Path]) -> None:
    """No exponent, no point where there is nothing behind it."""
    text = HEADER + "labour,Weld,,100.00,600,,,,,\n"
    said = lt(
        "add-job", job, "--customer", "A", "--item", "x", "--lines", lines(text), "--json"
    ).json()

    assert (said["jobs"][0]["billed_hours"], said["jobs"][0]["subtotal"]) == ("10", "1000.00")


def test_invoices(lt: Lt, job: Path) -> None:
    """Number, job, day, taxes and papers; paths are relative, with forward slashes."""
    said = lt("invoice", job, "--today", "2025-03-04", "--json").json()

    (invoice,) = said["invoices"]
    assert set(invoice) == INVOICE_KEYS
    assert (invoice["number"], invoice["job"], invoice["date"]) == (
        "25-0001", "25-0001", "2025-03-04",
    )  # fmt: skip
    assert (invoice["subtotal"], invoice["tax"], invoice["total"]) == ("160.00", "23.96", "183.96")
    assert [tax["component"] for tax in invoice["taxes"]] == ["GST", "QST"]
    papers = ["invoices/invoice-25-0001.pdf", "invoices/invoice-25-0001.xlsx"]
    assert invoice["files"] == papers
    assert said["files"] == ["taxed.xlsx", *papers]
    assert [f["code"] for f in said["findings"]] == ["not-authorised"]


def test_a_billed_job_knows_its_invoice(lt: Lt, job: Path) -> None:
    """State, invoice and what is owing follow."""
    lt("invoice", job, "--today", "2025-03-04")

    (said,) = lt("check", job, "--today", "2025-03-04", "--json").json()["jobs"]

    assert (said["state"], said["invoice"], said["balance"]) == ("invoiced", "25-0001", "183.96")


def test_nothing_to_issue_is_an_empty_list(lt: Lt, book: Path) -> None:
    """The key is there all the same."""
    assert lt("invoice", book, "--json").json() == {"invoices": [], "findings": [], "files": []}


def test_findings_have_every_key(lt: Lt, job: Path) -> None:
    """Severity, code, place, what and remedy, all text."""
    said = lt("invoice", job, "--json").json()

    (found,) = said["findings"]
    assert set(found) == FINDING_KEYS
    assert all(isinstance(value, str) for value in found.values())
    assert found["file"] == "taxed.xlsx"


@pytest.mark.parametrize(
    ("words", "code", "exit_code"),
    [
        (("check", "other.xlsx"), "book-unreadable", 1),
        (("invoice", "shop.xlsx", "25-0009"), "request", 2),
        (("reprint", "shop.xlsx", "25-0009"), "request", 2),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "b", "--repair", "XX"),
         "repair-unknown", 2),
        (("new", "shop.xlsx"), "file-in-the-way", 2),
        (("new", "new.xlsx", "--tax", "atlantis"), "config", 2),
        (("quarter", "shop.xlsx", "2025-Q9"), "request", 2),
    ],
)  # fmt: skip
def test_what_stops_a_command_is_a_finding_too(
    lt: Lt, book: Path, words: tuple[str, ...], code: str, exit_code: int
) -> None:
    """One object on stdout, nothing beside it, and the exit code says whose fault it is."""
    (book.parent / "other.xlsx").write_bytes(b"not a workbook")

    ran = lt(*words, "--json")

    assert ran.code == exit_code
    (found,) = ran.json()["findings"]
    assert (found["severity"], found["code"]) == ("error", code)
    assert found["what"]
    assert found["remedy"]


def test_every_verb_says_findings_and_files(lt: Lt, job: Path) -> None:
    """Programs can rely on the two keys, whatever the verb."""
    lt("invoice", job, "--today", "2025-03-04")
    verbs = (
        ("new", "other.xlsx"), ("recompute", job), ("check", job), ("invoice", job),
        ("reprint", job), ("quarter", job, "2025-Q1"), ("year-end", job, "2025"),
    )  # fmt: skip
    for verb in verbs:
        said = lt(*verb, "--today", "2025-03-04", "--json").json()
        assert isinstance(said["findings"], list), verb
        assert all(isinstance(path, str) for path in said["files"]), verb
