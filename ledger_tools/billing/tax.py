"""Tax on the lines of a job or an invoice, by component, at the rates of one day.

A profile says which classes of line each component falls on and since when each rate applies.
Rates and rules come from the book, seeded from `config/taxes/`, each with its source there.
"""

from collections.abc import Iterable, Mapping
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from ledger_tools.errors import RateMissingError, UnknownTaxClassError
from ledger_tools.money import ZERO, Rounding, plain

MOST_COMPONENTS = 4
"""Taxes that one profile may have, and that a job sheet has rows for."""


class TaxRate(NamedTuple):
    """A component's rate and the first day it is in force.

    Attributes:
        component: Name of the tax as it stands on the invoice, such as ``GST``.
        first_day: First day the rate applies.
        rate: Fraction of the taxable amount, 0.05 for 5 %.
        source: Title, publisher and section the rate was read from.
    """

    component: str
    first_day: date
    rate: Decimal
    source: str


class TaxProfile(NamedTuple):
    """The tax rules of one place, as far as this shop needs them.

    Attributes:
        name: Short name, the name of its file in `config/taxes/`.
        title: What the owner reads.
        version: Version of the rules, a date as text.
        currency: ISO 4217 code.
        rounding: How each component's tax becomes whole minor units.
        components: Names of the taxes, in the order they stand on an invoice.
        rates: Dated rates of the components.
        taxable: For each class of line, the components that fall on it.
        sources: Where the rules were read.
        caution: What the profile does not decide, and whom to ask.
    """

    name: str
    title: str
    version: str
    currency: str
    rounding: Rounding
    components: tuple[str, ...]
    rates: tuple[TaxRate, ...]
    taxable: Mapping[str, frozenset[str]]
    sources: tuple[str, ...] = ()
    caution: str = ""


class TaxAmount(NamedTuple):
    """What one component comes to.

    Attributes:
        component: Name of the tax.
        base: Taxable amount, whole minor units.
        rate: Fraction.
        amount: Tax, whole minor units.
    """

    component: str
    base: Decimal
    rate: Decimal
    amount: Decimal


def rate_on(day: date, component: str, rates: Iterable[TaxRate]) -> Decimal | None:
    """Return the component's rate in force on `day`, the latest begun; None before all."""
    begun = [r for r in rates if r.component == component and r.first_day <= day]
    return max(begun, key=lambda r: r.first_day).rate if begun else None


def taxes_on(
    amounts: Iterable[tuple[str, Decimal]], *, profile: TaxProfile, day: date
) -> tuple[TaxAmount, ...]:
    """Return every component's tax on `amounts`, pairs of tax class and rounded amount.

    Each component is rounded once, on the sum of the amounts it falls on.

    Raises:
        RateMissingError: A component falls on the amounts but has no rate on `day`.
        UnknownTaxClassError: A tax class is none of the profile's.
    """
    pairs = tuple(amounts)
    unknown = [taxed_as for taxed_as, _ in pairs if taxed_as not in profile.taxable]
    if unknown and profile.components:
        raise UnknownTaxClassError(
            "sheet 'Taxes'",
            f"The sheet Taxes has no class '{unknown[0]}'",
            "Add a row for it to the table of classes",
        )
    return tuple(_tax(component, pairs, profile, day) for component in profile.components)


def _tax(
    component: str, amounts: tuple[tuple[str, Decimal], ...], profile: TaxProfile, day: date
) -> TaxAmount:
    base = sum(
        (amount for taxed_as, amount in amounts if component in profile.taxable[taxed_as]),
        start=profile.rounding.amount(ZERO),
    )
    rate = rate_on(day, component, profile.rates)
    if rate is None and base:
        raise RateMissingError(
            "sheet 'Taxes'",
            f"{component} has no rate in force on {day.isoformat()}, and {plain(base)} is taxable",
            "Add a row with the rate and its first day",
        )
    return TaxAmount(component, base, rate or ZERO, profile.rounding.amount(base * (rate or ZERO)))
