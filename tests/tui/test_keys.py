"""One key, one meaning on every screen; keys of one's own choice; what the keys do that are the same everywhere."""

from __future__ import annotations

from collections import defaultdict
from importlib import import_module
from pathlib import Path
from pkgutil import iter_modules

import pytest
from textual.binding import BindingsMap
from textual.screen import Screen
from textual.widgets import Input

import diagnose.tui.screens
from diagnose.settings import Settings
from diagnose.tui import actions
from diagnose.tui.keys import choose, keys_wanted, usual_keys
from diagnose.tui.screens.answers import Answers
from diagnose.tui.screens.choosing import Notice
from diagnose.tui.screens.interview import Interview
from diagnose.tui.screens.page import Page, ReadingPage
from diagnose.tui.screens.start import Start
from diagnose.tui.widgets.paragraphs import paragraph
from tests.tui.conftest import Make, begin, flat, painted, press, settled

MEANS = {action.name: action.meaning for action in actions.ACTIONS}


def every_screen() -> list[type[Page[object]]]:
    for module in iter_modules(diagnose.tui.screens.__path__):
        import_module(f"diagnose.tui.screens.{module.name}")
    found, todo = [], [Page]
    while todo:
        for kind in todo.pop().__subclasses__():
            if kind.__module__.startswith("diagnose."):
                found.append(kind)
            todo.append(kind)
    return found


def own_bindings(screen: type[Screen[object]]) -> list[tuple[str, str]]:
    """Each key that a screen of ours binds, and its action; Textual's own are left out."""
    of_textual = {
        (key, binding.action)
        for key, some in Screen._merge_bindings().key_to_bindings.items()  # type: ignore[attr-defined]
        for binding in some
    }
    merged: BindingsMap = screen._merge_bindings()  # type: ignore[attr-defined]
    every = [(key, each.action) for key, some in merged.key_to_bindings.items() for each in some]
    return [pair for pair in every if pair not in of_textual]


def test_a_key_has_one_meaning_on_every_screen_and_a_meaning_one_first_key() -> None:
    from diagnose.tui.app import DiagnoseApp

    screens = [*every_screen(), DiagnoseApp]
    assert len(screens) > 30
    meanings: dict[str, set[str]] = defaultdict(set)
    for screen in screens:
        for key, action in own_bindings(screen) if screen is not DiagnoseApp else []:
            assert action in MEANS, f"{screen.__name__}: {action} is not in the table of actions"
            meanings[key].add(MEANS[action])
    for action in actions.ACTIONS:
        for key in action.keys:
            meanings[key].add(action.meaning)
    assert {key: sorted(several) for key, several in meanings.items() if len(several) > 1} == {}
    firsts: dict[str, set[str]] = defaultdict(set)
    for action in actions.ACTIONS:
        firsts[action.meaning].add(action.keys[0])
    assert {meaning: sorted(keys) for meaning, keys in firsts.items() if len(keys) > 1} == {}


def test_a_screen_binds_no_key_beside_its_place() -> None:
    """What a screen binds is what its help and its footer say."""
    for screen in every_screen():
        told = {action.name for action in (*screen.place.actions, *actions.READING.actions)}
        assert {action for _, action in own_bindings(screen)} <= told, screen


def test_no_action_takes_a_key_that_answers() -> None:
    """Numbers and capital letters answer, Enter and arrows choose; Space reads on where the answers wait for that."""
    for action in actions.ACTIONS:
        for key in action.keys:
            assert not key.isdigit() and key == key.lower(), action
            assert key not in ("up", "down", "backspace") and (key != "space" or action.name == "read_on"), action


@pytest.mark.parametrize(
    ("wanted", "said"),
    [
        ({"explane": "f6"}, "Did you mean 'explain'?"),
        ({"explain": "f13"}, "Write f1 to f12"),
        ({"explain": "ctrl+m"}, "is no key to choose"),
        ({"back": "f6"}, "nothing that a key can be chosen for"),
        ({"explain": "f9"}, "F9 already means 'note'"),
        ({"explain": "ctrl+v, c"}, "c already means 'calculator'"),
        ({"explain": "f9", "note": "f2", "help": "f2"}, "F2 already means"),
    ],
)
def test_a_key_that_cannot_be_had_is_refused(wanted: dict[str, str], said: str) -> None:
    chosen, wrong = keys_wanted(wanted)
    assert said in " ".join(wrong.values())
    every = [key for keys in {**usual_keys(), **chosen}.values() for key in keys]
    assert len(every) == len(set(every))


