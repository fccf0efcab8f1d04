"""Reading the shop's settings from `Start` and its tax rules from `Taxes`."""

import re
from dataclasses import replace
from datetime import date
from decimal import Decimal

from ledger_tools.billing.numbering import number_from
from ledger_tools.billing.tax import MOST_COMPONENTS, TaxProfile, TaxRate
from ledger_tools.book.cells import Gathered
from ledger_tools.book.layout import TAX_RATES_TABLE, YES_NO
from ledger_tools.book.names import (
    NAME_LAST_INVOICE,
    NAME_LAST_JOB,
    NAME_TAX_CAUTION,
    NAME_TAX_PROFILE,
    NAME_TAX_ROUNDING,
    NAME_TAX_SOURCES,
    NAME_TAX_TITLE,
    NAME_TAX_VERSION,
    SETTINGS,
    Setting,
)
from ledger_tools.book.parse_catalogue import say_rate_twice
from ledger_tools.book.parts.references import read_area
from ledger_tools.book.places import Grid, Places, book_format
from ledger_tools.book.rows import Row
from ledger_tools.errors import ConfigError, Severity
from ledger_tools.hours import HourPolicy
from ledger_tools.money import ROUNDING_MODES, ZERO, Rounding, decimal_from, from_cell, plain
from ledger_tools.shop.model import ShopSettings
from ledger_tools.shop.snapshot import Place, Scalar, Snapshot

_WHOLE = r"(?a)\d{1,6}"
_ANY_DAY = date(2000, 1, 1)
_CURRENCY = re.compile("[A-Za-z]{3}")
"""An ISO 4217 code."""
_MAY_BE_EMPTY = (
    "name",
    "address",
    "contact",
    "tax_number",
    "payment",
    "default_class",
    "keep_time",
    "gap_minutes",
    "valid_days",
    "deposit_percent",
    "assumptions",
    "exclusions",
    "offer_options",
    "repair_below",
    "minimum_charge",
    "guarantee",
    "storage_free_days",
    "storage_price",
)
_COUNTS = (
    Setting("last_job", NAME_LAST_JOB, "Last job"),
    Setting("last_invoice", NAME_LAST_INVOICE, "Last invoice"),
)
_TAX_ROUNDING = Setting("tax_rounding", NAME_TAX_ROUNDING, "Tax is rounded")


def place_of(name: str, snapshot: Snapshot) -> tuple[str, Place] | None:
    """Return the sheet and place of the cell a defined name means, or None where there is none."""
    sheet, _, cell = snapshot.names.get(name, "").rpartition("!")
    area = None if ":" in cell else read_area(cell)
    named = sheet.strip("'").replace("''", "'")
    if area is None or all(other.name != named for other in snapshot.sheets):
        return None
    return named, (area.first_row, area.first_col)


def value_at(snapshot: Snapshot, name: str) -> Scalar:
    """Return what the cell of a defined name shows, None where it is empty or gone."""
    found = place_of(name, snapshot)
    if found is None:
        return None
    sheet = next((s for s in snapshot.sheets if s.name == found[0]), None)
    return sheet.values.get(found[1]) if sheet else None


def text_at(snapshot: Snapshot, name: str) -> str:
    """Return the words in the cell of a defined name."""
    value = value_at(snapshot, name)
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return plain(from_cell(value)) if isinstance(value, int | float) else str(value).strip()


def count_at(snapshot: Snapshot, name: str) -> int | None:
    """Return the number last given, in the cell of a defined name; None where it is unreadable."""
    text = text_at(snapshot, name)
    return int(text) if re.fullmatch(_WHOLE, text) else None


def read_counts(snapshot: Snapshot, gathered: Gathered) -> tuple[int, int]:
    """Return the last numbers given to a job and to an invoice.

    One that cannot be read is an error: a number might be given twice.
    """
    counts = []
    for setting in _COUNTS:
        count = count_at(snapshot, setting.name)
        if count is None:
            said = text_at(snapshot, setting.name)
            _refuse(snapshot, gathered, setting, said, "the last number given, 0 for none")
        counts.append(count or 0)
    return counts[0], counts[1]


def late_settings(snapshot: Snapshot) -> list[Setting]:
    """Return the settings that a book lacks because it is older."""
    later = (s for s in SETTINGS if s.since > book_format(snapshot))
    return [s for s in later if place_of(s.name, snapshot) is None]


