"""Our newsvendor against a textbook's.

The figures are those of a textbook example that the library stockpyl carries among its instances, computed with that
library: a news-stand with a holding cost of 0.18, a stock-out cost of 0.70, and a demand that is normal with mean 50
and standard deviation 8.
"""

from __future__ import annotations

from collections.abc import Mapping
from statistics import NormalDist

import pytest
from scipy.stats import poisson

from diagnose.screening.parts import critical_ratio


def quantity(demand: Mapping[int, float], ratio: float) -> int:
    """The smallest quantity S with P(demand ≤ S) ≥ ``ratio``; ``demand`` maps quantities to their chances."""
    total = 0.0
    for amount in sorted(demand):
        total += demand[amount]
        if total >= ratio - 1e-12:
            return amount
    return max(demand, default=0)


def expected_cost(demand: Mapping[int, float], stock: float, without: float, for_nothing: float) -> float:
    """What ``stock`` costs on the average: Σ P(d)·(Cu·(d−S)⁺ + Co·(S−d)⁺)."""
    return sum(
        chance * (without * max(amount - stock, 0) + for_nothing * max(stock - amount, 0))
        for amount, chance in demand.items()
    )


def test_ratio_quantity_and_cost_of_the_normal_example() -> None:
    ratio = critical_ratio(0.70, 0.18)
    assert ratio == pytest.approx(0.7954545, abs=1e-7)
    demand = NormalDist(50, 8)
    stock = demand.inv_cdf(ratio)
    assert stock == pytest.approx(56.60395592743389)
    # The continuous demand as a fine histogram: hundredths of a paper, out to six standard deviations.
    step = 0.01
    shares = {
        round(50 + i * step, 2): demand.cdf(50 + (i + 0.5) * step) - demand.cdf(50 + (i - 0.5) * step)
        for i in range(-4800, 4801)
    }
    assert expected_cost(shares, stock, 0.70, 0.18) == pytest.approx(1.9976051931766445, abs=1e-4)


def test_quantity_and_cost_of_poisson_demands() -> None:
    demand = {n: float(poisson.pmf(n, 50)) for n in range(200)}
    assert quantity(demand, critical_ratio(0.70, 0.18)) == 56
    assert expected_cost(demand, 56, 0.70, 0.18) == pytest.approx(1.7972352118091772)
    small = {n: float(poisson.pmf(n, 6)) for n in range(60)}
    assert quantity(small, critical_ratio(4, 1)) == 8
