"""How good the decisions are: beside the exact optimum on random models, and on calls simulated from the trees.

Run: ``python benchmarks/quality.py [models] [calls]``. Seeds are fixed and printed; intervals are 95 %.

The random models are drawn as the published comparison of plain policies drew them: 3–6 causes, 1–5 questions,
remedy cost log-uniform 10–200, question cost 1–20, likelihoods Beta(.5, .5). Every policy is followed to the end:
at each node the step is chosen anew, and its cost is added up by a recursion that shares nothing with the planner.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import cache

import numpy as np

from diagnose import load_trees
from diagnose.practice.evaluate import Interval, evaluate, mean, report
from diagnose.reasoning.repair import (
    Action,
    Change,
    Choice,
    Plan,
    Problem,
    Question,
    best_order,
    expected_cost_of_observation,
    expected_cost_of_repair,
)
from diagnose.reasoning.situation import Array

SEED = 20260704
Policy = Callable[[Problem], Choice]


def main(models: int = 200, calls: int = 292) -> None:
    print(f"seed {SEED}")
    plain = [draw(np.random.default_rng([SEED, number])) for number in range(models)]
    table("perfect remedies, no states", plain, bars="bars: mean at most 0.05 %, worst at most 1 %")
    rich = [draw(np.random.default_rng([SEED, 1, number]), rich=True) for number in range(models)]
    table("shared opening costs, remedies that may fail, handing over", rich, bars="bar: mean at most 1 %")
    if calls:
        trees = load_trees()
        print()
        print(report(evaluate(trees, calls, 1, progress=lambda what: print("…", what, file=sys.stderr))))


def table(title: str, problems: list[Problem], bars: str) -> None:
    """Each policy's excess over the optimum, in percent."""
    print(f"\nExcess expected cost over the exact optimum, {len(problems)} random models: {title}")
    best = [optimum(problem) for problem in problems]
    for name, policy in POLICIES.items():
        excess = np.array(
            [100 * (follow(problem, policy) / value - 1) for problem, value in zip(problems, best, strict=True)]
        )
        interval: Interval = mean(list(excess))
        print(
            f"  {name:38s} mean {interval.plain(3):>24s} %  p95 {np.percentile(excess, 95):7.2f}  "
            f"worst {excess.max():7.2f}  optimal {100 * np.mean(excess < 1e-6):5.1f} %"
            + (f"   ({bars})" if policy is the_program else "")
        )


def draw(random: np.random.Generator, rich: bool = False) -> Problem:
    causes, questions = int(random.integers(3, 7)), int(random.integers(1, 6))
    states = 2 if rich else 1

    def change() -> Change | None:
        if not rich or random.random() < 0.4:
            return None
        to = int(random.integers(states))
        cost = np.full(states, float(random.uniform(5, 30)))
        cost[to] = 0.0
        return Change(np.full(states, to), cost)

    asked = []
    for number in range(questions):
        yes = random.beta(0.5, 0.5, causes)
        asked.append(Question(f"q{number}", float(random.uniform(1, 20)), np.stack([yes, 1 - yes]), change()))
    costs = np.exp(random.uniform(np.log(10), np.log(200), causes))
    works = random.uniform(0.6, 1.0, causes) if rich else np.ones(causes)
    tried = [Action(f"r{k}", float(costs[k]), 1 - works[k] * np.eye(causes)[k], change()) for k in range(causes)]
    hand_over = float(random.uniform(100, 300)) if rich else float("inf")
    return Problem(random.dirichlet(np.ones(causes)), tuple(asked), tuple(tried), hand_over, states)


# --- policies: each sees only the problem as it now stands -------------------------------------------------------


def the_program(problem: Problem) -> Choice:
    return Plan(problem).first()


def one_step(problem: Problem) -> Choice:
    """Ask if asking once is cheaper than repairing at once."""
    now = expected_cost_of_repair(problem, best_order(problem))
    asks = [(expected_cost_of_observation(problem, question), question.name) for question in problem.questions]
    if asks and min(asks)[0] < now:
        return Choice("question", min(asks)[1], min(asks)[0])
    return no_questions(problem)


