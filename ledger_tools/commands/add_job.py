"""`add-job`: open one job."""

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import click

from ledger_tools.billing.basis import Basis
from ledger_tools.commands import options
from ledger_tools.commands.report import Report, jobs_json
from ledger_tools.commands.session import described, open_session
from ledger_tools.costing.lines import Line
from ledger_tools.errors import RequestError
from ledger_tools.money import decimal_from
from ledger_tools.shop.model import TYPED_STATES, Band


class AmountType(click.ParamType[Decimal]):
    """An amount of money, zero or more, as a plain decimal."""

    name = "AMOUNT"

    def convert(
        self, value: str | Decimal, param: click.Parameter | None, ctx: click.Context | None
    ) -> Decimal:  # fmt: skip
        """Return the amount, or end with a usage error."""
        try:
            amount = decimal_from(str(value))
        except ValueError:
            amount = Decimal(-1)
        if amount < 0:
            self.fail(f"'{value}' is not an amount such as 160.00", param, ctx)
        return amount


class BandType(click.ParamType[Band]):
    """Two amounts of money with a dash between them, or one."""

    name = "FROM-TO"

    def convert(
        self, value: str | Band, param: click.Parameter | None, ctx: click.Context | None
    ) -> Band:
        """Return the band, or end with a usage error."""
        if isinstance(value, Band):
            return value
        least, dash, most = value.partition("-")
        try:
            band = Band(decimal_from(least), decimal_from(most if dash else least))
        except ValueError:
            self.fail(f"'{value}' is not a band such as 80-140", param, ctx)
        if band.least > band.most:
            self.fail(f"'{value}' begins above its end; write 80-140", param, ctx)
        return band


@click.command(name="add-job")
@options.book
@click.option("--customer", required=True, metavar="NAME", help="Who brings the work in.")
@click.option("--item", required=True, metavar="TEXT", help="What is to be repaired.")
@click.option("--repair", default="", metavar="CODE", help="Repair type from the sheet Repairs.")
@click.option(
    "--lines",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    metavar="FILE.csv",
    help="Lines of the job, instead of the repair type's.",
)
@click.option("--authorised", type=AmountType(), help="What the customer has authorised in all.")
@click.option("--told", type=BandType(), help="What was named on the telephone, as 80-140.")
@click.option(
    "--state",
    type=click.Choice(TYPED_STATES),
    default="estimated",
    show_default=True,
    help="Where the job stands.",
)
@click.option(
    "--basis",
    type=click.Choice([basis.value for basis in Basis]),
    help="How it is billed.  [default: actual, with an agreed price fixed]",
)
@click.option("--agreed-price", type=AmountType(), help="Net price agreed for the whole job.")
@options.today
@options.dry_run
@options.as_json
def command(
    *,
    book: Path,
    customer: str,
    item: str,
    repair: str,
    lines: Path | None,
    authorised: Decimal | None,
    told: Band | None,
    state: str,
    basis: str | None,
    agreed_price: Decimal | None,
    today: date,
    dry_run: bool,
    as_json: bool,
) -> int:
    """Open a job: it gets the next number, a row in Jobs and a sheet with its lines.

    \b
    Example:
      ledger-tools add-job shop-2025.xlsx --customer "R. Calder" --item "Cargo rack" --repair FRAME
      ledger-tools add-job shop-2025.xlsx --customer "R. Calder" --item "Oil pan" --lines pan.csv
    """
    from ledger_tools.book.work import add_job
    from ledger_tools.shop.intake import draft_job, first_authorisation

    if not customer.strip():
        raise RequestError("--customer", "the name is empty", "Say who brings the work in")
    if agreed_price is not None and basis not in {None, "fixed"}:
        raise RequestError(
            "--agreed-price", f"it is for a job billed as fixed, not as {basis}", "Leave one out"
        )
    session = open_session(book)
    read = _lines(lines)
    draft = draft_job(customer, item, repair=repair, state=state, opened=today, lines=read)
    draft = replace(
        draft,
        basis=Basis(basis or ("actual" if agreed_price is None else "fixed")),
        agreed_price=agreed_price,
        told=told,
    )
    given = None if authorised is None else first_authorisation(authorised, today)
    outcome = add_job(session.snapshot, draft, as_of=today, authorised=given)
    written = not dry_run and session.save(outcome)
    return Report(
        as_json=as_json,
        said=jobs_json(outcome.results, outcome.book.settings.digits),
        findings=list(outcome.findings),
        files=[book] if written or (dry_run and outcome.plan.operations) else [],
        lines=[_said(outcome.opened, described(outcome.plan), dry_run=dry_run)],
    ).close()


def _lines(file: Path | None) -> tuple[Line, ...]:
    """Return the lines in a file, none where no file is given."""
    if file is None:
        return ()
    from ledger_tools.settings.lines_file import read_lines

    return read_lines(file)


def _said(opened: tuple[str, ...], wrote: str, *, dry_run: bool) -> str:
    verb = "Would write" if dry_run else "Wrote"
    return f"{'Job ' + ', '.join(opened) if opened else 'No number given'}. {verb} {wrote}."