def read_settings(snapshot: Snapshot, gathered: Gathered) -> ShopSettings:
    """Return the shop's settings; one that cannot be read is an error, and as usual.

    What an older book does not say yet is as usual.
    """
    usual = ShopSettings()
    late = {s.key: getattr(usual, s.key) for s in late_settings(snapshot)}
    return replace(_settings_there(snapshot, gathered), **late)


def _settings_there(snapshot: Snapshot, gathered: Gathered) -> ShopSettings:
    said = {s.key: _said(snapshot, gathered, s) for s in SETTINGS}
    usual = ShopSettings()

    def whole(key: str, usually: int, least: int, most: int) -> int:
        text = said[key]
        if text and not (re.fullmatch(_WHOLE, text) and least <= int(text) <= most):
            setting = next(s for s in SETTINGS if s.key == key)
            _refuse(snapshot, gathered, setting, text, f"a whole number from {least} to {most}")
            return usually
        return int(text) if text else usually

    return ShopSettings(
        name=said["name"],
        address=said["address"],
        contact=said["contact"],
        tax_number=said["tax_number"],
        payment=said["payment"],
        terms_days=whole("terms_days", usual.terms_days, 0, 999),
        currency=said["currency"] or usual.currency,
        digits=whole("digits", usual.digits, 0, 4),
        language=said["language"] or usual.language,
        locale=said["locale"] or usual.locale,
        paper=said["paper"] or usual.paper,
        hours=HourPolicy(
            whole("step", usual.hours.step, 1, 60),
            said["direction"] or usual.hours.direction,
            said["scope"] or usual.hours.scope,
        ),
        number_pattern=said["number_pattern"] or usual.number_pattern,
        first_month=whole("first_month", usual.first_month, 1, 12),
        authorised_with_tax=said["authorised_with_tax"] != "no",
        require_authorisation=said["require_authorisation"] == "yes",
        default_class=said["default_class"],
        keep_time=said["keep_time"] == "yes",
        gap_minutes=whole("gap_minutes", usual.gap_minutes, 0, 999),
        valid_days=whole("valid_days", usual.valid_days, 1, 999),
        deposit_percent=whole("deposit_percent", usual.deposit_percent, 0, 100),
        assumptions=said["assumptions"],
        exclusions=said["exclusions"],
        guarantee=said["guarantee"],
        storage_free_days=whole("storage_free_days", usual.storage_free_days, 0, 999),
        storage_price=_money(snapshot, gathered, "storage_price", said["storage_price"]),
        name_vendors=said["name_vendors"] != "no",
        offer_options=said["offer_options"] == "yes",
        repair_below=whole("repair_below", usual.repair_below, 0, 100),
        minimum_charge=_money(snapshot, gathered, "minimum_charge", said["minimum_charge"]),
    )


def _money(snapshot: Snapshot, gathered: Gathered, key: str, said: str) -> Decimal:
    """Return a setting that is an amount; one that is none is an error, and counts as zero."""
    try:
        amount = decimal_from(said or "0")
    except ValueError:
        amount = Decimal(-1)
    if amount < 0:
        setting = next(s for s in SETTINGS if s.key == key)
        _refuse(snapshot, gathered, setting, said, "an amount, 0 for none")
        return ZERO
    return amount


def _said(snapshot: Snapshot, gathered: Gathered, setting: Setting) -> str:
    """Return what a setting's cell says; empty, and an error, where it cannot be so."""
    said = text_at(snapshot, setting.name)
    there = place_of(setting.name, snapshot) is not None
    late = not there and setting.since > book_format(snapshot)
    if not said and not late and not (there and setting.key in _MAY_BE_EMPTY):
        _refuse(snapshot, gathered, setting, said, "what the shop has decided")
    if said and setting.choices:
        chosen = [word for word in setting.choices if word.casefold() == said.casefold()]
        if not chosen:
            _refuse(snapshot, gathered, setting, said, " or ".join(setting.choices))
        return chosen[0] if chosen else ""
    if said and setting.key == "currency" and not _CURRENCY.fullmatch(said):
        _refuse(snapshot, gathered, setting, said, "three letters, such as USD")
    if said and setting.key == "number_pattern":
        try:
            number_from(said, 1, _ANY_DAY)
        except ConfigError as problem:
            _refuse(snapshot, gathered, setting, said, problem.remedy.removeprefix("Write "))
            return ""
    return said


