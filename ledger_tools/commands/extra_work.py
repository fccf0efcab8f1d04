"""`extra-work`: ask for more than was authorised, before it is worked."""

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
from ledger_tools.shop.extra_work import Standing, ask_for_extra
from ledger_tools.shop.model import Customer, ShopBook
from ledger_tools.shop.promise import Promised
from ledger_tools.shop.results import JobResult


def _promise(book: Path, job: str, found: tuple[str, ...], valid: int | None) -> Promise:
    from ledger_tools.documents.fingerprint import fingerprint
    from ledger_tools.documents.texts import REQUEST_LABELS, request_wording, text_findings

    said = tuple(line for text in found for line in text.splitlines() if line.strip())

    def promise(results: Mapping[str, JobResult], shop: ShopBook) -> Promised:
        texts = texts_of(shop, book)

        def wording(customer: Customer, before: Standing, taxed: bool) -> Mapping[str, str]:  # noqa: FBT001 - told by the type
            return request_wording(shop.settings, customer, texts, before, taxed=taxed)

        promised = ask_for_extra(
            results, shop, wording, job=job, found=said, valid_days=valid,
            fingerprint=fingerprint(),
        )  # fmt: skip
        lacking = text_findings(shop.settings.language, texts, REQUEST_LABELS)
        return promised._replace(findings=(*promised.findings, *lacking))

    return promise


@click.command(name="extra-work")
@options.book
@click.argument("job", metavar="JOB")
@click.option(
    "--found", multiple=True, metavar="TEXT", help="What was found; may be given more than once."
)
@valid_days
@options.out("estimates")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    job: str,
    found: tuple[str, ...],
    valid: int | None,
    out: Path | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Write a request for extra work: what was found, new lines, new total, room for consent.

    Enter the extra work on the job sheet first, under Estimate. The request is the next paper
    of the job, such as 25-0007/2, as PDF and .xlsx. It sets what every line is expected to come
    to (the larger of its estimate and what is worked so far) beside what was agreed, and the new
    total beside what was authorised. Where nothing changed since the last request, that one is
    printed again, byte for byte.

    Type the answer in the sheet Estimates. Where the request is accepted (day, who, how),
    `recompute` writes the job's next authorisation. Where it is declined (Declined on), the
    ceiling stays, and later papers say "Advised, declined".

    \b
    Example:
      ledger-tools extra-work shop-2025.xlsx 25-0007 --found "Crack runs under the bracket"
    """
    folder = out or book.parent / "estimates"
    report = Report(as_json=as_json)
    with nullcontext() if dry_run else own_turn(book):
        return write_promised(
            book, _promise(book, job, found, valid), folder, today, jobs=(job,), report=report,
            verb="extra-work", none="No request for extra work was written.", dry_run=dry_run,
        )  # fmt: skip
