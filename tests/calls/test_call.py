"""A call from its first symptom to a proven door, and every way of going back."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import msgspec
import pytest

from diagnose import Call
from diagnose.calls import events as ev
from diagnose.calls.answering import AnswerError
from diagnose.calls.call import CallError
from diagnose.calls.likely import NOTHING_FITS
from diagnose.calls.state import fold
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.reasoning.plan import Planner

FACTS = {
    "drive": "jackshaft",
    "construction": "sectional",
    "devices": ["photo-eye", "wall-station"],
    "fire-rated": "no",
}
NOON = datetime(2031, 5, 4, 12, 0, tzinfo=UTC)


@pytest.fixture
def call(small_trees: Trees) -> Call:
    return Call(small_trees, FACTS, ["eye-lamp-wrong"], by="tester", clock=lambda: NOON)


def probability(call: Call, cause: str) -> float:
    return next(item.probability for item in call.likely() if item.cause == cause)


def prove_all(call: Call) -> None:
    for _ in range(60):
        step = call.next_step()
        if step.kind == "energy":
            call.enter(step.id)
        elif step.kind == "proof":
            call.proved(step.id, True)
        else:
            return


def test_the_first_step_is_telling_cheap_and_says_why(call: Call) -> None:
    step = call.next_step()
    assert (step.kind, step.id) == ("check", "eye-lamp-receiver")
    assert "tells" in step.why and "%" in step.why
    assert step.interval[0] <= step.expected_minutes_left <= step.interval[1]


def test_answers_move_the_likely_causes_and_say_what_for(call: Call) -> None:
    before = probability(call, "eye-wiring-open")
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "0.4 V")
    first = call.likely()[0]
    assert first.cause == "eye-wiring-open" and first.probability > 0.9 > before
    assert {e.check for e in first.evidence if e.factor > 1} == {"eye-lamp-receiver", "eye-volts-far-end"}
    against = next(item for item in call.likely() if item.cause == "eye-out-of-line").evidence
    assert against[0].factor < 0.1


def test_unlisted_is_always_there_and_all_sum_to_one(call: Call) -> None:
    call.answer("eye-lamp-receiver", "steady")
    assert UNLISTED in {item.cause for item in call.likely()}
    assert sum(item.probability for item in call.likely()) == pytest.approx(1)


def test_could_not_tell_moves_nothing_and_is_not_asked_again(call: Call) -> None:
    before = [(item.cause, item.probability) for item in call.likely()]
    call.answer("eye-lamp-receiver", "?")
    assert [(item.cause, item.probability) for item in call.likely()] == before
    assert call.next_step().id != "eye-lamp-receiver"


def test_the_order_of_answers_does_not_matter(small_trees: Trees) -> None:
    answers = {"eye-lamp-receiver": "dark", "eye-volts-far-end": "1.5", "impact": "no sign", "splice-looks": "green"}
    forward, backward = (Call(small_trees, FACTS, ["eye-lamp-wrong"]) for _ in range(2))
    for check, text in answers.items():
        forward.answer(check, text)
    for check, text in reversed(answers.items()):
        backward.answer(check, text)
    assert {i.cause: pytest.approx(i.probability) for i in forward.likely()} == {
        i.cause: i.probability for i in backward.likely()
    }


def test_changing_or_withdrawing_an_answer_scores_everything_again(call: Call) -> None:
    untouched = probability(call, "eye-out-of-line")
    call.answer("eye-lamp-receiver", "dark")
    call.answer("impact", "hit")
    call.answer("eye-lamp-receiver", "blinking", mode="correction")
    assert call.state.answers["eye-lamp-receiver"].value == "blinking"
    assert [e.check for e in call.state.evidence] == ["eye-lamp-receiver", "impact"]  # type: ignore[union-attr]
    call.withdraw("eye-lamp-receiver")
    call.withdraw("impact")
    assert probability(call, "eye-out-of-line") == pytest.approx(untouched)
    with pytest.raises(CallError, match="no answer to withdraw"):
        call.withdraw("impact")


def test_undo_takes_back_one_event_after_the_other_and_never_the_opening(call: Call) -> None:
    before = call.likely()
    call.answer("eye-lamp-receiver", "dark")
    call.note("the bay smells of varnish")
    assert call.undo() and not call.state.notes
    assert call.undo() and call.likely() == before
    assert not call.undo()
    assert len(call.events) == 5


def test_a_repeated_reading_is_averaged_not_counted_twice(small_trees: Trees) -> None:
    once, twice = (Call(small_trees, FACTS, ["eye-lamp-wrong"]) for _ in range(2))
    for call in (once, twice):
        call.answer("eye-volts-far-end", "17.0 V")
    for _ in range(4):
        twice.answer("eye-volts-far-end", "17.0 V", mode="again")
    assert len(twice.state.answers["eye-volts-far-end"].value) == 5
    assert probability(twice, "eye-supply-low") == pytest.approx(probability(once, "eye-supply-low"), abs=0.02)


def test_a_choice_can_be_typed_by_number_or_by_its_start(call: Call) -> None:
    assert call.answer("eye-lamp-receiver", " 2 ").value == "blinking"
    assert call.answer("eye-lamp-receiver", "DA").value == "dark"
    assert call.answer("eye-lamp-receiver", "4").value == "could not tell"


@pytest.mark.parametrize(
    ("check", "text", "said"),
    [
        ("eye-lamp-receiver", "drak", "Did you mean 'dark'?"),
        ("eye-lamp-receiver", "", "Nothing was typed"),
        ("eye-lamp-receiver", "7", "not among the answers"),
        ("eye-lamp-receiver", "x" * 900, "longer than 500"),
        ("eye-volts-far-end", "24 lb", "volts"),
        ("eye-volts-far-end", "[/x]", ""),
    ],
)
def test_what_is_no_answer_is_said_plainly_and_nothing_is_recorded(
    call: Call, check: str, text: str, said: str
) -> None:
    with pytest.raises(AnswerError) as error:
        call.answer(check, text)
    assert said in str(error.value) and len(str(error.value)) > 10
    assert len(call.events) == 1


def test_an_unlikely_number_is_understood_and_doubted(call: Call) -> None:
    assert "?" in call.understand("eye-volts-far-end", "240 V").doubt
    assert not call.understand("eye-volts-far-end", "24.0 V").doubt


def test_unknown_ids_are_refused_with_a_hint(small_trees: Trees, call: Call) -> None:
    with pytest.raises(CallError, match="Did you mean 'eye-lamp-receiver'"):
        call.answer("eye-lamp-reciever", "dark")
    with pytest.raises(CallError, match="no symptom"):
        Call(small_trees, {}, ["eye-lamp-wrnog"])
    with pytest.raises(CallError, match="Did you mean 'hoist'"):
        Call(small_trees, {"drive": "hoistt"}, [])


def test_a_change_of_energy_state_is_a_step_of_its_own(call: Call) -> None:
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "0.2 V")
    call.answer("splice-looks", "?")
    seen = call.next_step()
    assert (seen.kind, seen.id, seen.goal) == ("energy", "off, locked and tagged", "remake-splice")
    call.enter(seen.id)
    assert (call.next_step().kind, call.next_step().id) == ("remedy", "remake-splice")


def test_nothing_is_switched_on_again_before_what_it_was_switched_off_for(
    call: Call, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In each of two states the plan may hold the other for a little better: then nobody would ever arrive."""
    call.answer("eye-lamp-receiver", "dark")
    off = next(name for name in call.trees.energy if name.startswith("off"))
    powered = next(c.id for c in call.trees.checks.values() if c.energy == call.energy)
    best = replace(call.planner.best(), kind="check", id=powered, way=(powered,))
    plan = replace(best, alternatives=(("check", powered, 5.0), ("stop", "", 6.0), ("remedy", "remake-splice", 7.0)))
    monkeypatch.setattr(Planner, "best", lambda _: plan)
    assert (call.next_step().kind, call.next_step().id) == ("check", powered)
    call.enter(off)
    assert (call.next_step().kind, call.next_step().id) == ("remedy", "remake-splice")
    call.answer("splice-looks", "?")
    assert (call.next_step().kind, call.next_step().goal) == ("energy", powered), "something was done there"


