"""The words on paper that are not the customer's: which there are, and how they are filled in.

They come from `config/texts/`, one file a language, and are frozen into an invoice on the day of
issue. A word that is missing there stands in English, so that a half-translated file, or an
invoice older than a word, still gives a paper.
"""

from collections.abc import Mapping, Sequence
from functools import cache

from ledger_tools.billing.authorisation import RuleKind
from ledger_tools.billing.basis import Basis
from ledger_tools.billing.estimate import Estimate
from ledger_tools.billing.invoice import Invoice
from ledger_tools.billing.offer import CHOSEN, Offered
from ledger_tools.costing.options import OPTION_KINDS
from ledger_tools.errors import ConfigError, Finding, Severity
from ledger_tools.hours import HourPolicy
from ledger_tools.shop.extra_work import Standing
from ledger_tools.shop.model import Customer, ShopSettings

Paper = Invoice | Estimate
"""What is printed for a customer."""

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
    "part_used",
    "part_reconditioned",
    "parts_new",
    "subtotal",
    "written_down",
    "fixed_price",
    "minimum_charge",
    "only_materials",
    "only_parts",
    "net",
    "tax_base",
    "total",
    "payment",
    "pay_by",
    "note",
    "hours",
    "guarantee",
    "page",
    "advised",
    "advised_says",
    "advised_on",
)
"""Every label an invoice prints, by its key in `config/texts/`."""

ESTIMATE_LABELS = (
    "estimate",
    "valid_until",
    "sublet_to",
    "estimate_total",
    "deposit",
    "deposit_says",
    "assumptions",
    "exclusions",
    "consent",
    "consent_name",
    "consent_signature",
    "consent_how",
    "storage",
    "told",
    "old_parts",
    "old_parts_back",
    "old_parts_leave",
    *(key for key in LABELS if key not in {"invoice", "due", "total", "payment", "pay_by"}),
)
"""Every label an estimate prints, likewise."""

REQUEST_LABELS = (
    "extra_work",
    "found",
    "new_total",
    "more",
    "more_share",
    "agreed_at",
    "unchanged",
    "as_agreed",
    "rule",
    "rule_law",
    *(
        key
        for key in ESTIMATE_LABELS
        if key not in {"estimate", "estimate_total", "assumptions", "exclusions"}
        and not key.startswith("deposit")
    ),
)
"""Every label a request for extra work prints, likewise."""

REQUEST_TEXTS = (
    "request_with_tax",
    "request_before_tax",
    "request_no_tax",
    "request_refusal",
    "authorised_with_tax",
    "authorised_before_tax",
    "authorised_no_tax",
    "rule_none",
    "rule_percent",
    "rule_lesser",
    "rule_greater",
    "rule_read",
)
"""The sentences of a request; it prints those that fit it."""

OPTION_LABELS = (
    "options",
    "options_tick",
    "options_expected",
    "option",
    "option_advised",
    "option_chosen",
    "option_chosen_against_advice",
    "option_not_chosen",
    "option_as_estimated",
    "option_sublet",
    "option_lead",
    "option_guarantee",
    "option_days",
    "option_chance",
    "option_come_back",
    "option_expected",
    "option_share",
    *(f"option_{kind.replace(' ', '_')}" for kind in OPTION_KINDS),
)
"""Every label an estimate prints that offers options, besides those of every estimate."""

OPTION_PRICES = ("option_price_with_tax", "option_price_before_tax", "option_price_no_tax")
"""What heads the prices of options; an estimate prints one of them."""

CONSENTS = ("consent_with_tax", "consent_before_tax", "consent_no_tax", "consent_option")
"""The sentences that say what is consented to; an estimate prints one of them."""

HOURS_POLICIES = (
    "hours_job_nearest",
    "hours_job_up",
    "hours_line_nearest",
    "hours_line_up",
    "hours_exact",
)
"""The sentences that say how time is billed; an invoice prints one of them."""


BASES = ("basis_capped", "basis_fixed")
"""The sentences that say that a job is not billed simply as worked."""

LONGEST_LABEL = 200
"""Letters of a label that are printed: a PDF keeps its headings in a list of limited length."""


def label(paper: Paper, key: str) -> str:
    """Return the words for `key` as frozen on the day of issue, English where there are none."""
    frozen = paper.wording.get(f"label.{key}")
    return _english()[key] if frozen is None else frozen[:LONGEST_LABEL]


def text_findings(
    language: str, texts: Mapping[str, str], keys: tuple[str, ...] = LABELS
) -> list[Finding]:
    """Return a warning that names the words, of those a paper needs, that a file lacks."""
    lacking = [key for key in keys + HOURS_POLICIES if key not in texts]
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
    return words_of(texts, key).replace("{step}", str(policy.step))


def with_basis(words: Mapping[str, str], basis: Basis, texts: Mapping[str, str]) -> dict[str, str]:
    """Return words on a paper that also say, beside how time is billed, how the job is."""
    if basis is Basis.ACTUAL:
        return dict(words)
    said = words_of(texts, f"basis_{basis}")
    return {**words, "hours_policy": f"{words['hours_policy']} {said}"}


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
        **_common_wording(shop, customer, texts, LABELS),
        "job_note": job_note,
        "payment": shop.payment,
    }


