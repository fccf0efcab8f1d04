"""What a command says: results on stdout, complaints on stderr, or one JSON object."""

import os
import re
import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from time import monotonic
from typing import Any, TypeVar

import click

from ledger_tools.billing.estimate import EXTRA_WORK, Estimate, share_more
from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.errors import (
    BookChangedError,
    BookLockedError,
    BookUnreadableError,
    Finding,
    LedgerError,
    NotAShopBookError,
    NotWritableError,
    Severity,
)
from ledger_tools.money import plain
from ledger_tools.shop.results import JobResult

_T = TypeVar("_T")
_BOOK_ERRORS = (
    BookUnreadableError,
    NotAShopBookError,
    BookLockedError,
    BookChangedError,
    NotWritableError,
)
_SLOW = 1.0
_MOST_LISTED = 12
_STEERING = "[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]"
"""Control characters, ends of lines, marks that turn the direction of writing, half letters."""


@dataclass(slots=True)
class Report:
    """What a command found and made.

    Attributes:
        as_json: Whether one JSON object is printed instead of lines.
        said: Parts of the JSON object besides findings and files.
        findings: Everything to look at.
        files: Files written, or that would be.
        lines: Lines for people.
    """

    as_json: bool
    said: dict[str, Any] = field(default_factory=dict)
    findings: list[Finding] = field(default_factory=list)
    files: list[Path] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)

    def close(self) -> int:
        """Print everything and return the exit code: 1 if there is an error, else 0."""
        if self.as_json:
            self._print_json()
        else:
            for line in self.lines:
                click.echo(plainly(line))
            _print_findings(self.findings)
        return int(any(f.severity is Severity.ERROR for f in self.findings))

    def stop(self, problem: LedgerError) -> int:
        """Print what stopped the command and return the exit code."""
        if self.as_json:
            self.findings = [
                Finding(Severity.ERROR, problem.code, problem.what, problem.remedy, problem.where)
            ]
            self._print_json()
        else:
            click.echo(f"{click.style('Error', bold=True)}: {plainly(str(problem))}", err=True)
        return 1 if isinstance(problem, _BOOK_ERRORS) else 2

    def _print_json(self) -> None:
        import json

        said = {
            **self.said,
            "findings": [finding_json(f) for f in self.findings],
            "files": [relative(path) for path in self.files],
        }
        # A reader of JSON expects UTF-8; where the pipe has another encoding, plain ASCII is both.
        other = (sys.stdout.encoding or "utf-8").lower() != "utf-8"
        click.echo(json.dumps(said, ensure_ascii=other, indent=2))


def plainly(text: str) -> str:
    r"""Return `text` with a mark for each character that would steer a terminal, not stand on it.

    >>> plainly("Ann\x1b[2J\u202eBell")
    'Ann\ufffd[2J\ufffdBell'
    """
    return re.sub(_STEERING, "\ufffd", text)


def counted(count: int, word: str) -> str:
    """Return how many there are, in words for people.

    >>> counted(1, "job"), counted(2, "job")
    ('1 job', '2 jobs')
    """
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def listed(names: Sequence[str]) -> str:
    """Return names for people, the first of them where there are many.

    >>> listed(["25-0001", "25-0002"]), listed([str(n) for n in range(1, 16)])
    ('25-0001, 25-0002', '1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12 and 3 more')
    """
    rest = len(names) - _MOST_LISTED
    return ", ".join(names[:_MOST_LISTED]) + (f" and {rest:,} more" if rest > 0 else "")


def wants_json(words: Sequence[str]) -> bool:
    """Whether the command line asks for JSON, also where it could not be understood."""
    return "--json" in words


def relative(path: Path) -> str:
    """Return a path as seen from the working folder, with forward slashes."""
    try:
        return Path(os.path.relpath(path)).as_posix()
    except ValueError:
        return path.as_posix()


def _print_findings(findings: Iterable[Finding]) -> None:
    for severity in Severity:
        for finding in findings:
            if finding.severity is severity:
                click.echo(plainly(f"{severity.value:<8}{finding}"), err=True)


def finding_json(finding: Finding) -> dict[str, str]:
    """Return a finding as JSON says it."""
    return {
        "severity": finding.severity.value,
        "code": finding.code,
        "file": finding.file,
        "sheet": finding.sheet,
        "cell": finding.cell,
        "what": finding.what,
        "remedy": finding.remedy,
    }


def _tax_json(tax: TaxAmount) -> dict[str, str]:
    return {
        "component": tax.component,
        "base": plain(tax.base),
        "rate": plain(tax.rate),
        "amount": plain(tax.amount),
    }


def _plain_or_none(amount: Decimal | None) -> str | None:
    return None if amount is None else plain(amount)


def job_json(result: JobResult, digits: int) -> dict[str, Any]:
    """Return a job as JSON says it: amounts and hours as plain decimals, unknown as null."""
    ceiling = None if result.ceiling is None else f"{result.ceiling:.{digits}f}"
    return {
        "job": result.job.number,
        "customer": result.job.customer,
        "item": result.job.item,
        "state": result.stands,
        "estimate_net": plain(result.estimate_net),
        "estimate_total": plain(result.estimate_total),
        "ceiling": ceiling,
        "actual_minutes": result.actual_minutes,
        "non_billable_minutes": result.non_billable_minutes,
        "billed_hours": plain(result.billed_hours),
        "basis": result.job.basis.value,
        "worked": plain(result.worked),
        "subtotal": plain(result.subtotal),
        "taxes": [_tax_json(tax) for tax in result.taxes],
        "tax": plain(result.tax),
        "total": plain(result.total),
        "invoice": result.invoice or None,
        "balance": _plain_or_none(result.balance),
    }


def jobs_json(results: Mapping[str, JobResult], digits: int) -> dict[str, Any]:
    """Return the part of the JSON object that lists jobs."""
    return {"jobs": [job_json(result, digits) for result in results.values()]}


def paper_json(paper: Invoice | Estimate, files: Iterable[Path]) -> dict[str, Any]:
    """Return an invoice or an estimate as JSON says it."""
    last = {"valid_until": paper.valid_until.isoformat()} if isinstance(paper, Estimate) else {}
    return {
        "number": paper.number,
        "job": paper.job,
        "date": paper.day.isoformat(),
        **last,
        **(_request_json(paper) if isinstance(paper, Estimate) else {}),
        "customer": paper.customer,
        "subtotal": plain(paper.subtotal),
        "taxes": [_tax_json(tax) for tax in paper.taxes],
        "tax": plain(paper.tax),
        "total": plain(paper.total),
        "files": [relative(path) for path in files],
    }


def _request_json(paper: Estimate) -> dict[str, Any]:
    """Return what a request for extra work says besides what every estimate does."""
    if paper.request is None:
        return {}
    share = share_more(paper)
    return {
        "paper": EXTRA_WORK,
        "found": paper.request.found.splitlines(),
        "authorised_before": plain(paper.request.authorised),
        "difference": plain(paper.more),
        "percent": None if share is None else f"{share * 100:.1f}",
    }


def with_progress(items: Sequence[_T], label: str) -> Iterator[_T]:
    """Yield `items`, with a progress bar on a terminal once a second has gone by."""
    began = monotonic()
    for done, item in enumerate(items):
        if monotonic() - began > _SLOW:
            with click.progressbar(items[done:], label=label, file=sys.stderr) as rest:
                yield from rest
            return
        yield item
