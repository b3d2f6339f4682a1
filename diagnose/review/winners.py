"""Whether a cause comes first when it is the true one and every check answers as it most probably would."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import msgspec
import numpy as np

from diagnose.knowledge.checker import Book
from diagnose.knowledge.doors import Doors, Mask, all_doors, fewest
from diagnose.knowledge.graph import chain
from diagnose.knowledge.model import Facts, Symptom, Trees
from diagnose.reasoning.plan import information
from diagnose.reasoning.situation import UNLIKE, Array, Indices, make_situation, otherwise
from diagnose.review.pairs import can_be_done, first_of_each, grouped, same_remedy, told_of
from diagnose.review.weighing import Answers, weigh


@dataclass(frozen=True)
class Loser:
    """A cause that comes first on none of the doors tried, and what beats it on the door where it does best."""

    symptom: str
    cause: str
    winner: str
    # Its own probability there, and the winner's.
    probability: float
    ahead: float
    facts: Facts


def losers(book: Book) -> Iterator[Loser]:
    """Each cause of each symptom that never wins, with every check answered as that cause most probably would.

    The doors tried have the fewest devices that the cause needs, and all devices, each with every combination of the
    other facts. A cause with the same remedy may win in its place.
    """
    for symptom in book.trees.symptoms.values():
        work = functools.partial(_listed, book, symptom)
        yield from book.kept.once("losers", told_of(book, symptom.id), list[Loser], work)


def _listed(book: Book, symptom: Symptom) -> list[Loser]:
    return list(_of_symptom(book, symptom))


def _of_symptom(book: Book, symptom: Symptom) -> Iterator[Loser]:
    trees = book.trees
    causes = list(symptom.causes)
    # Only what a symptom names is tried, without the checks and without what functions would add.
    named = {cause: trees.causes[cause] for cause in causes}
    bare = msgspec.structs.replace(trees, checks={}, functions={}, causes=named)
    bearing = [a for a in weigh(book).values() if any(cause in a.state_of for cause in causes)]
    groups = grouped(bearing)
    # Of each check the state that each cause leaves it in, and the place of each cause.
    states, place = [np.array([a.state(cause) for cause in causes]) for a in bearing], causes.index
    best: dict[str, Loser] = {}
    won: set[str] = set()
    for doors, tried in _tried(trees, symptom, causes, bearing):
        can = can_be_done(trees, bearing, doors)
        for door in _different(trees, symptom, causes, can, doors):
            # Only what has not come first on a door before is tried on this one.
            waiting = {cause for cause in tried - won if doors.fit(trees.causes[cause].applies)[door]}
            if not waiting:
                continue
            facts = doors.facts(door)
            situation = make_situation(bare, facts, [symptom.id])
            suspects = situation.causes[:-1]
            at = [place(cause) for cause in suspects]
            here = [_Shown(bearing[row], states[row][at]) for row in np.flatnonzero(can[:, door])]
            chosen = _one_of_each(here, groups, situation.prior)
            true = [row for row, cause in enumerate(suspects) if cause in waiting]
            for row, posterior in zip(true, _when_true(chosen, true, situation.prior), strict=True):
                cause, first = suspects[row], situation.causes[int(np.argmax(posterior))]
                if first == cause or same_remedy(trees, cause, first):
                    won.add(cause)
                    continue
                own = float(posterior[row])
                loser = Loser(symptom.id, cause, first, own, float(posterior.max()), facts)
                if cause not in best or loser.probability > best[cause].probability:
                    best[cause] = loser
    yield from (loser for cause, loser in best.items() if cause not in won)


def _tried(
    trees: Trees, symptom: Symptom, causes: Sequence[str], bearing: Sequence[Answers]
) -> Iterator[tuple[Doors, set[str]]]:
    """Doors, and the causes to be tried on them: those with the fewest devices for each cause, and with all."""
    conditions = [symptom.applies, *(trees.causes[cause].applies for cause in causes)]
    conditions += [trees.checks[name].applies for each in bearing for name in chain(trees, each.check.id)]
    many = {name: fact.answers for name, fact in trees.facts.items() if fact.many == "yes"}
    wanted: dict[tuple[tuple[str, ...], ...], set[str]] = {tuple(many.values()): set(causes)}
    for cause in causes:
        needed = [fewest(trees, fact, [symptom.applies, trees.causes[cause].applies]) for fact in many]
        for sets in itertools.product(*needed):
            wanted.setdefault(sets, set()).add(cause)
    for sets, tried in wanted.items():
        yield all_doors(trees, conditions, dict(zip(many, sets, strict=True))), tried


def _different(trees: Trees, symptom: Symptom, causes: Sequence[str], can: Mask, doors: Doors) -> list[int]:
    """One of all doors with the same suspects and the same checks; ``can`` [checks, doors] says which can be done."""
    rows: list[Mask] = [*(doors.fit(trees.causes[cause].applies) for cause in causes), *can]
    fits = doors.fit(symptom.applies)
    return [door for door in first_of_each(rows) if fits[door]]


class _Shown(NamedTuple):
    """A check's answers, and in which of their states each suspect leaves it, [suspects]."""

    answers: Answers
    states: Indices


def _one_of_each(here: Sequence[_Shown], groups: Sequence[Sequence[str]], prior: Array) -> list[_Shown]:
    """The checks that count: of each group only the most telling."""
    by_name = {each.answers.check.id: each for each in here}
    chosen = []
    for group in groups:
        members = [by_name[name] for name in group if name in by_name]
        if len(members) > 1:
            weights = prior[:-1] / prior[:-1].sum()
            members.sort(key=lambda each: -information(weights, each.answers.likelihood[each.states].T))
        chosen += members[:1]
    return chosen


def _when_true(chosen: Sequence[_Shown], true: Sequence[int], prior: Array) -> Array:
    """P(suspect | what the true cause most probably shows), [true, suspects and unlisted].

    ``unlisted`` resembles one of the suspects, which is not known beforehand and how far neither, as in a call.
    """
    weights = prior[:-1] / prior[:-1].sum()
    found: list[tuple[Array, Array, Array]] = []
    for answers, states in chosen:
        shown = answers.typical[states[true]]
        found.append((answers.likelihood[states, shown[:, None]], answers.likelihood[0, shown], answers.flat[shown]))
    # P(what is shown | suspect) [checks, true, suspects], in a sound door and for any answer [checks, true].
    none = np.zeros((0, len(true), len(weights))), np.zeros((0, len(true))), np.zeros((0, len(true)))
    likelihood, sound, flat = (np.array(each) for each in zip(*found, strict=True)) if found else none
    known = np.log(likelihood).sum(axis=0)
    other = otherwise(sound, likelihood @ weights, flat)[:, :, None]
    unlisted = np.stack([np.log((1 - unlike) * likelihood + unlike * other).sum(axis=0) for unlike in UNLIKE])
    resembling = unlisted + np.log(weights)
    either = np.logaddexp.reduce(resembling, axis=(0, 2)) - np.log(len(UNLIKE))
    logs = np.log(prior) + np.column_stack([known, either])
    posterior = np.exp(logs - logs.max(axis=1, keepdims=True))
    normal: Array = posterior / posterior.sum(axis=1, keepdims=True)
    return normal
