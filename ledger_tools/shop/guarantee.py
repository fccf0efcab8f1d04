"""Which guarantee a law gives for a job, and what of the shop's own wording it makes void."""

from collections.abc import Iterable
from datetime import date

from ledger_tools.billing.guarantee import GuaranteeRule, guarantee_for, says_no_guarantee
from ledger_tools.errors import Finding, Severity
from ledger_tools.shop.model import ShopBook


def law_for(object_class: str, day: date, book: ShopBook) -> GuaranteeRule | None:
    """Return the guarantee a law gives for a class of object on a day, None for none known."""
    return guarantee_for(object_class, day, book.guarantees)


def left_off(jobs: Iterable[str], book: ShopBook) -> tuple[Finding, ...]:
    """Return a warning where 'no guarantee' was left off the papers of `jobs`, which name them.

    The papers are dated the book's as-of day.
    """
    if not any(says_no_guarantee(line) for line in book.settings.guarantee.splitlines()):
        return ()
    classes = {job.number: job.object_class for job in book.jobs}
    laws = {n: law_for(classes.get(n, ""), book.as_of, book) for n in jobs}
    void = {number: law for number, law in laws.items() if law and law.void}
    if not void:
        return ()
    sources = "; ".join(dict.fromkeys(law.source for law in void.values()))
    return (
        Finding(
            Severity.WARNING,
            "guarantee-void",
            f"'none' under Guarantee was left off the papers of {', '.join(void)}: a sentence "
            f"that there is no guarantee is void there ({sources})",
            "Take 'none' out on Start; the words of the law are printed, check them with your "
            "authority",
            sheet="Start",
        ),
    )
