"""Small repair problems for tests."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from diagnose.reasoning.repair import Action, Change, Problem, Question
from diagnose.reasoning.situation import Array


def perfect_actions(costs: Sequence[float] | Array, changes: Mapping[int, Change] | None = None) -> tuple[Action, ...]:
    """One remedy for each cause, that always works."""
    count = len(costs)
    return tuple(
        Action(f"remedy {k}", float(costs[k]), 1 - np.eye(count)[k], (changes or {}).get(k)) for k in range(count)
    )


def yes_no(name: str, cost: float, yes: Array) -> Question:
    return Question(name, cost, np.stack([yes, 1 - yes]))


def random_problem(
    rng: np.random.Generator,
    causes: int,
    questions: int,
    states: int = 1,
    answers: int = 2,
    hand_over: float = 200.0,
) -> Problem:
    """Remedy costs log-uniform 10–200, question costs 1–20, likelihoods Beta(.5, .5), remedies that may fail."""

    def change() -> Change | None:
        if states == 1 or rng.random() < 0.3:
            return None
        to = int(rng.integers(states))
        cost = np.full(states, float(rng.uniform(2, 15)))
        cost[to] = 0.0
        return Change(np.full(states, to), cost)

    def table() -> Array:
        raw = rng.beta(0.5, 0.5, (answers, causes)) + 1e-6
        shares: Array = raw / raw.sum(axis=0)
        return shares

    asked = tuple(Question(f"q{i}", float(rng.uniform(1, 20)), table(), change()) for i in range(questions))
    costs = np.exp(rng.uniform(np.log(10), np.log(200), causes))
    works = rng.uniform(0.6, 1.0, causes)
    tried = tuple(Action(f"r{k}", float(costs[k]), 1 - works[k] * np.eye(causes)[k], change()) for k in range(causes))
    return Problem(rng.dirichlet(np.ones(causes)), asked, tried, hand_over, states)
