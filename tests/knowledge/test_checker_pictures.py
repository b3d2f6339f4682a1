"""The pictures: everything is in them, nothing lies over anything else, and the curves are those of the spreads."""

from __future__ import annotations

import itertools
import re
import shutil
import subprocess
from pathlib import Path
from xml.etree import ElementTree

import networkx as nx
import pytest

from diagnose.cli import main
from diagnose.knowledge.checker import Book
from diagnose.knowledge.distributions import probability
from diagnose.knowledge.graph import TIES, decision_graph, overview, part_for, part_for_cause
from diagnose.knowledge.model import Trees
from diagnose.reasoning.situation import instrument_error
from diagnose.review.pictures.graph_svg import STROKES, graph_svg
from diagnose.review.pictures.graph_text import ascii_graph, dot, mermaid
from diagnose.review.pictures.layout import LINE, folded, lay_out
from diagnose.review.pictures.question import question_svg, question_text
from diagnose.review.pictures.reading import Axis, picture_of, reading_svg, reading_text
from diagnose.review.weighing import telling
from tests.knowledge import overlay

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def shipped(shipped_book: Book) -> Book:
    return shipped_book


@pytest.fixture(scope="module")
def largest(shipped_trees: Trees) -> nx.MultiDiGraph:
    """What is walked from all complaints of the family that has most of it."""
    families: dict[str, list[str]] = {}
    for symptom in shipped_trees.symptoms.values():
        families.setdefault(symptom.family, []).append(symptom.id)
    return max((part_for(shipped_trees, symptoms) for symptoms in families.values()), key=len)


def test_the_graph_holds_every_tie(small_trees: Trees) -> None:
    graph = decision_graph(small_trees)
    ties = {(start[1], end[1], tie["says"]) for start, end, tie in graph.edges(data=True)}
    assert ("eye-lamp-wrong", "eye-dead", "raises") in ties
    assert ("eye-lamp-wrong", "eye-lamp-receiver", "asks first") in ties
    assert ("eye-lamp-receiver", "splice-looks", "opens") in ties
    assert ("bay-clear", "closes-while-held", "before") in ties
    assert ("eye-volts-far-end", "eye-wiring-open", "bears on") in ties
    assert ("eye-wiring-open", "remake-splice", "removed by") in ties
    assert ("remake-splice", "eye-blocks-closing", "proved by") in ties
    assert {tie["says"] for _, _, tie in graph.edges(data=True)} <= set(TIES) == set(STROKES)
    signs = sum(len(cause.signs) for cause in small_trees.causes.values())
    assert sum(says == "bears on" for _, _, says in ties) == signs


def test_parts_hold_what_is_walked(small_trees: Trees) -> None:
    part = part_for(small_trees, ["eye-lamp-wrong"])
    assert {node[1] for node in part if node[0] == "causes"} == set(small_trees.symptoms["eye-lamp-wrong"].causes)
    assert ("checks", "bay-clear") in part
    alone = part_for_cause(small_trees, "eye-dead")
    assert [node for node in alone if node[0] == "causes"] == [("causes", "eye-dead")]
    assert {node[0] for node in overview(small_trees)} == {"symptoms", "causes"}


def test_nothing_lies_over_anything_else(largest: nx.MultiDiGraph) -> None:
    """Of the largest family, in columns from left to right, boxes apart and their text inside them."""
    layout = lay_out(largest)
    assert set(layout.boxes) == set(largest)
    columns: dict[str, list[tuple[float, float]]] = {}
    lefts: dict[str, float] = {}
    for (kind, _), box in layout.boxes.items():
        columns.setdefault(kind, []).append((box.top, box.top + box.height))
        lefts[kind] = box.left
        assert len(box.lines) * LINE < box.height
        # DejaVu Sans at 12 px is 0.55 em wide on the average; this leaves a sixth to spare.
        assert max(len(line) for line in box.lines) * 6.6 <= box.width
        assert box.left >= 0 and box.right <= layout.width and box.top >= 0 and box.top + box.height <= layout.height
    assert sorted(lefts, key=lambda kind: lefts[kind]) == ["symptoms", "checks", "causes", "remedies", "proofs"]
    for spans in columns.values():
        for (_, bottom), (top, _) in itertools.pairwise(sorted(spans)):
            assert top >= bottom + 4


