"""YAML as plain values, with the line each of them was written on.

Composed by the C loader and built here, because YAML's own construction loses the line marks, lets a
repeated key silently win, and reads ``no``, ``on`` and ``1:30`` as something no author meant.
Scalars become numbers only when they look like plain decimal numbers; every other scalar stays text.
"""

from __future__ import annotations

import math
import re
from pathlib import Path
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
    """

    def __init__(self, value: Any, places: dict[tuple[str | int, ...], Place]) -> None:
        self.value = value
        self.places = places

    def place(self, *path: str | int) -> Place:
        """The place of the nearest written ancestor of ``path``."""
        while path and path not in self.places:
            path = path[:-1]
        return self.places[path]


def file_text(path: Path, name: str, problems: Problems, mend: str, rule: str) -> str | None:
    """The text of a file; ``None`` where it cannot be read, which is said of ``name`` with ``mend``."""
    try:
        return path.read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        reason = error.strerror if isinstance(error, OSError) else "it is not UTF-8 text"
        problems.error(Place(name, 1), f"This file cannot be read: {reason}.", mend, rule)
        return None


def read_marked(text: str, file: str, problems: Problems) -> Marked | None:
    """Read one YAML document; faults go to ``problems`` and give ``None`` where nothing can be made of it."""
    start = Place(file, 1)
    try:
        node = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        place = Place(file, mark.line + 1) if mark else start
        wrong = " ".join(filter(None, [error.context, error.problem]))
        problems.error(place, f"This is not YAML: {wrong}.", "Look at indentation, quotes and colons.", "yaml")
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
    return Marked(value, builder.places)


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

    def build(self, node: yaml.Node, path: tuple[str | int, ...]) -> Any:
        place = Place(self._file, node.start_mark.line + 1)
        self.places.setdefault(path, place)
        self._repeated += id(node) in self._built
        self._built.add(id(node))
        if self._repeated > _MOST_REPEATED or id(node) in self._open:
            raise _Refused(place, _EXPLODES)
        if len(path) > _MOST_LEVELS:
            raise _Refused(place, _TOO_DEEP)
        if isinstance(node, yaml.ScalarNode):
            return self._scalar(node, place)
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
                self._problems.error(place, "A key must be a word.", "Write it as plain text.", "yaml")
                continue
            key = key_node.value
            if key in mapping:
                first = self.places[(*path, key)].line
                self._problems.error(
                    place,
                    f"'{key}' is written twice here, first on line {first}.",
                    "Keep one of the two.",
                    "duplicate-key",
                )
                continue
            self.places[(*path, key)] = place
            mapping[key] = self.build(value_node, (*path, key))
        return mapping

    def _scalar(self, node: yaml.ScalarNode, place: Place) -> str | int | float | None:
        if _NUMBER.fullmatch(node.value) and not node.style:
            digits = sum(letter.isdigit() for letter in node.value)
            if digits > _MOST_DIGITS or not math.isfinite(float(node.value)):
                wrong = f"'{shortened(node.value)}' is a longer or larger number than can be meant."
                self._problems.error(place, wrong, "Write it shorter, or in quotes if it is text.", "shape")
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
