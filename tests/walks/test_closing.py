"""Whatever a hurried person does on a walk, a door is handed over only with every job and every proof behind it.

The rule is written here a second time, from the events alone.
"""

from __future__ import annotations

import contextlib
import random

import pytest

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError
from diagnose.calls.state import standing
from diagnose.knowledge.fitting import tree_facts
from diagnose.knowledge.model import Trees, applies, holds
from diagnose.sitting.sitting import Sitting
from tests.walks.test_walks import KINDS, door, sound, walked

_WORK = (ev.JobDone, ev.RepairDone, ev.Tried)


def left_open(call: Call) -> set[str]:
    """Every job and proof of the walk that the events do not show to be done, or proved since the last work."""
    trees, counting = call.trees, standing(call.events)
    opened = counting[0]
    assert isinstance(opened, ev.Opened)
    walk, facts = trees.walks[opened.walk], dict(opened.facts)
    came: dict[str, str] = {}
    proved: dict[str, bool] = {}
    for event in counting:
        match event:
            case ev.FactStated():
                facts = {**facts, event.fact: event.value}
            case ev.JobDone():
                came[event.job] = event.came
            case ev.Proved():
                proved[event.proof] = event.passed
            case _:
                pass
        if isinstance(event, _WORK) and getattr(event, "came", "done") == "done":
            proved = {proof: passed for proof, passed in proved.items() if not passed}
    facts = tree_facts(trees, facts)
    jobs = {name for name in walk.jobs if applies(trees.jobs[name].applies, facts)}
    proofs = {
        proof.id
        for proof in trees.proofs.values()
        if proof.id not in walk.without
        and applies(proof.applies, facts)
        and not (proof.unless and holds(proof.unless, facts))
    }
    undone = {job for job in jobs if came.get(job, "open") in ("open", "not right")}
    return undone | {proof for proof in proofs if not proved.get(proof)}


def hurried(call: Call, chance: random.Random) -> None:
    """Something said out of turn; most of it is refused."""
    trees, walk = call.trees, call.walk
    assert walk is not None
    with contextlib.suppress(CallError):
        match chance.randrange(7):
            case 0:
                call.close("handed over")
            case 1:
                call.job(chance.choice(walk.jobs), chance.choice(("done", "not right", "not needed")), "In a hurry.")
            case 2:
                call.proved(chance.choice(list(trees.proofs)), chance.random() < 0.7)
            case 3:
                call.undo()
            case 4:
                call.enter(chance.choice([state for state in trees.energy if state != "any"]))
            case 5:
                call.state_fact("devices", tuple(chance.sample(trees.facts["devices"].answers, 3)))
            case _:
                call.state_people(chance.choice((list(trees.people), ["anyone", "technician"])))
    if call.state.outcome == "handed over":
        assert not left_open(call)


@pytest.mark.parametrize(("seed", "kind"), list(enumerate([*KINDS, (*KINDS[2], "yes")])))
def test_a_hurried_person_hands_over_nothing_unproved(shipped_trees: Trees, seed: int, kind: tuple[str, ...]) -> None:
    chance = random.Random(seed)
    call = walked(shipped_trees, door(*kind))
    for _ in range(260):
        if call.state.outcome is not None:
            assert call.state.outcome != "handed over" or not left_open(call)
            return
        if chance.random() < 0.06:
            hurried(call, chance)
            continue
        card = Sitting(call).put().card
        with contextlib.suppress(CallError, KeyError):
            Sitting(call).choose(card, sound(call, card))


def test_the_second_rule_sees_what_is_left_out(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[3]))
    while call.state.outcome is None:
        card = Sitting(call).put().card
        Sitting(call).choose(card, sound(call, card))
    assert not left_open(call)
    proofs = [event for event in call.events if isinstance(event, ev.Proved)]
    without = Call(shipped_trees, history=[event for event in call.events if event is not proofs[0]])
    assert left_open(without) == {proofs[0].proof}
