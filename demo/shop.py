"""The invented shop of the demonstration: who it is, whom it works for, what is brought in.

Town, people, firms and telephone numbers are made up; numbers from 555-0100 to 555-0199 are kept
for fiction.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

SHOP: dict[str, str | float | date] = {
    "name": "Merrow Lane Metal Repair",
    "address": "14 Merrow Lane\nSaltmarsh Bend, CA 00000",
    "contact": "555-0114\nbench@merrowlane.example",
    "tax_number": "Seller's permit 000-000000 (invented)",
    "payment": "By check or bank transfer.\nCards at the counter.",
    "terms_days": 21,
    "offer_options": "yes",
    "repair_below": 60,
}
"""What the owner types on `Start`, by key of the setting."""

Option = dict[str, str | float]
"""A row of `Options` by column key, its job left out."""

VENDORS = {
    "Tank liner": "Ostler",
    "Painter": "Vane Street",
    "Blaster": "Gritstone",
    "Coater": "Gritstone",
    "Plater": "Tallow Dock",
    "Galvaniser": "Tallow Dock",
    "Heat treater": "Kiln Road",
    "Test house": "Kiln Road",
    "Core maker": "Larkspur",
}
"""The shop's own vendors, by the word that stands in the shipped catalogue."""


@dataclass(frozen=True, slots=True)
class NewRate:
    """A rate the owner adds in the course of the year.

    Attributes:
        typed_on: Day the owner types it.
        first_day: First day it is in force.
        rate: Money an hour, or a fraction.
    """

    typed_on: date
    first_day: date
    rate: Decimal


WELDING_RATE = NewRate(date(2025, 6, 30), date(2025, 7, 1), Decimal(126))
"""Dearer power and gas from July: jobs opened before keep the old rate."""
DISTRICT_TAX = NewRate(date(2025, 3, 31), date(2025, 4, 1), Decimal("0.005"))
"""District tax of an invented town, which no authority has published."""


@dataclass(frozen=True, slots=True)
class Customer:
    """Someone in Saltmarsh Bend, and what they bring in 2025.

    Attributes:
        name: As jobs name them.
        address: Lines parted by newline.
        contact: Telephone or mail.
        brings: Item and repair code; no code where the lines come from a file.
    """

    name: str
    address: str
    contact: str
    brings: tuple[tuple[str, str], ...]


