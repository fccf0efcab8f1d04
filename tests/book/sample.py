"""A small shop book made by hand, and a filled job sheet, to draw and to judge by."""

from collections.abc import Mapping
from datetime import date
from decimal import Decimal

from ledger_tools.billing.tax import TaxProfile, TaxRate
from ledger_tools.book.job_layout import (
    JOB_FLAG,
    JOB_HEADER,
    JOB_HEADER_ROW,
    JOB_ITEM,
    JOB_LINES,
    JOB_SPARE_LINES,
    JOB_TITLE,
    job_table,
)
from ledger_tools.costing.catalogue import (
    Catalogue,
    LabourRate,
    Material,
    Operation,
    RepairType,
)
from ledger_tools.costing.lines import Kind
from ledger_tools.hours import HourPolicy
from ledger_tools.money import Rounding
from ledger_tools.shop.model import ShopBook, ShopSettings
from ledger_tools.shop.plan import AddSheet, Content, SheetKind
from ledger_tools.shop.snapshot import Place, Scalar

_TANK = RepairType(
    "TANK",
    "Fuel tank, seam or pinhole",
    (
        Operation(Kind.LABOUR, "Drain, vent, rinse", "bench", 30, 45, 75),
        Operation(Kind.LABOUR, "Leak test under water", "bench", 15, 20, 30),
        Operation(Kind.LABOUR, "Weld seam", "welding", 40, 60, 120, hot_work=True),
        Operation(Kind.MATERIAL, "Filler rod", quantity=Decimal("0.2"), unit="kg",
                  cost=Decimal("18.50"), markup=Decimal("0.30")),
        Operation(Kind.SUBLET, "Lining", quantity=Decimal(1), unit="job",
                  cost=Decimal(140), markup=Decimal("0.20"), vendor="Coastline Coatings"),
    ),
)  # fmt: skip
_RADIATOR = RepairType(
    "RAD",
    "Radiator, tank seam",
    (
        Operation(Kind.LABOUR, "Pressure test", "bench", 10, 15, 25),
        Operation(Kind.LABOUR, "Solder seam", "welding", 30, 45, 80, hot_work=True),
        Operation(Kind.FEE, "Disposal of coolant", quantity=Decimal(1), unit="job",
                  price=Decimal("6.50")),
    ),
)  # fmt: skip
CATALOGUE = Catalogue(
    (
        LabourRate("bench", date(2025, 1, 1), Decimal(85), "Cleaning, testing, fitting"),
        LabourRate("welding", date(2025, 1, 1), Decimal(110)),
    ),
    (_TANK, _RADIATOR),
    (
        Material("Filler rod ER70S-6", "kg", Decimal("18.50"), Decimal("24.05")),
        Material("Argon", "l", Decimal("0.031"), Decimal("0.0455"), "=cost with a third on top"),
    ),
)
PROFILE = TaxProfile(
    "example",
    "Example of two taxes",
    "2025-01-01",
    "CAD",
    Rounding(2),
    ("GST", "QST"),
    (
        TaxRate("GST", date(2008, 1, 1), Decimal("0.05"), "A title, a publisher, section 1"),
        TaxRate("QST", date(2013, 1, 1), Decimal("0.09975"), "A title, a publisher, section 2"),
    ),
    {kind.value: frozenset({"GST", "QST"}) for kind in Kind} | {"untaxed": frozenset()},
    ("First source, publisher, section", "Second source, publisher, section"),
    "Does not decide on exempt customers. Check with your tax authority.",
)
SETTINGS = ShopSettings(
    name="Alder Street Metalworks",
    address="14 Alder Street\nHarbour Quarter\nSpringfield",
    contact="555 0134\nbench@alderstreet.example",
    tax_number="12-3456789",
    payment="Bank transfer within the days above.\nAccount 00 1234 5678",
    currency="CAD",
    paper="A4",
    hours=HourPolicy(6),
    default_class="bench",
)
BOOK = ShopBook(SETTINGS, date(2025, 3, 14), PROFILE, CATALOGUE)

