"""The papers of a job, estimates and requests for extra work: the newest, and those that wait."""

from ledger_tools.billing.estimate import OPEN, Estimate, standing_of
from ledger_tools.shop.model import ShopBook


def last_estimates(book: ShopBook, *, requests: bool = True) -> dict[str, Estimate]:
    """Return the newest revision of each job, by job number; `requests` for extra work count."""
    in_order = sorted(book.estimates.values(), key=lambda estimate: estimate.revision)
    return {e.job: e for e in in_order if requests or not e.request}


def is_over(estimate: Estimate, book: ShopBook) -> bool:
    """Return whether it ran out without a yes."""
    return estimate.accepted is None and estimate.valid_until < book.as_of


def open_requests(book: ShopBook) -> dict[str, Estimate]:
    """Return the requests for extra work that wait for an answer, by job number."""
    requests = (e for e in last_estimates(book).values() if e.request)
    return {e.job: e for e in requests if _is_open(e, book)}


def open_request(job: str, book: ShopBook) -> Estimate | None:
    """Return the request for extra work of one job that waits for an answer, None for none."""
    own = (e for e in book.estimates.values() if e.job == job)
    newest = max(own, key=lambda e: e.revision, default=None)
    return newest if newest and newest.request and _is_open(newest, book) else None


def _is_open(newest: Estimate, book: ShopBook) -> bool:
    accepted, declined = bool(newest.accepted), bool(newest.declined)
    stands = standing_of(
        newest, accepted=accepted, declined=declined, newest=True, as_of=book.as_of
    )
    return stands == OPEN


def called(paper: Estimate) -> str:
    """Return what a finding or an authorisation calls a paper.

    An authorisation keeps it as what it is for, with the number as a word of its own.
    """
    return f"{'extra work' if paper.request else 'estimate'} {paper.number}"
