"""The start, the notice and the door."""

from __future__ import annotations

import json
import subprocess
import sys

from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.settings import Settings
from diagnose.sitting.cautions import FIRST
from diagnose.sitting.door_facts import facts_implied, facts_that_matter
from diagnose.tui import actions
from diagnose.tui.rows import meant_rows
from diagnose.tui.screens.choosing import Notice
from diagnose.tui.screens.door import Door
from diagnose.tui.screens.interview import Interview
from diagnose.tui.screens.start import Start
from diagnose.tui.text import plain
from diagnose.tui.widgets.pick_list import PickList, Row

from .conftest import HERE, Make, begin, flat, painted, press, settled, type_text


async def test_typing_narrows_to_complaints_in_the_callers_words(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        await type_text(pilot, "come down")
        shown = painted(pilot)
        assert shown.index("Stays open") < shown.index("The eye's lamp is wrong"), "the likelier one first"
        await press(pilot, "escape")
        await type_text(pilot, "zebra")
        assert "Nothing fits what is typed." in painted(pilot)
        await press(pilot, "escape")
        assert "The eye's lamp is wrong" in painted(pilot)


async def test_words_that_no_complaint_has_find_what_may_be_meant(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        await type_text(pilot, "stays zebra")
        assert "WHAT THAT MAY MEAN" in painted(pilot)
        assert "Stays open" in painted(pilot)
        await press(pilot, "enter")
        assert isinstance(app.screen, Notice)


def test_a_cause_is_found_by_its_name_and_so_are_the_trees_own_names(shipped_trees: Trees) -> None:
    behind = [row.id for row in meant_rows(shipped_trees, "spring broke")]
    assert "symptom:drifts-down" in behind
    reverses = [row.id for row in meant_rows(shipped_trees, "reverses")]
    assert "symptom:reverses-while-closing" in reverses
    assert meant_rows(shipped_trees, "[b]xyzzy") == []
    both = meant_rows(shipped_trees, "the chain came off and it smells like burning")[0]
    assert set(both.id.removeprefix("symptom:").split("+")) == {"chain-off", "burning-smell"}


async def test_a_title_with_the_word_comes_before_one_that_only_means_it(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        rows = [Row("a", plain("Dead"), "it hums"), Row("b", plain("Hums")), Row("c", plain("hums in a long title"))]
        app.screen.query_one(PickList)._found = app.screen.query_one(PickList)._by_words
        app.screen.query_one(PickList).clear()
        app.screen.query_one(PickList).show(rows)
        await type_text(pilot, "hums")
        assert app.screen.query_one(PickList).highlighted == "b"


async def test_the_notice_comes_once_at_the_start_of_a_call(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        await press(pilot, "enter")
        assert isinstance(app.screen, Notice)
        assert FIRST in flat(painted(pilot))
        await press(pilot, "escape")
        assert isinstance(app.screen, Start)
        assert store.calls() == []
        screen = await begin(pilot)
        await press(pilot, "escape")
        await settled(pilot)
        await press(pilot, "enter")
        assert isinstance(app.screen, Interview), "not said again to whom goes on with a call"
        assert app.screen is not screen


async def test_the_newest_call_left_open_stands_first(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        for door in ("Dock 1", "Dock 2"):
            await settled(pilot)
            await type_text(pilot, "lamp is")
            await press(pilot, "enter", "1")
            await press(pilot, *["tab"] * 3)
            await type_text(pilot, door)
            await press(pilot, "enter")
            assert isinstance(app.screen, Interview), painted(pilot)
            await press(pilot, "escape")
        await settled(pilot)
        words = painted(pilot)
        assert words.index("Dock") < words.index("NEW CALL")
    assert {call.door for call in store.calls(open_only=True)} == {"Dock 1", "Dock 2"}


async def test_the_door_asks_only_what_matters_by_single_keys(make_app: Make) -> None:
    app = make_app(settings=Settings(people=("anyone", "technician", "door technician"), by="Ada"))
    async with app.run_test() as pilot:
        await settled(pilot)
        await press(pilot, "enter", "1")
        door = app.screen
        assert isinstance(door, Door)
        words = painted(pilot)
        assert "Drive" in words
        assert "Colour" not in words, "nothing depends on it"
        assert "Plate volts" not in words, "it is not among the first"
        await press(pilot, "0")
        await press(pilot, "5", "b", "1", "enter")
        assert door.stated.facts == {"devices": ("timer", "battery")}, "keys beyond the ninth, and a tick taken off"
        await type_text(pilot, "Lindqvist Cold Store")
        await press(pilot, "enter")
        await type_text(pilot, "Dock 4")
        await press(pilot, "enter")
        screen = app.screen
        assert isinstance(screen, Interview)
        state = screen.call.state
        assert (state.site, state.door) == ("Lindqvist Cold Store", "Dock 4")
        assert state.people == ("anyone", "technician", "door technician")
        assert screen.call.events[0].by == "Ada"


async def test_keys_typed_faster_than_the_form_paints_land_on_their_own_lines(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await press(pilot, "enter", "1")
        door = app.screen
        assert isinstance(door, Door)
        while door._row.id != "devices":
            await press(pilot, "tab")
        first, second = app.trees.facts["devices"].answers[:2]
        held = set(door.stated.facts.get("devices", ()))
        await pilot.press("1", "2", "enter", "tab")
        await pilot.pause()
        assert set(door.stated.facts.get("devices", ())) == held ^ {first, second}
        others = {fact: value for fact, value in door.stated.facts.items() if fact != "devices"}
        assert all(value in app.trees.facts[fact].answers for fact, value in others.items())


async def test_several_complaints_can_be_told(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        await press(pilot, "enter", "1", "shift+tab", "shift+tab", "1", "down", "enter", "f5", "f5")
        screen = app.screen
        assert isinstance(screen, Interview)
        assert set(screen.call.state.symptoms) == {"lamp-wrong", "stays-open"}


async def test_all_calls_lists_closed_ones_too(make_app: Make) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        screen.call.close("left out of service", "no part")
        await press(pilot, "escape")
        await settled(pilot)
        assert "CALLS LEFT OPEN" not in painted(pilot)
        await press(pilot, "ctrl+r")
        assert "left out of service" in flat(painted(pilot))
        await press(pilot, "enter")
        assert isinstance(app.screen, Interview)
        assert "CLOSED" in painted(pilot)


async def test_screens_of_other_parts_are_offered_with_their_keys(make_app: Make) -> None:
    async with make_app().run_test() as pilot:
        await settled(pilot)
        start, foot = pilot.app.screen, painted(pilot).splitlines()[-1]
        opening = [action for action in actions.START.actions if action.name.startswith("open_screen")]
        assert len(opening) == 4
        for action in opening:
            assert action.hint and action.hint in foot
            await press(pilot, action.keys[0])
            assert pilot.app.screen is not start
            await press(pilot, "escape")
            assert pilot.app.screen is start


async def test_where_a_new_call_is_may_be_said_on_the_command_line(make_app: Make) -> None:
    app = make_app()
    app.where = ("Vale [4]", "Dock 2")
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        assert (screen.call.state.site, screen.call.state.door) == ("Vale [4]", "Dock 2")


def test_facts_that_matter(trees: Trees) -> None:
    assert facts_that_matter(trees, ["lamp-wrong"]) == ("drive", "devices")
    assert facts_implied(trees, ["lamp-wrong"]) == {"devices": ("photo-eye",)}
    assert facts_implied(trees, ["stays-open"]) == {}


# What was loaded when the app of this code ended; ``{stands}`` is done when its first screen stands.
_STARTED = """
import json, sys
from diagnose.tui.app import DiagnoseApp
import asyncio
from diagnose.knowledge.load import load_trees
from diagnose.tui.desk import Stated
def opened():
    from diagnose.calls.store import Store
    return Store.open()
class Started(DiagnoseApp):
    over = asyncio.Event()
    def first_screen_stands(self):
        {stands}
    def ends(self):
        print(json.dumps(sorted(sys.modules)))
        self.over.set()
    async def goes_on(self):
        in_hand = await self.begin(Stated(("lamp-wrong",)))
        self.open(in_hand)
        while type(self.screen).__name__ != "Interview" or self.screen.is_waiting:
            await asyncio.sleep(0)
        assert in_hand.saver.safe
        self.ends()
async def main():
    async with Started(load_trees({trees!r}), open_store=opened).run_test() as pilot:
        await pilot.app.over.wait()
asyncio.run(main())
"""


def _loaded(stands: str) -> set[str]:
    trees = str(HERE / "trees")
    # What is kept of them is there, as it nearly always is.
    imports = "from diagnose.finding.meant import make_ready\nfrom diagnose.knowledge.load import load_trees"
    ready = f"{imports}\nmake_ready(load_trees({trees!r}))"
    for code in (ready, _STARTED.format(stands=stands, trees=trees)):
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True)
        assert done.returncode == 0, done.stderr
    return set(json.loads(done.stdout.splitlines()[0]))


def test_nothing_heavy_is_imported_before_the_first_screen() -> None:
    """What costs a tenth of a second each is loaded behind the first screen."""
    loaded = _loaded("self.ends()")
    heavy = {"numpy", "scipy", "pint", "networkx", "sqlalchemy", "click", "pydantic", "diagnose.calls.call"}
    heavy |= {"rapidfuzz", "snowballstemmer"}
    assert not heavy & loaded
    assert "diagnose.tui.screens.start" in loaded


def test_a_call_in_progress_holds_nothing_that_no_step_of_it_needs() -> None:
    """Each of these takes megabytes for as long as the program runs."""
    loaded = _loaded("super().first_screen_stands(); self.run_worker(self.goes_on())")
    heavy = {"scipy", "pint", "networkx", "sqlalchemy", "rapidfuzz", "snowballstemmer", "typst", "ssl", "_hashlib"}
    assert not heavy & loaded
    assert {"diagnose.tui.screens.interview", "diagnose.reasoning.plan", "diagnose.calls.store"} <= loaded
