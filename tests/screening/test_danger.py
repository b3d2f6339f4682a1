"""Danger is heard however it is said, and stands until somebody says no to it."""

from __future__ import annotations

import pytest

from diagnose.calls.call import Call
from diagnose.knowledge.model import Trees
from diagnose.screening.danger import by_words, dangers_now, note_dangers, shows_danger, to_ask
from diagnose.screening.spoken import Spoken
from tests.screening.conftest import Begin
from tests.screening.sentences import DANGEROUS, HARMLESS

# Words a minute: the middle of the 150 to 160 at which audiobooks are read (common practice).
_PACE = 155


def names(call: Call) -> list[str]:
    return [raised.danger.id for raised in dangers_now(call.trees, call.events)]


def test_a_plain_yes_raises_and_a_later_no_takes_it_back(begin: Begin) -> None:
    call = begin("will-not-move")
    call.danger("caught", "yes")
    assert names(call) == ["caught"]
    call.danger("caught", "no")
    assert names(call) == []


def test_what_could_not_be_told_raises_nothing_and_takes_nothing_back(begin: Begin) -> None:
    call = begin()
    call.danger("caught", "could not tell")
    assert names(call) == []
    call.danger("caught", "yes")
    call.danger("caught", "could not tell")
    assert names(call) == ["caught"]


def test_an_answer_raises_it_after_a_no(begin: Begin) -> None:
    call = begin("will-not-move")
    call.danger("falling", "no")
    call.answer("springs-look", "gap", heard="told")
    (raised,) = dangers_now(call.trees, call.events)
    assert (raised.danger.id, raised.how, raised.what) == ("falling", "answer", "springs-look")


def test_a_corrected_or_withdrawn_answer_takes_back_what_it_alone_raised(begin: Begin) -> None:
    call = begin("will-not-move")
    call.answer("springs-look", "gap", heard="told")
    call.answer("springs-look", "whole", mode="correction", heard="told")
    assert names(call) == []
    call.answer("springs-look", "gap", mode="correction", heard="told")
    call.withdraw("springs-look")
    assert names(call) == []


def test_on_record_it_outlives_the_answer_that_raised_it(begin: Begin) -> None:
    call = begin("will-not-move")
    call.answer("springs-look", "gap", heard="told")
    assert [raised.danger.id for raised in note_dangers(call)] == ["falling"]
    assert call.state.dangers == {"falling": "yes"}
    assert note_dangers(call) == ()
    call.withdraw("springs-look")
    assert names(call) == ["falling"]


def test_a_complaint_and_words_raise_it(begin: Begin) -> None:
    assert names(begin("hangs-crooked")) == ["falling"]
    call = begin("will-not-move")
    call.state_symptoms(["will-not-move", "hangs-crooked"])
    assert names(call) == ["falling"]
    call = begin("will-not-move")
    call.note("His hand is caught in the chain.")
    assert names(call) == ["caught"]
    call = begin("will-not-move")
    call.note("Nobody is hurt, luckily.")
    assert names(call) == []


def test_what_was_undone_raises_nothing(begin: Begin) -> None:
    call = begin("will-not-move")
    call.danger("caught", "yes")
    call.undo()
    assert names(call) == []


def test_emergencies_come_first_whatever_the_order_of_saying(begin: Begin) -> None:
    call = begin("hangs-crooked")
    call.danger("caught", "yes")
    assert names(call) == ["caught", "falling"]


def test_a_danger_of_another_kind_of_door_is_not_asked(dock: Trees) -> None:
    assert [danger.id for danger in to_ask(dock, {})] == ["caught", "falling", "fire-held"]
    assert [danger.id for danger in to_ask(dock, {"fire": "no"})] == ["caught", "falling"]


def test_a_cause_that_usually_shows_a_sign_is_a_danger(dock: Trees) -> None:
    assert shows_danger(dock, "spring-broken")
    assert not shows_danger(dock, "fuse-blown")


# --- the trees that ship ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize("language", ["", "es"])
def test_all_signs_are_read_out_in_twenty_seconds(shipped: Trees, language: str) -> None:
    spoken = Spoken(shipped, language)
    texts = [spoken.phrase("phone.before-all"), *(spoken.danger(danger) for danger in shipped.dangers.values())]
    words = sum(len(text.split()) for text in texts)
    assert words / _PACE * 60 <= 20, f"{words} words"


def test_the_eight_dangers_are_all_there_and_each_has_something_to_do(shipped: Trees) -> None:
    assert list(shipped.dangers) == [
        "person-hurt",
        "door-crooked",
        "door-will-not-stay",
        "protection-defeated",
        "burning",
        "wiring-exposed",
        "exit-blocked",
        "fire-door",
    ]
    for danger in shipped.dangers.values():
        assert danger.plain and len(danger.instruction) <= 260, danger.id


@pytest.mark.parametrize("language", ["", "es"])
def test_nobody_is_told_to_reach_for_what_is_not_safely_reached(shipped: Trees, language: str) -> None:
    spoken = Spoken(shipped, language)
    for danger in shipped.dangers.values():
        text = spoken.instruction(danger).casefold()
        for switching, condition in (("switch off", "only if"), ("corte la corriente", "solo si")):
            assert switching not in text or condition in text, text
        assert "floor" in text or "piso" in text or ("switch off" not in text and "corte" not in text)


def test_what_callers_say_of_a_danger_is_heard(shipped: Trees) -> None:
    for danger in shipped.dangers.values():
        assert len(set(danger.spoken)) >= 5, danger.id
        for sentence in danger.spoken:
            assert danger.id in [raised.danger.id for raised in by_words(shipped, sentence)], sentence


@pytest.mark.parametrize(("danger", "said"), DANGEROUS)
def test_other_callers_are_heard(shipped: Trees, danger: str, said: str) -> None:
    assert danger in [raised.danger.id for raised in by_words(shipped, said)]


@pytest.mark.parametrize("said", HARMLESS)
def test_a_merely_broken_door_raises_no_alarm(shipped: Trees, said: str) -> None:
    assert by_words(shipped, said) == []


def test_the_steel_cable_of_a_crooked_door_is_no_electric_one(shipped: Trees) -> None:
    said = "la puerta bajo de un solo lado y el cable quedo suelto"
    assert [raised.danger.id for raised in by_words(shipped, said)] == ["door-crooked"]
    assert "wiring-exposed" in [raised.danger.id for raised in by_words(shipped, "hay un cable suelto y da toques")]
