"""Estimates from counts beside those of SciPy, scikit-learn and pgmpy; control limits beside NIST's examples."""

from __future__ import annotations

import math
import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import optimize, stats

from diagnose.learning.estimates import (
    Raised,
    c_chart,
    expected_calls,
    flagged,
    log_bayes_factor,
    p_chart,
    pooled,
    pooled_shares,
    rates_from_calls,
    weights_by_age,
    without_slips,
)
from diagnose.reasoning.scoring import calibration

COUNTS = {"steady": 3, "blinking": 14, "dark": 41}
PRIOR = {"steady": 0.2, "blinking": 0.3, "dark": 0.5}


def test_shares_are_the_mean_of_scipys_dirichlet() -> None:
    alpha = [20 * PRIOR[name] + COUNTS[name] for name in PRIOR]
    assert list(pooled_shares(PRIOR, 20, COUNTS).values()) == pytest.approx(list(stats.dirichlet.mean(alpha)))


def test_a_chance_is_the_mean_of_scipys_beta() -> None:
    assert pooled(0.9, 20, 31, 22) == pytest.approx(stats.beta(20 * 0.9 + 22, 20 * 0.1 + 9).mean())


def test_minutes_are_the_mean_of_an_inverse_gamma_that_scipy_integrates() -> None:
    """Times are exponential with a mean m, and m inverse-gamma: prior mean 30, worth 20 times."""
    times = np.random.default_rng(4).exponential(44.0, 60)
    after = stats.invgamma(20 + 1 + len(times), scale=20 * 30.0 + times.sum())
    assert pooled(30.0, 20, len(times), times.sum()) == pytest.approx(after.mean())


def test_the_middle_of_a_reading_is_that_of_a_normal_prior_and_normal_readings() -> None:
    readings = np.random.default_rng(5).normal(22.0, 1.5, 40)
    grid = np.linspace(15, 30, 20001)
    log = stats.norm.logpdf(grid, 24.0, 1.5 / math.sqrt(20)) + sum(stats.norm.logpdf(x, grid, 1.5) for x in readings)
    weights = np.exp(log - log.max())
    assert pooled(24.0, 20, len(readings), readings.sum()) == pytest.approx(float(grid @ weights / weights.sum()))


def test_shares_of_answers_are_those_of_scikit_learns_bayes() -> None:
    from sklearn.naive_bayes import CategoricalNB, MultinomialNB

    random = np.random.default_rng(6)
    causes, answers = random.integers(0, 2, 200), random.integers(0, 3, 200)
    fitted = CategoricalNB(alpha=2.0).fit(answers.reshape(-1, 1), causes)
    even = dict.fromkeys("012", 1 / 3)
    for cause in (0, 1):
        counts = {str(k): int(((causes == cause) & (answers == k)).sum()) for k in range(3)}
        ours = pooled_shares(even, 6.0, counts)
        assert list(ours.values()) == pytest.approx(list(np.exp(fitted.feature_log_prob_[0][cause])))
    rows = np.eye(3)[answers]
    multinomial = MultinomialNB(alpha=2.0).fit(rows, causes)
    counts = {str(k): int(((causes == 1) & (answers == k)).sum()) for k in range(3)}
    assert list(pooled_shares(even, 6.0, counts).values()) == pytest.approx(
        list(np.exp(multinomial.feature_log_prob_[1]))
    )


