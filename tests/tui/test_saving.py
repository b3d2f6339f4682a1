"""What is shown as taken is on the disk; a store that fails never loses the call."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.calls.events import Noted
from diagnose.calls.store import Store, StoreError
from diagnose.settings import Settings
from diagnose.sitting.say import GoTo
from diagnose.tui.app import DiagnoseApp, run
from diagnose.tui.saver import NotSaved, Saver
from diagnose.tui.screens.interview import Interview
from diagnose.tui.screens.saving import NotSavedPage, QuitUnsaved
from diagnose.tui.screens.start import Start

from .conftest import Failing, Make, begin, flat, in_hand, painted, press, settled, type_text


async def test_an_answer_that_cannot_be_saved_is_not_taken_and_its_text_stays(make_app: Make, store: Store) -> None:
    failing = Failing(store)
    app = make_app(failing)
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        screen.sitting.do(GoTo(kind="check", step="eye-volts"))
        screen.show_call()
        await settled(pilot)
        failing.broken = True
        await type_text(pilot, "23.5 V")
        await press(pilot, "enter")
        assert isinstance(app.screen, NotSavedPage)
        words = flat(painted(pilot))
        assert "This could not be saved. The disk is full." in words
        assert "[lines]" not in words, "the first line says it"
        await press(pilot, "3")
        assert app.screen is screen
        assert "eye-volts" not in screen.call.state.answers
        assert screen.query_one("#typed").value == "23.5 V"
        assert "Not taken" in flat(painted(pilot, "#step"))
        failing.broken = False
        await press(pilot, "enter")
        assert screen.call.state.answers["eye-volts"].raw == ("23.5 V",)
        assert store.events(in_hand(pilot).saver.call_id) == list(screen.call.events)


async def test_one_can_go_on_without_saving_and_save_later(make_app: Make, store: Store) -> None:
    failing = Failing(store)
    app = make_app(failing)
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        failing.broken = True
        await press(pilot, "3")
        await press(pilot, "1")
        assert isinstance(app.screen, NotSavedPage), "trying again fails again"
        await press(pilot, "2")
        assert screen.call.state.answers["lamp"].value == "dark"
        assert "NOT SAVED (1)" in painted(pilot)
        await press(pilot, "n")
        await type_text(pilot, "a note")
        await press(pilot, "enter")
        assert "NOT SAVED (2)" in painted(pilot)
        await press(pilot, "ctrl+s")
        assert "Still not saved: The disk is full." in painted(pilot)
        await press(pilot, "ctrl+q")
        assert isinstance(app.screen, QuitUnsaved)
        assert "Not saved: 2 entries of this call" in painted(pilot)
        await press(pilot, "2")
        assert app.screen is screen
        failing.broken = False
        await press(pilot, "ctrl+s")
        assert "saved ✓" in painted(pilot)
        assert store.events(in_hand(pilot).saver.call_id) == list(screen.call.events)
        await press(pilot, "escape")
        assert isinstance(app.screen, Start)


async def test_without_a_store_a_call_can_still_be_made(make_app: Make, trees) -> None:
    def refuse() -> Store:
        raise StoreError("There [is] no such place.")

    app = DiagnoseApp(trees, refuse, settle=0.0)
    async with app.run_test() as pilot:
        await settled(pilot)
        assert "Calls cannot be saved: There [is] no such place." in flat(painted(pilot))
        await press(pilot, "enter")
        await press(pilot, "1")
        await press(pilot, "f5")
        assert isinstance(app.screen, NotSavedPage)
        await press(pilot, "2")
        assert isinstance(app.screen, Interview)
        assert "NOT SAVED" in painted(pilot)
        await press(pilot, "escape")
        assert isinstance(app.screen, QuitUnsaved)


async def test_a_call_that_cannot_be_read_says_so(make_app: Make, store: Store) -> None:
    async with make_app().run_test() as pilot:
        await begin(pilot)
    app = make_app()
    async with app.run_test() as pilot:
        await settled(pilot)
        store.events = lambda call_id: (_ for _ in ()).throw(StoreError("Event 1 is [damaged]."))  # type: ignore
        await press(pilot, "enter")
        assert isinstance(app.screen, Start)
        assert "Event 1 is [damaged]." in painted(pilot)


def test_what_waits_is_saved_in_order_and_only_once() -> None:
    kept: list[int] = []

    class Store:
        broken = True

        def begin(self) -> str:
            return "call"

        def recorder(self, call_id: str):
            def record(event: int) -> None:
                if self.broken and len(kept) >= 1:
                    raise OSError
                kept.append(event)

            return record

        def events(self, call_id: str):
            return kept

    store = Store()
    saver = Saver(store)  # type: ignore[arg-type]
    saver(1)
    with pytest.raises(NotSaved, match="OSError"):
        saver(2)
    assert saver.safe
    saver.go_on_without()
    saver(2)
    saver(3)
    assert not saver.safe
    with pytest.raises(NotSaved):
        saver.save_now()
    assert saver.waiting == [2, 3]
    store.broken = False
    saver.save_now()
    assert kept == [1, 2, 3]
    saver(4)
    assert kept == [1, 2, 3, 4]
    assert saver.safe


def test_a_store_named_on_the_command_line_comes_before_the_environment_and_the_settings(monkeypatch) -> None:
    from diagnose.cli import Session
    from diagnose.settings import change_settings

    monkeypatch.delenv("DIAGNOSE_STORE")
    change_settings({"store": "settings.sqlite3"})
    assert Session(None, None).where == "settings.sqlite3"
    monkeypatch.setenv("DIAGNOSE_STORE", "environment.sqlite3")
    assert Session(None, None).where == "environment.sqlite3"
    assert Session(None, "named.sqlite3").where == "named.sqlite3"


def test_trees_that_cannot_be_used_are_refused_before_anything_is_drawn(tmp_path: Path) -> None:
    from diagnose import TreeError

    with pytest.raises(TreeError):
        run(tmp_path / "nowhere", None, Settings())


async def test_what_somebody_else_recorded_in_the_call_is_shown_and_it_goes_on(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test() as pilot:
        screen = await begin(pilot)
        call_id = in_hand(pilot).saver.call_id
        events = store.events(call_id)
        store.append(call_id, Noted(sequence=len(events) + 1, at=events[0].at, by="Ben", text="[/x] bent"))
        await press(pilot, "3")
        assert "Ben: Note: [/x] bent" in flat(painted(pilot))
        await press(pilot, "escape")
        assert app.screen is screen and screen.call.state.answers["lamp"].value == "dark"
        assert store.events(call_id) == list(screen.call.events)


async def test_what_waited_in_memory_is_put_after_what_somebody_else_recorded(make_app: Make, store: Store) -> None:
    failing = Failing(store)
    async with make_app(failing).run_test() as pilot:
        screen = await begin(pilot)
        failing.broken = True
        await press(pilot, "3", "2")
        call_id = in_hand(pilot).saver.call_id
        events = store.events(call_id)
        store.append(call_id, Noted(sequence=len(events) + 1, at=events[0].at, by="Ben", text="bent"))
        failing.broken = False
        await press(pilot, "ctrl+s")
        assert in_hand(pilot).saver.safe
        assert [type(event).__name__ for event in store.events(call_id)[-2:]] == ["Noted", "Answered"]
        await press(pilot, "n")
        await type_text(pilot, "on")
        await press(pilot, "enter")
        assert "Ben: Note: bent" in flat(painted(pilot))
        await press(pilot, "escape")
        assert store.events(call_id) == list(screen.call.events)
