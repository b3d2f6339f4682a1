"""YAML as plain values, with the line each of them was written on.

Composed by the C loader and built here, because YAML's own construction loses the line marks, lets a
repeated key silently win, and reads ``no``, ``on`` and ``1:30`` as something no author meant.
Scalars become numbers only when they look like plain decimal numbers; every other scalar stays text.
"""

from __future__ import annotations

import math
import re
from typing import Any

import yaml

from diagnose.knowledge.problems import Place, Problems
from diagnose.knowledge.words import shortened

_Loader = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_NUMBER = re.compile(r"[-+]?(\d+(\.\d*)?|\.\d+)([eE][-+]?\d+)?")
# What is written out may be as long as it is; what aliases repeat of it is an explosion beyond this many nodes.
_MOST_REPEATED = 200_000
# No tree needs more levels; and no number that is meant has more digits.
_MOST_LEVELS = 50
_MOST_DIGITS = 40


class Marked:
    """A value read from YAML, and the place of every key and item below it.

    ``places`` maps a path of keys and list positions to the line it starts on; ``()`` is the value itself.
    ``columns`` maps it to the column there, from 1.
    """

    def __init__(
        self,
        value: Any,
        places: dict[tuple[str | int, ...], Place],
        columns: dict[tuple[str | int, ...], int] | None = None,
    ) -> None:
        self.value = value
        self.places = places
        self.columns = columns or {}

    def place(self, *path: str | int) -> Place:
        """The place of the nearest written ancestor of ``path``."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places[path]

    def spot(self, *path: str | int) -> Place:
        """The same, to the column."""
        while path and path not in self.places:
            path = path[:-1]
        line = self.places[path]
        return Place(line.file, line.line, self.columns.get(path, 0))


def read_marked(text: str, file: str, problems: Problems) -> Marked | None:
    """Read one YAML document; faults go to ``problems`` and give ``None`` where nothing can be made of it."""
    start = Place(file, 1)
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        place, wrong, mend = _slip(error, file, text)
        problems.error(place, wrong, mend, "yaml")
        return None
    except RecursionError:
        problems.error(start, *_TOO_DEEP)
        return None
    except yaml.YAMLError as error:
        problems.error(start, f"This is not YAML: {' '.join(str(error).split())}.", "Save it as UTF-8 text.", "yaml")
        return None
    if node is None:
        return Marked({}, {(): start})
    builder = _Builder(file, problems)
    try:
        value = builder.build(node, ())
    except _Refused as error:
        problems.error(error.place, *error.said)
        return None
    return Marked(value, builder.places, builder.columns)


_LOOK = "Look at indentation, quotes and colons."
_NOT_CLOSED = "opens here and is not closed, or something in it is not YAML."
# What the reader of YAML says of a slip, and what we say: what is wrong, what to do, and whether the slip is where
# what it belongs to begins (a bracket, a quote) and not where reading stopped.
_SLIPS: tuple[tuple[str, str, str, bool], ...] = (
    (
        "mapping values are not allowed",
        "a colon stands in the middle of a text here, or this line is not lined up with its neighbours.",
        "Put a text that holds ': ' in quotes, or line the key up.",
        False,
    ),
    ("unknown escape", "a backslash in double quotes means something else.", "Use single quotes, or two of it.", False),
    ("quoted scalar", "a quote opens here and is not closed.", "Close it, or double a quote that is meant.", True),
    ("flow mapping", f"a brace {_NOT_CLOSED}", "Close it; put a text that holds ': ' or ',' in quotes.", True),
    ("flow sequence", f"a bracket {_NOT_CLOSED}", "Close it; put a text that holds ': ' or ',' in quotes.", True),
    ("expected key", "this line is not lined up with the keys above it.", "Indent it as its neighbours are.", False),
    ("'-' indicator", "this line is not lined up with the list above it.", "Begin it with '- ', or indent it.", False),
    ("expected ':'", "this line is neither a key nor part of a text.", "Write 'key: value', or indent it.", True),
    ("undefined alias", "'*' begins the name of an anchor, and there is none of that name.", "Quote the text.", False),
    ("cannot start any token", "a text may not begin with this sign.", "Put the text in quotes.", False),
    ("nesting depth", "this is nested too deeply (nesting depth).", "No tree needs more than ten levels.", False),
)


def _slip(error: yaml.MarkedYAMLError, file: str, text: str) -> tuple[Place, str, str]:
    """Where a file stops being YAML, what is wrong there, and what to do: in plain words, at the place to mend."""
    said = " ".join(filter(None, [error.context, error.problem]))
    _, wrong, mend, at_start = next((slip for slip in _SLIPS if slip[0] in said), ("", "", "", False))
    begins, stops = error.context_mark, error.problem_mark or error.context_mark
    if stops is None:
        return Place(file, 1), f"This is not YAML: {said}.", _LOOK
    lines = text.splitlines()
    line = lines[stops.line] if stops.line < len(lines) else ""
    before, sign = line[: stops.column], line[stops.column : stops.column + 1]
    mark = begins if at_start and begins is not None else stops
    if sign == "\t":
        wrong, mend = "a tab stands here.", "Indent with spaces."
    elif "expected key" in said and before.strip():
        wrong, mend = "nothing may stand behind a closed quote or bracket.", "Take it out, or quote the whole text."
    elif mark is begins and sign == ":" and (mark.line == stops.line or ": " in before):
        # It is a colon that stops what the brace or bracket holds, and not the want of another one.
        mark, (_, wrong, mend, _) = stops, _SLIPS[0]
    place = Place(file, mark.line + 1, mark.column + 1)
    return place, f"This is not YAML: {wrong or said + '.'}", mend or _LOOK


_TOO_DEEP = ("This is nested too deeply.", "No tree needs more than ten levels.", "yaml")
_EXPLODES = ("This anchor, repeated, grows beyond all measure.", "Write the entry out where it is used.", "yaml")


class _Refused(Exception):
    def __init__(self, place: Place, said: tuple[str, str, str]) -> None:
        self.place = place
        self.said = said


class _Builder:
    def __init__(self, file: str, problems: Problems) -> None:
        self._file = file
        self._problems = problems
        # Nodes built already, by identity, and how many were built again because an alias names them.
        self._built: set[int] = set()
        self._repeated = 0
        self._open: set[int] = set()
        self.places: dict[tuple[str | int, ...], Place] = {}
        self.columns: dict[tuple[str | int, ...], int] = {}

    def _spot(self, node: yaml.Node) -> Place:
        return Place(self._file, node.start_mark.line + 1, node.start_mark.column + 1)

    def build(self, node: yaml.Node, path: tuple[str | int, ...]) -> Any:
        place = Place(self._file, node.start_mark.line + 1)
        if path not in self.places:
            self.places[path], self.columns[path] = place, node.start_mark.column + 1
        self._repeated += id(node) in self._built
        self._built.add(id(node))
        if self._repeated > _MOST_REPEATED or id(node) in self._open:
            raise _Refused(place, _EXPLODES)
        if len(path) > _MOST_LEVELS:
            raise _Refused(place, _TOO_DEEP)
        if isinstance(node, yaml.ScalarNode):
            return self._scalar(node)
        self._open.add(id(node))
        try:
            if isinstance(node, yaml.SequenceNode):
                return [self.build(item, (*path, i)) for i, item in enumerate(node.value)]
            return self._mapping(node, path)
        finally:
            self._open.discard(id(node))

    def _mapping(self, node: yaml.Node, path: tuple[str | int, ...]) -> dict[str, Any]:
        mapping: dict[str, Any] = {}
        for key_node, value_node in node.value:
            place = Place(self._file, key_node.start_mark.line + 1)
            if not isinstance(key_node, yaml.ScalarNode):
                self._problems.error(self._spot(key_node), "A key must be a word.", "Write it as plain text.", "yaml")
                continue
            key = key_node.value
            if key in mapping:
                first = self.places[(*path, key)].line
                self._problems.error(
                    self._spot(key_node),
                    f"'{key}' is written twice here, first on line {first}.",
                    "Keep one of the two.",
                    "duplicate-key",
                )
                continue
            self.places[(*path, key)], self.columns[(*path, key)] = place, key_node.start_mark.column + 1
            mapping[key] = self.build(value_node, (*path, key))
        return mapping

    def _scalar(self, node: yaml.ScalarNode) -> str | int | float | None:
        if _NUMBER.fullmatch(node.value) and not node.style:
            digits = sum(letter.isdigit() for letter in node.value)
            if digits > _MOST_DIGITS or not math.isfinite(float(node.value)):
                wrong = f"'{shortened(node.value)}' is a longer or larger number than can be meant."
                mend = "Write it shorter, or in quotes if it is text."
                self._problems.error(self._spot(node), wrong, mend, "shape")
                return None
        return _scalar(node)


def _scalar(node: yaml.ScalarNode) -> str | int | float | None:
    text: str = node.value
    if node.style in ("'", '"', "|", ">"):
        return text
    if text in ("", "~", "null"):
        return None
    if _NUMBER.fullmatch(text):
        # A leading zero is kept as text: it is a code or a part number, not an amount.
        if re.fullmatch(r"[-+]?0\d+", text):
            return text
        return int(text) if re.fullmatch(r"[-+]?\d+", text) else float(text)
    return text