def test_base_rates_and_likelihoods_are_those_of_pgmpys_bayesian_estimator() -> None:
    """With one complaint that every cause answers for, and cases that go with the rates, those are the mean of the
    plain Dirichlet posterior."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import pandas as pd
        from pgmpy.estimators import BayesianEstimator
        from pgmpy.models import DiscreteBayesianNetwork

        causes = ["a"] * 30 + ["b"] * 12 + ["c"] * 3
        shown = ["dark"] * 25 + ["steady"] * 5 + ["dark"] * 2 + ["steady"] * 10 + ["steady"] * 3
        data = pd.DataFrame({"cause": causes, "lamp": shown})
        network = DiscreteBayesianNetwork([("cause", "lamp")])
        estimator = BayesianEstimator(network, data)
        rates = {"cause": [[20 * 0.2], [20 * 0.3], [20 * 0.5]]}
        lamps = {"lamp": [[10 * 0.5] * 3, [10 * 0.5] * 3]}
        cause = estimator.estimate_cpd("cause", prior_type="dirichlet", pseudo_counts=rates["cause"])
        lamp = estimator.estimate_cpd("lamp", prior_type="dirichlet", pseudo_counts=lamps["lamp"])
    base = np.array([0.02, 0.03, 0.05])
    raised = [Raised(45, np.arange(3), np.full(3, 0.75))]
    ours = rates_from_calls(base, 200 * base, np.array([30.0, 12.0, 3.0]), raised)
    assert ours.sum() == pytest.approx(0.1)
    assert list(ours / ours.sum()) == pytest.approx(list(cause.get_values().ravel()), rel=1e-6)
    # pgmpy sorts states: dark, steady.
    for column, counts in enumerate(({"dark": 25, "steady": 5}, {"dark": 2, "steady": 10}, {"dark": 0, "steady": 3})):
        mine = pooled_shares({"dark": 0.5, "steady": 0.5}, 10, counts)
        assert [mine["dark"], mine["steady"]] == pytest.approx(list(lamp.get_values()[:, column]))


def test_slips_are_taken_out_again() -> None:
    """Many answers, each with a known chance any of them alike: what is left is what was shown."""
    truth, slip = np.array([0.02, 0.28, 0.70]), 0.1
    seen = (1 - slip) * truth + slip / 3
    counts = dict(zip(PRIOR, 1e7 * seen, strict=True))
    assert list(without_slips(PRIOR, 1.0, counts, slip).values()) == pytest.approx(list(truth), abs=1e-5)
    assert without_slips(PRIOR, 20, COUNTS, 0.0) == pytest.approx(pooled_shares(PRIOR, 20, COUNTS))


@given(st.lists(st.integers(0, 200), min_size=2, max_size=5))
def test_the_bayes_factor_is_scipys_dirichlet_multinomial_over_its_multinomial(counts: list[int]) -> None:
    said = np.arange(1.0, len(counts) + 1)
    said /= said.sum()
    n = sum(counts)
    ours = log_bayes_factor(np.array(counts, dtype=float), said)
    theirs = stats.dirichlet_multinomial(np.ones(len(counts)), n).logpmf(counts) - stats.multinomial(n, said).logpmf(
        counts
    )
    assert ours == pytest.approx(float(theirs), abs=1e-8)


def test_what_is_true_is_seldom_flagged_however_often_one_looks() -> None:
    """Two hundred true likelihoods, looked at after each of three hundred calls; and one that is wrong among them."""
    random = np.random.default_rng(7)
    said = np.array([0.7, 0.3])
    shown = random.random((200, 300)) < 0.3
    ever = np.zeros(200, dtype=bool)
    for calls in range(5, 301, 5):
        hits = shown[:, :calls].sum(axis=1)
        factors = [log_bayes_factor(np.array([calls - h, h], dtype=float), said) for h in hits]
        ever[flagged(factors, 0.05)] = True
    assert ever.sum() <= 2
    wrong = log_bayes_factor(np.array([120.0, 180.0]), said)
    assert flagged([*factors, wrong], 0.05) == [200]


def test_nothing_is_flagged_of_nothing() -> None:
    assert flagged([], 0.05) == [] and flagged([0.0], 0.05) == []


# --- what the shop could not meet ----------------------------------------------------------------------------


def test_a_shop_of_few_gates_does_not_take_faults_of_gates_for_rare() -> None:
    base = np.array([0.02, 0.02, 0.04])
    doors = Raised(90, np.array([0, 1]), np.ones(2))
    gates = Raised(10, np.array([1, 2]), np.ones(2))
    met = expected_calls(base, [doors, gates])
    assert met == pytest.approx([45, 45 + 10 / 3, 20 / 3])
    assert rates_from_calls(base, np.full(3, 20.0), met, [doors, gates]) == pytest.approx(base, rel=1e-4)


@pytest.mark.parametrize("seed", range(3))
def test_many_calls_find_the_rates_they_were_drawn_with(seed: int) -> None:
    random = np.random.default_rng(seed)
    base = random.uniform(0.005, 0.05, 6)
    truth = base * 3.0 ** random.choice([-1, 1], 6)
    sets = [np.array([0, 1, 2]), np.array([1, 2, 3, 4]), np.array([0, 4, 5])]
    chances = [random.uniform(0.3, 1.0, len(each)) for each in sets]
    counts = np.zeros(6)
    for each, chance in zip(sets, chances, strict=True):
        weights = truth[each] * chance
        np.add.at(counts, each, random.multinomial(40000, weights / weights.sum()))
    raised = [Raised(40000, each, chance) for each, chance in zip(sets, chances, strict=True)]
    found = rates_from_calls(base, np.full(6, 20.0), counts, raised)
    assert found / found.sum() == pytest.approx(truth / truth.sum(), rel=0.05)
    assert found.sum() == pytest.approx(base.sum())


def test_rates_are_where_scipys_optimiser_finds_them_likeliest() -> None:
    """Two complaints with a cause in common, and rates known from cases unlike: gamma before, multinomial after."""
    base, cases = np.array([0.02, 0.001, 0.05, 0.01]), np.array([1.0, 2.5, 10.0, 1.0])
    counts = np.array([30.0, 2.0, 9.0, 25.0])
    raised = [Raised(40, np.array([0, 1, 2]), np.array([0.9, 0.3, 0.5])), Raised(26, np.array([2, 3]), np.ones(2))]

    def unlikely(logs: np.ndarray) -> float:
        rates = np.exp(logs)
        prior = stats.gamma(cases, scale=base / cases).logpdf(rates) + logs  # on the scale of logarithms
        all_calls = sum(each.count * np.log(rates[each.suspects] @ each.chances) for each in raised)
        return float(all_calls - counts @ logs - prior.sum())

    found = np.exp(optimize.minimize(unlikely, np.log(base), tol=1e-10).x)
    ours = rates_from_calls(base, cases, counts, raised)
    assert list(ours / ours.sum()) == pytest.approx(list(found / found.sum()), rel=1e-4)


def test_a_rate_that_is_well_known_does_not_move_where_nothing_was_counted() -> None:
    base = np.array([0.02, 0.02])
    raised = [Raised(1e-6, np.array([0, 1]), np.ones(2))]
    assert rates_from_calls(base, np.array([1.0, 10.0]), np.zeros(2), raised) == pytest.approx(base, rel=1e-3)


def test_a_call_counts_half_after_its_half_life() -> None:
    assert weights_by_age([10, 14, 18], 18, 8.0) == {10: 0.5, 14: pytest.approx(math.sqrt(0.5)), 18: 1.0}


# --- control charts ------------------------------------------------------------------------------------------

# NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2: thirty wafers of fifty chips each, and how many fail (from
# memory).
WAFERS = [12, 15, 8, 10, 4, 7, 16, 9, 14, 10, 5, 6, 17, 12, 22, 8, 10, 5, 13, 11, 20, 18, 24, 15, 9, 12, 7, 13, 9, 6]
# 6.3.3.1: defects on twenty-five wafers (from memory).
DEFECTS = [16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14, 16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13]


def test_limits_of_a_share_are_those_of_nists_example() -> None:
    centre, limits = p_chart(WAFERS, [50] * 30)
    low, high = limits[0]
    assert (round(centre, 4), round(low, 4), round(high, 4)) == (0.2313, 0.0524, 0.4102)
    assert [number for number, fails in enumerate(WAFERS, 1) if not low <= fails / 50 <= high] == [15, 23]


def test_limits_of_a_count_are_those_of_nists_example() -> None:
    """Its limits are 16 ± 3·√16: the handbook takes the centre of 400 defects in 25 samples."""
    centre, low, high = c_chart(DEFECTS)
    assert (centre, low, high) == (16.0, 4.0, 28.0)


def test_the_calibration_curve_is_scikit_learns() -> None:
    from sklearn.calibration import calibration_curve

    random = np.random.default_rng(8)
    said = random.random(500)
    right = (random.random(500) < said**1.5).astype(float)
    true, predicted = calibration_curve(right, said, n_bins=10)
    ours = calibration(said, right)
    assert [each.came_true for each in ours] == pytest.approx(list(true))
    assert [each.predicted for each in ours] == pytest.approx(list(predicted))
