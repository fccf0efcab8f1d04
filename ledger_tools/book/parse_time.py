"""Reading the rows of `Time`, and holding them against jobs, lines and invoices."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ledger_tools.billing.invoice import Invoice
from ledger_tools.book.cells import shown
from ledger_tools.book.layout import JOBS_TABLE, TIME_TABLE
from ledger_tools.book.rows import Reading, Row
from ledger_tools.costing.lines import Kind
from ledger_tools.costing.time import (
    CLASSES,
    COME_BACK,
    LONGEST_NIGHT,
    TimeEntry,
    by_line,
    counted,
    gaps,
    overlaps,
)
from ledger_tools.hours import MINUTES_A_DAY
from ledger_tools.shop.model import Job, ShopBook

_KEYS = ("day", "job", "line_id", "start", "stop", "minutes")


@dataclass(frozen=True, slots=True)
class TimeRow:
    """One row of `Time` and what it says."""

    row: Row
    entry: TimeEntry


def read_time(reading: Reading) -> tuple[TimeRow, ...]:
    """Return the rows of `Time`; one with an error names its job, which is then not billed."""
    if not reading.places.has(TIME_TABLE):
        return ()
    numbers = {
        said.casefold(): said
        for row in reading.rows(JOBS_TABLE, "number")
        if isinstance(said := row.raw("number"), str)
    }
    return tuple(TimeRow(row, _entry(row, numbers)) for row in reading.rows(TIME_TABLE, *_KEYS))


def _entry(row: Row, numbers: Mapping[str, str]) -> TimeEntry:
    said = row.text("job")
    row.job = numbers.get(said.casefold(), said)
    row.put_back("job", row.job)
    day = row.needed("day", row.day, "date-missing", "The row has no date")
    reason = row.choice("reason", CLASSES, "time-class-unknown")
    start, stop = row.clock("start"), row.clock("stop")
    minutes = row.minutes("minutes")
    typed = None if minutes is None else int(minutes)
    _check_minutes(row, start, stop, typed)
    return TimeEntry(
        row.row,
        day,
        row.name("who"),
        row.job,
        _line_id(row),
        counted(start, stop, typed),
        start,
        # A class that cannot be read is no reason to bill.
        "other" if row.wrong("reason") else reason if reason != CLASSES[0] else "",
        row.text("note"),
        typed,
        stop,
    )


def _line_id(row: Row) -> int | None:
    number = row.number("line_id")
    if number is not None and number != int(number):
        row.error(
            "line_id", "time-line-unknown",
            f"{shown(row.raw('line_id'))} is no line of a job",
            "Type the number in the column Line of the job sheet",
        )  # fmt: skip
        return None
    return None if number is None else int(number)


def _check_minutes(row: Row, start: int | None, stop: int | None, minutes: int | None) -> None:
    """Say why no minutes can be told, or that a stop is taken for one on the next day."""
    if any(row.wrong(key) for key in ("start", "stop", "minutes")):
        return
    if start is None or stop is None:
        _check_typed(row, minutes)
        return
    span = stop - start + (MINUTES_A_DAY if stop < start else 0)
    if span == 0:
        row.error(
            "stop", "time-missing", "Start and stop are the same",
            "Type when the work stopped, or the minutes",
        )  # fmt: skip
    elif stop < start and span > LONGEST_NIGHT:
        row.error(
            "stop", "stop-before-start",
            f"The stop at {_clock(stop)} lies before the start at {_clock(start)}; on the next "
            f"day that would be {span} minutes",
            f"Put it right; work past midnight is read as such up to {LONGEST_NIGHT // 60} hours",
        )  # fmt: skip
    elif minutes not in (None, span):
        row.error(
            "minutes", "time-disagrees",
            f"{minutes} minutes are typed, from {_clock(start)} to {_clock(stop)} it is {span}",
            "Keep one of the two: minutes, or start and stop",
        )  # fmt: skip
    elif stop < start:
        row.note(
            "stop", "past-midnight",
            f"The stop at {_clock(stop)} was read as one on the next day: {span} minutes",
        )  # fmt: skip


def _check_typed(row: Row, minutes: int | None) -> None:
    if minutes is None:
        row.error(
            "minutes", "time-missing", "The row has neither minutes nor start and stop",
            "Type start and stop, or the minutes",
        )  # fmt: skip
    elif not 1 <= minutes <= MINUTES_A_DAY:
        row.error(
            "minutes", "time-absurd", f"{minutes} minutes cannot be one day's work of one person",
            "Type the minutes of that day, 1 to 1440; another day is another row",
        )  # fmt: skip


def _clock(minutes: int) -> str:
    return f"{minutes // 60}:{minutes % 60:02}"


def check_time(rows: tuple[TimeRow, ...], book: ShopBook) -> None:
    """Hold the rows against jobs, lines and invoices, and against each other."""
    jobs = {job.number.casefold(): job for job in book.jobs if job.number}
    invoices = {invoice.job.casefold(): invoice for invoice in book.invoices.values()}
    for row, entry in _pairs(rows):
        job = jobs.get(entry.job.casefold())
        if not entry.job:
            _check_without_job(row)
        elif job is None:
            row.error(
                "job", "time-job-unknown", f"There is no job '{entry.job}'",
                "Type the job number as it stands in Jobs, or leave it empty for time of the shop",
            )  # fmt: skip
        else:
            _check_line(row, entry, job)
            _check_invoice(row, entry, invoices.get(entry.job.casefold()))
    _check_archived(rows, jobs)
    _check_day(rows, book.settings.gap_minutes)


def _pairs(rows: tuple[TimeRow, ...]) -> Iterator[tuple[Row, TimeEntry]]:
    return ((found.row, found.entry) for found in rows)


def _check_without_job(row: Row) -> None:
    if row.wrong("job"):
        return
    row.warning(
        "job", "time-without-job", "The minutes name no job, so they are billed to none",
        "Type the job number, or leave it as time of the shop",
    )  # fmt: skip


def _check_line(row: Row, entry: TimeEntry, job: Job) -> None:
    if job.unreadable or row.wrong("line_id"):
        return
    if entry.line_id is None:
        _check_without_line(row, entry)
        return
    line = next((one for one in job.lines if one.line_id == entry.line_id), None)
    if line is None:
        row.error(
            "line_id", "time-line-unknown", f"Job {job.number} has no line {entry.line_id}",
            "Type the number in the column Line of the job sheet",
        )  # fmt: skip
    elif line.kind is not Kind.LABOUR:
        row.error(
            "line_id", "time-line-not-labour",
            f"Line {line.line_id} of job {job.number} is {line.kind}, not labour",
            "Name a labour line, or add one to the job sheet",
        )  # fmt: skip


def _check_without_line(row: Row, entry: TimeEntry) -> None:
    if entry.reason:
        row.warning(
            "line_id", "time-without-line",
            "The minutes name no line, so they are in no figure of the job",
            "Name a labour line to have them there as not billable",
        )  # fmt: skip
    else:
        row.error(
            "line_id", "time-line-missing", "Billable minutes name no line of the job",
            "Type the number in the column Line of the job sheet",
        )  # fmt: skip


def _check_invoice(row: Row, entry: TimeEntry, invoice: Invoice | None) -> None:
    late = invoice is not None and entry.day is not None and entry.day > invoice.day
    if invoice is None or not late or entry.reason == COME_BACK:
        return
    row.error(
        "job", "time-after-invoice",
        f"Invoice {invoice.number} of {invoice.day.isoformat()} went out before that day",
        f"A come-back has the class '{COME_BACK}'; other work is a job of its own",
    )  # fmt: skip


def _check_archived(rows: tuple[TimeRow, ...], jobs: Mapping[str, Job]) -> None:
    """Warn where the rows of an archived line come to other minutes than it was archived with."""
    at = {found.entry.row: found.row for found in rows}
    for number, lines in by_line(found.entry for found in rows).items():
        job = jobs.get(number)
        for line in job.lines if job is not None and job.archived else ():
            given = lines.get(line.line_id)
            if given is None or line.kind is not Kind.LABOUR or given.actual == line.actual:
                continue
            at[given.rows[-1]].warning(
                "job", "time-archived",
                f"The rows of line {line.line_id} come to {given.actual} minutes, with "
                f"{int(line.actual or 0)} it was archived",
                "The archived line stays as it is; keep the row for the record, or take it out",
            )  # fmt: skip


def _check_day(rows: tuple[TimeRow, ...], least: int) -> None:
    at = {found.entry.row: found.row for found in rows}
    entries = [found.entry for found in rows]
    for entry, other, minutes in overlaps(entries):
        at[entry.row].warning(
            "start", "time-overlap",
            f"{_name(entry)} is in row {other.row} too for {minutes} of these minutes",
            "Put start or stop right in one of the rows; both count until then",
        )  # fmt: skip
    for entry, minutes in gaps(entries, least=least) if least else ():
        at[entry.row].note(
            "start", "time-gap", f"{_name(entry)} has no row for the {minutes} minutes before"
        )


def _name(entry: TimeEntry) -> str:
    return f"'{entry.who}'" if entry.who else "The same person"
