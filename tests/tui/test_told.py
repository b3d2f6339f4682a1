"""At the door after the phone: what is worth seeing for oneself, what was put off, and who would have to come."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Input

from diagnose import load_trees
from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.reasoning.explain import absent
from diagnose.sitting.cards import card_of
from diagnose.sitting.course import COME, alternatives, plan
from diagnose.sitting.say import GoTo, later_of
from diagnose.sitting.sitting import Sitting
from diagnose.sitting.telling import evidence, way_so_far, why
from diagnose.sitting.view import view_of
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.rows import repair_rows
from diagnose.tui.screens.interview import Interview

from .conftest import Failing, Make, flat, in_hand, painted, press, settled

TREES = Path(__file__).parents[1] / "screening" / "trees"
FACTS = {"height": "low", "devices": (), "standing": "usable"}
PHRASE = "needs an electrician, who is not here"


@pytest.fixture(scope="module")
def dock() -> Trees:
    return load_trees(TREES, cache=False)


def told(dock: Trees, store: Store) -> str:
    """A call from the phone, left for the technician."""
    call_id = store.begin()
    call = Call(dock, FACTS, ["will-not-move"], recorder=store.recorder(call_id))
    call.answer("springs-look", "whole", heard="told")
    call.answer("lamp", "lit", heard="told")
    return call_id


async def resumed(pilot: Pilot[None]) -> Interview:
    await settled(pilot)
    await press(pilot, "enter")
    screen = pilot.app.screen
    assert isinstance(screen, Interview), screen
    return screen


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_what_the_caller_told_is_named_with_the_key_that_asks_it_again(
    make_app: Make, dock: Trees, store: Store, size: tuple[int, int]
) -> None:
    told(dock, store)
    app = make_app(with_trees=dock)
    async with app.run_test(size=size) as pilot:
        screen = await resumed(pilot)
        line = screen.query_one("#recheck")
        assert screen.region.contains_region(line.region) and line.region.height == 1
        words = flat(painted(pilot, "#recheck")).rstrip("…")
        whole = "See for yourself (Ctrl+X, +1): How do the springs look?"
        assert whole.startswith(words) and "How do the spring" in words
        if size[0] >= 120:
            assert "? whole (told) see for yourself" in flat(painted(pilot, "#trail"))
        await press(pilot, "f9", "escape")
        assert line.display, "it stands until it was looked at"
        screen.sitting.do(GoTo(kind="check", step="track-looks"))
        screen.show_call()
        await settled(pilot)
        await press(pilot, "s")
        assert app.screen is not screen
        page = flat(painted(pilot))
        assert "See for yourself" in page and "So far whole (told)" in page
        assert "If that is wrong it is a danger" in page
        await press(pilot, "2")
        assert app.screen is screen
        answer = screen.call.state.answers["springs-look"]
        assert (answer.value, answer.heard) == ("gap", "seen")
        while screen.view.rechecks:
            assert "springs" not in painted(pilot, "#recheck")
            await press(pilot, "ctrl+x", "1")
        assert not line.display
        await press(pilot, "ctrl+x")
        assert app.screen is screen
        assert "Nothing that a caller told is worth looking at again." in flat(painted(pilot))


async def test_the_key_works_while_a_reading_is_typed(make_app: Make, dock: Trees, store: Store) -> None:
    told(dock, store)
    app = make_app(with_trees=dock)
    async with app.run_test() as pilot:
        screen = await resumed(pilot)
        screen.call.enter("off")
        screen.sitting.do(GoTo(kind="check", step="fuse-ohms"))
        screen.show_call()
        await settled(pilot)
        assert screen.query_one("#typed", Input).has_focus
        await press(pilot, "ctrl+x")
        assert app.screen is not screen


async def test_among_the_answers_it_is_marked_and_can_be_looked_at_again(
    make_app: Make, dock: Trees, store: Store
) -> None:
    told(dock, store)
    app = make_app(with_trees=dock)
    async with app.run_test() as pilot:
        screen = await resumed(pilot)
        await press(pilot, "f4")
        shown = painted(pilot)
        assert flat(shown).count("? see for yourself") == 2
        await press(pilot, "down", "s", "1")
        assert flat(painted(pilot)).count("? see for yourself") < 2
        await press(pilot, "s")
        assert "Only a reading can be measured again." in flat(painted(pilot)), "it was seen"
        await press(pilot, "escape")
        answer = screen.call.state.answers["springs-look"]
        assert (answer.value, answer.heard, len(answer.raw)) == ("whole", "seen", 2)


async def test_a_step_put_off_is_remembered_by_the_next_start(make_app: Make, dock: Trees, store: Store) -> None:
    call_id = told(dock, store)
    app = make_app(with_trees=dock)
    async with app.run_test() as pilot:
        screen = await resumed(pilot)
        assert screen.planned is not None
        first = screen.planned.goal
        await press(pilot, "ctrl+n", "enter")
        assert isinstance(app.screen, Interview)
        assert screen.call.state.put_off == (first,)
        assert "Put off until there is nothing better" in flat(painted(pilot))
    assert isinstance(store.events(call_id)[-1], ev.PutOff)
    again = make_app(with_trees=dock)
    async with again.run_test() as pilot:
        screen = await resumed(pilot)
        assert screen.planned is not None
        assert screen.planned.goal != first
        assert in_hand(pilot).call.state.put_off == (first,)
        await press(pilot, "ctrl+z")
        assert "Undone: Put off: " in flat(painted(pilot))
        assert screen.planned.goal == first


async def test_putting_off_that_cannot_be_saved_has_not_happened(make_app: Make, dock: Trees, store: Store) -> None:
    told(dock, store)
    failing = Failing(store)
    app: DiagnoseApp = make_app(failing, with_trees=dock)
    async with app.run_test() as pilot:
        screen = await resumed(pilot)
        assert screen.planned is not None
        first = screen.planned.goal
        await press(pilot, "ctrl+n")
        failing.broken = True
        await press(pilot, "enter")
        await pilot.press("3")
        await settled(pilot)
        assert app.screen is screen
        assert "Not taken" in flat(painted(pilot, "#step"))
        assert screen.call.state.put_off == () and screen.planned.goal == first


# --- who would have to come ----------------------------------------------------------------------------------


@pytest.fixture
def burnt(dock: Trees) -> Call:
    """The board is to be replaced, by an electrician."""
    call = Call(dock, FACTS, ["will-not-move"])
    call.answer("lamp", "dark")
    call.answer("fuse-ohms", "0.3")
    call.answer("board-looks", "burnt")
    assert call.next_step().goal == "new-board"
    return call


def everything_shown(call: Call) -> dict[str, str]:
    """What each screen that names the remedy says, by screen."""
    call.enter("any")
    first = card_of(call, plan(call))
    view = view_of(call)
    shown = {
        "next step": " ".join([first.why, *first.facts]),
        "map": "\n".join(each.text for each in way_so_far(call, view)),
        "evidence": "\n".join(each.text for each in evidence(call, "board-dead")),
        "repair": "\n".join(row.shown.plain for row in repair_rows(Sitting(call).repairs())),
    }
    assert first.goal == ("remedy", "new-board")
    call.put_off("remedy", "new-board")
    other = plan(call)
    shown["another way"] = " ".join(next(each for each in alternatives(call) if each.id == "new-board").remarks)
    shown["why"] = "\n".join(each.text for each in why(call, other))
    return shown


def test_every_screen_that_suggests_a_remedy_says_who_is_missing_for_it(burnt: Call) -> None:
    shown = everything_shown(burnt)
    listed = shown.pop("repair")
    assert "not here" not in listed, "it is said once, above"
    assert next(line for line in listed.splitlines() if "Replace the board" in line).endswith("[electrician]")
    for way in Sitting(burnt).repairs():
        entry = burnt.trees.remedies[way.remedy]
        assert bool(way.needs) == bool(absent(burnt.trees, entry, burnt.state.people)), way
    for screen, words in shown.items():
        assert PHRASE in words, (screen, words)


def test_whoever_must_come_is_named_before_anything_is_switched_off(burnt: Call) -> None:
    sitting = Sitting(burnt)
    card = sitting.put().card
    assert (card.id, card.title.split()[0]) == (COME, "Make")
    assert ("Must come", "electrician") in card.lines
    sitting.choose(card, "leave-for", "no electrician until Monday")
    assert burnt.state.outcome == "left out of service"
    burnt.reopen()
    burnt.state_people(["technician", "electrician"])
    assert sitting.put().planned.goal == ("remedy", "new-board"), "with the person it comes first"


def test_put_off_for_want_of_somebody_it_comes_back_when_they_arrive(burnt: Call) -> None:
    sitting = Sitting(burnt)
    sitting.do(later_of(sitting.put().planned))
    assert sitting.put().planned.step.kind in ("check", "stop"), "no lesser cause is repaired instead"
    burnt.answer("track-looks", "straight")
    burnt.state_people(["technician", "electrician"])
    assert sitting.put().planned.goal == ("remedy", "new-board")


def test_none_does_where_the_person_is_here(burnt: Call) -> None:
    burnt.state_people(["technician", "electrician"])
    for screen, words in everything_shown(burnt).items():
        assert PHRASE not in words, (screen, words)


async def test_another_way_shows_it(make_app: Make, dock: Trees, store: Store) -> None:
    call_id = told(dock, store)
    call = Call(dock, history=store.events(call_id), recorder=store.recorder(call_id))
    call.answer("springs-look", "whole")
    app = make_app(with_trees=dock)
    async with app.run_test(size=(120, 40)) as pilot:
        screen = await resumed(pilot)
        await press(pilot, "ctrl+n")
        assert app.screen is not screen
        listed = [line for line in painted(pilot).splitlines() if "Replace the board" in line]
        assert listed and all(PHRASE in line for line in listed)


async def test_what_was_told_fits_the_window_again_when_that_changes(make_app: Make, dock: Trees, store: Store) -> None:
    call = Call(dock, FACTS, ["will-not-move"], recorder=store.recorder(store.begin()))
    call.note("it came down with a bang and the driver says that nothing has happened since then, not once")
    app = make_app(with_trees=dock)
    async with app.run_test(size=(60, 20)) as pilot:
        await resumed(pilot)
        assert "not once”" not in painted(pilot, "#phone")
        await pilot.resize_terminal(140, 40)
        for _ in range(100):
            await settled(pilot)
            if "…" not in painted(pilot, "#phone"):
                break
        assert "nothing has happened since then, not once”" in painted(pilot, "#phone")
