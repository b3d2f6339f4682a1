"""Where the boxes of a decision graph stand: a column for each kind, left to right, neighbours near each other.

Checks and causes are put in order by reciprocal averaging (Hill, *Reciprocal averaging: an eigenvector method of
ordination*, 1973), which puts checks that bear on the same causes beside each other; the other columns follow the
mean place of what they are tied to.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from diagnose.knowledge.graph import KINDS, Node

if TYPE_CHECKING:
    import networkx

    from diagnose.reasoning.situation import Array

LINE = 15.0
_PAD = 7.0
_BETWEEN = 8.0
_CHARACTER = 6.6
# Widths of the columns, and of the room behind each for its lines.
WIDTHS = {"symptoms": 200.0, "functions": 260.0, "checks": 330.0, "causes": 240.0, "remedies": 260.0, "proofs": 250.0}
_ROOM = {"symptoms": 190.0, "functions": 190.0, "checks": 230.0, "causes": 130.0, "remedies": 130.0, "proofs": 0.0}
_MARGIN = 30.0
TOP = 110.0


@dataclass(frozen=True)
class Box:
    """A node's place, its upper left corner and size in pixels, and its lines of text."""

    node: Node
    left: float
    top: float
    width: float
    height: float
    lines: tuple[str, ...]

    @property
    def middle(self) -> float:
        return self.top + self.height / 2

    @property
    def right(self) -> float:
        return self.left + self.width


@dataclass(frozen=True)
class Layout:
    boxes: Mapping[Node, Box]
    width: float
    height: float


def lay_out(graph: networkx.MultiDiGraph, weights: Mapping[tuple[Node, Node], float] | None = None) -> Layout:
    """Place every node. ``weights`` say how strongly a check bears on a cause; an edge without one counts 1."""
    columns = {kind: [node for node in graph if node[0] == kind] for kind in KINDS}
    # Where no checks are drawn, symptoms stand in order of the causes they raise.
    tied = "checks" if columns["checks"] else "symptoms"
    columns[tied], columns["causes"] = _ordinate(graph, columns[tied], columns["causes"], weights or {})
    boxes: dict[Node, Box] = {}
    left = _MARGIN
    lefts: dict[str, float] = {}
    for kind in KINDS:
        if columns[kind]:
            lefts[kind] = left
            left += WIDTHS[kind] + _ROOM[kind]
    # The longest column stands close; the others take the mean height of their neighbours in it.
    # A chain keeps its order, whatever else there is.
    longest = (
        "functions"
        if columns["functions"]
        else max((kind for kind in KINDS if columns[kind]), key=lambda kind: len(columns[kind]), default="checks")
    )
    order = sorted(lefts, key=lambda kind: abs(KINDS.index(kind) - KINDS.index(longest)))
    for kind in order:
        if kind == longest:
            middles = _stacked([_height(graph, node) for node in columns[kind]])
        else:
            columns[kind].sort(key=lambda node: _wanted(graph, node, boxes))
            middles = _spread(
                [_wanted(graph, node, boxes) for node in columns[kind]], [_height(graph, n) for n in columns[kind]]
            )
        for node, middle in zip(columns[kind], middles, strict=True):
            height, lines = _height(graph, node), _lines(graph, node)
            boxes[node] = Box(node, lefts[kind], middle - height / 2, WIDTHS[kind], height, lines)
    lowest = min((box.top for box in boxes.values()), default=0.0)
    shift = TOP - lowest
    placed = {
        node: Box(node, box.left, box.top + shift, box.width, box.height, box.lines) for node, box in boxes.items()
    }
    bottom = max((box.top + box.height for box in placed.values()), default=TOP)
    right = max((box.right for box in placed.values()), default=_MARGIN)
    return Layout(placed, max(right + _MARGIN, 900.0), bottom + _MARGIN)


