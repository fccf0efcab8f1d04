"""Measured ratios say the truth about goals."""

from tests.benchmarks.measure import Comparison, Measured, measure, table


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
