"""No way back into service around a proof: short courses gone through whole, and whatever people do, at random."""

from __future__ import annotations

import itertools
import os
import random
from collections import Counter

import msgspec
import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from diagnose.calls.call import Call
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.safety.closing import BACK, Oracle, act, courses, small_door
from diagnose.safety.invariant import Visited
from tests.conftest import SMALL
from tests.safety.anybody import Person, kind_of_door, kinds, play_many, same_proofs
from tests.safety.second_rule import wrong_return


def test_every_course_of_acts(small_trees: Trees) -> None:
    small = small_door(small_trees)
    assert small is not None
    assert len(small.proofs) >= 2 and small.without
    visited = Visited()
    assert list(courses(small, 4, visited)) == []
    assert visited.count > 20_000


def test_the_only_ways_back(small_trees: Trees) -> None:
    """Of all courses of three acts, those after which the call stands returned are the ones that prove the door."""
    small = small_door(small_trees)
    assert small is not None
    passes = [("pass", proof.id) for proof in small.proofs if proof.required == "yes"]
    assert len(passes) == 2
    returned = []
    events = [*passes, ("fail", passes[0][1]), ("repair", small.remedy.id), ("close",), ("reopen",)]
    for course in itertools.product(events, repeat=3):
        call = Call(small.trees, small.facts, people=small.trees.people)
        oracle = Oracle(small, dict(small.facts))
        for event in course:
            act(call, oracle, event)
        if call.state.outcome == BACK:
            returned.append(course)
    assert sorted(returned) == sorted([(passes[0], passes[1], ("close",)), (passes[1], passes[0], ("close",))])


# --- whatever people do ------------------------------------------------------------------------------------------


def _with_hazards(trees: Trees) -> Trees:
    """The small trees with a hazard that can be seen, a guard's stand-in, and a proof for one person alone."""
    proofs = dict(trees.proofs)
    structs = msgspec.structs
    proofs["labels-in-place"] = structs.replace(
        proofs["labels-in-place"], seen={"splice-looks": ("green or loose",)}, after=("remake-splice",)
    )
    proofs["ten-cycles"] = structs.replace(
        proofs["ten-cycles"], required="yes", unless={"devices": ("photo-eye", "sensing-edge")}
    )
    proofs["closing-force"] = structs.replace(
        proofs["closing-force"], required="no", seen={"eye-volts-far-end": ("below 3 V",)}
    )
    return structs.replace(trees, proofs=proofs, digest=f"{trees.digest} with hazards")


TREES = _with_hazards(load_trees(SMALL, cache=False))


class Calls(RuleBasedStateMachine):
    """Whatever is done, a door stands returned to service only where the rule, written a second time, allows it."""

    @initialize(data=st.data())
    def opens(self, data: st.DataObject) -> None:
        self.person = Person(TREES, lambda choices: data.draw(st.sampled_from(choices)))

    @precondition(lambda self: hasattr(self, "person"))
    @rule(what=st.sampled_from(Person.acts), data=st.data())
    def does(self, what: str, data: st.DataObject) -> None:
        self.person.draw = lambda choices: data.draw(st.sampled_from(choices))
        self.person.do(what)

    @invariant()
    def a_door_in_service_is_rightly_there(self) -> None:
        call = self.person.call
        if call.state.outcome == BACK:
            assert wrong_return(TREES, call.events) == []

    @invariant()
    def both_rules_ask_for_the_same_proofs(self) -> None:
        call = self.person.call
        assert same_proofs(call)


Calls.TestCase.settings = settings(max_examples=40, stateful_step_count=30, deadline=None)
TestCalls = Calls.TestCase


def test_random_calls_close_only_what_is_proved(shipped_trees: Trees) -> None:
    """The short form of ``benchmarks/closing.py``, on the trees that ship."""
    seed = os.environ.get("DIAGNOSE_SEED", "7")
    count = play_many(shipped_trees, 60, 60, seed)
    print(f"seed {seed}: {count.closed} closed, {count.refused} refused")
    assert count.wrong == []
    assert count.differ == []
    assert count.closed > 60 and count.refused > 60, "calls that are never closed or never refused prove nothing"


def test_random_calls_meet_every_kind_of_door(shipped_trees: Trees) -> None:
    """What is drawn covers whatever proofs hang on, everybody, and every hazard; each kind of act is taken."""
    drawn = kinds(shipped_trees)
    doors = Counter[str]()
    for number in range(1000):
        person = Person(shipped_trees, random.Random(number).choice)
        doors.update(kind_of_door(person.call))
    for fact in drawn.telling:
        for value in (*shipped_trees.facts[fact].answers, "not known"):
            assert doors[f"fact: {fact}: {value}"] > 0, (fact, value)
    assert all(doors[f"complaint: {symptom}"] for symptom in shipped_trees.symptoms)
    assert {person for crew in drawn.crews for person in crew} == set(shipped_trees.people)
    seen = {check for looks in drawn.seen for check, _ in looks}
    hazards = {check for proof in shipped_trees.proofs.values() for check in proof.seen}
    assert seen >= {check for check in hazards if shipped_trees.checks[check].kind != "computed"}
    for looks in (*drawn.seen, *drawn.worked_out):
        call = Call(shipped_trees, {}, list(shipped_trees.symptoms)[:1])
        for check, text in looks:
            call.answer(check, text)
        assert call.ledger.seen, looks
    for check, text in drawn.sound.items():
        call = Call(shipped_trees, {}, list(shipped_trees.symptoms)[:1])
        call.answer(check, text)
        assert not call.ledger.seen, (check, text)
    acts = play_many(shipped_trees, 40, 60, "acts").met
    assert all(acts[f"act: {what}"] for what in {*Person.acts} - {"reload", "full disk"}), acts


def test_a_hazard_worked_out_of_readings_goes_with_any_of_them_that_was_a_slip(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, {"construction": "sectional"}, ["heavy-by-hand"])
    (looks,) = kinds(shipped_trees).worked_out
    for check, text in looks:
        call.answer(check, text)
    assert list(call.ledger.seen) == ["balance-by-hand"]
    call.answer("balance-pull-up", "2; 2; 2", mode="correction", reason="the scale was read upside down")
    call.answer("balance-pull-down", "-2; -2; -2", mode="correction", reason="the same")
    assert not call.ledger.seen


@pytest.mark.parametrize("energy", sorted(TREES.energy))
def test_the_real_next_step_in_every_state(energy: str) -> None:
    """Walks of forty steps from each state of the door: never a step in another state than its own."""
    call = Call(TREES, {"devices": ["photo-eye", "timer"]}, ["eye-lamp-wrong"], people=TREES.people)
    call.enter(energy)
    for _ in range(60):
        step = call.next_step()
        if step.kind == "energy":
            call.enter(step.id)
        elif step.kind == "check":
            assert TREES.checks[step.id].energy in (call.energy, "any")
            call.answer(step.id, "?")
        elif step.kind == "remedy":
            assert TREES.remedies[step.id].energy in (call.energy, "any")
            call.tried(step.id, True)
        elif step.kind == "proof":
            assert TREES.proofs[step.id].energy in (call.energy, "any")
            call.proved(step.id, True)
        else:
            break
    else:
        pytest.fail("No end after sixty steps.")
    assert step.id in ("return to service", "hand over")
