"""How long the visit will take: many short visits played through, each with a cause drawn as likely as it is.

A visit looks for the cause by the check that tells most for its minutes until one remedy is likely enough to end it,
does that, and goes on where it did not help; then come the door's closing proofs. It is rougher than the plan made at
the door, and quick: its minutes are compared with whole simulated calls in ``benchmarks/screening.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.reasoning.moving import Whereabouts, go_through
from diagnose.reasoning.plan import PACE, Planner, Standing, closing_minutes, proofs_needed
from diagnose.reasoning.situation import Array
from diagnose.reasoning.walk import reachable

_VISITS = 200
# From this chance to end it a remedy is done rather than another check; below these, neither is worth doing any more.
_SURE = 0.65
_LEAST_CHANCE, _LEAST_BITS = 0.02, 0.03
_MOST_STEPS = 60


@dataclass(frozen=True)
class Minutes:
    """Minutes on site, travel not counted: of such visits one in ten takes less than ``least``, half no longer than
    ``median``, and eight in ten no longer than ``most``."""

    least: float
    median: float
    most: float


def minutes_on_site(standing: Standing) -> Minutes:
    """The minutes of a visit that begins at ``standing``, its closing proofs included.

    The same standing gives the same minutes.
    """
    visits = _Visits(standing)
    random = np.random.default_rng(0)
    times = [visits.play(random) for _ in range(_VISITS)]
    least, median, most = np.quantile(times, [0.1, 0.5, 0.8])
    return Minutes(float(least), float(median), float(most))


class _Visits:
    """All that the visits of one call have in common."""

    def __init__(self, standing: Standing) -> None:
        situation, self._trees = standing.situation, standing.situation.trees
        present = standing.belief.causes()
        self._belief: Array = present / present.sum()
        self._start = Whereabouts(standing.energy, frozenset(standing.fetched))
        # Whoever the proofs need comes with the crew.
        proofs = proofs_needed(self._trees, situation.facts, ())
        self._closing = closing_minutes(self._trees, proofs, situation.facts, self._trees.people)
        ways = reachable(situation, standing.known, standing.people, relaxed=True)
        checks = self._trees.checks
        self._look_steps = [[checks[step] for step in way.steps if checks[step].kind != "computed"] for way in ways]
        self._likelihood = _padded([situation.tables[way.goal].likelihood for way in ways], situation.count)
        self._own_bits: Array = _times_log2(self._likelihood).sum(axis=1)
        repairs = Planner(standing).remedies
        self._repair_steps = [list(repair.steps) for repair in repairs]
        removed = [1 - repair.leaves[0][: situation.count] for repair in repairs]
        self._removes: Array = np.array(removed).reshape(len(repairs), situation.count)
        self._costs: dict[Whereabouts, tuple[Array, Array]] = {}
        # What is done next, by all that was done and found: most visits begin alike.
        self._next: dict[tuple[tuple[int, int], ...], tuple[int, int]] = {}

    def play(self, random: np.random.Generator) -> float:
        """The minutes of one visit."""
        cause = _drawn(random, self._belief)
        belief, here, minutes = self._belief, self._start, 0.0
        # What was done: a repair with −1, a look with its answer.
        done: tuple[tuple[int, int], ...] = ()
        for _ in range(_MOST_STEPS):
            if done not in self._next:
                self._next[done] = self._choose(belief, here, done)
            repair, look = self._next[done]
            if repair >= 0:
                spent, here = go_through(self._trees, here, self._repair_steps[repair])
                minutes += spent
                if random.random() < self._removes[repair, cause]:
                    return self._ended(minutes, random)
                belief, done = belief * (1 - self._removes[repair]), (*done, (repair, -1))
            elif look >= 0:
                spent, here = go_through(self._trees, here, self._look_steps[look])
                minutes += spent
                answer = _drawn(random, self._likelihood[look, :, cause])
                belief, done = belief * self._likelihood[look, answer], (*done, (look, answer))
            else:
                break
            belief = belief / belief.sum()
        return self._ended(minutes, random) + self._trees.costs.hand_over

    def _choose(self, belief: Array, here: Whereabouts, done: tuple[tuple[int, int], ...]) -> tuple[int, int]:
        """The repair or the look that comes next, by its place; −1 for the other, and for both where neither is worth
        doing."""
        look_costs, repair_costs = self._costs_from(here)
        fixes, bits = self._removes @ belief, self._bits(belief)
        fixes[[number for number, answer in done if answer < 0]] = 0.0
        bits[[number for number, answer in done if answer >= 0]] = 0.0
        repair = int(np.argmax(fixes / repair_costs)) if len(fixes) else -1
        look = int(np.argmax(bits / look_costs)) if len(bits) else -1
        worth_a_look = look >= 0 and bits[look] >= _LEAST_BITS
        if repair >= 0 and fixes[repair] >= (_LEAST_CHANCE if not worth_a_look else _SURE):
            return repair, -1
        return -1, look if worth_a_look else -1

    def _ended(self, minutes: float, random: np.random.Generator) -> float:
        return float((minutes + self._closing) * PACE ** random.standard_normal())

    def _bits(self, belief: Array) -> Array:
        """What each check tells about the cause: Σ p·L·log₂L − Σ m·log₂m, m = Σ p·L."""
        marginal = self._likelihood.reshape(-1, len(belief)) @ belief
        told = _times_log2(marginal).reshape(self._likelihood.shape[:2]).sum(axis=1)
        bits: Array = self._own_bits @ belief - told
        return bits

    def _costs_from(self, here: Whereabouts) -> tuple[Array, Array]:
        if here not in self._costs:
            self._costs[here] = (
                np.array([max(go_through(self._trees, here, steps)[0], 0.25) for steps in self._look_steps]),
                np.array([max(go_through(self._trees, here, steps)[0], 0.25) for steps in self._repair_steps]),
            )
        return self._costs[here]


def _drawn(random: np.random.Generator, chances: Array) -> int:
    """One of them by its place, each as often as it is likely."""
    reached = chances.cumsum()
    return int(reached.searchsorted(random.random() * reached[-1], side="right"))


def _padded(tables: Sequence[Array], causes: int) -> Array:
    """Tables of different height as one array, [tables, answers, causes], filled up with answers nobody gives."""
    padded = np.zeros((len(tables), max((len(table) for table in tables), default=1), causes))
    for index, table in enumerate(tables):
        padded[index, : len(table)] = table
    return padded


def _times_log2(values: Array) -> Array:
    """x·log₂x, 0 at 0."""
    result: Array = values * np.log2(np.maximum(values, 1e-300))
    return result
