"""The posterior against independent implementations and a published worked example.

References: pgmpy's exact ``VariableElimination``, scikit-learn's ``CategoricalNB``, and Lauritzen & Spiegelhalter's
network (1988) as pgmpy carries it.
"""

from __future__ import annotations

import warnings
from collections.abc import Sequence

import numpy as np
import pytest
from msgspec.structs import replace

from diagnose import Call
from diagnose.knowledge.model import COULD_NOT_TELL, Trees
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.practice.simulated import draw_door
from diagnose.reasoning.belief import posterior
from diagnose.reasoning.situation import UNLIKE, Array, Table, otherwise


def by_variable_elimination(prior: Array, tables: Sequence[Array], rows: Sequence[int | None]) -> Array:
    """P(cause | answers) of a naive network with a node for each table, by pgmpy."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from pgmpy.factors.discrete import TabularCPD
        from pgmpy.inference import VariableElimination
        from pgmpy.models import DiscreteBayesianNetwork

        network = DiscreteBayesianNetwork([("cause", f"e{i}") for i in range(len(tables))])
        network.add_node("cause")
        network.add_cpds(TabularCPD("cause", len(prior), prior[:, None].tolist()))
        for i, table in enumerate(tables):
            network.add_cpds(TabularCPD(f"e{i}", table.shape[0], table.tolist(), ["cause"], [len(prior)]))
        given = {f"e{i}": row for i, row in enumerate(rows) if row is not None}
        result = VariableElimination(network).query(["cause"], evidence=given, show_progress=False)
    values: Array = np.asarray(result.values, dtype=float)
    return values


@pytest.mark.parametrize("seed", range(12))
def test_random_models_with_missing_answers_equal_exact_elimination(seed: int) -> None:
    random = np.random.default_rng(seed)
    causes, checks = int(random.integers(2, 9)), int(random.integers(1, 9))
    prior = random.dirichlet(np.ones(causes))
    tables = [random.dirichlet(np.ones(int(random.integers(2, 5))), causes).T for _ in range(checks)]
    rows = [None if random.random() < 0.3 else int(random.integers(table.shape[0])) for table in tables]
    likelihoods = [table[row] for table, row in zip(tables, rows, strict=True) if row is not None]
    assert posterior(prior, likelihoods) == pytest.approx(by_variable_elimination(prior, tables, rows), abs=1e-9)


@pytest.mark.parametrize("seed", range(12))
def test_random_models_equal_scikit_learns_naive_bayes(seed: int) -> None:
    from sklearn.naive_bayes import CategoricalNB

    random = np.random.default_rng(seed)
    features, classes = random.integers(0, 4, (60, 6)), random.integers(0, 5, 60)
    classes[:5] = range(5)
    fitted = CategoricalNB(alpha=0.1, min_categories=4).fit(features, classes)
    prior = np.exp(fitted.class_log_prior_)
    tables = [np.exp(table).T for table in fitted.feature_log_prob_]
    for case in features[:10]:
        ours = posterior(prior, [table[value] for table, value in zip(tables, case, strict=True)])
        assert ours == pytest.approx(fitted.predict_proba(case[None, :])[0], abs=1e-9)


def test_the_trees_that_ship_equal_exact_elimination(shipped_trees: Trees) -> None:
    """One call for each symptom: questions answered at random, some not told; single faults, groups set aside.

    Each answer counts in full, as in Bayes' rule.
    """
    shipped_trees = replace(shipped_trees, costs=replace(shipped_trees.costs, independence=1.0))
    for number, symptom in enumerate(shipped_trees.symptoms):
        random = np.random.default_rng(number)
        draw = draw_door(shipped_trees, random, symptom)
        door = HiddenDoor(shipped_trees, draw.facts, set(draw.faults), number)
        call = Call(shipped_trees, draw.facts, [symptom], people=shipped_trees.people)
        seen_groups: set[str] = set()
        tables, rows = [], []
        for identity, table in call.situation.tables.items():
            check = shipped_trees.checks[identity]
            if not check.answers or check.kind == "computed" or len(tables) == 10:
                continue
            if check.group and check.group in seen_groups:
                continue
            seen_groups.add(check.group)
            text = COULD_NOT_TELL if random.random() < 0.25 else door.typed(check)
            call.answer(identity, text)
            tables.append(table)
            rows.append(None if text == COULD_NOT_TELL else table.answers.index(text))
        if call.inference.pairs or not tables:
            tables, rows = tables[:2], rows[:2]
            call = _answered_again(call, shipped_trees, symptom, dict(draw.facts), 2)
            if call.inference.pairs:
                continue
        expected = _with_unlisted_resembling(call.situation.prior, tables, rows)
        assert call.inference.belief.causes() == pytest.approx(expected, abs=1e-9), symptom


def _with_unlisted_resembling(prior: Array, tables: Sequence[Table], rows: Sequence[int | None]) -> Array:
    """The same network with a state of its own for each cause an unlisted one may resemble, and each share unlike."""
    known = prior[:-1] / prior[:-1].sum()
    weights = [prior[-1] * weight / len(UNLIKE) for _ in UNLIKE for weight in known]
    resembling = []
    for table in tables:
        columns = table.likelihood[:, :-1]
        flat = 1.0 / len(columns)
        sound = (1 - table.slip) * table.healthy + table.slip * flat
        other = otherwise(sound, columns @ known, flat)
        like = [(1 - unlike) * columns + unlike * other[:, None] for unlike in UNLIKE]
        resembling.append(np.column_stack([columns, *like]))
    found = by_variable_elimination(np.concatenate([prior[:-1], weights]), resembling, rows)
    return np.append(found[: len(known)], found[len(known) :].sum())


def _answered_again(call: Call, trees: Trees, symptom: str, facts: dict[str, str | tuple[str, ...]], most: int) -> Call:
    again = Call(trees, facts, [symptom], people=trees.people)
    for answer in list(call.state.answers.values())[:most]:
        again.answer(answer.check, answer.raw[0])
    return again


def test_the_chest_clinic_of_lauritzen_and_spiegelhalter() -> None:
    """Dyspnoea in the 1988 network: tuberculosis .018845, lung cancer .102759, bronchitis .833967.

    The network is not naive; its eight joint states of the three diseases are, given smoking and travel summed out.
    """
    states = [(tub, lung, bronc) for tub in (1, 0) for lung in (1, 0) for bronc in (1, 0)]
    prior = np.zeros(8)
    for asia, p_asia in ((1, 0.01), (0, 0.99)):
        for smoke, p_smoke in ((1, 0.5), (0, 0.5)):
            for i, (tub, lung, bronc) in enumerate(states):
                p_tub = 0.05 if asia else 0.01
                p_lung = 0.10 if smoke else 0.01
                p_bronc = 0.60 if smoke else 0.30
                chance = p_asia * p_smoke
                for present, p in ((tub, p_tub), (lung, p_lung), (bronc, p_bronc)):
                    chance *= p if present else 1 - p
                prior[i] += chance
    dyspnoea = {(1, 1): 0.9, (1, 0): 0.7, (0, 1): 0.8, (0, 0): 0.1}
    likelihood = np.array([dyspnoea[(int(tub or lung), bronc)] for tub, lung, bronc in states])
    after = posterior(prior, [likelihood])
    found = [sum(p for p, state in zip(after, states, strict=True) if state[i]) for i in range(3)]
    assert found == pytest.approx([0.018845, 0.102759, 0.833967], abs=1e-6)


def test_the_weather_table() -> None:
    """The textbook naive Bayes table: sunny, cool, high, windy, unsmoothed → play .204583."""
    prior = np.array([9 / 14, 5 / 14])
    likelihoods = [np.array(pair) for pair in ([2 / 9, 3 / 5], [3 / 9, 1 / 5], [3 / 9, 4 / 5], [3 / 9, 3 / 5])]
    assert posterior(prior, likelihoods)[0] == pytest.approx(0.204583, abs=1e-6)


def test_a_test_for_a_rare_disease() -> None:
    """The worked example of Casscells, Schoenberger & Graboys (NEJM 1978), from memory: prevalence 1 in 1000, false
    positives 5 %, no false negatives: a positive test means the disease in about 2 of 100."""
    after = posterior(np.array([0.001, 0.999]), [np.array([1.0, 0.05])])
    assert after[0] == pytest.approx(0.0196, abs=1e-4)