def test_a_repaired_door_returns_to_service_only_when_every_proof_passed(call: Call) -> None:
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "0.2 V")
    call.tried("remake-splice", True)
    with pytest.raises(CallError, match="proofs have not passed"):
        call.close("returned to service")
    needed = {proof.id for proof in call.needed_proofs()}
    assert {"eye-blocks-closing", "device-loss-stops-closing", "both-limits", "manual-release"} <= needed
    assert "edge-reverses" not in needed and "fire-door-drop" not in needed
    prove_all(call)
    assert call.next_step().id == "return to service"
    call.close("returned to service")
    assert call.next_step().id == "closed"
    call.reopen("the lamp went out again")
    assert call.state.outcome is None


def test_a_failed_proof_sends_the_diagnosis_on(call: Call) -> None:
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "0.2 V")
    call.tried("remake-splice", True)
    step = call.next_step()
    call.proved(step.id, False)
    assert call.inference.pairs
    assert call.next_step().kind in ("check", "remedy", "energy")
    with pytest.raises(CallError):
        call.close("returned to service")


def test_a_remedy_makes_earlier_proofs_stale(call: Call) -> None:
    call.tried("realign-eyes", True)
    prove_all(call)
    assert not call.open_proofs()
    call.tried("clean-lenses", True)
    assert len(call.open_proofs()) == len(call.needed_proofs())