def test_long_lists_are_folded_and_what_is_left_out_is_counted(shipped: Book) -> None:
    symptom = max(shipped.trees.symptoms.values(), key=lambda symptom: len(symptom.causes))
    graph, told = part_for(shipped.trees, [symptom.id]), telling(shipped)
    small = folded(shipped.trees, graph, told)
    counted = {kind: sum(node[0] == kind for node in graph) for kind in ("checks", "causes", "remedies", "proofs")}
    assert ("symptoms", symptom.id) in small
    for kind, every in counted.items():
        shown = [node for node in small if node[0] == kind and node[1] != "more"]
        assert len(shown) <= 16
        if every > len(shown):
            assert small.nodes[kind, "more"]["title"].startswith(f"and {every - len(shown)} ")
    kept = {node[1] for node in small if node[0] == "causes"} - {"more"}
    rarest = min(shipped.trees.causes[name].base for name in kept)
    assert all(shipped.trees.causes[name].base <= rarest for name in set(symptom.causes) - kept)
    # Each cause that is drawn has the check that tells most of it.
    for name in kept:
        cause = ("causes", name)
        checks = [node for node in graph.predecessors(cause) if node[0] == "checks"]
        if checks and len([n for n in small if n[0] == "checks"]) < 16:
            assert max(checks, key=lambda node: told.get((node, cause), 0.0)) in small
    layout = lay_out(small)
    assert layout.height < 1400, "the whole is read at a glance"


def test_a_small_picture_is_drawn_whole(small_trees: Trees) -> None:
    graph = part_for_cause(small_trees, "eye-dead")
    assert {node for node in folded(small_trees, graph, {}) if node[1] == "more"} == set()


def test_a_picture_can_be_zoomed_and_fetches_nothing(small_trees: Trees) -> None:
    picture = graph_svg(part_for(small_trees, ["eye-lamp-wrong"]), "x")
    root = ElementTree.fromstring(picture)
    scripts = [element.text or "" for element in root.iter(f"{SVG}script")]
    assert len(scripts) == 1 and '"wheel"' in scripts[0] and "viewBox" in scripts[0]
    assert root.get("viewBox") and root.get("width") == "100%"
    assert "http" not in picture.replace("http://www.w3.org/2000/svg", "")
    assert not any(name.endswith("href") for element in root.iter() for name in element.attrib)


def test_every_title_and_tie_is_drawn(shipped: Book, largest: nx.MultiDiGraph) -> None:
    graph = largest
    root = ElementTree.fromstring(graph_svg(graph, "Largest", telling(shipped)))
    drawn = [
        " ".join("".join(span.itertext()) for span in text.iter(f"{SVG}tspan")) for text in root.iter(f"{SVG}text")
    ]
    for node in graph:
        assert any(_letters(graph.nodes[node]["title"]) == _letters(text) for text in drawn)
    curves = [path for path in root.iter(f"{SVG}path") if path.get("class")]
    assert len(curves) == graph.number_of_edges()
    used = {tie["says"] for _, _, tie in graph.edges(data=True)}
    plain = {"".join(text.itertext()) for text in root.iter(f"{SVG}text")}
    assert used <= plain


def _letters(text: str) -> str:
    return re.sub(r"\s+", "", text)


