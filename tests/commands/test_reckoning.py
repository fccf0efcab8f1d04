"""Jobs by command, invoices and the quarter against a second reckoning in exact fractions."""

from collections.abc import Callable
from datetime import date
from fractions import Fraction
from pathlib import Path
from random import Random
from typing import Any

import openpyxl
import pytest

from tests.commands.conftest import Lt
from tests.reckoning import Reckoned, Row, csv_of, reckon, rows_by_chance, rules

DAY = date(2025, 9, 30)
SHOP = "hours:\n  step: {}\n  direction: {}\n  scope: {}\n"
WAYS = [
    ("none", 10, "up", "line"),
    ("us-ca", 5, "nearest", "job"),
    ("gb", 15, "up", "job"),
    ("ca-qc", 6, "nearest", "job"),
]
STATES = ("to invoice", "in work", "to invoice", "to invoice", "to invoice", "in work")


def _figures(job: dict[str, Any]) -> tuple[object, ...]:
    """Return what a command's JSON says of a job, as the second reckoning says it."""
    taxes = [(t["component"], Fraction(t["base"]), Fraction(t["amount"])) for t in job["taxes"]]
    said = (job[key] for key in ("estimate_net", "subtotal", "total", "billed_hours"))
    return (*map(Fraction, said), taxes)


def _reckoned(job: Reckoned) -> tuple[object, ...]:
    return (job.estimate_net, job.subtotal, job.total, job.hours, job.taxes)


@pytest.mark.parametrize(("profile", "step", "direction", "scope"), WAYS)
def test_every_figure_is_reckoned_again(  # noqa: PLR0913, PLR0917 - what makes a shop, and fixtures
    lt: Lt,
    tmp_path: Path,
    lines: Callable[[str], Path],
    profile: str,
    step: int,
    direction: str,
    scope: str,
) -> None:
    """From a file of lines to the front of the quarter: jobs, invoices, sums, to the cent."""
    (tmp_path / "config").mkdir()
    said = SHOP.format(step, direction, scope)
    (tmp_path / "config" / "shop.yaml").write_text(said, encoding="utf-8")
    how = rules(profile, step, direction, scope)
    chance = Random(profile)  # noqa: S311 - an example, not a secret
    today = ("--today", DAY, "--json")
    assert lt("new", "shop.xlsx", "--tax", profile, *today).code == 0
    jobs: dict[str, tuple[list[Row], str]] = {}
    for state in STATES:
        rows = rows_by_chance(chance, how)
        told = ("--customer", "Ann Bell", "--item", "Pan", "--state", state)
        ran = lt("add-job", "shop.xlsx", *told, "--lines", lines(csv_of(rows)), *today)
        jobs[ran.json()["jobs"][0]["job"]] = rows, state

    found = {job["job"]: job for job in lt("recompute", "shop.xlsx", *today).json()["jobs"]}
    issued = lt("invoice", "shop.xlsx", *today).json()["invoices"]
    (quarter,) = lt("quarter", "shop.xlsx", "2025-Q3", *today).json()["files"]

    expected = {
        number: reckon(rows, how, settled=state == "to invoice", day=DAY)
        for number, (rows, state) in jobs.items()
    }
    for number, job in expected.items():
        assert _figures(found[number]) == _reckoned(job), number
    assert {i["job"] for i in issued} == _billed(expected, jobs)
    for invoice in issued:
        job = expected[invoice["job"]]
        assert (Fraction(invoice["subtotal"]), Fraction(invoice["total"])) == (
            job.subtotal, job.total,
        )  # fmt: skip
    net, total = (
        sum((getattr(expected[i["job"]], part) for i in issued), Fraction(0))
        for part in ("subtotal", "total")
    )
    front = openpyxl.load_workbook(tmp_path / quarter, data_only=True)["Quarter"]
    shown = [Fraction(repr(front[cell].value)) for cell in ("A6", "B6", "D6", "G6", "H6")]
    assert shown == [net, total - net, total, 0, total]


def _billed(expected: dict[str, Reckoned], jobs: dict[str, tuple[list[Row], str]]) -> set[str]:
    """Return the jobs that get an invoice: due, not below nothing, with something done."""
    return {
        number
        for number, (rows, state) in jobs.items()
        if state == "to invoice"
        and expected[number].total >= 0
        and (any(map(any, expected[number].lines)) or any(r["actual"].strip("0:") for r in rows))
    }


def test_the_way_rules_are_read_is_the_shop_s() -> None:
    """The second reckoning itself: 98 minutes are 1.6 h, in Quebec 160.00 are 183.96."""
    how = rules("ca-qc", 6, "nearest", "job")
    row = dict.fromkeys(
        ("quantity", "non_billable", "unit_price", "agreed_price", "tax_class"), ""
    )
    rows = [
        {**row, "kind": "labour", "labour_class": "bench", "actual": minutes}
        for minutes in ("60", "0:38")
    ]

    found = reckon(rows, how, settled=True, day=DAY)

    assert (found.hours, found.subtotal, found.total) == (
        Fraction("1.6"), 160, Fraction("183.96"),
    )  # fmt: skip
