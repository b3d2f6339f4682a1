"""A decision graph as SVG: boxes in columns, and what ties them as curves, each tie in its own colour and dash.

In a browser the wheel zooms and dragging moves; with the pointer over a box only that box's ties stand out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import NamedTuple

import networkx

from diagnose.knowledge.graph import TIES, Node
from diagnose.review.pictures.layout import LINE, Box, Layout, lay_out

# Colours that people who see few colours tell apart: Okabe & Ito, Color universal design (2008).
CAUSE_COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#8A6D00", "#56B4E9", "#882255", "#444444")


class Stroke(NamedTuple):
    """How a tie is drawn."""

    colour: str
    dash: str
    width: float


STROKES = {
    "asks first": Stroke("#000000", "", 2.2),
    "raises": Stroke("#9a9a9a", "", 1.0),
    "bears on": Stroke("#0072B2", "", 1.6),
    "opens": Stroke("#009E73", "7 3", 1.8),
    "closes": Stroke("#D55E00", "2 3", 1.8),
    "before": Stroke("#555555", "2 4", 1.4),
    "feeds": Stroke("#CC79A7", "9 3 2 3", 1.6),
    "removed by": Stroke("#8A6D00", "", 1.8),
    "proved by": Stroke("#56B4E9", "5 2", 1.4),
    "lacks": Stroke("#000000", "", 2.2),
    "needed by": Stroke("#0072B2", "", 1.8),
    "takes": Stroke("#D55E00", "", 1.2),
}
_FILLS = {
    "symptoms": "#fff3c4",
    "functions": "#eef1f5",
    "checks": "#ffffff",
    "causes": "#fde7df",
    "remedies": "#e3f3ea",
    "proofs": "#e4effa",
}
_HEADINGS = {
    "symptoms": "Symptoms",
    "functions": "Functions",
    "checks": "Checks",
    "causes": "Causes",
    "remedies": "Repairs",
    "proofs": "Proofs",
}
# The wheel zooms at the pointer, dragging moves, a double click shows the whole again.
_ZOOM = """
const s = document.currentScript.ownerSVGElement, b = s.viewBox.baseVal, whole = [b.x, b.y, b.width, b.height];
const at = e => new DOMPoint(e.clientX, e.clientY).matrixTransform(s.getScreenCTM().inverse());
const show = v => s.setAttribute("viewBox", v.join(" "));
let held = null;
s.addEventListener("wheel", e => {
  e.preventDefault();
  const p = at(e), k = e.deltaY > 0 ? 1.15 : 1 / 1.15;
  show([p.x - (p.x - b.x) * k, p.y - (p.y - b.y) * k, b.width * k, b.height * k]);
}, {passive: false});
s.addEventListener("pointerdown", e => { held = at(e); });
s.addEventListener("pointermove", e => {
  if (held) { const p = at(e); show([b.x + held.x - p.x, b.y + held.y - p.y, b.width, b.height]); }
});
for (const end of ["pointerup", "pointerleave"]) s.addEventListener(end, () => { held = null; });
s.addEventListener("dblclick", () => show(whole));
"""
_FONT = "font-family='DejaVu Sans, Verdana, sans-serif'"


def graph_svg(
    graph: networkx.MultiDiGraph, title: str, weights: Mapping[tuple[Node, Node], float] | None = None
) -> str:
    """The picture. ``weights`` [0 to 1] say how much a check tells of a cause, and so how thick its line is."""
    weights = weights or {}
    layout = lay_out(graph)
    number = {node: index for index, node in enumerate(graph)}
    causes = sorted((box for node, box in layout.boxes.items() if node[0] == "causes"), key=lambda box: box.top)
    colour = {box.node: CAUSE_COLOURS[i % len(CAUSE_COLOURS)] for i, box in enumerate(causes)}
    used = [says for says in TIES if any(tie["says"] == says for _, _, tie in graph.edges(data=True))]
    return "\n".join(
        [
            f"<svg xmlns='http://www.w3.org/2000/svg' width='100%' height='100%' "
            f"viewBox='0 0 {layout.width:.0f} {layout.height:.0f}' role='img'>",
            f"<title>{escape(title)}</title>",
            _style(number),
            f"<rect width='100%' height='100%' fill='#ffffff'/>{_arrows(used)}",
            f"<text x='30' y='32' font-size='19' font-weight='bold' {_FONT}>{escape(title)}</text>",
            *_legend(used),
            *_column_headings(layout),
            *_edges(graph, layout, number, colour, weights),
            *(_box(box, number[node], colour.get(node, "#444444")) for node, box in layout.boxes.items()),
            f"<script>{escape(_ZOOM, quote=False)}</script>",
            "</svg>",
            "",
        ]
    )


def _style(number: Mapping[Node, int]) -> str:
    rules = [f"svg:has(#n{i}:hover) path.t:not(.n{i}){{opacity:.05}}" for i in number.values()]
    return "<style>path.t{fill:none}" + "".join(rules) + "</style>"


def _arrows(used: list[str]) -> str:
    heads = "".join(
        f"<marker id='{says.replace(' ', '-')}' viewBox='0 0 8 8' refX='7' refY='4' markerWidth='7' markerHeight='7' "
        f"orient='auto' markerUnits='userSpaceOnUse'><path d='M0 0L8 4L0 8z' fill='{STROKES[says].colour}'/></marker>"
        for says in used
    )
    return f"<defs>{heads}</defs>"


def _legend(used: list[str]) -> Iterator[str]:
    left = 30.0
    for says in used:
        stroke = STROKES[says]
        yield (
            f"<path d='M{left} 56H{left + 34}' stroke='{stroke.colour}' stroke-width='{stroke.width}' "
            f"stroke-dasharray='{stroke.dash}' fill='none' marker-end='url(#{says.replace(' ', '-')})'/>"
            f"<text x='{left + 40}' y='60' font-size='12' {_FONT}>{says}</text>"
        )
        left += 62 + 7.4 * len(says)
    if "bears on" in used:
        note = "A line from a check has the colour of its cause, and is the thicker the more the check tells of it."
        yield f"<text x='30' y='78' font-size='11' fill='#555555' {_FONT}>{note}</text>"


def _column_headings(layout: Layout) -> Iterator[str]:
    for kind, heading in _HEADINGS.items():
        boxes = [box for node, box in layout.boxes.items() if node[0] == kind]
        if boxes:
            shown = sum(box.node[1] != "more" for box in boxes)
            text = f"{heading} ({shown})"
            yield f"<text x='{boxes[0].left:.0f}' y='100' font-size='13' font-weight='bold' {_FONT}>{text}</text>"


def _box(box: Box, number: int, colour: str) -> str:
    kind, identity = box.node
    lines = "".join(
        f"<tspan x='{box.left + 7:.1f}' y='{box.top + 18 + i * LINE:.1f}'>{escape(line)}</tspan>"
        for i, line in enumerate(box.lines)
    )
    width = 2.5 if kind == "causes" else 1
    return (
        f"<g id='n{number}'><title>{escape(identity)}</title>"
        f"<rect x='{box.left:.1f}' y='{box.top:.1f}' width='{box.width:.1f}' height='{box.height:.1f}' rx='5' "
        f"fill='{_FILLS[kind]}' stroke='{colour}' stroke-width='{width}'/>"
        f"<text font-size='12' {_FONT}>{lines}</text></g>"
    )


def _edges(
    graph: networkx.MultiDiGraph,
    layout: Layout,
    number: Mapping[Node, int],
    colour: Mapping[Node, str],
    weights: Mapping[tuple[Node, Node], float],
) -> Iterator[str]:
    ports = _ports(graph, layout)
    drawn = sorted(graph.edges(keys=True, data=True), key=lambda edge: list(TIES).index(edge[3]["says"]))
    # What is faint is drawn first, under all else.
    drawn.sort(key=lambda edge: edge[3]["says"] != "raises")
    for start, end, key, tie in drawn:
        says = tie["says"]
        stroke = STROKES[says]
        shade, width, opacity = stroke.colour, stroke.width, 0.85
        if says == "bears on":
            told = weights.get((start, end), 1.0)
            shade, width, opacity = colour[end], 0.6 + 2.6 * told, 0.35 + 0.5 * told
        leaves, arrives = ports[(start, end, key)]
        curve = _curve(layout.boxes[start], layout.boxes[end], leaves, arrives)
        answers = f": {', '.join(tie['answers'])}" if tie["answers"] else ""
        words = f"{start[1]} {says} {end[1]}{answers}"
        head = "" if says == "bears on" else f" marker-end='url(#{says.replace(' ', '-')})'"
        yield (
            f"<path class='t n{number[start]} n{number[end]}' d='{curve}' fill='none' stroke='{shade}' "
            f"stroke-width='{width:.2f}' stroke-dasharray='{stroke.dash}' opacity='{opacity:.2f}'{head}>"
            f"<title>{escape(words)}</title></path>"
        )


_Edge = tuple[Node, Node, int]


def _ports(graph: networkx.MultiDiGraph, layout: Layout) -> dict[_Edge, tuple[float, float]]:
    """The heights at which each tie leaves and arrives: spread over the box's side, in the order of the far ends."""
    sides: dict[tuple[Node, str], list[tuple[float, int, _Edge]]] = {}
    for start, end, key in graph.edges(keys=True):
        inside = layout.boxes[start].left == layout.boxes[end].left
        edge = (start, end, key)
        sides.setdefault((start, "left" if inside else "right"), []).append((layout.boxes[end].middle, 0, edge))
        sides.setdefault((end, "left"), []).append((layout.boxes[start].middle, 1, edge))
    found: dict[_Edge, list[float]] = {}
    for (node, _), ties in sides.items():
        box = layout.boxes[node]
        for place, (_, which, edge) in enumerate(sorted(ties)):
            height = box.top + box.height * (place + 1) / (len(ties) + 1)
            found.setdefault(edge, [0.0, 0.0])[which] = height
    return {edge: (ends[0], ends[1]) for edge, ends in found.items()}


def _curve(start: Box, end: Box, leaves: float, arrives: float) -> str:
    if start.left == end.left:
        # Within a column: out to the left and back, the further apart the further out.
        out = start.left - min(24 + abs(arrives - leaves) * 0.12, 150)
        return (
            f"M{start.left:.1f} {leaves:.1f}"
            f"C{out:.1f} {leaves:.1f} {out:.1f} {arrives:.1f} {end.left:.1f} {arrives:.1f}"
        )
    bend = (end.left - start.right) * 0.5
    return (
        f"M{start.right:.1f} {leaves:.1f}C{start.right + bend:.1f} {leaves:.1f} "
        f"{end.left - bend:.1f} {arrives:.1f} {end.left:.1f} {arrives:.1f}"
    )
