"""Which questions are put to a caller, and when they end."""

from __future__ import annotations

import numpy as np
import pytest

from diagnose import Call
from diagnose.knowledge.model import COULD_NOT_TELL, Check, Trees, Van
from diagnose.screening.hearsay import chances, doubts, phone_inference
from diagnose.screening.interview import (
    asked_facts,
    caller_checks,
    may_be_asked,
    next_question,
    question_costs,
    take,
    told,
)
from diagnose.screening.needs import Needs
from tests.screening.conftest import Begin


def settle_urgency(call: Call) -> Call:
    call.state_fact("standing", "usable")
    return call


def test_nothing_is_asked_before_the_complaint_is_known(begin: Begin, van: Van) -> None:
    assert next_question(begin(), van) is None


def test_what_decides_the_urgency_is_asked_first_unless_it_is_urgent_already(begin: Begin, van: Van) -> None:
    question = next_question(begin("will-not-move"), van)
    assert question is not None and (question.kind, question.id) == ("fact", "standing")
    urgent = begin("will-not-move")
    urgent.danger("falling", "yes")
    later = next_question(urgent, van)
    assert later is None or later.id != "standing"


def test_the_worth_of_a_question_is_what_it_saves_on_the_average(begin: Begin, van: Van) -> None:
    call = settle_urgency(begin("will-not-move", facts={"height": "low", "devices": ()}))
    question = next_question(call, van)
    assert question is not None and question.kind == "check"
    inference = phone_inference(call)
    needs = Needs(call.trees, inference.situation.causes, call.situation.facts, van, doubts(call))
    belief, table = chances(inference), told(call.trees, inference.situation.tables[question.id])
    after = 0.0
    for row in table:
        chance = float(belief @ row)
        after += chance * float(needs.loss((belief * row / chance)[None])[0])
    assert question.worth == pytest.approx(float(needs.loss(belief[None])[0]) - after - question_costs(call))
    others = [check for check in caller_checks(call) if check.id != question.id]
    assert others, "there must be something to choose from"
    for check in others:
        other = told(call.trees, inference.situation.tables[check.id])
        worth = float(needs.loss(belief[None])[0] - needs.loss(belief * other).sum()) - question_costs(call)
        assert worth <= question.worth + 1e-9


def test_it_stops_when_no_answer_would_change_what_is_sent(begin: Begin, van: Van) -> None:
    call = settle_urgency(begin("will-not-move", facts={"devices": ("eye",)}))
    asked = []
    while (question := next_question(call, van)) is not None:
        asked.append((question.kind, question.id, question.repeat))
        truth = {"lamp": "dark", "springs-look": "whole", "wall-works": "no"}
        answer = "yes" if question.repeat else truth[question.id] if question.kind == "check" else question.answers[0]
        take(call, question, answer)
        assert len(asked) < 12
    assert ("check", "lamp", "") in asked
    inference = phone_inference(call)
    needs = Needs(call.trees, inference.situation.causes, call.situation.facts, van, doubts(call))
    belief = chances(inference)
    for check in caller_checks(call):
        rows = belief * told(call.trees, inference.situation.tables[check.id])
        assert float(needs.loss(belief[None])[0] - needs.loss(rows).sum()) <= question_costs(call)


def test_hearsay_does_not_wait_for_what_is_done_first_at_the_door(begin: Begin) -> None:
    call = begin("will-not-move", facts={"devices": ("network",)}, people=("anyone",))
    assert "wall-works" in [check.id for check in caller_checks(call)]
    assert "wall-works" not in [candidate.way.goal for candidate in call.planner.candidates]


def test_only_what_a_layman_sees_from_the_floor_is_asked(begin: Begin) -> None:
    call = begin("will-not-move", "hangs-crooked")
    assert {check.id for check in caller_checks(call)} <= {"lamp", "springs-look", "wall-works"}
    assert not may_be_asked(call.trees, call.trees.checks["board-looks"])
    assert not may_be_asked(call.trees, call.trees.checks["fuse-ohms"])