def _ordinate(
    graph: networkx.MultiDiGraph,
    checks: Sequence[Node],
    causes: Sequence[Node],
    weights: Mapping[tuple[Node, Node], float],
) -> tuple[list[Node], list[Node]]:
    """Checks (or symptoms) and causes so ordered that what bears on the same causes stands together."""
    row = {node: i for i, node in enumerate(checks)}
    column = {node: i for i, node in enumerate(causes)}
    table = np.zeros((len(checks), len(causes)))
    for start, end, tie in graph.edges(data=True):
        if tie["says"] in ("bears on", "raises") and start in row and end in column:
            table[row[start], column[end]] = 0.15 + weights.get((start, end), 1.0)
        elif tie["says"] in ("before", "feeds", "opens", "closes") and start in row and end in row:
            # What leads to a check stands where that check stands.
            table[row[start]] += 0.1 * table[row[end]]
    if min(table.shape, default=0) < 2:
        return list(checks), list(causes)
    table += 1e-6
    scaled = table / np.sqrt(table.sum(axis=1, keepdims=True) * table.sum(axis=0, keepdims=True))
    left, _, right = np.linalg.svd(scaled, full_matrices=False)
    # The first pair of vectors is the sizes; the second puts likes beside likes. Its sign is made the same each time.
    of_checks, of_causes = left[:, 1] / left[:, 0], right[1] / right[0]
    if of_causes[int(np.argmax(np.abs(of_causes)))] < 0:
        of_checks, of_causes = -of_checks, -of_causes
    causes_in_order = [causes[i] for i in np.argsort(of_causes, kind="stable")]
    place = {node: i for i, node in enumerate(causes_in_order)}
    mean = {node: _mean_place(table[row[node]], causes, place) for node in checks}
    spread = dict(zip(checks, of_checks, strict=True))
    return sorted(checks, key=lambda node: (round(mean[node], 2), spread[node], node)), causes_in_order


def _mean_place(strengths: Array, causes: Sequence[Node], place: Mapping[Node, int]) -> float:
    places = np.array([place[cause] for cause in causes], dtype=float)
    return float(strengths @ places / strengths.sum())


def _wanted(graph: networkx.MultiDiGraph, node: Node, boxes: Mapping[Node, Box]) -> float:
    """Where a node would like to stand: at the mean of its neighbours that have a place already."""
    neighbours = dict.fromkeys([*graph.predecessors(node), *graph.successors(node)])
    near = [boxes[other].middle for other in neighbours if other in boxes]
    return sum(near) / len(near) if near else 0.0


def _stacked(heights: Sequence[float]) -> list[float]:
    middles, top = [], 0.0
    for height in heights:
        middles.append(top + height / 2)
        top += height + _BETWEEN
    return middles


def _spread(wanted: Sequence[float], heights: Sequence[float]) -> list[float]:
    """Middles as near as can be to those wanted, in the same order, without overlap (pooling adjacent violators)."""
    # Measured from where each would stand if all stood close, the order is all that is left to keep.
    close = _stacked(heights)
    pools: list[tuple[float, int]] = []
    for offset in (want - stand for want, stand in zip(wanted, close, strict=True)):
        pools.append((offset, 1))
        while len(pools) > 1 and pools[-2][0] > pools[-1][0]:
            (first, count), (second, more) = pools[-2], pools[-1]
            pools[-2:] = [((first * count + second * more) / (count + more), count + more)]
    offsets = [offset for offset, count in pools for _ in range(count)]
    return [stand + offset for stand, offset in zip(close, offsets, strict=True)]


def _lines(graph: networkx.MultiDiGraph, node: Node) -> tuple[str, ...]:
    most = int((WIDTHS[node[0]] - 2 * _PAD) / _CHARACTER)
    return tuple(textwrap.wrap(graph.nodes[node]["title"], most, break_long_words=True)) or ("",)


def _height(graph: networkx.MultiDiGraph, node: Node) -> float:
    return len(_lines(graph, node)) * LINE + 2 * _PAD
