"""Reading the rows of `Options`, and holding them against jobs and each other."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from ledger_tools.billing.estimate import Acceptance
from ledger_tools.book.cells import shown
from ledger_tools.book.layout import JOBS_TABLE, REACHED, YES_NO
from ledger_tools.book.option_layout import OPTIONS_TABLE
from ledger_tools.book.rows import Reading, Row
from ledger_tools.costing.options import OPTION_KINDS
from ledger_tools.money import plain
from ledger_tools.shop.model import Option, ShopBook
from ledger_tools.shop.options import by_job

_KEYS = ("job", "option", "kind", "description", "price", "chance", "come_back", "chosen_on")

_ONE_OF = ("advised", "chosen")


@dataclass(frozen=True, slots=True)
class OptionRow:
    """One row of `Options` and what it says."""

    row: Row
    option: Option


def read_options(reading: Reading) -> tuple[OptionRow, ...]:
    """Return the rows of `Options`; an error in one names its job, which is then not billed."""
    if not reading.places.has(OPTIONS_TABLE):
        return ()
    numbers = {
        said.casefold(): said
        for row in reading.rows(JOBS_TABLE, "number")
        if isinstance(said := row.raw("number"), str)
    }
    return tuple(
        OptionRow(row, _option(row, numbers)) for row in reading.rows(OPTIONS_TABLE, *_KEYS)
    )


def _option(row: Row, numbers: Mapping[str, str]) -> Option:
    said = row.needed("job", row.text, "job-missing", "The option names no job") or ""
    row.job = numbers.get(said.casefold(), said)
    row.put_back("job", row.job)
    letter = row.needed("option", row.name, "option-missing", "The option has no letter") or ""
    kind = row.choice("kind", OPTION_KINDS, "option-kind-unknown")
    if not (kind or row.wrong("kind")):
        row.error(
            "kind", "option-kind-missing", "The option has no kind",
            f"Choose one of: {', '.join(OPTION_KINDS)}",
        )  # fmt: skip
    advised = row.choice("advised", YES_NO, "yes-or-no") == YES_NO[0]
    return Option(
        job=row.job,
        option=letter,
        kind=kind or str(row.raw("kind") or ""),
        row=row.row,
        description=row.text("description"),
        price=row.number("price"),
        sublet=row.number("sublet"),
        lead_days=_lead_days(row),
        guarantee=row.text("guarantee"),
        chance=_chance(row),
        come_back=row.number("come_back"),
        advised=advised,
        chosen=_chosen(row),
        note=row.text("note"),
        priced=row.holds("price"),
    )


def _lead_days(row: Row) -> int | None:
    days = row.number("lead_days")
    if days is not None and days != int(days):
        row.error(
            "lead_days", "option-days", f"{shown(row.raw('lead_days'))} is not whole days",
            "Type how many days it takes, such as 5",
        )  # fmt: skip
        return None
    return None if days is None else int(days)


def _chance(row: Row) -> Decimal | None:
    chance = row.number("chance")
    if chance is not None and chance > 1:
        row.error(
            "chance", "option-chance",
            f"A chance of {plain(chance * 100)} % is more than certain",
            "Type it in percent from 0 % to 100 %, with the sign: 15 %",
        )  # fmt: skip
        return None
    return chance


def _chosen(row: Row) -> Acceptance | None:
    who, how = row.text("chosen_by"), row.choice("chosen_how", REACHED, "reached-unknown")
    day = row.day("chosen_on")
    if day is None and row.holds("chosen_by", "chosen_how") and not row.wrong("chosen_on"):
        row.error(
            "chosen_on", "choice-undated", "It says who chose the option or how, and not when",
            "Fill in the day of the choice, or clear the two cells beside it",
        )  # fmt: skip
    return Acceptance(day, who, how) if day else None


def check_options(rows: tuple[OptionRow, ...], book: ShopBook) -> None:
    """Say of what job there is none, and what stands twice among the options of one."""
    known = {job.number.casefold() for job in book.jobs if job.number}
    at = {found.option.row: found.row for found in rows}
    for job, options in by_job(book).items():
        if job not in known:
            _say_no_job([at[option.row] for option in options if option.job])
        _check_letters(options, at)
        advised, taken = ([at[o.row] for o in options if getattr(o, k)] for k in _ONE_OF)
        _say_twice(advised, taken)


def _say_no_job(rows: list[Row]) -> None:
    for row in rows:
        row.warning(
            "job", "option-without-job", f"There is no job '{row.job}', so nobody is offered this",
            "Type the job number as it stands in Jobs",
        )  # fmt: skip


def _check_letters(options: list[Option], at: Mapping[int, Row]) -> None:
    seen: set[str] = set()
    for option in options:
        letter = option.option.casefold()
        if letter and letter in seen:
            at[option.row].error(
                "option", "option-twice",
                f"Option {option.option} of job {option.job} stands here twice",
                "Give each option of a job a letter of its own",
            )  # fmt: skip
        seen.add(letter)


def _say_twice(advised: list[Row], taken: list[Row]) -> None:
    for row in advised[1:]:
        row.warning(
            "advised", "advised-twice", f"Another option of job {row.job} is advised too",
            "Advise one: it is what the customer may hold you to",
        )  # fmt: skip
    for row in taken[1:]:
        row.warning(
            "chosen_on", "chosen-twice", f"Another option of job {row.job} is chosen too",
            "Ask the customer which is meant, and clear the other",
        )  # fmt: skip