def test_what_was_answered_is_not_asked_again_known_or_not(begin: Begin, van: Van) -> None:
    call = settle_urgency(begin("will-not-move"))
    seen: set[tuple[str, str]] = set()
    while (question := next_question(call, van)) is not None:
        assert (question.id, question.repeat) not in seen
        seen.add((question.id, question.repeat))
        take(call, question, COULD_NOT_TELL)
    assert {"lamp", "springs-look"} <= {name for name, _ in seen}


def test_a_caller_is_believed_less_than_a_pair_of_eyes(begin: Begin) -> None:
    call = begin("will-not-move")
    table = call.situation.tables["lamp"]
    heard = told(call.trees, table)
    assert heard.sum(axis=0) == pytest.approx(np.ones(call.situation.count))
    fuse = call.situation.causes.index("fuse-blown")
    dark = table.answers.index("dark")
    assert heard[dark, fuse] == pytest.approx(0.88 * 0.98 + 0.12 / 2)
    assert heard[dark, fuse] < table.likelihood[dark, fuse]


def test_what_a_lift_hangs_on_is_said_back_once(begin: Begin, van: Van) -> None:
    call = settle_urgency(begin("will-not-move", facts={"devices": ()}))
    call.answer("springs-look", "gap", heard="told")
    call.answer("lamp", "lit", heard="told")
    call.state_fact("height", "low")
    question = next_question(call, van)
    assert question is not None and (question.id, question.repeat) == ("height", "low")
    assert [need.id for need in question.may_change] == ["lift"]
    take(call, question, "yes")
    assert doubts(call)["height"] == pytest.approx(0.12**2 / (0.12**2 + 0.88**2))
    again = next_question(call, van)
    assert again is None or again.id != "height"


def test_what_was_taken_back_is_open_and_asked_just_once_more(begin: Begin, van: Van) -> None:
    call = settle_urgency(begin("will-not-move", facts={"devices": ()}))
    call.answer("springs-look", "gap", heard="told")
    call.answer("lamp", "lit", heard="told")
    call.state_fact("height", "low")
    question = next_question(call, van)
    assert question is not None and question.repeat == "low"
    take(call, question, "no")
    assert "height" not in call.state.facts
    question = next_question(call, van)
    assert question is not None and (question.id, question.repeat) == ("height", "")
    take(call, question, COULD_NOT_TELL)
    assert "height" in asked_facts(call)


def test_an_answer_that_is_a_sign_of_danger_raises_it_at_once(begin: Begin, van: Van) -> None:
    call = settle_urgency(begin("will-not-move", facts={"height": "low", "devices": ()}))
    while (question := next_question(call, van)) is not None and question.id != "springs-look":
        take(call, question, COULD_NOT_TELL)
    assert question is not None
    assert [raised.danger.id for raised in take(call, question, "gap")] == ["falling"]
    assert call.state.dangers == {"falling": "yes"}
    assert call.state.answers["springs-look"].heard == "told"


# --- the trees that ship ---------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def asked(shipped_trees: Trees) -> dict[str, dict[str, Check]]:
    """What a caller may be asked of a door of which nothing is known, by complaint and by check."""
    return {
        symptom: {check.id: check for check in caller_checks(Call(shipped_trees, {}, [symptom]))}
        for symptom in shipped_trees.symptoms
    }


def test_no_caller_is_ever_asked_to_climb_open_or_touch(shipped: Trees, asked: dict[str, dict[str, Check]]) -> None:
    """Over every complaint: each check that may be put is for anyone, from the floor, with the covers on."""
    assert asked.keys() == shipped.symptoms.keys()
    for checks in asked.values():
        for check in checks.values():
            assert check.caller is not None
            assert shipped.people[check.who].call_out == 0 and not shipped.people[check.who].includes, check.id
            assert shipped.access[check.access].minutes == 0, check.id
            assert check.energy == "any" or shipped.energy[check.energy].cover == "on", check.id
            assert check.kind == "question" or not check.tool, check.id


