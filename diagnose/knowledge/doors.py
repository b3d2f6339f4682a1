"""Kinds of door, all of them: every combination of facts that some entry makes a difference of.

A door is a value for each fact (a set of values where a fact may have many). Only the values that the conditions at
hand tell apart are kept, so that a handful of combinations stand for all, and nothing is left to chance.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.fitting import can_be
from diagnose.knowledge.model import Conditions, Facts, Held, Trees

Mask = NDArray[np.bool_]


class Doors:
    """``count`` kinds of door. Of each fact there is an array [doors] of numbers, a bit for each of its answers."""

    def __init__(self, trees: Trees, bits: Mapping[str, NDArray[np.int64]], count: int) -> None:
        self._answers = {name: fact.answers for name, fact in trees.facts.items()}
        self._many = {name for name, fact in trees.facts.items() if fact.many == "yes"}
        self._bits = dict(bits)
        self.count = count
        self._fits: dict[int, tuple[Conditions, Mask]] = {}

    def fit(self, conditions: Conditions) -> Mask:
        """Which of the doors an entry with ``conditions`` applies to, [doors]; not to be written to."""
        # Held with the conditions, so that no others can come to have their identity.
        if id(conditions) not in self._fits:
            fits = np.ones(self.count, dtype=bool)
            for fact, allowed in conditions.items():
                fits &= (self._bits[fact] & _bits(self._answers[fact], allowed)) != 0
            fits.flags.writeable = False
            self._fits[id(conditions)] = conditions, fits
        return self._fits[id(conditions)][1]

    def facts(self, door: int) -> dict[str, str | tuple[str, ...]]:
        """The facts of one of the doors, as a call takes them."""
        found: dict[str, str | tuple[str, ...]] = {}
        for fact, bits in self._bits.items():
            values = tuple(a for i, a in enumerate(self._answers[fact]) if int(bits[door]) >> i & 1)
            if values or fact in self._many:
                found[fact] = values if fact in self._many else values[0]
        return found


def all_doors(
    trees: Trees, conditions: Iterable[Conditions], fixed: Mapping[str, Sequence[str]] | None = None
) -> Doors:
    """Every kind of door that ``conditions`` tell apart; ``fixed`` gives a fact that may have many just one set."""
    mentioned: dict[str, set[int]] = {}
    for each in conditions:
        for fact, allowed in each.items():
            mentioned.setdefault(fact, set()).add(_bits(trees.facts[fact].answers, allowed))
    own = _own_conditions(trees, mentioned)
    for fact, having, other, wanted, _ in own:
        mentioned[fact].add(having)
        mentioned[other].add(wanted)
    fixed = fixed or {}
    choices: dict[str, list[int]] = {}
    for fact in trees.facts:
        answers = trees.facts[fact].answers
        if fact in fixed:
            choices[fact] = [_bits(answers, fixed[fact])]
        elif fact in mentioned:
            alike = _told_apart([answers.index(each) for each in trees.facts[fact].served], mentioned[fact])
            choices[fact] = _subsets(alike) if trees.facts[fact].many == "yes" else alike
    grid = np.meshgrid(*(np.array(values, dtype=np.int64) for values in choices.values()), indexing="ij")
    bits = {fact: column.ravel() for fact, column in zip(choices, grid, strict=True)}
    there = np.ones(math.prod(map(len, choices.values())), dtype=bool)
    for fact, having, other, wanted, of_such in own:
        against = ((bits[fact] & having) != 0) & ((bits[other] & wanted) == 0)
        if of_such:
            # A fact that is not of such a door has no answer there.
            bits[fact][against] = 0
        else:
            there &= ~against
    return Doors(trees, {fact: column[there] for fact, column in bits.items()}, int(there.sum()))


def _own_conditions(trees: Trees, mentioned: Iterable[str]) -> list[tuple[str, int, str, int, bool]]:
    """What the facts that are mentioned ask of each other: a fact and some of its answers, another, and what that may
    be; last, whether the fact is none of such a door at all otherwise.

    Of a fact that may have many, each set of values is taken to be there: that can only let further entries apply.
    """
    found = []
    single = [trees.facts[name] for name in mentioned if trees.facts[name].many == "no"]
    for fact in single:
        own = [(fact.answers, fact.applies, True), *(((one,), c, False) for one, c in fact.goes_with.items())]
        for answers, conditions, of_such in own:
            for other in single:
                if other.id in conditions:
                    allowed = _bits(other.answers, conditions[other.id])
                    found.append((fact.id, _bits(fact.answers, answers), other.id, allowed, of_such))
    return found


def fewest(trees: Trees, fact: str, conditions: Iterable[Conditions]) -> list[tuple[str, ...]]:
    """The smallest sets of a fact's values with which all of ``conditions`` hold.

    Whatever else such a door has can only make further entries apply, so that these are the doors with the least
    to go by.
    """
    wanted = [set(each[fact]) for each in conditions if fact in each]
    sets = {frozenset(chosen) for chosen in itertools.product(*wanted)}
    least = [each for each in sets if not any(other < each for other in sets)]
    return sorted(tuple(value for value in trees.facts[fact].answers if value in each) for each in least)


def meet(trees: Trees, *conditions: Conditions) -> bool:
    """Whether some door has all these entries."""
    both: Conditions = {}
    for each in conditions:
        for fact, allowed in each.items():
            if trees.facts[fact].many == "no":
                allowed = tuple(value for value in allowed if value in both.get(fact, allowed))
            if not allowed:
                return False
            both[fact] = allowed
    return _can_be(Held(trees), frozenset(both.items()))


@lru_cache(maxsize=1 << 16)
def _can_be(held: Held, conditions: frozenset[tuple[str, tuple[str, ...]]]) -> bool:
    return can_be(held.trees.facts, dict(conditions))


def _bits(answers: Sequence[str], allowed: Iterable[str]) -> int:
    return sum(1 << answers.index(value) for value in dict.fromkeys(allowed))


def _told_apart(indices: Iterable[int], masks: Iterable[int]) -> list[int]:
    """One value, as a bit, of each group that no mask tells apart."""
    groups: dict[tuple[bool, ...], int] = {}
    ordered = sorted(masks)
    for index in indices:
        groups.setdefault(tuple(bool(mask >> index & 1) for mask in ordered), 1 << index)
    return list(groups.values())


def _subsets(bits: Sequence[int]) -> list[int]:
    found = [0]
    for bit in bits:
        found += [each | bit for each in found]
    return found


def door_in_words(trees: Trees, facts: Facts) -> str:
    """A door as a sentence names it: its facts that are known, and what it has."""
    said = []
    for fact, value in facts.items():
        known = trees.facts[fact]
        named = ", ".join(map(known.called, value)) if isinstance(value, tuple) else known.called(value)
        said.append(f"{known.title.lower()}: {named or 'none'}")
    return "; ".join(said)