CUSTOMERS = (
    Customer(
        "Alder Ridge Dairy",
        "Alder Ridge Road 2\nSaltmarsh Bend, CA 00000",
        "555-0101",
        (
            ("Milk line tee, weeping", "STAINLESS"),
            ("Feed wagon drawbar", "HITCH"),
            ("Separator drive shaft", "SHAFT"),
            ("Vacuum pump cover, broken stud", "THREAD"),
        ),
    ),
    Customer(
        "Birch Hollow Farm",
        "Birch Hollow\nSaltmarsh Bend, CA 00000",
        "555-0102",
        (
            ("Loader hydraulic tank", "HYD-TANK"),
            ("Tractor fuel tank, taken off", "TANK-WELD"),
            ("Hay rake frame", "FRAME"),
            ("Baler gearbox housing", "CAST-HOUS"),
            ("Yard gate, bent by a bull", "GATE"),
        ),
    ),
    Customer(
        "Saltmarsh Boatyard",
        "Slip 3, Harbour Row\nSaltmarsh Bend, CA 00000",
        "yard@saltmarsh.example",
        (
            ("Sheet winch housing", "ALU-HOUS"),
            ("Mooring cleat, snapped", "BRASS"),
            ("Cooling water elbow", "STAINLESS"),
            ("Capstan shaft, worn seat", "SHAFT"),
            ("Rudder stock bearing, broken stud", "THREAD"),
        ),
    ),
    Customer(
        "Oxbow Rowing Club",
        "Oxbow Landing\nSaltmarsh Bend, CA 00000",
        "555-0104",
        (("Boat trailer drawbar", "HITCH"), ("Boat trailer cradle", "FRAME")),
    ),
    Customer(
        "Pinecrest Garden Machinery",
        "88 Pinecrest Avenue\nSaltmarsh Bend, CA 00000",
        "555-0105",
        (
            ("Ride-on mower oil pan", "OIL-PAN"),
            ("Brush saw crankcase", "ALU-HOUS"),
            ("Pump engine fuel tank, taken off", "TANK-WELD"),
            ("Chipper engine manifold", "EXH-MANI"),
            ("Tiller gearbox, broken stud", "THREAD"),
        ),
    ),
    Customer(
        "Saltmarsh Town Parks",
        "1 Civic Square\nSaltmarsh Bend, CA 00000",
        "parks@saltmarshbend.example",
        (
            ("Bandstand railing", "GATE"),
            ("North cemetery gate", "GATE"),
            ("Park bench frames", "FRAME"),
            ("Tipping trailer drawbar", "HITCH"),
        ),
    ),
    Customer(
        "Harrow & Daughter Haulage",
        "Depot 5, Kiln Road\nSaltmarsh Bend, CA 00000",
        "555-0107",
        (
            ("Truck radiator, top seam", "RAD-SEAM"),
            ("Truck oil pan, holed", "OIL-PAN"),
            ("Cab step well", "BODY-PATCH"),
            ("Low loader drawbar", "HITCH"),
        ),
    ),
    Customer(
        "Copperleaf Brewery",
        "9 Malt Street\nSaltmarsh Bend, CA 00000",
        "555-0108",
        (
            ("Mash tun outlet", "STAINLESS"),
            ("Tap manifold", "BRASS"),
            ("Keg washer pipe", "STAINLESS"),
        ),
    ),
    Customer(
        "Marsh Street Bakery",
        "31 Marsh Street\nSaltmarsh Bend, CA 00000",
        "555-0109",
        (
            ("Oven door bracket", "FRAME"),
            ("Dough mixer shaft", "SHAFT"),
            ("Slicer base casting", "CAST-HOUS"),
        ),
    ),
    Customer(
        "Quarry Hill Aggregates",
        "Quarry Hill\nSaltmarsh Bend, CA 00000",
        "555-0110",
        (
            ("Screen deck frame", "FRAME"),
            ("Excavator hydraulic tank", "HYD-TANK"),
            ("Conveyor drum shaft", "SHAFT"),
            ("Slurry pump casing", "CAST-HOUS"),
        ),
    ),
    Customer(
        "Lantern Theatre",
        "Lantern Yard\nSaltmarsh Bend, CA 00000",
        "stage@lantern.example",
        (("Lighting bar bracket", "FRAME"), ("Foyer handrail bracket", "BRASS")),
    ),
    Customer(
        "Fennimore Vineyard",
        "Fennimore Lane 7\nSaltmarsh Bend, CA 00000",
        "555-0112",
        (
            ("Sprayer fuel tank, taken off", "TANK-LINE"),
            ("Vineyard tractor radiator", "RAD-SEAM"),
            ("Press pump manifold", "EXH-MANI"),
            ("Filling line fitting", "STAINLESS"),
        ),
    ),
    Customer(
        "St. Brannoc's Church",
        "Church Hill\nSaltmarsh Bend, CA 00000",
        "555-0113",
        (("Churchyard gate", "GATE"), ("Altar rail finial", "BRASS")),
    ),
    Customer(
        "Willow Bend School",
        "20 School Lane\nSaltmarsh Bend, CA 00000",
        "office@willowbend.example",
        (("Bicycle stand", "FRAME"), ("Playground railing", "GATE")),
    ),
    Customer(
        "D. Okafor",
        "6 Tannery Row\nSaltmarsh Bend, CA 00000",
        "555-0115",
        (("Van sill, left", "BODY-PATCH"), ("Van radiator, old style", "RAD-CORE")),
    ),
    Customer(
        "M. Lindqvist",
        "40 Ferry Road\nSaltmarsh Bend, CA 00000",
        "555-0116",
        (
            ("Vintage tractor fuel tank, taken off", "TANK-LINE"),
            ("Vintage tractor radiator", "RAD-CORE"),
        ),
    ),
    Customer(
        "P. Castellan",
        "3 Lock Cottages\nSaltmarsh Bend, CA 00000",
        "555-0117",
        (("Cabin lamp bracket", "BRASS"), ("Bilge pump cover, broken stud", "THREAD")),
    ),
    Customer(
        "J. Abernethy",
        "17 Orchard Close\nSaltmarsh Bend, CA 00000",
        "555-0118",
        (("Old saloon radiator", "RAD-CORE"), ("Old saloon manifold", "EXH-MANI")),
    ),
    Customer(
        "R. Haddad",
        "Paddock House\nSaltmarsh Bend, CA 00000",
        "555-0119",
        (("Horse trailer drawbar", "HITCH"), ("Stable door hinges", "GATE")),
    ),
    Customer(
        "T. Nakagawa",
        "52 Wharf Street\nSaltmarsh Bend, CA 00000",
        "555-0120",
        (("Lathe apron housing", "ALU-HOUS"), ("Lathe lead shaft", "SHAFT")),
    ),
    Customer(
        "Greywater Plant Hire",
        "Yard 2, Kiln Road\nSaltmarsh Bend, CA 00000",
        "555-0121",
        (
            ("Generator radiator", "RAD-SEAM"),
            ("Generator fuel tank, taken off", "TANK-WELD"),
            ("Dumper hydraulic tank", "HYD-TANK"),
            ("Scissor lift bracket", "FRAME"),
            ("Trench pump oil pan", "OIL-PAN"),
        ),
    ),
    Customer(
        "Saltmarsh Fire Museum",
        "Old Engine House\nSaltmarsh Bend, CA 00000",
        "555-0122",
        (("Hand pump delivery branch", "BRASS"), ("Engine bonnet, rusted edge", "BODY-PATCH")),
    ),
    Customer(
        "Cobble Lane Apartments",
        "Cobble Lane 10\nSaltmarsh Bend, CA 00000",
        "555-0123",
        (("Courtyard gate", "GATE"), ("Stair railing, 2nd floor", "GATE")),
    ),
    Customer(
        "Thistledown Nursery",
        "Thistle Lane 4\nSaltmarsh Bend, CA 00000",
        "555-0124",
        (("Potting machine frame", "FRAME"), ("Greenhouse heater radiator", "RAD-SEAM")),
    ),
    Customer(
        "Weir House Hydro",
        "Weir House\nSaltmarsh Bend, CA 00000",
        "555-0125",
        (
            ("Guide vane housing", "CAST-HOUS"),
            ("Sluice spindle", "SHAFT"),
            ("Governor casting, what is wrong?", "DIAGNOSIS"),
        ),
    ),
)
"""Known from earlier years; they stand in `Customers` from the first day."""

