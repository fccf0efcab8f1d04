"""The verbs as people use them: what is written, what is said where, and the exit code."""

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pdfplumber
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from ledger_tools.book.patch import patched_book
from ledger_tools.book.registers import INVOICES_TABLE
from ledger_tools.shop.plan import AddSheet, Plan, SheetKind
from tests.book.shop import Shop
from tests.commands.conftest import Lt, files_in
from tests.parts import read_parts, write_parts

HEADER = "kind,description,quantity,unit_price,actual,non_billable,reason,vendor,cost,markup\n"
FEE = HEADER + "fee,Towing,1,50.00,,,,,,\n"
DAY = ("--today", "2025-03-03")
FORMULAS = ('=HYPERLINK("http://example.org","free")', "@SUM(A1)", "+1", "-2")
"""Words that a careless program would turn into formulas."""
FORBIDDEN = ("pandas", "openpyxl", "xlsxwriter", "typst", "babel", "yaml", "numpy", "asyncio",
             "pdfplumber", "hypothesis", "json")  # fmt: skip


def add(lt: Lt, book: Path, *more: object, customer: str = "R. Calder", item: str = "Pan") -> str:
    """Open a job and return what was said."""
    ran = lt("add-job", book, "--customer", customer, f"--item={item}", *DAY, *more)
    assert ran.code == 0, ran.err
    return ran.out


def test_the_whole_way_of_a_job(lt: Lt, tmp_path: Path) -> None:
    """New, add-job, recompute, invoice, reprint, quarter, year-end: all end with 0."""
    assert lt("new", "shop.xlsx", "--tax", "us-ca", *DAY).code == 0
    book = tmp_path / "shop.xlsx"
    add(lt, book, "--repair", "GATE", "--state", "to invoice")
    shop = Shop(book)
    shop.fill("25-0001", 1, actual=60)
    shop.fill("25-0001", 12, price=1)
    assert lt("recompute", book, *DAY).code == 0
    assert lt("invoice", book, *DAY).code == 0
    assert lt("reprint", book, *DAY).code == 0
    assert lt("quarter", book, "2025-Q1", *DAY).code == 0
    assert lt("year-end", book, "2025", *DAY).code == 0
    made = {name for name in files_in(tmp_path) if "backups" not in name}
    assert made == {
        "shop.xlsx", "invoices/invoice-25-0001.pdf", "invoices/invoice-25-0001.xlsx",
        "summaries/quarter-2025-Q1.xlsx", "summaries/year-end-2025.xlsx",
    }  # fmt: skip


def test_three_jobs_are_numbered_one_after_the_other(lt: Lt, book: Path) -> None:
    """Each command says the number it gave."""
    said = [add(lt, book, "--repair", "GATE") for _ in range(3)]

    assert [text.partition(".")[0] for text in said] == [
        "Job 25-0001", "Job 25-0002", "Job 25-0003",
    ]  # fmt: skip


@pytest.mark.parametrize("words", FORMULAS)
def test_words_that_look_like_formulas_stay_words(
    lt: Lt, book: Path, lines: Callable[[str], Path], words: str
) -> None:
    """Customer, item and description: text in every sheet, in both papers, and after a reprint."""
    quoted = '"' + words.replace('"', '""') + '"'
    path = lines(HEADER + f"fee,{quoted},1,50.00,,,,{quoted},,\n")
    add(lt, book, "--lines", path, "--state", "to invoice", customer=words, item=words)

    assert lt("invoice", book, *DAY).code == 0

    for made in (book, book.parent / "invoices" / "invoice-25-0001.xlsx"):
        cells = [
            cell
            for sheet in openpyxl.load_workbook(made).worksheets
            for row in sheet.iter_rows()
            for cell in row
            if cell.value is not None and str(cell.value).startswith(words)
        ]
        assert cells
        assert {cell.data_type for cell in cells} == {"s"}
        assert not any(cell.hyperlink for cell in cells if "http" in str(cell.value))
    with pdfplumber.open(book.parent / "invoices" / "invoice-25-0001.pdf") as paper:
        printed = "".join("".join(page.extract_text().split()) for page in paper.pages)
    printed = printed.replace("\u200b", "")
    assert printed.count("".join(words.split())) >= 3