def test_what_a_proof_undoes_is_proved_after_it(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, FACTS, ["eye-lamp-wrong"], people=["door technician"], clock=lambda: NOON)
    call.enter("powered, covers on")
    call.tried("realign-eyes", True)
    order = [proof.id for proof in call.open_proofs()]
    assert order[0] != "release-takes-hold" == order[-1] and "manual-release" in order
    call.proved("release-takes-hold", True)
    assert "release-takes-hold" not in [proof.id for proof in call.open_proofs()]
    call.enter("off, locked and tagged")
    call.proved("manual-release", True)
    assert "release-takes-hold" in [proof.id for proof in call.open_proofs()]
    prove_all(call)
    assert call.next_step().id == "return to service"
    call.close("returned to service")


def test_a_remedy_that_did_not_work_lowers_its_cause_and_is_not_suggested_a_third_time(call: Call) -> None:
    call.answer("eye-lamp-receiver", "blinking")
    before = probability(call, "eye-out-of-line")
    call.tried("realign-eyes", False)
    assert probability(call, "eye-out-of-line") < before / 4
    call.tried("realign-eyes", False)
    assert "realign-eyes" not in {repair.remedy.id for repair in call.planner.remedies}


def test_left_out_of_service_needs_a_reason(call: Call) -> None:
    with pytest.raises(CallError, match="Say why"):
        call.close("left out of service", "  ")
    call.close("left out of service", "waiting for a photo eye")
    assert call.state.outcome == "left out of service"


def test_answers_that_fit_nothing_raise_unlisted_and_name_the_odd_one(call: Call) -> None:
    call.answer("eye-lamp-receiver", "steady")
    call.answer("closes-while-held", "no")
    call.answer("lens-clean", "clean")
    call.answer("eye-aim", "firm")
    call.answer("eye-volts-far-end", "24.1 V")
    assert call.likely()[0].cause == UNLISTED
    assert call.surprise().unlisted > 0.5
    assert call.surprise().conflict > 0


def test_a_told_answer_weighs_less_than_a_seen_one(small_trees: Trees) -> None:
    seen, told = (Call(small_trees, FACTS, ["eye-lamp-wrong"]) for _ in range(2))
    seen.answer("eye-lamp-receiver", "dark")
    told.answer("eye-lamp-receiver", "dark", heard="told")
    assert probability(seen, "eye-lens-dirty") < probability(told, "eye-lens-dirty")


def test_a_recorder_that_fails_leaves_the_call_as_it_was(small_trees: Trees) -> None:
    kept: list[ev.AnyEvent] = []

    def record(event: ev.AnyEvent) -> None:
        if len(kept) == 2:
            raise OSError("no space left on the disk")
        kept.append(event)

    call = Call(small_trees, FACTS, ["eye-lamp-wrong"], recorder=record)
    call.answer("eye-lamp-receiver", "dark")
    with pytest.raises(OSError):
        call.answer("impact", "hit")
    assert "impact" not in call.state.answers
    assert list(call.events) == kept


