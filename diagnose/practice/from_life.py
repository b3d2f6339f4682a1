"""Doors from life: broken as doors break, written down by people who had seen no likelihood.

Each says what is wrong, what a technician would find, and which causes are a fair name for it. They are the one set of
doors that the trees did not make, so they say how true the trees are, where a simulated door says only how well what
the trees say is used. A file is a list of such doors; every fault in it is told at its line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from diagnose.knowledge.distributions import Beyond, Shares, centre, mostly
from diagnose.knowledge.entries import read_entry
from diagnose.knowledge.files import file_text
from diagnose.knowledge.marked_yaml import Marked, read_marked
from diagnose.knowledge.model import COULD_NOT_TELL, Check, Facts, Text, Trees
from diagnose.knowledge.problems import Place, Problems, TreeError, did_you_mean
from diagnose.knowledge.words import NotUnderstood
from diagnose.practice.referring import as_the_trees_have_them, faults_of_answer, faults_of_facts

# One door in so many is kept aside, by the number in its id, so that what was learnt from the others can be judged.
SET_ASIDE = 3
_ID = re.compile(r"[a-z]+(\d+)")


class DoorError(TreeError):
    """Doors cannot be used; ``str`` gives every fault of all their files, a line each."""


class LifeDoor(msgspec.Struct, frozen=True, kw_only=True):
    """A door as somebody found it.

    ``found`` is check → what one would type, for every check that is not as on a sound door; ``cannot`` are checks that
    nobody could do or tell there. ``causes`` holds one entry for each fault in the door: the causes that are a fair
    name for it. It is empty where the fault is in no tree. ``also`` are complaints that would have been fair, too.
    """

    id: str
    says: Text
    truth: Text
    facts: dict[str, str | tuple[str, ...]]
    complaint: str
    also: tuple[str, ...] = ()
    found: dict[str, str] = {}
    cannot: tuple[str, ...] = ()
    causes: tuple[tuple[str, ...], ...]

    @property
    def set_aside(self) -> bool:
        number = _ID.fullmatch(self.id)
        return number is not None and int(number[1]) % SET_ASIDE == 0

    def shows(self, check: Check) -> str:
        """What somebody at this door would type for a check."""
        if check.id in self.cannot:
            return COULD_NOT_TELL
        return self.found[check.id] if check.id in self.found else shown_when_sound(check)


def shown_when_sound(check: Check) -> str:
    """What a sound door shows: the likeliest answer, or the middle of the reading's likeliest spread."""
    state = check.healthy
    if state is None:
        return COULD_NOT_TELL
    if isinstance(state, Shares):
        return max(state.shares, key=lambda answer: state.shares[answer])
    spread = mostly(state)
    return "OL" if isinstance(spread, Beyond) else f"{centre(spread):.5g} {check.unit}".strip()


@dataclass(frozen=True)
class DoorFile:
    """A file of doors, ``name`` without its folder."""

    name: str
    doors: tuple[LifeDoor, ...]


def load_doors(trees: Trees, places: Iterable[str | Path]) -> tuple[DoorFile, ...]:
    """The doors of files and folders, in their order. Raises ``DoorError`` with every fault of all of them."""
    problems = Problems()
    files, ids = [], dict[str, Place]()
    for place in map(Path, places):
        paths = sorted(place.glob("*.yaml")) if place.is_dir() else [place]
        if not paths:
            problems.error(Place(str(place), 1), "This folder holds no doors.", "Add *.yaml files.", "folder")
        files += [DoorFile(path.name, tuple(_read_file(trees, path, ids, problems))) for path in paths]
    if problems.errors:
        raise DoorError(problems.errors)
    return tuple(files)


def _read_file(trees: Trees, path: Path, ids: dict[str, Place], problems: Problems) -> list[LifeDoor]:
    text = file_text(path, str(path), problems, "Give a file of doors.", "yaml")
    marked = read_marked(text, str(path), problems) if text is not None else None
    if marked is None:
        return []
    if not isinstance(marked.value, list) or not marked.value:
        problems.error(marked.place(), "A file of doors is a list.", "Begin each door with '- id:'.", "shape")
        return []
    doors = (_Reader(trees, marked, number, problems).read(ids) for number in range(len(marked.value)))
    return [door for door in doors if door is not None]