@pytest.mark.parametrize("form", ["ascii", "mermaid", "dot", "svg"])
def test_a_chain_is_drawn_in_every_form(form: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trees", "draw", "hums-does-not-move", "--chain", "--format", form]) == 0
    text = _letters(re.sub(r"<[^>]*>", " ", capsys.readouterr().out))
    titles = ("Power reaches the operator", "The motor gets its voltage")
    places = [text.rindex(_letters(title)) for title in titles]
    assert places == sorted(places)


def test_only_a_symptom_has_a_chain(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["trees", "draw", "spring-broken", "--chain"]) != 0
    assert "A chain is that of a symptom." in capsys.readouterr().err


def test_the_same_picture_each_time(small_trees: Trees) -> None:
    part = part_for(small_trees, ["eye-lamp-wrong"])
    assert graph_svg(part, "x") == graph_svg(part_for(small_trees, ["eye-lamp-wrong"]), "x")


def test_texts_of_a_tree_are_never_markup(tmp_path: Path) -> None:
    nasty = 'A <b>"lamp"</b> & it\'s \\n #1; [x] `y`'
    change = {"causes": {"fuse-blown": {"title": nasty}}, "symptoms": {"dark": {"title": nasty}}}
    book = overlay.book(tmp_path, change)
    graph = part_for(book.trees, ["dark"])
    root = ElementTree.fromstring(graph_svg(graph, nasty, telling(book)))
    assert nasty in {"".join(element.itertext()) for element in root.iter()}
    assert '"lamp"' not in mermaid(graph, nasty).replace('"A', "")
    ElementTree.fromstring(reading_svg(picture_of(book.trees, book.trees.checks["socket-volts"], 50)))
    assert nasty.split(" &")[0] in ascii_graph(graph, telling(book))
    if shutil.which("dot"):
        done = subprocess.run(["dot", "-Tsvg"], input=dot(graph, nasty, telling(book)).encode(), capture_output=True)
        assert done.returncode == 0, done.stderr


def test_the_list_for_a_terminal_fits_it(shipped: Book, largest: nx.MultiDiGraph) -> None:
    graph = largest
    lines = ascii_graph(graph, telling(shipped), 80).splitlines()
    assert max(len(line) for line in lines) <= 80
    text = _letters("".join(line.lstrip("│├└─ ●○") for line in lines))
    for node in graph:
        if node[0] == "causes":
            assert _letters(graph.nodes[node]["title"]) in text


def test_a_curve_is_the_density_of_the_display(small_trees: Trees) -> None:
    check = small_trees.checks["eye-volts-far-end"]
    assert check.healthy is not None
    picture = picture_of(small_trees, check, 200)
    heights = picture.rows[0].heights
    at = [picture.axis.at((i + 0.5) / 200) for i in range(200)]
    top = at[heights.index(max(heights))]
    assert abs(top - 24) < 0.3
    for value, height in zip(at[::10], heights[::10], strict=True):
        error = instrument_error(check, value)
        near = probability(check.healthy, value - 0.01, value + 0.01, error)
        peak = probability(check.healthy, 24 - 0.01, 24 + 0.01, instrument_error(check, 24))
        assert height == pytest.approx(near / peak, abs=0.03)


def test_every_reading_that_ships_can_be_drawn(shipped: Book) -> None:
    count = 0
    for check in shipped.trees.checks.values():
        if check.is_number and check.healthy is not None:
            picture = picture_of(shipped.trees, check, 40)
            text = reading_text(picture, 80)
            assert max(len(line) for line in text.splitlines()) <= 80 + len(check.unit) + 6
            assert text.count("\n") >= len(picture.rows) + 3
            ElementTree.fromstring(reading_svg(picture))
            assert all(any(row.heights) or row.over for row in picture.rows), check.id
            count += 1
        elif check.answers and check.healthy is not None:
            ElementTree.fromstring(question_svg(shipped.trees, check))
            assert max(len(line) for line in question_text(shipped.trees, check).splitlines()) <= 80
    assert count > 100


def test_axes() -> None:
    assert Axis(0, 60, False).marks() == [0, 10, 20, 30, 40, 50, 60]
    assert Axis(-0.3, 0.31, False).marks(4) == [-0.2, 0.0, 0.2]
    assert Axis(0.5, 2000, True).marks() == [1, 10, 100, 1000]
    assert Axis(1, 100, True).share(10) == pytest.approx(0.5)
    assert Axis(1, 100, True).at(0.5) == pytest.approx(10)


def test_what_has_no_spread_is_said(small_trees: Trees) -> None:
    with pytest.raises(ValueError, match="no spread to draw"):
        picture_of(small_trees, small_trees.checks["bay-clear"], 40)
