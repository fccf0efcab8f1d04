"""The verb `estimate` as a person uses it, and what the sheet Estimates makes of an acceptance."""

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from ledger_tools.book.layout import AUTHORISATIONS_TABLE, JOBS_TABLE
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.registers import ESTIMATE_LINES_TABLE, ESTIMATES_TABLE
from ledger_tools.documents.pending import pending
from tests import libreoffice
from tests.book.shop import Shop, Typed
from tests.commands.conftest import Lt, files_in

DAY = ("--today", "2025-03-03")
HEAD = "kind,description,quantity,unit_price,vendor\n"
LINES = HEAD + "labour,Weld,1.6,100,\nsublet,Line,1,84.50,Harbour Coatings\n"
NUMBER = "25-0001/1"


@pytest.fixture
def waiting(lt: Lt, taxed_book: Path, lines: Callable[[str], Path]) -> Path:
    """Return a book with two taxes in which one job waits for the customer's yes."""
    ran = lt(
        "add-job", taxed_book, "--customer", "Ann Bell", "--item", "Tank", "--lines",
        lines(LINES), "--state", "estimated", *DAY,
    )  # fmt: skip
    assert ran.code == 0, ran.err
    return taxed_book


def test_an_estimate_is_written_kept_and_told(lt: Lt, waiting: Path) -> None:
    """JSON says number, days and money; both papers are there; the register holds the same."""
    ran = lt("estimate", waiting, "--json", *DAY)

    (told,) = ran.json()["estimates"]
    assert {k: told[k] for k in ("number", "job", "date", "valid_until")} == {
        "number": NUMBER, "job": "25-0001", "date": "2025-03-03", "valid_until": "2025-04-02",
    }  # fmt: skip
    # By hand: 160 + 84.50 = 244.50; 5 % is 12.225, 9.975 % is 24.388...
    assert (told["subtotal"], told["tax"], told["total"]) == ("244.50", "36.62", "281.12")
    assert [t["amount"] for t in told["taxes"]] == ["12.23", "24.39"]
    assert told["files"] == [f"estimates/estimate-25-0001-1{end}" for end in (".pdf", ".xlsx")]
    assert all(Path(file).is_file() for file in told["files"])
    kept = Shop(waiting)
    assert [kept.value(ESTIMATES_TABLE, 1, k) for k in ("number", "total", "stands")] == [
        NUMBER, 281.12, "open",
    ]  # fmt: skip
    assert [kept.value(ESTIMATE_LINES_TABLE, n, "amount") for n in (1, 2, 3, 4)] == [
        160, 84.5, 12.23, 24.39,
    ]  # fmt: skip


def test_the_same_revision_prints_the_same_bytes(lt: Lt, waiting: Path, tmp_path: Path) -> None:
    """Named again on another day, and by `reprint` after the shop moved, nothing differs."""
    lt("estimate", waiting, *DAY)
    first = files_in(tmp_path / "estimates")

    assert lt("estimate", waiting, "--today", "2025-03-04").out == "No job needs a new estimate.\n"
    Shop(waiting).decide("shop_address", "Elsewhere 5")
    again = lt("estimate", waiting, "25-0001", "--out", "named", "--today", "2025-03-09")
    lt("reprint", waiting, NUMBER, "--out", "again", "--today", "2025-05-09")

    assert "25-0001/1 again" in again.out
    assert files_in(tmp_path / "named") == first == files_in(tmp_path / "again")


def test_changed_lines_are_the_next_revision(lt: Lt, waiting: Path, tmp_path: Path) -> None:
    """The first one stays in the book and on the disk, and is printed again as it was."""
    lt("estimate", waiting, *DAY)
    first = files_in(tmp_path / "estimates")
    Shop(waiting).fill("25-0001", 1, estimate=120)

    ran = lt("estimate", waiting, "--today", "2025-03-04")
    lt("reprint", waiting, NUMBER, "--out", "again", *DAY)

    assert "Wrote estimate 25-0001/2: Ann Bell, 327.11 CAD" in ran.out
    assert first.items() < files_in(tmp_path / "estimates").items()
    assert files_in(tmp_path / "again") == first
    shop = Shop(waiting)
    rows = [shop.value(ESTIMATES_TABLE, n, "stands") for n in (1, 2)]
    assert rows == ["replaced", "open"]


