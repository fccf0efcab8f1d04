"""Invoices of an invented shop, small enough to know by heart, for the tests of the paper."""

import io
from datetime import date
from decimal import ROUND_HALF_UP, Decimal

import pdfplumber

from ledger_tools import settings
from ledger_tools.billing.invoice import Invoice, InvoiceLine
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.costing.lines import Kind
from ledger_tools.documents.texts import invoice_wording
from ledger_tools.shop.model import Customer, ShopSettings

SHOP = ShopSettings(
    name="Brightwater Metal Repair",
    address="14 Foundry Lane\nMill Bay",
    contact="250 555 0142",
    tax_number="GST 12345 6789 RT0001",
    payment="Bank transfer, account 0042 1187.",
    currency="CAD",
    locale="en_CA",
    paper="Letter",
)
CUSTOMER = Customer("Ada Millwright", "8 Orchard Road\nMill Bay")


def cents(exact: Decimal) -> Decimal:
    """Return `exact` in cents, half up, computed apart from the code under test."""
    return exact.quantize(Decimal("0.01"), ROUND_HALF_UP)


def line(  # noqa: PLR0913, PLR0917 - the columns of an invoice line
    line_id: int,
    kind: Kind,
    description: str,
    quantity: str,
    price: str | None,
    amount: str | None = None,
    *,
    unit: str = "pc",
    vendor: str = "",
) -> InvoiceLine:
    """Return a line whose amount is quantity x price where none is given."""
    per_unit = None if price is None else Decimal(price)
    comes_to = cents(Decimal(quantity) * per_unit) if per_unit is not None else Decimal(0)
    return InvoiceLine(
        line_id=line_id,
        kind=kind,
        description=description,
        quantity=Decimal(quantity),
        unit="h" if kind is Kind.LABOUR else unit,
        price=per_unit,
        amount=comes_to if amount is None else Decimal(amount),
        taxed_as=kind.value,
        vendor=vendor,
    )


def wording(language: str = "en", shop: ShopSettings = SHOP, note: str = "") -> dict[str, str]:
    """Return the words of the shop in a language, as they are frozen on issue."""
    texts = settings.load_texts(language)
    return invoice_wording(shop, CUSTOMER, texts, job_note=note)


def invoice(
    *lines: InvoiceLine, rates: tuple[tuple[str, str], ...] = (), **changes: object
) -> Invoice:
    """Return an invoice over `lines`, each tax falling on all of them."""
    net = sum((each.amount for each in lines), Decimal("0.00"))
    taxes = tuple(
        TaxAmount(name, net, Decimal(rate), cents(net * Decimal(rate))) for name, rate in rates
    )
    tax = sum((each.amount for each in taxes), Decimal("0.00"))
    told: dict[str, object] = {
        "number": "25-0001",
        "job": "25-0007",
        "day": date(2025, 2, 3),
        "due": date(2025, 2, 17),
        "customer": CUSTOMER.name,
        "item": "Fuel tank, tractor",
        "repair": "TANK",
        "lines": lines,
        "taxes": taxes,
        "subtotal": net,
        "tax": tax,
        "total": net + tax,
        "currency": "CAD",
        "wording": wording(),
    }
    return Invoice(**{**told, **changes})  # type: ignore[arg-type]


HOUSING = invoice(line(1, Kind.LABOUR, "Weld crack in housing", "1.6", "100.00"))

TWO_TAXES = invoice(
    line(1, Kind.LABOUR, "Purge and prepare tank", "1.5", "95.00"),
    line(2, Kind.LABOUR, "Dismantle and refit", "1", None, "80.00"),
    line(3, Kind.MATERIAL, "Steel plate 1.5 mm", "0.25", "48.40", unit="m²"),
    line(4, Kind.MATERIAL, "Welding consumables", "1", "18.755", unit="set"),
    line(5, Kind.PART, "Filler cap gasket", "2", "4.35"),
    line(6, Kind.SUBLET, "Lining, two coats", "1", "1145.00", vendor="Harbour Coatings"),
    line(7, Kind.FEE, "Disposal of flushing water", "1", "22.50"),
    line(8, Kind.DISCOUNT, "Regular customer", "1", "25.00", "-25.00"),
    line(9, Kind.FEE, "Storage, waived", "3", "0.00"),
    rates=(("GST", "0.05"), ("QST", "0.09975")),
)

LONG = invoice(
    *(
        line(each, kind, f"Step {each} of a long list of steps that goes on", "1.2", f"{each}.00")
        for each in range(1, 81)
        for kind in (tuple(Kind)[(each - 1) // 27],)
    ),
    number="25-0080",
    wording=wording(shop=ShopSettings(name="Brightwater", paper="A4", locale="en_CA")),
)


def pdf_pages(content: bytes) -> list[str]:
    """Return the text of each page, an unbreakable space as a plain one."""
    with pdfplumber.open(io.BytesIO(content)) as pdf:
        return [plain(page.extract_text()) for page in pdf.pages]


def pdf_text(content: bytes) -> str:
    """Return the text of all pages."""
    return "\n".join(pdf_pages(content))


def plain(text: str) -> str:
    """Return `text` with plain spaces and without invisible places to break a word."""
    return text.replace("\xa0", " ").replace("\u202f", " ").replace("\u200b", "")
