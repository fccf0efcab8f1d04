"""Guarantee, storage, a price named beforehand: words that hang on shop, law and job.

They are frozen into a paper beside its other words.
"""

from collections.abc import Mapping
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.billing.guarantee import GuaranteeRule, says_no_guarantee
from ledger_tools.documents import figures
from ledger_tools.documents.texts import picked, words_of
from ledger_tools.money import plain
from ledger_tools.shop.model import Job, ShopSettings


class Grounds(NamedTuple):
    """What the terms of a paper hang on, besides the shop's settings.

    Attributes:
        job: The job.
        law: The guarantee a law gives for it on the day; None where none is known.
        taxed: Whether any tax falls on the paper.
    """

    job: Job
    law: GuaranteeRule | None = None
    taxed: bool = False


def guarantee_terms(
    shop: ShopSettings, texts: Mapping[str, str], law: GuaranteeRule | None
) -> dict[str, str]:
    """Return the words of the guarantee: the shop's own, and above them what a law gives.

    A line that there is no guarantee is left off where the law makes it void. The shop's own
    words go with the sentence that rights by law stay.
    """
    void = law is not None and law.void
    own = [each for each in shop.guarantee.splitlines() if not (void and says_no_guarantee(each))]
    said = picked("\n".join(own), "guaranteed", texts).splitlines()
    rights = [words_of(texts, "guarantee_rights")] if said else []
    given = [] if law is None else [_law(law, texts, shop)]
    return {"guarantee": "\n".join([*said, *rights, *given])}


def _law(law: GuaranteeRule, texts: Mapping[str, str], shop: ShopSettings) -> str:
    place = figures.locale_of(shop.locale)
    filled = {
        "{days}": str(law.days or ""),
        "{distance}": figures.number(Decimal(law.distance or 0), 0, place),
        "{unit}": law.unit,
    }
    words = picked(law.words, "guarantee_law", texts)
    for mark, told in filled.items():
        words = words.replace(mark, told)
    frame = words_of(texts, "guarantee_law")
    if not law.source:
        frame = frame.replace(" ({source})", "")
    return frame.replace("{words}", words.rstrip(".")).replace("{source}", law.source)


def estimate_terms(
    shop: ShopSettings, texts: Mapping[str, str], grounds: Grounds
) -> dict[str, str]:
    """Return the terms of an estimate: guarantee, storage, a price named, vendors or none."""
    return {
        **guarantee_terms(shop, texts, grounds.law),
        **_storage(shop, texts),
        **_told(shop, texts, grounds),
        **({} if shop.name_vendors else {"label.sublet_to": ""}),
    }


def _storage(shop: ShopSettings, texts: Mapping[str, str]) -> dict[str, str]:
    if not shop.storage_price:
        return {}
    key = "storage_terms" if shop.storage_free_days else "storage_terms_at_once"
    words = words_of(texts, key).replace("{days}", str(shop.storage_free_days))
    return {"storage": words, "storage_price": plain(shop.storage_price)}


def _told(shop: ShopSettings, texts: Mapping[str, str], grounds: Grounds) -> dict[str, str]:
    """Return the band named on the telephone; its figures are written as the paper does."""
    band = grounds.job.told
    if band is None:
        return {}
    meant = "with_tax" if shop.authorised_with_tax else "before_tax"
    return {
        "told": words_of(texts, f"told_{meant if grounds.taxed else 'no_tax'}"),
        "told_from": plain(band.least),
        "told_to": plain(band.most),
    }