def estimate_wording(
    shop: ShopSettings,
    customer: Customer,
    texts: Mapping[str, str],
    *,
    taxed: bool,
    offers: Sequence[Offered] = (),
) -> dict[str, str]:
    """Return all words on an estimate but its own figures and lines, to be frozen on its day.

    Args:
        shop: The shop's decisions on that day.
        customer: Whom the estimate is for.
        texts: Words in the shop's language, by key.
        taxed: Whether any tax falls on it.
        offers: The options it offers.
    """
    meant = "with_tax" if shop.authorised_with_tax else "before_tax"
    meant = meant if taxed else "no_tax"
    choose = bool(offers) and not any(offered.stands in CHOSEN for offered in offers)
    labels = (*ESTIMATE_LABELS, *OPTION_LABELS) if offers else ESTIMATE_LABELS
    head = {"option_price": words_of(texts, f"option_price_{meant}")} if offers else {}
    return {
        **_common_wording(shop, customer, texts, labels),
        **head,
        "assumptions": picked(shop.assumptions, "assumed", texts),
        "exclusions": picked(shop.exclusions, "excluded", texts),
        "deposit_percent": str(shop.deposit_percent),
        "consent": words_of(texts, "consent_option" if choose else f"consent_{meant}"),
    }


def request_wording(
    shop: ShopSettings,
    customer: Customer,
    texts: Mapping[str, str],
    before: Standing,
    *,
    taxed: bool,
) -> dict[str, str]:
    """Return all words on a request for extra work but its figures and lines, to be frozen.

    Args:
        shop: The shop's decisions on its day.
        customer: Whom it is for.
        texts: Words in the shop's language, by key.
        before: What the job may come to before more is asked for.
        taxed: Whether any tax falls on the work.
    """
    meant = "with_tax" if before.with_tax else "before_tax"
    meant = meant if taxed else "no_tax"
    return {
        **_common_wording(shop, customer, texts, REQUEST_LABELS),
        **_rule_wording(before, texts),
        "agreed_in": before.agreed.number if before.agreed else "",
        "authorised": words_of(texts, f"authorised_{meant}"),
        "consent": words_of(texts, f"request_{meant}"),
        "refusal": words_of(texts, "request_refusal"),
    }


_RULES = {
    RuleKind.PERCENT: "rule_percent",
    RuleKind.LESSER: "rule_lesser",
    RuleKind.GREATER: "rule_greater",
}


def _rule_wording(before: Standing, texts: Mapping[str, str]) -> dict[str, str]:
    """Return the sentence on what may be billed without asking, and what is filled in."""
    rule, most = before.limit.rule, before.limit.amount
    key = _RULES.get(rule.kind, "rule_none") if most > before.authorised else "rule_none"
    return {
        "rule": words_of(texts, key),
        "rule_read": words_of(texts, "rule_read") if rule.source else "",
        "rule_limit": f"{most:f}",
        "rule_share": f"{rule.share:f}",
        "rule_amount": f"{rule.amount:f}",
        "rule_source": rule.source,
    }


def picked(said: str, prefix: str, texts: Mapping[str, str]) -> str:
    r"""Return lines of words: where one is the name of a text, that text.

    >>> picked("one  fault\nOur own.", "assumed", {"assumed_one_fault": "One fault."})
    'One fault.\nOur own.'
    """
    lines = (" ".join(line.split()) for line in said.splitlines())
    keys = ((line, f"{prefix}_{line.casefold().replace(' ', '_')}") for line in lines if line)
    known = {*texts, *_english()}
    return "\n".join(words_of(texts, key) if key in known else line for line, key in keys)


def _common_wording(
    shop: ShopSettings, customer: Customer, texts: Mapping[str, str], labels: tuple[str, ...]
) -> dict[str, str]:
    return {
        "shop_name": shop.name,
        "shop_address": shop.address,
        "shop_contact": shop.contact,
        "shop_tax_number": shop.tax_number,
        "customer_address": customer.address,
        "customer_tax_number": customer.tax_number,
        "hours_policy": hours_policy(shop.hours, texts),
        "language": shop.language,
        "locale": shop.locale,
        "paper": shop.paper,
        **{f"label.{key}": words_of(texts, key) for key in labels},
    }


def words_of(texts: Mapping[str, str], key: str) -> str:
    """Return the words for `key`, English where the language has none."""
    return texts[key] if key in texts else _english()[key]


@cache
def _english() -> Mapping[str, str]:
    """Return the English words, checked to be complete."""
    from ledger_tools import settings  # noqa: PLC0415 - most invoices carry all their words

    texts = settings.load_texts("en")
    needed = (
        *LABELS, *ESTIMATE_LABELS, *OPTION_LABELS, *OPTION_PRICES, *CONSENTS, *HOURS_POLICIES,
        *BASES,
        *REQUEST_LABELS, *REQUEST_TEXTS,
    )  # fmt: skip
    lacking = [key for key in dict.fromkeys(needed) if key not in texts]
    if lacking:
        raise ConfigError(
            "config/texts/en.yaml",
            f"there are no words for {', '.join(lacking)}",
            "Install the tools anew: the file that came with them has every word",
        )
    return texts
