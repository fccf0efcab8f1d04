"""Which jobs may be archived, and what stays of them."""

from collections.abc import Mapping
from dataclasses import replace
from decimal import Decimal

from ledger_tools.costing.lines import Kind
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.closing import Chosen, to_archive, with_archived
from ledger_tools.shop.issue import issue_invoices, with_invoices
from ledger_tools.shop.model import Customer, Job, ShopBook
from tests.shop.examples import book_of, decided, goods, job_of, paid, results_of, work

PAID, OWING, OPEN = "25-0001", "25-0002", "25-0003"


def _wording(customer: Customer, job: Job) -> Mapping[str, str]:
    return {"customer": customer.name, "job": job.number}


def _book() -> ShopBook:
    """Return a book with a job paid, a job billed and a job in work."""
    jobs = [
        replace(job_of(work(1, 64), goods(2, Kind.PART, "1", "20.00")), number=number, row=n + 5)
        for n, number in enumerate((PAID, OWING, OPEN))
    ]
    jobs[2] = replace(jobs[2], state="in work")
    book = book_of("ca-qc", *jobs)
    book = with_invoices(book, issue_invoices(results_of(book), book, _wording))
    return paid(book, str(book.invoices["25-0001"].total), "25-0001")


def _said(chosen: Chosen) -> list[tuple[str, str, str]]:
    return [(f.severity.value, f.code, f.job) for f in chosen.findings]


def test_all_paid_jobs_are_taken_without_a_word() -> None:
    """Jobs that are not named and not paid are nobody's mistake."""
    chosen = to_archive(results_of(_book()))

    assert chosen == Chosen((PAID,), ())


def test_a_cent_that_is_owing_keeps_a_job_in_the_book() -> None:
    """Paid means nothing is owing, not nearly nothing."""
    book = paid(_book(), "-0.01", "25-0001")

    assert to_archive(results_of(book)).jobs == ()
    assert to_archive(results_of(paid(book, "0.01", "25-0001"))).jobs == (PAID,)


def test_named_jobs_are_taken_or_refused_each_for_itself() -> None:
    """Where it stands is the reason; the sheet that cannot leave has its own."""
    results = results_of(_book())

    refused = to_archive(results, named=(OPEN, PAID, OWING))
    stays = to_archive(results, named=(PAID,), unfit={PAID: "it holds a picture"})

    assert refused.jobs == (PAID,)
    assert _said(refused) == [("error", "job-not-paid", OWING), ("error", "job-not-paid", OPEN)]
    assert "invoiced" in refused.findings[0].what
    assert _said(stays) == [("error", "sheet-stays", PAID)]
    assert "it holds a picture" in stays.findings[0].what
    assert stays.jobs == ()


def test_an_archived_job_is_not_taken_again() -> None:
    """Named again, it is a note."""
    book = with_archived(_book(), (PAID,), results_of(_book()))

    assert to_archive(results_of(book)).jobs == ()
    assert _said(to_archive(results_of(book), named=(PAID,))) == [("note", "job-archived", PAID)]


def test_an_archived_job_comes_to_what_it_came_to() -> None:
    """Neither the hour step nor a tax rule changed later has a say any more."""
    before = results_of(_book())[PAID]
    book = with_archived(_book(), (PAID,), results_of(_book()))
    book = decided(book, hours=HourPolicy(60, "up", "line"))
    book = replace(book, profile=book.profile._replace(rates=book.profile.rates[:1]))
    taxed = {kind: frozenset({"GST"}) for kind in book.profile.taxable}
    book = replace(book, profile=book.profile._replace(taxable=taxed))

    after = results_of(book)[PAID]

    assert (after.subtotal, after.taxes, after.total) == (
        before.subtotal, before.taxes, before.total,
    )  # fmt: skip
    assert (after.billed_hours, after.billed) == (before.billed_hours, before.billed)
    assert after.stands == "archived"


def test_money_given_back_makes_it_stand_open() -> None:
    """What is owing follows the payments, archived or not."""
    book = with_archived(_book(), (PAID,), results_of(_book()))

    result = results_of(paid(book, "-5", "25-0001"))[PAID]

    assert (result.stands, result.balance) == ("invoiced", Decimal("5.00"))


def test_an_archived_job_without_invoice_is_not_billed_again() -> None:
    """Its typed state is still 'to invoice'; an invoice deleted by hand does not revive it."""
    book = with_archived(_book(), (PAID,), results_of(_book()))

    assert results_of(replace(book, invoices={}))[PAID].stands == "archived"
