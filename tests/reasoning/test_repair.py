"""Test or repair: worked numbers, brute force over every order, and the plan against an independent search."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from diagnose.reasoning.repair import (
    Action,
    Change,
    Plan,
    Problem,
    Remedies,
    best_order,
    expected_cost_of_observation,
    expected_cost_of_repair,
)
from diagnose.reasoning.situation import Array
from tests.reasoning.models import perfect_actions, random_problem, yes_no


def test_o1_one_fault_perfect_remedies() -> None:
    """Kadane & Simon; Kalagnanam & Henrion (1990): order by p/c. Worked: 38.0 best, 56.0 worst."""
    problem = Problem(np.array([0.5, 0.3, 0.2]), (), perfect_actions([50, 10, 5]))
    assert best_order(problem) == [2, 1, 0]
    assert expected_cost_of_repair(problem, [2, 1, 0]) == pytest.approx(38.0)
    costs = [expected_cost_of_repair(problem, list(order)) for order in itertools.permutations(range(3))]
    assert (min(costs), max(costs)) == pytest.approx((38.0, 56.0))
    assert Plan(problem).expected_cost() == pytest.approx(38.0)


def test_o2_inspect_then_repair_if_broken() -> None:
    """Heckerman, Breese & Rommelse (1995): inspect for C°, repair for Cʳ only if broken; order by p/C°. 78.2."""
    probability, inspect, repair = np.array([0.5, 0.3, 0.2]), [10, 4, 1], [100, 50, 20]
    looks = tuple(yes_no(f"look {k}", inspect[k], np.eye(3)[k]) for k in range(3))
    problem = Problem(probability, looks, perfect_actions(repair))
    by_formula = min(
        sum(
            (1 - sum(probability[j] for j in order[:i])) * inspect[k] + probability[k] * repair[k]
            for i, k in enumerate(order)
        )
        for order in itertools.permutations(range(3))
    )
    assert by_formula == pytest.approx(78.2)
    # The optimum may repair the last suspect without a look: it saves its inspection.
    assert Plan(problem).expected_cost() == pytest.approx(78.2 - 0.5 * 10)
    assert Plan(problem).first().name == "look 2"


def test_o3_remedies_that_share_an_opening_cost() -> None:
    """Ottosen & Jensen: p .4 .35 .25, c 30 5 5, the last two behind K = 20: 40.25, order 2, 3, 1."""
    opening = Change(np.array([1, 1]), np.array([20.0, 0.0]))
    actions = perfect_actions([30, 5, 5], changes={1: opening, 2: opening})
    plan = Plan(Problem(np.array([0.4, 0.35, 0.25]), (), actions, states=2))
    assert plan.expected_cost() == pytest.approx(40.25)
    assert plan.first().name == "remedy 1"


def test_o4_two_independent_faults() -> None:
    """Independent f .5 and .2, down if any; c 10, 3.5: first 1 then 2 costs 11.1667, the other way 11.8333."""
    f = np.array([0.5, 0.2])
    weights = np.array([f[0] * (1 - f[1]), f[1] * (1 - f[0]), f[0] * f[1]])
    first = Action("1", 10, np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0]]))
    second = Action("2", 3.5, np.array([[1.0, 0.0, 1.0], [0.0, 0.0, 0.0]]))
    problem = Problem(weights / weights.sum(), (), (first, second))
    assert expected_cost_of_repair(problem, [0, 1]) == pytest.approx(11.1667, abs=1e-4)
    assert expected_cost_of_repair(problem, [1, 0]) == pytest.approx(11.8333, abs=1e-4)
    assert Plan(problem).expected_cost() == pytest.approx(11.1667, abs=1e-4)
    assert Plan(problem).first().name == "1"


def test_o5_a_question_worth_asking_later() -> None:
    """p .4 .3 .2 .1, c 5 15 1 10, Q yes iff 1 or 2 at cost 2: ECR 12.0, ECO 11.3, optimum 11.3."""
    question = yes_no("Q", 2, np.array([1.0, 1.0, 0.0, 0.0]))
    problem = Problem(np.array([0.4, 0.3, 0.2, 0.1]), (question,), perfect_actions([5, 15, 1, 10]))
    assert expected_cost_of_repair(problem, best_order(problem)) == pytest.approx(12.0)
    assert expected_cost_of_observation(problem, question) == pytest.approx(11.3)
    assert Plan(problem).expected_cost() == pytest.approx(11.3)


def test_o6_the_myopic_choice_is_not_the_best() -> None:
    """Two noisy questions: ECR 42.0, ECO 39.5 and 39.7, optimum 38.69, which starts with the second."""
    questions = (yes_no("Q1", 2, np.array([0.9, 0.8, 0.2, 0.1])), yes_no("Q2", 3, np.array([0.1, 0.3, 0.9, 0.5])))
    problem = Problem(np.array([0.4, 0.3, 0.2, 0.1]), questions, perfect_actions([20, 30, 10, 40]))
    assert expected_cost_of_repair(problem, best_order(problem)) == pytest.approx(42.0)
    assert [expected_cost_of_observation(problem, q) for q in questions] == pytest.approx([39.5, 39.7])
    plan = Plan(problem)
    assert plan.expected_cost() == pytest.approx(38.69)
    assert plan.first().name == "Q2"


def test_o7_two_half_splits() -> None:
    """p .25 × 4, c 100 × 4, two clean half-splits at 30: ECR 250, ECO 180, optimum 160."""
    splits = (yes_no("A", 30, np.array([1.0, 1.0, 0.0, 0.0])), yes_no("B", 30, np.array([1.0, 0.0, 1.0, 0.0])))
    problem = Problem(np.full(4, 0.25), splits, perfect_actions([100] * 4))
    assert expected_cost_of_repair(problem, best_order(problem)) == pytest.approx(250)
    assert expected_cost_of_observation(problem, splits[0]) == pytest.approx(180)
    assert Plan(problem).expected_cost() == pytest.approx(160)


@pytest.mark.parametrize("seed", range(40))
def test_without_checks_probability_over_cost_is_the_best_order(seed: int) -> None:
    """Every order of up to seven perfect remedies is tried: none is cheaper than p/c."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 8))
    problem = Problem(rng.dirichlet(np.ones(count)), (), perfect_actions(rng.uniform(1, 100, count)))
    cheapest = min(expected_cost_of_repair(problem, list(order)) for order in itertools.permutations(range(count)))
    assert expected_cost_of_repair(problem, best_order(problem)) == pytest.approx(cheapest)
    assert Plan(problem).expected_cost() == pytest.approx(cheapest)


