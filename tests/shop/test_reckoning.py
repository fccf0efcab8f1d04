"""Jobs of a few hundred files of lines, against a second reckoning in exact fractions."""

from dataclasses import replace
from fractions import Fraction
from itertools import product
from pathlib import Path
from random import Random

import pytest

from ledger_tools.hours import HourPolicy
from ledger_tools.settings.lines_file import read_lines
from ledger_tools.shop.results import result_of
from tests.reckoning import csv_of, reckon, rows_by_chance, rules
from tests.shop.examples import TODAY, book_of, decided, job_of

POLICIES = list(product((1, 5, 6, 10, 15), ("nearest", "up"), ("job", "line")))


@pytest.mark.parametrize("profile", ["none", "us-ca", "gb", "ca-qc"])
def test_every_figure_of_a_job_is_reckoned_again(tmp_path: Path, profile: str) -> None:
    """Each line, net, tax, total, hours and what was not billed, by every policy of hours."""
    chance = Random(profile)  # noqa: S311 - an example, not a secret
    book, file, ties = book_of(profile), tmp_path / "lines.csv", 0
    for policy in POLICIES * 4:
        how = rules(profile, *policy)
        rows = rows_by_chance(chance, how)
        file.write_text(csv_of(rows), encoding="utf-8")
        state = chance.choice(("to invoice", "in work"))
        lines = (replace(line, line_id=line.line_id * 2) for line in read_lines(file))
        job = job_of(*lines, state=state)

        got = result_of(job, decided(book, hours=HourPolicy(*policy)))
        again = reckon(rows, how, settled=state == "to invoice", day=TODAY)

        assert [(Fraction(c.billed), Fraction(c.amount)) for c in got.costs] == again.lines, rows
        assert (got.estimate_net, got.subtotal, got.total) == (
            again.estimate_net, again.subtotal, again.total,
        )  # fmt: skip
        assert [(t.component, t.base, t.amount) for t in got.taxes] == again.taxes
        assert (got.billed_hours, got.non_billable_value) == (again.hours, again.not_billed)
        ties += sum((c.billed * (c.line.price or 0) * 1000) % 10 == 5 for c in got.costs)
    assert ties > 20, "half cents are what this is for"
