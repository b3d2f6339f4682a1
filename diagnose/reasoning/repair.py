"""Test or repair: the cheapest way to a proven door, as a problem of arrays and its exact optimum.

Expected cost of repair after Heckerman, Breese & Rommelse, *Decision-theoretic troubleshooting* (1995); the
ordering of remedies by probability over cost after Kadane & Simon, and Kalagnanam & Henrion (1990); remedies
that may fail after Jensen et al. (2001). The optimum is dynamic programming over (what was answered, what was
tried, the state one is in), each layer computed as whole arrays.

All costs are on one scale, minutes' worth. A hypothesis is a set of faults; a remedy is tried at most once, and
is followed by its proof, whose cost is part of the remedy's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from diagnose.reasoning.situation import Array, Indices

# A way this unlikely costs nothing either way: what is left of a hypothesis after a perfect remedy.
_NO_MASS = 1e-15


@dataclass(frozen=True)
class Change:
    """What a step does to the state one works in (power, covers, ladder): for each state before, the state after
    (``to`` [states]) and what it costs to get there (``cost`` [states])."""

    to: Indices
    cost: Array


@dataclass(frozen=True)
class Question:
    """A check to be planned. ``likelihood`` is P(answer | hypothesis), [answers, hypotheses]."""

    name: str
    cost: float
    likelihood: Array
    change: Change | None = None
    # The time in it, where the cost holds more than time.
    minutes: float | None = None


@dataclass(frozen=True)
class Action:
    """A remedy to be planned, its proof included.

    ``leaves`` is P(hypothesis is not removed): [hypotheses], or [2, hypotheses] where some are pairs, with a row
    for each of the two faults; a single fault's second row is 0.
    """

    name: str
    cost: float
    leaves: Array
    change: Change | None = None
    minutes: float | None = None


@dataclass(frozen=True)
class Problem:
    """A repair to be planned. ``probability`` is [hypotheses]; ``states`` counts the states one may work in.

    ``hand_over`` is what giving up to somebody else costs: one number, or one for each hypothesis, since whoever
    takes over still has the repair to do.
    """

    probability: Array
    questions: tuple[Question, ...]
    actions: tuple[Action, ...]
    hand_over: float | Array = float("inf")
    states: int = 1
    start: int = 0
    # Looking further than these questions: its cost for each bit still unknown, and the cost of repair of each
    # hypothesis once it is known [hypotheses]. Infinite where there is nothing further to look at.
    per_bit: float = float("inf")
    once_known: Array | None = None
    # The time in the last two, and in handing over, where those costs hold more than time.
    minutes_per_bit: float | None = None
    minutes_once_known: Array | None = None
    minutes_hand_over: float | Array | None = None


@dataclass(frozen=True)
class Choice:
    """The best first step of a plan, and its expected cost. ``name`` is ``""`` to hand over."""

    kind: str  # "question", "action", "look further" or "hand over"
    name: str
    expected_cost: float


class Plan:
    """The exact optimum of a ``Problem``: a value for every situation that can arise, and the step to take there."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self._solve()

    def first(self) -> Choice:
        """What to do now."""
        return self._choice(self._asked_radix.start, 0, self.problem.start)

    def expected_cost(self) -> float:
        return float(self._value[0, self.problem.start, 0])

    def outcomes(self) -> tuple[Array, Array]:
        """How long following the plan takes: (minutes, chances), one entry for each way it may go."""
        ends: list[tuple[Array, Array]] = []
        self._walk(0, 0, self.problem.start, 0.0, ends)
        minutes = np.concatenate([spent for spent, _ in ends])
        chances = np.concatenate([chance for _, chance in ends])
        return minutes, chances / chances.sum()

    def cost_of_first(self, kind: str, name: str) -> float:
        """The expected cost when the first step is this one and all later steps are best."""
        options = self._options(0, 0, self.problem.start)
        return options[(kind, name)]

    def costs_of_first(self) -> dict[tuple[str, str], float]:
        return self._options(0, 0, self.problem.start)

    def _solve(self) -> None:
        problem = self.problem
        sizes = [question.likelihood.shape[0] + 1 for question in problem.questions]
        self._asked_radix = _Radix(sizes)
        cells, tried_sets = self._asked_radix.size, 1 << len(problem.actions)
        stay = Change(np.arange(problem.states), np.zeros(problem.states))
        self._question_change = [question.change or stay for question in problem.questions]
        self._action_change = [action.change or stay for action in problem.actions]
        self._weights, self._unfixed = self._tables()
        # P(answers so far, and not yet fixed), [tried, cells].
        self._mass = self._unfixed @ self._weights.T
        stop = np.full(self._mass.shape, np.inf)
        self._given_up, self._further = self._give_up(), self._look_further()
        for cost in (self._given_up, self._further):
            if cost is not None:
                np.minimum(stop, cost, out=stop)
        stop[self._mass <= _NO_MASS] = 0.0
        # The cells come last: what is taken from one set of remedies to the next is whole rows of them.
        self._value = np.empty((tried_sets, problem.states, cells))
        asks = self._asks(sizes)
        counted = np.array([tried.bit_count() for tried in range(tried_sets)])
        for n in range(len(problem.actions), -1, -1):
            tried = np.flatnonzero(counted == n)
            best = np.repeat(stop[tried, None], problem.states, axis=1)
            self._try(best, tried)
            self._ask(best, tried, asks)
            self._value[tried] = best

    def _tables(self) -> tuple[Array, Array]:
        """P(hypothesis, answers so far) [cells, hypotheses], and P(not yet fixed | hypothesis) [tried, hypotheses]."""
        problem = self.problem
        likelihood = np.ones((1, len(problem.probability)))
        for question in problem.questions:
            rows = np.vstack([np.ones(question.likelihood.shape[1]), question.likelihood])
            likelihood = (likelihood[:, None, :] * rows[None, :, :]).reshape(-1, len(problem.probability))
        stays = np.ones((1, 2, len(problem.probability)))
        for action in problem.actions:
            parts = _parts(action)
            stays = np.concatenate([stays, stays * parts[None]], axis=0)
        # Two faults are both gone only if each is; for a single fault the second part never stays.
        unfixed = 1 - (1 - stays[:, 0]) * (1 - stays[:, 1])
        return likelihood * problem.probability, unfixed

    def _give_up(self) -> Array | None:
        """What handing over costs, [tried, cells], weighted like all values; ``None`` where it is not possible."""
        hand_over = np.asarray(self.problem.hand_over)
        if not np.isfinite(hand_over).all():
            return None
        cost: Array = (self._unfixed * hand_over) @ self._weights.T
        return cost

    def _look_further(self) -> Array | None:
        """What going on with checks outside the plan costs, [tried, cells]: an estimate, weighted like all values.

        The repair once it is known what is wrong, and the bits still unknown at what a bit costs.
        """
        problem = self.problem
        if problem.once_known is None or not np.isfinite(problem.per_bit):
            return None
        repair = (self._unfixed * problem.once_known) @ self._weights.T
        # Σ −w·ln(w/W) = W·ln W − Σ w·ln w, with w = weight × unfixed.
        own = self._unfixed @ _times_log(self._weights).T + _times_log(self._unfixed) @ self._weights.T
        nats = np.maximum(_times_log(self._mass) - own, 0.0)
        cost: Array = repair + problem.per_bit * nats / np.log(2.0)
        return cost

    def _asks(self, sizes: Sequence[int]) -> list[tuple[int, Indices, list[Indices]]]:
        """Each question with cells in which it is open and those that its answers lead to; last come the cells with the
        fewest answers, which hang on those with more."""
        radix, counted, found = self._asked_radix, self._asked_radix.counted(), []
        for n in range(len(sizes) - 1, -1, -1):
            here = np.flatnonzero(counted == n)
            for index, size in enumerate(sizes):
                cells = here[radix.digit(here, index) == 0]
                found.append((index, cells, [cells + radix.weights[index] * answer for answer in range(1, size)]))
        return found

    def _ask(self, best: Array, tried: Indices, asks: list[tuple[int, Indices, list[Indices]]]) -> None:
        """Lower ``best`` [tried, states, cells] to what asking on costs."""
        for index, cells, answered in asks:
            question, change = self.problem.questions[index], self._question_change[index]
            option = self._mass[tried[:, None], cells][:, None] * (question.cost + change.cost)[:, None]
            for then in answered:
                option += best[:, change.to[:, None], then]
            best[:, :, cells] = np.minimum(best[:, :, cells], option)

    def _try(self, best: Array, tried: Indices) -> None:
        """Lower ``best`` [tried, states, cells] to what trying on costs."""
        for index, action in enumerate(self.problem.actions):
            fresh = np.flatnonzero(tried & 1 << index == 0)
            change, now = self._action_change[index], tried[fresh]
            option = self._value[(now | 1 << index)[:, None], change.to]
            option += self._mass[now, None] * (action.cost + change.cost)[:, None]
            best[fresh] = np.minimum(best[fresh], option)

    def _options(self, cell: int, tried: int, state: int) -> dict[tuple[str, str], float]:
        """Unnormalised cost of each first step from here."""
        mass = float(self._mass[tried, cell])
        options = {}
        for index, question in enumerate(self.problem.questions):
            if self._asked_radix.digit(np.array([cell]), index)[0]:
                continue
            step, change = self._asked_radix.weights[index], self._question_change[index]
            future = sum(
                float(self._value[tried, change.to[state], cell + step * (answer + 1)])
                for answer in range(question.likelihood.shape[0])
            )
            options[("question", question.name)] = mass * (question.cost + float(change.cost[state])) + future
        for index, action in enumerate(self.problem.actions):
            bit = 1 << index
            if tried & bit:
                continue
            change = self._action_change[index]
            future = float(self._value[tried | bit, change.to[state], cell])
            options[("action", action.name)] = mass * (action.cost + float(change.cost[state])) + future
        if self._further is not None:
            options[("look further", "")] = float(self._further[tried, cell])
        if self._given_up is not None:
            options[("hand over", "")] = float(self._given_up[tried, cell])
        return options

    def _choice(self, cell: int, tried: int, state: int) -> Choice:
        options = self._options(cell, tried, state)
        if not options:
            return Choice("hand over", "", float("inf"))
        # Ties go to the earlier in the problem, so that the same input gives the same step.
        (kind, name), cost = min(options.items(), key=lambda item: item[1])
        mass = float(self._mass[tried, cell])
        return Choice(kind, name, cost / mass if mass > 0 else 0.0)

    def _walk(self, cell: int, tried: int, state: int, spent: float, ends: list[tuple[Array, Array]]) -> None:
        mass = float(self._mass[tried, cell])
        choice = self._choice(cell, tried, state)
        # Ways less likely than one in a thousand do not move an interval of 80 %: they are not followed.
        if choice.kind in ("look further", "hand over") or mass < 1e-3 * float(self._mass[0, 0]):
            chances = self._weights[cell] * self._unfixed[tried]
            ends.append((spent + self._beyond(choice, chances), chances))
        elif choice.kind == "question":
            index = next(i for i, q in enumerate(self.problem.questions) if q.name == choice.name)
            question, change = self.problem.questions[index], self._question_change[index]
            spent += _minutes(question) + float(change.cost[state])
            step = self._asked_radix.weights[index]
            for answer in range(question.likelihood.shape[0]):
                self._walk(cell + step * (answer + 1), tried, int(change.to[state]), spent, ends)
        else:
            index = next(i for i, a in enumerate(self.problem.actions) if a.name == choice.name)
            action, change = self.problem.actions[index], self._action_change[index]
            spent += _minutes(action) + float(change.cost[state])
            left = float(self._mass[tried | 1 << index, cell])
            if mass - left > 0:
                ends.append((np.array([spent]), np.array([mass - left])))
            if left > 0:
                self._walk(cell, tried | 1 << index, int(change.to[state]), spent, ends)

    def _beyond(self, choice: Choice, chances: Array) -> Array:
        """Minutes that each hypothesis is estimated to take where the plan is followed no further: [hypotheses]."""
        problem = self.problem
        if choice.kind == "hand over":
            given_up = problem.hand_over if problem.minutes_hand_over is None else problem.minutes_hand_over
            return np.broadcast_to(np.asarray(given_up, dtype=float), chances.shape)
        if problem.once_known is None:
            return np.full(chances.shape, choice.expected_cost)
        known = problem.once_known if problem.minutes_once_known is None else problem.minutes_once_known
        per_bit = problem.per_bit if problem.minutes_per_bit is None else problem.minutes_per_bit
        if not np.isfinite(per_bit):
            return known
        # The less likely a hypothesis is, the longer it is searched for; on the mean it is the entropy.
        total = chances.sum()
        with np.errstate(divide="ignore"):
            bits = np.where(chances > 0, -np.log2(chances / total), 0.0) if total > 0 else np.zeros_like(chances)
        beyond: Array = known + per_bit * bits
        return beyond