def no_questions(problem: Problem) -> Choice:
    """The remedy with the best chance for its cost."""
    order = best_order(problem)
    return Choice("action", problem.actions[order[0]].name, 0.0) if order else Choice("hand over", "", 0.0)


def most_probable(problem: Problem) -> Choice:
    """The remedy of the likeliest cause, whatever it costs."""
    if not problem.actions:
        return Choice("hand over", "", 0.0)
    fixes = [float((1 - action.leaves) @ problem.probability) for action in problem.actions]
    return Choice("action", problem.actions[int(np.argmax(fixes))].name, 0.0)


def most_information(problem: Problem) -> Choice:
    """Ask what tells most until a cause is 0.95 sure, then repair by chance over cost."""
    if problem.questions and problem.probability.max() < 0.95:
        told = [_information(problem.probability, question.likelihood) for question in problem.questions]
        return Choice("question", problem.questions[int(np.argmax(told))].name, 0.0)
    return no_questions(problem)


POLICIES: dict[str, Policy] = {
    "the program": the_program,
    "ask if it pays, one step": one_step,
    "chance over cost, no questions": no_questions,
    "most information until 0.95, then p/c": most_information,
    "most probable first": most_probable,
}


def _information(probability: Array, likelihood: Array) -> float:
    marginal = likelihood @ probability
    terms = likelihood * probability * np.log2(np.maximum(likelihood, 1e-300) / np.maximum(marginal, 1e-300)[:, None])
    return float(terms.sum())


# --- following a policy, and the optimum, by plain recursion -----------------------------------------------------


def follow(problem: Problem, policy: Policy) -> float:
    """What a policy costs from here on."""
    if not len(problem.actions) and not np.isfinite(problem.hand_over):
        return 0.0
    choice = policy(problem)
    if choice.kind == "hand over":
        return float(problem.hand_over)
    if choice.kind == "question":
        question = next(q for q in problem.questions if q.name == choice.name)
        to, entry = _moved(question.change, problem.start)
        total = question.cost + entry
        for row in question.likelihood:
            chance = float(row @ problem.probability)
            if chance > 1e-12:
                total += chance * follow(
                    _after(problem, problem.probability * row / chance, question, None, to), policy
                )
        return total
    action = next(a for a in problem.actions if a.name == choice.name)
    to, entry = _moved(action.change, problem.start)
    left = problem.probability * action.leaves
    total, stays = action.cost + entry, float(left.sum())
    if stays > 1e-12:
        total += stays * follow(_after(problem, left / stays, None, action, to), policy)
    return total


def _after(problem: Problem, probability: Array, asked: Question | None, tried: Action | None, state: int) -> Problem:
    return Problem(
        probability,
        tuple(q for q in problem.questions if q is not asked),
        tuple(a for a in problem.actions if a is not tried),
        problem.hand_over,
        problem.states,
        state,
    )


def _moved(change: Change | None, state: int) -> tuple[int, float]:
    return (state, 0.0) if change is None else (int(change.to[state]), float(change.cost[state]))


def optimum(problem: Problem) -> float:
    """The least expected cost, by recursion over answers and tries."""

    @cache
    def value(answers: tuple[int, ...], tried: frozenset[int], state: int) -> float:
        weights = problem.probability.copy()
        for question, answer in zip(problem.questions, answers, strict=True):
            if answer >= 0:
                weights = weights * question.likelihood[answer]
        for index in tried:
            weights = weights * problem.actions[index].leaves
        mass = float(weights.sum())
        if mass < 1e-14:
            return 0.0
        options = [float(problem.hand_over) * mass]
        for index, question in enumerate(problem.questions):
            if answers[index] < 0:
                to, entry = _moved(question.change, state)
                later = sum(value((*answers[:index], a, *answers[index + 1 :]), tried, to) for a in (0, 1))
                options.append((question.cost + entry) * mass + later)
        for index, action in enumerate(problem.actions):
            if index not in tried:
                to, entry = _moved(action.change, state)
                options.append((action.cost + entry) * mass + value(answers, tried | {index}, to))
        return min(options)

    return value((-1,) * len(problem.questions), frozenset(), problem.start)


if __name__ == "__main__":
    main(*(int(argument) for argument in sys.argv[1:3]))