@pytest.mark.parametrize("seed", range(20))
def test_handing_over_cuts_the_order_where_it_should(seed: int) -> None:
    """The best prefix of the p·a/c order equals the best of every order and every place to stop."""
    rng = np.random.default_rng(seed)
    count = int(rng.integers(2, 6))
    works = rng.uniform(0.4, 1.0, count)
    actions = tuple(Action(str(k), float(rng.uniform(5, 120)), 1 - works[k] * np.eye(count)[k]) for k in range(count))
    problem = Problem(rng.dirichlet(np.ones(count)), (), actions, hand_over=150.0)
    cheapest = min(
        expected_cost_of_repair(problem, list(order))
        for length in range(count + 1)
        for order in itertools.permutations(range(count), length)
    )
    assert expected_cost_of_repair(problem, best_order(problem)) == pytest.approx(cheapest)
    assert Plan(problem).expected_cost() == pytest.approx(cheapest)


def slow_optimum(problem: Problem) -> float:
    """The same optimum by plain recursion over what was asked and tried: nothing shared with the plan's arrays."""

    @cache
    def value(answers: tuple[int, ...], tried: frozenset[int], state: int) -> float:
        weights = problem.probability.copy()
        for question, answer in zip(problem.questions, answers, strict=True):
            if answer >= 0:
                weights = weights * question.likelihood[answer]
        stays = np.ones((2, len(weights)))
        for index in tried:
            leaves = problem.actions[index].leaves
            stays = stays * (leaves if leaves.ndim == 2 else np.stack([leaves, np.zeros_like(leaves)]))
        mass = float(weights @ (1 - (1 - stays[0]) * (1 - stays[1])))
        if mass < 1e-15:
            return 0.0
        options = [problem.hand_over * mass]
        for index, question in enumerate(problem.questions):
            if answers[index] < 0:
                to, entry = moved(question.change, state)
                later = sum(
                    value((*answers[:index], answer, *answers[index + 1 :]), tried, to)
                    for answer in range(question.likelihood.shape[0])
                )
                options.append((question.cost + entry) * mass + later)
        for index, action in enumerate(problem.actions):
            if index not in tried:
                to, entry = moved(action.change, state)
                options.append((action.cost + entry) * mass + value(answers, tried | {index}, to))
        return min(options)

    return value((-1,) * len(problem.questions), frozenset(), problem.start)


def moved(change: Change | None, state: int) -> tuple[int, float]:
    return (state, 0.0) if change is None else (int(change.to[state]), float(change.cost[state]))


@pytest.mark.parametrize("seed", range(25))
def test_the_plan_is_the_optimum_of_a_plain_search(seed: int) -> None:
    """Imperfect remedies, states that cost to enter, handing over, questions with two and three answers."""
    problem = random_problem(np.random.default_rng(seed), causes=4, questions=3, states=2, answers=3)
    assert Plan(problem).expected_cost() == pytest.approx(slow_optimum(problem))


@pytest.mark.parametrize("seed", range(25))
def test_the_ways_a_plan_may_go_average_to_its_expected_cost(seed: int) -> None:
    problem = random_problem(np.random.default_rng(seed), causes=5, questions=3, states=2)
    plan = Plan(problem)
    minutes, chances = plan.outcomes()
    assert chances.sum() == pytest.approx(1)
    assert float(minutes @ chances) == pytest.approx(plan.expected_cost(), rel=1e-6)


