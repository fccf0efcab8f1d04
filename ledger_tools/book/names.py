"""Cells found by their defined name: the owner's settings on `Start`, facts of the tax profile."""

from typing import NamedTuple

from ledger_tools.book.layout import RULED_ROWS, YES_NO, Look
from ledger_tools.shop.snapshot import Place, column_letters

NAME_WITH_TAX = "shop_authorised_with_tax"
"""Whether authorised amounts are meant with tax."""
NAME_REPAIR_BELOW = "shop_repair_below"
"""Percent of the price of replacing new below which the shop repairs; 0 for no such rule."""
NAME_MINIMUM = "shop_minimum"
"""Least net of a job on which anything is billed."""


class Setting(NamedTuple):
    """A cell on `Start` where the owner decides something, found by its defined name.

    Attributes:
        key: Attribute of the shop's settings.
        name: Defined name of the cell.
        label: Text beside it.
        look: Format.
        choices: Words to choose from.
        hint: Message shown when the cell is selected.
        since: Book format it came with.
    """

    key: str
    name: str
    label: str
    look: Look = Look.TEXT
    choices: tuple[str, ...] = ()
    hint: str = ""
    since: int = 1


SETTINGS = (
    Setting("name", "shop_name", "Shop name"),
    Setting("address", "shop_address", "Address", Look.WRAPPED),
    Setting("contact", "shop_contact", "Contact", Look.WRAPPED),
    Setting("tax_number", "shop_tax_number", "Tax number"),
    Setting("payment", "shop_payment", "How to pay", Look.WRAPPED),
    Setting("terms_days", "shop_terms_days", "Days to pay", Look.WHOLE),
    Setting("currency", "shop_currency", "Currency"),
    Setting("digits", "shop_digits", "Decimal places of amounts", Look.WHOLE),
    Setting("language", "shop_language", "Language of papers"),
    Setting("locale", "shop_locale", "Figures written as", hint="Such as en_US, en_GB, fr_CA."),
    Setting("paper", "shop_paper", "Paper", choices=("A4", "Letter")),
    Setting("step", "shop_hour_step", "Bill labour in steps of (min)", Look.WHOLE),
    Setting("direction", "shop_hour_direction", "Round minutes", choices=("nearest", "up")),
    Setting("scope", "shop_hour_scope", "Round once for each", choices=("job", "line")),
    Setting("default_class", "shop_default_class", "Usual labour class"),
    Setting("number_pattern", "shop_number_pattern", "Numbers look like"),
    Setting("first_month", "shop_first_month", "Year begins in month", Look.WHOLE),
    Setting(
        "authorised_with_tax",
        NAME_WITH_TAX,
        "Authorised amounts are with tax",
        choices=YES_NO,
    ),
    Setting(
        "require_authorisation",
        "shop_require_authorisation",
        "Bill only authorised jobs",
        choices=YES_NO,
    ),
    Setting(
        "keep_time",
        "shop_keep_time",
        "Keep minutes on the sheet Time",
        choices=YES_NO,
        hint="yes: recompute makes the sheet.",
        since=2,
    ),
    Setting(
        "gap_minutes",
        "shop_gap_minutes",
        "Name gaps in a day from (min)",
        Look.WHOLE,
        hint="A gap of that length between two rows of Time is noted. 0: none is.",
        since=2,
    ),
    Setting("valid_days", "shop_valid_days", "Estimates valid for (days)", Look.WHOLE, since=2),
    Setting(
        "deposit_percent",
        "shop_deposit_percent",
        "Deposit asked, percent",
        Look.WHOLE,
        hint="Of the estimate's total; 0 or empty asks for none.",
        since=2,
    ),
    Setting(
        "offer_options",
        "shop_offer_options",
        "Repair or replace on Options",
        choices=YES_NO,
        hint="yes: recompute makes the sheet Options; estimates print what stands there.",
        since=2,
    ),
    Setting(
        "repair_below",
        NAME_REPAIR_BELOW,
        "Repair below, percent of new",
        Look.WHOLE,
        hint="Your own rule, no authority sets one. 0 or empty: none.",
        since=2,
    ),
    Setting(
        "assumptions",
        "shop_assumptions",
        "Estimates assume",
        Look.WRAPPED,
        hint="A line each: the name of a text of the tools, or your own words.",
        since=2,
    ),
    Setting(
        "exclusions",
        "shop_exclusions",
        "Estimates leave out",
        Look.WRAPPED,
        hint="A line each: the name of a text of the tools, or your own words.",
        since=2,
    ),
    Setting(
        "minimum_charge",
        NAME_MINIMUM,
        "Minimum charge, net",
        Look.MONEY,
        hint="Least that a job comes to on which anything is billed; 0 or empty: none. "
        "Recompute applies it.",
        since=2,
    ),
    Setting(
        "guarantee",
        "shop_guarantee",
        "Guarantee",
        Look.WRAPPED,
        hint="Your own, a line each: 90 days, 12 months, maker, none, or your words. What a law "
        "gives stands on Guarantees and is printed besides.",
        since=2,
    ),
    Setting(
        "storage_free_days",
        "shop_storage_free_days",
        "Storage is free for (days)",
        Look.WHOLE,
        hint="After the notice that the work is ready.",
        since=2,
    ),
    Setting(
        "storage_price",
        "shop_storage_price",
        "Storage after them, a day",
        Look.MONEY,
        hint="Before tax. 0 or empty: none, and nothing is printed. Local law may restrict it.",
        since=2,
    ),
    Setting(
        "name_vendors",
        "shop_name_vendors",
        "Name vendors on estimates",
        choices=YES_NO,
        hint="Who does sublet work. Some places require it.",
        since=2,
    ),
)

NAME_AS_OF = "shop_as_of"
NAME_LAST_JOB = "shop_last_job"
NAME_LAST_INVOICE = "shop_last_invoice"
NAME_ERRORS = "shop_errors"
NAME_WARNINGS = "shop_warnings"
NAME_NOTES = "shop_notes"
NAME_TAX_PROFILE = "tax_profile"
NAME_TAX_TITLE = "tax_title"
NAME_TAX_VERSION = "tax_version"
NAME_TAX_ROUNDING = "tax_rounding"
NAME_TAX_SOURCES = "tax_sources"
NAME_TAX_CAUTION = "tax_caution"
NAME_JOB_NUMBERS = "job_numbers"
LIST_NAMES = ("repair_codes", "labour_classes", "tax_classes", NAME_JOB_NUMBERS)
"""Names of the ranges that validation lists choose from, as far down as they are filled."""
NAME_PART_STATUS = "part_status"
"""Name of the range of words a part may be."""


def filled_part(sheet: str, top: Place) -> str:
    """Return a column from a cell down as far as it is filled, as a name refers to it.

    Args:
        sheet: The sheet as it stands in a formula.
        top: First cell.
    """
    row, col = top
    first = f"{sheet}!${column_letters(col)}${row}"
    whole = f"{first}:${column_letters(col)}${row + RULED_ROWS}"
    used = f'MAX(1,SUMPRODUCT(--({whole}<>"")))'
    return f"{first}:INDEX({whole},{used})"