@pytest.mark.parametrize(
    "words",
    [
        ("new", "other.xlsx"),
        ("add-job", "shop.xlsx", "--customer", "Ann", "--item", "x", "--repair", "GATE"),
        ("recompute", "shop.xlsx"),
        ("check", "shop.xlsx"),
        ("invoice", "shop.xlsx"),
        ("reprint", "shop.xlsx"),
        ("quarter", "shop.xlsx", "2025-Q1"),
        ("year-end", "shop.xlsx", "2025"),
    ],
    ids=lambda words: words[0],
)
def test_a_dry_run_writes_nothing(
    lt: Lt, book: Path, lines: Callable[[str], Path], words: tuple[str, ...]
) -> None:
    """Not a file, not a folder, not a byte; what would be written is said."""
    for _ in range(2):
        add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    lt("invoice", book, "25-0001", *DAY)
    before = files_in(book.parent)

    ran = lt(*words, *(("--dry-run",) if words[0] != "check" else ()), "--today", "2025-03-20")

    assert ran.code == 0
    assert "ould" in ran.out
    assert files_in(book.parent) == before


def test_a_dry_run_of_invoice_names_what_it_would_issue(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """With the numbers and papers that the real run then makes."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")

    would = lt("invoice", book, *DAY, "--dry-run", "--json").json()
    did = lt("invoice", book, *DAY, "--json").json()

    assert would == did


def test_documents_go_where_out_says(lt: Lt, book: Path, lines: Callable[[str], Path]) -> None:
    """The folder is made, and nothing goes elsewhere."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")

    lt("invoice", book, "--out", "a/papers", *DAY)
    lt("quarter", book, "2025-Q1", "--out", "b", *DAY)

    made = {name for name in files_in(book.parent) if "backups" not in name}
    assert made == {
        "shop.xlsx", "lines.csv", "a/papers/invoice-25-0001.pdf", "a/papers/invoice-25-0001.xlsx",
        "b/quarter-2025-Q1.xlsx",
    }  # fmt: skip


def test_papers_stand_beside_the_book_and_not_where_the_command_was_called(
    lt: Lt, tmp_path: Path, new_books: dict[str, bytes], lines: Callable[[str], Path]
) -> None:
    """A book in another folder has its papers there."""
    book = tmp_path / "far" / "shop.xlsx"
    book.parent.mkdir()
    book.write_bytes(new_books["none"])
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")

    said = lt("invoice", "far/shop.xlsx", *DAY, "--json").json()

    assert said["invoices"][0]["files"][0] == "far/invoices/invoice-25-0001.pdf"
    assert (book.parent / "invoices" / "invoice-25-0001.pdf").is_file()


def test_a_reprint_gives_the_same_bytes(lt: Lt, book: Path, lines: Callable[[str], Path]) -> None:
    """Whatever has changed in the book since; another folder, another day, the same papers."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    lt("invoice", book, *DAY)
    issued = files_in(book.parent / "invoices")
    shop = Shop(book)
    shop.fill("25-0001", 1, actual=9, description="Something else")
    shop.decide("shop_name", "Another name")
    shop.decide("shop_payment", "Cash only")
    shop.recompute()

    ran = lt("reprint", book, "--out", "again", "--today", "2026-01-01")

    assert (ran.code, ran.err) == (0, "")
    assert files_in(book.parent / "again") == issued


@pytest.mark.parametrize(("name", "typed"), [("shop_locale", "qq_QQ"), ("shop_language", "xx")])
def test_what_could_not_be_printed_is_not_issued(
    lt: Lt, book: Path, lines: Callable[[str], Path], name: str, typed: str
) -> None:
    """The wording is frozen with the number, so it has to be one that papers can be made of."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    Shop(book).decide(name, typed)
    before = book.read_bytes()

    refused = lt("invoice", book, *DAY)

    assert (refused.code, typed in refused.err) == (2, True)
    assert book.read_bytes() == before


