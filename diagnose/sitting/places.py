"""Where what a step is about sits, on a sketch of such a door: told when it is asked for."""

from __future__ import annotations

from diagnose.calls.call import Call
from diagnose.calls.sketches import where_told
from diagnose.calls.words import Told
from diagnose.finding.glossary import find_components
from diagnose.knowledge.components import component_at, facts_supposed
from diagnose.knowledge.model import Component, Conditions, Facts, Task, Trees
from diagnose.screening.spoken import Spoken

READ_OUT, FOR_YOU = "READ OUT", "FOR YOU"
NOT_FOR_A_CALLER = "This is nothing for a caller to look for. Ask only what they have seen already."
NO_SUCH_WORD = "Nothing on a door is called that here. Type where and a name, as in: where drum."
NOT_AT_A_PLACE = "This step is done at no single part of the door. Type where and the name of one to see that."


def where(call: Call, kind: str, identity: str, width: int) -> list[Told]:
    """Where a step of a call is done; empty where it is done at no component."""
    trees, facts = call.trees, call.facts
    task = trees.task(kind, identity)
    component = _component(call, task) if task is not None else None
    if task is None or component is None:
        return []
    return where_told(trees, component, facts, _supposed(call, task), width)


def has_place(call: Call, kind: str, identity: str) -> bool:
    """Whether ``where`` has something to tell of a step."""
    task = call.trees.task(kind, identity)
    return task is not None and _component(call, task) is not None


def _component(call: Call, task: Task) -> Component | None:
    known = facts_supposed(call.trees, call.facts, *_supposed(call, task))
    return component_at(call.trees, task, known) or component_at(call.trees, task, {})


def _supposed(call: Call, task: Task) -> tuple[Conditions, ...]:
    """What is taken of a door where it is not known: a step about gates, and a complaint about them, is of a gate."""
    known = call.trees.symptoms
    return (task.applies, *(known[each].applies for each in call.state.symptoms if each in known))


def where_to_look(call: Call, check: str, spoken: Spoken, width: int) -> list[Told]:
    """What to read to a caller who asks where to look, then what the person on the phone may want to see.

    Empty for a check that is done at no component.
    """
    told = where(call, "check", check, width)
    component = _component(call, call.trees.checks[check]) if told else None
    if component is None:
        return []
    words = spoken.component(component) or NOT_FOR_A_CALLER
    return [Told("heading", READ_OUT if component.caller else FOR_YOU), Told("text", words), Told("text", ""), *told]


def where_named(trees: Trees, words: str, facts: Facts, width: int) -> list[Told]:
    """Where a component of that name sits on a door with these facts, or that nothing is called so."""
    found = find_components(trees, words) if words else []
    return where_told(trees, found[0], facts, (), width) if found else [Told("text", NO_SUCH_WORD)]
