"""Expected cost of repair and of observation, against influence diagrams solved by pyAgrum.

The decision is the whole order in which the remedies are tried; its utility is minus what that order costs when a given
cause is the true one. Without an arc into the decision its best value is −ECR; with the answer of a question seen
first it is −(ECO − what asking costs).
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from diagnose.reasoning.repair import Problem, best_order, expected_cost_of_observation, expected_cost_of_repair
from tests.reasoning.models import perfect_actions, yes_no


def best_values(problems: list[dict[str, Any]]) -> list[float]:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tests.outside.influence"],
        input=json.dumps(problems),
        capture_output=True,
        text=True,
        cwd=Path(__file__).parents[2],
        check=False,
    )
    assert done.returncode == 0, done.stderr
    values: list[float] = json.loads(done.stdout)
    return values


def test_repair_and_observation_cost_what_the_diagrams_say() -> None:
    ours, problems = [], []
    for seed in range(8):
        random = np.random.default_rng(seed)
        count = int(random.integers(3, 5))
        probability, costs = random.dirichlet(np.ones(count)), random.uniform(5, 100, count)
        yes = random.beta(0.5, 0.5, count)
        question = yes_no("Q", float(random.uniform(1, 10)), yes)
        problem = Problem(probability, (question,), perfect_actions(list(costs)))
        written = {"probability": list(probability), "costs": list(costs)}
        problems += [{**written, "yes": None}, {**written, "yes": list(yes)}]
        ours.append(-expected_cost_of_repair(problem, best_order(problem)))
        ours.append(question.cost - expected_cost_of_observation(problem, question))
    assert ours == pytest.approx(best_values(problems), abs=1e-9)


def test_the_worked_numbers_of_one_question() -> None:
    """p .4 .3 .2 .1, c 5 15 1 10, Q yes iff 1 or 2 at cost 2: ECR 12.0, ECO 11.3, by the diagrams too."""
    written = {"probability": [0.4, 0.3, 0.2, 0.1], "costs": [5.0, 15.0, 1.0, 10.0]}
    repair, after_asking = best_values([{**written, "yes": None}, {**written, "yes": [1.0, 1.0, 0.0, 0.0]}])
    assert -repair == pytest.approx(12.0)
    assert 2 - after_asking == pytest.approx(11.3)
