"""Tax by component, at the rate of the day, rounded once on the sum it falls on."""

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest

from ledger_tools.billing.tax import TaxAmount, TaxProfile, TaxRate, rate_on, taxes_on
from ledger_tools.costing.lines import Kind
from ledger_tools.errors import RateMissingError, UnknownTaxClassError
from ledger_tools.money import Rounding
from ledger_tools.settings import load_seed, profiles
from tests.published import decimal, published, said

TODAY = date(2025, 3, 31)
JANUARY = date(2025, 1, 1)

CHANGES = [
    ("gb", "VAT", "2008-12-01", "0.175", "0.15"),
    ("gb", "VAT", "2010-01-01", "0.15", "0.175"),
    ("gb", "VAT", "2011-01-04", "0.175", "0.20"),
    ("us-ca", "Sales tax", "2011-07-01", "0.0825", "0.0725"),
    ("us-ca", "Sales tax", "2013-01-01", "0.0725", "0.075"),
    ("us-ca", "Sales tax", "2017-01-01", "0.075", "0.0725"),
    ("ca-qc", "GST", "2006-07-01", "0.07", "0.06"),
    ("ca-qc", "GST", "2008-01-01", "0.06", "0.05"),
]
"""Every change of a shipped rate: profile, tax, first day, rate before, rate after."""


def shipped(name: str) -> TaxProfile:
    """Return a profile as it is shipped."""
    return load_seed(name, as_of=TODAY).profile


def one_tax(rate: str, *, mode: str = "half-up", first_day: date = JANUARY) -> TaxProfile:
    """Return a profile with one tax that falls on labour and not on the class `exempt`."""
    return TaxProfile(
        name="one",
        title="One tax",
        version="2025-01-01",
        currency="EUR",
        rounding=Rounding(2, mode),
        components=("Tax",),
        rates=(TaxRate("Tax", first_day, Decimal(rate), "a source"),),
        taxable={"labour": frozenset({"Tax"}), "exempt": frozenset()},
    )


def by_name(taxes: tuple[TaxAmount, ...]) -> dict[str, TaxAmount]:
    """Return the amounts by component."""
    return {tax.component: tax for tax in taxes}


@pytest.mark.parametrize("value", [v for v in published("tax") if "us-ca" not in v.id])
def test_published_tax_and_total(value: dict[str, Any]) -> None:
    """Each tax and the total come to what the authority prints."""
    inputs, expected = value["inputs"], value["expected"]
    net = decimal(value, "inputs", "net")

    taxes = taxes_on(
        [(inputs["class"], net)],
        profile=shipped(inputs["profile"]),
        day=date.fromisoformat(inputs["day"]),
    )

    for component in expected.keys() - {"total"}:
        amount = by_name(taxes)[component].amount
        assert amount == decimal(value, "expected", component), said(value)
    total = net + sum(tax.amount for tax in taxes)
    assert total == decimal(value, "expected", "total"), said(value)


@pytest.mark.parametrize("value", published("tax", prefix="us-ca"))
def test_published_taxable_base(value: dict[str, Any]) -> None:
    """Goods charged as a line of their own are taxed, the labour beside them is not."""
    inputs = value["inputs"]

    taxes = taxes_on(
        [
            (inputs["class"], decimal(value, "inputs", "net")),
            ("labour", decimal(value, "inputs", "untaxed_labour")),
        ],
        profile=shipped(inputs["profile"]),
        day=date.fromisoformat(inputs["day"]),
    )

    assert {t.base for t in taxes} == {decimal(value, "expected", "base")}, said(value)


@pytest.mark.parametrize("value", published("invoices"))
def test_published_invoice_total(value: dict[str, Any]) -> None:
    """A tie in the last place goes away from zero, on an invoice and on its credit note."""
    net = decimal(value, "inputs", "net")

    (tax,) = taxes_on([("labour", net)], profile=one_tax(value["inputs"]["rate"]), day=TODAY)

    assert tax.amount == decimal(value, "expected", "tax"), said(value)
    assert net + tax.amount == decimal(value, "expected", "total"), said(value)


