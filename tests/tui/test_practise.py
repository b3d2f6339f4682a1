"""Practice by the keys a trainee presses, at two sizes."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import pytest
from msgspec.structs import replace
from textual.pilot import Pilot
from textual.screen import Screen
from textual.widgets import Input
from textual.worker import WorkerFailed

from diagnose.calls.store import Store
from diagnose.knowledge.model import Component, Trees
from diagnose.practice.acts import AnyAct, CallIn, Enter, Finish, Look, Mend, Prove, TryDoor
from diagnose.practice.bots import carry_through
from diagnose.practice.records import Records
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.screens.choosing import CardPage, ChoicePage
from diagnose.tui.screens.glossary import WhereIs
from diagnose.tui.screens.practice import PracticeScreen
from diagnose.tui.screens.practice_run import PracticeDebrief, PracticeRun
from diagnose.tui.widgets.paragraphs import Paragraphs
from diagnose.tui.widgets.pick_list import PickList
from tests.practice.conftest import LOCKED, SCENARIOS

from .conftest import flat, painted, type_text

SIZES = [(80, 24), (120, 40)]
Open = Callable[..., DiagnoseApp]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(SCENARIOS, tmp_path / "scenarios"))


@pytest.fixture
def open_practice(small_trees: Trees, store: Store, folder: Path) -> Open:
    """An app with practice open, on the small trees and scenario."""

    def make(use: object = None, **wanted: object) -> DiagnoseApp:
        app = DiagnoseApp(small_trees, lambda: use or store, settle=0.0)  # type: ignore[arg-type, return-value]
        app.first = lambda: PracticeScreen(str(folder), "Ana", **wanted)  # type: ignore[arg-type]
        return app

    return make


async def rest(pilot: Pilot[None], wanted: type[Screen[object]] | None = None) -> None:
    """Until no thread works any more, and the screen is the one wanted."""
    for _ in range(300):
        await pilot.pause()
        busy = [w for w in pilot.app.workers if not w.is_finished and w.group in ("prepare", "working out")]
        if busy:
            # What a thread fails of is told on the screen.
            with suppress(WorkerFailed):
                await pilot.app.workers.wait_for_complete(busy)
        elif wanted is None or isinstance(pilot.app.screen, wanted):
            await pilot.pause()
            return
    raise AssertionError(f"Never came to {wanted}: {pilot.app.screen}")


async def press(pilot: Pilot[None], *keys: str) -> None:
    for key in keys:
        await pilot.press(key)
        await rest(pilot)


async def choose(pilot: Pilot[None], words: str) -> None:
    """Search for a line of a list and take it."""
    field = pilot.app.screen.query_one(Input)
    field.value = words
    await pilot.pause()
    await press(pilot, "enter")


async def begin(pilot: Pilot[None], how: str = "1") -> PracticeRun:
    await rest(pilot, PracticeScreen)
    await choose(pilot, "small light")
    await rest(pilot, ChoicePage)
    await press(pilot, how)
    await rest(pilot, PracticeRun)
    screen = pilot.app.screen
    assert isinstance(screen, PracticeRun)
    return screen


async def do(pilot: Pilot[None], act: AnyAct, trees: Trees) -> None:
    """An act by its keys."""
    match act:
        case Look(check=name):
            await press(pilot, "1")
            await choose(pilot, trees.checks[name].text)
            await press(pilot, "1")
        case Mend(remedy=name):
            await press(pilot, "2")
            await choose(pilot, trees.remedies[name].title)
            await press(pilot, "1")
        case TryDoor():
            await press(pilot, "3")
        case Prove(proof=name):
            await press(pilot, "4")
            await choose(pilot, trees.proofs[name].title)
            await press(pilot, "1")
        case Enter(energy=name):
            states = [s for s in trees.energy if s not in ("any", pilot.app.screen.session.energy)]
            await press(pilot, "5", str(states.index(name) + 1), "1")
        case CallIn(person=name):
            here = pilot.app.screen.session.call.state.people
            absent = [person for person in trees.people if person not in here]
            await press(pilot, "6", str(absent.index(name) + 1))
        case Finish():
            await press(pilot, "9", "1")


@pytest.mark.parametrize("size", SIZES)
async def test_a_whole_practice_from_the_list_to_the_debriefing(
    open_practice: Open, small_trees: Trees, store: Store, size: tuple[int, int]
) -> None:
    app = open_practice()
    async with app.run_test(size=size) as pilot:
        screen = await begin(pilot)
        assert "Somebody rings about a light" in painted(pilot)
        session = screen.session
        way = carry_through(Session(small_trees, session.scenario, session.seed, session.consequences), planned)
        for done in way.done:
            await do(pilot, done.act, small_trees)
        assert [done.act for done in session.done] == [done.act for done in way.done]
        await rest(pilot, PracticeDebrief)
        assert "SCORE: 100 OF 100" in painted(pilot)
        (practice,) = Records.of(store).practices()
        assert practice.result is not None
        assert practice.result.solved
        await press(pilot, "escape")
        await rest(pilot, PracticeScreen)
        await choose(pilot, "progress")
        assert "Ana: 1 practice, at" in painted(pilot)


async def test_the_start_offers_practice(small_trees: Trees, store: Store) -> None:
    app = DiagnoseApp(small_trees, lambda: store, settle=0.0)
    async with app.run_test(size=(80, 24)) as pilot:
        await rest(pilot)
        assert "^T Practise" in flat(painted(pilot))
        await press(pilot, "ctrl+t")
        assert isinstance(app.screen, PracticeScreen)


async def test_every_widget_is_within_a_small_screen(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        await press(pilot, "5", "2", "1", "1")
        for shown in (app.screen, screen):
            for widget in shown.query("Choices, #standing, #happened, Hints, PickList, #title"):
                if widget.display and widget.region.height:
                    assert widget.region.bottom <= 24, widget
                    assert widget.region.right <= 80, widget


async def test_cautions_stand_above_the_step_and_the_wrong_state_is_told(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        await press(pilot, "2")
        await choose(pilot, "remake the splice")
        words = flat(painted(pilot))
        title, caution = words.index("Remake the splice in a dry box"), words.index("▲▲▲ DANGER Mains voltage inside")
        assert title < caution < words.index("Do it, as the door stands")
        assert "powered, covers on" in words
        assert "off, locked and tagged" not in words, "which state it needs is for the trainee to know"
        await press(pilot, "1")
        words = flat(painted(pilot))
        assert "! A bite through the wrist." in words
        assert "Something broke that was whole before." in words
        assert screen.session.done[-1].ruined


async def test_a_key_shows_where_the_step_in_question_is_as_in_a_call(
    open_practice: Open, small_trees: Trees, store: Store, folder: Path
) -> None:
    lamp = Component(id="lamp", title="Lamp", what="Shines.", where="Up.", looks_like="Round.")
    checks = dict(small_trees.checks) | {"splice-looks": replace(small_trees.checks["splice-looks"], at=("lamp",))}
    trees = replace(small_trees, digest="small lamp", components={"lamp": lamp}, checks=checks)
    app = DiagnoseApp(trees, lambda: store, settle=0.0)
    app.first = lambda: PracticeScreen(str(folder), "Ana")
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await press(pilot, "2")
        await choose(pilot, "remake the splice")
        assert "where it is" not in flat(painted(pilot)), "this one has no place"
        await press(pilot, "escape", "1")
        await choose(pilot, "splice in the eye")
        assert "where it is: Ctrl+\\" in flat(painted(pilot))
        await press(pilot, "v")
        assert isinstance(app.screen, WhereIs) and "Shines." in painted(pilot)
        await press(pilot, "escape")
        assert isinstance(app.screen, CardPage)


async def test_the_card_of_a_walk_names_the_key_to_its_place(shipped_trees: Trees, store: Store) -> None:
    app = DiagnoseApp(shipped_trees, lambda: store, settle=0.0)
    app.first = lambda: PracticeScreen(None, "Ana")
    async with app.run_test(size=(80, 24)) as pilot:
        await rest(pilot, PracticeScreen)
        await choose(pilot, "nearly done on friday")
        await rest(pilot, ChoicePage)
        await press(pilot, "1")
        await rest(pilot, PracticeRun)
        shown = flat(painted(pilot))
        assert "Check that the operator suits the door" in shown and "where it is: Ctrl+\\" in shown
        await press(pilot, "v")
        assert isinstance(app.screen, WhereIs) and app.screen.copied().startswith("Operator\n")


async def test_the_state_can_be_changed_on_the_way_to_a_step(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        await press(pilot, "1")
        await choose(pilot, "splice in the eye")
        await press(pilot, "2", "2", "1", "1")
        acts = [done.act for done in screen.session.done]
        assert acts == [Enter(energy=LOCKED), Look(check="splice-looks")]
        assert not screen.session.done[-1].happened
        assert "off, locked and tagged" in painted(pilot).splitlines()[1]


async def test_what_is_refused_is_said_and_nothing_happens(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot, "2")
        await press(pilot, "8", "1")
        assert "This practice is without hints" in flat(painted(pilot))
        await press(pilot, "9", "1")
        assert "proofs have not passed" in flat(painted(pilot))
        await press(pilot, "9", "2")
        await press(pilot, "enter")
        assert "Say why the door is left out of service." in flat(painted(pilot))
        assert not screen.session.done


async def test_left_out_of_service_is_debriefed_and_saved(
    open_practice: Open, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from diagnose.tui.screens import report

    monkeypatch.setattr(report, "report_folder", lambda: tmp_path / "reports")
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await press(pilot, "9", "2")
        await type_text(pilot, "no [parts] here")
        await press(pilot, "enter")
        await rest(pilot, PracticeDebrief)
        await press(pilot, "ctrl+s", "enter")
        saved = sorted((tmp_path / "reports").iterdir())
        assert [file.suffix for file in saved] == [".html"]
        assert "no [parts] here" in saved[0].read_text(encoding="utf-8")
        assert "Saved:" in painted(pilot)


async def test_steps_stand_by_place_and_state_and_are_found_by_word(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(120, 40)) as pilot:
        await begin(pilot)
        await press(pilot, "1")
        shown = flat(painted(pilot))
        places = [place.title.upper() for place in app.trees.access.values()]
        assert any(place in shown for place in places) and "LOCKED AND TAGGED" in shown
        session = app.screen_stack[-2].session  # type: ignore[attr-defined]
        for check in session.checks():
            app.screen.query_one(Input).value = check.text
            await rest(pilot)
            highlighted = app.screen.query_one(PickList).highlighted
            assert app.trees.checks[highlighted.removeprefix("check:")].text == check.text


@pytest.mark.parametrize("size", [(60, 20), (80, 24), (120, 40)])
async def test_all_that_can_be_done_is_in_view(open_practice: Open, size: tuple[int, int]) -> None:
    app = open_practice()
    async with app.run_test(size=size) as pilot:
        await begin(pilot)
        shown = flat(painted(pilot))
        for way in ("Look or measure", "Hint", "Close the call", "The door again"):
            assert way in shown, way


async def test_help_of_practice_says_how_it_works(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(120, 40)) as pilot:
        await begin(pilot)
        await press(pilot, "f1")
        text = app.screen.query_one(Paragraphs).text
        assert text.startswith("In practice") and text.index("How practice works") < text.index("How to read")


async def test_a_practice_left_open_is_offered_and_gone_on_with(open_practice: Open) -> None:
    async with open_practice().run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        await press(pilot, "3", "escape")
        await rest(pilot, PracticeScreen)
        assert "LEFT OPEN" in painted(pilot)
    async with open_practice().run_test(size=(80, 24)) as pilot:
        await rest(pilot, PracticeScreen)
        assert "LEFT OPEN" in painted(pilot)
        await choose(pilot, "go on open")
        await rest(pilot, PracticeRun)
        screen = pilot.app.screen
        assert isinstance(screen, PracticeRun)
        assert [type(done.act) for done in screen.session.done] == [TryDoor]


async def test_an_act_that_cannot_be_written_down_has_not_happened(
    open_practice: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)

        def refuse(_: AnyAct) -> None:
            raise OSError("The disk is full.")

        screen.session.keep_as("x", refuse)
        await press(pilot, "3")
        assert "The disk is full." in painted(pilot)
        assert not screen.session.done


async def test_answers_found_are_listed_and_can_be_counted_no_more(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        await press(pilot, "7")
        assert "every time (as told)" in flat(painted(pilot))
        await press(pilot, "enter")
        assert not screen.session.call.state.answers
        await press(pilot, "7")
        assert "Nothing yet." in painted(pilot)


async def test_a_door_is_drawn_as_it_was_wished(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        await rest(pilot, PracticeScreen)
        await choose(pilot, "say what")
        for words in ("sensor", "any difficulty", "two faults", "either"):
            await choose(pilot, words)
        await rest(pilot, ChoicePage)
        assert "Drawn with seed" in flat(painted(pilot))
        await press(pilot, "1")
        await rest(pilot, PracticeRun)
        assert len(app.screen.session.scenario.causes) == 2


async def test_the_command_line_begins_where_it_was_asked_to(open_practice: Open) -> None:
    app = open_practice(scenario="quiet-lane", seed=9)
    async with app.run_test(size=(80, 24)) as pilot:
        await rest(pilot, ChoicePage)
        await press(pilot, "1")
        await rest(pilot, PracticeRun)
        assert app.screen.session.seed == 9


async def test_scenarios_that_cannot_be_read_are_said(open_practice: Open, folder: Path) -> None:
    (folder / "bad [x].yaml").write_text("title: [/b]\n", encoding="utf-8")
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        await rest(pilot, PracticeScreen)
        await pilot.pause()
        assert "bad [x].yaml:1" in flat(painted(pilot))


async def test_text_of_scenarios_is_never_markup(open_practice: Open, folder: Path) -> None:
    file = folder / "quiet-lane.yaml"
    text = file.read_text(encoding="utf-8").replace("title: A small light", 'title: "small light [/x] [red]psi"')
    file.write_text(text.replace("Somebody rings", "Some[body] [/] rings"), encoding="utf-8")
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        await begin(pilot)
        assert "small light [/x] [red]psi" in painted(pilot)
        assert "Some[body] [/] rings" in painted(pilot)


async def test_the_door_can_be_read_again_and_what_happened_scrolls(open_practice: Open) -> None:
    app = open_practice()
    async with app.run_test(size=(80, 24)) as pilot:
        screen = await begin(pilot)
        for _ in range(6):
            await press(pilot, "3")
        assert "Complaint:" not in painted(pilot), "the latest is in sight"
        await press(pilot, *["pageup"] * 6)
        assert "Complaint:" in painted(pilot)
        await press(pilot, *["pagedown"] * 6, "0")
        assert "Complaint:" in painted(pilot)
        await press(pilot, "escape")
        assert app.screen is screen