class _Radix:
    """Cells of a mixed-radix number: one digit for each question, 0 unasked, otherwise 1 + the answer."""

    start = 0

    def __init__(self, sizes: list[int]) -> None:
        self.sizes = sizes
        self.weights: list[int] = []
        size = 1
        for base in reversed(sizes):
            self.weights.insert(0, size)
            size *= base
        self.size = size

    def digit(self, cells: Indices, index: int) -> Indices:
        return (cells // self.weights[index]) % self.sizes[index]

    def counted(self) -> Indices:
        """How many questions are answered in each cell."""
        cells = np.arange(self.size)
        answered = np.zeros(self.size, dtype=np.intp)
        for index in range(len(self.sizes)):
            answered += self.digit(cells, index) > 0
        return answered


def _parts(action: Action) -> Array:
    """P(stays) of a hypothesis's first and second fault: [2, hypotheses]."""
    if action.leaves.ndim == 2:
        return action.leaves
    return np.stack([action.leaves, np.zeros_like(action.leaves)])


def _times_log(values: Array) -> Array:
    """x·ln x, 0 at 0."""
    result: Array = np.where(values > 0, values * np.log(np.maximum(values, 1e-300)), 0.0)
    return result


def _minutes(step: Question | Action) -> float:
    return step.cost if step.minutes is None else step.minutes


def expected_cost_of_repair(problem: Problem, order: list[int]) -> float:
    """Trying the problem's actions in ``order``, each followed by its proof, until fixed or handed over.

    States and questions are left out of it: Σ cᵢ · P(not fixed before i), and the cost to hand over times
    P(never fixed) where that is finite.
    """
    stays = np.ones((2, len(problem.probability)))
    total = 0.0
    for index in order:
        unfixed = 1 - (1 - stays[0]) * (1 - stays[1])
        total += problem.actions[index].cost * float(problem.probability @ unfixed)
        stays = stays * _parts(problem.actions[index])
    left = problem.probability * (1 - (1 - stays[0]) * (1 - stays[1]))
    if left.sum() > 1e-12 and np.isfinite(problem.hand_over).all():
        total += float(np.sum(left * problem.hand_over))
    return total


def best_order(problem: Problem) -> list[int]:
    """Actions by what they fix over what they cost, updated after each failure: greedy on p·a/c.

    Handing over is part of it: the order stops where handing over is cheaper than going on.
    """
    stays = np.ones((2, len(problem.probability)))
    left = list(range(len(problem.actions)))
    order: list[int] = []
    while left:
        unfixed = problem.probability @ (1 - (1 - stays[0]) * (1 - stays[1]))

        def gain(index: int, stays: Array = stays, unfixed: float = float(unfixed)) -> float:
            after = stays * _parts(problem.actions[index])
            fixed = unfixed - float(problem.probability @ (1 - (1 - after[0]) * (1 - after[1])))
            cost = problem.actions[index].cost
            return fixed / cost if cost > 0 else float("inf")

        index = max(left, key=gain)
        left.remove(index)
        order.append(index)
        stays = stays * _parts(problem.actions[index])
    if not np.isfinite(problem.hand_over).all():
        return order
    prefixes = [order[:length] for length in range(len(order) + 1)]
    return min(prefixes, key=lambda prefix: expected_cost_of_repair(problem, prefix))


# Numbers held at once while very many beliefs are weighed against very many remedies.
_MOST_AT_ONCE = 2_000_000


@dataclass(frozen=True, eq=False)
class Remedies:
    """Remedies to be weighed against many beliefs at once, kept as what each of them removes.

    ``costs`` is [remedies]. Entry by entry, the remedies in order, ``remedy`` removes ``fault`` with ``chance``; no
    remedy is without one. A hypothesis is a fault, or a pair of them, ``first`` and ``second`` [hypotheses], the latter
    -1 for a single one; the singles come first, in the order of the faults.
    """

    costs: Array
    remedy: Indices
    fault: Indices
    chance: Array
    first: Indices
    second: Indices

    @cached_property
    def singles(self) -> int:
        return int((self.second < 0).sum())

    @cached_property
    def _fixing(self) -> tuple[Indices, Indices, Array]:
        """Which remedy ends which hypothesis alone, with what chance: entries, the remedies in order."""
        of: dict[int, dict[int, float]] = {}
        paired = {int(fault) for fault in (*self.first[self.singles :], *self.second[self.singles :])}
        for remedy, fault, chance in zip(self.remedy, self.fault, self.chance, strict=True):
            if int(fault) in paired:
                of.setdefault(int(fault), {})[int(remedy)] = float(chance)
        both = [
            (remedy, pair, of[one][remedy] * of[other][remedy])
            for pair in range(self.singles, len(self.first))
            for one, other in [(int(self.first[pair]), int(self.second[pair]))]
            for remedy in of.get(one, {}).keys() & of.get(other, {}).keys()
        ]
        remedies = np.concatenate([self.remedy, np.array([r for r, _, _ in both], dtype=np.intp)])
        hypotheses = np.concatenate([self.fault, np.array([h for _, h, _ in both], dtype=np.intp)])
        chances = np.concatenate([self.chance, np.array([c for _, _, c in both], dtype=float)])
        order = np.lexsort((hypotheses, remedies))
        return remedies[order], hypotheses[order], chances[order]

    @cached_property
    def _by_fault(self) -> tuple[Indices, Indices, Array]:
        """What some remedy removes, [f]; its remedies [f, m], padded with one that is never tried; and the chance that
        each leaves it, [f, m].

        That is each fault, and after the faults, at ``singles`` + its number, each pair, which is left as long as both
        its faults are.
        """
        of: dict[int, list[int]] = {}
        for place, fault in enumerate(self.fault):
            of.setdefault(int(fault), []).append(place)
        entries, whole = [np.arange(len(self.fault))], [self.fault]
        for pair in range(self.singles, len(self.first)):
            own = [*of.get(int(self.first[pair]), ()), *of.get(int(self.second[pair]), ())]
            entries.append(np.array(own, dtype=np.intp))
            whole.append(np.full(len(own), pair))
        entry, removed = np.concatenate(entries), np.concatenate(whole)
        order = np.lexsort((self.remedy[entry], removed))
        what, starts, counts = np.unique(removed[order], return_index=True, return_counts=True)
        remedies = np.full((len(what), int(counts.max(initial=1))), len(self.costs))
        keeps = np.ones(remedies.shape)
        row = np.repeat(np.arange(len(what)), counts)
        column = np.arange(len(order)) - np.repeat(starts, counts)
        remedies[row, column] = self.remedy[entry][order]
        keeps[row, column] = 1 - self.chance[entry][order]
        return what, remedies, keeps

    def fixes(self, weights: Array) -> Array:
        """The weight that each remedy ends, [beliefs, remedies], from ``weights`` [beliefs, hypotheses]."""
        remedy, hypothesis, chance = self._fixing
        starts = np.flatnonzero(np.diff(remedy, prepend=-1))
        fixed: Array = np.add.reduceat(weights[:, hypothesis] * chance, starts, axis=1)
        return fixed

    def costs_of_repair(self, weights: Array, hand_over: Array) -> Array:
        """An upper bound of the cost of repair for each belief, fast: [beliefs].

        Remedies are ordered once by p·a/c and the order is cut where handing over is better. ``weights`` is [beliefs,
        hypotheses], ``hand_over`` [hypotheses]; a cost is weighted by the sum of its belief.
        """
        if not len(self.costs):
            cost: Array = weights @ hand_over
            return cost
        at_once = max(_MOST_AT_ONCE // (len(self.costs) + self._by_fault[1].size), 1)
        parts = [self._costs(weights[at : at + at_once], hand_over) for at in range(0, len(weights), at_once)]
        return np.concatenate([np.zeros(0), *parts])

    def _costs(self, weights: Array, hand_over: Array) -> Array:
        beliefs, remedies = len(weights), len(self.costs)
        given_up = weights * hand_over
        order = np.argsort(-self.fixes(weights) / self.costs, axis=1, kind="stable")
        rank = np.empty((beliefs, remedies + 1), dtype=np.intp)
        np.put_along_axis(rank, order, np.arange(remedies)[None, :], axis=1)
        rank[:, remedies] = remedies
        what, place, removed = self._removed(rank)
        left = [self._left(each, what, place, removed) for each in (weights, given_up)]
        spent = np.cumsum(self.costs[order] * left[0][:, :-1], axis=1)
        cost: Array = np.minimum(given_up.sum(axis=1), (spent + left[1][:, 1:]).min(axis=1))
        return cost

    def _removed(self, rank: Indices) -> tuple[Indices, Indices, Array]:
        """When the remedies of each come, and the share of it that each of them removes: [beliefs, f, m]."""
        what, remedies, keeps = self._by_fault
        place: Indices = rank[:, remedies]
        keep = np.broadcast_to(keeps, place.shape)
        if place.shape[2] > 1:
            order = np.argsort(place, axis=2, kind="stable")
            place, keep = np.take_along_axis(place, order, axis=2), np.take_along_axis(keep, order, axis=2)
        stays = np.cumprod(keep, axis=2)
        before = np.concatenate([np.ones_like(stays[:, :, :1]), stays[:, :, :-1]], axis=2)
        return what, place, before - stays

    def _left(self, weights: Array, what: Indices, place: Indices, removed: Array) -> Array:
        """The weight not yet ended after each number of remedies, [beliefs, remedies + 1]."""
        beliefs, remedies, each = len(weights), len(self.costs), weights
        if len(self.first) > self.singles:
            # One of a pair is left: the first is, or the second is, less both are.
            each = weights.copy()
            each[:, self.singles :] *= -1
            for pair in range(self.singles, len(self.first)):
                each[:, self.first[pair]] += weights[:, pair]
                each[:, self.second[pair]] += weights[:, pair]
        ended = (removed * each[:, what][:, :, None]).ravel()
        cell = (place + (np.arange(beliefs) * (remedies + 1))[:, None, None]).ravel()
        by_rank = np.bincount(cell, ended, beliefs * (remedies + 1)).reshape(beliefs, remedies + 1)[:, :remedies]
        total = weights.sum(axis=1, keepdims=True)
        left: Array = np.concatenate([total, np.maximum(total - np.cumsum(by_rank, axis=1), 0.0)], axis=1)
        return left

    def cost_in_order(self, order: Indices, hand_over: Array) -> Array:
        """What each hypothesis costs when these remedies are tried in this order, then handed over: [hypotheses].

        Of a pair it is the sum of its faults' costs, a bound.
        """
        rank = np.full((1, len(self.costs) + 1), len(order), dtype=np.intp)
        rank[0, order] = np.arange(len(order))
        what, place, removed = self._removed(rank)
        alone = int(np.searchsorted(what, self.singles))
        faults, when = what[:alone], place[0, :alone]
        share = np.where(when < len(order), removed[0, :alone], 0.0)
        spent = np.append(np.cumsum(self.costs[order]), 0.0)
        total = float(self.costs[order].sum())
        each = total + hand_over[: self.singles]
        saved = total - spent[when] + hand_over[faults][:, None]
        each[faults] = total + hand_over[faults] - (share * saved).sum(axis=1)
        pairs = each[self.first[self.singles :]] + each[self.second[self.singles :]]
        return np.concatenate([each, pairs])


def expected_cost_of_observation(problem: Problem, question: Question) -> float:
    """Asking once, then repairing without further questions: c_Q + Σ P(answer) · ECR(answer)."""
    total = question.cost
    for row in question.likelihood:
        chance = float(problem.probability @ row)
        if chance <= 0:
            continue
        after = Problem(problem.probability * row / chance, (), problem.actions, problem.hand_over)
        total += chance * expected_cost_of_repair(after, best_order(after))
    return total
