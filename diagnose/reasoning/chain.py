"""Where along the chain of functions the fault lies. Pure: from what is believed to links in order.

A complaint lacks some functions; those, and all that they need, make its chain, from the supply to what is missing. A
fault lies at the first link that its cause takes away; what needs that link is lost with it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

from diagnose.knowledge.functions import chain_of, chain_order
from diagnose.knowledge.model import Check, Facts, Trees
from diagnose.knowledge.words import percent
from diagnose.reasoning.belief import Belief
from diagnose.reasoning.situation import Situation

LinkState = Literal["works", "lost", "in doubt", "not seen"]

# A link works, or is lost, where that is so likely; a side of the chain is named from this chance on.
_SURE, _NAMED, _WORTH_NAMING = 0.95, 0.05, 0.01
# In order of how much there is to be said of a link.
_MARKS: Mapping[LinkState, str] = {"works": "✓", "not seen": "·", "in doubt": "?", "lost": "✗"}
MEANING = "✓ works  ✗ lost  ? in doubt  · not looked at yet;  % the chance that the fault lies there"


@dataclass(frozen=True)
class Link:
    """One function of a complaint's chain.

    ``lost`` is the chance that it does not work as it should, ``here`` the chance that the fault lies at it. ``seen``:
    an answer shows it, or something that needs it.
    """

    function: str
    title: str
    lost: float
    here: float
    seen: bool

    @property
    def name(self) -> str:
        """Its name in two or three words."""
        return self.function.replace("-", " ")

    @property
    def state(self) -> LinkState:
        """What works is said only of what somebody has looked at."""
        if self.lost >= _SURE:
            return "lost"
        if self.lost > 1 - _SURE:
            return "in doubt"
        return "works" if self.seen else "not seen"


def links(situation: Situation, belief: Belief, answered: Collection[str]) -> tuple[Link, ...]:
    """The chain of what is complained of, each link after what it needs; empty where no function is lacking.

    ``answered`` are the checks that somebody answered. ``here`` sums to at most 1: the rest lies elsewhere.
    """
    trees, symptoms = situation.trees, situation.symptoms
    chain = chain_of(trees, situation.facts)
    order = chain_order(trees, chain, symptoms)
    if not order:
        return ()
    known = [trees.causes[name] for name in situation.causes if name in trees.causes]
    taken = {cause.id: frozenset(chain.taken(cause)) for cause in known}
    places = {cause.id: chain.place(order, cause) for cause in known}
    lost, here = dict.fromkeys(order, 0.0), dict.fromkeys(order, 0.0)
    for causes, weight in belief.sets(situation.causes):
        gone = frozenset[str]().union(*(taken.get(name, frozenset()) for name in causes))
        for function in gone & lost.keys():
            lost[function] += weight
        for name in causes:
            place = places.get(name)
            if place is not None:
                here[place] += weight / len(causes)
    for symptom in symptoms:
        # What is complained of is not in doubt.
        for function in trees.symptoms[symptom].lacks:
            if function in lost:
                lost[function] = 1.0 - belief.nothing
    shown = {each for check in answered if check in trees.checks for each in trees.checks[check].shows}
    shown |= {each for symptom in symptoms for each in trees.symptoms[symptom].keeps}
    return tuple(
        Link(name, trees.functions[name].title, lost[name], here[name], not chain.below[name].isdisjoint(shown))
        for name in order
    )


def causes_at(situation: Situation, chain: Sequence[Link], belief: Belief) -> dict[str, list[tuple[str, float]]]:
    """For each link the causes that lie at it with their chances, the likeliest first, down to one in a hundred."""
    functions = chain_of(situation.trees, situation.facts)
    found: dict[str, list[tuple[str, float]]] = {link.function: [] for link in chain}
    for name, chance in zip(situation.causes, belief.causes(), strict=True):
        if name in situation.trees.causes and chance >= _WORTH_NAMING:
            place = functions.place(found, situation.trees.causes[name])
            if place is not None:
                found[place].append((name, float(chance)))
    return {function: sorted(each, key=lambda pair: -pair[1]) for function, each in found.items()}


def mark(link: Link) -> str:
    """``✓``, ``✗``, ``?`` or ``·``, as ``MEANING`` says."""
    return _MARKS[link.state]


def drawn(chain: Sequence[Link], width: int | None = None) -> str:
    """The chain on one line: ``supply on ✓ › control supply ? 62 % › board awake ✗``.

    Where that is longer than ``width``, links in a row that hold little of the fault are gathered, the least first:
    ``supply live to supply on ✓``, in doubt if one of them is.
    """
    texts = (" › ".join(_gathered(chain, least)) for least in (0.0, _NAMED, 0.1, 0.2, 0.5))
    line = next(texts)
    while width is not None and len(line) > width and (shorter := next(texts, None)) is not None:
        line = shorter
    return line


def _gathered(chain: Sequence[Link], least: float) -> Iterator[str]:
    """A piece for each link; those in a row that hold less of the fault than ``least`` have one together."""
    for little, several in groupby(chain, lambda link: link.here < least and link.state != "lost"):
        row = list(several)
        if little and len(row) > 1:
            state = max((link.state for link in row), key=list(_MARKS).index)
            share = sum(link.here for link in row)
            yield f"{row[0].name} to {row[-1].name} {_MARKS[state]}{_share(share)}"
        else:
            yield from (f"{link.name} {_MARKS[link.state]}{_share(link.here)}" for link in row)


def _share(chance: float) -> str:
    return f" {percent(chance)}" if chance >= _NAMED else ""


def place_of(trees: Trees, facts: Facts, symptoms: Sequence[str], cause: str) -> str:
    """Where along the complaints' chain a cause lies, on one line; ``""`` where it takes nothing of that chain."""
    chain = chain_of(trees, facts)
    order = chain_order(trees, chain, [each for each in symptoms if each in trees.symptoms])
    taken, place = chain.taken(trees.causes[cause]), chain.place(order, trees.causes[cause])
    if place is None:
        return ""
    named = {name: f"{name.replace('-', ' ')} {'✗' if name in taken else '✓'}" for name in order}
    return " › ".join(f"[{text}]" if name == place else text for name, text in named.items())


def split(situation: Situation, chain: Sequence[Link], check: Check) -> str:
    """Which part of the chain a check tells from which, in a sentence; ``""`` where it tells nothing of it."""
    shown = [link for link in chain if link.function in check.shows]
    if not shown:
        return ""
    below = chain_of(situation.trees, situation.facts).below
    before = sum(link.here for link in chain if any(each.function in below[link.function] for each in shown))
    after = sum(link.here for link in chain) - before
    if min(before, after) < _NAMED:
        return ""
    what = " and ".join(f"'{link.title}'" for link in shown[:2])
    return f"It splits the chain at {what}: {percent(before)} lie up to there, {percent(after)} after it."


def whereabouts(chain: Sequence[Link]) -> list[str]:
    """The state of the chain in a few sentences: what works, what is lost, and where the fault lies."""
    if not chain:
        return []
    found = []
    for state, said in (("works", "Known to work"), ("lost", "Lost")):
        titles = [link.title for link in chain if link.state == state]
        if titles:
            found.append(f"{said}: {'; '.join(titles)}.")
    places = sorted((link for link in chain if link.here >= _NAMED), key=lambda link: -link.here)
    if places:
        told = [f"{link.title} ({percent(link.here)})" for link in places[:4]]
        elsewhere = 1 - sum(link.here for link in chain)
        told += [f"elsewhere ({percent(elsewhere)})"] if elsewhere >= _NAMED else []
        found.append(f"The fault lies at: {'; '.join(told)}.")
    return found
