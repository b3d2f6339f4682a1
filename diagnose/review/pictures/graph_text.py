"""A decision graph as text: for Mermaid, for Graphviz, and as a list drawn with lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping
from io import StringIO

import networkx
from rich.console import Console
from rich.text import Text
from rich.tree import Tree

from diagnose.knowledge.graph import KINDS, TIES, Node
from diagnose.review.pictures.graph_svg import STROKES

_WRAP = 34
_SHAPES = {
    "symptoms": ("([", "])"),
    "functions": ("[(", ")]"),
    "checks": ("[", "]"),
    "causes": ("{{", "}}"),
    "remedies": ("[/", "/]"),
    "proofs": ("[[", "]]"),
}
_DOT_SHAPES = {
    "symptoms": "oval",
    "functions": "cds",
    "checks": "box",
    "causes": "hexagon",
    "remedies": "parallelogram",
    "proofs": "note",
}


def mermaid(graph: networkx.MultiDiGraph, title: str) -> str:
    """A Mermaid flowchart, left to right."""
    number = {node: f"n{index}" for index, node in enumerate(graph)}
    lines = ["---", f'title: "{_quoted(title)}"', "---", "flowchart LR"]
    for node, name in number.items():
        opening, closing = _SHAPES[node[0]]
        lines.append(f'  {name}{opening}"{_quoted(graph.nodes[node]["title"])}"{closing}')
    for start, end, tie in graph.edges(data=True):
        arrow = "-.->" if STROKES[tie["says"]].dash else "-->"
        lines.append(f'  {number[start]} {arrow}|"{_quoted(_tie(tie))}"| {number[end]}')
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    """As Mermaid takes a text between quotes: its own signs as numbered characters."""
    return "".join(f"#{ord(letter)};" if letter in '"#<>\\`&' else letter for letter in text)


def dot(graph: networkx.MultiDiGraph, title: str, weights: Mapping[tuple[Node, Node], float] | None = None) -> str:
    """A Graphviz graph with a rank for each kind."""
    number = {node: f"n{index}" for index, node in enumerate(graph)}
    lines = [
        "digraph trees {",
        f"  label={_string(title)}; labelloc=t; rankdir=LR; ranksep=2; nodesep=0.12; newrank=true;",
        '  node [fontname="DejaVu Sans", fontsize=10]; edge [arrowsize=0.6];',
    ]
    for kind in KINDS:
        nodes = [node for node in graph if node[0] == kind]
        lines += [f"  {number[node]} [shape={_DOT_SHAPES[kind]}, label={_label(graph, node)}];" for node in nodes]
        if nodes:
            lines.append(f"  {{ rank=same; {'; '.join(number[node] for node in nodes)} }}")
    for start, end, tie in graph.edges(data=True):
        stroke = STROKES[tie["says"]]
        style = "dashed" if stroke.dash else "solid"
        told = (weights or {}).get((start, end), 1.0) if tie["says"] == "bears on" else 1.0
        # Only what runs from column to column may place a box; what stays within one follows.
        ranked = "" if start[0] != end[0] else ", constraint=false"
        lines.append(
            f'  {number[start]} -> {number[end]} [color="{stroke.colour}", style={style}, '
            f"penwidth={0.4 + stroke.width * told / 1.6:.2f}, tooltip={_string(_tie(tie))}{ranked}];"
        )
    return "\n".join([*lines, *_dot_legend(graph), "}", ""])


def _dot_legend(graph: networkx.MultiDiGraph) -> Iterator[str]:
    used = [says for says in TIES if any(tie["says"] == says for _, _, tie in graph.edges(data=True))]
    yield '  subgraph cluster_legend { label="Legend"; fontname="DejaVu Sans";'
    for index, says in enumerate(used):
        stroke = STROKES[says]
        style = "dashed" if stroke.dash else "solid"
        yield f'    l{index} [shape=plaintext, label=""]; m{index} [shape=plaintext, label={_string(says)}];'
        yield f'    l{index} -> m{index} [color="{stroke.colour}", style={style}, penwidth={stroke.width}];'
    yield "  }"


def _label(graph: networkx.MultiDiGraph, node: Node) -> str:
    return _string("\n".join(textwrap.wrap(graph.nodes[node]["title"], _WRAP)))


def _string(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'


def _tie(tie: Mapping[str, object]) -> str:
    answers = tie["answers"]
    assert isinstance(answers, tuple)
    return f"{tie['says']}: {', '.join(answers)}" if answers else str(tie["says"])


def ascii_graph(graph: networkx.MultiDiGraph, weights: Mapping[tuple[Node, Node], float], width: int = 80) -> str:
    """For a terminal: each symptom, what is asked first, and each cause with its checks, remedies and proofs.

    The most telling checks of a cause stand first, each with a mark of how much it tells.
    """
    trees = []
    for symptom in (node for node in graph if node[0] == "symptoms"):
        tree = Tree(_said(graph, symptom))
        for check in _led_to(graph, symptom, "asks first"):
            tree.add(_said(graph, check, "asks first  "))
        for cause in _led_to(graph, symptom, "raises"):
            _add_cause(tree, graph, cause, weights)
        trees.append(tree)
    return _drawn(trees, width) + "Marks: ●●● tells it for certain or nearly, ●● well, ● a little, ○ hardly.\n"


def _add_cause(
    tree: Tree, graph: networkx.MultiDiGraph, cause: Node, weights: Mapping[tuple[Node, Node], float]
) -> None:
    branch = tree.add(_said(graph, cause, "raises  "))
    told = {check: weights.get((check, cause), 0.0) for check in _leading_to(graph, cause, "bears on")}
    for check in sorted(told, key=lambda check: (-told[check], check)):
        branch.add(_said(graph, check, f"{_mark(told[check])} "))
    for remedy in _led_to(graph, cause, "removed by"):
        below = branch.add(_said(graph, remedy, "removed by  "))
        for proof in _led_to(graph, remedy, "proved by"):
            below.add(_said(graph, proof, "proved by  "))


def ascii_chain(graph: networkx.MultiDiGraph, width: int = 80) -> str:
    """For a terminal: a complaint's chain of functions in order, what each needs, and the causes that take it."""
    trees = []
    for symptom in (node for node in graph if node[0] == "symptoms"):
        tree, lacked = Tree(_said(graph, symptom)), _led_to(graph, symptom, "lacks")
        for function in (node for node in graph if node[0] == "functions"):
            branch = tree.add(_said(graph, function, "✗ " if function in lacked else ""))
            needs = [start for start in graph.predecessors(function) if start[0] == "functions"]
            if needs:
                branch.add(Text(f"needs: {', '.join(name.replace('-', ' ') for _, name in needs)}"))
            for cause in _leading_to(graph, function, "takes"):
                branch.add(_said(graph, cause, "· "))
        trees.append(tree)
    return _drawn(trees, width) + "✗ is missing, going by the complaint; · takes the function away.\n"


def _drawn(trees: Iterable[Tree], width: int) -> str:
    """The trees, each with an empty line behind it."""
    page = Console(file=StringIO(), width=width, color_system=None, legacy_windows=False, highlight=False)
    with page.capture() as drawn:
        for tree in trees:
            page.print(tree, end="\n\n")
    return "\n".join(line.rstrip() for line in drawn.get().split("\n"))


def _said(graph: networkx.MultiDiGraph, node: Node, says: str = "") -> Text:
    return Text(f"{says}{graph.nodes[node]['title']}")


def _mark(told: float) -> str:
    return "●●●" if told > 0.7 else "●● " if told > 0.35 else "●  " if told > 0.08 else "○  "


def _led_to(graph: networkx.MultiDiGraph, node: Node, says: str) -> list[Node]:
    return [end for _, end, tie in graph.out_edges(node, data=True) if tie["says"] == says]


def _leading_to(graph: networkx.MultiDiGraph, node: Node, says: str) -> list[Node]:
    return [start for start, _, tie in graph.in_edges(node, data=True) if tie["says"] == says]
