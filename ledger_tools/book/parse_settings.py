"""Reading the shop's settings from `Start` and its tax rules from `Taxes`."""

from decimal import Decimal

from ledger_tools.billing.tax import TaxProfile, TaxRate
from ledger_tools.book.cells import Gathered, Row
from ledger_tools.book.layout import (
    NAME_TAX_CAUTION,
    NAME_TAX_PROFILE,
    NAME_TAX_ROUNDING,
    NAME_TAX_SOURCES,
    NAME_TAX_TITLE,
    NAME_TAX_VERSION,
    SETTINGS,
    TAX_RATES_TABLE,
    Setting,
)
from ledger_tools.book.places import Places
from ledger_tools.errors import Severity
from ledger_tools.hours import HourPolicy
from ledger_tools.money import ROUNDING_MODES, Rounding, from_cell, plain
from ledger_tools.shop.model import ShopSettings
from ledger_tools.shop.snapshot import Place, Scalar, Snapshot


def place_of(name: str, snapshot: Snapshot) -> tuple[str, Place] | None:
    """Return the sheet and place of the cell a defined name means, or None."""
    sheet, _, cell = snapshot.names.get(name, "").rpartition("!")
    letters, _, row = cell.removeprefix("$").partition("$")
    if not (sheet and letters.isalpha() and row.isdigit()):
        return None
    col = 0
    for letter in letters.upper():
        col = col * 26 + ord(letter) - 64
    return sheet.strip("'").replace("''", "'"), (int(row), col)


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
    return plain(from_cell(value)) if isinstance(value, int | float) else str(value).strip()


def whole_at(snapshot: Snapshot, name: str) -> int:
    """Return the whole number in the cell of a defined name, 0 where there is none."""
    value = value_at(snapshot, name)
    return int(value) if isinstance(value, int | float) else 0


def read_settings(snapshot: Snapshot, gathered: Gathered) -> ShopSettings:
    """Return the shop's settings; one that cannot be read is an error, and as usual."""
    said = {s.key: text_at(snapshot, s.name) for s in SETTINGS}
    usual = ShopSettings()
    for setting in SETTINGS:
        if setting.choices and said[setting.key] and said[setting.key] not in setting.choices:
            _refuse(snapshot, gathered, setting, said[setting.key], ", ".join(setting.choices))
            said[setting.key] = ""

    def whole(key: str, usually: int, least: int, most: int) -> int:
        text = said[key]
        if text and not (text.isdigit() and least <= int(text) <= most):
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
    )


def _refuse(
    snapshot: Snapshot, gathered: Gathered, setting: Setting, said: str, wanted: str
) -> None:
    found = place_of(setting.name, snapshot)
    gathered.add(
        Severity.ERROR,
        "setting-unreadable",
        f"'{setting.label}' is '{said}'",
        f"Give {wanted}",
        sheet=found[0] if found else "",
        place=found[1] if found else None,
    )


def read_profile(
    snapshot: Snapshot, places: Places | None, gathered: Gathered, digits: int
) -> TaxProfile:
    """Return the tax rules the book holds."""
    mode = text_at(snapshot, NAME_TAX_ROUNDING)
    components, taxable = _classes(snapshot, places)
    return TaxProfile(
        name=text_at(snapshot, NAME_TAX_PROFILE),
        title=text_at(snapshot, NAME_TAX_TITLE),
        version=text_at(snapshot, NAME_TAX_VERSION),
        currency=text_at(snapshot, "shop_currency"),
        rounding=Rounding(digits, mode if mode in ROUNDING_MODES else "half-up"),
        components=components,
        rates=_rates(snapshot, places, gathered),
        taxable=taxable,
        sources=tuple(text_at(snapshot, NAME_TAX_SOURCES).splitlines()),
        caution=text_at(snapshot, NAME_TAX_CAUTION),
    )


def _classes(
    snapshot: Snapshot, places: Places | None
) -> tuple[tuple[str, ...], dict[str, frozenset[str]]]:
    grid = places.tax_classes if places else None
    if grid is None:
        return (), {}
    sheet = next(s for s in snapshot.sheets if s.name == grid.sheet)
    first, *rest = sorted(grid.columns.items(), key=lambda item: item[1])
    taxable: dict[str, frozenset[str]] = {}
    for row in grid.rows:
        name = str(sheet.values.get((row, first[1]), "")).strip()
        if name:
            taxable[name] = frozenset(
                component
                for component, col in rest
                if str(sheet.values.get((row, col), "")).strip().casefold() in ("yes", "true")
            )
    return tuple(component for component, _ in rest), taxable


def _rates(snapshot: Snapshot, places: Places | None, gathered: Gathered) -> tuple[TaxRate, ...]:
    if places is None:
        return ()
    grid = places.grid(TAX_RATES_TABLE)
    sheet = next(s for s in snapshot.sheets if s.name == grid.sheet)
    rates = []
    for n in grid.rows:
        row = Row(sheet, grid, n, gathered)
        if not row.holds("component", "rate"):
            continue
        component = row.needed("component", row.text, "tax-missing", "The rate names no tax")
        day = row.needed("first_day", row.day, "date-missing", "The rate has no first day")
        rate = row.needed("rate", row.number, "rate-missing", "The tax has no rate")
        if component and day and isinstance(rate, Decimal):
            rates.append(TaxRate(component, day, rate, row.text("source")))
    return tuple(rates)
