"""Once is as good as twice: a book worked out again, an invoice read back and printed again."""

from functools import partial
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from ledger_tools.book.work import work_out
from ledger_tools.documents.invoice import invoice_pdf
from ledger_tools.documents.invoice_sheet import invoice_workbook
from ledger_tools.documents.texts import invoice_wording
from ledger_tools.hours import HourPolicy
from ledger_tools.settings import load_texts
from ledger_tools.settings.lines_file import read_lines
from ledger_tools.shop.issue import issue_invoices
from tests.book.shop import Shop
from tests.reckoning import csv_of, rows_by_chance, rules

PROFILES = st.sampled_from(["none", "us-ca", "gb", "ca-qc"])
POLICIES = st.builds(
    HourPolicy,
    st.sampled_from([1, 5, 6, 10, 15]),
    st.sampled_from(["nearest", "up"]),
    st.sampled_from(["job", "line"]),
)
CHANCE = st.randoms(use_true_random=False)


def _opened(folder: Path, profile: str, policy: HourPolicy, chance: Random) -> Shop:
    """Return a shop with two jobs to be invoiced, their lines by chance."""
    shop, file = Shop.new(folder, profile, policy), folder / "lines.csv"
    for _ in range(2):
        rows = rows_by_chance(chance, rules(profile, *policy))
        file.write_text(csv_of(rows), encoding="utf-8")
        shop.add(item="Tank", state="to invoice", lines=read_lines(file))
    return shop


@settings(max_examples=5, deadline=None)
@given(profile=PROFILES, policy=POLICIES, chance=CHANCE)
def test_recompute_twice_changes_nothing(profile: str, policy: HourPolicy, chance: Random) -> None:
    """Whatever the lines: the second run has nothing to write and leaves the same bytes."""
    with TemporaryDirectory() as folder:
        shop = _opened(Path(folder), profile, policy, chance)
        shop.invoice()
        shop.recompute()
        before = shop.path.read_bytes()

        again = shop.recompute()

        assert again.plan.operations == ()
        assert shop.path.read_bytes() == before


@settings(max_examples=4, deadline=None)
@given(profile=PROFILES, policy=POLICIES, chance=CHANCE)
def test_an_invoice_read_back_prints_the_same_bytes(
    profile: str, policy: HourPolicy, chance: Random
) -> None:
    """What the registers kept is the invoice as issued, to the last digit and letter."""
    with TemporaryDirectory() as folder:
        shop = _opened(Path(folder), profile, policy, chance)
        session, own = shop.session(), shop.parsed().book.settings
        texts = load_texts(own.language)
        issue = partial(
            issue_invoices, wording=lambda customer, _: invoice_wording(own, customer, texts)
        )
        outcome = work_out(session.snapshot, as_of=shop.today, issue=issue)
        session.save(outcome)

        kept = shop.parsed().book.invoices

        assert kept == outcome.book.invoices
        for number, issued in outcome.book.invoices.items():
            assert invoice_workbook(kept[number]) == invoice_workbook(issued)
            assert invoice_pdf(kept[number]) == invoice_pdf(issued)