@pytest.mark.parametrize(("profile", "component", "first_day", "before", "after"), CHANGES)
def test_rate_changes_on_its_first_day(
    profile: str, component: str, first_day: str, before: str, after: str
) -> None:
    """The day before has the old rate, the day itself the new one."""
    rates = shipped(profile).rates
    day = date.fromisoformat(first_day)

    assert rate_on(day - timedelta(days=1), component, rates) == Decimal(before)
    assert rate_on(day, component, rates) == Decimal(after)
    assert rate_on(day, component, reversed(rates)) == Decimal(after)


def test_every_shipped_change_of_rate_is_tested() -> None:
    """A rate added to a shipped profile needs its own two days in the test above."""
    changes = {
        (name, rate.component, rate.first_day.isoformat())
        for name in profiles()
        for rate in shipped(name).rates
        if rate_on(rate.first_day - timedelta(days=1), rate.component, shipped(name).rates)
        is not None
    }

    assert changes == {change[:3] for change in CHANGES}


@pytest.mark.parametrize(
    ("profile", "kind", "day", "component"),
    [
        ("gb", "labour", date(1991, 3, 31), "VAT"),
        ("gb", "reduced", date(1997, 8, 31), "VAT reduced rate"),
        ("us-ca", "part", date(2009, 3, 31), "Sales tax"),
        ("ca-qc", "labour", date(1990, 12, 31), "GST"),
        ("ca-qc", "labour", date(2012, 12, 31), "QST"),
    ],
)
def test_no_rate_before_the_first(profile: str, kind: str, day: date, component: str) -> None:
    """Taxing before the first known rate is refused, naming tax and day; the day after is not."""
    lines = [(kind, Decimal("10.00"))]

    with pytest.raises(RateMissingError, match=rf"{component} .*{day.isoformat()}.*10\.00"):
        taxes_on(lines, profile=shipped(profile), day=day)
    rates = shipped(profile).rates
    assert rate_on(day + timedelta(days=1), component, rates) is not None


def test_a_discount_alone_needs_a_rate_too() -> None:
    """Money taken off is taxable as well: no rate, no sum, and not a tax of nothing."""
    with pytest.raises(RateMissingError, match=r"-10\.00"):
        taxes_on(
            [("labour", Decimal("-10.00"))],
            profile=one_tax("0.20"),
            day=JANUARY - timedelta(days=1),
        )


def test_a_missing_rate_matters_only_where_something_is_taxable() -> None:
    """Nothing taxable, nothing to refuse: base, rate and tax are zero."""
    taxes = taxes_on(
        [("exempt", Decimal("50.00"))],
        profile=one_tax("0.20"),
        day=JANUARY - timedelta(days=1),
    )

    assert taxes == (TaxAmount("Tax", Decimal("0.00"), Decimal(0), Decimal("0.00")),)


def test_a_zero_base_still_shows_its_rate() -> None:
    """A component with nothing to tax stands there with the rate in force."""
    (tax,) = taxes_on([("exempt", Decimal("50.00"))], profile=one_tax("0.20"), day=TODAY)

    assert (str(tax.base), tax.rate, str(tax.amount)) == ("0.00", Decimal("0.20"), "0.00")


def test_no_lines_no_tax() -> None:
    """An empty job has a base of 0.00 at the currency's places."""
    (tax,) = taxes_on([], profile=one_tax("0.20"), day=TODAY)

    assert (str(tax.base), str(tax.amount)) == ("0.00", "0.00")


@pytest.mark.parametrize(
    ("net", "rate", "mode", "tax"),
    [
        ("0.10", "0.05", "half-up", "0.01"),
        ("-0.10", "0.05", "half-up", "-0.01"),
        ("0.10", "0.05", "half-down", "0.00"),
        ("-0.10", "0.05", "half-down", "0.00"),
        ("0.11", "0.05", "half-down", "0.01"),
        ("0.19", "0.10", "down", "0.01"),
        ("-0.19", "0.10", "down", "-0.01"),
        ("0.09", "0.05", "half-up", "0.00"),
    ],
)
def test_half_a_cent_of_tax(net: str, rate: str, mode: str, tax: str) -> None:
    """The profile's mode decides a tie, the same for a credit."""
    (got,) = taxes_on([("labour", Decimal(net))], profile=one_tax(rate, mode=mode), day=TODAY)

    assert str(got.amount) == tax


