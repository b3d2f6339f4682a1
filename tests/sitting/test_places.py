"""Where is this: at a step, by a name, and as it is read out to a caller."""

from __future__ import annotations

import io
from collections.abc import Sequence

import pytest

from diagnose import load_trees
from diagnose.calls.call import Call
from diagnose.calls.words import Told
from diagnose.commands.console import Console
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import Trees
from diagnose.screening.spoken import Spoken
from diagnose.sitting.places import NO_SUCH_WORD, NOT_FOR_A_CALLER, READ_OUT, where, where_named, where_to_look


@pytest.fixture(scope="module")
def shipped() -> Trees:
    return load_trees()


def texts(told: Sequence[Told]) -> list[str]:
    return [line.text for line in told]


def test_a_step_shows_its_component_on_the_sketch_of_this_door(shipped: Trees) -> None:
    call = Call(shipped, facts={"construction": "vertical-lift"}, symptoms=["noisy-door"])
    told = texts(where(call, "check", "rollers-look", 78))
    assert told[0] == "Roller" and "High-lift and vertical-lift door" in told
    assert any("▶J◀" in text for text in told)
    assert where(call, "check", "power-event", 78) == [] and where(call, "energy", "any", 78) == []
    assert texts(where_named(shipped, "drawbar", {}, 78))[0] == "Door arm"


def test_a_caller_is_read_only_what_is_safe_to_look_at_in_their_language(shipped: Trees) -> None:
    call = Call(shipped, symptoms=["will-not-close-on-timer"])
    told = texts(where_to_look(call, "eye-lamp-receiver", Spoken(shipped, "es"), 78))
    assert told[0] == READ_OUT and told[1].startswith("Abajo, a cada lado") and "Photo eye" in told
    told = texts(where_to_look(call, "drum-marks", Spoken(shipped), 78))
    assert told[1] == NOT_FOR_A_CALLER and READ_OUT not in told


def test_where_shows_what_is_named_line_by_line_in_sixty_columns(shipped: Trees) -> None:
    lines = io.StringIO("where bottom bracket\nwhere [/b] nothing so called\nquit\n")
    out = io.StringIO()
    Interview(Call(shipped, symptoms=["noisy-door"], people=["technician"]), "x", Console(60, lines, out)).run()
    said = out.getvalue()
    assert "▶L◀ Bottom bracket" in said and max(map(len, said.splitlines())) <= 60


def test_a_trainee_is_shown_what_they_name_on_the_door_of_the_practice(shipped: Trees) -> None:
    facts = {"construction": "grille"}
    told = texts(where_named(shipped, "guide", facts, 78))
    assert told[0] == "Guide" and "Rolling grille" in told
    for words in ("", "[/zqx] zzqx"):
        assert texts(where_named(shipped, words, facts, 78)) == [NO_SUCH_WORD]