def test_two_meanings_may_change_places() -> None:
    chosen, wrong = keys_wanted({"explain": "f9", "note": "f2, j"})
    assert (chosen, wrong) == ({"explain": ("f9", "w"), "note": ("f2", "j")}, {})


@pytest.fixture
def usual_again() -> object:
    yield
    choose({})


async def test_chosen_keys_work_and_are_shown(make_app: Make, usual_again: object) -> None:
    app = make_app(settings=Settings(keys={"explain": "ctrl+v, j"}))
    async with app.run_test(size=(100, 30)) as pilot:
        await begin(pilot)
        assert "^V" in painted(pilot) and "F2 " not in painted(pilot).splitlines()[-1]
        await press(pilot, "f2")
        assert isinstance(app.screen, Interview)
        await press(pilot, "ctrl+v")
        assert isinstance(app.screen, ReadingPage)
        await press(pilot, "escape", "j")
        assert isinstance(app.screen, ReadingPage)
        await press(pilot, "f1")
        assert "Ctrl+V or j" in app.screen.query_one("Paragraphs").text  # type: ignore[attr-defined]


async def test_escape_records_nothing_on_any_page_of_a_call(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(100, 30)) as pilot:
        await begin(pilot)
        in_hand = app.in_hand
        assert in_hand is not None
        before = len(in_hand.call.events)
        for action in actions.CALL.actions:
            if action.name in ("undo", "later", "save_now", "read_on", "read_back"):
                continue
            await press(pilot, action.keys[0])
            await settled(pilot)
            for key in ("space", "x") if app.screen.query(Input) else ():
                await press(pilot, key)
            while not isinstance(app.screen, Interview):
                await press(pilot, "escape")
            assert len(in_hand.call.events) == before, action.name


async def test_escape_among_the_complaints_leaves_them_as_they_were(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(100, 30)) as pilot:
        await begin(pilot)
        assert app.in_hand is not None
        before = app.in_hand.call.state.symptoms
        await press(pilot, "ctrl+o", "1", "down", "enter", "escape", "escape")
        assert app.in_hand.call.state.symptoms == before
        await press(pilot, "ctrl+o", "1", "down", "enter", "f5", "f5")
        assert app.in_hand.call.state.symptoms != before


async def test_what_is_copied(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(100, 30)) as pilot:
        await settled(pilot)
        assert isinstance(app.screen, Start)
        await press(pilot, "ctrl+c")
        assert app.clipboard and "\n" not in app.clipboard
        app.push_screen(ReadingPage("A page", [paragraph("One [line]"), paragraph("and another")]))
        await settled(pilot)
        await press(pilot, "ctrl+c")
        assert app.clipboard == "One [line]\nand another"
        await press(pilot, "escape")
        await begin(pilot)
        await press(pilot, "1", "f4")
        assert isinstance(app.screen, Answers)
        await press(pilot, "ctrl+c")
        line = next(line for line in painted(pilot).splitlines() if app.clipboard[:20] in line)
        assert app.clipboard in line
        await press(pilot, "escape", "f10")
        await settled(pilot)
        await press(pilot, "ctrl+c")
        assert app.clipboard.startswith("Service record")


async def test_a_record_is_saved_where_one_says(
    make_app: Make, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("diagnose.tui.screens.report.report_folder", lambda: tmp_path / "usual")
    app = make_app()
    async with app.run_test(size=(100, 30)) as pilot:
        await begin(pilot)
        await press(pilot, "f10", "ctrl+s", "enter")
        await settled(pilot)
        [usual] = (tmp_path / "usual").iterdir()
        assert usual.suffix == ".html" and "Saved:" in painted(pilot)
        mine = tmp_path / "mine.txt"
        mine.write_text("kept", encoding="utf-8")
        for name, said in ((str(mine), "is there already"), (str(tmp_path / "mine.doc"), "End the name in")):
            await press(pilot, "ctrl+s")
            app.screen.query_one(Input).value = name
            await press(pilot, "enter")
            await settled(pilot)
            assert said in flat(painted(pilot))
            await press(pilot, "escape")
        await press(pilot, "ctrl+s")
        app.screen.query_one(Input).value = str(tmp_path / "other.txt")
        await press(pilot, "enter")
        await settled(pilot)
        assert (tmp_path / "other.txt").read_text(encoding="utf-8").startswith("Service record")
        assert mine.read_text(encoding="utf-8") == "kept"


async def test_a_key_hit_twice_leaves_one_page(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        app.push_screen(Notice())
        await settled(pilot)
        page = app.screen
        assert isinstance(page, Notice)
        page.take("understood")
        page.take("understood")
        await settled(pilot)
        assert app.is_running and isinstance(app.screen, Start)
