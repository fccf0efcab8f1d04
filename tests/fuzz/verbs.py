"""Every verb on a workbook that is not what it should be: refused, or nothing of it is lost."""

import re
from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from random import Random

from ledger_tools.book.archive import plan_archive
from ledger_tools.book.next_year import open_next_year
from ledger_tools.book.parts.package import Package
from ledger_tools.book.patch import foreign_formulas, patched_book, same
from ledger_tools.book.places import owned_cells
from ledger_tools.book.reader import BookRead, read_content
from ledger_tools.book.work import Outcome, add_job, work_out
from ledger_tools.shop.intake import draft_job
from ledger_tools.shop.issue import issue_invoices
from ledger_tools.shop.plan import Content, GrowTable, MakeTable, Plan, RemoveSheet, SetCell
from ledger_tools.shop.snapshot import Place, SheetSnapshot, Snapshot
from tests.book.shop import TODAY

FILE = "shop.xlsx"
LATER = TODAY + timedelta(days=9)
NEXT_YEAR = date(2026, 1, 2)


def through_a_verb(random: Random, content: bytes) -> None:
    """Read a workbook file, carry out a verb, read the result and look that all is there."""
    read = BookRead(read_content(content, FILE), Package(content, FILE))
    random.choice(VERBS)(read)


def _recompute(read: BookRead) -> None:
    _write(read, work_out(read.snapshot, as_of=LATER))


def _add(read: BookRead) -> None:
    draft = draft_job("New Name", "Rack", repair="", state="in work", opened=TODAY)
    _write(read, add_job(read.snapshot, draft, as_of=LATER))


def _bill(read: BookRead) -> None:
    issue = partial(issue_invoices, wording=lambda customer, _: {"customer": customer.name})
    _write(read, work_out(read.snapshot, as_of=LATER, issue=issue))


def _archive(read: BookRead) -> None:
    """Sheets that leave the book are in the archive book, and all others are in the book."""
    archiving = plan_archive(read, Path("there-is-none.xlsx"), as_of=LATER)
    if not archiving.book:
        return
    book, archive = (read_content(c, FILE) for c in (archiving.book, archiving.archive))
    gone = {op.sheet for op in archiving.outcome.plan.operations if isinstance(op, RemoveSheet)}
    assert {s.name for s in read.snapshot.sheets} <= {s.name for s in book.sheets} | gone
    assert gone <= {sheet.name for sheet in archive.sheets}


def _next_year(read: BookRead) -> None:
    """A book that is made can be read, and worked out without an error."""
    made = open_next_year(read, "next.xlsx", as_of=NEXT_YEAR)
    if made.content:
        assert work_out(read_content(made.content, "next.xlsx"), as_of=NEXT_YEAR).sound


VERBS: tuple[Callable[[BookRead], None], ...] = (_recompute, _add, _bill, _archive, _next_year)


def _write(read: BookRead, outcome: Outcome) -> None:
    """Carry out what was worked out, and look that every other cell holds what it held."""
    for finding in outcome.findings:
        assert finding.what, finding
        str(finding).encode("utf-8")
    stale = foreign_formulas(read.snapshot, owned_cells(outcome.places))
    patched = patched_book(read.content, FILE, outcome.plan, stale=stale)
    lost = lost_cells(read.snapshot, outcome.plan, read_content(patched, FILE))
    assert not lost, lost[:5]


def lost_cells(before: Snapshot, plan: Plan, after: Snapshot) -> list[str]:
    """Return what is not as a plan leaves it, in words; formulas may lose what they showed.

    Where tables grow or are made anew, an owner's formula may speak of more rows, and a computed
    column of the owner's may go on.
    """
    planned: dict[str, dict[Place, Content]] = {}
    for op in plan.operations:
        if isinstance(op, SetCell):
            planned.setdefault(op.sheet, {})[op.row, op.col] = op.new
    grown = any(isinstance(op, GrowTable | MakeTable) for op in plan.operations)
    there = {sheet.name: sheet for sheet in after.sheets}
    found: list[str] = []
    for sheet in before.sheets:
        if sheet.name not in there:
            found.append(f"the sheet {sheet.name}")
            continue
        wanted = planned.get(sheet.name, {})
        found += _lost_of(sheet, wanted, there[sheet.name], grown=grown)
    return found


def _lost_of(
    before: SheetSnapshot, planned: dict[Place, Content], after: SheetSnapshot, *, grown: bool
) -> list[str]:
    values, formulas = before.values, before.formulas
    values_now, formulas_now = after.values, after.formulas
    known = {*values, *formulas, *planned}
    found = []
    for place in known:
        old = planned.get(place, Content(values.get(place), formulas.get(place)))
        new = Content(values_now.get(place), formulas_now.get(place))
        if not _kept(old, new, grown=grown):
            found.append(f"{before.name} {place}: {old} became {new}")
    if not grown:
        more = {*values_now, *formulas_now} - known
        found += [f"{before.name} {place} is new" for place in more]
    return found


def _kept(old: Content, new: Content, *, grown: bool) -> bool:
    if old.formula is None:
        return same(new, old) or (isinstance(old.value, str) and old.value.strip() == "")
    if new.formula is None:
        return False
    bare = (lambda text: re.sub(r"\d+", "", text)) if grown else str
    return bare(old.formula) == bare(new.formula)