def test_a_dry_run_writes_nothing(lt: Lt, waiting: Path, tmp_path: Path) -> None:
    """It names the files there would be."""
    before = files_in(tmp_path)

    ran = lt("estimate", waiting, "--dry-run", "--json", *DAY)

    assert "estimates/estimate-25-0001-1.pdf" in ran.json()["files"]
    assert files_in(tmp_path) == before


def test_papers_that_are_there_are_not_written_over(lt: Lt, waiting: Path) -> None:
    """A book taken from a backup gives no revision a second time."""
    old = waiting.read_bytes()
    lt("estimate", waiting, *DAY)
    waiting.write_bytes(old)

    ran = lt("estimate", waiting, *DAY)

    assert (ran.code, waiting.read_bytes() == old) == (2, True)
    assert "the papers of 25-0001/1 are there already" in ran.err


def test_an_unknown_job_is_refused(lt: Lt, waiting: Path) -> None:
    """Nothing is written for the others either."""
    ran = lt("estimate", waiting, "25-0009", *DAY)

    assert ran.code == 2
    assert "there is no job 25-0009" in ran.err


def test_papers_left_out_are_made_by_the_next_run(lt: Lt, waiting: Path, tmp_path: Path) -> None:
    """`invoice` leaves the note of them alone, and the next `estimate` makes them."""
    (tmp_path / "estimates").write_bytes(b"in the way")
    failed = lt("estimate", waiting, *DAY)
    assert (failed.code, pending(waiting)) == (1, (NUMBER,))
    (tmp_path / "estimates").unlink()

    assert lt("invoice", waiting, *DAY).code == 0
    assert pending(waiting) == (NUMBER,)
    ran = lt("estimate", waiting, *DAY)

    assert "25-0001/1: an earlier run was cut off" in ran.err
    assert sorted(files_in(tmp_path / "estimates")) == [
        "estimate-25-0001-1.pdf", "estimate-25-0001-1.xlsx",
    ]  # fmt: skip
    assert pending(waiting) == ()


def test_an_acceptance_becomes_an_authorisation_once(lt: Lt, waiting: Path) -> None:
    """The row, the ceiling and the note come with the first recompute; the state stays typed."""
    lt("estimate", waiting, *DAY)
    shop = Shop(waiting)
    shop.fill(
        ESTIMATES_TABLE, 1,
        accepted_on=date(2025, 3, 5), accepted_by="Ann Bell", accepted_how="Telephone",
    )  # fmt: skip

    ran = lt("recompute", waiting, "--json", "--today", "2025-03-06")

    said = {f["code"]: (f["sheet"], f["cell"]) for f in ran.json()["findings"]}
    cell = ("Estimates", shop.cell(ESTIMATES_TABLE, 1, "accepted_on"))
    assert said["authorised-by-estimate"] == said["estimate-accepted"] == cell
    assert ran.json()["jobs"][0]["ceiling"] == "281.12"
    keys = ("job", "amount", "who", "how", "scope")
    assert [shop.value(AUTHORISATIONS_TABLE, 1, key) for key in keys] == [
        "25-0001", 281.12, "Ann Bell", "telephone", "Estimate 25-0001/1",
    ]  # fmt: skip
    assert shop.value(ESTIMATES_TABLE, 1, "stands") == "accepted"
    assert shop.value(JOBS_TABLE, 1, "state") == "estimated"
    after = waiting.read_bytes()
    again = lt("recompute", waiting, "--json", "--today", "2025-03-06").json()
    assert [f["code"] for f in again["findings"]] == ["estimate-accepted"]
    assert waiting.read_bytes() == after


