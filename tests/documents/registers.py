"""An invented shop's registers for a year: about 25 invoices a quarter, the same every time."""

import random
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.periods import period_from
from ledger_tools.billing.tax import TaxProfile, TaxRate, taxes_on
from ledger_tools.costing.catalogue import Catalogue, RepairType
from ledger_tools.costing.lines import Kind
from ledger_tools.hours import HourPolicy, hours_of
from ledger_tools.money import ZERO, Rounding
from ledger_tools.shop.model import Payment, ShopBook, ShopSettings

CENTS = Rounding(2)
QUARTER = period_from("2025-Q3")
LABOUR = {"welding": Decimal("92.00"), "bench": Decimal("74.00")}
REPAIRS = {
    "TANK-WELD": ("Fuel tank, seam weld", 190, 3),
    "TANK-LINE": ("Fuel tank, lining", 95, 2),
    "RAD-CORE": ("Radiator, new core", 150, 2),
    "RAD-LEAK": ("Radiator, leak", 75, 3),
    "HOUSING": ("Gear housing, crack", 210, 2),
    "FRAME": ("Frame, straighten and weld", 260, 2),
    "PANEL": ("Body panel, patch", 120, 2),
    "MUFFLER": ("Exhaust box, repair", 65, 2),
    "ALU-BOX": ("Aluminium box, weld", 85, 2),
}
VENDORS = ("Brightwater Plating", "Eastgate Coatings", "Hollis Tank Lining")
CUSTOMERS = (
    "Marsh Lane Farm",
    "Orchard Bus Company",
    "Tidewater Boats",
    "J. Okafor",
    "Fernhill Dairy",
    "Upland Forestry",
    "Petra Lindqvist",
    "Municipal Works Yard",
    '=HYPERLINK("http://invalid","Pay here")',
    "Quarry & Sons",
)
ITEMS = {
    "TANK": "Tractor fuel tank",
    "RAD-": "Radiator, diesel engine",
    "HOUS": "Pump gear housing",
    "FRAM": "Trailer frame",
    "PANE": "Van side panel",
    "MUFF": "Exhaust box",
    "ALU-": "Tool box, aluminium",
}
REASONS = ("rework", "demonstration", "teaching", "waiting", "set-up")
PROFILE = TaxProfile(
    name="sample",
    title="Sample taxes",
    version="2025-01-01",
    currency="USD",
    rounding=CENTS,
    components=("State tax", "District tax"),
    rates=(
        TaxRate("State tax", date(2020, 1, 1), Decimal("0.0725"), "invented for the test"),
        TaxRate("District tax", date(2020, 1, 1), Decimal("0.01"), "invented for the test"),
        TaxRate("District tax", date(2025, 9, 1), Decimal("0.0125"), "invented for the test"),
    ),
    taxable={
        kind.value: frozenset({"State tax", "District tax"})
        if kind in {Kind.PART, Kind.MATERIAL}
        else frozenset()
        for kind in Kind
    },
    sources=("Invented for the test",),
    caution="Invented rates; ask your authority.",
)


def sample_book(*, year: int = 2025, each_quarter: int = 25, seed: int = 7) -> ShopBook:
    """Return a shop book with a year of invoices and payments, and a few from the year before."""
    chance = random.Random(seed)  # noqa: S311 - figures to add up, nothing secret
    days = sorted(
        date(year, 1, 1) + timedelta(days=91 * quarter + chance.randrange(89))
        for quarter in range(4)
        for _ in range(each_quarter)
    )
    older = [date(year - 1, 11, 20), date(year - 1, 12, 5), date(year - 1, 12, 19)]
    invoices = [
        _invoice(chance, n, day, n - len(older)) for n, day in enumerate([*older, *days], 1)
    ]
    payments = [p for invoice in invoices for p in _payments(chance, invoice, year)]
    return ShopBook(
        settings=ShopSettings(name="Harrow & Pike Metal Repair", paper="Letter"),
        as_of=date(year + 1, 1, 20),
        profile=PROFILE,
        catalogue=Catalogue(
            (), tuple(RepairType(code, name, ()) for code, (name, _, _) in REPAIRS.items()), ()
        ),
        payments=tuple(sorted(payments, key=lambda p: (p.day, p.invoice))),
        invoices={invoice.number: invoice for invoice in invoices},
        last_invoice=len(days),
    )


