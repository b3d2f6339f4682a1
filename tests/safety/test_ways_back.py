"""Ways a hurried person might get a dangerous door back into service: each is refused, with a sentence to act on."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress

import pytest

from diagnose.calls.call import Call, CallError, WordNeeded
from diagnose.knowledge.model import Trees

TROLLEY = {
    "drive": "trolley",
    "construction": "sectional",
    "supply": "single-phase",
    "nominal-volts": "115 V",
    "fire-rated": "no",
    "counterbalance": "torsion-spring",
    "devices": ("photo-eye", "wall-station", "timer"),
}
CREW = ("anyone", "technician", "door technician", "electrician")
COMPLAINT = "will-not-close-on-timer"
REPAIR = "realign-eyes"
POWER = "powered, covers on"


def begin(
    trees: Trees, people: tuple[str, ...] = CREW, complaints: tuple[str, ...] = (COMPLAINT,), **facts: object
) -> Call:
    stated = {key.replace("_", "-"): value for key, value in facts.items()}
    call = Call(trees, {**TROLLEY, **stated}, complaints, people=people)
    call.enter(POWER)
    return call


def prove(call: Call, *leaving: str) -> None:
    """Pass all that can be passed, each proof in its own state, but for ``leaving``."""
    stuck = set(leaving)
    while proofs := [proof for proof in call.open_proofs() if proof.id not in stuck]:
        if proofs[0].energy not in ("any", call.energy):
            call.enter(proofs[0].energy)
        try:
            call.proved(proofs[0].id, True)
        except CallError:
            stuck.add(proofs[0].id)
    if call.energy != POWER:
        call.enter(POWER)


def mended(call: Call, *leaving: str, repair: str = REPAIR) -> Call:
    call.tried(repair, True)
    prove(call, *leaving)
    return call


def no_guard_stated(trees: Trees) -> Call:
    call = mended(begin(trees, devices=("wall-station", "timer")), "closes-only-held", "nothing-else-closes")
    assert {"closes-only-held", "nothing-else-closes"} <= {proof.id for proof in call.open_proofs()}
    return call


def timer_left_closing(trees: Trees) -> Call:
    return mended(begin(trees, devices=("wall-station", "timer", "remote")), "nothing-else-closes")


def curtain_taken_off(trees: Trees) -> Call:
    call = begin(trees, devices=("light-curtain", "wall-station", "timer"))
    call.tried(REPAIR, True)
    call.state_fact("devices", ("wall-station", "timer"), became="taken off")
    prove(call, "closes-only-held", "nothing-else-closes")
    return call


def eye_dropped_without_a_word(trees: Trees) -> Call:
    call = mended(begin(trees), "eye-blocks-closing")
    call.state_fact("devices", ("wall-station", "timer"))
    return call


def eye_never_there_for_no_reason(trees: Trees) -> Call:
    call = mended(begin(trees), "eye-blocks-closing")
    call.state_fact("devices", ("wall-station", "timer"), became="never there")
    return call


def eye_forgotten_then_stated_anew(trees: Trees) -> Call:
    call = mended(begin(trees), "eye-blocks-closing")
    call.state_fact("devices", "")
    call.state_fact("devices", ("wall-station", "timer"))
    return call


def slack_cable_switch_taken_off(trees: Trees) -> Call:
    call = mended(begin(trees, devices=("photo-eye", "wall-station", "slack-cable-switch")))
    call.state_fact("devices", ("photo-eye", "wall-station"), became="taken off")
    call.tried(REPAIR, True)
    prove(call)
    return call


def fire_rating_taken_back(trees: Trees) -> Call:
    call = mended(begin(trees, fire_rated="yes"))
    call.state_fact("fire-rated", "no")
    return call


def fire_door_without_an_inspector(trees: Trees) -> Call:
    call = mended(begin(trees, fire_rated="yes"), "fire-door-drop")
    call.proved("fire-door-drop", True)
    return call


def springs_without_a_door_technician(trees: Trees) -> Call:
    call = begin(trees, ("anyone", "technician"), ("heavy-by-hand",))
    call.tried("replace-springs", True)
    return call


def balance_without_a_door_technician(trees: Trees) -> Call:
    call = begin(trees, complaints=("heavy-by-hand",))
    call.tried("replace-springs", True)
    call.state_people(("anyone", "technician"))
    prove(call)
    return call


def broken_spring_seen_and_another_repair(trees: Trees) -> Call:
    call = begin(trees)
    call.answer("springs-look", "gap in a coil")
    return mended(call)


def broken_spring_answered_anew_without_a_word(trees: Trees) -> Call:
    call = begin(trees)
    call.answer("springs-look", "gap in a coil")
    call.answer("springs-look", next(a for a in trees.checks["springs-look"].answers if "whole" in a), mode="again")
    return mended(call)


def broken_spring_withdrawn(trees: Trees) -> Call:
    call = begin(trees)
    call.answer("springs-look", "gap in a coil")
    call.withdraw("springs-look")
    return mended(call)


def broken_spring_undone(trees: Trees) -> Call:
    call = begin(trees)
    call.answer("springs-look", "gap in a coil")
    call.undo()
    return mended(call)


def bridged_interlock(trees: Trees) -> Call:
    call = begin(trees, devices=("photo-eye", "wall-station", "interlock"))
    call.answer("interlock-terminals-look", "a wire on no drawing")
    return mended(call)


def frayed_cable(trees: Trees) -> Call:
    call = begin(trees)
    call.answer("cables-look", "frayed or parted")
    return mended(call)


def wire_in_place_of_a_guard(trees: Trees) -> Call:
    call = begin(trees)
    call.answer("signal-traced", "a wire in its place")
    return mended(call)


def failed_proof(trees: Trees) -> Call:
    call = mended(begin(trees), "eye-blocks-closing")
    call.proved("eye-blocks-closing", False)
    return call


def failed_proof_passed_at_once(trees: Trees) -> Call:
    call = failed_proof(trees)
    call.proved("eye-blocks-closing", True)
    return call


def failed_proof_undone(trees: Trees) -> Call:
    call = failed_proof(trees)
    call.undo()
    return call


def failed_proof_after_an_early_pass(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.proved("eye-blocks-closing", False)
    return call


def stale_proofs(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.tried("clean-lenses", True)
    return call


def repair_said_not_finished(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.done("clean-lenses")
    call.not_finished()
    return call


def repair_undone_to_keep_its_proofs(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.tried("clean-lenses", True)
    call.undo()
    return call


def repair_not_tried(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.done("clean-lenses")
    prove(call)
    return call


def one_complaint_of_two(trees: Trees) -> Call:
    call = begin(trees, complaints=(COMPLAINT, "warning-silent"))
    call.done(REPAIR)
    call.judge({COMPLAINT: "gone"})
    prove(call)
    return call


def better_and_not_gone(trees: Trees) -> Call:
    call = begin(trees)
    call.done(REPAIR)
    call.judge({COMPLAINT: "better"})
    prove(call)
    return call


def too_early_to_tell(trees: Trees) -> Call:
    call = begin(trees)
    call.done(REPAIR)
    call.judge({COMPLAINT: "too early"}, "tomorrow at half past seven")
    prove(call)
    return call


def complaints_taken_away(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.state_symptoms(())
    return call


def one_complaint_dropped(trees: Trees) -> Call:
    call = begin(trees, complaints=(COMPLAINT, "warning-silent"))
    call.done(REPAIR)
    call.judge({COMPLAINT: "gone"})
    call.state_symptoms((COMPLAINT,))
    return call


def another_complaint_in_its_place(trees: Trees) -> Call:
    call = begin(trees)
    call.state_symptoms(("warning-silent",))
    return mended(call)


def readers_dropped_one_by_one(trees: Trees) -> Call:
    """While the timer is there nothing hangs on the remote; then the timer was never there, it is said, and why."""
    call = begin(trees, devices=("wall-station", "timer", "remote"))
    call.tried(REPAIR, True)
    call.state_fact("devices", ("wall-station", "timer"))
    call.state_fact("devices", ("wall-station",), became="never there", reason="it is the neighbour's")
    prove(call)
    return call


def force_limit_dropped_behind_another_drive(trees: Trees) -> Call:
    call = begin(trees, devices=("photo-eye", "wall-station", "force-limit"))
    call.tried(REPAIR, True)
    call.state_fact("drive", "slide", became="never there", reason="misread")
    call.state_fact("devices", ("photo-eye", "wall-station"), became="never there")
    call.state_fact("drive", "trolley", became="never there", reason="read right at first")
    prove(call)
    return call


def nothing_done_and_nothing_said(trees: Trees) -> Call:
    call = begin(trees)
    call.judge({COMPLAINT: "gone"})
    prove(call)
    return call


def locked_off(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.enter("off, locked and tagged")
    return call


def locked_off_and_any_state_said(trees: Trees) -> Call:
    call = locked_off(trees)
    call.enter("any")
    return call


def cover_open(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.enter("powered, cover open")
    return call


def proof_in_another_state(trees: Trees) -> Call:
    call = mended(begin(trees), "eye-blocks-closing")
    call.enter("off, locked and tagged")
    call.proved("eye-blocks-closing", True)
    return call


def proof_put_off(trees: Trees) -> Call:
    call = mended(begin(trees), "eye-blocks-closing")
    call.put_off("proof", "eye-blocks-closing")
    return call


def reopened_and_undone(trees: Trees) -> Call:
    call = mended(begin(trees))
    call.close("returned to service")
    call.reopen("it came back")
    call.proved("eye-blocks-closing", False)
    with suppress(WordNeeded):
        call.undo()
    return call


WAYS: list[Callable[[Trees], Call]] = [
    value
    for value in list(globals().values())
    if callable(value) and getattr(value, "__module__", "") == __name__ and value not in (begin, prove, mended)
]


@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_each_way_back_is_refused_with_what_to_do(shipped_trees: Trees, way: Callable[[Trees], Call]) -> None:
    try:
        call = way(shipped_trees)
        call.close("returned to service")
    except CallError as error:
        said = str(error)
        assert len(said) > 40 and said.lstrip("'")[0].isupper() and said.rstrip().endswith((".", "?")), said
        assert not any(word in said for word in ("Traceback", "None", "Missing(", "[/")), said
    else:
        pytest.fail("The door went back into service.")


def test_there_are_more_than_twenty_of_them() -> None:
    assert len(WAYS) >= 27


def test_the_plain_way_back_is_open(shipped_trees: Trees) -> None:
    """What none of them does: repair, try, prove, in the right states and by the right people."""
    call = mended(begin(shipped_trees))
    assert call.missing() == ()
    call.close("returned to service")
    assert call.state.outcome == "returned to service"


def test_a_held_only_door_has_its_way_back_too(shipped_trees: Trees) -> None:
    call = curtain_taken_off(shipped_trees)
    prove(call)
    call.close("returned to service")
    assert {"closes-only-held", "nothing-else-closes"} <= call.ledger.passed


def test_a_timer_that_was_taken_off_need_not_be_refitted(shipped_trees: Trees) -> None:
    """Its own proofs go with it, and it is shown instead that nothing it left behind commands the door."""
    call = begin(shipped_trees)
    call.tried(REPAIR, True)
    call.state_fact("devices", ("photo-eye", "wall-station"), became="taken off")
    open_now = {proof.id for proof in call.open_proofs()}
    assert "nothing-left-commanding" in open_now and "full-cycle-under-timer" not in open_now
    prove(call, "nothing-left-commanding")
    with pytest.raises(CallError):
        call.close("returned to service")
    prove(call)
    call.close("returned to service")
    assert call.state.outcome == "returned to service"