def _refuse(
    snapshot: Snapshot, gathered: Gathered, setting: Setting, said: str, wanted: str
) -> None:
    found = place_of(setting.name, snapshot)
    gathered.add(
        Severity.ERROR,
        "setting-unreadable",
        f"'{setting.label}' is '{said}'" if found else f"The cell of '{setting.label}' is gone",
        f"Give {wanted}" if found else f"Name a cell {setting.name} again, or take a backup",
        sheet=found[0] if found else "",
        place=found[1] if found else None,
    )


def read_profile(
    snapshot: Snapshot, places: Places | None, gathered: Gathered, digits: int
) -> TaxProfile:
    """Return the tax rules the book holds."""
    mode = text_at(snapshot, NAME_TAX_ROUNDING)
    if places and mode not in ROUNDING_MODES:
        _refuse(snapshot, gathered, _TAX_ROUNDING, mode, ", ".join(ROUNDING_MODES))
    rates = _rates(snapshot, places, gathered)
    components, taxable = _classes(snapshot, places, gathered, {r.component for r in rates})
    return TaxProfile(
        name=text_at(snapshot, NAME_TAX_PROFILE),
        title=text_at(snapshot, NAME_TAX_TITLE),
        version=text_at(snapshot, NAME_TAX_VERSION),
        currency=text_at(snapshot, "shop_currency"),
        rounding=Rounding(digits, mode if mode in ROUNDING_MODES else "half-up"),
        components=components,
        rates=rates,
        taxable=taxable,
        sources=tuple(text_at(snapshot, NAME_TAX_SOURCES).splitlines()),
        caution=text_at(snapshot, NAME_TAX_CAUTION),
    )


def _classes(
    snapshot: Snapshot, places: Places | None, gathered: Gathered, taxed: set[str]
) -> tuple[tuple[str, ...], dict[str, frozenset[str]]]:
    """Return the components and, for each class of line, those that fall on it.

    A column is a component if a rate names it or if it says yes or no anywhere; what else an
    owner notes beside the classes is theirs.
    """
    grid = places.tax_classes if places else None
    if grid is None:
        return (), {}
    sheet = next(s for s in snapshot.sheets if s.name == grid.sheet)
    first, *rest = sorted(grid.columns, key=lambda key: grid.columns[key])
    rows = [Row(sheet, grid, n, gathered) for n in grid.rows]
    rows = [row for row in rows if row.holds(first)]
    components = tuple(
        name
        for name in rest
        if name in taxed or any(str(row.raw(name)).casefold() in YES_NO for row in rows)
    )
    named = [row.text(first).casefold() for row in rows]
    for twice in sorted({name for name in named if named.count(name) > 1}):
        _say_tax(gathered, grid, f"The class '{twice}' stands there twice", "Keep one of the rows")
    for unknown in sorted(taxed - {*components}):
        _say_tax(gathered, grid, f"The rates name '{unknown}', which is no column of the classes")
    if len(components) > MOST_COMPONENTS:
        _say_tax(gathered, grid, f"There are {len(components)} taxes, more than a job sheet holds")
        components = components[:MOST_COMPONENTS]
    return components, {
        row.name(first): frozenset(
            name for name in components if row.choice(name, YES_NO, "yes-or-no") == "yes"
        )
        for row in rows
    }


def _say_tax(
    gathered: Gathered,
    grid: Grid,
    what: str,
    remedy: str = "Give each tax one column beside the classes, and use that word for its rates",
) -> None:
    gathered.add(Severity.ERROR, "tax-unknown", what, remedy, sheet=grid.sheet)


def _rates(snapshot: Snapshot, places: Places | None, gathered: Gathered) -> tuple[TaxRate, ...]:
    if places is None:
        return ()
    grid = places.grid(TAX_RATES_TABLE)
    sheet = next(s for s in snapshot.sheets if s.name == grid.sheet)
    rates = []
    seen: set[tuple[str, date]] = set()
    for n in grid.rows:
        row = Row(sheet, grid, n, gathered)
        if not row.holds("component", "rate"):
            continue
        component = row.needed("component", row.name, "tax-missing", "The rate names no tax")
        day = row.needed("first_day", row.day, "date-missing", "The rate has no first day")
        rate = row.needed("rate", row.number, "rate-missing", "The tax has no rate")
        if component and day and isinstance(rate, Decimal):
            say_rate_twice(row, component, day, seen)
            rates.append(TaxRate(component, day, rate, row.text("source")))
    return tuple(rates)
