"""Components by what people call them: any of their names, or words of what is said of them."""

from __future__ import annotations

from functools import lru_cache

from diagnose.finding.reading import trade_reader
from diagnose.finding.search import Shelf, Text
from diagnose.knowledge.model import Component, Held, Trees


def find_components(trees: Trees, typed: str) -> list[Component]:
    """The components that fit what is typed, the best first; all of them in their order where nothing is."""
    components = list(trees.components.values())
    named = [each for each in components if typed.strip().casefold() in _names(each)]
    found = [components[place] for place in _shelf(Held(trees)).find(typed)]
    return [*named, *(each for each in found if each not in named)]


def is_name(trees: Trees, words: str) -> bool:
    """Whether a component is called just so."""
    return any(words.strip().casefold() in _names(each) for each in trees.components.values())


def _names(component: Component) -> set[str]:
    return {name.casefold() for name in (component.id, component.title, *component.also)}


@lru_cache(maxsize=4)
def _shelf(held: Held) -> Shelf:
    texts = [
        Text(f"{each.title} {' '.join(each.also)}", f"{each.what} {each.where} {each.looks_like}")
        for each in held.trees.components.values()
    ]
    return Shelf(texts, trade_reader(held.trees))
