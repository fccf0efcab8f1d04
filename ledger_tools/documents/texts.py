"""The words on paper that are not the customer's: which there are, and how they are filled in.

They come from `config/texts/`, one file a language, and are frozen into an invoice on the day of
issue. A word that is missing there stands in English, so that a half-translated file, or an
invoice older than a word, still gives a paper.
"""

from collections.abc import Mapping
from functools import cache

from ledger_tools.billing.invoice import Invoice
from ledger_tools.errors import ConfigError, Finding, Severity
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.model import Customer, ShopSettings

LABELS = (
    "invoice",
    "customer",
    "date",
    "due",
    "job",
    "item",
    "description",
    "quantity",
    "unit",
    "price",
    "amount",
    "work",
    "materials",
    "sublet",
    "charges",
    "agreed",
    "sublet_by",
    "subtotal",
    "net",
    "tax_base",
    "total",
    "payment",
    "pay_by",
    "note",
    "hours",
    "page",
)
"""Every label an invoice prints, by its key in `config/texts/`."""

HOURS_POLICIES = (
    "hours_job_nearest",
    "hours_job_up",
    "hours_line_nearest",
    "hours_line_up",
    "hours_exact",
)
"""The sentences that say how time is billed; an invoice prints one of them."""


LONGEST_LABEL = 200
"""Letters of a label that are printed: a PDF keeps its headings in a list of limited length."""


def label(invoice: Invoice, key: str) -> str:
    """Return the words for `key` as frozen on the day of issue, English where there are none."""
    frozen = invoice.wording.get(f"label.{key}")
    return _english()[key] if frozen is None else frozen[:LONGEST_LABEL]


def text_findings(language: str, texts: Mapping[str, str]) -> list[Finding]:
    """Return a warning that names the words a file of texts does not have."""
    lacking = [key for key in LABELS + HOURS_POLICIES if key not in texts]
    if not lacking:
        return []
    return [
        Finding(
            Severity.WARNING,
            "text-missing",
            f"The texts in '{language}' have no words for {', '.join(lacking)}; "
            "they are printed in English",
            f"Add them to {language}.yaml, in the way of config/texts/en.yaml",
            file=f"{language}.yaml",
        )
    ]


def hours_policy(policy: HourPolicy, texts: Mapping[str, str]) -> str:
    """Return the sentence that tells the customer how minutes became billed hours."""
    exact = policy.step == 1
    key = "hours_exact" if exact else f"hours_{policy.scope}_{policy.direction}"
    return _words(texts, key).replace("{step}", str(policy.step))


def invoice_wording(
    shop: ShopSettings, customer: Customer, texts: Mapping[str, str], *, job_note: str = ""
) -> dict[str, str]:
    """Return all words on an invoice but its own figures and lines, to be frozen on issue.

    Args:
        shop: The shop's decisions on the day of issue.
        customer: Whom the invoice is for.
        texts: Words in the shop's language, by key.
        job_note: What the owner wants to say on this invoice.
    """
    return {
        "shop_name": shop.name,
        "shop_address": shop.address,
        "shop_contact": shop.contact,
        "shop_tax_number": shop.tax_number,
        "customer_address": customer.address,
        "customer_tax_number": customer.tax_number,
        "job_note": job_note,
        "payment": shop.payment,
        "hours_policy": hours_policy(shop.hours, texts),
        "language": shop.language,
        "locale": shop.locale,
        "paper": shop.paper,
        **{f"label.{key}": _words(texts, key) for key in LABELS},
    }


def _words(texts: Mapping[str, str], key: str) -> str:
    return texts[key] if key in texts else _english()[key]


@cache
def _english() -> Mapping[str, str]:
    """Return the English words, checked to be complete."""
    from ledger_tools import settings  # noqa: PLC0415 - most invoices carry all their words

    texts = settings.load_texts("en")
    lacking = [key for key in LABELS + HOURS_POLICIES if key not in texts]
    if lacking:
        raise ConfigError(
            "config/texts/en.yaml",
            f"there are no words for {', '.join(lacking)}",
            "Install the tools anew: the file that came with them has every word",
        )
    return texts
