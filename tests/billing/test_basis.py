"""What is billed of what was worked: net within a limit, spread over lines, never above."""

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ledger_tools.billing.basis import (
    Basis,
    Bill,
    Billed,
    Bound,
    Terms,
    Worked,
    bill_of,
    net_to_bill,
    net_within,
    spread,
)
from ledger_tools.billing.tax import TaxAmount
from ledger_tools.money import ZERO, Rounding

CENT = Decimal("0.01")
HAMILTON = (
    "largest remainder method: quotas are cut to whole units, and what is left over goes to the "
    "largest remainders; common practice, no source"
)


def D(text: str) -> Decimal:  # noqa: N802 - short, for tables of figures
    """Return a decimal."""
    return Decimal(text)


@dataclass(frozen=True)
class Taxes:
    """Taxes on classes `a` (all of them), `b` (the first of them) and `c` (none)."""

    rates: tuple[Decimal, ...]

    def __call__(self, pairs: Iterable[tuple[str, Decimal]]) -> tuple[TaxAmount, ...]:
        """Return every component's tax, rounded to cents."""
        pairs = tuple(pairs)
        return tuple(self._tax(n, rate, pairs) for n, rate in enumerate(self.rates))

    @staticmethod
    def _tax(n: int, rate: Decimal, pairs: tuple[tuple[str, Decimal], ...]) -> TaxAmount:
        base = sum((x for name, x in pairs if name == "a" or (name == "b" and n == 0)), ZERO)
        return TaxAmount(f"tax {n}", base, rate, Rounding(2).amount(base * rate))


def total_of(bill: Bill, taxes: Taxes, lines: Iterable[Billed]) -> Decimal:
    """Return what is billed with tax."""
    pairs = [(line.taxed_as, line.amount) for line in lines]
    pairs += bill.adjustment.by_class if bill.adjustment else ()
    return sum((x for _, x in pairs), ZERO) + sum((t.amount for t in taxes(pairs)), ZERO)


@pytest.mark.parametrize(
    ("total", "amounts", "shares"),
    [
        ("-10.00", ("50.00", "30.00", "20.00"), ("-5.00", "-3.00", "-2.00")),
        ("-0.01", ("1.00", "1.00"), ("-0.01", "0")),
        ("-1.00", ("1.00", "1.00", "1.00"), ("-0.34", "-0.33", "-0.33")),
        ("0.05", ("3.00", "2.00", "1.00"), ("0.02", "0.02", "0.01")),
        ("-3.00", ("40.00", "-10.00"), ("-4.00", "1.00")),
        ("-0.02", ("0", "5.00", "5.00", "0"), ("0", "-0.01", "-0.01", "0")),
    ],
)
def test_a_total_is_spread_by_largest_remainder(
    total: str, amounts: tuple[str, ...], shares: tuple[str, ...]
) -> None:
    """Shares are proportional; units left over go to the largest remainders, then small ids."""
    parts = spread(D(total), enumerate(map(D, amounts), 1), digits=2)

    assert tuple(p.amount for p in parts) == tuple(map(D, shares)), HAMILTON


@given(
    st.lists(st.integers(-5_000, 90_000), min_size=1, max_size=12).filter(lambda x: sum(x) > 0),
    st.integers(-200_000, 200_000),
    st.randoms(use_true_random=False),
)
def test_shares_add_up_in_any_order(cents: list[int], total: int, shuffled: Random) -> None:
    """They come to the total to the cent, each within a cent of its exact part."""
    lines = [(n, Decimal(c) * CENT) for n, c in enumerate(cents, 1)]
    spread_over = Decimal(total) * CENT
    parts = spread(spread_over, lines, digits=2)
    mixed = list(lines)
    shuffled.shuffle(mixed)

    assert sum(p.amount for p in parts) == spread_over
    for part, cent in zip(parts, cents, strict=True):
        exact = Fraction(total * cent, sum(cents))
        assert abs(Fraction(part.amount) * 100 - exact) < 1
    again = {p.line_id: p for p in spread(spread_over, mixed, digits=2)}
    assert again == {p.line_id: p for p in parts}


@pytest.mark.parametrize(
    ("bound", "with_tax", "net"),
    [
        ("330.00", True, "300.00"),
        ("330.00", False, "330.00"),
        ("440.00", True, "400.00"),
        ("100.00", True, "90.91"),
        ("0.01", True, "0.01"),
    ],
)
def test_a_limit_with_tax_is_parted_as_the_work_is(
    bound: str, *, with_tax: bool, net: str
) -> None:
    """Of 400 net and 40 tax, a limit of 330 with tax leaves 300 net; parts of a cent count."""
    worked = Worked(D("400"), D("40"), D("40"))

    assert net_within(Bound(D(bound), with_tax), worked, digits=2) == D(net)


