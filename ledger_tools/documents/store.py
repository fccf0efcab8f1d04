"""Documents on disk: each is whole or not there, and an unchanged one is left alone."""

from pathlib import Path

from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.book import disk
from ledger_tools.book.turns import turn
from ledger_tools.book.whole import (
    NotConfirmedError,
    clear_leftovers,
    make_folder,
    put_in_place,
    written_beside,
)
from ledger_tools.documents.estimate import estimate_pdf
from ledger_tools.documents.estimate_sheet import estimate_workbook
from ledger_tools.documents.extra_work import extra_work_pdf
from ledger_tools.documents.extra_work_sheet import extra_work_workbook
from ledger_tools.documents.invoice import invoice_pdf
from ledger_tools.documents.invoice_sheet import invoice_workbook
from ledger_tools.documents.names import paper_files
from ledger_tools.errors import FileInTheWayError

_TURN = "ledger-tools"
"""What is held in a folder while a document is written there."""


def write_paper(paper: Invoice | Estimate, folder: Path) -> list[Path]:
    """Write a paper as PDF and workbook into `folder` and return their paths.

    Both are made before either is written. The folder is made if it is not there.

    Raises:
        FileInTheWayError: A file or the folder cannot be written.
    """
    if isinstance(paper, Estimate) and paper.request:
        made = (extra_work_pdf(paper), extra_work_workbook(paper))
    elif isinstance(paper, Estimate):
        made = (estimate_pdf(paper), estimate_workbook(paper))
    else:
        made = (invoice_pdf(paper), invoice_workbook(paper))
    paths = paper_files(paper, folder)
    for path, content in zip(paths, made, strict=True):
        write_document(path, content)
    return paths


def write_document(path: Path, content: bytes) -> bool:
    """Write `content` to `path` at one stroke; return False if it stood there already.

    Raises:
        FileInTheWayError: The file or its folder cannot be written, or the disk does not confirm
            that it is.
        BookLockedError: Another run is writing the same file.
    """
    try:
        make_folder(path.parent)
        if path.is_file() and disk.read(path) == content:
            return False
        with turn(path.with_name(_TURN), named=path.name) as alone:
            if alone:
                clear_leftovers(path)
            with written_beside(path, content) as written:
                put_in_place(written, path)
    except NotConfirmedError as problem:
        raise FileInTheWayError(
            str(path),
            f"the disk does not confirm that the document is written ({problem.strerror})",
            "Check the disk, and look whether the document opens",
        ) from problem
    except OSError as problem:
        raise FileInTheWayError(
            str(path),
            f"the document cannot be written ({problem.strerror or problem})",
            "Check that there is room, close it in other programs, or choose another folder "
            "with --out",
        ) from problem
    return True
