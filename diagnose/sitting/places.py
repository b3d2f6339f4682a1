"""Where what a step is about sits, on a sketch of such a door: told when it is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from diagnose.calls.sketches import where_told
from diagnose.calls.words import Told
from diagnose.finding.glossary import find_components
from diagnose.knowledge.components import component_at, facts_supposed

if TYPE_CHECKING:
    from diagnose.calls.call import Call

NO_SUCH_WORD = "No part of a door is called that here. Type where and another word for it."
NOT_AT_A_PLACE = "This step is done at no single part of the door. Type where and the name of one to see that."


def where(call: Call, kind: str, identity: str, width: int) -> list[Told]:
    """Where a step of a call is done; empty where it is done at no component."""
    trees, facts = call.trees, call.state.facts
    task = trees.task(kind, identity)
    if task is None:
        return []
    symptoms = (trees.symptoms[each].applies for each in call.state.symptoms if each in trees.symptoms)
    supposed = (task.applies, *symptoms)
    component = component_at(trees, task, facts_supposed(trees, facts, *supposed)) or component_at(trees, task, {})
    return where_told(trees, component, facts, supposed, width) if component is not None else []


def where_named(call: Call, words: str, width: int) -> list[Told]:
    """Where a component of that name sits on the door of a call; empty where none is called so."""
    found = find_components(call.trees, words)
    return where_told(call.trees, found[0], call.state.facts, (), width) if found else []