@pytest.mark.parametrize("seed", range(25))
def test_where_it_looks_further_each_fault_has_its_own_repair_and_the_unlikely_a_longer_search(seed: int) -> None:
    """On the mean it is the cost that the plan counts with; the ways lie apart by what each fault takes."""
    random = np.random.default_rng(seed)
    problem = random_problem(random, causes=5, questions=2, states=2)
    known = random.uniform(5, 60, 5)
    # A search this cheap is always worth it, so that nothing but looking further is left to do.
    problem = replace(problem, per_bit=0.01, once_known=known, hand_over=1e6)
    problem = replace(problem, questions=(), actions=tuple(replace(a, cost=1e4) for a in problem.actions))
    plan = Plan(problem)
    assert plan.first().kind == "look further"
    minutes, chances = plan.outcomes()
    assert float(minutes @ chances) == pytest.approx(plan.expected_cost(), rel=1e-9)
    bits = -np.log2(problem.probability / problem.probability.sum())
    assert minutes == pytest.approx(known + 0.01 * bits)
    timed = Plan(replace(problem, minutes_per_bit=2.0, minutes_once_known=known / 2))
    assert timed.first() == plan.first(), "minutes are only told: what is chosen goes by the cost"
    assert timed.outcomes()[0] == pytest.approx(known / 2 + 2.0 * bits)


@pytest.mark.parametrize("seed", range(25))
def test_a_plan_is_never_dearer_than_repairing_without_questions(seed: int) -> None:
    problem = random_problem(np.random.default_rng(seed), causes=5, questions=3)
    repair = expected_cost_of_repair(problem, best_order(problem))
    assert Plan(problem).expected_cost() <= repair + 1e-9
    removal = removal_of([action.cost for action in problem.actions], np.array([a.leaves for a in problem.actions]))
    hand_over = np.full(5, problem.hand_over)
    assert removal.costs_of_repair(problem.probability[None], hand_over)[0] >= repair - 1e-9


def removal_of(costs: Sequence[float], leaves: Array, pairs: Sequence[tuple[int, int]] = ()) -> Remedies:
    """``leaves`` is P(fault stays), [remedies, faults]."""
    remedy, fault = np.nonzero(leaves < 1)
    first = np.array([*range(leaves.shape[1]), *(one for one, _ in pairs)], dtype=np.intp)
    second = np.array([*[-1] * leaves.shape[1], *(other for _, other in pairs)], dtype=np.intp)
    return Remedies(np.array(costs), remedy, fault, 1 - leaves[remedy, fault], first, second)


def cost_one_by_one(costs: Array, leaves: Array, weights: Array, hand_over: Array) -> float:
    """The same, worked out remedy by remedy: ``leaves`` is [remedies, 2, hypotheses]."""
    fixes = [float((1 - both[0]) * (1 - both[1]) @ weights) for both in leaves]
    order = sorted(range(len(costs)), key=lambda r: -fixes[r] / costs[r])
    stays, spent, best = np.ones(leaves.shape[1:]), 0.0, float(weights @ hand_over)
    for remedy in order:
        spent += costs[remedy] * float(weights @ (1 - (1 - stays[0]) * (1 - stays[1])))
        stays = stays * leaves[remedy]
        best = min(best, spent + float(weights @ ((1 - (1 - stays[0]) * (1 - stays[1])) * hand_over)))
    return best


@pytest.mark.parametrize("seed", range(20))
def test_many_beliefs_are_weighed_at_once_as_they_are_one_by_one(seed: int) -> None:
    """Remedies that remove several faults, faults with several remedies, and pairs of faults."""
    random = np.random.default_rng(seed)
    faults, remedies = 7, 6
    keeps = np.where(random.random((remedies, faults)) < 0.6, 1.0, random.random((remedies, faults)))
    keeps[np.arange(remedies), random.integers(faults, size=remedies)] = random.choice([0.0, 0.2], remedies)
    pairs = [(0, 1), (2, 5), (1, 6)][: seed % 4]
    costs, hand_over = random.uniform(1, 100, remedies), random.uniform(50, 300, faults + len(pairs))
    weights = random.dirichlet(np.ones(faults + len(pairs)), 5) * random.random((5, 1))
    first = [*range(faults), *(one for one, _ in pairs)]
    second = np.concatenate([np.zeros((remedies, faults)), keeps[:, [other for _, other in pairs]]], axis=1)
    leaves = np.stack([keeps[:, first], second], axis=1)
    removal = removal_of(costs, keeps, pairs)
    expected = [cost_one_by_one(costs, leaves, each, hand_over) for each in weights]
    assert removal.costs_of_repair(weights, hand_over) == pytest.approx(expected)
    order = random.permutation(remedies)[:4].astype(np.intp)
    for fault, cost in enumerate(removal.cost_in_order(order, hand_over)[:faults]):
        left = np.cumprod([1.0, *keeps[order, fault]])
        by_hand = float(costs[order] @ left[:-1]) + left[-1] * hand_over[fault]
        assert cost == pytest.approx(by_hand)
