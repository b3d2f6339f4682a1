"""Whether the walk of the graph comes to a check at all: on some door, with some complaint, after some answers.

The walks are those of the program: ``reasoning.walk.reachable`` is asked after every course of answers that can make
a difference. A check whose answer opens, closes and allows nothing on the way counts as answered in one way only.
"""

from __future__ import annotations

import functools
import math
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

import msgspec

from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.checker import Book
from diagnose.knowledge.doors import all_doors
from diagnose.knowledge.graph import chain
from diagnose.knowledge.model import COULD_NOT_TELL, Check, Facts, Trees
from diagnose.reasoning.situation import make_situation
from diagnose.reasoning.walk import Known, inputs_of, openers, reachable

# Courses of answers looked at before a check is let pass. The shipped trees need a few each.
_MOST = 20_000


def unreachable(book: Book) -> Iterator[str]:
    """Checks that no walk reaches, although some cause changes them."""
    trees = book.trees
    gates = openers(trees)
    followers = _followers(trees)
    changing: dict[str, list[str]] = {}
    for cause in trees.causes.values():
        for name in cause.signs:
            changing.setdefault(name, []).append(cause.id)
    for check in trees.checks.values():
        bearing = changing.get(check.id, [])
        if check.healthy is not None and bearing:
            related = _related(trees, gates, followers, check.id)
            causes = dict.fromkeys(cause for name in related for cause in changing.get(name, ()))
            raising = [each for each in trees.symptoms.values() if any(cause in each.causes for cause in bearing)]
            made_from = [trees.facts, trees.people, trees.costs, *related.values(), *raising]
            made_from += [trees.causes[cause] for cause in causes]
            walked = functools.partial(_walked, trees, related, causes, check.id, bearing)
            if not book.kept.once("reached", made_from, bool, walked):
                yield check.id


def _walked(
    trees: Trees, related: Mapping[str, Check], causes: Collection[str], check: str, bearing: Sequence[str]
) -> bool:
    return _reached(_only(trees, related, causes), check, bearing)


def _followers(trees: Trees) -> dict[str, set[str]]:
    """For each check, those on the way to which it is asked."""
    found: dict[str, set[str]] = {}
    for check in trees.checks:
        for before in chain(trees, check):
            found.setdefault(before, set()).add(check)
    return found


def _related(
    trees: Trees, gates: Mapping[str, set[str]], followers: Mapping[str, set[str]], check: str
) -> dict[str, Check]:
    """All checks that a walk to this one could pass, itself among them, in the order of the trees."""
    found: set[str] = set()
    waiting = [check]
    while waiting:
        name = waiting.pop()
        if name in found:
            continue
        found.add(name)
        opening = gates.get(name, set())
        waiting += [*opening, *trees.checks[name].after, *inputs_of(trees, trees.checks[name])]
        # What opens it may be asked only on the way to something else.
        waiting += [follower for gate in opening for follower in followers.get(gate, ())]
    return {name: each for name, each in trees.checks.items() if name in found}


def _only(trees: Trees, related: Mapping[str, Check], causes: Collection[str]) -> Trees:
    """The trees with these checks and causes alone, and with nothing said of any other."""

    def kept(led: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
        return {answer: tuple(name for name in names if name in related) for answer, names in led.items()}

    checks = {
        name: msgspec.structs.replace(check, opens=kept(check.opens), closes=kept(check.closes))
        for name, check in related.items()
    }
    symptoms = {
        name: msgspec.structs.replace(each, causes={c: chance for c, chance in each.causes.items() if c in causes})
        for name, each in trees.symptoms.items()
    }
    left = {name: trees.causes[name] for name in causes}
    return msgspec.structs.replace(trees, checks=checks, causes=left, symptoms=symptoms, functions={})


def _reached(trees: Trees, check: str, bearing: Sequence[str]) -> bool:
    """Whether some walk arrives; a door with every device is tried first, as most walks arrive there."""
    everything = {name: fact.answers for name, fact in trees.facts.items() if fact.many == "yes"}
    for symptom in trees.symptoms.values():
        raised = [cause for cause in symptom.causes if cause in bearing]
        if not raised:
            continue
        conditions = [symptom.applies, *(trees.causes[cause].applies for cause in raised)]
        conditions += [each.applies for each in trees.checks.values()]
        for fixed in (everything, None):
            doors = all_doors(trees, conditions, fixed)
            fit = doors.fit(symptom.applies) & doors.fit(trees.checks[check].applies)
            for door in range(doors.count):
                if fit[door] and _arrives(trees, doors.facts(door), symptom.id, check):
                    return True
    return False


def _arrives(trees: Trees, facts: Facts, symptom: str, check: str) -> bool:
    # A fact that something is computed from makes no other difference.
    inputs = {written for each in trees.checks.values() for written in each.inputs.values()} - set(facts)
    facts = {**facts, **{fact.id: fact.answers[0] for fact in trees.facts.values() if fact.id in inputs}}
    situation = make_situation(trees, facts, [symptom])
    if check not in situation.tables:
        return False
    everyone = set(trees.people)
    waiting: list[dict[str, Known]] = [{}]
    seen: set[frozenset[tuple[str, Known]]] = set()
    while waiting:
        known = waiting.pop()
        ways = reachable(situation, known, everyone)
        if any(way.goal == check for way in ways):
            return True
        for step in dict.fromkeys(way.steps[0] for way in ways):
            for answer in _answers(trees, step):
                for after in _computed(trees, {**known, step: answer}):
                    key = frozenset(after.items())
                    if key not in seen:
                        seen.add(key)
                        waiting.append(after)
        if len(seen) > _MOST:
            return True
    return False


def _answers(trees: Trees, name: str) -> Iterable[Known]:
    """The answers of a check that make a difference to what can be reached."""
    check = trees.checks[name]
    led = {answer for table in (check.opens, check.closes) for answer, names in table.items() if names}
    allowed = {answer for other in trees.checks.values() for answer in other.after.get(name, ())}
    if check.answers:
        different = [answer for answer in check.answers if answer in led | allowed]
        alike = [answer for answer in check.answers if answer not in led | allowed][:1]
        return [*different, *alike, *([COULD_NOT_TELL] if different else [])]
    numbers: list[Known] = [_inside(band, check.unit) for band in sorted(led)]
    return [*numbers, math.inf, COULD_NOT_TELL]


def _inside(band: str, unit: str) -> float:
    """A number in a band of readings."""
    low, high = read_band(band, unit) or (0.0, 0.0)
    if math.isinf(low):
        return high - 1.0
    return low + 1.0 if math.isinf(high) else (low + high) / 2


def _computed(trees: Trees, known: dict[str, Known]) -> Iterator[dict[str, Known]]:
    """What may be known then, computed checks with all their inputs included."""
    for check in trees.checks.values():
        ready = check.kind == "computed" and check.id not in known
        if ready and all(name in known for name in inputs_of(trees, check)):
            for answer in _answers(trees, check.id):
                yield from _computed(trees, {**known, check.id: answer})
            return
    yield known