class _Reader:
    """Reads one door of a file, and holds it against the trees."""

    def __init__(self, trees: Trees, marked: Marked, number: int, problems: Problems) -> None:
        self._trees = trees
        self._marked = marked
        self._number = number
        self._problems = problems

    def read(self, ids: dict[str, Place]) -> LifeDoor | None:
        written = self._marked.value[self._number]
        if not isinstance(written, dict):
            self._fault((), "A door is a list of 'key: value'.", "Begin it with '- id:'.", "shape")
            return None
        identity = self._identity(written.pop("id", None), ids)
        door = read_entry(
            LifeDoor,
            self._marked,
            (self._number,),
            self._problems,
            {"id": identity},
            {"causes": _faults_of, "found": _findings_of},
        )
        if door is None:
            return None
        door = msgspec.structs.replace(door, facts=self._facts(door.facts))
        self._refer(door)
        return door

    def _fault(self, path: tuple[str | int, ...], wrong: str, mend: str, rule: str = "unknown-id") -> None:
        self._problems.error(self._marked.place(self._number, *path), wrong, mend, rule)

    def _identity(self, written: Any, ids: dict[str, Place]) -> str:
        if not isinstance(written, str) or not _ID.fullmatch(written):
            self._fault(("id",), "A door needs an id of letters and a number.", "Write 'id: k01'.", "id")
            return ""
        place = self._marked.place(self._number, "id")
        if written in ids:
            self._fault(("id",), f"'{written}' is another door's id, at {ids[written]}.", "Give it its own.", "id")
        ids.setdefault(written, place)
        return written

    def _facts(self, written: Facts) -> dict[str, str | tuple[str, ...]]:
        for name, *fault in faults_of_facts(self._trees, written):
            self._fault(("facts", name), *fault)
        return as_the_trees_have_them(self._trees, written)

    def _refer(self, door: LifeDoor) -> None:
        trees = self._trees
        for path, symptom in ((("complaint",), door.complaint), *((("also", i), s) for i, s in enumerate(door.also))):
            if symptom not in trees.symptoms:
                self._fault(path, f"'{symptom}' is no complaint.", did_you_mean(symptom, trees.symptoms))
        for name, text in door.found.items():
            for fault in faults_of_answer(trees, name, text):
                self._fault(("found", name), *fault)
        for index, name in enumerate(door.cannot):
            if name not in trees.checks:
                self._fault(("cannot", index), f"'{name}' is no check.", did_you_mean(name, trees.checks))
            elif name in door.found:
                wrong = f"'{name}' was found, and could not be told."
                self._fault(("cannot", index), wrong, "Leave it out of 'found' or of 'cannot'.", "twice")
        for cause in dict.fromkeys(cause for fault in door.causes for cause in fault):
            if cause not in trees.causes:
                self._fault(("causes",), f"'{cause}' is no cause.", did_you_mean(cause, trees.causes))


def _findings_of(written: Any) -> dict[str, str]:
    """Check → what one would type; several findings, where a check may have them, as a list."""
    if not isinstance(written, dict):
        raise NotUnderstood("'found' is a list of 'check: what was found'.", "Write 'eye-lamp: dark'.")
    found = {}
    for name, value in written.items():
        several = value if isinstance(value, list) else [value]
        if not all(isinstance(each, str | int | float) for each in several):
            raise NotUnderstood(f"'{name}' has no finding that can be read.", "Write one word or text, or a list.")
        found[str(name)] = ", ".join(map(str, several))
    return found


def _faults_of(written: Any) -> tuple[tuple[str, ...], ...]:
    """The faults in a door: a list of causes is one fault with several fair names; a list of lists is several."""
    wrong = NotUnderstood(
        "'causes' is a list.", "Write [cause], [[one], [other]] for two faults, or [] for none known."
    )
    if not isinstance(written, list):
        raise wrong
    faults = written if all(isinstance(fault, list) for fault in written) else [written]
    if not all(fault and all(isinstance(cause, str) for cause in fault) for fault in faults):
        raise wrong
    return tuple(tuple(fault) for fault in faults)