STRANGER = Customer(
    "L. Brandt",
    "8 Signal Terrace\nSaltmarsh Bend, CA 00000",
    "555-0126",
    (("Log splitter hydraulic tank", "HYD-TANK"),),
)
"""Named in `Jobs` only: recompute adds the name, the owner fills in the address later."""

FROM_FILE = (
    ("Marsh Street Bakery", "Awning bracket, new", "awning-bracket.csv"),
    ("Copperleaf Brewery", "Grain chute patch", "grain-chute.csv"),
    ("Lantern Theatre", "Counterweight guide", "counterweight-guide.csv"),
)
"""Jobs whose lines come from a file: customer, item, file in `demo/lines`."""


def _option(letter: str, kind: str, description: str, **more: str | float) -> Option:
    return {"option": letter, "kind": kind, "description": description, **more}


OPTIONS: dict[str, tuple[Option, ...]] = {
    # Waits for the customer's word: printed side by side on the estimate of December.
    "Vineyard tractor radiator": (
        _option(
            "A",
            "other repair",
            "Solder the top seam, pressure test",
            lead_days=4,
            guarantee="90",
            chance=0.15,
            come_back=140,
            advised="yes",
        ),
        _option(
            "B",
            "replace reconditioned",
            "Exchange radiator, rebuilt core",
            price=520,
            lead_days=9,
            guarantee="12 months",
            chance=0.05,
            come_back=140,
        ),
        _option(
            "C",
            "replace new",
            "New radiator, pattern part",
            price=780,
            lead_days=16,
            guarantee="as its maker gives",
            chance=0.02,
            come_back=140,
        ),
        _option("D", "refuse", "Goes back as it came"),
    ),
    # The customer wanted the old tank kept, against advice.
    "Vintage tractor fuel tank, taken off": (
        _option(
            "A",
            "weld and reseal",
            "Clean, weld and line the old tank",
            lead_days=12,
            guarantee="90",
            chance=0.2,
            come_back=260,
            chosen_how="in person",
        ),
        _option(
            "B",
            "replace new",
            "New tank made to the old shape",
            price=1450,
            lead_days=30,
            guarantee="12 months",
            chance=0.02,
            come_back=120,
            advised="yes",
        ),
    ),
}
"""Ways to go on that were weighed, by item; one with *how reached* was chosen by the customer."""