def test_events_alone_give_the_same_call_back(call: Call, small_trees: Trees) -> None:
    call.answer("eye-lamp-receiver", "dark")
    call.answer("eye-volts-far-end", "1,5 V")
    call.undo()
    call.tried("clean-lenses", False)
    again = Call(small_trees, history=call.events)
    assert again.state == call.state == fold(call.events)
    assert again.likely() == call.likely()
    assert again.next_step() == call.next_step()


def test_every_event_says_when_who_and_against_which_trees(call: Call, small_trees: Trees) -> None:
    call.answer("eye-volts-far-end", "  1,5 V ")
    event = call.events[-1]
    assert isinstance(event, ev.Answered)
    assert (event.raw, event.value, event.unit) == ("  1,5 V ", (1.5,), "V")
    assert (event.at, event.by) == ("2031-05-04T12:00:00+00:00", "tester")
    assert small_trees.digest.startswith(event.digest) and event.digest


def test_a_check_waits_for_what_opens_it(call: Call) -> None:
    reachable = {candidate.way.goal for candidate in call.planner.candidates}
    assert "splice-looks" not in reachable
    call.answer("eye-lamp-receiver", "dark")
    assert "splice-looks" in {candidate.way.goal for candidate in call.planner.candidates}


def test_what_comes_before_is_asked_first_and_a_no_closes_the_way(call: Call) -> None:
    call.answer("eye-lamp-receiver", "dark")
    way = next(c.way for c in call.planner.candidates if c.way.goal == "eye-volts-far-end")
    assert way.steps == ("door-secured", "eye-volts-far-end")
    call.answer("door-secured", "no")
    assert "eye-volts-far-end" not in {c.way.goal for c in call.planner.candidates}


def test_a_door_is_asked_only_about_what_it_has(small_trees: Trees) -> None:
    call = Call(small_trees, {"devices": ["timer"]}, ["eye-lamp-wrong"])
    assert [item.cause for item in call.likely()] == [UNLISTED]
    assert call.next_step().id == "hand over"


def test_a_remedy_that_these_trees_no_longer_know_does_no_harm(call: Call, small_trees: Trees) -> None:
    call.tried("clean-lenses", True)
    remedies = {name: entry for name, entry in small_trees.remedies.items() if name != "clean-lenses"}
    causes = {name: entry for name, entry in small_trees.causes.items() if "clean-lenses" not in entry.remedies}
    symptoms = {
        name: msgspec.structs.replace(entry, causes={c: p for c, p in entry.causes.items() if c in causes})
        for name, entry in small_trees.symptoms.items()
    }
    changed = msgspec.structs.replace(
        small_trees, remedies=remedies, causes=causes, symptoms=symptoms, digest="other trees"
    )
    again = Call(changed, history=call.events)
    assert again.next_step().kind in ("proof", "energy")


def test_no_devices_can_be_said_and_forgotten(call: Call) -> None:
    call.state_fact("devices", ())
    assert call.state.facts["devices"] == ()
    assert "eye-blocks-closing" not in {proof.id for proof in call.needed_proofs()}
    call.state_fact("devices", "")
    assert "devices" not in call.state.facts
    call.state_place("Heron Lane Bottling", "dock 2")
    assert (call.state.site, call.state.door) == ("Heron Lane Bottling", "dock 2")


def test_a_second_look_that_agrees_is_believed_more_and_one_that_differs_replaces(call: Call) -> None:
    call.answer("eye-lamp-receiver", "blinking")
    once = probability(call, "eye-out-of-line")
    call.answer("eye-lamp-receiver", "blinking")
    assert len(call.state.answers["eye-lamp-receiver"].raw) == 2
    assert probability(call, "eye-wiring-open") < 0.2 and probability(call, "eye-out-of-line") >= once
    call.answer("eye-lamp-receiver", "dark")
    assert call.state.answers["eye-lamp-receiver"].value == "dark"
    assert call.state.answers["eye-lamp-receiver"].raw == ("dark",)


