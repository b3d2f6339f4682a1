"""Components and the sketches that show them, told in lines and drawn as SVG, both from the same rows of the trees."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable, Iterator, Sequence
from html import escape

from diagnose.calls.document import Block, Line, Picture
from diagnose.calls.words import Told
from diagnose.knowledge.components import component_at, facts_supposed, marks_in, sketches_of
from diagnose.knowledge.model import Component, Conditions, Facts, Sketch, Task, Trees, holds

ONLY_A_SKETCH = "A sketch of a usual door, not to scale: the maker's drawing and the door itself come first."
NOT_THIS_KIND = "What kind of door this is has not been said: this is a usual one."
# A column and a row of a drawing, in pixels.
_WIDE, _HIGH = 9, 18
_LEGEND_WIDEST = 100


def _to_find_it(component: Component) -> list[Told]:
    """Of an entry of the glossary, what can hurt first, then where it sits and what it looks like."""
    hurts = [Told("text", f"Take care: {component.danger}")] if component.danger else []
    found = [Told("item", f"Where: {component.where}"), Told("item", f"Looks like: {component.looks_like}")]
    return [Told("heading", component.title), *hurts, *found]


def _more_of_it(trees: Trees, component: Component) -> list[Told]:
    """What it is for, what else it is called, and how a caller is asked to look at it."""
    told = [f"For: {component.what}"]
    if component.also:
        told.append(f"Also called: {', '.join(component.also)}.")
    if component.caller:
        told.append(f"Said to a caller: {component.caller}")
        texts = {each.title: each.texts.get(f"components.{component.id}.caller") for each in trees.languages.values()}
        told += [f"{title}: {text}" for title, text in texts.items() if text]
    return [Told("item", text) for text in told]


def sketch_told(trees: Trees, sketch: Sketch, marked: Collection[str] = (), width: int = 80) -> list[Told]:
    """A sketch row by row, the marks of the components ``marked`` pointed at, and what its letters stand for."""
    letters = _letters(sketch, marked)
    rows = [Told("drawn", _pointed(row, letters)) for row in sketch.rows]
    legend = [Told("drawn", row) for row in _legend(trees, sketch, letters, min(width, _LEGEND_WIDEST))]
    return [Told("heading", sketch.title), *rows, Told("drawn", ""), *legend]


def where_told(
    trees: Trees, component: Component, facts: Facts, supposed: Sequence[Conditions] = (), width: int = 80
) -> list[Told]:
    """Where a component is, on the sketch that fits a door with these facts best, and its entry in the glossary.

    What is not known of the door is taken as ``supposed`` has it, such as what the question applies to.
    """
    lines, more = _to_find_it(component), _more_of_it(trees, component)
    sketch = sketch_for(trees, component.id, facts, supposed)
    if sketch is None:
        return [*lines, *more]
    heading, *drawn = sketch_told(trees, sketch, [component.id], width)
    doubt = [] if holds(sketch.applies, facts) else [Told("text", NOT_THIS_KIND)]
    return [*lines, heading, *doubt, *drawn, Told("drawn", ""), Told("text", ONLY_A_SKETCH), *more]


def sketch_for(trees: Trees, component: str, facts: Facts, supposed: Sequence[Conditions] = ()) -> Sketch | None:
    """The sketch to show a component on; ``None`` where none shows it."""
    known = facts_supposed(trees, facts, *supposed)
    return next(iter(sketches_of(trees, component, known) or sketches_of(trees, component, {})), None)


def sketches_for(trees: Trees, tasks: Iterable[Task], facts: Facts) -> list[tuple[Sketch, tuple[str, ...]]]:
    """The fewest sketches, two at most, that show where ``tasks`` are done, each with the components it marks."""
    found: dict[str, tuple[Sketch, tuple[str, ...]]] = {}
    for task in tasks:
        component = component_at(trees, task, facts)
        if component is None:
            continue
        shown = next((each for each, _ in found.values() if component.id in each.marks.values()), None)
        sketch = shown or sketch_for(trees, component.id, facts, [task.applies])
        if sketch is not None:
            _, before = found.get(sketch.id, (sketch, ()))
            found[sketch.id] = sketch, tuple(dict.fromkeys([*before, component.id]))
    return list(found.values())[:2]


def sketched(trees: Trees, drawn: Iterable[tuple[Sketch, Sequence[str]]]) -> Iterator[Block]:
    """Sketches as a document has them, each with the components it marks."""
    for sketch, marked in drawn:
        text = "\n".join(line.text for line in sketch_told(trees, sketch, marked))
        named = ", ".join(trees.components[each].title for each in marked)
        yield Picture(sketch_svg(trees, sketch, marked), text, f"{sketch.title}: {named}")
        yield Line(ONLY_A_SKETCH, "small")


def _letters(sketch: Sketch, marked: Collection[str]) -> set[str]:
    return {letter for letter, component in sketch.marks.items() if component in marked}


def _pointed(row: str, letters: set[str]) -> str:
    """A row with a pointer at both sides of each of the marks ``letters``."""
    for column, letter in marks_in(row):
        if letter in letters:
            row = f"{row[: max(column - 1, 0)]}{'▶' if column else ''}{letter}◀{row[column + 2 :]}"
    return row


def _legend(trees: Trees, sketch: Sketch, letters: set[str], width: int) -> list[str]:
    """What the letters stand for, down and then across, in as many columns as there is room for."""
    titles = {letter: trees.components[component].title for letter, component in sorted(sketch.marks.items())}
    items = [f"▶{each}◀ {text}" if each in letters else f" {each}  {text}" for each, text in titles.items()]
    column = max(map(len, items), default=1) + 1
    columns = max(1, (width + 1) // column)
    high = -(-len(items) // columns)
    return ["".join(f"{each:<{column}}" for each in items[row::high]).rstrip() for row in range(high)]


# --- as SVG ---------------------------------------------------------------------------------------------------------

_TURNS = {
    "UP": ("UP",),
    "DOWN": ("DOWN",),
    "LEFT": ("LEFT",),
    "RIGHT": ("RIGHT",),
    "HORIZONTAL": ("LEFT", "RIGHT"),
    "VERTICAL": ("UP", "DOWN"),
}
_STEP = {"UP": "v-9", "DOWN": "v9", "LEFT": "h-4.5", "RIGHT": "h4.5"}
_SHADES = {"░": 0.15, "▒": 0.3, "▓": 0.5, "█": 1.0, "▌": 1.0, "▐": 1.0}
_ROUND = {"○": (4.0, "none"), "●": (4.0, "#000"), "◦": (2.0, "none")}
# Everything that is not drawn as lines and shapes is written, a word at a time.
_WORD = re.compile(r"[^\s]+")


def sketch_svg(trees: Trees, sketch: Sketch, marked: Collection[str] = ()) -> str:
    """The same sketch as a picture: black on white, the marks of ``marked`` filled; its legend beside it."""
    letters = _letters(sketch, marked)
    thin: list[str] = []
    thick: list[str] = []
    dashed: list[str] = []
    shapes: list[str] = []
    over: list[str] = []
    for number, row in enumerate(sketch.rows):
        y = number * _HIGH + _HIGH / 2
        written = list(row)
        for column, letter in marks_in(row):
            over.append(_mark_svg(column * _WIDE + _WIDE / 2, y, letter, letter in letters))
            written[column] = " "
        for column, sign in enumerate(written):
            x = column * _WIDE + _WIDE / 2
            for step, double, broken in _lines_of(sign):
                (dashed if broken else thick if double else thin).append(f"M{x:g} {y:g}{step}")
            if shape := _shape(sign, x, y):
                shapes.append(shape)
            if shape or _lines_of(sign):
                written[column] = " "
        for word in _WORD.finditer("".join(written)):
            over.append(
                f'<text x="{word.start() * _WIDE:g}" y="{y + 4:g}" textLength="{len(word[0]) * _WIDE - 1:g}"'
                f' lengthAdjust="spacing">{escape(word[0])}</text>'
            )
    left = (max(map(len, sketch.rows)) + 2) * _WIDE
    high = max(len(sketch.rows), len(sketch.marks)) * _HIGH
    for number, (letter, component) in enumerate(sorted(sketch.marks.items())):
        y = number * _HIGH + _HIGH / 2
        bold = ' font-weight="bold"' if letter in letters else ""
        over.append(_mark_svg(left + 8, y, letter, letter in letters))
        over.append(f'<text x="{left + 22:g}" y="{y + 4:g}"{bold}>{escape(trees.components[component].title)}</text>')
    wide = left + 26 + max(len(trees.components[each].title) for each in sketch.marks.values()) * 8
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-4 -2 {wide:g} {high + 4:g}" role="img"'
        f' font-family="monospace" font-size="13" fill="#000"><title>{escape(sketch.title)}</title>'
        f'<rect x="-4" y="-2" width="100%" height="100%" fill="#fff"/><g>{"".join(shapes)}</g>'
        f'<g fill="none" stroke="#000"><path d="{"".join(thin)}"/>'
        f'<path d="{"".join(thick)}" stroke-width="3" stroke="#555"/>'
        f'<path d="{"".join(dashed)}" stroke-dasharray="3 2"/></g>{"".join(over)}</svg>'
    )


def _mark_svg(x: float, y: float, letter: str, pointed: bool) -> str:
    back, front = ("#000", "#fff") if pointed else ("#fff", "#000")
    return (
        f'<circle cx="{x:g}" cy="{y:g}" r="7.5" fill="{back}" stroke="#000"/>'
        f'<text x="{x:g}" y="{y + 4:g}" text-anchor="middle" font-weight="bold" fill="{front}">{letter}</text>'
    )


def _lines_of(sign: str) -> list[tuple[str, bool, bool]]:
    """The strokes of a box-drawing character from the middle of its cell: each step, whether double, whether dashed."""
    if sign in "╱╲/\\":
        half = ("m-4.5 9l9 -18", False, False) if sign in "╱/" else ("m-4.5 -9l9 18", False, False)
        return [half]
    if sign == "~":
        return [("m-4.5 0q2.2 -6 4.5 0t4.5 0", False, False)]
    if sign == "-":
        return [("m-3 0h6", False, False)]
    name = unicodedata.name(sign, "")
    if not name.startswith("BOX DRAWINGS "):
        return []
    found: list[tuple[str, bool, bool]] = []
    whole = "DOUBLE" in name.split()[2:3]
    for part in name.removeprefix("BOX DRAWINGS ").split(" AND "):
        double = "DOUBLE" in part or (whole and "SINGLE" not in part)
        turns = [turn for word in part.split() for turn in _TURNS.get(word, ())]
        found += [(_STEP[turn], double, "DASH" in name) for turn in turns]
    return found


def _shape(sign: str, x: float, y: float) -> str:
    if sign in _SHADES:
        left = x if sign == "▐" else x - _WIDE / 2
        wide = _WIDE / 2 if sign in "▌▐" else _WIDE
        return f'<rect x="{left:g}" y="{y - 6:g}" width="{wide:g}" height="12" opacity="{_SHADES[sign]:g}"/>'
    if sign in _ROUND:
        radius, fill = _ROUND[sign]
        return f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{fill}" stroke="#000"/>'
    if sign == "□":
        return f'<rect x="{x - 4:g}" y="{y - 4:g}" width="8" height="8" fill="none" stroke="#000"/>'
    return ""
