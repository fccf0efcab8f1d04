"""The verb `extra-work` as a person uses it: asked, accepted, declined, printed again."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import openpyxl
import pdfplumber
import pytest

from ledger_tools.book.layout import AUTHORISATIONS_TABLE, JOBS_TABLE
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE, ESTIMATES_TABLE
from ledger_tools.documents.pending import pending
from ledger_tools.documents.texts import REQUEST_LABELS, REQUEST_TEXTS
from ledger_tools.settings import load_texts
from tests import libreoffice
from tests.book.shop import Shop, Typed
from tests.book.test_formulas import differences
from tests.commands.conftest import Lt, files_in

DAY = ("--today", "2025-03-03")
LINES = "kind,description,quantity,unit_price,vendor\nlabour,Weld,1.6,100,\nsublet,Line,1,84.50,\n"
JOB, REQUEST = "25-0001", "25-0001/2"
YES: dict[str, Typed] = {
    "accepted_on": date(2025, 3, 4), "accepted_by": "Ann Bell", "accepted_how": "telephone",
}  # fmt: skip


@pytest.fixture
def begun(lt: Lt, taxed_book: Path, lines: Callable[[str], Path]) -> Path:
    """Return a book with two taxes: a job whose estimate is accepted, and which grew."""
    lt(
        "add-job", taxed_book, "--customer", "Ann Bell", "--item", "Tank", "--lines",
        lines(LINES), "--state", "estimated", *DAY,
    )  # fmt: skip
    lt("estimate", taxed_book, *DAY)
    shop = Shop(taxed_book)
    shop.fill(ESTIMATES_TABLE, 1, **{**YES, "accepted_on": date(2025, 3, 3)})
    shop.fill(JOBS_TABLE, 1, state="in work")
    lt("recompute", taxed_book, *DAY)
    found: dict[str, Typed] = {
        "kind": "labour",
        "description": "Patch",
        "estimate": 60,
        "price": 100,
    }
    shop.fill(JOB, 3, **found)
    return taxed_book


def asked(lt: Lt, book: Path, *words: str) -> None:
    """Ask for the extra work, and see that it went well."""
    ran = lt("extra-work", book, JOB, "--found", "Thin metal", *words, *DAY)
    assert ran.code == 0, ran.err


def test_a_request_is_written_kept_and_told(lt: Lt, begun: Path) -> None:
    """JSON says what is asked for; both papers are there; the register holds the same."""
    ran = lt(
        "extra-work", begun, JOB, "--found", "Thin metal", "--found", "Pinholes", "--json",
        *DAY,
    )  # fmt: skip

    (told,) = ran.json()["estimates"]
    # By hand: 244.50 had 36.62 tax; 344.50 has 17.23 (17.225) and 34.36 (34.363...) tax.
    assert {k: told[k] for k in ("number", "paper", "found", "total")} == {
        "number": REQUEST, "paper": "extra work", "found": ["Thin metal", "Pinholes"],
        "total": "396.09",
    }  # fmt: skip
    asked_for = ("authorised_before", "difference", "percent")
    assert [told[k] for k in asked_for] == ["281.12", "114.97", "40.9"]
    assert told["files"] == [f"estimates/extra-work-25-0001-2{end}" for end in (".pdf", ".xlsx")]
    assert all(Path(file).is_file() for file in told["files"])
    kept = Shop(begun)
    keys = ("number", "paper", "found", "authorised", "counted", "total", "stands")
    assert [kept.value(ESTIMATES_TABLE, 2, k) for k in keys] == [
        REQUEST, "extra work", "Thin metal\nPinholes", 281.12, "with tax", 396.09, "open",
    ]  # fmt: skip
    rows = [kept.value(ESTIMATE_LINES_TABLE, n, "before") for n in (5, 6, 7)]
    assert rows == [160, 84.5, None]
    assert kept.head(JOB, "flag") == kept.value(JOBS_TABLE, 1, "flag") == "asked"


def test_the_paper_says_what_is_asked_for(lt: Lt, begun: Path) -> None:
    """What was found, the new line, the rest as agreed, all sums, both answers; in both forms."""
    asked(lt, begun)

    with pdfplumber.open("estimates/extra-work-25-0001-2.pdf") as pdf:
        page = " ".join("\n".join(p.extract_text() for p in pdf.pages).split())
    sheet = openpyxl.load_workbook("estimates/extra-work-25-0001-2.xlsx").worksheets[0]
    cells = " ".join(
        " ".join(str(cell.value).split()) for row in sheet for cell in row if cell.value
    )

    for said in (
        "Request for extra work 25-0001/2", "What we found", "Thin metal", "Patch",
        "The other work, unchanged, as in 25-0001/1", "New total",
        "Authorised until now, with tax", "Asked for in addition, 40.9%",
        "Nothing above the amount authorised.", "the law decides",
        "The whole work may then come to $396.09 with tax.",
        "stays as it is, up to $281.12.", "Signature",
    ):  # fmt: skip
        assert said in page, said
        assert said in cells, said
    assert [page.count(sum_) for sum_ in ("244.50", "114.97", "281.12")] == [1, 1, 2]
    assert "Weld" not in page


def test_an_unchanged_request_prints_the_same_bytes(lt: Lt, begun: Path, tmp_path: Path) -> None:
    """Asked again later, and by `reprint` when the shop has moved, nothing differs."""
    asked(lt, begun)
    first = {n: c for n, c in files_in(tmp_path / "estimates").items() if "extra" in n}
    book = begun.read_bytes()

    again = lt("extra-work", begun, JOB, "--out", "named", "--today", "2025-03-09")

    assert "extra work 25-0001/2 again, nothing in it changed" in again.out
    assert begun.read_bytes() != book  # the as-of day on Start is all that is new
    Shop(begun).decide("shop_address", "Elsewhere 5")
    lt("reprint", begun, REQUEST, "--out", "again", "--today", "2025-05-09")
    assert files_in(tmp_path / "named") == first == files_in(tmp_path / "again")


def test_a_yes_is_the_next_row_of_authorisations(lt: Lt, begun: Path) -> None:
    """The new total, for the paper, written once; the ceiling on the job sheet follows."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(ESTIMATES_TABLE, 2, **YES)

    ran = lt("recompute", begun, "--today", "2025-03-04")
    lt("recompute", begun, "--today", "2025-03-05")

    assert "Extra work 25-0001/2 was accepted on 2025-03-04: 396.09 with tax" in ran.err
    assert [shop.value(AUTHORISATIONS_TABLE, 2, k) for k in ("amount", "scope", "who")] == [
        396.09, "Extra work 25-0001/2", "Ann Bell",
    ]  # fmt: skip
    assert shop.value(AUTHORISATIONS_TABLE, 3, "amount") is None
    assert (shop.head(JOB, "ceiling"), shop.value(ESTIMATES_TABLE, 2, "stands")) == (
        396.09, "accepted",
    )  # fmt: skip
    assert shop.head(JOB, "flag") in {None, ""}