@pytest.mark.parametrize(
    ("typed", "code", "key"),
    [
        ({"accepted_on": date(2025, 3, 2)}, "accepted-before", "accepted_on"),
        ({"accepted_by": "Ann"}, "acceptance-undated", "accepted_on"),
        ({"accepted_on": "soon"}, "date-unreadable", "accepted_on"),
        ({"accepted_on": date(2025, 3, 5), "accepted_how": "owl"}, "reached-unknown",
         "accepted_how"),
    ],
)  # fmt: skip
def test_an_acceptance_that_cannot_be_is_an_error_at_its_cell(
    lt: Lt, waiting: Path, typed: dict[str, date | str], code: str, key: str
) -> None:
    """No authorisation is written from it."""
    lt("estimate", waiting, *DAY)
    shop = Shop(waiting)
    shop.fill(ESTIMATES_TABLE, 1, **typed)

    ran = lt("recompute", waiting, "--json", *DAY)

    errors = [(f["code"], f["cell"]) for f in ran.json()["findings"] if f["severity"] == "error"]
    assert errors == [(code, shop.cell(ESTIMATES_TABLE, 1, key))]
    assert ran.json()["jobs"][0]["ceiling"] is None


def test_rows_that_do_not_add_up_are_named(lt: Lt, waiting: Path) -> None:
    """At the sum in question; the estimate is still printed as it is kept."""
    lt("estimate", waiting, *DAY)
    shop = Shop(waiting)
    shop.fill(ESTIMATE_LINES_TABLE, 1, amount=1)

    found = lt("reprint", waiting, NUMBER, "--json", *DAY).json()["findings"]

    assert [(f["code"], f["severity"], f["cell"]) for f in found] == [
        ("estimate-sum", "warning", shop.cell(ESTIMATES_TABLE, 1, "subtotal"))
    ]
    assert "Estimate 25-0001/1: the net amount kept is 244.50" in found[0]["what"]


def test_an_estimate_that_lost_its_row_is_not_given_again(lt: Lt, waiting: Path) -> None:
    """Its lines are there still and name the job, which gets no estimate."""
    lt("estimate", waiting, *DAY)
    shop = Shop(waiting)
    columns = shop.grid(ESTIMATES_TABLE).columns
    shop.fill(ESTIMATES_TABLE, 1, **dict.fromkeys(columns))

    ran = lt("estimate", waiting, "--json", *DAY)

    said = [(f["code"], f["sheet"], f["cell"]) for f in ran.json()["findings"]]
    first = shop.cell(ESTIMATE_LINES_TABLE, 1, "estimate")
    assert ("estimate-row-missing", "Estimate lines", first) in said
    assert ran.json()["estimates"] == []


def test_a_row_that_names_no_job_stops_new_estimates_only(lt: Lt, waiting: Path) -> None:
    """A revision could be given twice; the book is worked out all the same."""
    lt("estimate", waiting, *DAY)
    Shop(waiting).fill(ESTIMATES_TABLE, 1, number=None, job=None)
    Shop(waiting).fill("25-0001", 1, estimate=120)

    ran = lt("estimate", waiting, "--json", *DAY)

    assert ran.code == 1
    assert "nothing-estimated" in [f["code"] for f in ran.json()["findings"]]
    assert ran.json()["estimates"] == []
    assert lt("recompute", waiting, "--json", *DAY).json()["jobs"][0]["estimate_net"] == "284.50"


def test_a_new_year_takes_the_estimates_of_open_jobs_along(lt: Lt, waiting: Path) -> None:
    """With their acceptance, every word and line, and no second authorisation."""
    lt("estimate", waiting, *DAY)
    Shop(waiting).fill(
        ESTIMATES_TABLE, 1,
        accepted_on=date(2025, 3, 5), accepted_by="Ann", accepted_how="mail",
    )  # fmt: skip
    lt("recompute", waiting, "--today", "2025-12-30")
    old = Shop(waiting).parsed().book

    ran = lt("next-year", waiting, "new.xlsx", "--today", "2026-01-02")

    assert ran.code == 0, ran.err
    new = Shop(Path("new.xlsx")).parsed().book
    assert new.estimates == old.estimates
    assert len(new.authorisations) == len(old.authorisations) == 1


