"""Documents on disk: each is whole or not there, and an unchanged one is left alone."""

import contextlib
import os
import tempfile
from pathlib import Path

from ledger_tools.billing.invoice import Invoice
from ledger_tools.documents.invoice import invoice_pdf
from ledger_tools.documents.invoice_sheet import invoice_workbook
from ledger_tools.documents.names import file_stem
from ledger_tools.errors import FileInTheWayError


def write_invoice(invoice: Invoice, folder: Path) -> list[Path]:
    """Write the invoice as PDF and workbook into `folder` and return their paths.

    Both are made before either is written. The folder is made if it is not there.

    Raises:
        FileInTheWayError: A file or the folder cannot be written.
    """
    stem = f"invoice-{file_stem(invoice.number)}"
    made = {".pdf": invoice_pdf(invoice), ".xlsx": invoice_workbook(invoice)}
    paths = [folder / f"{stem}{suffix}" for suffix in made]
    for path, content in zip(paths, made.values(), strict=True):
        write_document(path, content)
    return paths


def write_document(path: Path, content: bytes) -> bool:
    """Write `content` to `path` at one stroke; return False if it stood there already.

    Raises:
        FileInTheWayError: The file or its folder cannot be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if path.is_file() and path.read_bytes() == content:
            return False
        _replace(path, content)
    except OSError as problem:
        raise FileInTheWayError(
            str(path),
            f"The document cannot be written ({problem.strerror or problem})",
            "Close it in other programs, or choose another folder with --out",
        ) from problem
    return True


def _replace(path: Path, content: bytes) -> None:
    """Write a temporary file beside `path` and put it in its place."""
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=".part", dir=path.parent)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        Path(name).chmod(0o666 & ~_umask())
        Path(name).replace(path)
    except BaseException:
        with contextlib.suppress(OSError):
            Path(name).unlink()
        raise


def _umask() -> int:
    """Return which permissions new files do not get; a temporary file gets none for others."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
