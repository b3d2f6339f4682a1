"""Every two causes of a symptom, on every kind of door that can have either: how well all checks together tell them
apart.

The measure is the overlap of what the two causes show, Σ √(p·q) over a check's answers (Bhattacharyya, 1943).
Answers being independent once the cause is known, the overlaps of several checks multiply, and whoever decides
between two equally likely causes from all of them is wrong with a chance of at most half their product (Kailath,
*The divergence and Bhattacharyya distance measures in signal selection*, 1967).

Nothing is sampled. More devices on a door only make more checks apply, so that of each pair's doors those with the
fewest are looked at, each with every combination of the other facts that the entries at hand tell apart.
"""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np

from diagnose.knowledge.checker import Book
from diagnose.knowledge.doors import Doors, Mask, all_doors, fewest
from diagnose.knowledge.graph import chain
from diagnose.knowledge.model import Conditions, Facts, Symptom, Trees
from diagnose.reasoning.situation import Array
from diagnose.review.weighing import Answers, weigh

# What is asked of two causes: decided wrongly at most once in ten, all checks done; and one check that alone tells
# the most of it, lest many small hints add up to a difference that no one ever sees.
MISTAKEN = 0.10
CLEAR_OVERLAP = 0.70


@dataclass(frozen=True)
class Pair:
    """Two causes on the door that tells them apart least.

    ``overlap`` is what all checks together leave, 1 for nothing told; ``best`` is the check that tells them apart
    best and ``best_overlap`` what that one leaves by itself.
    """

    symptom: str
    first: str
    second: str
    facts: Facts
    overlap: float
    best: str
    best_overlap: float

    @property
    def mistaken(self) -> float:
        """At most this often is the wrong one of the two held likelier, all checks done."""
        return self.overlap / 2

    @property
    def margin(self) -> float:
        """How far beyond what is asked, 1 being just enough, in the logarithm of the overlap."""
        return min(_enough(-math.log(max(self.overlap, 1e-300)), -math.log(max(self.best_overlap, 1e-300))))


def pairs(book: Book) -> Iterator[Pair]:
    """Every two causes of every symptom that one door can have, each once, on its least telling door."""
    weighed = weigh(book)
    for symptom in book.trees.symptoms.values():
        work = functools.partial(_listed, book, symptom, weighed)
        yield from book.kept.once("pairs", told_of(book, symptom.id), list[Pair], work)


def same_remedy(trees: Trees, cause: str, other: str) -> bool:
    """Whether one of two causes says that the same remedy serves both."""
    found = [trees.causes[each].same_remedy for each in (cause, other) if each in trees.causes]
    return any(cause in served or other in served for served in found)


@functools.lru_cache(maxsize=1024)
def told_of(book: Book, symptom: str) -> tuple[Any, ...]:
    """All that the causes of a symptom are told apart by, on every door: what a result about them is made from."""
    trees = book.trees
    causes = trees.symptoms[symptom].causes
    found: list[Any] = [trees.facts, trees.costs, trees.symptoms[symptom], *(trees.causes[name] for name in causes)]
    for each in weigh(book).values():
        if not each.state_of.keys().isdisjoint(causes):
            states = [each.state(cause) for cause in causes]
            found += [trees.checks[name] for name in chain(trees, each.check.id)]
            found += [each.likelihood[states].tobytes(), each.typical[states].tobytes(), each.flat.tobytes()]
    return tuple(found)


def _listed(book: Book, symptom: Symptom, weighed: Mapping[str, Answers]) -> list[Pair]:
    return list(_of_symptom(book, symptom, weighed))


def _of_symptom(book: Book, symptom: Symptom, answers: Mapping[str, Answers]) -> Iterator[Pair]:
    trees = book.trees
    causes = list(symptom.causes)
    bearing = [a for a in answers.values() if any(cause in a.state_of for cause in causes)]
    distance = _distances(bearing, causes)
    row_of = {each.check.id: row for row, each in enumerate(bearing)}
    groups = [[row_of[name] for name in group] for group in grouped(bearing)]
    worst: dict[tuple[int, int], Pair] = {}
    for chosen, members in _by_devices(trees, symptom, causes).items():
        doors = _doors(trees, symptom, causes, bearing, dict(chosen))
        may = np.array([doors.fit(symptom.applies) & doors.fit(trees.causes[cause].applies) for cause in causes])
        masks = can_be_done(trees, bearing, doors)
        # Doors with the same suspects and the same checks are one.
        kinds = first_of_each([*may, *masks])
        may, masks = may[:, kinds], masks[:, kinds]
        first, second = np.array(members).T
        apart = distance[:, first, second]
        told, clearest = _told(apart, masks, groups)
        margin = np.minimum(*_enough(told, clearest))
        for column, (i, j) in enumerate(members):
            here = np.flatnonzero(may[i] & may[j])
            if not len(here):
                continue
            door = int(here[np.argmin(margin[here, column])])
            overlap = float(np.exp(-told[door, column]))
            best, best_overlap = _best(bearing, apart[:, column], masks[:, door])
            pair = Pair(symptom.id, causes[i], causes[j], doors.facts(kinds[door]), overlap, best, best_overlap)
            if (i, j) not in worst or pair.margin < worst[i, j].margin:
                worst[i, j] = pair
    yield from worst.values()