def test_tax_is_rounded_once_on_the_sum() -> None:
    """Three lines of 0.10 at 5 % are 0.015, so 0.02; line by line it would be 0.03."""
    (tax,) = taxes_on([("labour", Decimal("0.10"))] * 3, profile=one_tax("0.05"), day=TODAY)

    assert (tax.base, tax.amount) == (Decimal("0.30"), Decimal("0.02"))


def test_a_discount_lowers_the_base() -> None:
    """In a place that taxes all, a discount takes its part of the tax off."""
    lines = [("labour", Decimal("200.00")), ("discount", Decimal("-20.00"))]

    vat = by_name(taxes_on(lines, profile=shipped("gb"), day=TODAY))["VAT"]

    assert (vat.base, vat.amount) == (Decimal("180.00"), Decimal("36.00"))


@pytest.mark.parametrize(
    ("profile", "taxed", "untaxed"),
    [
        ("none", set(), {*Kind, "fabrication", "exempt"}),
        ("us-ca", {"material", "part", "fabrication"},
         {"labour", "sublet", "fee", "discount", "exempt"}),
        ("gb", {*Kind, "fabrication", "reduced"}, {"zero", "exempt"}),
        ("ca-qc", {*Kind, "fabrication"}, {"zero", "exempt"}),
    ],
)  # fmt: skip
def test_what_is_taxed_where(profile: str, taxed: set[str], untaxed: set[str]) -> None:
    """The shipped profiles' classes, all of them, and which are taxed at all."""
    rules = shipped(profile).taxable

    assert {name for name, components in rules.items() if components} == taxed
    assert {name for name, components in rules.items() if not components} == untaxed


def test_reduced_rate_is_a_tax_of_its_own() -> None:
    """A line at the reduced rate leaves the standard base alone."""
    lines = [("labour", Decimal("100.00")), ("reduced", Decimal("40.00"))]

    taxes = by_name(taxes_on(lines, profile=shipped("gb"), day=TODAY))

    assert taxes["VAT"].amount == Decimal("20.00")
    assert taxes["VAT reduced rate"].base == Decimal("40.00")
    assert taxes["VAT reduced rate"].amount == Decimal("2.00")


def test_a_district_s_rate_joins_in_from_its_first_day() -> None:
    """The district component taxes nothing until the owner adds a rate, then the same base."""
    empty = shipped("us-ca")
    mine = TaxRate("District tax", date(2025, 4, 1), Decimal("0.0125"), "my district")
    filled = empty._replace(rates=(*empty.rates, mine))
    lines = [("part", Decimal("100.00")), ("labour", Decimal("500.00"))]

    def district(profile: TaxProfile, day: date) -> Decimal:
        return by_name(taxes_on(lines, profile=profile, day=day))["District tax"].amount

    assert district(empty, date(2025, 4, 1)) == Decimal("0.00")
    assert district(filled, date(2025, 3, 31)) == Decimal("0.00")
    assert district(filled, date(2025, 4, 1)) == Decimal("1.25")


def test_an_unknown_class_is_never_untaxed_silently() -> None:
    """A class the profile does not know stops the sum instead of escaping tax."""
    with pytest.raises(UnknownTaxClassError, match="lining"):
        taxes_on([("lining", Decimal("10.00"))], profile=one_tax("0.20"), day=TODAY)


def test_components_stand_in_the_profile_s_order() -> None:
    """An invoice names the taxes as the profile lists them, whatever the lines."""
    taxes = taxes_on([("labour", Decimal("10.00"))], profile=shipped("ca-qc"), day=TODAY)

    assert [tax.component for tax in taxes] == ["GST", "QST"]