def test_a_no_prints_on_the_invoice_and_stays_as_printed(
    lt: Lt, begun: Path, tmp_path: Path
) -> None:
    """Under "Advised, declined", in no sum; a reprint is the same bytes though the row changed."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(ESTIMATES_TABLE, 2, declined_on=date(2025, 3, 4))
    shop.fill(JOB, 1, actual=96)
    shop.fill(JOB, 3, actual=0)
    shop.fill(JOBS_TABLE, 1, state="to invoice")

    ran = lt("invoice", begun, "--json", "--today", "2025-03-05")

    assert [i["total"] for i in ran.json()["invoices"]] == ["281.12"]
    assert ran.json()["findings"] == []
    first = files_in(tmp_path / "invoices")
    with pdfplumber.open("invoices/invoice-25-0001.pdf") as pdf:
        page = pdf.pages[0].extract_text()
    assert "Advised, declined (before tax, in none of the sums above)" in page
    assert "Patch, advised on March 3, 2025 100.00" in page
    shop.fill(ESTIMATES_TABLE, 2, declined_on=None)
    lt("reprint", begun, "--out", "again", *DAY)
    assert files_in(tmp_path / "again") == first


def test_work_on_what_was_declined_is_warned_of(lt: Lt, begun: Path) -> None:
    """In the row where it was declined."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(ESTIMATES_TABLE, 2, declined_on=date(2025, 3, 3))
    shop.fill(JOB, 3, actual=12)

    found = [f for f in lt("check", begun, "--json", *DAY).json()["findings"]
             if f["code"] == "declined-worked"]  # fmt: skip

    assert [(f["severity"], f["sheet"], f["cell"]) for f in found] == [
        ("warning", "Estimates", shop.cell(ESTIMATES_TABLE, 2, "declined_on")),
    ]  # fmt: skip
    assert "Line 3 of job 25-0001 comes to 20.00; the customer declined more" in found[0]["what"]


