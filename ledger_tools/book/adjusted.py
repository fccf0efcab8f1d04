"""What is said of jobs that are billed at another amount than was worked."""

from collections.abc import Collection, Mapping

from ledger_tools.billing.basis import Basis
from ledger_tools.book.parse import Parsed
from ledger_tools.errors import Finding, Severity
from ledger_tools.money import plain
from ledger_tools.shop.results import NO_PRICE, JobResult

_CODES = ("written-down", "billed-at-fixed-price", "billed-at-minimum")


def say_adjustments(parsed: Parsed, results: Mapping[str, JobResult]) -> None:
    """Note each job, not yet invoiced, whose bill is above or below what was worked."""
    for number, result in results.items():
        said = _about(result) if result.bill and not result.invoice else None
        if said:
            grid = parsed.places.job(number)
            parsed.gathered.add(
                said.severity, said.code, said.what, said.remedy,
                sheet=grid.sheet if grid else number,
                place=grid.cells.get("flag") if grid else None,
                job=number,
            )  # fmt: skip


def pass_adjustments(parsed: Parsed, billed: Collection[str]) -> None:
    """Let what was said of jobs go that are billed by now: their invoices show it."""
    for finding in parsed.gathered.findings:
        if finding.code in _CODES and finding.job in billed:
            parsed.gathered.passing[finding.severity] += 1


def _about(result: JobResult) -> Finding | None:
    """Return what is to be said of a bill, None for nothing."""
    worked, billed = f"The work comes to {plain(result.worked)} net", plain(result.subtotal)
    if result.flag == NO_PRICE:
        return Finding(
            Severity.WARNING, "fixed-without-price",
            "The job is billed at a fixed price, and none is known",
            "Type it under Agreed price in Jobs, or have the job authorised",
        )  # fmt: skip
    if result.adjustment is None:
        return None
    if result.job.basis is Basis.FIXED:
        return Finding(
            Severity.NOTE, "billed-at-fixed-price", f"{worked}; at its fixed price {billed}", ""
        )
    if result.adjustment.total > 0:
        return Finding(
            Severity.NOTE, "billed-at-minimum", f"{worked}; at the minimum charge {billed}", ""
        )
    return Finding(
        Severity.WARNING, "written-down",
        f"{worked}; of it {plain(-result.adjustment.total)} is written down",
        "Have the rest authorised before the invoice goes out, or let it go",
    )  # fmt: skip
