"""What stands on an invoice: sections, prices, taxes, and what the owner is told about it."""

import dataclasses
from decimal import Decimal

import pytest

from ledger_tools.billing.tax import TaxAmount
from ledger_tools.costing.lines import Kind
from ledger_tools.documents import paper
from ledger_tools.errors import ConfigError, Severity
from tests.documents.examples import HOUSING, TWO_TAXES, invoice, line


def test_sublet_work_is_a_section_of_its_own() -> None:
    """Sections stand in a fixed order, each with its own kinds of line."""
    headings = {
        part.heading: [each.line_id for each in part.lines] for part in paper.sections(TWO_TAXES)
    }

    assert list(headings.items()) == [
        ("Work", [1, 2]),
        ("Materials and parts", [3, 4, 5]),
        ("Sublet work", [6]),
        ("Fees and discounts", [7, 8, 9]),
    ]


def test_every_kind_of_line_is_in_one_section() -> None:
    """No billed line can be missing from the paper."""
    assert sorted(kind for kinds in paper.SECTIONS.values() for kind in kinds) == sorted(Kind)


@pytest.mark.parametrize(
    ("price", "amount", "shown"),
    [("25.00", "-25.00", "-25.00"), ("-25.00", "-25.00", "-25.00"), ("0.00", "0.00", "0.00")],
)
def test_discount_price_has_the_sign_of_its_amount(price: str, amount: str, shown: str) -> None:
    """Quantity x price on paper gives the amount on paper."""
    discount = line(1, Kind.DISCOUNT, "Regular customer", "1", price, amount)

    assert paper.shown_price(discount) == Decimal(shown)


def test_tax_on_nothing_is_not_printed() -> None:
    """A component that falls on no line, or has no rate here, says nothing; half a cent does."""
    taxes = (
        TaxAmount("GST", Decimal("0.05"), Decimal("0.05"), Decimal("0.00")),
        TaxAmount("PST", Decimal("0.00"), Decimal("0.07"), Decimal("0.00")),
        TaxAmount("District tax", Decimal("160.00"), Decimal(0), Decimal("0.00")),
    )

    charged = paper.charged(dataclasses.replace(HOUSING, taxes=taxes))

    assert [tax.component for tax in charged] == ["GST"]


def test_one_line_has_no_subtotal() -> None:
    """A sum of one figure is not said twice."""
    work, _, sublet, _ = paper.sections(TWO_TAXES)

    assert paper.has_subtotal(TWO_TAXES, work)
    assert not paper.has_subtotal(TWO_TAXES, sublet)


def test_how_time_is_billed_is_said_only_where_time_is_billed() -> None:
    """An invoice for parts alone does not talk of hours."""
    parts = invoice(line(1, Kind.PART, "Cap", "1", "4.00"))

    assert [heading for heading, _ in paper.closing(HOUSING)] == ["How time is billed"]
    assert paper.closing(parts) == []


def test_amounts_never_lose_a_digit() -> None:
    """A figure kept with more places than the currency has is printed with all of them."""
    odd = dataclasses.replace(HOUSING, total=Decimal("160.005"))

    assert (paper.digits(HOUSING), paper.digits(odd)) == (2, 3)


def test_unknown_paper_is_a_clear_error() -> None:
    """The owner is told which papers there are."""
    odd = dataclasses.replace(HOUSING, wording={**HOUSING.wording, "paper": "foolscap"})

    with pytest.raises(ConfigError, match="'foolscap' is not a paper size"):
        paper.page_size(odd)


def test_sound_invoice_has_no_findings() -> None:
    """Nothing is said where nothing is amiss."""
    assert paper.paper_findings(TWO_TAXES) == []


def test_letters_shown_as_a_box_are_told_with_their_place() -> None:
    """The owner learns which letters, where, and what to do."""
    foreign = dataclasses.replace(HOUSING, customer="山田 🔧", item="Tank 山")
    (finding,) = paper.paper_findings(foreign)

    assert finding.severity is Severity.WARNING
    assert "'山' (U+5C71), '田' (U+7530), '🔧' (U+1F527)" in finding.what
    assert "the customer's name, the item; printed as □" in finding.what