def test_an_unanswered_request_is_said_when_invoicing(lt: Lt, begun: Path) -> None:
    """A warning; the invoice goes out, as it stays below what is authorised."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(JOB, 1, actual=96)
    shop.fill(JOB, 3, actual=0)
    shop.fill(JOBS_TABLE, 1, state="to invoice")

    ran = lt("invoice", begun, "--json", *DAY)

    assert [f["code"] for f in ran.json()["findings"]] == ["extra-work-open"]
    assert len(ran.json()["invoices"]) == 1


def test_the_ceiling_rules_while_a_request_is_open(lt: Lt, begun: Path) -> None:
    """Work beyond it is refused, whatever was asked for."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(JOB, 1, actual=96)
    shop.fill(JOB, 3, actual=60)
    shop.fill(JOBS_TABLE, 1, state="to invoice")

    ran = lt("invoice", begun, "--json", *DAY)

    assert ran.code == 1
    assert {"above-ceiling", "extra-work-open"} == {f["code"] for f in ran.json()["findings"]}
    assert ran.json()["invoices"] == []


@pytest.mark.parametrize(
    ("typed", "code", "column"),
    [
        (YES | {"declined_on": date(2025, 3, 4)}, "accepted-and-declined", "declined_on"),
        ({"declined_on": "soon"}, "date-unreadable", "declined_on"),
        ({"declined_on": date(2025, 3, 2)}, "declined-before", "declined_on"),
        (YES | {"accepted_on": date(2025, 3, 2)}, "accepted-before", "accepted_on"),
        ({"paper": "offer"}, "paper-unknown", "paper"),
        ({"counted": "gross"}, "counted-unknown", "counted"),
        ({"authorised": "much"}, "not-a-number", "authorised"),
    ],
)
def test_a_wrong_answer_authorises_nothing(
    lt: Lt, begun: Path, typed: dict[str, Typed], code: str, column: str
) -> None:
    """The cell is named, no row is written, no invoice goes out for the job."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(ESTIMATES_TABLE, 2, **typed)
    shop.fill(JOBS_TABLE, 1, state="to invoice")

    ran = lt("invoice", begun, "--json", "--today", "2025-03-05")

    (found,) = (f for f in ran.json()["findings"] if f["code"] == code)
    cell = shop.cell(ESTIMATES_TABLE, 2, column)
    assert (ran.code, found["severity"], found["cell"]) == (1, "error", cell)
    assert ran.json()["invoices"] == []
    assert shop.value(AUTHORISATIONS_TABLE, 2, "amount") is None


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("25-0009",), 2, "there is no job 25-0009"),
        ((), 2, "Missing argument 'JOB'"),
        ((JOB, "--valid", "0"), 2, "0 is not in the range 1<=x<=999"),
    ],
)
def test_wrong_use_writes_nothing(
    lt: Lt, begun: Path, words: tuple[str, ...], code: int, said: str
) -> None:
    """The command line is refused with what is wrong about it."""
    before = begun.read_bytes()

    ran = lt("extra-work", begun, *words, *DAY)

    assert (ran.code, begun.read_bytes()) == (code, before)
    assert said in ran.err


def test_a_dry_run_writes_nothing(lt: Lt, begun: Path) -> None:
    """It says what it would write."""
    before = begun.read_bytes()

    ran = lt("extra-work", begun, JOB, "--dry-run", *DAY)

    assert "Would write extra work 25-0001/2: Ann Bell, 396.09 CAD" in ran.out
    assert begun.read_bytes() == before
    assert not Path("estimates/extra-work-25-0001-2.pdf").exists()


def test_papers_that_could_not_be_made_are_made_next_time(lt: Lt, begun: Path) -> None:
    """The number is in the book; `estimate`, too, makes them, and nothing is pending then."""
    Path("estimates").rename("kept")
    Path("estimates").write_bytes(b"in the way")
    stopped = lt("extra-work", begun, JOB, *DAY)
    assert (stopped.code, pending(begun)) == (1, (REQUEST,))
    Path("estimates").unlink()

    ran = lt("estimate", begun, *DAY)

    assert "25-0001/2: an earlier run was cut off" in ran.err
    assert Path("estimates/extra-work-25-0001-2.pdf").is_file()
    assert pending(begun) == ()


def test_what_a_customer_and_an_owner_write_is_only_words(lt: Lt, begun: Path) -> None:
    """Markup, formulas and control letters in what was found are printed as they are."""
    said = '=1+1 #link("x")[*no*] \x07 {total}'

    ran = lt("extra-work", begun, JOB, "--found", said, *DAY)

    assert ran.code == 0
    with pdfplumber.open("estimates/extra-work-25-0001-2.pdf") as pdf:
        page = pdf.pages[0].extract_text()
    assert '=1+1 #link("x")[*no*]' in page
    assert "{total}" in page


@pytest.mark.parametrize("language", ["en", "fr", "de"])
def test_every_word_is_there_in_every_language(language: str) -> None:
    """No request falls back to English in a language that is shipped."""
    texts = load_texts(language)

    assert [k for k in (*REQUEST_LABELS, *REQUEST_TEXTS) if not texts.get(k)] == []
    for key in REQUEST_TEXTS:
        assert [f"{{{mark}}}" in texts[key] for mark in ("total", "net", "limit", "source")] == [
            f"{{{mark}}}" in load_texts("en")[key] for mark in ("total", "net", "limit", "source")
        ], key


@pytest.mark.libreoffice
def test_libreoffice_sees_the_same_book(lt: Lt, begun: Path, tmp_path: Path) -> None:
    """Standing, ceiling and flags over the whole book: declined, accepted and open."""
    asked(lt, begun)
    shop = Shop(begun)
    shop.fill(ESTIMATES_TABLE, 2, declined_on=date(2025, 3, 3))
    lt("extra-work", begun, JOB, "--found", "Once more", *DAY)
    shop.fill(ESTIMATES_TABLE, 3, **YES)
    lt("recompute", begun, "--today", "2025-03-04")
    shop.fill(JOB, 4, kind="labour", description="More", estimate=30, price=100)
    lt("extra-work", begun, JOB, "--today", "2025-03-04")
    lt("recompute", begun, "--today", "2025-03-04")

    theirs = libreoffice.recalculated(begun, tmp_path / "lo")

    stands = [shop.cell(ESTIMATES_TABLE, n, "stands") for n in (1, 2, 3, 4)]
    ours = ["accepted", "declined", "accepted", "open"]
    assert [theirs["Estimates"][cell] for cell in stands] == ours
    assert [shop.value(ESTIMATES_TABLE, n, "stands") for n in (1, 2, 3, 4)] == ours
    assert shop.head(JOB, "flag") == "asked"
    assert differences(begun, tmp_path / "again") == []
