"""Figures on paper: the country's way of writing, and never a rounding of their own."""

from datetime import date
from decimal import Decimal

import pytest

from ledger_tools.documents import figures
from ledger_tools.errors import ConfigError
from tests.documents.examples import plain


@pytest.mark.parametrize(
    ("place", "written"),
    [
        ("en_US", "1,234,567.50"),
        ("fr_CA", "1 234 567,50"),
        ("de_DE", "1.234.567,50"),
        ("en_IN", "12,34,567.50"),
    ],
)
def test_amount_is_written_as_the_country_does(place: str, written: str) -> None:
    """Marks for thousands and decimals are the country's, the figure is the same."""
    shown = figures.number(Decimal("1234567.5"), 2, figures.locale_of(place))

    assert plain(shown) == written


@pytest.mark.parametrize("amount", ["2.665", "2.675", "0.005", "-0.005"])
def test_half_a_cent_is_refused_not_rounded(amount: str) -> None:
    """A figure that would have to be rounded is refused; Babel would take it to the even cent."""
    with pytest.raises(ValueError, match="more than 2 decimal places"):
        figures.number(Decimal(amount), 2, figures.locale_of("en_US"))


@pytest.mark.parametrize(
    ("rate", "written"),
    [("0.09975", "9.975%"), ("0.0500", "5%"), ("0.0725", "7.25%"), ("1", "100%"), ("0", "0%")],
)
def test_rate_keeps_every_decimal_it_has(rate: str, written: str) -> None:
    """A rate of three decimals stays whole, one of none gets none."""
    assert figures.percent(Decimal(rate), figures.locale_of("en_CA")) == written


def test_currency_without_minor_unit_has_no_decimals() -> None:
    """Yen are whole, Kuwaiti dinars have three places (ISO 4217, from memory)."""
    assert figures.minor_digits("JPY") == 0
    assert figures.minor_digits("KWD") == 3
    assert figures.money(Decimal(1200), "JPY", 0, figures.locale_of("en_US")) == "¥1,200"


def test_negative_zero_has_no_minus() -> None:
    """Nothing owed is not written as less than nothing."""
    assert figures.number(Decimal("-0.00"), 2, figures.locale_of("en_US")) == "0.00"


def test_date_is_in_words_of_the_language() -> None:
    """A date cannot be read as another one in another country."""
    assert figures.day(date(2025, 2, 3), figures.locale_of("fr-CA")) == "3 février 2025"


@pytest.mark.parametrize("name", ["", "xx_YY", "../etc", "en_US_POSIX_more_"])
def test_unknown_locale_is_a_clear_error(name: str) -> None:
    """The owner is told what to write instead."""
    with pytest.raises(ConfigError, match="such as en_US or fr_CA"):
        figures.locale_of(name)