def test_a_book_older_than_the_settings_still_writes_estimates(lt: Lt, waiting: Path) -> None:
    """Empty cells on Start mean 30 days, no deposit and no terms."""
    shop = Shop(waiting)
    for name in ("valid_days", "deposit_percent", "assumptions", "exclusions"):
        shop.decide(f"shop_{name}", None)

    (told,) = lt("estimate", waiting, "--json", *DAY).json()["estimates"]

    assert told["valid_until"] == "2025-04-02"
    estimate = shop.parsed().book.estimates[NUMBER]
    assert (estimate.deposit, estimate.wording["assumptions"]) == (0, "")


def test_options_are_printed_chosen_and_printed_again(
    lt: Lt, waiting: Path, tmp_path: Path
) -> None:
    """The choice made and the prices changed since, an estimate is the bytes it was."""
    shop = Shop(waiting)
    shop.decide("shop_offer_options", "yes")
    lt("recompute", waiting, *DAY)
    rows: list[dict[str, Typed]] = [
        {"job": "25-0001", "option": "A", "kind": "weld and reseal", "advised": "yes"},
        {"job": "25-0001", "option": "B", "kind": "replace new", "price": 640},
    ]
    shop.fill_rows(OPTIONS_TABLE, 1, rows)
    lt("estimate", waiting, *DAY)
    first = files_in(tmp_path / "estimates")
    shop.fill(
        ESTIMATES_TABLE, 1, accepted_on=date(2025, 3, 5), accepted_by="Ann Bell",
        accepted_how="mail", accepted_option="B",
    )  # fmt: skip

    ran = lt("recompute", waiting, "--json", "--today", "2025-03-06")
    shop.fill(OPTIONS_TABLE, 2, price=700)
    shop.fill("25-0001", 1, estimate=240)
    lt("recompute", waiting, "--today", "2025-03-06")
    lt("reprint", waiting, NUMBER, "--out", "again", "--today", "2025-03-09")

    assert ran.json()["jobs"][0]["ceiling"] == "640.00"
    assert files_in(tmp_path / "again") == first
    assert shop.value(OPTIONS_TABLE, 2, "stands") == "chosen against advice"
    assert shop.value(OPTIONS_TABLE, 1, "comes_to") == 281.12


def test_too_many_options_print_no_estimate(lt: Lt, waiting: Path) -> None:
    """The error names the sheet, and nothing is numbered."""
    shop = Shop(waiting)
    shop.decide("shop_offer_options", "yes")
    lt("recompute", waiting, *DAY)
    rows: list[dict[str, Typed]] = [
        {"job": "25-0001", "option": o, "kind": "line", "price": 1} for o in "ABCDEF"
    ]
    shop.fill_rows(OPTIONS_TABLE, 1, rows)

    ran = lt("estimate", waiting, "--json", *DAY)

    assert (ran.code, ran.json()["estimates"]) == (1, [])
    assert [f["code"] for f in ran.json()["findings"]] == ["options-too-many"]


@pytest.mark.libreoffice
def test_libreoffice_sees_where_estimates_stand(lt: Lt, waiting: Path, tmp_path: Path) -> None:
    """Replaced, accepted and expired are computed there as here."""
    lt("estimate", waiting, *DAY)
    shop = Shop(waiting)
    shop.fill("25-0001", 1, estimate=120)
    lt("estimate", waiting, *DAY)
    shop.fill("25-0001", 1, estimate=180)
    lt("estimate", waiting, *DAY)
    shop.fill(ESTIMATES_TABLE, 1, accepted_on=date(2025, 3, 3))
    lt("recompute", waiting, "--today", "2025-04-03")
    ours = [shop.value(ESTIMATES_TABLE, n, "stands") for n in (1, 2, 3)]

    theirs = libreoffice.recalculated(waiting, tmp_path / "lo")["Estimates"]

    cells = [shop.cell(ESTIMATES_TABLE, n, "stands") for n in (1, 2, 3)]
    assert [theirs[cell] for cell in cells] == ours == ["accepted", "replaced", "expired"]
