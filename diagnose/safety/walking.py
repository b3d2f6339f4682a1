"""The steps a call hands out: never in the wrong state of the door, never to who may not do them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np

from diagnose.calls import next_step
from diagnose.calls.call import Call
from diagnose.knowledge.checker import Book, Finding
from diagnose.knowledge.doors import all_doors
from diagnose.knowledge.graph import chain
from diagnose.knowledge.model import ANY, STEPS, UNLISTED, EnergyState, Facts, Task, Trees
from diagnose.reasoning.situation import Situation
from diagnose.reasoning.walk import way_to
from diagnose.safety.hazards import steps
from diagnose.safety.invariant import Visited, invariant

_KINDS: Mapping[str, Any] = {section: kind for kind, section in STEPS.items()}


@invariant("energy-order")
def energy_order(book: Book, visited: Visited) -> Iterator[Finding]:
    """A step is handed out while the door is in another state than the one it is done in.

    Every check, remedy and proof is asked of a call with the door in every state. Between a locked-out step and a
    powered one stands the step that restores the power, between a powered one and a locked-out one the step that
    locks it out, each with that state's cautions. Each state says how it is come to from every other.

    Passes:
        energy: {locked: {enter: {powered: 5}, …}, powered: {enter: {locked: 4}, …}, any: {…}}
    Fails:
        energy: {locked: {…}, powered: {…}, any: {…}}       # nobody knows what it takes to change between them
    """
    trees = book.trees
    calls = {state: _call_in(trees, state) for state in trees.energy}
    for kind, step in steps(trees):
        for state in trees.energy:
            visited.add()
            wrong = _wrong_order(calls, kind, step, state)
            if wrong:
                yield Finding(
                    book.place(kind, step.id, "energy"), wrong, "No step may be done there: look at 'energy'."
                )
    for entered in trees.energy.values():
        yield from _entering(book, entered)


def _call_in(trees: Trees, state: str) -> Call:
    call = Call(trees)
    call.enter(state)
    return call


def _wrong_order(calls: Mapping[str, Call], kind: str, step: Task, state: str) -> str:
    """What is wrong with what a call in ``state`` hands out for ``step``; empty where nothing is."""
    name = _KINDS[kind]
    handed = next_step.in_its_state(calls[state], name, step.id, "", 0.0, (0.0, 0.0))
    if step.energy in (state, ANY):
        return "" if (handed.kind, handed.id) == (name, step.id) else f"'{step.id}' is not handed out in {state}."
    if (handed.kind, handed.id) != ("energy", step.energy):
        return f"'{step.id}', done in {step.energy}, is handed out while the door is in {state}."
    after = next_step.in_its_state(calls[step.energy], name, step.id, "", 0.0, (0.0, 0.0))
    if (after.kind, after.id) != (name, step.id):
        return f"'{step.id}' is not handed out when its state {step.energy} has been entered."
    return ""


def _entering(book: Book, entered: EnergyState) -> Iterator[Finding]:
    """A state of the door is come to from every other, by a way that is told, with its cautions."""
    place = book.place("energy", entered.id)
    if entered.id == ANY:
        return
    missing = [other for other in book.trees.energy if other not in (entered.id, ANY, *entered.enter)]
    if missing:
        wrong = f"Nothing says how long it takes to come to '{entered.id}' from {', '.join(missing)}."
        yield Finding(book.place("energy", entered.id, "enter"), wrong, "Write the minutes under 'enter:'.")
    if not entered.how.strip():
        yield Finding(place, f"'{entered.id}' does not say how the door is brought into it.", "Write 'how:'.")
    if not entered.cautions:
        yield Finding(place, f"'{entered.id}' is entered without a caution.", "Write 'cautions:'.")


@invariant("offered-to-whom")
def offered_to_whom(book: Book, visited: Visited) -> Iterator[Finding]:
    """A check is reached by somebody who may not do it, or may not do what comes before it.

    Every check is asked for by every kind of person, on every kind of door that makes a difference to the way there.

    Passes:
        people: {technician: {includes: [anyone]}, …}
        checks: {springs-close: {who: door technician, …}}
    Fails:
        # not by anything written in the trees: it would be a fault of the program
    """
    trees = book.trees
    crews = {person.id: {person.id, *person.includes} for person in trees.people.values()}
    for check in trees.checks.values():
        doors = all_doors(trees, [trees.checks[name].applies for name in chain(trees, check.id)])
        for door in range(doors.count):
            situation = _nothing_known(trees, doors.facts(door))
            for person, may_do in crews.items():
                visited.add()
                way = way_to(situation, check.id, {}, may_do)
                done = [trees.checks[step] for step in way.steps] if way else []
                wrong = [step for step in done if step.kind != "computed" and step.who not in may_do]
                if wrong:
                    said = f"'{wrong[0].id}', for a {wrong[0].who}, is offered to: {person}."
                    yield Finding(book.place("checks", wrong[0].id, "who"), said, "Report this: the program is wrong.")


def _nothing_known(trees: Trees, facts: Facts) -> Situation:
    one = np.ones(1)
    return Situation((UNLISTED,), one, one, {}, trees, facts)
