"""The shipped catalogue stands in working order, marks its hot steps and finds its prices."""

import re
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from ledger_tools.costing.catalogue import RepairType
from ledger_tools.costing.lines import Kind
from ledger_tools.errors import ConfigError
from ledger_tools.settings import config_file, load_seed
from tests.settings.beside import TODAY, edited, refusal

REPAIRS = load_seed("none", as_of=TODAY).catalogue.repairs


def test_catalogue_is_wide_enough() -> None:
    """At least fourteen repair types, each with a code that fits its column."""
    assert len(REPAIRS) >= 14
    assert all(len(repair.code) <= 10 for repair in REPAIRS)


@pytest.mark.parametrize("repair", REPAIRS, ids=lambda r: r.code)
def test_repair_begins_with_the_condition_record(repair: RepairType) -> None:
    """What came in, and how it looked, is written down before anything is done."""
    assert repair.operations[0].description == "Intake and condition record"


@pytest.mark.parametrize("repair", REPAIRS, ids=lambda r: r.code)
def test_every_hot_step_is_marked_and_no_other(repair: RepairType) -> None:
    """Flame, arc and heat are marked, so that the gate before them can be asked for."""
    hot = re.compile(r"(weld|solder|braze|preheat|heat)\b(?! and (test|measure))", re.IGNORECASE)
    cold = re.compile(r"^(Dye test|Prime|Dress|Clean|Prepare|Cool|Wash)|test|watch")

    for step in repair.operations:
        if step.kind is Kind.LABOUR:
            says_hot = bool(hot.search(step.description)) and not cold.search(step.description)
            says_hot = says_hot or step.description.startswith("Cut out rusted")
            assert step.hot_work == says_hot, step.description


ORDER = [
    ("^(Clean|Strip|Drain|Measure, check)", "(Weld|Solder|Braze)", "clean, then heat"),
    ("^(Weld|Solder)", "^(Leak|Pressure) test and record", "weld, then test"),
    ("(Leak|Pressure) test and record", "^(Line|Paint|Powder|Prime)", "test, then cover"),
    ("Dye test weld", "^(Blast|Powder|Prime and paint)", "crack test, then blast and paint"),
    ("^(Weld|Preheat and weld|Braze)", "^(Plate|Hard chrome|Galvanise|Powder|Fill and paint)",
     "weld, then plate or paint"),
    ("^(Weld|Preheat and weld)", "^Stress relieve", "weld, then heat treatment"),
    ("^Stress relieve", "turn to size", "heat treatment, then finish machining"),
    ("^(Weld|Preheat and weld|Solder|Braze)", "^(Re-assemble|Refit|Clean and re-assemble)",
     "weld, then re-assembly"),
    ("^Galvanise", "^Powder", "zinc, then powder"),
    ("^Blast", "^(Galvanise|Powder)", "blast, then coat"),
]  # fmt: skip


@pytest.mark.parametrize(("first", "then", "rule"), ORDER, ids=[o[2] for o in ORDER])
def test_steps_stand_in_working_order(first: str, then: str, rule: str) -> None:
    """No shipped repair does the second before the first; at least one does both."""
    both = 0
    for repair in REPAIRS:
        said_here = [
            o.description for o in repair.operations if o.kind in (Kind.LABOUR, Kind.SUBLET)
        ]
        befores = [n for n, d in enumerate(said_here) if re.search(first, d)]
        afters = [n for n, d in enumerate(said_here) if re.search(then, d)]
        if befores and afters:
            both += 1
            last = befores[-1 if rule.startswith("weld") else 0]
            assert last < afters[0], (repair.code, rule)

    assert both


@pytest.mark.parametrize("code", ["TANK-WELD", "TANK-LINE"])
def test_a_fuel_tank_is_cleaned_and_measured_before_and_watched_after(code: str) -> None:
    """Draining, cleaning, inspecting, measuring and venting come before heat, the watch after."""
    steps = next(r for r in REPAIRS if r.code == code).operations
    words = [step.description for step in steps]
    hot = next(n for n, step in enumerate(steps) if step.hot_work)

    for before in ("Drain and note last contents", "Clean every compartment",
                   "Inspect inside, log readings", "Vent, log readings again"):  # fmt: skip
        assert words.index(before) < hot
    assert words.index("Fire watch and cooling") == hot + 1


def test_no_shipped_word_calls_anything_safe() -> None:
    """The catalogue records what people do; it judges nothing."""
    for name in ("repairs.yaml", "materials.yaml", "rates.yaml"):
        assert not re.search(
            r"\bsafe", config_file(name).read_text(encoding="utf-8"), re.IGNORECASE
        )


def test_every_shipped_line_finds_its_price() -> None:
    """Labour has a rate long before 2025, material stands in the list, the rest says its price."""
    catalogue = load_seed("none", as_of=TODAY).catalogue
    stocked = {m.name: m for m in catalogue.materials}
    rated = {r.labour_class for r in catalogue.rates if r.first_day < date(2009, 1, 1)}

    for step in (step for repair in REPAIRS for step in repair.operations):
        if step.kind is Kind.LABOUR:
            assert step.labour_class in rated
        elif step.kind is Kind.MATERIAL:
            assert stocked[step.description].unit == step.unit
        else:
            assert step.price is not None or None not in (step.cost, step.markup)
        assert bool(step.vendor) or step.kind is not Kind.SUBLET


def test_markup_twenty_per_cent_is_a_fifth(tmp_path: Path) -> None:
    """Written as 20% or as 0.20 it is the same fraction."""
    edited(tmp_path, "repairs.yaml", "markup: 20%", "markup: 0.20")

    own = load_seed("none", as_of=TODAY, beside=tmp_path).catalogue.repairs

    assert [o.markup for r in own for o in r.operations] == [
        o.markup for r in REPAIRS for o in r.operations
    ]
    assert Decimal("0.2") in {o.markup for r in REPAIRS for o in r.operations}


def test_a_part_of_the_catalogue_says_what_it_is(tmp_path: Path) -> None:
    """Under `status`, which only a part has."""
    edited(tmp_path, "repairs.yaml", "kind: part, ", "kind: part, status: used, ")

    own = load_seed("none", as_of=TODAY, beside=tmp_path).catalogue.repairs

    assert [o.part_status for r in own for o in r.operations].count("used") == 1


@pytest.mark.parametrize(
    ("before", "after"),
    [
        ("kind: part, ", "kind: part, status: spare, "),
        ("kind: fee, ", "kind: fee, status: used, "),
    ],
)
def test_a_status_elsewhere_or_unknown_is_refused(tmp_path: Path, before: str, after: str) -> None:
    """A fee is neither new nor used, and a part is no spare."""
    edited(tmp_path, "repairs.yaml", before, after)

    with pytest.raises(ConfigError, match=r"status|spare"):
        load_seed("none", as_of=TODAY, beside=tmp_path)


def test_class_of_another_profile_is_refused(tmp_path: Path) -> None:
    """A step taxed as `zero` cannot seed a book whose profile has no such class."""
    edited(tmp_path, "repairs.yaml", "tax_class: fabrication", "tax_class: zero")

    assert load_seed("gb", as_of=TODAY, beside=tmp_path)
    assert refusal(tmp_path, "us-ca").what == "'zero' is not known here"
