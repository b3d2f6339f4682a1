"""Every check's answers under every state it can be in, as numbers, once for a whole set of trees.

The planner cuts a reading into five bands; here it is cut finely enough to see what the exact densities would tell.
Cutting can only hide a difference, so that what is found to differ does.
"""

from __future__ import annotations

import functools
import itertools
import math
from dataclasses import dataclass

import msgspec
import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge import distributions as dist
from diagnose.knowledge.checker import Book
from diagnose.knowledge.graph import Node
from diagnose.knowledge.model import Check, Trees
from diagnose.reasoning.situation import Array, instrument_error, slip_of

# Where the spread of a state is cut, in standard deviations from its middle.
_REACHES = (0.3, 0.8, 1.4, 2.2)
_MOST_CUTS = 64


@dataclass(frozen=True)
class Answers:
    """One check's answers. ``likelihood`` is [states, cells], rows summing to 1; state 0 is the healthy one.

    ``state_of`` gives the state of each cause that changes the check, and ``typical`` [states] the cell of the most
    probable answer. A cell is a choice, or a stretch of a reading. ``flat`` [cells] is what a slip would show.
    """

    check: Check
    likelihood: Array
    typical: NDArray[np.intp]
    state_of: dict[str, int]
    cells: tuple[str, ...]
    flat: Array

    def overlap(self) -> Array:
        """Σ √(p·q) over the answers, [states, states]: 1 where two states show the same, 0 where never the same."""
        roots = np.sqrt(self.likelihood)
        alike: Array = np.minimum(roots @ roots.T, 1.0)
        return alike

    def state(self, cause: str) -> int:
        return self.state_of.get(cause, 0)


class _Rows(msgspec.Struct, frozen=True):
    """``Answers`` as they are kept: without the check, arrays as lists."""

    likelihood: list[list[float]]
    typical: list[int]
    state_of: dict[str, int]
    cells: tuple[str, ...]
    flat: list[float]

    @staticmethod
    def of(answers: Answers) -> _Rows:
        arrays = (answers.likelihood.tolist(), answers.typical.tolist())
        return _Rows(*arrays, answers.state_of, answers.cells, answers.flat.tolist())

    def answers(self, check: Check) -> Answers:
        likelihood, flat = np.array(self.likelihood), np.array(self.flat)
        return Answers(check, likelihood, np.array(self.typical, dtype=np.intp), self.state_of, self.cells, flat)


@functools.lru_cache(maxsize=4)
def weigh(book: Book) -> dict[str, Answers]:
    """``Answers`` of every check that says what a healthy door shows and that some cause changes."""
    trees = book.trees
    signs: dict[str, dict[str, dist.Distribution]] = {}
    for cause in trees.causes.values():
        for name, sign in cause.signs.items():
            signs.setdefault(name, {})[cause.id] = sign
    found = {}
    for name, changed in signs.items():
        check = trees.checks[name]
        if check.healthy is not None:
            found[name] = _weighed(book, check, check.healthy, changed)
    return found


def _weighed(book: Book, check: Check, healthy: dist.Distribution, changed: dict[str, dist.Distribution]) -> Answers:
    def work() -> _Rows:
        return _Rows.of(_answers(book.trees, check, healthy, changed))

    return book.kept.once("answers", (check, changed, book.trees.costs), _Rows, work).answers(check)


def telling(book: Book) -> dict[tuple[Node, Node], float]:
    """How much each check tells of each cause it bears on: 1 less the overlap with a healthy door, 0 to 1."""
    told: dict[tuple[Node, Node], float] = {}
    for name, answers in weigh(book).items():
        overlap = answers.overlap()[0]
        for cause, state in answers.state_of.items():
            told[("checks", name), ("causes", cause)] = 1 - float(overlap[state])
    return told


def _answers(trees: Trees, check: Check, healthy: dist.Distribution, changed: dict[str, dist.Distribution]) -> Answers:
    distinct: list[dist.Distribution] = [healthy]
    state_of = {}
    for cause, sign in changed.items():
        if sign not in distinct:
            distinct.append(sign)
        state_of[cause] = distinct.index(sign)
    if isinstance(healthy, dist.Shares):
        rows = np.array(
            [[s.shares[answer] for answer in check.answers] for s in distinct if isinstance(s, dist.Shares)]
        )
        cells, flat = check.answers, np.full(len(check.answers), 1 / len(check.answers))
        typical = rows.argmax(axis=1)
    else:
        cuts = _cuts(check, distinct)
        bounds = list(itertools.pairwise([-math.inf, *cuts, math.inf]))
        rows = np.array([[_mass(check, state, low, high) for low, high in bounds] for state in distinct])
        cells = tuple(_cell(low, high, check.unit) for low, high in bounds)
        flat = _flat(check, healthy, bounds)
        typical = np.searchsorted(cuts, [middle_of(state) for state in distinct])
    rows = np.maximum(rows, 0)
    rows = rows / rows.sum(axis=1, keepdims=True)
    slip = slip_of(trees, check)
    return Answers(check, (1 - slip) * rows + slip * flat, typical, state_of, cells, flat)


def _cuts(check: Check, states: list[dist.Distribution]) -> list[float]:
    low, high = check.plausible or (-math.inf, math.inf)
    cuts = {cut for state in states for cut in _own_cuts(state) if low <= cut <= high and math.isfinite(cut)}
    cuts |= {bound for bound in (low, high) if math.isfinite(bound)}
    ordered = sorted(cuts)
    if len(ordered) > _MOST_CUTS:
        kept = np.linspace(0, len(ordered) - 1, _MOST_CUTS).round().astype(int)
        ordered = [ordered[i] for i in kept]
    return ordered


def _own_cuts(state: dist.Distribution) -> list[float]:
    match state:
        case dist.Mixture(parts):
            return [cut for _, part in parts for cut in _own_cuts(part)]
        case dist.Uniform(low, high):
            return [low + share * (high - low) for share in (0, 0.25, 0.5, 0.75, 1)]
        case dist.Outward():
            return [dist.quantile(state, share) for share in (0.02, 0.1, 0.25, 0.5, 0.75)]
        case dist.Normal() | dist.LogNormal():
            return [cut for reach in _REACHES for cut in dist.extent(state, reach)]
        case _:
            return []


def _mass(check: Check, state: dist.Distribution, low: float, high: float) -> float:
    finite = [bound for bound in (low, high) if math.isfinite(bound)]
    middle = sum(finite) / len(finite) if finite else 0.0
    return dist.probability(state, low, high, instrument_error(check, middle))


def _flat(check: Check, healthy: dist.Distribution, bounds: list[tuple[float, float]]) -> Array:
    low, high = check.plausible or dist.extent(healthy, 6)
    widths = np.array([dist.misread(healthy, (low, high), bottom, top) for bottom, top in bounds])
    flat: Array = np.maximum(widths, 1e-9)
    flat /= flat.sum()
    return flat


def middle_of(state: dist.Distribution) -> float:
    """The most probable reading, near enough: the middle of the state, or of the largest part of a mixture."""
    parts = state.parts if isinstance(state, dist.Mixture) else ((1.0, state),)
    return dist.centre(max(parts, key=lambda part: part[0])[1])


def _cell(low: float, high: float, unit: str) -> str:
    suffix = f" {unit}" if unit else ""
    if math.isinf(low):
        return f"below {high:.3g}{suffix}"
    return f"above {low:.3g}{suffix}" if math.isinf(high) else f"{low:.3g} to {high:.3g}{suffix}"