_Number = TypeVar("_Number", float, Array)


def _enough(told: _Number, clearest: _Number) -> tuple[_Number, _Number]:
    """What is told, as shares of what is asked: by all checks together, and by the most telling one."""
    return told / -math.log(2 * MISTAKEN), clearest / -math.log(CLEAR_OVERLAP)


def _distances(bearing: list[Answers], causes: list[str]) -> Array:
    """−ln overlap of each check between every two causes, [checks, causes, causes]."""
    found = np.zeros((len(bearing), len(causes), len(causes)))
    for row, each in enumerate(bearing):
        states = [each.state(cause) for cause in causes]
        found[row] = -np.log(np.maximum(each.overlap(), 1e-300))[np.ix_(states, states)]
    return found


def first_of_each(rows: Sequence[Mask]) -> list[int]:
    """Of all doors for which every one of ``rows``, each [doors], says the same, the first; in order."""
    firsts: dict[bytes, int] = {}
    for door, said in enumerate(np.ascontiguousarray(np.packbits(np.array(rows), axis=0).T)):
        firsts.setdefault(said.tobytes(), door)
    return list(firsts.values())


def grouped(bearing: Sequence[Answers]) -> list[list[str]]:
    """Checks that measure the same thing, of which only the most telling counts."""
    groups: dict[str, list[str]] = {}
    for each in bearing:
        groups.setdefault(each.check.group or f"alone {each.check.id}", []).append(each.check.id)
    return list(groups.values())


def _told(apart: Array, masks: Mask, groups: list[list[int]]) -> tuple[Array, Array]:
    """−ln overlap of all checks that apply, and of the most telling of them, each [doors, pairs], from that of each
    check, ``apart`` [checks, pairs]."""
    told, clearest = np.zeros((2, masks.shape[1], apart.shape[1]))
    for rows in groups:
        if not apart[rows].any():
            continue
        group = functools.reduce(np.maximum, (np.outer(masks[row], apart[row]) for row in rows))
        told += group
        np.maximum(clearest, group, out=clearest)
    return told, clearest


def _best(bearing: list[Answers], apart: Array, applying: Mask) -> tuple[str, float]:
    telling = np.where(applying, apart, -1.0)
    if not len(telling) or telling.max() <= 0:
        return "", 1.0
    row = int(np.argmax(telling))
    return bearing[row].check.id, float(np.exp(-telling[row]))


_Chosen = tuple[tuple[str, tuple[str, ...]], ...]


def _by_devices(trees: Trees, symptom: Symptom, causes: list[str]) -> dict[_Chosen, list[tuple[int, int]]]:
    """Pairs by the least sets of values, of facts that may have many, with which both causes can be there."""
    found: dict[_Chosen, list[tuple[int, int]]] = {}
    many = [name for name, fact in trees.facts.items() if fact.many == "yes"]
    for i, j in itertools.combinations(range(len(causes)), 2):
        conditions = [symptom.applies, trees.causes[causes[i]].applies, trees.causes[causes[j]].applies]
        for sets in itertools.product(*(fewest(trees, fact, conditions) for fact in many)):
            found.setdefault(tuple(zip(many, sets, strict=True)), []).append((i, j))
    return found


def _doors(
    trees: Trees, symptom: Symptom, causes: list[str], bearing: list[Answers], fixed: Mapping[str, tuple[str, ...]]
) -> Doors:
    conditions: list[Conditions] = [symptom.applies, *(trees.causes[cause].applies for cause in causes)]
    conditions += [trees.checks[name].applies for each in bearing for name in chain(trees, each.check.id)]
    return all_doors(trees, conditions, fixed)


def can_be_done(trees: Trees, bearing: Sequence[Answers], doors: Doors) -> Mask:
    """On which doors each check can be answered at all, [checks, doors]: it applies, and so does all it is computed
    from."""
    found: dict[str, Mask] = {}

    def on(check: str) -> Mask:
        if check not in found:
            each = trees.checks[check]
            fits = doors.fit(each.applies).copy()
            for name in each.sources:
                if name in trees.checks:
                    fits &= on(name)
            for name in each.after:
                # What comes before is passed over on a door it is not for.
                fits &= on(name) | ~doors.fit(trees.checks[name].applies)
            found[check] = fits
        return found[check]

    return np.array([on(each.check.id) for each in bearing]).reshape(len(bearing), doors.count)