def test_a_number_that_went_out_is_not_given_again(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """A backup put back forgets the last invoice; its papers tell, and they stay as they are."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    backup = book.read_bytes()
    lt("invoice", book, *DAY)
    issued = files_in(book.parent / "invoices")
    book.write_bytes(backup)

    refused = lt("invoice", book, "--today", "2025-06-01")

    assert (refused.code, "papers of 25-0001 are there already" in refused.err) == (2, True)
    assert book.read_bytes() == backup
    assert files_in(book.parent / "invoices") == issued
    Shop(book).decide("shop_last_invoice", 1)
    assert "Issued 25-0002 for job 25-0001" in lt("invoice", book, *DAY).out


def test_a_reprint_of_named_invoices_makes_those_alone(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """An invoice that was not issued is refused, and nothing is made."""
    for _ in range(2):
        add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    lt("invoice", book, *DAY)

    refused = lt("reprint", book, "25-0002", "25-0009", "--out", "no")
    lt("reprint", book, "25-0002", "--out", "yes")

    assert (refused.code, "25-0009" in refused.err) == (2, True)
    assert not (book.parent / "no").exists()
    assert set(files_in(book.parent / "yes")) == {"invoice-25-0002.pdf", "invoice-25-0002.xlsx"}


def test_an_invoice_with_unreadable_rows_is_not_printed(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """A half-read invoice would be a wrong paper; the other one is made."""
    for _ in range(2):
        add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    lt("invoice", book, *DAY)
    Shop(book).fill(INVOICES_TABLE, 1, total="fifty")

    ran = lt("reprint", book, "--out", "again", *DAY)

    assert (ran.code, "'fifty'" in ran.err) == (1, True)
    assert set(files_in(book.parent / "again")) == {"invoice-25-0002.pdf", "invoice-25-0002.xlsx"}


def test_invoice_twice_issues_nothing_the_second_time(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """It says so, ends with 0, and leaves the book as it is."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    first = lt("invoice", book, *DAY)
    before = book.read_bytes()

    second = lt("invoice", book, *DAY)

    assert "Issued 25-0001" in first.out
    assert (second.code, second.out) == (0, "No job is to be invoiced.\n")
    assert book.read_bytes() == before


def test_naming_a_job_twice_issues_one_invoice(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """However often it is named."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")

    said = lt("invoice", book, "25-0001", "25-0001", *DAY, "--json").json()

    assert [i["number"] for i in said["invoices"]] == ["25-0001"]


def test_a_job_that_does_not_exist_is_refused(lt: Lt, book: Path) -> None:
    """Wrong use, and nothing is issued for the others named beside it."""
    add(lt, book, "--repair", "GATE", "--state", "to invoice")
    before = book.read_bytes()

    ran = lt("invoice", book, "25-0001", "25-0077", *DAY)

    assert (ran.code, "25-0077" in ran.err, ran.out) == (2, True, "")
    assert book.read_bytes() == before


def test_a_job_not_due_is_an_error(lt: Lt, book: Path) -> None:
    """The book needs mending: exit 1, the state named."""
    add(lt, book, "--repair", "GATE", "--state", "halted")

    ran = lt("invoice", book, "25-0001", *DAY)

    assert (ran.code, "'halted'" in ran.err) == (1, True)


def test_errors_stand_on_stderr_results_on_stdout(lt: Lt, book: Path) -> None:
    """And a recompute with an error writes the rest, and ends with 1."""
    add(lt, book, "--repair", "GATE")
    add(lt, book, "--repair", "GATE")
    shop = Shop(book)
    shop.fill("25-0001", 1, actual="abc")
    shop.fill("25-0002", 1, actual="1h30")

    ran = lt("recompute", book, *DAY)

    assert ran.code == 1
    assert ran.out.startswith("1 job worked out.")
    assert "minutes" not in ran.out
    errors, notes = ran.err.splitlines()
    assert errors.startswith("error   shop.xlsx, sheet '25-0001', cell G12: 'abc'")
    assert notes.startswith("note    shop.xlsx, sheet '25-0002', cell G12: '1h30'")
    assert shop.value("25-0002", 1, "actual") == 90


def test_check_writes_nothing_and_says_what_recompute_would(lt: Lt, book: Path) -> None:
    """An error ends it with 1; the file and the folder stay as they are."""
    add(lt, book, "--repair", "GATE")
    Shop(book).fill("25-0001", 1, actual="abc")
    before = files_in(book.parent)

    ran = lt("check", book, *DAY)

    assert (ran.code, "recompute would write" in ran.out) == (1, True)
    assert files_in(book.parent) == before


def test_warnings_and_notes_end_with_0(lt: Lt, book: Path) -> None:
    """Only errors count for the exit code."""
    add(lt, book, customer="R. Calder")

    ran = lt("add-job", book, "--customer", "R. Caldar", "--item", "x", *DAY)

    assert ran.code == 0
    assert "much like 'R. Calder'" in ran.err


def test_a_broken_book_is_written_by_no_verb(lt: Lt, book: Path) -> None:
    """A missing header stops every verb that writes, with exit 1 and the header's name."""
    shop = Shop(book)
    place = next(p for p, v in shop.sheet("Jobs").values.items() if v == "Customer")
    shop.write("Jobs", {place: "Client"})
    before = files_in(book.parent)

    for words in (
        ("recompute", book), ("invoice", book), ("reprint", book), ("quarter", book, "2025-Q1"),
        ("year-end", book, "2025"), ("add-job", book, "--customer", "A", "--item", "b"),
    ):  # fmt: skip
        ran = lt(*words, *DAY)
        assert (ran.code, "'Customer'" in ran.err) == (1, True), words
    assert files_in(book.parent) == before


@pytest.mark.parametrize("verb", ["check", "recompute", "invoice", "reprint"])
def test_a_file_that_is_no_book(lt: Lt, tmp_path: Path, verb: str) -> None:
    """A workbook of another kind, a text, a missing file: said without a traceback."""
    (tmp_path / "notes.xlsx").write_text("dear diary", encoding="utf-8")
    other = openpyxl.Workbook()
    other.save(tmp_path / "other.xlsx")

    text, workbook, missing = (lt(verb, n) for n in ("notes.xlsx", "other.xlsx", "gone.xlsx"))

    assert (text.code, "notes.xlsx" in text.err) == (1, True)
    assert (workbook.code, "is not a shop book" in workbook.err) == (1, True)
    assert (missing.code, "does not exist" in missing.err) == (2, True)


def test_a_book_open_elsewhere_is_not_written(lt: Lt, book: Path) -> None:
    """The lock of a spreadsheet program is respected: exit 1, nothing changed."""
    add(lt, book, "--repair", "GATE")
    (book.parent / ".~lock.shop.xlsx#").write_text(",me,here,01.01.2025;", encoding="utf-8")
    before = book.read_bytes()

    ran = lt("recompute", book, "--today", "2025-03-09")

    assert ran.code == 1
    assert "open" in ran.err
    assert book.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("add-job", "shop.xlsx", "--item", "x"), "--customer"),
        (("add-job", "shop.xlsx", "--customer", "A"), "--item"),
        (("add-job", "shop.xlsx", "--customer", " ", "--item", "x"), "empty"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--state", "invoiced"),
         "invoiced"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--authorised", "-1"), "-1"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--authorised", "1,5"), "1,5"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--authorised", "1e99"),
         "1e99"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--authorised", "nan"), "nan"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--lines", "no.csv"),
         "no.csv"),
        (("add-job", "shop.xlsx", "--customer", "A", "--item", "x", "--state", "enquiry",
          "--authorised", "5"), "has no number"),
        (("check", "shop.xlsx", "--today", "03.02.2025"), "03.02.2025"),
        (("check",), "BOOK"),
        (("bill", "shop.xlsx"), "bill"),
        (("check", "shop.xlsx", "--dry"), "--dry"),
        (("new", "shop.ods"), ".xlsx"),
        (("quarter", "shop.xlsx", "Q1"), "Q1"),
    ],
)  # fmt: skip
def test_wrong_use_ends_with_2(lt: Lt, book: Path, words: tuple[str, ...], said: str) -> None:
    """What was wrong is named on stderr, nothing is on stdout, nothing is written."""
    before = files_in(book.parent)

    ran = lt(*words)

    assert (ran.code, ran.out) == (2, "")
    assert said in ran.err
    assert files_in(book.parent) == before


