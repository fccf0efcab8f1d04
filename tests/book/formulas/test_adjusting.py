"""Jobs billed otherwise than as worked: capped, fixed, minimum; live, on paper, in registers."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from random import Random

import openpyxl
import pytest

from ledger_tools.billing.basis import Basis
from ledger_tools.billing.tax import TaxProfile, TaxRate
from ledger_tools.book.create import create_book
from ledger_tools.book.job_layout import JOB_HIDDEN
from ledger_tools.book.layout import JOBS_TABLE
from ledger_tools.book.names import NAME_MINIMUM
from ledger_tools.book.registers import INVOICE_LINES_TABLE
from ledger_tools.book.work import Outcome
from ledger_tools.costing.lines import Kind, Line
from ledger_tools.errors import Severity
from ledger_tools.money import ZERO
from ledger_tools.shop.results import AT_CEILING, JobResult
from tests import libreoffice
from tests.book.shop import TODAY, Shop, Typed, by_code, only, seed
from tests.book.test_formulas import differences

D = Decimal
JOB = "25-0001"
THREE = (
    Line(1, Kind.LABOUR, "Weld", actual=D(90), price=D("80.00")),
    Line(2, Kind.PART, "Drain plug", unit="pc", actual=D(1), price=D("21.70")),
    Line(3, Kind.SUBLET, "Coating", unit="job", actual=D(1), price=D("95.30")),
)
"""Work of 237.00 net: 120.00, 21.70 and 95.30; in us-ca the part alone is taxed."""


def _shop(tmp_path: Path, authorised: str | None = None, **job: Typed) -> Shop:
    """Return a shop, no taxes, with one job of `THREE`."""
    shop = Shop.new(tmp_path)
    shop.add(lines=THREE, state="to invoice", authorised=authorised)
    if job:
        shop.type_job(1, **job)
    return shop


def _rows(shop: Shop) -> list[tuple[object, ...]]:
    """Return kind, words, amount and tax class of the rows that adjust an invoice."""
    keys = ("line_id", "kind", "description", "amount", "taxed_as")
    grid = shop.grid(INVOICE_LINES_TABLE)
    values = shop.sheet(grid.sheet).values
    rows = [tuple(values.get((r, grid.columns[k])) for k in keys) for r in grid.rows]
    return [row[1:] for row in rows if row[0] is None and row[1] != "tax" and row[1]]


def test_a_capped_job_is_written_down_to_its_ceiling(tmp_path: Path) -> None:
    """237 worked, 200 authorised: 37 less, in proportion, a row for each tax class."""
    shop = _shop(tmp_path, "200.00", basis="capped")
    outcome = shop.invoice()

    assert [i.total for i in outcome.book.invoices.values()] == [D("200.00")]
    assert _rows(shop) == [
        ("discount", "written_down: labour", -18.73, "labour"),
        ("discount", "written_down: part", -3.39, "part"),
        ("discount", "written_down: sublet", -14.88, "sublet"),
    ]
    assert shop.head(JOB, "net_billed"), shop.head(JOB, "to_bill") == (237, 200)
    assert only(outcome, "written-down").severity is Severity.WARNING


def test_an_actual_job_above_its_ceiling_is_refused(tmp_path: Path) -> None:
    """Nothing is written down unasked, and nothing is billed."""
    shop = _shop(tmp_path, "200.00")
    outcome = shop.invoice()

    assert outcome.invoices == ()
    assert only(outcome, "above-ceiling").severity is Severity.ERROR


@pytest.mark.parametrize(
    ("typed", "authorised", "total", "words"),
    [
        ({"agreed_price": D("250.00")}, None, "250.00", "fixed_price: labour"),
        ({"agreed_price": D("180.00")}, "200.00", "180.00", "fixed_price: labour"),
        ({}, "210.00", "210.00", "fixed_price: labour"),
        ({"agreed_price": D("237.00")}, None, "237.00", None),
    ],
)
def test_a_fixed_job_is_billed_at_its_price(
    tmp_path: Path, typed: Mapping[str, Typed], authorised: str | None, total: str, words: str
) -> None:
    """The agreed price, or else the authorised one, whatever was worked."""
    shop = _shop(tmp_path, authorised, basis="fixed", **typed)
    outcome = shop.invoice()

    assert [i.total for i in outcome.book.invoices.values()] == [D(total)]
    assert next((row[1] for row in _rows(shop)), None) == words
    assert outcome.results[JOB].actual_minutes == 90


def test_a_fixed_price_above_the_ceiling_is_refused(tmp_path: Path) -> None:
    """A price agreed beside a lower authorisation does not pass it."""
    shop = _shop(tmp_path, "200.00", basis="fixed", agreed_price=D("250.00"))
    outcome = shop.invoice()

    assert outcome.invoices == ()
    assert only(outcome, "above-ceiling").severity is Severity.ERROR


def test_a_fixed_job_without_price_is_refused(tmp_path: Path) -> None:
    """There is nothing to bill it at, and its flag says so."""
    shop = _shop(tmp_path, basis="fixed")
    outcome = shop.invoice()

    assert outcome.invoices == ()
    found = {f.severity for f in by_code(outcome, "fixed-without-price")}
    assert Severity.ERROR in found
    assert shop.value(JOBS_TABLE, 1, "flag") == "price?"


def test_the_minimum_is_charged_where_anything_is(tmp_path: Path) -> None:
    """A job of 237 comes up to a minimum of 240; one of nothing stays free."""
    shop = _shop(tmp_path)
    shop.add(lines=(replace(THREE[0], non_billable=D(90), reason="warranty"),), state="to invoice")
    shop.decide(NAME_MINIMUM, D("240.00"))
    outcome = shop.invoice()

    assert [i.total for i in outcome.book.invoices.values()] == [D("240.00"), D("0.00")]
    assert [row[:2] for row in _rows(shop)] == [
        ("fee", "minimum_charge: labour"),
        ("fee", "minimum_charge: part"),
        ("fee", "minimum_charge: sublet"),
    ]


def test_the_basis_is_read_kindly_and_echoed(tmp_path: Path) -> None:
    """Case is put right; another word is an error, an unused price a warning."""
    shop = _shop(tmp_path, "200.00", basis="Capped", agreed_price=D("10.00"))
    outcome = shop.recompute()

    assert shop.value(JOBS_TABLE, 1, "basis") == "capped"
    assert by_code(outcome, "agreed-price-unused")
    shop.type_job(1, basis="cheap")
    assert only(shop.check(), "basis-unknown").cell == shop.cell(JOBS_TABLE, 1, "basis")


def test_a_plain_job_carries_none_of_it(tmp_path: Path) -> None:
    """Its hidden columns are empty, and its sheet says at once when the basis is changed."""
    shop = _shop(tmp_path, "300.00")
    grid = shop.grid(JOB)
    values = shop.sheet(grid.sheet).values
    cols = [grid.columns[key] for key in JOB_HIDDEN]

    assert not [values[row, col] for row in grid.rows for col in cols if (row, col) in values]
    sheet = openpyxl.load_workbook(shop.path)[JOB]
    both = sheet.column_dimensions[sheet.cell(1, cols[0]).column_letter]
    assert (both.hidden, both.min, both.max) == (True, *cols)


@pytest.mark.libreoffice
def test_a_changed_basis_asks_for_recompute(tmp_path: Path) -> None:
    """Until then the sheet would go on as before; it says so live."""
    shop = _shop(tmp_path, "200.00")
    shop.recompute()
    shop.type_job(1, basis="capped")

    live = libreoffice.recalculated(shop.path, tmp_path)

    assert live[JOB]["A10"] == "above ceiling"
    shop.type_job(1, basis="fixed", agreed_price=D("100.00"))
    sheet = live["Jobs"]
    assert sheet[shop.cell(JOBS_TABLE, 1, "flag")] == "above ceiling"


def test_at_the_ceiling_the_sheet_says_so(tmp_path: Path) -> None:
    """A job in work that has reached what is authorised is flagged before it passes it."""
    shop = Shop.new(tmp_path)
    shop.add(lines=THREE, state="in work", authorised="237.00")
    shop.add(lines=THREE, state="to invoice", authorised="237.00")
    outcome = shop.recompute()

    assert [r.flag for r in outcome.results.values()] == [AT_CEILING, ""]


MIXED = TaxProfile(
    name="mixed", title="Three taxes", version="2025-01-01", currency="USD",
    rounding=seed().profile.rounding, components=("State", "City", "Road"),
    rates=tuple(
        TaxRate(name, TODAY, D(rate), "invented, for the sums alone")
        for name, rate in (("State", "0.0725"), ("City", "0.01375"), ("Road", "0.0499"))
    ),
    taxable={
        kind.value: frozenset(("State", "City", "Road")[: n % 4]) for n, kind in enumerate(Kind, 2)
    },
)  # fmt: skip
"""Taxes that fall on some kinds and not on others, so that shares matter."""


def _busy(path: Path, profile: str, minimum: str, *, jobs: int, start: int) -> Shop:
    """Return a book with many jobs of every basis, at random."""
    random = Random(start)  # noqa: S311 - the same jobs each time
    book = seed() if profile == "mixed" else seed(profile)
    settings = replace(
        book.settings, minimum_charge=D(minimum), authorised_with_tax=random.random() < 0.7
    )  # fmt: skip
    book = replace(book, settings=settings)
    if profile == "mixed":
        book = replace(book, profile=MIXED)
    path.write_bytes(create_book(book))
    shop = Shop(path)
    typed = []
    for _ in range(jobs):
        lines = tuple(_line(n, random) for n in range(1, random.randint(2, 8)))
        given = str(D(random.randint(3_000, 60_000)) / 100) if random.random() < 0.8 else None
        shop.add(lines=lines, state=random.choice(("in work", "to invoice")), authorised=given)
        typed.append(
            {
                "basis": random.choice(list(Basis)).value,
                "agreed_price": (
                    D(random.randint(100, 50_000)) / 100 if random.random() < 0.3 else None
                ),
            }
        )
    shop.fill_rows(JOBS_TABLE, 1, typed)
    return shop


def _line(n: int, random: Random) -> Line:
    kind = random.choice([Kind.LABOUR, Kind.LABOUR, *Kind])
    if kind is Kind.LABOUR:
        price = random.choice((D("80"), D("95.50"), D("33.33")))
        return Line(n, kind, "Work", actual=D(random.randint(1, 240)), price=price)
    most = 900 if kind is Kind.DISCOUNT else 9_999
    price = D(random.randint(1, most)) / 100
    return Line(n, kind, "Goods", unit="pc", actual=D(random.randint(1, 3)), price=price)


@pytest.mark.libreoffice
@pytest.mark.parametrize(
    ("profile", "minimum"),
    [("us-ca", "0"), ("ca-qc", "120"), ("gb", "95.50"), ("mixed", "60"), ("none", "0")],
)
def test_libreoffice_agrees_on_every_share_and_write_down(
    tmp_path: Path, profile: str, minimum: str
) -> None:
    """Every formula cell of a book of all bases, before the invoices and after."""
    shop = _busy(tmp_path / "shop.xlsx", profile, minimum, jobs=25, start=len(profile))
    first = shop.recompute()

    assert {r.bill.terms.basis for r in first.results.values() if r.bill} >= {"capped", "fixed"}
    assert sum(r.adjustment is not None for r in first.results.values()) > 5
    assert differences(shop.path, tmp_path) == []
    shop.invoice()
    assert differences(shop.path, tmp_path) == []
    assert shop.recompute().plan.operations == ()


def _passes(result: JobResult, outcome: Outcome) -> bool:
    """Whether an invoice comes to more than any of the job's authorisations allows."""
    invoice = outcome.book.invoices[result.invoice]
    with_tax = result.held_against != result.subtotal or not result.tax
    held = invoice.total if with_tax else invoice.subtotal
    return result.ceiling is not None and held > result.ceiling


@pytest.mark.parametrize("profile", ["us-ca", "ca-qc", "gb", "mixed", "none"])
def test_no_path_bills_above_a_binding_ceiling(tmp_path: Path, profile: str) -> None:
    """Of jobs of every basis with minimum and price, those billed keep to what is authorised.

    What was billed is what the lines came to and the rows that adjust it.
    """
    shop = _busy(tmp_path / "shop.xlsx", profile, "75.00", jobs=40, start=7)
    outcome = shop.invoice()
    billed = [r for r in outcome.results.values() if r.invoice]

    assert len(billed) > 5
    assert any(r.ceiling is not None and r.adjustment for r in billed)
    assert not [r.job.number for r in billed if _passes(r, outcome)]
    for result in billed:
        lines = outcome.book.invoices[result.invoice].lines
        worked = sum((line.amount for line in lines if not line.adjusts), ZERO)
        adjusted = sum((line.amount for line in lines if line.adjusts), ZERO)
        assert worked == result.worked
        assert worked + adjusted == outcome.book.invoices[result.invoice].subtotal
    assert not by_code(shop.recompute(), "invoice-differs")
