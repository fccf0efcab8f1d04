"""Measured ratios say the truth about goals."""

from pathlib import Path

from tests.benchmarks.measure import Comparison, Measured, measure, table
from tests.benchmarks.scale import Scale, missed, scale_of, scale_table
from tests.book.shop import TODAY, Shop


def _comparison(goal: float, done: list[str] | None = None) -> Comparison:
    steps = done if done is not None else []
    return Comparison(
        "ours",
        "yardstick",
        lambda: steps.append("ours"),
        lambda: steps.append("yardstick"),
        goal=goal,
    )


def test_both_are_done_in_turn() -> None:
    """A load that comes up half-way slows both, so the ratio stands."""
    done: list[str] = []

    measure(_comparison(1, done))

    assert done == ["ours", "yardstick"] * 3


def test_a_missed_goal_is_told() -> None:
    """The ratio is ours by the yardstick, and one above the goal does not hold."""
    missed = Measured(_comparison(0.2), ours=3.0, yardstick=10.0)
    reached = Measured(_comparison(0.2), ours=2.0, yardstick=10.0)

    assert not missed.holds
    assert reached.holds
    assert "| 0.30 | 0.2 | NO |" in table([missed])
    assert "| 0.20 | 0.2 | yes |" in table([reached])


def _scale(sheets: int, *, change: float = 2, recompute: float = 50, memory: float = 90) -> Scale:
    return Scale(sheets, 2**20, 1, change, recompute, None, memory - 1, memory)


def test_ratios_are_judged_with_a_thousand_sheets() -> None:
    """A small book may take more times its copy; the goal's own number holds."""
    assert (
        missed([_scale(100, change=9, recompute=99), _scale(1000, change=3, recompute=60)]) == []
    )
    assert len(missed([_scale(1000, change=3.1, recompute=60.1)])) == 2


def test_memory_is_judged_with_the_most_sheets() -> None:
    """A missed goal is told below the table, with what was measured."""
    scales = [_scale(1000, memory=101), _scale(2000, memory=100)]
    assert missed(scales) == []
    assert "All hold." in scale_table(scales)
    told = scale_table([_scale(1000), _scale(2000, memory=131)])
    assert "| 1,000 | 1.0 | 1.000 | 2.0x | 50x |" in told
    assert "Missed: 131 MiB with 2000 sheets, goal 100." in told


def test_every_task_runs_on_a_book_of_fifty_sheets(tmp_path: Path) -> None:
    """Each leaves the book that is measured as it was, and says seconds and memory."""
    shop = Shop.new(tmp_path, "us-ca")
    shop.today = TODAY
    for row in range(1, 21):
        shop.type_job(row, customer="R. Calder", item=f"Pan {row}", repair="GATE")
    shop.recompute()
    for row in range(21, 51):
        shop.type_job(row, customer="R. Calder", item=f"Pan {row}", repair="GATE")
    shop.recompute()
    before = shop.path.read_bytes()

    scale = scale_of(shop.path, 50)

    assert shop.path.read_bytes() == before
    assert min(scale.copy, scale.change, scale.recompute) > 0
    assert min(scale.adding, scale.recomputing) > 10
    copied = shop.path.with_name("shop copied.xlsx")
    assert copied.read_bytes() == before