def invoice_of(  # noqa: PLR0913 - an invoice has that many facts
    number: str,
    day: date,
    lines: tuple[InvoiceLine, ...],
    *,
    job: str = "",
    repair: str = "",
    customer: str = "Marsh Lane Farm",
    item: str = "Tank",
    profile: TaxProfile = PROFILE,
) -> Invoice:
    """Return an invoice over `lines`, with its taxes and sums, due after two weeks."""
    taxes = taxes_on([(x.taxed_as, x.amount) for x in lines], profile=profile, day=day)
    taxes = tuple(tax for tax in taxes if tax.base)
    subtotal = sum((line.amount for line in lines), start=ZERO)
    tax = sum((t.amount for t in taxes), start=ZERO)
    return Invoice(
        number=number,
        job=job or number,
        day=day,
        due=day + timedelta(days=14),
        customer=customer,
        item=item,
        repair=repair,
        lines=lines,
        taxes=taxes,
        subtotal=subtotal,
        tax=tax,
        total=subtotal + tax,
        currency=profile.currency,
    )


def labour_line(  # noqa: PLR0913 - a line has that many facts
    line_id: int,
    estimate: int,
    actual: int,
    *,
    idle: int = 0,
    reason: str = "",
    labour_class: str = "welding",
) -> InvoiceLine:
    """Return a labour line billed in tenths of an hour."""
    price = LABOUR[labour_class]
    hours = hours_of(HourPolicy().billed(actual - idle))
    return InvoiceLine(
        line_id=line_id,
        kind=Kind.LABOUR,
        description=f"{labour_class.capitalize()} work",
        quantity=hours,
        unit="h",
        price=price,
        amount=CENTS.amount(hours * price),
        taxed_as="labour",
        labour_class=labour_class,
        estimate=Decimal(estimate),
        actual=Decimal(actual),
        non_billable=Decimal(idle) if idle else None,
        reason=reason,
        non_billable_value=CENTS.amount(price * idle / 60),
        estimated=CENTS.amount(hours_of(HourPolicy().billed(estimate)) * price),
    )


def other_line(  # noqa: PLR0913 - a line has that many facts
    line_id: int,
    kind: Kind,
    amount: str,
    *,
    cost: str | None = None,
    vendor: str = "",
    description: str = "",
) -> InvoiceLine:
    """Return a line of any kind but labour, billed as estimated."""
    value = Decimal(amount)
    return InvoiceLine(
        line_id=line_id,
        kind=kind,
        description=description or kind.value.capitalize(),
        quantity=Decimal(1),
        unit="pc",
        price=abs(value),
        amount=value,
        taxed_as=kind.value,
        vendor=vendor,
        cost=Decimal(cost) if cost is not None else None,
        estimate=Decimal(1),
        actual=Decimal(1),
        estimated=value,
    )


def with_invoices(*invoices: Invoice, payments: tuple[Payment, ...] = ()) -> ShopBook:
    """Return the sample shop with these registers alone."""
    shop = sample_book(each_quarter=1)
    return replace(shop, invoices={i.number: i for i in invoices}, payments=payments)


def sublet_invoice(
    number: str, amount: str, *, day: date = QUARTER.first, **facts: str | None
) -> Invoice:
    """Return an invoice of one sublet line."""
    vendor, cost = facts.pop("vendor", None) or "", facts.pop("cost", None)
    line = other_line(1, Kind.SUBLET, amount, vendor=vendor, cost=cost)
    return invoice_of(number, day, (line,), **facts)  # type: ignore[arg-type]


