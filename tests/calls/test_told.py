"""A call handed over from the phone, line by line: what the caller told and somebody who can see should look at."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from diagnose import load_trees
from diagnose.calls.call import Call
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import Trees
from diagnose.screening.handover import still_to_see
from diagnose.sitting.course import NEEDS

DOCK = Path(__file__).parents[1] / "screening" / "trees"


@pytest.fixture(scope="module")
def dock() -> Trees:
    return load_trees(DOCK, cache=False)


@pytest.fixture
def told(dock: Trees) -> Call:
    call = Call(dock, {"height": "low", "devices": (), "standing": "usable"}, ["will-not-move"])
    call.answer("springs-look", "whole", heard="told")
    call.answer("lamp", "lit", heard="told")
    call.answer("wall-works", "no", heard="told")
    assert [each.check for each in still_to_see(call)] == ["springs-look", "lamp"]
    return call


def typed(call: Call, *lines: str) -> str:
    target = io.StringIO()
    interview = Interview(call, "x", Console(200, io.StringIO("".join(f"{line}\n" for line in lines)), target))
    with pytest.raises(EndOfInput):
        interview.run()
    return " ".join(target.getvalue().split())


def test_it_is_said_once_before_the_first_step_and_marked_among_the_answers(told: Call) -> None:
    said = typed(told, "answers", "note seen the ladder")
    assert said.count("Told by the caller, see for yourself") == 1
    assert said.index("see for yourself") < said.index("To a proven door")
    assert "How do the springs look? The caller said 'whole'. If that is wrong it is a danger" in said
    assert "How do the springs look? whole (told; see for yourself)" in said
    assert "What does the lamp do? lit (told; see for yourself)" in said
    assert "Does it run from the wall? no (told)" in said


def test_look_asks_it_again_and_what_was_seen_takes_its_place(told: Call) -> None:
    said = typed(told, "see 3", "see one", "see", "gap")
    assert said.count("Type see and a number from 1 to 2.") == 2
    answer = told.state.answers["springs-look"]
    assert (answer.value, answer.heard) == ("gap", "seen")
    assert "springs-look" not in [each.check for each in still_to_see(told)]
    told.withdraw("lamp")
    assert "Nothing that a caller told is worth looking at again." in typed(told, "see")


def test_a_look_that_finds_the_same_is_seen_too(told: Call) -> None:
    typed(told, "see", "whole")
    answer = told.state.answers["springs-look"]
    assert (answer.value, answer.heard, len(answer.raw)) == ("whole", "seen", 2)
    assert "springs-look" not in [each.check for each in still_to_see(told)]


def test_a_closed_call_reminds_of_nothing(told: Call) -> None:
    told.close("left out of service", "no part")
    assert still_to_see(told) == ()
    assert "see for yourself" not in typed(told)


def test_later_puts_the_step_off_and_says_so_among_the_ways_on(told: Call) -> None:
    before = told.next_step()
    said = typed(told, "later", "back", "later", "history")
    assert told.state.put_off == ((before.goal_kind, before.goal),)
    after = told.next_step()
    assert (after.goal_kind, after.goal) != (before.goal_kind, before.goal)
    assert "Put off: " in said and "Undone: Put off: " in said


def test_later_says_when_there_is_nothing_better(told: Call) -> None:
    typed(told, *["later"] * 12)
    assert "there is nothing better to do now" in typed(told, "later")
    told.close("left out of service", "no part")
    with pytest.raises(ValueError, match="The call is closed"):
        told.put_off("check", "lamp")


def test_who_would_have_to_come_is_said_wherever_a_remedy_is_suggested(told: Call) -> None:
    phrase = "needs an electrician, who is not here"
    told.answer("springs-look", "whole")
    told.answer("lamp", "dark")
    told.enter("any")
    told.answer("fuse-ohms", "0.3")
    told.answer("board-looks", "burnt")
    step = told.next_step()
    assert step.goal == "new-board"
    listed = typed(told, "tried", "")
    assert NEEDS in listed and "[electrician]" in listed[listed.index(NEEDS) :]
    assert "Must come: electrician" in listed
    typed(told, "3", "1")
    assert ("remedy", "new-board") in told.state.put_off
    told.take_up("remedy", "new-board")
    told.enter("any")
    put = typed(told)
    assert phrase in put
    assert step.kind == "energy", "it is said before the door is brought into another state, too"
    told.enter(step.id)
    head = typed(told)
    assert "Must come: electrician" in head and "With the parts: 1 × " in head
    told.state_people(["anyone", "technician", "electrician"])
    assert "who is not here" not in typed(told)
