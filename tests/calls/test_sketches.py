"""Components of the trees that ship, and the sketches that show them: in lines, as SVG, and for which door."""

from __future__ import annotations

import html
import re
from xml.etree import ElementTree

import pytest

from diagnose import load_trees
from diagnose.calls.call import Call
from diagnose.calls.document import Picture, html_of_document, text_of
from diagnose.calls.report import record
from diagnose.calls.sketches import NOT_THIS_KIND, ONLY_A_SKETCH, sketch_for, sketch_svg, sketch_told, where_told
from diagnose.finding.glossary import find_components
from diagnose.knowledge.components import component_at, marks_in
from diagnose.knowledge.model import NOWHERE, Trees
from diagnose.screening.paper import sheet_document
from diagnose.screening.sheet import make_sheet


@pytest.fixture(scope="module")
def trees() -> Trees:
    return load_trees()


@pytest.mark.parametrize("width", [56, 78, 118])
def test_every_sketch_fits_with_its_legend_and_points_at_the_thing_in_question(trees: Trees, width: int) -> None:
    for sketch in trees.sketches.values():
        for letter, component in sketch.marks.items():
            rows = [line.text for line in sketch_told(trees, sketch, [component], width) if line.kind == "drawn"]
            assert max(map(len, rows)) <= width, (sketch.id, component)
            drawing, legend = rows[: len(sketch.rows)], rows[len(sketch.rows) :]
            assert any(f"{letter}◀" in row for row in drawing), (sketch.id, component)
            assert any(f"▶{letter}◀ {trees.components[component].title}" in row for row in legend)


def test_the_svg_has_every_mark_of_the_text_and_is_well_formed(trees: Trees) -> None:
    for sketch in trees.sketches.values():
        marked = next(iter(sketch.marks.values()))
        svg = sketch_svg(trees, sketch, [marked])
        root = ElementTree.fromstring(svg)
        letters = [each.text for each in root.iter("{http://www.w3.org/2000/svg}text") if each.get("text-anchor")]
        drawn = [letter for row in sketch.rows for _, letter in marks_in(row)]
        assert sorted(filter(None, letters)) == sorted([*drawn, *sketch.marks]), sketch.id
        assert re.search('fill="#fff">' + next(k for k, v in sketch.marks.items() if v == marked) + "<", svg)


def test_nearly_every_check_is_at_a_component_that_its_door_has_and_a_sketch_shows(trees: Trees) -> None:
    at_one = 0
    for check in trees.checks.values():
        if check.at == (NOWHERE,):
            continue
        facts = {fact: allowed[0] for fact, allowed in check.applies.items() if trees.facts[fact].many == "no"}
        component = component_at(trees, check, facts)
        assert component is not None, check.id
        assert sketch_for(trees, component.id, facts, ()) is not None, check.id
        at_one += 1
    assert at_one >= 0.9 * len(trees.checks)


def test_the_sketch_is_that_of_the_door_or_says_that_it_is_of_a_usual_one(trees: Trees) -> None:
    guide = trees.components["guide"]
    facts: dict[str, str | tuple[str, ...]] = {"construction": "grille"}
    told = [line.text for line in where_told(trees, guide, facts)]
    assert "Rolling grille" in told and not any(NOT_THIS_KIND in line for line in told)
    assert any(NOT_THIS_KIND in line.text for line in where_told(trees, guide, {}))
    found = sketch_for(trees, "roller", {}, [{"construction": ("vertical-lift",)}])
    assert found is not None and found.id == "high-lift-door"


@pytest.mark.parametrize(
    ("typed", "component"),
    [
        ("drawbar", "door-arm"),
        ("corner bracket", "bottom-bracket"),
        ("curly cord", "edge-cord"),
        ("GEARBOX", "reducer"),
        ("photo eys", "photo-eye"),
        ("isolator", "disconnect"),
    ],
)
def test_a_thing_is_found_by_any_of_its_names(trees: Trees, typed: str, component: str) -> None:
    assert find_components(trees, typed)[0].id == component


def test_what_is_under_tension_or_live_says_how_it_can_hurt(trees: Trees) -> None:
    for name in ("torsion-spring", "lifting-cable", "cable-drum", "bottom-bracket", "contactor", "supply-terminals"):
        assert trees.components[name].danger, name


def test_the_record_shows_where_the_repairs_were(trees: Trees) -> None:
    call = Call(trees, facts={"construction": "sectional"}, symptoms=["noisy-door"], people=["door technician"])
    assert not any(isinstance(block, Picture) for block in record(call).rest)
    call.tried("replace-rollers", worked=False)
    call.tried("replace-hinges", worked=True)
    pictures = [block for block in record(call).rest if isinstance(block, Picture)]
    assert [each.label for each in pictures] == ["Sectional door: Roller, Hinge"]
    assert "▶H◀ Hinge" in pictures[0].text and "▶J◀ Roller" in pictures[0].text
    assert pictures[0].svg in html_of_document(record(call)) and ONLY_A_SKETCH in text_of(record(call))


def test_the_back_of_a_sheet_shows_where_what_is_likely_would_be_mended(trees: Trees) -> None:
    call = Call(trees, facts={"construction": "sectional"}, symptoms=["noisy-door"])
    page = html.unescape(html_of_document(sheet_document(call, make_sheet(call))))
    front, back = page.split("<section class='rest'>")
    assert "<svg" not in front and back.count("<svg") in (1, 2) and ONLY_A_SKETCH in back