def awkward_book() -> ShopBook:
    """Return registers full of what a formula could trip over."""
    names = ("A*", "AB", "a*", ">5", "=5", "~?", "5", "", "x" * 60)
    invoices = [
        sublet_invoice(
            f"25-{n:04}", f"{n}.05", vendor=name, cost=None if n == 3 else "0.95",
            repair=name[:8], customer="@SUM(1)", item="\t-2+3",
        )
        for n, name in enumerate(names, 1)
    ]  # fmt: skip
    line = replace(labour_line(1, 0, 97, idle=41, reason="own word *"), description="=1+1")
    invoices.append(invoice_of("25-0012", QUARTER.last, (line,), repair="A*"))
    invoices.append(sublet_invoice("25-0013", "70.00", day=QUARTER.last + timedelta(days=1)))
    invoices.append(sublet_invoice("24-0099", "55.55", day=date(2024, 12, 31)))
    payments = (
        Payment(QUARTER.first - timedelta(days=1), "25-0001", Decimal("0.55"), "cash", "before"),
        Payment(QUARTER.last, "25-0002", Decimal("3.00"), "cash", "=overpaid"),
        Payment(QUARTER.last, "25-0013", Decimal("20.00"), "bank", "before its invoice"),
        Payment(QUARTER.last, "25-9999", Decimal("8.08"), "bank", "unknown"),
        Payment(QUARTER.first, "24-0099", Decimal("50.00"), "bank"),
        Payment(QUARTER.last + timedelta(days=1), "24-0099", Decimal("5.55"), "bank", "too late"),
    )
    return with_invoices(*invoices, payments=payments)


def _invoice(chance: random.Random, n: int, day: date, sequence: int) -> Invoice:
    repair = chance.choice(tuple(REPAIRS))
    number = f"{day.year % 100:02}-{sequence if sequence > 0 else 88 + n:04}"
    lines = _lines(chance, repair)
    return invoice_of(
        number,
        day,
        tuple(replace(line, line_id=at) for at, line in enumerate(lines, 1)),
        repair=repair,
        customer=chance.choice(CUSTOMERS),
        item=ITEMS[repair[:4]],
    )


def _lines(chance: random.Random, repair: str) -> list[InvoiceLine]:
    _, standard, _ = REPAIRS[repair]
    worked = round(standard * chance.choice((0.85, 0.95, 1.0, 1.1, 1.25, 1.6)))
    reason = chance.choice((*REASONS, "", "", "", ""))
    idle = chance.choice((10, 20, 35)) if reason else 0
    lines = [
        labour_line(1, standard, worked + idle, idle=idle, reason=reason),
        labour_line(2, 30, 30 + chance.randrange(12), labour_class="bench"),
        other_line(3, Kind.MATERIAL, f"{chance.randrange(800, 4600) / 100:.2f}"),
    ]
    if repair.startswith(("TANK", "FRAME", "PANEL")):
        cost = Decimal(chance.randrange(4000, 19000)) / 100
        billed = CENTS.amount(cost * Decimal("1.20"))
        vendor = VENDORS[2] if repair == "TANK-LINE" else chance.choice(VENDORS[:2])
        lines.append(other_line(4, Kind.SUBLET, str(billed), cost=f"{cost:.2f}", vendor=vendor))
    if repair.startswith(("RAD", "HOUS")):
        lines.append(other_line(5, Kind.PART, f"{chance.randrange(2500, 16000) / 100:.2f}"))
    if chance.random() < 0.3:
        lines.append(other_line(6, Kind.FEE, "12.50", description="Disposal of residue"))
    if chance.random() < 0.2:
        lines.append(other_line(7, Kind.DISCOUNT, "-15.00", description="Goodwill"))
    return lines


def _payments(chance: random.Random, invoice: Invoice, year: int) -> list[Payment]:
    fate = chance.random()
    later = invoice.day + timedelta(days=chance.choice((3, 9, 14, 21, 40, 75)))
    if invoice.day.year < year and fate < 0.6:
        return [Payment(date(year, 1, 15), invoice.number, invoice.total, "bank")]
    if fate < 0.78:
        return [Payment(later, invoice.number, invoice.total, chance.choice(("bank", "card")))]
    if fate < 0.9:
        part = CENTS.amount(invoice.total / 2)
        return [Payment(later, invoice.number, part, "cash", "part payment")]
    return []