def test_an_unknown_repair_code_is_refused_with_those_there_are(lt: Lt, book: Path) -> None:
    """Nothing is written, no number is used up."""
    before = book.read_bytes()

    ran = lt("add-job", book, "--customer", "A", "--item", "x", "--repair", "TNK")

    assert ran.code == 2
    assert "'TNK'" in ran.err
    assert "TANK-WELD, TANK-LINE" in ran.err
    assert book.read_bytes() == before


@pytest.mark.parametrize(
    "state", ["estimated", "authorised", "in work", "halted", "to invoice", "declined", "void"]
)
def test_a_job_may_be_opened_in_any_state_but_enquiry_with_a_number(
    lt: Lt, book: Path, state: str
) -> None:
    """The state stands in Jobs and on the sheet."""
    add(lt, book, "--repair", "GATE", "--state", state)

    shop = Shop(book)
    assert shop.head("25-0001", "stands") == state


def test_an_enquiry_is_a_row_and_no_more(lt: Lt, book: Path) -> None:
    """Said so; no number, no sheet, and the row is there."""
    said = add(lt, book, "--state", "enquiry", customer="Ann Bell")

    shop = Shop(book)
    assert said.startswith("No number given.")
    assert "25-0001" not in [s.name for s in shop.snapshot().sheets]
    assert shop.sheet("Jobs").values[5, 3] == "Ann Bell"


