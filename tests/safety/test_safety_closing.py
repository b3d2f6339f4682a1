"""No way back into service around a proof: every course of five events on a small door, and long courses at random."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from diagnose.calls.call import Call, CallError
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees, applies
from diagnose.safety.closing import BACK, Oracle, act, courses, small_door
from diagnose.safety.invariant import Visited
from tests.conftest import SMALL


def test_every_course_of_events(small_trees: Trees) -> None:
    small = small_door(small_trees)
    assert small is not None
    assert len(small.proofs) >= 2 and small.without
    visited = Visited()
    assert list(courses(small, 4, visited)) == []
    assert visited.count > 20_000


def test_the_only_ways_back(small_trees: Trees) -> None:
    """Of all courses of three events, those after which the call stands returned are the ones that prove the door."""
    small = small_door(small_trees)
    assert small is not None
    passes = [("pass", proof.id) for proof in small.proofs if proof.required == "yes"]
    assert len(passes) == 2
    returned = []
    events = [*passes, ("fail", passes[0][1]), ("repair", small.remedy.id), ("close",), ("note",)]
    for course in itertools.product(events, repeat=3):
        call, oracle = Call(small.trees, small.facts), Oracle(small, dict(small.facts))
        for event in course:
            act(call, oracle, event)
        if call.state.outcome == BACK:
            returned.append(course)
    assert sorted(returned) == sorted([(passes[0], passes[1], ("close",)), (passes[1], passes[0], ("close",))])


TREES = load_trees(SMALL, cache=False)
PROOFS = st.sampled_from(sorted(TREES.proofs))
DEVICES = st.sampled_from([(), ("photo-eye",), ("timer",), ("photo-eye", "timer"), ("sensing-edge", "interlock")])


class Calls(RuleBasedStateMachine):
    """A technician who does anything in any order, beside a plain account of what has been proved."""

    @initialize(devices=DEVICES, people=st.sampled_from([("anyone",), ("anyone", "technician")]))
    def opens(self, devices: tuple[str, ...], people: tuple[str, ...]) -> None:
        self.call = Call(TREES, {"devices": devices, "fire-rated": "no"}, ["eye-lamp-wrong"], people=people)

    @rule(proof=PROOFS, passed=st.booleans())
    def proves(self, proof: str, passed: bool) -> None:
        self._try(lambda: self.call.proved(proof, passed))

    @rule()
    def proves_all_that_is_open(self) -> None:
        for proof in self.call.open_proofs():
            self._try(lambda proof=proof: self.call.proved(proof.id, True))  # type: ignore[misc]

    @rule(remedy=st.sampled_from(sorted(TREES.remedies)), worked=st.booleans())
    def repairs(self, remedy: str, worked: bool) -> None:
        self._try(lambda: self.call.tried(remedy, worked))

    @rule(check=st.sampled_from(sorted(TREES.checks)), data=st.data())
    def answers(self, check: str, data: st.DataObject) -> None:
        answers = TREES.checks[check].answers
        if answers:
            answer = data.draw(st.sampled_from([*answers, "?"]))
            self._try(lambda: self.call.answer(check, answer))

    @rule(energy=st.sampled_from(sorted(TREES.energy)))
    def enters(self, energy: str) -> None:
        self._try(lambda: self.call.enter(energy))

    @rule(devices=DEVICES)
    def corrects(self, devices: tuple[str, ...]) -> None:
        self._try(lambda: self.call.state_fact("devices", devices))

    @rule()
    def undoes(self) -> None:
        self._try(self.call.undo)

    @rule()
    def closes(self) -> None:
        self._try(lambda: self.call.close(BACK))

    @rule()
    def leaves_it_out(self) -> None:
        self._try(lambda: self.call.close("left out of service", "waits for a part"))

    @rule()
    def reopens(self) -> None:
        self._try(self.call.reopen)

    @precondition(lambda self: self.call.state.outcome is None)
    @rule()
    def takes_the_next_step(self) -> None:
        """What is handed out is done, in the state it needs and by somebody who may."""
        step = self.call.next_step(quick=True)
        if step.kind == "energy":
            assert step.id != self.call.energy
            self.call.enter(step.id)
            step = self.call.next_step(quick=True)
        homes = {"check": TREES.checks, "remedy": TREES.remedies, "proof": TREES.proofs}
        if step.kind not in homes:
            return
        entry = homes[step.kind][step.id]
        assert entry.energy in (self.call.energy, "any")
        if step.kind == "check":
            assert entry.who in self.call.state.people
            self.call.answer(step.id, "?")
        elif step.kind == "remedy":
            self.call.tried(step.id, True)
        else:
            self.call.proved(step.id, True)

    @invariant()
    def a_door_in_service_is_proved(self) -> None:
        if self.call.state.outcome == BACK:
            assert self._unproved() == []

    def _unproved(self) -> list[str]:
        """The proofs this door needs and has not passed since the last repair, from the evidence alone."""
        from diagnose.calls.state import Proof, Try

        tried: set[str] = set()
        results: dict[str, bool] = {}
        for item in self.call.state.evidence:
            if isinstance(item, Try):
                tried.add(item.remedy)
                results = {}
            elif isinstance(item, Proof):
                results[item.proof] = item.passed
        named = {proof for remedy in tried for proof in TREES.remedies[remedy].proofs}
        needed = [
            proof.id
            for proof in TREES.proofs.values()
            if applies(proof.applies, self.call.state.facts) and (proof.required == "yes" or proof.id in named)
        ]
        return [proof for proof in needed if not results.get(proof)]

    def _try(self, act: object) -> None:
        assert callable(act)
        try:
            act()
        except CallError:
            return


Calls.TestCase.settings = settings(max_examples=30, stateful_step_count=25, deadline=None)
TestCalls = Calls.TestCase


@pytest.mark.parametrize("energy", sorted(TREES.energy))
def test_the_real_next_step_in_every_state(energy: str) -> None:
    """Walks of forty steps from each state of the door: never a step in another state than its own."""
    call = Call(TREES, {"devices": ["photo-eye", "timer"]}, ["eye-lamp-wrong"])
    call.enter(energy)
    for _ in range(40):
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
        pytest.fail("No end after forty steps.")
    assert step.id in ("return to service", "hand over")
