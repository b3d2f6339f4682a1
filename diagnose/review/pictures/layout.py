"""Where the boxes of a decision graph stand: a column for each kind, left to right, as networkx lays out what is
multipartite, each column drawn out to the same height; and long lists folded, what is left out counted.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import networkx

from diagnose.knowledge.graph import KINDS, Node
from diagnose.knowledge.model import Trees

LINE = 15.0
_PAD = 7.0
_BETWEEN = 10.0
_CHARACTER = 6.6
# Widths of the columns, and of the room behind each for its lines.
WIDTHS = {"symptoms": 200.0, "functions": 260.0, "checks": 330.0, "causes": 240.0, "remedies": 260.0, "proofs": 250.0}
_ROOM = {"symptoms": 150.0, "functions": 190.0, "checks": 170.0, "causes": 110.0, "remedies": 110.0, "proofs": 0.0}
_MARGIN = 30.0
TOP = 110.0
# So many entries of a kind are drawn of a complaint.
_MOST, _MOST_CHECKS = 12, 16
_SWEEPS = 4
_MANY = {"checks": "checks", "causes": "rarer causes", "remedies": "repairs", "proofs": "proofs"}


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


def folded(
    trees: Trees, graph: networkx.MultiDiGraph, weights: Mapping[tuple[Node, Node], float]
) -> networkx.MultiDiGraph:
    """The graph with what matters most of each long list: the commonest causes, the checks that tell most of those,
    and what removes and proves them. What is left out of a column is one box, with its count."""
    causes = sorted(_of(graph, "causes"), key=lambda node: (-trees.causes[node[1]].base, node))[:_MOST]
    first = [end for _, end, tie in graph.edges(data=True) if tie["says"] == "asks first"]
    telling = [_most_telling(graph, cause, weights) for cause in causes]
    checks = list(dict.fromkeys([*first, *_in_turn(telling), *_of(graph, "checks")]))
    remedies = _led_to(graph, causes, "remedies")
    kept = {
        "symptoms": _of(graph, "symptoms"),
        "checks": checks[:_MOST_CHECKS],
        "causes": causes,
        "remedies": remedies[:_MOST],
        "proofs": _led_to(graph, remedies[:_MOST], "proofs")[:_MOST],
    }
    small = graph.subgraph([node for nodes in kept.values() for node in nodes]).copy()
    for kind, many in _MANY.items():
        left = len(_of(graph, kind)) - len(kept[kind])
        if left:
            small.add_node((kind, "more"), title=f"and {left} more {many}".replace("more rarer", "rarer"))
    return small


def _most_telling(graph: networkx.MultiDiGraph, cause: Node, weights: Mapping[tuple[Node, Node], float]) -> list[Node]:
    checks = [node for node in graph.predecessors(cause) if node[0] == "checks"]
    return sorted(checks, key=lambda node: (-weights.get((node, cause), 0.0), node))


def _led_to(graph: networkx.MultiDiGraph, nodes: Iterable[Node], kind: str) -> list[Node]:
    """What these lead to of a kind, each once."""
    return _in_turn([[end for end in graph.successors(node) if end[0] == kind] for node in nodes])


def _in_turn(rows: Sequence[Sequence[Node]]) -> list[Node]:
    """The first of each row, then the second of each, and so on; each node once."""
    longest = max(map(len, rows), default=0)
    return list(dict.fromkeys(row[rank] for rank in range(longest) for row in rows if rank < len(row)))


def _of(graph: networkx.MultiDiGraph, kind: str) -> list[Node]:
    return [node for node in graph if node[0] == kind]


def lay_out(graph: networkx.MultiDiGraph) -> Layout:
    """Place every node."""
    columns = {kind: _of(graph, kind) for kind in KINDS if _of(graph, kind)}
    _near_their_own(graph, columns)
    places = networkx.multipartite_layout(networkx.Graph(graph), subset_key=dict(enumerate(columns.values())))
    lines = {node: _lines(graph, node) for node in graph}
    tallest = max(map(len, lines.values()), default=1) * LINE + 2 * _PAD + _BETWEEN
    height = tallest * max(map(len, columns.values()), default=0)
    boxes: dict[Node, Box] = {}
    left = _MARGIN
    for kind, nodes in columns.items():
        ranked = sorted(nodes, key=lambda node: float(places[node][1]))
        for number, node in enumerate(ranked):
            tall = len(lines[node]) * LINE + 2 * _PAD
            middle = TOP + height * (number + 0.5) / len(ranked)
            boxes[node] = Box(node, left, middle - tall / 2, WIDTHS[kind], tall, lines[node])
        left += WIDTHS[kind] + _ROOM[kind]
    right = max((box.right for box in boxes.values()), default=_MARGIN)
    return Layout({node: boxes[node] for node in graph}, max(right + _MARGIN, 900.0), TOP + height + _MARGIN)


def _near_their_own(graph: networkx.MultiDiGraph, columns: dict[str, list[Node]]) -> None:
    """Each column in the order of the mean place of what its boxes are tied to, swept to and fro (Sugiyama, Tagawa and
    Toda, *Methods for visual understanding of hierarchical system structures*, 1981). A chain keeps its order."""
    for sweep in range(_SWEEPS):
        for kind in columns if sweep % 2 == 0 else reversed(columns):
            if kind != "functions":
                place = {node: (i + 0.5) / len(nodes) for nodes in columns.values() for i, node in enumerate(nodes)}
                means = {node: (node[1] == "more", _mean(graph, node, place), node) for node in columns[kind]}
                columns[kind].sort(key=means.__getitem__)


def _mean(graph: networkx.MultiDiGraph, node: Node, place: Mapping[Node, float]) -> float:
    near = [place[other] for other in (*graph.predecessors(node), *graph.successors(node)) if other[0] != node[0]]
    return sum(near) / len(near) if near else place[node]


def _lines(graph: networkx.MultiDiGraph, node: Node) -> tuple[str, ...]:
    most = int((WIDTHS[node[0]] - 2 * _PAD) / _CHARACTER)
    return tuple(textwrap.wrap(graph.nodes[node]["title"], most, break_long_words=True)) or ("",)