def test_a_doubtful_answer_is_looked_at_again_before_it_is_called_unknown(call: Call) -> None:
    for check, text in {
        "eye-lamp-receiver": "steady",
        "eye-lamp-transmitter": "steady",
        "lens-clean": "dirty or wet",
        "eye-aim": "firm",
        "eye-volts-far-end": "24.1",
        "closes-while-held": "no",
        "splice-looks": "clean",
        "how-it-began": "suddenly",
    }.items():
        call.answer(check, text)
    assert call.likely()[0].cause == UNLISTED
    step = call.next_step()
    again = call.surprise().again
    assert again and step.goal == again[0] and "slip" in step.why
    unlisted = probability(call, UNLISTED)
    call.answer(step.goal, "steady", mode="again")
    assert probability(call, UNLISTED) > unlisted, "what is seen twice is hardly a slip"
    assert step.goal not in call.surprise().again and call.next_step().goal != step.goal
    call.answer(step.goal, "dark", mode="correction")
    assert probability(call, UNLISTED) < unlisted


def test_answers_that_fit_nothing_are_said_to_and_doubt_the_repair(call: Call) -> None:
    """The odds of a cause not in the book are held against what they were: a rare thing shows before it leads."""
    assert call.surprise().raised == pytest.approx(1.0) and not call.surprise().nothing_fits
    call.answer("eye-lamp-receiver", "blinking")
    call.answer("eye-aim", "off or loose")
    assert call.surprise().raised < 1 and NOTHING_FITS not in call.next_step().why
    for check, text in (("eye-lamp-receiver", "steady"), ("eye-aim", "firm"), ("lens-clean", "dirty or wet")):
        call.answer(check, text, mode="correction" if check in call.state.answers else "new")
    call.answer("eye-volts-far-end", "24.1")
    call.answer("eye-lamp-transmitter", "steady")
    before, now = call.situation.prior[-1], probability(call, UNLISTED)
    assert call.surprise().raised == pytest.approx(now / (1 - now) * (1 - before) / before)
    assert call.surprise().nothing_fits
    first, *others = call.likely()
    assert first.cause == UNLISTED, "it leads, whatever its share was before"
    assert others == sorted(others, key=lambda each: -each.probability)
    step = call.next_step()
    assert step.kind != "remedy" or NOTHING_FITS in step.why


def test_a_closed_call_takes_nothing_but_notes_until_it_is_reopened(call: Call, small_trees: Trees) -> None:
    call.tried("realign-eyes", True)
    prove_all(call)
    call.close("returned to service")
    for change in (
        lambda: call.tried("clean-lenses", True),
        lambda: call.proved("both-limits", False),
        lambda: call.answer("impact", "hit"),
        lambda: call.close("returned to service"),
    ):
        with pytest.raises(CallError, match="Reopen"):
            change()
    call.note("the driver honked")
    assert call.state.outcome == "returned to service"
    call.reopen()
    call.proved("both-limits", False)
    with pytest.raises(CallError, match="it failed"):
        call.close("returned to service")


def test_what_a_file_adds_after_the_closing_undoes_the_closing(call: Call) -> None:
    call.close("left out of service", "no part on the van")
    late = ev.Tried(sequence=99, at="2031-05-04T13:00:00+00:00", remedy="clean-lenses", worked=True)
    assert fold([*call.events, late]).outcome is None


@pytest.mark.parametrize("fact", ["construction", "drive"])
def test_a_kind_of_door_that_the_trees_do_not_know_is_refused_with_its_sentence(
    shipped_trees: Trees, fact: str
) -> None:
    other = "another kind"
    call = Call(shipped_trees, {**FACTS, fact: other}, ["vehicle-hit-it"])
    step = call.next_step()
    assert (step.kind, step.id) == ("stop", "hand over")
    assert step.why == shipped_trees.facts[fact].not_served[other]
    call.state_fact(fact, str(FACTS[fact]))
    assert call.next_step().kind != "stop", "said rightly, the door is served"
