"""The course of a phone call, without a face: what is asked in which order, what is recorded, and what back means."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose import Call, load_trees
from diagnose.calls import events as ev
from diagnose.calls.call import CallError
from diagnose.calls.state import fold
from diagnose.knowledge.model import COULD_NOT_TELL, Trees
from diagnose.sitting.handover import from_the_phone
from diagnose.sitting.phone import (
    AskComplaint,
    AskPlace,
    AskQuestion,
    AskSigns,
    End,
    Move,
    Over,
    Phone,
    SayAnswer,
    SayComplaint,
    SayPlace,
    SaySigns,
    SayWords,
    ShowSheet,
    Told,
    end_call,
)

TREES = Path(__file__).parents[1] / "screening" / "trees"


@pytest.fixture(scope="module")
def dock() -> Trees:
    return load_trees(TREES, cache=False)


@pytest.fixture
def phone(dock: Trees) -> Phone:
    return Phone(Call(dock))


def signs(phone: Phone) -> tuple[str, ...]:
    put = phone.put()
    return tuple(danger.id for danger in put.signs) if isinstance(put, AskSigns) else ()


def no_danger(phone: Phone) -> Phone:
    phone.do(SaySigns(dict.fromkeys(signs(phone), False)))
    return phone


def to_questions(phone: Phone) -> Phone:
    no_danger(phone).do(SayPlace("Mill", "Door 3", "Ana", "555 0142"))
    phone.do(SayComplaint("will-not-move"))
    return phone


def stated(phone: Phone) -> list[tuple[str, str]]:
    return [(event.danger, event.answer) for event in phone.call.events if isinstance(event, ev.DangerStated)]


def test_only_the_signs_that_were_put_are_answered(phone: Phone) -> None:
    assert signs(phone) == ("caught", "falling", "fire-held")
    raised = phone.do(SaySigns({"caught": False, "falling": True}))
    assert [each.danger.id for each in raised] == ["falling"]
    assert stated(phone) == [("caught", "no"), ("falling", "yes")]
    assert signs(phone) == ("fire-held",)
    # It is given out to be read until they have heard it.
    assert phone.do(SaySigns({"fire-held": False})) == raised
    assert phone.do(Told(("falling",))) == () == phone.do(Told(("falling",)))
    assert isinstance(phone.put(), AskPlace)
    assert [event.told for event in phone.call.events if isinstance(event, ev.DangerStated)][-2:] == [False, True]


def test_the_order_is_danger_place_complaint_questions_sheet(phone: Phone) -> None:
    no_danger(phone)
    assert phone.put() == AskPlace()
    phone.do(SayPlace("Mill", "Door 3", "Ana", "555 0142"))
    state = phone.call.state
    assert (state.site, state.door, state.caller, state.number) == ("Mill", "Door 3", "Ana", "555 0142")
    assert isinstance(phone.put(), AskComplaint)
    phone.do(SayComplaint("will-not-move"))
    asked = 0
    while isinstance(put := phone.put(), AskQuestion):
        assert put.may_change
        phone.do(SayAnswer(put.question, COULD_NOT_TELL))
        asked += 1
    assert asked and put == ShowSheet()
    phone.do(Move.HAND_OVER)
    assert phone.put() == Over()


def test_what_is_known_of_the_place_is_kept_and_only_the_rest_is_asked(dock: Trees) -> None:
    phone = no_danger(Phone(Call(dock, site="Mill")))
    assert phone.put() == AskPlace("Mill")
    phone.do(SayPlace("Mill", "", "Ana", ""))
    assert (phone.call.state.site, phone.call.state.caller) == ("Mill", "Ana")


def test_a_place_left_open_is_not_asked_again_and_back_asks_it(phone: Phone) -> None:
    no_danger(phone).do(SayPlace())
    assert isinstance(phone.put(), AskComplaint)
    assert not any(isinstance(event, ev.PlaceStated) for event in phone.call.events)
    phone.do(SayComplaint("will-not-move"))
    for wanted in (AskComplaint, AskPlace, AskSigns):
        phone.do(Move.TAKE_BACK)
        assert isinstance(phone.put(), wanted)


def test_back_at_the_place_shows_the_signs_and_forgets_none_of_them(phone: Phone) -> None:
    phone.do(SaySigns({"caught": False, "falling": True, "fire-held": False}))
    assert isinstance(phone.put(), AskPlace)
    before = len(phone.call.events)
    phone.do(Move.TAKE_BACK)
    put = phone.put()
    assert isinstance(put, AskSigns) and put.there == {"caught": False, "falling": True, "fire-held": False}
    assert len(phone.call.events) == before
    phone.do(SaySigns({"caught": True}))
    assert phone.call.state.dangers == {"caught": "yes", "falling": "yes", "fire-held": "no"}
    phone.do(Move.LEAVE_SIGNS)
    assert isinstance(phone.put(), AskPlace)


def test_back_before_anything_was_said_is_refused(phone: Phone) -> None:
    with pytest.raises(CallError, match="nothing to undo"):
        phone.do(Move.TAKE_BACK)


def test_back_goes_through_a_whole_call_and_the_record_stays_sound(phone: Phone) -> None:
    to_questions(phone)
    put = phone.put()
    assert isinstance(put, AskQuestion)
    phone.do(SayAnswer(put.question, put.question.answers[0]))
    for wanted in (AskQuestion, AskComplaint, AskPlace, AskSigns):
        phone.do(Move.TAKE_BACK)
        assert isinstance(phone.put(), wanted)
        assert fold(phone.call.events) == phone.call.state
    assert set(phone.call.state.dangers.values()) == {"no"}
    assert phone.call.state.symptoms == () and phone.call.state.site == ""


def test_back_takes_the_danger_an_answer_put_on_record_with_it(dock: Trees) -> None:
    phone = to_questions(Phone(Call(dock)))
    while isinstance(put := phone.put(), AskQuestion) and put.question.id != "springs-look":
        phone.do(SayAnswer(put.question, COULD_NOT_TELL))
    assert isinstance(put, AskQuestion)
    raised = phone.do(SayAnswer(put.question, "gap"))
    assert [each.danger.id for each in raised] == ["falling"]
    assert phone.call.state.dangers["falling"] == "yes"
    phone.do(Move.TAKE_BACK)
    assert phone.call.state.dangers["falling"] == "no" and "springs-look" not in phone.call.state.answers


def test_in_mid_call_a_sign_said_last_is_taken_back_and_shown(phone: Phone) -> None:
    to_questions(phone).do(Move.SEE_SIGNS)
    phone.do(SaySigns({"caught": True, "falling": False, "fire-held": False}))
    assert isinstance(phone.put(), AskQuestion)
    phone.do(Move.TAKE_BACK)
    put = phone.put()
    assert isinstance(put, AskSigns) and put.there["caught"] is False


def test_enough_shows_the_sheet_until_more_is_said(phone: Phone) -> None:
    with pytest.raises(CallError, match="without a complaint"):
        no_danger(phone).do(Move.ENOUGH)
    to_questions(phone).do(Move.ENOUGH)
    assert phone.put() == ShowSheet()
    phone.do(SayWords("it rained in the night"))
    assert isinstance(phone.put(), AskQuestion)
    phone.do(Move.ENOUGH)
    phone.do(Move.TAKE_BACK)
    assert isinstance(phone.put(), AskQuestion)
    assert [text for _, text in phone.call.state.notes] == ["it rained in the night"]


def test_words_are_kept_once_and_the_danger_in_them_is_heard(phone: Phone) -> None:
    no_danger(phone).do(SayPlace())
    assert not phone.is_said("nothing") and phone.is_said("nothing happens when I press") and phone.is_said("it sinks")
    raised = phone.do(SayWords("nothing happens and it sinks"))
    assert [each.danger.id for each in raised] == ["falling"]
    assert phone.do(Told(("falling",))) == ()
    assert phone.do(SayWords("nothing happens and it sinks")) == ()
    assert len(phone.call.state.notes) == 1
    found = [symptom.id for symptom in phone.complaints("nothing happens and it sinks")]
    assert found[0] == "hangs-crooked" and "will-not-move" in found


def test_a_call_gone_on_with_stands_where_it_stopped(phone: Phone, dock: Trees) -> None:
    """After each event of a call, whatever comes next is the same for whoever reads the record anew."""
    to_questions(phone)

    def asked(call: Phone) -> object:
        put = call.put()
        return (put.question.kind, put.question.id) if isinstance(put, AskQuestion) else put

    while isinstance(put := phone.put(), AskQuestion):
        phone.do(SayAnswer(put.question, COULD_NOT_TELL))
        assert asked(Phone(Call(dock, history=phone.call.events))) == asked(phone)


def test_a_call_that_nobody_goes_to_ends_with_a_reason(phone: Phone) -> None:
    to_questions(phone)
    with pytest.raises(CallError, match="Say why"):
        phone.do(End("  "))
    phone.do(End("a wrong number"))
    assert phone.call.state.outcome == "ended without a visit"
    assert phone.put() == Over("a wrong number")


def test_a_door_that_somebody_was_at_is_left_out_of_service_instead(phone: Phone) -> None:
    call = to_questions(phone).call
    call.answer("springs-look", "gap")
    with pytest.raises(CallError, match="been at this door"):
        call.close("ended without a visit", "nobody answers")
    end_call(call, "nobody answers")
    assert call.state.outcome == "left out of service"


def test_what_was_said_on_the_phone_stands_until_somebody_at_the_door_goes_on(phone: Phone) -> None:
    assert from_the_phone(phone.call) is None
    phone.do(SaySigns({"caught": False, "falling": True, "fire-held": False}))
    phone.do(SayPlace("Mill", "Door 3", "Ana", "555 0142"))
    phone.do(SayWords("it came down by itself"))
    phone.do(SayComplaint("will-not-move"))
    put = phone.put()
    assert isinstance(put, AskQuestion)
    phone.do(SayAnswer(put.question, put.question.answers[0]))
    phone.do(Move.ENOUGH)
    phone.do(Move.HAND_OVER)
    head = from_the_phone(phone.call)
    assert head is not None
    assert [each.danger.id for each in head.dangers] == ["falling"]
    assert head.caller == ("Ana", "555 0142") and head.words == ("it came down by itself",)
    assert head.told == (("What does the lamp do?", "lit (told)"),)
    phone.call.answer("springs-look", "whole")
    assert from_the_phone(phone.call) is None
