"""Nothing the caller said is lost or asked again, and nothing they could not tell is taken for told."""

from __future__ import annotations

from diagnose import Call
from diagnose.calls.words import event_in_words
from diagnose.knowledge.model import COULD_NOT_TELL, Van
from diagnose.screening.handover import hand_over, worth_rechecking
from diagnose.screening.sheet import make_sheet
from diagnose.sitting.course import bearing
from tests.screening.conftest import Begin


def screened(begin: Begin, van: Van, **answers: str) -> Call:
    call = begin("will-not-move", facts={"height": "low", "devices": (), "standing": "usable"})
    for check, answer in answers.items():
        call.answer(check.replace("_", "-"), answer, heard="told")
    hand_over(call, make_sheet(call, van))
    return call


def asked_at_the_door(call: Call, answers: dict[str, str]) -> list[str]:
    """The checks that the technician is led to, remedies found to do nothing."""
    asked = []
    for _ in range(40):
        step = call.next_step()
        if step.kind == "check":
            asked.append(step.id)
            call.answer(step.id, answers[step.id], mode="again" if step.id in call.state.answers else "new")
        elif step.kind == "energy":
            call.enter(step.id)
        elif step.kind == "remedy":
            call.tried(step.id, False)
        else:
            break
    return asked


def test_the_call_goes_on_with_the_same_events(begin: Begin, van: Van) -> None:
    call = screened(begin, van, lamp="dark", springs_look="whole")
    at_door = Call(call.trees, history=call.events)
    assert at_door.state.answers["lamp"].heard == "told"
    assert {each.cause: each.probability for each in at_door.likely()} == {
        each.cause: each.probability for each in call.likely()
    }
    seen = begin("will-not-move", facts={"height": "low", "devices": (), "standing": "usable"})
    seen.answer("lamp", "dark")
    seen.answer("springs-look", "whole")
    told = {each.cause: each.probability for each in at_door.likely()}
    sure = {each.cause: each.probability for each in seen.likely()}
    # What is told moves the belief the same way, and less far.
    assert 0 < sure["spring-broken"] < told["spring-broken"] < 0.2


def test_a_firm_answer_is_not_asked_again(begin: Begin, van: Van) -> None:
    call = screened(begin, van, lamp="dark", springs_look="whole")
    truth = {"lamp": "dark", "springs-look": "whole", "board-looks": "clean", "fuse-ohms": "OL", "made-safe": "yes"}
    asked = asked_at_the_door(call, truth)
    assert asked, "the technician has something to look at"
    assert "lamp" not in asked and "springs-look" not in asked


def test_what_the_caller_could_not_tell_is_open_to_who_can_see(begin: Begin, van: Van) -> None:
    call = screened(begin, van, lamp=COULD_NOT_TELL, springs_look="whole")
    assert "lamp" not in call.state.answers
    assert "lamp" in bearing(call)


def test_the_crew_of_the_sheet_is_at_the_door(begin: Begin, van: Van) -> None:
    call = screened(begin, van, springs_look="gap", lamp="lit")
    assert set(call.state.people) == {"anyone", "technician", "door technician"}


def test_the_load_of_the_sheet_is_on_the_van(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"height": "low", "devices": (), "standing": "usable"})
    sheet = make_sheet(call, van)
    hand_over(call, sheet)
    load = {each.part: each.count for each in sheet.load.loads}
    assert call.state.load == load != {}
    call.state_people(("anyone", "technician"))
    assert call.state.load == load, "who else comes takes nothing off it"
    part = next(iter(load))
    assert f"on the van: {load[part]} × {call.trees.parts[part].title}" in event_in_words(call.trees, call.events[-2])


def test_handing_over_twice_changes_nothing(begin: Begin, van: Van) -> None:
    call = screened(begin, van, lamp="dark")
    before = len(call.events)
    hand_over(call, make_sheet(call, van))
    assert len(call.events) == before


def test_an_answer_that_keeps_a_danger_away_is_looked_at_by_who_works_there(begin: Begin, van: Van) -> None:
    call = screened(begin, van, springs_look="whole", lamp="lit")
    again = {each.check: each for each in worth_rechecking(call)}
    assert "springs-look" in again
    assert "it may fall" in again["springs-look"].why and "'whole'" in again["springs-look"].why


def test_an_answer_that_fits_ill_with_the_rest_is_doubted(begin: Begin, van: Van) -> None:
    call = screened(begin, van, springs_look="gap", lamp="dark")
    call.answer("track-looks", "straight")
    again = {each.check: each.why for each in worth_rechecking(call)}
    assert any("does not fit the rest" in why or "Only the caller's" in why for why in again.values()), again


def test_what_was_seen_is_never_among_them(begin: Begin, van: Van) -> None:
    call = begin("will-not-move", facts={"height": "low", "devices": ()})
    call.answer("springs-look", "whole")
    call.answer("lamp", "lit")
    assert worth_rechecking(call) == []
