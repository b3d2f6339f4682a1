"""Which facts of a door go together: of which doors a fact is, what its answers go with, and which stand alone.

What does not go with the rest counts as not said. Nothing here knows an answer by its name: all of it stands with the
facts in the trees.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping

from diagnose.knowledge.model import Conditions, Fact, Facts, Trees, all_from, applies

_Facts = Mapping[str, Fact]


def misfits(facts: _Facts, said: Facts) -> Iterator[tuple[str, str, str]]:
    """What is said of a door and does not go with the rest: the fact's name, what is wrong, what to do."""
    return _misfits(facts, said, _with_what_follows(facts, said))


def fitting(facts: _Facts, said: Facts) -> dict[str, str | tuple[str, ...]]:
    """What is said of a door, without what does not go with the rest."""
    held = dict(said)
    while wrong := {name for name, *_ in misfits(facts, held)}:
        held = {name: value for name, value in held.items() if name not in wrong}
    return held


def laid_over(facts: _Facts, known: Facts, said: Facts) -> dict[str, str | tuple[str, ...]]:
    """What is said of a door over what was known of it: of that, only what goes with it."""
    both = {**known, **said}
    wrong = {name for name, *_ in misfits(facts, both)} - said.keys()
    return {name: value for name, value in both.items() if name not in wrong}


def possible(fact: Fact, said: Facts) -> tuple[str, ...]:
    """The answers that a fact can have on a door of which this is said; none where it is not of such a door."""
    if not applies(fact.applies, said):
        return ()
    if not fact.goes_with:
        return fact.answers
    return tuple(each for each in fact.answers if each not in fact.goes_with or applies(fact.goes_with[each], said))


def is_open(fact: Fact, said: Facts) -> bool:
    """Whether it need be asked: what is said of the door leaves more than one answer."""
    left = possible(fact, said)
    return len(left) > 1 or (bool(left) and (fact.many == "yes" or left == fact.answers))


def tree_facts(trees: Trees, said: Facts) -> dict[str, str | tuple[str, ...]]:
    """What these trees know of a door: the facts that go together, and what follows from them.

    A fact that is not of such a door has no answer at all, so that whatever hangs on it does not apply either.
    """
    known = {name: value for name, value in said.items() if name in trees.facts}
    return _with_what_follows(trees.facts, fitting(trees.facts, known))


def can_be(facts: _Facts, conditions: Conditions) -> bool:
    """Whether there is a door on which conditions hold."""
    named = [*all_from(conditions, lambda name: hangs_on(facts[name]))]
    ways = itertools.product(*([(each,) for each in conditions.get(name, facts[name].answers)] for name in named))
    doors: Iterator[Facts] = (dict(zip(named, way, strict=True)) for way in ways)
    return any(next(_misfits(facts, door, door), None) is None for door in doors)


def hangs_on(fact: Fact) -> set[str]:
    """The other facts that its conditions name."""
    return {name for conditions in (fact.applies, *fact.goes_with.values()) for name in conditions}


def _with_what_follows(facts: _Facts, said: Facts) -> dict[str, str | tuple[str, ...]]:
    """What is said of a door, and what that leaves no choice of."""
    held = dict(said)
    for name, fact in facts.items():
        if name not in held and not is_open(fact, held):
            held[name] = next(iter(possible(fact, held)), ())
    return held


def _misfits(facts: _Facts, said: Facts, held: Facts) -> Iterator[tuple[str, str, str]]:
    """What is said of a door and does not go with what holds of it."""
    for name, value in said.items():
        if name not in facts:
            continue
        fact, values = facts[name], (value,) if isinstance(value, str) else value
        for each in values:
            this = f"{fact.title} '{fact.called(each)}'"
            if each in fact.alone and len(values) > 1:
                yield name, f"{this} stands alone.", f"Take '{fact.called(each)}' away, or all the others."
            if against := _against(facts, fact.applies, held) or _against(facts, fact.goes_with.get(each, {}), held):
                yield name, f"{this} does not go with {against}.", "Change one of the two."


def _against(facts: _Facts, conditions: Conditions, said: Facts) -> str:
    """What is said of the door that conditions do not allow, in words; ``""`` where there is nothing."""
    for name, allowed in conditions.items():
        if name in facts and not applies({name: allowed}, said):
            value = said[name]
            values = (value,) if isinstance(value, str) else value
            return f"{facts[name].title.lower()} '{', '.join(map(facts[name].called, values)) or 'none'}'"
    return ""
