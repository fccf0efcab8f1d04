"""Closing the books on jobs that are paid: which may be archived, and what stays of them."""

from collections.abc import Collection, Mapping
from dataclasses import replace
from typing import NamedTuple

from ledger_tools.errors import Finding, Severity
from ledger_tools.shop.model import ShopBook
from ledger_tools.shop.results import PAID, JobResult


class Chosen(NamedTuple):
    """Which jobs are archived.

    Attributes:
        jobs: Their numbers, in order.
        findings: Why others that were named are not.
    """

    jobs: tuple[str, ...]
    findings: tuple[Finding, ...]


def to_archive(
    results: Mapping[str, JobResult],
    *,
    named: Collection[str] = (),
    unfit: Mapping[str, str] | None = None,
) -> Chosen:
    """Return the jobs to archive: all paid ones, or those named, which must be paid.

    Args:
        results: What the jobs come to that no error bears upon.
        named: Job numbers, where only these are meant.
        unfit: Jobs whose sheet cannot leave the book, each with the reason.
    """
    chosen: list[str] = []
    findings: list[Finding] = []
    for number in sorted({*named} or results):
        result = results.get(number)
        if result is None:
            continue
        ready = result.stands == PAID and not result.job.archived
        if ready and number not in (unfit or {}):
            chosen.append(number)
        elif ready:
            findings.append(_stays(number, (unfit or {})[number]))
        elif named:
            findings.append(_not_paid(result))
    return Chosen(tuple(chosen), tuple(findings))


def _not_paid(result: JobResult) -> Finding:
    number = result.job.number
    if result.job.archived:
        return Finding(
            Severity.NOTE, "job-archived", f"Job {number} is archived already", "",
            sheet=number, job=number,
        )  # fmt: skip
    return Finding(
        Severity.ERROR, "job-not-paid", f"Job {number} stands at '{result.stands}'",
        "Only a paid job is archived; type the payment in Payments", sheet=number, job=number,
    )  # fmt: skip


def _stays(number: str, reason: str) -> Finding:
    return Finding(
        Severity.ERROR, "sheet-stays",
        f"The sheet of job {number} cannot leave the book: {reason}",
        "Take it off the sheet, save, and archive again", sheet=number, job=number,
    )  # fmt: skip


def with_archived(
    book: ShopBook, numbers: Collection[str], results: Mapping[str, JobResult]
) -> ShopBook:
    """Return the book with these jobs archived: their lines stay at what they come to now."""
    jobs = tuple(
        replace(job, archived=results[job.number].costs) if job.number in numbers else job
        for job in book.jobs
    )
    return replace(book, jobs=jobs)