_ROWS: tuple[Mapping[str, Scalar], ...] = (
    {"kind": "labour", "description": "Drain, vent, rinse", "labour_class": "bench",
     "unit": "min", "estimate": 45, "actual": 50, "billed": 0.8, "price": 85, "amount": 68,
     "mark": "over", "estimated": 63.75},
    {"kind": "labour", "description": "Leak test under water", "labour_class": "bench",
     "unit": "min", "estimate": 20, "actual": 35, "non_billable": 15, "reason": "demonstration",
     "billed": 0.3, "price": 85, "amount": 25.5, "mark": "over", "estimated": 25.5},
    {"kind": "labour", "description": "Strip paint at seam", "labour_class": "bench",
     "unit": "min", "estimate": 30, "actual": 28, "billed": 0.5, "price": 85, "amount": 42.5,
     "estimated": 42.5},
    {"kind": "labour", "description": "Weld seam, 240 mm", "labour_class": "welding",
     "unit": "min", "estimate": 60, "actual": "an hour", "price": 110, "amount": 0,
     "mark": "minutes?", "estimated": 110},
    {"kind": "labour", "description": "Second leak test", "labour_class": "bench",
     "unit": "min", "estimate": 20, "actual": 20, "billed": 0.3, "price": 85, "amount": 25.5,
     "estimated": 25.5},
    {"kind": "material", "description": "Filler rod ER70S-6", "unit": "kg", "estimate": 0.2,
     "actual": 0.25, "billed": 0.25, "price": 24.05, "amount": 6.01, "mark": "over",
     "cost": 18.5, "estimated": 4.81},
    {"kind": "part", "description": "Filler neck gasket", "unit": "pc", "estimate": 1,
     "actual": 1, "billed": 1, "price": 12.4, "amount": 12.4, "vendor": "Rail Supply",
     "cost": 8.9, "estimated": 12.4},
    {"kind": "sublet", "description": "Lining, two coats", "unit": "job", "estimate": 1,
     "billed": 1, "price": 168, "amount": 168, "vendor": "Coastline", "cost": 140,
     "estimated": 168},
    {"kind": "sublet", "description": "Paint, satin black", "unit": "job", "estimate": 1,
     "billed": 1, "price": 1096, "agreed_price": 1050, "amount": 1050, "vendor": "Hill Finish",
     "cost": 80, "estimated": 1096},
    {"kind": "discount", "description": "=SUM(goodwill)", "unit": "job", "estimate": 1,
     "actual": 1, "billed": 1, "price": 20, "amount": -20, "tax_class": "untaxed",
     "estimated": -20},
)  # fmt: skip
_TOP: Mapping[str, Scalar] = {
    "customer": "Harbour Boatyard Co-operative", "repair": "TANK", "opened": 45720,
    "promised": 45734, "stands": "in work", "invoice": "", "invoiced": "",
    "labour_estimated": 267.25, "labour_billed": 161.5, "material_estimated": 4.81,
    "material_billed": 6.01, "part_estimated": 12.4, "part_billed": 12.4,
    "sublet_estimated": 1264, "sublet_billed": 1218, "fee_estimated": 0, "fee_billed": 0,
    "discount_estimated": -20, "discount_billed": -20, "net_estimated": 1528.46,
    "net_billed": 1377.91, "tax1_rate": 0.05, "tax1_base": 1397.91, "tax1_estimated": 77.42,
    "tax1_billed": 69.9, "tax2_rate": 0.09975, "tax2_base": 1397.91, "tax2_estimated": 154.46,
    "tax2_billed": 139.44, "tax_estimated": 231.88, "tax_billed": 209.34,
    "total_estimated": 1760.34, "total_billed": 1587.25, "balance": "", "ceiling": 1500,
    "over": 0, "estimate_minutes": 175, "actual_minutes": 133, "non_billable_minutes": 15,
    "billed_hours": 1.9, "non_billable_value": 21.25, "last_line": 10,
}  # fmt: skip


def job_sheet(number: str = "25-0007", *, lines: int = len(_ROWS)) -> AddSheet:
    """Return a filled job sheet; amounts are formulas with the value beside them."""
    contents: dict[Place, Content] = {
        JOB_TITLE: Content(number),
        JOB_ITEM: Content("Diesel tank, 180 l, leaking at rear seam"),
        JOB_FLAG: Content("minutes?", 'IF(COUNTIF($N$12:$N$500,"minutes~?")>0,"minutes?","")'),
    }
    for row, line in enumerate(_ROWS[:lines], JOB_HEADER_ROW + 1):
        for col, column in enumerate(JOB_LINES, 1):
            value = row - JOB_HEADER_ROW if column.key == "line_id" else line.get(column.key)
            formula = f"ROUND(J{row}*K{row},2)" if column.key == "amount" else None
            contents[row, col] = Content(value, formula)
    for cell in JOB_HEADER:
        contents[cell.row, cell.value_col] = Content(_TOP.get(cell.key))
    contents[3, 9], contents[4, 9] = Content("GST"), Content("QST")
    contents[9, 7] = Content(_TOP["net_billed"], "ROUND(SUM($M$11:$M$500),2)")
    return AddSheet(
        number,
        SheetKind.JOB,
        contents,
        rows=lines + JOB_SPARE_LINES,
        after="Jobs",
        table=job_table(number),
        paper="A4",
    )