WORKED = Worked(D("200.00"), D("20.00"), D("20.00"))
NET_180, NET_200, NET_250 = (Bound(D(x), with_tax=False) for x in ("180", "200", "250"))
TAXED_219, TAXED_220 = (Bound(D(x), with_tax=True) for x in ("219.99", "220"))


@pytest.mark.parametrize(
    ("terms", "net"),
    [
        pytest.param(Terms(), "200", id="as worked"),
        pytest.param(Terms(ceiling=NET_180), "200", id="actual above its ceiling is refused"),
        pytest.param(Terms(Basis.CAPPED), "200", id="capped without authorisation"),
        pytest.param(Terms(Basis.CAPPED, ceiling=NET_180), "180", id="capped above"),
        pytest.param(Terms(Basis.CAPPED, ceiling=NET_200), "200", id="capped at it"),
        pytest.param(Terms(Basis.CAPPED, ceiling=TAXED_220), "200", id="capped at it with tax"),
        pytest.param(Terms(Basis.CAPPED, ceiling=TAXED_219), "200", id="left to the rest"),
        pytest.param(Terms(Basis.FIXED, NET_180), "180", id="fixed below"),
        pytest.param(Terms(Basis.FIXED, NET_250, NET_200), "250", id="fixed above"),
        pytest.param(Terms(Basis.FIXED, TAXED_220), "200", id="fixed with tax"),
        pytest.param(Terms(Basis.FIXED), "200", id="fixed without price"),
        pytest.param(Terms(minimum=D("250")), "250", id="minimum"),
        pytest.param(Terms(minimum=D("199")), "200", id="minimum passed"),
        pytest.param(Terms(minimum=D("250"), ceiling=TAXED_220), "200", id="no room for it"),
        pytest.param(
            Terms(minimum=D("250"), ceiling=Bound(D("242"), with_tax=True)), "220", id="some room"
        ),
        pytest.param(
            Terms(Basis.CAPPED, minimum=D("250"), ceiling=NET_180), "180", id="ceiling wins"
        ),
        pytest.param(Terms(Basis.FIXED, NET_180, minimum=D("250")), "180", id="price wins"),
    ],
)
def test_what_is_billed_hangs_on_the_basis(terms: Terms, net: str) -> None:
    """The basis, the price, the ceiling and the minimum decide, the ceiling before the minimum."""
    assert net_to_bill(terms, WORKED, digits=2) == D(net)


@pytest.mark.parametrize("worked", ["0", "-5"])
def test_where_nothing_was_billed_nothing_is_raised(worked: str) -> None:
    """A come-back that costs the customer nothing is not charged the minimum, or a price."""
    nothing = Worked(D(worked), ZERO, ZERO)

    for terms in (Terms(minimum=D("50")), Terms(Basis.FIXED, NET_180)):
        assert net_to_bill(terms, nothing, digits=2) == D(worked)


def bills(random: Random) -> tuple[Bill, Terms, Taxes, list[Billed]]:
    """Return a bill of some lines, partly taxed, by one to four taxes."""
    count = random.randint(1, 9)
    lines = [
        Billed(n, random.choice("aab" + "c"), Decimal(random.randint(-500, 30_000)) * CENT)
        for n in range(1, count + 1)
    ]
    lines[0] = lines[0]._replace(amount=Decimal(random.randint(9_000, 60_000)) * CENT)
    taxes = Taxes(
        tuple(Decimal(random.randint(1, 2500)) / 10_000 for _ in range(random.randint(1, 4)))
    )
    bound = Bound(Decimal(random.randint(1_000, 90_000)) * CENT, with_tax=random.random() < 0.8)
    terms = Terms(random.choice((Basis.CAPPED, Basis.FIXED)), bound, bound)
    return bill_of(terms, lines, taxes, digits=2), terms, taxes, lines


def test_no_bill_passes_what_limits_it() -> None:
    """Of many, none comes to more than its limit; most come within three cents of it."""
    random = Random(8)  # noqa: S311 - the same bills each time
    rested = near = 0
    for _ in range(4000):
        bill, terms, taxes, lines = bills(random)
        if bill.adjustment is None or terms.limit is None:
            continue
        net = bill.worked.net + bill.adjustment.total
        total = total_of(bill, taxes, lines) if terms.limit.with_tax else net
        assert total <= terms.limit.amount, (terms, lines)
        assert sum((x for _, x in bill.adjustment.by_class), ZERO) == bill.adjustment.total
        near += terms.limit.amount - total <= 3 * CENT
        rested += bill.adjustment.rest > 0

    assert rested > 0, "the rest that rounding of tax leaves was never met"
    assert near > 2500


def test_the_order_of_lines_changes_nothing() -> None:
    """Rows of the bill and shares are the same however the lines stand."""
    random = Random(3)  # noqa: S311 - the same bills each time
    for _ in range(300):
        bill, terms, taxes, lines = bills(random)
        mixed = list(lines)
        random.shuffle(mixed)

        assert bill_of(terms, mixed, taxes, digits=2) == bill
