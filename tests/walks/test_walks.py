"""A door put up and handed over, and one looked over: every job in its order, every proof, and nothing before."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError
from diagnose.calls.state import fold
from diagnose.knowledge.model import COULD_NOT_TELL, Trees, applies
from diagnose.practice.from_life import shown_when_sound
from diagnose.sitting.cards import Card
from diagnose.sitting.sitting import Sitting

DEVICES = ("wall-station", "photo-eye", "timer", "network-module", "remote", "warning-lamp")
KINDS = [
    ("trolley", "sectional", "torsion-spring"),
    ("jackshaft", "high-lift", "torsion-spring"),
    ("hoist", "rolling-steel", "barrel-spring"),
    ("slide", "gate", "none"),
    ("swing", "gate", "none"),
]


def door(drive: str, construction: str, counterbalance: str, fire: str = "no", **more: Any) -> dict[str, Any]:
    facts = {"drive": drive, "construction": construction, "counterbalance": counterbalance, "fire-rated": fire}
    return {**facts, "supply": "three-phase", "nominal-volts": "460 V", "devices": DEVICES, **more}


def walked(trees: Trees, facts: dict[str, Any], walk: str = "commissioning", **given: Any) -> Call:
    return Call(trees, facts, walk=walk, people=given.pop("people", list(trees.people)), **given)


def sound(call: Call, card: Card) -> str:
    """What is said to a card at a door on which everything is right."""
    if card.kind == "check":
        check = call.trees.checks[card.id]
        said = shown_when_sound(check)
        return {"AWG": "12 AWG"}.get(check.unit, "20" if said == COULD_NOT_TELL else said)
    return {"energy": "entered", "job": "done", "proof": "passed", "stop": "return"}[card.kind]


def gone_through(call: Call, most: int = 300) -> list[tuple[str, str]]:
    """Every card put, by kind and id, until the call is closed."""
    sitting, put = Sitting(call), []
    while call.state.outcome is None and len(put) < most:
        card = sitting.put().card
        put.append((card.kind, card.id))
        sitting.choose(card, sound(call, card))
    return put


@pytest.mark.parametrize(("kind", "fire"), [*product(KINDS[:3], ("no", "yes")), *product(KINDS[3:], ("no",))])
def test_every_drive_is_put_up_and_handed_over(shipped_trees: Trees, kind: tuple[str, str, str], fire: str) -> None:
    facts = door(*kind, fire)
    call = walked(shipped_trees, facts)
    put = gone_through(call)
    assert call.state.outcome == "handed over"
    done = [name for what, name in put if what == "job"]
    walk = shipped_trees.walks["commissioning"]
    assert done == [job for job in walk.jobs if applies(shipped_trees.jobs[job].applies, facts)]
    assert call.ledger.passed == {proof.id for proof in call.needed_proofs()} and len(call.ledger.passed) > 20
    assert ("proof", "fire-door-drop") in put if fire == "yes" else ("proof", "fire-door-drop") not in put
    # What a job waits for is done before it, and what it reads is read before it.
    for number, (what, name) in enumerate(put):
        if what == "job":
            before = put[:number]
            job = shipped_trees.jobs[name]
            assert all(("job", each) in before for each in job.after if each in done), name
    read = {name for what, name in put if what == "check"}
    assert {"supply-volts-idle", "motor-current", "coast-distance"} <= read


def test_it_is_not_handed_over_with_a_job_or_a_proof_open(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[0]))
    with pytest.raises(CallError, match="not done yet"):
        call.close("handed over")
    with pytest.raises(CallError, match="ends with the door handed over"):
        call.close("returned to service")
    for job in call.open_jobs():
        call.job(job.id, "not needed", "It was done last week.")
    with pytest.raises(CallError, match="proofs have not passed"):
        call.close("handed over")
    last = call.open_proofs()[-1].id
    while proofs := [proof for proof in call.open_proofs() if proof.id != last]:
        call.enter(proofs[0].energy if proofs[0].energy != "any" else call.energy)
        call.proved(proofs[0].id, True)
    with pytest.raises(CallError, match="not proved yet"):
        call.close("handed over")


def test_what_is_done_again_is_proved_again(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[0]))
    while not call.ledger.passed:
        card = Sitting(call).put().card
        Sitting(call).choose(card, sound(call, card))
    call.job("set-limits", "done")
    assert not call.ledger.passed


def test_a_job_waits_for_what_comes_before_and_for_whoever_may_do_it(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[0]), people=["anyone", "technician"])
    with pytest.raises(CallError, match="comes before it"):
        call.job("build-chain", "done")
    with pytest.raises(CallError, match="none is here"):
        call.job("supply-isolated", "done")
    with pytest.raises(CallError, match="Say what is not right"):
        call.job("plan-supply", "not right")
    # What nobody here may do is left until somebody may; everything else goes on, and then it is said who must come.
    seen = []
    while (card := Sitting(call).put().card).kind != "stop":
        seen.append(card.id)
        Sitting(call).choose(card, sound(call, card))
    assert "hang-arm" in seen and "supply-isolated" not in seen
    assert card.id == "somebody must come" and "electrician" in card.lines[0][1]


def test_a_job_that_is_not_right_opens_a_complaint_and_the_walk_goes_on_after_it(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[0]))
    sitting = Sitting(call)
    while (card := sitting.put().card).id != "build-chain":
        sitting.choose(card, sound(call, card))
    sitting.choose(card, "not right", "It sags to the floor.")
    card = sitting.put().card
    assert card.id == "build-chain" and "It sags to the floor" in card.why
    assert "chain-slaps" in [choice.name for choice in card.choices]
    with pytest.raises(CallError):
        call.close("handed over")
    sitting.choose(card, "chain-slaps")
    assert sitting.put().card.kind != "job" and sitting.view().phase == "Finding the cause"
    call.done("tension-chain")
    call.judge({"chain-slaps": "gone"})
    card = sitting.put().card
    while card.kind == "energy":
        sitting.choose(card, "entered")
        card = sitting.put().card
    assert (card.kind, card.id) == ("job", "build-chain")
    gone_through(call)
    assert call.state.outcome == "handed over"


def test_it_is_gone_on_with_after_any_event(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[3]))
    gone_through(call)
    events = call.events
    for cut in range(2, len(events), 7):
        again = Call(shipped_trees, history=events[:cut])
        assert again.walk is not None and fold(events[:cut]).walk == "commissioning"
        put = Sitting(again).put()
        expected = events[cut]
        if isinstance(expected, ev.JobDone):
            assert put.card.id == expected.job
        elif isinstance(expected, ev.Proved):
            assert put.card.id == expected.proof


def test_the_yearly_visit_proves_what_every_door_needs_and_no_more(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[0]), "yearly-service")
    gone_through(call)
    assert call.state.outcome == "returned to service"
    assert all(shipped_trees.proofs[name].required == "yes" for name in call.ledger.passed)


def test_a_call_of_old_has_no_walk(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, {"drive": "trolley"}, ["chain-slaps"])
    assert call.walk is None and call.ends == "returned to service"
    with pytest.raises(CallError, match="no job of this walk"):
        call.job("build-chain", "done")


def test_a_complaint_that_comes_back_is_looked_into_again(shipped_trees: Trees) -> None:
    call = walked(shipped_trees, door(*KINDS[0]))
    for remedy in ("refasten-header-bracket", "tension-chain"):
        call.job("plan-supply", "not right", "It shakes.")
        call.state_symptoms(["rail-shakes"])
        assert not call.walking and "rail-shakes" in {each.id for each in call.missing()}
        call.tried(remedy, True)
        assert call.walking
        call.state_symptoms(["chain-slaps"])
        call.tried(remedy, True)


def test_the_yearly_service_reads_what_wears_towards_a_limit(shipped_trees: Trees) -> None:
    """The trends of a door want its readings, and those that others are worked out from."""
    checks, jobs = shipped_trees.checks, shipped_trees.jobs
    read = {name for job in shipped_trees.walks["yearly-service"].jobs for name in jobs[job].reads}
    wears = {name for name, check in checks.items() if check.limit and check.worse not in ("", "neither")}
    # How far the eyes are apart and how far they reach does not change.
    left = {name for name in wears - read if not set(checks[name].inputs.values()) & read} - {"eye-signal-margin"}
    assert left == set()
    facts = door("jackshaft", "sectional", "torsion-spring")
    call = walked(shipped_trees, facts, "yearly-service")
    put = gone_through(call)
    assert call.state.outcome == "returned to service"
    asked = {name for what, name in put if what == "check"}
    assert {"brake-lining-thickness", "chain-number", "chain-pitches", "tooth-left", "insulation-resistance"} <= asked
