"""A decision graph as text: for Mermaid, for Graphviz, and as a list drawn with lines for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from diagnose.knowledge.graph import KINDS, TIES, Node
from diagnose.review.pictures.graph_svg import STROKES

if TYPE_CHECKING:
    import networkx

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
    lines: list[str] = []
    for symptom in (node for node in graph if node[0] == "symptoms"):
        lines += _entry(graph, symptom, "", "", width)
        first = _led_to(graph, symptom, "asks first")
        causes = _led_to(graph, symptom, "raises")
        branches = [*(("asks first  ", node) for node in first), *(("raises  ", node) for node in causes)]
        for index, (says, node) in enumerate(branches):
            last = index == len(branches) - 1
            lines += _entry(graph, node, "└─ " if last else "├─ ", "   " if last else "│  ", width, says)
            if node[0] == "causes":
                lines += _of_cause(graph, node, "   " if last else "│  ", weights, width)
        lines.append("")
    lines.append("Marks: ●●● tells it for certain or nearly, ●● well, ● a little, ○ hardly.")
    return "\n".join(lines) + "\n"


def ascii_chain(graph: networkx.MultiDiGraph, width: int = 80) -> str:
    """For a terminal: a complaint's chain of functions in order, what each needs, and the causes that take it."""
    lines: list[str] = []
    for symptom in (node for node in graph if node[0] == "symptoms"):
        lines += [*_entry(graph, symptom, "", "", width), "│"]
        lacked = set(_led_to(graph, symptom, "lacks"))
        functions = [node for node in graph if node[0] == "functions"]
        for index, node in enumerate(functions):
            last = index == len(functions) - 1
            below = "   " if last else "│  "
            lines += _entry(graph, node, "└─ " if last else "├─ ", below, width, "✗ " if node in lacked else "")
            needs = [
                start[1].replace("-", " ")
                for start, _, tie in graph.in_edges(node, data=True)
                if tie["says"] != "takes" and start[0] == "functions"
            ]
            if needs:
                lines += textwrap.wrap(
                    f"needs: {', '.join(needs)}",
                    width,
                    initial_indent=f"{below}  ",
                    subsequent_indent=f"{below}         ",
                )
            for start, _, tie in graph.in_edges(node, data=True):
                if tie["says"] == "takes":
                    lines += _entry(graph, start, f"{below}  · ", f"{below}    ", width)
    return "\n".join([*lines, "", "✗ is missing, going by the complaint; · takes the function away.", ""])


def _of_cause(
    graph: networkx.MultiDiGraph, cause: Node, indent: str, weights: Mapping[tuple[Node, Node], float], width: int
) -> Iterator[str]:
    checks = [start for start, _, tie in graph.in_edges(cause, data=True) if tie["says"] == "bears on"]
    checks.sort(key=lambda check: (-weights.get((check, cause), 0.0), check))
    remedies = _led_to(graph, cause, "removed by")
    rows: list[tuple[str, Node]] = [(f"{_mark(weights.get((check, cause), 0.0))} ", check) for check in checks]
    rows += [("removed by  ", remedy) for remedy in remedies]
    for index, (says, node) in enumerate(rows):
        last = index == len(rows) - 1
        yield from _entry(
            graph, node, indent + ("└─ " if last else "├─ "), indent + ("   " if last else "│  "), width, says
        )
        proofs = _led_to(graph, node, "proved by") if node[0] == "remedies" else []
        below = indent + ("   " if last else "│  ")
        for place, proof in enumerate(proofs):
            end = place == len(proofs) - 1
            branch = ("└─ ", "   ") if end else ("├─ ", "│  ")
            yield from _entry(graph, proof, below + branch[0], below + branch[1], width, "proved by  ")


def _mark(told: float) -> str:
    return "●●●" if told > 0.7 else "●● " if told > 0.35 else "●  " if told > 0.08 else "○  "


def _led_to(graph: networkx.MultiDiGraph, node: Node, says: str) -> list[Node]:
    return [end for _, end, tie in graph.out_edges(node, data=True) if tie["says"] == says]


def _entry(
    graph: networkx.MultiDiGraph, node: Node, first: str, later: str, width: int, says: str = ""
) -> Iterator[str]:
    hang = later + " " * len(says)
    wrapped = textwrap.wrap(graph.nodes[node]["title"], max(20, width - len(hang)))
    for index, line in enumerate(wrapped):
        yield f"{first}{says}{line}" if index == 0 else f"{hang}{line}"
