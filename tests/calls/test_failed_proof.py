"""A proof that fails shows a complaint of its own: it is offered before the first one is gone on with."""

from __future__ import annotations

import io

import pytest

from diagnose.calls.call import Call, CallError
from diagnose.calls.document import text_of
from diagnose.calls.next_step import PROOF_FAILED, RETURN
from diagnose.calls.report import record
from diagnose.calls.verdict import verdict
from diagnose.commands.console import Console
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import Trees, applies
from tests.doors import TROLLEY_DOOR

EYES = "eye-blocks-closing"


@pytest.fixture
def call(shipped_trees: Trees) -> Call:
    call = Call(shipped_trees, TROLLEY_DOOR, ["stops-short"])
    call.tried("set-limits", worked=True)
    call.proved(EYES, passed=False)
    return call


def test_what_a_proof_showed_comes_before_the_first_complaint(call: Call) -> None:
    step = call.next_step()
    assert (step.kind, step.id, step.goal_kind, step.goal) == ("stop", PROOF_FAILED, "proof", EYES)
    assert call.trees.proofs[EYES].title in step.why
    assert call.raised_by(call.trees.proofs[EYES]) == ("closes-on-obstruction",)


def test_taken_up_it_is_looked_into_and_what_was_found_still_counts(call: Call) -> None:
    call.answer("recent-work", "none")
    call.state_symptoms(["closes-on-obstruction"])
    step = call.next_step()
    assert step.id != PROOF_FAILED and step.kind in ("check", "energy")
    causes = call.situation.causes
    assert "device-input-not-enabled" in causes and "limit-set-wrong" not in causes
    assert "recent-work" in call.inference.known
    call.tried("enable-device-input", worked=True)
    assert call.state.proving and EYES in {proof.id for proof in call.open_proofs()}, "all is proved anew"


def test_the_record_names_what_is_likely_now_and_not_what_was_mended_before(call: Call) -> None:
    call.state_symptoms(["closes-on-obstruction"])
    call.answer("input-setting", "not enabled")
    found = verdict(call)
    assert found.leading is not None and found.leading.cause == call.likely()[0].cause == "device-input-not-enabled"
    assert found.remedy == ""
    written = text_of(record(call))
    assert (
        "- Closes on what is in its way, or does not turn back\n- Always stops at the same wrong place (stated before)"
        in written
    )
    call.tried("enable-device-input", worked=True)
    mended = verdict(call)
    assert (mended.leading.cause if mended.leading else "", mended.remedy) == (
        found.leading.cause,
        "enable-device-input",
    )


def test_put_off_the_first_complaint_goes_on_until_the_proof_is_run_again(call: Call) -> None:
    call.put_off("proof", EYES)
    assert call.next_step().id != PROOF_FAILED
    call.proved(EYES, passed=False)
    assert call.next_step().id == PROOF_FAILED
    with pytest.raises(CallError, match="has failed"):
        call.proved(EYES, passed=True)
    call.put_off("proof", EYES)
    call.tried("clean-lenses", worked=False)
    call.proved(EYES, passed=True)
    assert call.next_step().id not in (PROOF_FAILED, RETURN)


def test_a_complaint_that_is_looked_into_already_is_not_raised_again(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, TROLLEY_DOOR, ["closes-on-obstruction"])
    call.tried("move-beam-to-door", worked=True)
    call.proved(EYES, passed=False)
    assert call.next_step().id != PROOF_FAILED


def test_every_proof_that_can_show_a_complaint_raises_one_that_its_door_can_have(shipped_trees: Trees) -> None:
    silent = {proof.id for proof in shipped_trees.proofs.values() if not proof.raises}
    assert silent == {"fire-door-drop", "nothing-left-commanding"}, "what it shows is mended by others"
    for proof in shipped_trees.proofs.values():
        facts = {name: (allowed[0],) for name, allowed in proof.applies.items()}
        plain = {name: value[0] if shipped_trees.facts[name].many == "no" else value for name, value in facts.items()}
        can = [s for s in proof.raises if applies(shipped_trees.symptoms[s].applies, plain)]
        assert can or not proof.raises, proof.id


def test_in_the_plain_mode_it_is_asked_which(call: Call) -> None:
    said = io.StringIO()
    Interview(call, "x", Console(200, io.StringIO("1\nquit\n"), said)).run()
    assert "Look into: Closes on what is in its way" in said.getvalue()
    assert call.state.symptoms == ("closes-on-obstruction",)
    call.undo()
    Interview(call, "x", Console(200, io.StringIO("2\nquit\n"), said)).run()
    assert call.state.symptoms == ("stops-short",) and ("proof", EYES) in call.state.put_off