def test_a_complaint_comes_to_an_end_whatever_cannot_be_told(shipped: Trees, begin: Begin) -> None:
    """One complaint in twelve, the first among them: nothing that is asked differs by more than its causes."""
    van = next(iter(shipped.vans.values()))
    for symptom in list(shipped.symptoms)[::12]:
        call = begin(symptom, trees=shipped)
        count = 0
        while (question := next_question(call, van)) is not None:
            count += 1
            assert count < 60, symptom
            take(call, question, COULD_NOT_TELL)


def test_each_question_costs_more_than_the_last(begin: Begin) -> None:
    call = begin("will-not-move")
    first = question_costs(call)
    call.state_fact("height", "low")
    call.answer("lamp", "dark", heard="told")
    assert question_costs(call) == pytest.approx(first * (1 + 2 / 8))
    # What the technician sees has cost the caller nothing.
    call.answer("track-looks", "straight")
    assert question_costs(call) == pytest.approx(first * (1 + 2 / 8))


def test_no_caller_is_asked_about_what_they_never_spoke_of(shipped: Trees, asked: dict[str, dict[str, Check]]) -> None:
    """Where the noise comes from, say, of a caller who complained of none."""
    presuming = {check.id for check in shipped.checks.values() if check.presumes}
    assert {"noise-from", "noise-kind", "noise-when"} <= presuming
    offered: set[str] = set()
    for symptom, checks in asked.items():
        wrong = {check for check in checks.keys() & presuming if symptom not in shipped.checks[check].presumes}
        assert not wrong, symptom
        offered |= checks.keys() & presuming
    assert {"noise-from", "noise-kind", "noise-when"} <= offered


def test_no_caller_is_asked_about_a_thing_that_their_door_hardly_has(
    shipped: Trees, begin: Begin, asked: dict[str, dict[str, Check]]
) -> None:
    """A gate, a light curtain or a phone, of a door of which nothing was said but what it does wrong."""
    on_few_doors = {"app-message", "curtain-lamp", "detector-lamp", "gate-moves-with-operator", "trucks-look"}
    assert not on_few_doors & asked["dead-no-response"].keys() and not on_few_doors & asked["drifts-down"].keys()
    assert not {"barrel-sound", "slat-ends"} & asked["roller-out"].keys()
    # Where it is what the complaint is about, or was said, it is asked.
    assert "curtain-lamp" in asked["curtain-lamp-wrong"] and "app-message" in asked["module-drops-off"]
    assert "eye-lamp-receiver" in asked["will-not-close-on-timer"] and "gate-on-guides" in asked["gate-off-guides"]
    told = begin("dead-no-response", trees=shipped, facts={"devices": ("photo-eye",), "construction": "sectional"})
    assert "eye-lamp-receiver" in {check.id for check in caller_checks(told)}


@pytest.mark.parametrize(
    ("asked", "only"),
    [("heavy-since", "heavy-by-hand"), ("shock-when", "tingle-felt"), ("circuit-loads", "trips-at-once")],
)
def test_what_nobody_complained_of_is_not_taken_for_granted(
    shipped: Trees, begin: Begin, asked: str, only: str
) -> None:
    for symptom in ("noisy-door", "battery-warning", "closes-by-itself"):
        assert asked not in {check.id for check in caller_checks(begin(symptom, trees=shipped))}
    assert asked in {check.id for check in caller_checks(begin(only, trees=shipped))}


def test_what_follows_from_a_fact_told_is_doubted_as_that_is(shipped: Trees) -> None:
    symptom, slip, followed = next(iter(shipped.symptoms)), shipped.costs.caller_slip, set()
    for answer in shipped.facts["construction"].answers:
        call = Call(shipped, {"construction": answer}, [symptom])
        followed |= (follows := call.situation.facts.keys() - call.state.facts.keys())
        assert all(doubts(call)[fact] == pytest.approx(slip) for fact in follows)
        assert np.isfinite(chances(phone_inference(call))).all()
    assert followed
