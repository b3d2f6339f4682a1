"""Two faults at once, against pgmpy's exact inference on an equivalent network, and against noisy-or."""

from __future__ import annotations

import itertools
import warnings

import numpy as np
import pytest

from diagnose.reasoning.belief import Belief, Pairs, answered, pair_likelihood, remedied
from diagnose.reasoning.situation import Array, Table


def make_table(columns: Array, healthy: Array, slip: float = 0.0) -> Table:
    """A question's table from [answers, causes] columns; the last cause stands for ``unlisted``."""
    ratio = columns / healthy[:, None]
    anomaly = 1 - np.minimum(ratio.min(axis=0), 1.0)
    smeared = (1 - slip) * columns + slip / len(healthy)
    answers = tuple(str(i) for i in range(len(healthy)))
    usual = (1 - slip) * healthy + slip / len(healthy)
    count = columns.shape[1]
    return Table("check", answers, usual, np.arange(count), smeared, anomaly, healthy, count, (), slip)


def matrix_of_both(table: Table, answer: int) -> Array:
    """P(answer | both causes), [causes, causes], off the diagonal."""
    count = table.count
    first, second = np.repeat(np.arange(count), count), np.tile(np.arange(count), count)
    both = pair_likelihood(table.likelihood[answer], table, False, answer, first, second)
    return both.reshape(count, count)


@pytest.mark.parametrize("seed", range(10))
def test_two_answers_make_a_noisy_or_with_leak(seed: int) -> None:
    """P(trouble | both) = 1 − (1 − leak)(1 − w₁)(1 − w₂), with 1 − wᵢ = P(no trouble | i)/(1 − leak)."""
    random = np.random.default_rng(seed)
    leak = float(random.uniform(0.01, 0.2))
    trouble = random.uniform(leak, 0.99, 3)
    table = make_table(np.stack([1 - trouble, trouble]), np.array([1 - leak, leak]))
    both = matrix_of_both(table, 1)
    for i, j in itertools.combinations(range(3), 2):
        strength = 1 - (1 - trouble) / (1 - leak)
        assert both[i, j] == pytest.approx(1 - (1 - leak) * (1 - strength[i]) * (1 - strength[j]))


@pytest.mark.parametrize("seed", range(10))
def test_pair_likelihoods_sum_to_one_over_the_answers(seed: int) -> None:
    random = np.random.default_rng(seed)
    answers = int(random.integers(2, 6))
    table = make_table(random.dirichlet(np.ones(answers), 4).T, random.dirichlet(np.ones(answers)), slip=0.02)
    total = sum(matrix_of_both(table, a) for a in range(answers))
    off = ~np.eye(4, dtype=bool)
    assert np.asarray(total)[off] == pytest.approx(1.0)


@pytest.mark.parametrize("seed", range(6))
def test_pair_posteriors_equal_exact_inference(seed: int) -> None:
    """A network with one node for the fault set and noisy-or children, solved by pgmpy's variable elimination."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        random = np.random.default_rng(seed)
        causes = 4
        leaks = random.uniform(0.01, 0.2, 3)
        trouble = np.array([random.uniform(leak, 0.98, causes) for leak in leaks])
        sets = [(i,) for i in range(causes)] + list(itertools.combinations(range(causes), 2))
        weights = random.dirichlet(np.ones(len(sets)))
        network = DiscreteBayesianNetwork([("faults", f"sign{c}") for c in range(3)])
        network.add_cpds(TabularCPD("faults", len(sets), weights[:, None].tolist()))
        for c in range(3):
            quiet = [(1 - leaks[c]) * np.prod([(1 - trouble[c][i]) / (1 - leaks[c]) for i in s]) for s in sets]
            table = [quiet, [1 - q for q in quiet]]
            network.add_cpds(TabularCPD(f"sign{c}", 2, table, ["faults"], [len(sets)]))
        seen = {f"sign{c}": int(random.integers(2)) for c in range(3)}
        exact = VariableElimination(network).query(["faults"], evidence=seen, show_progress=False).values
    first, second = np.triu_indices(causes, k=1)
    assert [*zip(first, second, strict=True)] == sets[causes:]
    belief = Belief(weights[:causes], Pairs(first, second, weights[causes:]))
    for c in range(3):
        table = make_table(np.stack([1 - trouble[c], trouble[c]]), np.array([1 - leaks[c], leaks[c]]))
        answer = seen[f"sign{c}"]
        belief = answered(belief, table.likelihood[answer], table, False, answer)
    assert belief.pair is not None
    ours = [*belief.single, *belief.pair.weight]
    assert ours == pytest.approx(list(exact), abs=1e-9)


def test_an_answer_that_counts_half_moves_the_odds_half_as_far() -> None:
    """By hand: odds 1 to 1, likelihoods 0.8 and 0.2; in full the odds are 4 to 1, at one half the root of that."""
    table = make_table(np.array([[0.2, 0.8], [0.8, 0.2]]), np.array([0.5, 0.5]))
    for counts, odds in ((1.0, 4.0), (0.5, 2.0)):
        belief = answered(Belief(np.array([0.5, 0.5])), table.likelihood[1], table, False, 1, counts)
        assert belief.single[0] / belief.single[1] == pytest.approx(odds)


def test_a_repair_of_one_of_two_leaves_the_other() -> None:
    """Worked by hand: P(a)=.5, P(a and b)=.5; the remedy removes a for certain; the complaint stays."""

    class Door:
        complaint = np.array([0.8, 0.6, 1.0])

    before = Belief(np.array([0.5, 0.0, 0.0]), Pairs(np.array([0]), np.array([1]), np.array([0.5])))
    after = remedied(before, Door(), np.array([1.0, 0.0, 0.0]), worked=False)  # type: ignore[arg-type]
    # Only b is left (.5 × .6 keeps the complaint), or nothing (.5 × .02 by chance).
    assert after.single[1] == pytest.approx(0.30 / 0.31)
    assert after.nothing == pytest.approx(0.01 / 0.31)
    assert after.pairs == 0
