"""Drawn scenarios: the same by seed, like what was asked for, never given away, and mended by the program's own way."""

from __future__ import annotations

import pytest

from diagnose.knowledge.model import Trees, applies
from diagnose.practice.bots import carry_through
from diagnose.practice.drawing import Wish, draw_scenario
from diagnose.practice.library import GIVEN_AWAY, Library, load_library
from diagnose.practice.scenario import belief_in, family_of, first_screen, level_of, misleads
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned


def test_the_same_seed_draws_the_same_door(small_trees: Trees, library: Library) -> None:
    drawn = [draw_scenario(small_trees, library, seed) for seed in range(8)]
    assert drawn == [draw_scenario(small_trees, library, seed) for seed in range(8)]
    assert len({each.causes for each in drawn}) > 1
    assert {each.site for each in drawn} == {"Nowhere Works"}


@pytest.mark.parametrize("faults", [1, 2])
@pytest.mark.parametrize("misleading", [True, False])
def test_it_is_like_what_was_asked_for(small_trees: Trees, library: Library, faults: int, misleading: bool) -> None:
    for seed in range(3):
        scenario = draw_scenario(small_trees, library, seed, Wish(faults=faults, misleading=misleading))
        assert len(scenario.causes) == faults
        assert bool(misleads(small_trees, scenario)) is misleading
        wrong = [check for check, told in scenario.caller.items() if scenario.findings[check] != told]
        assert len(wrong) == int(misleading)
        assert all(applies(small_trees.causes[cause].applies, scenario.facts) for cause in scenario.causes)
        assert belief_in(first_screen(small_trees, scenario), scenario.causes) < GIVEN_AWAY
        session = carry_through(Session(small_trees, scenario, seed, library.consequences), planned)
        assert not session.door.faults


def test_family_and_difficulty_are_kept_to(shipped_trees: Trees) -> None:
    library = load_library(shipped_trees)
    for level in ("easy", "hard"):
        wish = Wish(family="sensor-indicator", level=level)
        scenario = draw_scenario(shipped_trees, library, 11, wish)
        assert family_of(shipped_trees, scenario) == "sensor-indicator"
        assert level_of(shipped_trees, scenario) == scenario.level == level


def test_a_drawn_door_is_one_of_the_kinds_there_are(small_trees: Trees, library: Library) -> None:
    for seed in range(6):
        facts = draw_scenario(small_trees, library, seed).facts
        assert (facts["drive"], facts["construction"]) == ("trolley", "sectional")
        assert set(facts["devices"]) in ({"photo-eye"}, {"photo-eye", "timer"})


def test_what_cannot_be_drawn_is_said(small_trees: Trees, library: Library) -> None:
    with pytest.raises(PracticeError, match="no family"):
        draw_scenario(small_trees, library, 0, Wish(family="gates"))


def test_a_caller_who_is_wrong_is_contradicted_by_ones_own_eyes(small_trees: Trees, library: Library) -> None:
    from diagnose.practice.acts import Look

    scenario = draw_scenario(small_trees, library, 3, Wish(misleading=True))
    (check,) = misleads(small_trees, scenario)
    session = Session(small_trees, scenario, 3, library.consequences)
    before = belief_in(session.call, scenario.causes)
    session.do(Look(check=check))
    assert session.call.state.answers[check].value == scenario.findings[check] != scenario.caller[check]
    assert belief_in(session.call, scenario.causes) > before
