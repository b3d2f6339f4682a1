"""The components of a door: which of them a step is at, and the sketch that shows one."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping

from diagnose.knowledge.model import (
    NOWHERE,
    Component,
    Conditions,
    Fact,
    Facts,
    Sketch,
    Task,
    Trees,
    applies,
    holds,
)

# A capital letter in a sketch with no other letter beside it.
_MARK = re.compile(r"(?<![A-Za-z])[A-Z](?![A-Za-z])")


class Names:
    """The names of components, to be found in the titles of steps."""

    def __init__(self, components: Iterable[Component], facts: Mapping[str, Fact]) -> None:
        self._facts = facts
        self._named: dict[tuple[str, ...], list[Component]] = defaultdict(list)
        for component in components:
            for name in dict.fromkeys(_words(each) for each in _names_of(component)):
                self._named[name].append(component)
        self._longest = max((len(name) for name in self._named), default=0)

    def named(self, task: Task) -> tuple[str, ...]:
        """The components that the longest name in a step's title means; where it has none, in its id.

        What no door of the step's has is not meant; a general name gives way to every other, and of two of one length
        the first is meant.
        """
        for text in (title_of(task), task.id.replace("-", " ")):
            found = [(name, kept) for name, some in self._met(text) if (kept := self._of(some, task.applies))]
            special = [(name, some) for name, some in found if some[0].general == "no"]
            if chosen := max(special or found, key=lambda pair: len(" ".join(pair[0])), default=None):
                return tuple(component.id for component in chosen[1])
        return ()

    def _met(self, text: str) -> Iterator[tuple[tuple[str, ...], list[Component]]]:
        words = _words(text)
        for start in range(len(words)):
            for length in range(min(self._longest, len(words) - start), 0, -1):
                name = words[start : start + length]
                if name in self._named:
                    yield name, self._named[name]

    def _of(self, components: list[Component], conditions: Conditions) -> list[Component]:
        return [each for each in components if self._may_be(each.applies, conditions)]

    def _may_be(self, one: Conditions, other: Conditions) -> bool:
        """Whether some door has both; of a fact that may have many values it has what is wanted."""
        both = (fact for fact in one if fact in other and fact in self._facts)
        return all(self._facts[fact].many == "yes" or set(one[fact]) & set(other[fact]) for fact in both)


def title_of(task: Task) -> str:
    """What a step is, in the words of its entry."""
    return str(getattr(task, "title", "") or getattr(task, "text", ""))


def _names_of(component: Component) -> tuple[str, ...]:
    return (component.title, *component.also, *component.in_titles)


def _words(text: str) -> tuple[str, ...]:
    """Words in lower case, without the endings of plurals and genitives."""
    return tuple(_bare(word) for word in re.findall(r"[a-z0-9]+", re.sub(r"'s?\b", "", text.casefold())))


def _bare(word: str) -> str:
    if len(word) < 4 or not word.endswith("s") or word.endswith("ss"):
        return word
    return word[:-2] if word.endswith(("shes", "ches", "xes")) else word[:-1]


def component_at(trees: Trees, task: Task, facts: Facts) -> Component | None:
    """The component that a step is done at on a door with these facts; ``None`` where it is done at none."""
    some = [trees.components[each] for each in task.at if each != NOWHERE]
    return next((each for each in some if applies(each.applies, facts)), None)


def sketches_of(trees: Trees, component: str, facts: Facts) -> list[Sketch]:
    """The sketches of such a door that show a component: those drawn for its kind first, then in their order."""
    having = [each for each in trees.sketches.values() if component in each.marks.values()]
    fitting = [each for each in having if applies(each.applies, facts)]
    return sorted(fitting, key=lambda each: not (each.applies and holds(each.applies, facts)))


def facts_supposed(trees: Trees, facts: Facts, *conditions: Conditions) -> dict[str, str | tuple[str, ...]]:
    """Facts, and of those not known what ``conditions`` ask for: a question about gates is about a gate."""
    supposed = dict(facts)
    for each in conditions:
        for fact, allowed in each.items():
            if fact not in supposed and trees.facts[fact].many == "no" and allowed:
                supposed[fact] = allowed[0]
    return supposed


def marks_in(row: str) -> list[tuple[int, str]]:
    """The marks in a row of a sketch, each with its column from 0."""
    return [(met.start(), met[0]) for met in _MARK.finditer(row)]