def test_the_first_authorisation_is_the_ceiling(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """It binds invoice: a cent less and the job is held back, the same amount and it goes out."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice", "--authorised", "49.99")
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice", "--authorised", "50.00")

    ran = lt("invoice", book, *DAY, "--json")

    said = ran.json()
    assert ran.code == 1
    assert [i["job"] for i in said["invoices"]] == ["25-0002"]
    assert {f["code"] for f in said["findings"]} == {"above-ceiling"}


def test_new_makes_the_same_bytes_and_never_over_a_file(lt: Lt, tmp_path: Path) -> None:
    """Two books of one day are alike; a file that is there is left alone."""
    lt("new", "one.xlsx", *DAY)
    lt("new", "two.xlsx", *DAY)
    (tmp_path / "mine.xlsx").write_text("mine", encoding="utf-8")

    refused = lt("new", "mine.xlsx", *DAY)

    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    assert (refused.code, (tmp_path / "mine.xlsx").read_text(encoding="utf-8")) == (2, "mine")


def test_a_recompute_with_nothing_to_do_leaves_the_file(lt: Lt, book: Path) -> None:
    """Not a byte changes and no backup is made."""
    add(lt, book, "--repair", "GATE")
    before = files_in(book.parent)

    ran = lt("recompute", book, *DAY)

    assert ran.out == "1 job worked out. Wrote nothing.\n"
    assert files_in(book.parent) == before


def test_help_names_every_verb_with_an_example(lt: Lt) -> None:
    """The list, and for each verb a line to paste."""
    listed = lt("--help").out
    for verb in ("new", "add-job", "recompute", "check", "invoice", "reprint", "quarter"):
        assert f"  {verb} " in listed
        assert f"ledger-tools {verb} " in lt(verb, "--help").out
    assert lt("--version").out.startswith("ledger-tools")


def test_check_loads_nothing_heavy(lt: Lt, book: Path) -> None:
    """A small book is checked at once: no spreadsheet library, no printing, no YAML, no JSON."""
    add(lt, book, "--repair", "GATE")
    code = (
        "import sys\n"
        "from ledger_tools.commands.main import main\n"
        f"sys.argv = ['ledger-tools', 'check', {str(book)!r}, '--today', '2025-03-03']\n"
        "try:\n    main()\nexcept SystemExit as stop:\n    assert not stop.code, stop.code\n"
        f"print(sorted(set({FORBIDDEN!r}) & set(sys.modules)))\n"
    )
    root = Path(__file__).parents[2]

    ran = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=root
    )

    assert ran.stdout.splitlines()[-1] == "[]"


@settings(
    max_examples=25,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    st.text(
        st.characters(codec="utf-8", exclude_categories=["Cs", "Cc", "Zs", "Zl", "Zp"]),
        min_size=1,
        max_size=40,
    )
)
def test_any_name_comes_back_as_it_was_given(
    tmp_path: Path, new_books: dict[str, bytes], name: str
) -> None:
    """Whatever letters a customer is called by: the book holds that text, and no formula."""
    path = tmp_path / "shop.xlsx"
    path.write_bytes(new_books["none"])
    shop = Shop(path)

    shop.add(customer=name, item=name)

    (job,) = shop.parsed().book.jobs
    assert (job.customer, job.item) == (name, name)
    assert shop.recompute().plan.operations == ()


def test_papers_that_cannot_be_made_are_made_by_the_next_invoice(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """The numbers are saved and said; the next run makes the papers and no invoice."""
    for _ in range(2):
        add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    in_the_way = book.parent / "invoices"
    in_the_way.write_text("a file", encoding="utf-8")

    first = lt("invoice", book, *DAY)
    in_the_way.unlink()
    would = lt("invoice", book, *DAY, "--dry-run", "--json").json()
    second = lt("invoice", book, *DAY, "--json").json()
    third = lt("invoice", book, *DAY)

    assert first.code == 1
    assert "Issued 25-0001" in first.out
    assert "The papers of 25-0001, 25-0002 are not made" in first.err
    assert would == second
    assert second["invoices"] == []
    assert [f["code"] for f in second["findings"]] == ["papers-late"]
    assert [name.rpartition("/")[2] for name in second["files"]] == [
        "invoice-25-0001.pdf", "invoice-25-0001.xlsx",
        "invoice-25-0002.pdf", "invoice-25-0002.xlsx",
    ]  # fmt: skip
    assert len(files_in(in_the_way)) == 4
    assert (third.code, third.out, third.err) == (0, "No job is to be invoiced.\n", "")


def test_papers_that_the_owner_put_elsewhere_are_not_made_again(
    lt: Lt, book: Path, lines: Callable[[str], Path]
) -> None:
    """Only a run that was cut off leaves papers to be made."""
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")
    lt("invoice", book, *DAY)
    (book.parent / "invoices").rename(book.parent / "filed")
    add(lt, book, "--lines", lines(FEE), "--state", "to invoice")

    ran = lt("invoice", book, *DAY)

    assert ran.code == 0
    assert set(files_in(book.parent / "invoices")) == {
        "invoice-25-0002.pdf", "invoice-25-0002.xlsx",
    }  # fmt: skip


def test_names_cannot_steer_the_terminal(lt: Lt, book: Path) -> None:
    """A customer's name with escapes, or with lines that look like findings, is shown as marks."""
    add(lt, book, customer="Ann Bell")
    name = b"Ann_x001B_]0;mine_x0007_&#10;error   all is lost&#x202E;knil"
    parts = read_parts(book)
    jobs = "xl/worksheets/sheet2.xml"
    assert b"<t>Ann Bell<" in parts[jobs]
    parts[jobs] = parts[jobs].replace(b"<t>Ann Bell<", b"<t>" + name + b"<")
    write_parts(book, parts)

    ran = lt("check", book, *DAY)

    assert "'Ann\ufffd]0;mine\ufffd\ufffderror   all is lost\ufffdknil' was added" in ran.err
    assert not set(ran.err) & set("\x1b\x07\u202e")
    assert [line[:7] for line in ran.err.splitlines()] == ["note   "]


@pytest.mark.parametrize("words", [("check",), ("recompute", "--dry-run"), ("recompute",)])
def test_a_sheet_of_the_owners_with_the_name_of_the_next_job_is_named(
    lt: Lt, book: Path, words: tuple[str, ...]
) -> None:
    """What only looks says the same as what writes, and nothing is written."""
    own = (AddSheet("25-0001", SheetKind.JOB, {}, rows=1, table="Own"),)
    book.write_bytes(patched_book(book.read_bytes(), book.name, Plan(own)))
    Shop(book).type_job(1, customer="R. Calder", item="Pan", repair="OIL-PAN")
    before = book.read_bytes()

    ran = lt(words[0], book.name, *words[1:], *DAY)

    assert ran.code == 1
    assert "sheet '25-0001': a sheet of this name is to be added" in ran.err
    assert book.read_bytes() == before


def test_a_name_with_no_room_for_its_lock_file_is_said(lt: Lt, book: Path) -> None:
    """Lock files have names longer than that of the book; nothing is written."""
    Shop(book).type_job(1, customer="R. Calder", item="Pan")
    long = book.rename(book.with_name("n" * 245 + ".xlsx"))
    before = files_in(long.parent)

    ran = lt("recompute", long.name)

    assert (ran.code, "the book cannot be written (File name too long)" in ran.err) == (2, True)
    assert files_in(long.parent) == before


@pytest.mark.parametrize("verb", ["new", "next-year"])
def test_a_new_book_with_too_long_a_name_is_said(lt: Lt, book: Path, verb: str) -> None:
    """No disk has room for a name of 300 letters."""
    old = [book.name] if verb == "next-year" else []

    ran = lt(verb, *old, "n" * 295 + ".xlsx")

    assert (ran.code, "the file cannot be written (File name too long)" in ran.err) == (2, True)
