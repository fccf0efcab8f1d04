"""`estimate`: write estimates for the jobs that wait for the customer's yes."""

from collections.abc import Mapping
from contextlib import nullcontext
from datetime import date
from pathlib import Path

import click

from ledger_tools.book.work import Promise
from ledger_tools.commands import options
from ledger_tools.commands.papers import own_turn
from ledger_tools.commands.promising import texts_of, valid_days, write_promised
from ledger_tools.commands.report import Report
from ledger_tools.shop.guarantee import law_for
from ledger_tools.shop.model import Customer, ShopBook
from ledger_tools.shop.options import offers_of
from ledger_tools.shop.promise import Promised, write_estimates
from ledger_tools.shop.results import JobResult


def _promise(book: Path, jobs: tuple[str, ...], valid: int | None) -> Promise:
    from ledger_tools.documents.fingerprint import fingerprint
    from ledger_tools.documents.terms import Grounds, estimate_terms
    from ledger_tools.documents.texts import (
        ESTIMATE_LABELS,
        OPTION_LABELS,
        estimate_wording,
        text_findings,
        with_basis,
    )

    def promise(results: Mapping[str, JobResult], shop: ShopBook) -> Promised:
        texts = texts_of(shop, book)

        def wording(customer: Customer, result: JobResult) -> Mapping[str, str]:
            taxed = any(tax.base and tax.rate for tax in result.estimate_taxes)
            offers = offers_of(result, shop)
            law = law_for(result.job.object_class, shop.as_of, shop)
            terms = estimate_terms(shop.settings, texts, Grounds(result.job, law, taxed=taxed))
            words = with_basis(
                estimate_wording(shop.settings, customer, texts, taxed=taxed, offers=offers),
                result.job.basis,
                texts,
            )
            return words | terms

        promised = write_estimates(
            results, shop, wording, named=jobs, valid_days=valid, fingerprint=fingerprint()
        )
        offering = any(estimate.offers for estimate in promised.new)
        needed = (*ESTIMATE_LABELS, *OPTION_LABELS) if offering else ESTIMATE_LABELS
        lacking = text_findings(shop.settings.language, texts, needed)
        return promised._replace(findings=(*promised.findings, *lacking))

    return promise


@click.command(name="estimate")
@options.book
@click.argument("jobs", nargs=-1, metavar="[JOB]...")
@valid_days
@options.out("estimates")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    jobs: tuple[str, ...],
    valid: int | None,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Write an estimate for every job in state 'estimated', or for the jobs named.

    Each goes out as PDF and .xlsx, numbered by job and revision: 25-0007/1. Where the lines, the
    item or the customer changed, the next revision is written and the old ones stay; where
    nothing changed, nothing is written. For a job that is named and did not change, the last
    revision is printed again, byte for byte; one that ran out unaccepted gets a new date.

    The revision is saved in the book first, the papers are made second: if anything stops in
    between, the next `estimate` makes the papers that are missing.

    When the customer accepts, type the day, who and how in the sheet Estimates: `recompute`
    writes the job's first authorisation from it. Options of the job in the sheet Options are
    printed side by side; then type the letter of the one that was chosen, too.

    \b
    Example:
      ledger-tools estimate shop-2025.xlsx
      ledger-tools estimate shop-2025.xlsx 25-0007 --valid 14
    """
    folder = out or book.parent / "estimates"
    report = Report(as_json=as_json)
    with nullcontext() if dry_run else own_turn(book):
        return write_promised(
            book, _promise(book, jobs, valid), folder, today, jobs=jobs, report=report,
            verb="estimate", none="No job needs a new estimate.", dry_run=dry_run,
        )  # fmt: skip
