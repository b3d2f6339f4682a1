"""Danger first: what is asked in the first seconds, and every later word that means the same.

A sign of danger is a plain yes, an answer to any check, a complaint, or words said in passing; the trees say which
(`dangers`). It stands until somebody says no to it after that, and everything else waits until its instruction was
read out.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Literal

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.state import fold, standing
from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.fitting import tree_facts
from diagnose.knowledge.model import Danger, Facts, Trees, applies
from diagnose.knowledge.phrases import found_in

How = Literal["asked", "answer", "complaint", "words"]
# A cause is a danger itself where it shows a sign of one more often than not.
_SHOWS = 0.5


@dataclass(frozen=True)
class Raised:
    """A danger that is there, and what raised it: ``what`` is the check, the symptom, or the words."""

    danger: Danger
    how: How
    what: str = ""


def to_ask(trees: Trees, facts: Facts) -> tuple[Danger, ...]:
    """The signs to ask about on this door, in the order of the trees."""
    return tuple(danger for danger in trees.dangers.values() if applies(danger.applies, facts))


def dangers_now(trees: Trees, events: Iterable[ev.AnyEvent]) -> tuple[Raised, ...]:
    """The dangers that stand after ``events``, the most urgent first."""
    raised: dict[str, Raised] = {}
    outright: set[str] = set()
    counting = standing(events)
    facts = tree_facts(trees, fold(counting).facts)
    complaints: tuple[str, ...] = ()
    for event in counting:
        match event:
            case ev.DangerStated(danger=name, answer="yes") if name in trees.dangers:
                # Said outright, it stands whatever becomes of the answer that raised it first.
                outright.add(name)
                raised.setdefault(name, Raised(trees.dangers[name], "asked"))
            case ev.DangerStated(danger=name, answer="no"):
                outright.discard(name)
                raised.pop(name, None)
            case ev.Opened(symptoms=named) | ev.SymptomsStated(symptoms=named):
                new = [symptom for symptom in named if symptom not in complaints]
                complaints = named
                _add(raised, by_complaints(trees, new), facts)
            case ev.Answered(check=check, value=value):
                _take_back(raised, check, outright)
                if isinstance(value, str):
                    _add(raised, by_answer(trees, check, value), facts)
            case ev.Withdrawn(check=check):
                _take_back(raised, check, outright)
            case ev.Noted(text=text):
                _add(raised, by_words(trees, text), facts)
            case _:
                pass
    order = list(trees.dangers)
    return tuple(sorted(raised.values(), key=lambda r: (r.danger.urgency != "emergency", order.index(r.danger.id))))


def note_dangers(call: Call) -> tuple[Raised, ...]:
    """Put on record, as said outright, each danger that something else raised; gives back those that are new."""
    new = tuple(
        each for each in dangers_now(call.trees, call.events) if call.state.dangers.get(each.danger.id) != "yes"
    )
    for each in new:
        call.danger(each.danger.id, "yes")
    return new


def by_answer(trees: Trees, check: str, answer: str) -> list[Raised]:
    return [
        Raised(danger, "answer", check) for danger in trees.dangers.values() if answer in danger.signs.get(check, ())
    ]


def by_complaints(trees: Trees, symptoms: Iterable[str]) -> list[Raised]:
    named = set(symptoms)
    return [
        Raised(danger, "complaint", symptom)
        for danger in trees.dangers.values()
        for symptom in danger.symptoms
        if symptom in named
    ]


def by_words(trees: Trees, text: str) -> list[Raised]:
    """The dangers that somebody speaks of in their own words."""
    found = [(danger, found_in(text, danger.said, danger.unless)) for danger in trees.dangers.values()]
    return [Raised(danger, "words", words) for danger, words in found if words]


def shows_danger(trees: Trees, cause: str) -> bool:
    """Whether a cause usually shows a sign of danger: the fault itself can hurt somebody."""
    signs = trees.causes[cause].signs
    for danger in trees.dangers.values():
        for check, answers in danger.signs.items():
            state = signs.get(check)
            if isinstance(state, Shares) and sum(state.shares.get(answer, 0.0) for answer in answers) >= _SHOWS:
                return True
    return False


def _add(raised: dict[str, Raised], new: Iterable[Raised], facts: Facts) -> None:
    for each in new:
        if applies(each.danger.applies, facts):
            raised.setdefault(each.danger.id, each)


def _take_back(raised: dict[str, Raised], check: str, outright: Collection[str]) -> None:
    """An answer is replaced or withdrawn: what it alone raised is gone."""
    for name, each in list(raised.items()):
        if (each.how, each.what) == ("answer", check) and name not in outright:
            del raised[name]
