"""Figures as they stand on paper, in the way the invoice's country writes them.

Babel would round to the nearest even digit; so every figure is brought to its places first, by
`money`, and a figure that would have to be rounded here is refused.
"""

import functools
import re
from datetime import date
from decimal import Decimal

from babel import Locale, UnknownLocaleError
from babel.dates import format_date
from babel.numbers import (
    format_currency,
    format_decimal,
    format_percent,
    get_currency_precision,
)

from ledger_tools.errors import ConfigError

_FRACTION = re.compile(r"\.[0#]+")


@functools.cache
def locale_of(name: str) -> Locale:
    """Return how figures and dates are written in a place such as ``en_US`` or ``fr_CA``.

    Raises:
        ConfigError: There is no such place.
    """
    try:
        return Locale.parse(name.replace("-", "_"))
    except (ValueError, TypeError, UnknownLocaleError):
        raise ConfigError(
            "invoice wording",
            f"'{name}' is not a way to write figures that is known",
            "Set 'Figures written as' on Start to one such as en_US or fr_CA",
        ) from None


def places_of(number: Decimal) -> int:
    """Return how many decimal places `number` needs.

    >>> places_of(Decimal("1.50"))
    1
    """
    exponent = number.normalize().as_tuple().exponent
    return max(0, -int(exponent))


def minor_digits(currency: str) -> int:
    """Return the decimal places of a currency's minor unit, 2 for cents."""
    return get_currency_precision(currency)


def number(value: Decimal, places: int, where: Locale) -> str:
    """Return `value` with exactly `places` decimals.

    >>> number(Decimal("1234.5"), 2, locale_of("en_US"))
    '1,234.50'

    Raises:
        ValueError: `value` has more decimals, which must not be rounded away here.
    """
    pattern = _with_places(where.decimal_formats[None].pattern, places)
    return format_decimal(_exact(value, places), format=pattern, locale=where)


def money(value: Decimal, currency: str, places: int, where: Locale) -> str:
    """Return `value` with exactly `places` decimals and the sign of its currency.

    >>> money(Decimal("-1234.5"), "CAD", 2, locale_of("en_CA"))
    '-$1,234.50'

    Raises:
        ValueError: `value` has more decimals, which must not be rounded away here.
    """
    pattern = _with_places(where.currency_formats["standard"].pattern, places)
    return format_currency(
        _exact(value, places), currency, format=pattern, locale=where, currency_digits=False
    )


def percent(rate: Decimal, where: Locale) -> str:
    """Return the fraction `rate` as a percentage with all its decimals.

    >>> percent(Decimal("0.09975"), locale_of("en_CA"))
    '9.975%'
    """
    places = places_of(rate * 100)
    pattern = where.percent_formats[None].pattern
    if places:
        pattern = pattern.replace("0", "0." + "0" * places)
    return format_percent(rate, format=pattern, locale=where)


def day(value: date, where: Locale) -> str:
    """Return a date in words.

    >>> day(date(2025, 2, 3), locale_of("en_US"))
    'February 3, 2025'
    """
    return format_date(value, format="long", locale=where)


def _exact(value: Decimal, places: int) -> Decimal:
    quantized = value.quantize(Decimal(1).scaleb(-places))
    if quantized != value:
        raise ValueError(f"{value} has more than {places} decimal places")
    return quantized or abs(quantized)


def _with_places(pattern: str, places: int) -> str:
    """Return a locale's number pattern with a fixed number of decimals."""
    fraction = "." + "0" * places if places else ""
    return _FRACTION.sub(fraction, pattern)
