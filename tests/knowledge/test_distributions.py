"""Likelihoods of readings: worked values, and agreement with SciPy's own distributions."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from diagnose.knowledge.distributions import Beyond, LogNormal, Mixture, Normal, Uniform, extent, probability
from diagnose.knowledge.words import LIKELIHOOD_WORDS, NotUnderstood, read_chance, read_likelihood, read_rate

finite = st.floats(-1e3, 1e3)
width = st.floats(1e-3, 1e3)


def test_the_words_are_kents() -> None:
    """Kent, Words of Estimative Probability (1964): 93, 75, 50, 30, 7."""
    kent = {"almost-certain": 0.93, "probable": 0.75, "even": 0.50, "unlikely": 0.30, "rare": 0.07}
    assert {word: LIKELIHOOD_WORDS[word] for word in kent} == kent


def test_numbers_as_experts_write_them() -> None:
    assert read_rate("35 per 1000 calls") == pytest.approx(0.035)
    assert read_chance("probable to always") == pytest.approx((0.75 + 0.98) / 2)
    assert read_chance("0.6 to 0.8") == pytest.approx(0.7)
    for wrong in (-0.1, 1.1, "maybe", None, [1]):
        with pytest.raises(NotUnderstood):
            read_likelihood(wrong)
    for wrong in ("0 per 1000 calls", "5 per 0 calls", "often", 0, 1.0, None):
        with pytest.raises(NotUnderstood):
            read_rate(wrong)


def test_a_reading_by_an_instrument_with_steps() -> None:
    """State N(24, 1.2), instrument 0.5, step 0.1, read 22.6: 0.0171848 (computed apart, by Φ(…)−Φ(…))."""
    assert probability(Normal(24, 1.2), 22.55, 22.65, 0.5) == pytest.approx(0.0171848, abs=5e-8)


@given(finite, width, finite, width, st.floats(0, 100))
def test_a_normal_is_scipys(mean: float, deviation: float, low: float, span: float, error: float) -> None:
    combined = math.hypot(deviation, error)
    ours = probability(Normal(mean, deviation), low, low + span, error)
    theirs = stats.norm.cdf(low + span, mean, combined) - stats.norm.cdf(low, mean, combined)
    assert ours == pytest.approx(theirs, abs=1e-12)


@given(st.floats(0.01, 100), st.floats(1.05, 5), st.floats(0, 200), width)
def test_a_lognormal_is_scipys(median: float, factor: float, low: float, span: float) -> None:
    theirs = stats.lognorm(math.log(factor), scale=median)
    ours = probability(LogNormal(median, factor), low, low + span)
    assert ours == pytest.approx(theirs.cdf(low + span) - theirs.cdf(low), abs=1e-12)


@pytest.mark.parametrize("error", [0.05, 0.4, 3.0])
@pytest.mark.parametrize(("low", "high"), [(-1.0, 0.5), (0.2, 0.4), (1.9, 2.6), (5.0, 6.0)])
def test_a_uniform_read_with_error_is_the_convolution(low: float, high: float, error: float) -> None:
    def smeared(true: float) -> float:
        return float(stats.norm.cdf(high, true, error) - stats.norm.cdf(low, true, error)) / 2.0

    expected, _ = integrate.quad(smeared, 0.0, 2.0)
    assert probability(Uniform(0, 2), low, high, error) == pytest.approx(expected, abs=1e-9)


@given(st.floats(-50, 50), st.floats(0, 5))
def test_bands_that_cover_everything_sum_to_one(cut: float, error: float) -> None:
    spread = Mixture(((0.5, Normal(3, 2)), (0.3, Uniform(-5, 4)), (0.2, Beyond())))
    below = probability(spread, -math.inf, cut, error)
    above = probability(spread, cut, math.inf, error)
    assert below + above == pytest.approx(1, abs=1e-9)


def test_an_open_circuit_is_only_ever_beyond_the_range() -> None:
    assert probability(Beyond(), 0, 1e9) == 0
    assert probability(Beyond(), 1e6, math.inf) == 1


@given(finite, width)
def test_nearly_all_lies_within_the_extent(mean: float, deviation: float) -> None:
    low, high = extent(Normal(mean, deviation))
    assert probability(Normal(mean, deviation), low, high) > 0.98
