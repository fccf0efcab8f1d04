"""Names of files made from numbers: always a plain name, never a path."""

import re
from pathlib import Path

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.errors import RequestError

LONGEST = 60

_NOT_PLAIN = re.compile(r"[^A-Za-z0-9.-]")


def file_stem(number: str) -> str:
    """Return `number` as part of a file name: other letters than A-Z, digits, . and - become _.

    >>> file_stem("25/0001")
    '25_0001'
    >>> file_stem("../../etc/x")
    '_.._etc_x'

    Raises:
        RequestError: There is no number.
    """
    if not number.strip():
        raise RequestError("", "a document without a number has no file name", "Issue it first")
    return _NOT_PLAIN.sub("_", number.strip().lstrip("."))[:LONGEST]


def estimate_files(job: str, revision: int, folder: Path, *, kind: str = "estimate") -> list[Path]:
    """Return where the papers of an estimate, or of another `kind`, go: PDF and workbook."""
    stem = f"{kind}-{file_stem(job)}-{revision}"
    return [folder / f"{stem}{suffix}" for suffix in (".pdf", ".xlsx")]


def paper_files(paper: Invoice | Estimate, folder: Path) -> list[Path]:
    """Return where the files of a paper go: PDF and workbook."""
    if isinstance(paper, Estimate):
        kind = "extra-work" if paper.request else "estimate"
        return estimate_files(paper.job, paper.revision, folder, kind=kind)
    return invoice_files(paper.number, folder)


def invoice_files(number: str, folder: Path) -> list[Path]:
    """Return where the papers of an invoice go: PDF and workbook."""
    stem = f"invoice-{file_stem(number)}"
    return [folder / f"{stem}{suffix}" for suffix in (".pdf", ".xlsx")]
