"""Likelihoods of readings: worked values, and agreement with SciPy's own distributions."""

from __future__ import annotations

import itertools
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from diagnose.knowledge.distributions import (
    BEYOND_RANGE,
    Beyond,
    Distribution,
    LogNormal,
    Mixture,
    Normal,
    Outward,
    Range,
    Scale,
    Uniform,
    extent,
    misread,
    probability,
    quantile,
    read_spread,
    scale_of,
)
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


# This or worse: what a sound door shows, the plausible range, where it begins, is full and ends.
WORSE: list[tuple[Distribution, tuple[float, float], Outward]] = [
    (sound, plausible, Outward(begins, full, end, scale_of(sound, plausible)))
    for sound, plausible, begins, full, end in (
        (LogNormal(0.03, 1.5), (0.0, 4.0), 0.11, 0.3, 4.0),
        (Normal(24, 1.2), (-60.0, 60.0), 20.5, 17.0, -60.0),
        (Normal(24, 1.2), (-60.0, 60.0), 20.5, 17.0, 0.0),
        (Uniform(0, 0.5), (0.0, 1e5), 2.0, 40.0, 1e5),
        (Beyond(), (0.0, 1e7), 6.0, 1.0, 0.0),
        (Normal(-58, 7), (-100.0, -20.0), -69.0, -79.0, -100.0),
    )
]


@pytest.mark.parametrize(("sound", "plausible", "spread"), WORSE)
@pytest.mark.parametrize("error", [0.0, 0.1])
def test_this_or_worse_sums_to_one_over_the_range(
    sound: Distribution, plausible: tuple[float, float], spread: Outward, error: float
) -> None:
    """By SciPy's own integral of the density that is documented: Φ((u − m)/σ) over the places u up to the end."""
    assert probability(spread, -math.inf, math.inf) == pytest.approx(1)
    scale = spread.scale
    begins, full, end = (scale.place(value) for value in (spread.begins, spread.full, spread.end))
    side = 1 if end > full else -1
    middle, sigma = (begins + full) / 2, abs(full - begins) / 4

    def density(u: float) -> float:
        return float(stats.norm.cdf(side * (u - middle) / sigma))

    def mass(one: float, other: float) -> float:
        return abs(integrate.quad(density, one, other, points=[full], limit=200)[0])

    far = middle - side * 9 * sigma
    for share in (0.1, 0.5, 0.9):
        cut = far + share * (end - far)
        value = scale.reading(cut)
        nearer = (-math.inf, value) if side > 0 else (value, math.inf)
        expected = (1 - BEYOND_RANGE) * mass(far, cut) / mass(far, end)
        assert probability(spread, *nearer) == pytest.approx(expected, rel=1e-6, abs=1e-9)
    below = probability(spread, -math.inf, spread.full, error)
    assert below + probability(spread, spread.full, math.inf, error) == pytest.approx(1)


@pytest.mark.parametrize(("sound", "plausible", "spread"), WORSE)
@pytest.mark.parametrize("error", [0.0, 0.05])
def test_against_a_slip_worse_never_weighs_less(
    sound: Distribution, plausible: tuple[float, float], spread: Outward, error: float
) -> None:
    scale = spread.scale
    start, end = scale.place(spread.begins), scale.place(spread.end)
    cuts = [scale.reading(start + (end - start) * i / 50) for i in range(51)]
    factors = []
    for one, other in itertools.pairwise(cuts):
        low, high = min(one, other), max(one, other)
        factors.append(probability(spread, low, high, error) / misread(sound, plausible, low, high))
    assert factors[-1] > 1
    assert all(further >= nearer * (1 - 1e-6) for nearer, further in itertools.pairwise(factors))


@pytest.mark.parametrize(("sound", "plausible", "spread"), WORSE)
def test_a_share_of_this_or_worse_lies_within_its_quantile(
    sound: Distribution, plausible: tuple[float, float], spread: Outward
) -> None:
    for share in (0.05, 0.3, 0.6, 0.9):
        value = quantile(spread, share)
        nearer = (-math.inf, value) if spread.end > spread.full else (value, math.inf)
        assert probability(spread, *nearer) == pytest.approx(share, abs=1e-6)
    assert quantile(spread, 0.99) == pytest.approx(spread.end)


@given(st.floats(-500, 500), st.floats(0.01, 50), st.floats(-1e4, 1e4))
def test_a_place_on_a_scale_is_where_its_reading_stands(origin: float, step: float, value: float) -> None:
    for scale in (Scale(), Scale(origin, step)):
        assert scale.reading(scale.place(value)) == pytest.approx(value, abs=1e-6)


def _read(written: object, plausible: tuple[float, float] | None = (0.0, 4.0)) -> Distribution:
    return read_spread(written, float, float, Range(plausible, Normal(0.1, 0.02)))


def test_this_or_worse_as_an_author_writes_it() -> None:
    scale = Scale(0.1, 0.04)
    assert _read({"at-least": [0.2, 0.3]}) == Outward(0.2, 0.3, 4.0, scale)
    assert _read({"at-least": [0.2, 0.3, 2.0]}) == Outward(0.2, 0.3, 2.0, scale, beyond=0.0)
    assert _read({"at-most": [0.05, 0.03]}) == Outward(0.05, 0.03, 0.0, scale)
    assert _read({"at-least": 0.3}) == Outward(pytest.approx(0.14), 0.3, 4.0, scale)
    partly = Mixture(((0.2, Normal(0.1, 0.02)), (0.8, Outward(0.2, 0.3, 4.0, scale))))
    assert _read({"at-least": [0.2, 0.3], "unseen": 0.2}) == partly
    assert isinstance(_read({"mixture": [{"share": 0.5, "at-least": 0.3}, {"share": 0.5, "uniform": [0, 1]}]}), Mixture)


@pytest.mark.parametrize(
    "written",
    [
        {"at-least": [0.3, 0.2]},
        {"at-most": [0.2, 0.3]},
        {"at-least": 0.11},
        {"at-least": [3.0, 5.0]},
        {"at-least": []},
        {"at-least": [0.1, 0.2, 0.3, 0.4]},
        {"at-least": [0.2, 0.3], "uniform": [0, 1]},
        {"at-least": [0.2, 0.3], "unseen": 0},
    ],
)
def test_this_or_worse_that_cannot_be_meant(written: object) -> None:
    with pytest.raises(NotUnderstood):
        _read(written)
    with pytest.raises(NotUnderstood):
        _read({"at-least": [0.1, 0.3]}, None)
