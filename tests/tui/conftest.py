"""Small trees of our own, a store that can be told to fail, a frozen clock, and an app made of them."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from textual._context import active_app
from textual.command import CommandPalette
from textual.pilot import Pilot

from diagnose import load_trees
from diagnose.calls.store import CallSummary, Store
from diagnose.knowledge.model import Trees
from diagnose.settings import Settings
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.saver import InHand
from diagnose.tui.screens.interview import Interview

HERE = Path(__file__).parent
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)


@pytest.fixture(scope="session")
def trees(tmp_path_factory: pytest.TempPathFactory) -> Trees:
    return load_trees(HERE / "trees", cache=False)


@pytest.fixture(autouse=True)
def _own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(tmp_path / "own" / "settings.toml"))


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    kept = Store.open(tmp_path / "calls.sqlite3")
    yield kept
    kept.close()


class Failing:
    """A store that refuses what it is given while ``broken``."""

    def __init__(self, store: Store) -> None:
        self.store = store
        self.broken = False

    def begin(self) -> str:
        self._look()
        return self.store.begin()

    def recorder(self, call_id: str) -> Callable[[Any], None]:
        keep = self.store.recorder(call_id)

        def record(event: Any) -> None:
            self._look()
            keep(event)

        return record

    def events(self, call_id: str) -> list[Any]:
        return list(self.store.events(call_id))

    def calls(self, **wanted: Any) -> list[CallSummary]:
        return self.store.calls(**wanted)

    def _look(self) -> None:
        if self.broken:
            raise OSError("The disk is full.\nwith more [lines]")


Make = Callable[..., DiagnoseApp]


@pytest.fixture
def make_app(trees: Trees, store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Make:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))

    def make(use: Any = None, with_trees: Trees | None = None, settings: Settings | None = None) -> DiagnoseApp:
        opened = store if use is None else use
        return DiagnoseApp(with_trees or trees, lambda: opened, settings, clock=lambda: NOON, settle=0.0)

    return make


@pytest.fixture(autouse=True)
def _wait_by_counting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Textual's own wait sleeps until the processor looks idle, which on a busy machine is no sign of rest."""
    for place in ("textual.pilot", "textual.app"):
        monkeypatch.setattr(f"{place}.wait_for_idle", at_rest)


async def at_rest(*_: float) -> None:
    """Until the event loop has nothing left to run, and the screen shows what came of it."""
    loop: Any = asyncio.get_running_loop()
    for _ in range(100_000):
        await asyncio.sleep(0)
        if loop._ready:
            continue
        screen = active_app.get().screen
        if not (screen._dirty_widgets or screen._callbacks or screen._layout_required or screen._scroll_required):
            return
        screen._on_timer_update()
    raise AssertionError("The screen never came to rest.")


async def settled(pilot: Pilot[None]) -> None:
    """Until nothing is being worked out in a thread, and what came of it is painted."""
    app = pilot.app
    for _ in range(200):
        await pilot.pause()
        busy = [worker for worker in app.workers if not worker.is_finished and worker.group in _THREADS]
        if busy:
            await app.workers.wait_for_complete(busy)
        elif not (isinstance(app.screen, Interview) and app.screen.is_waiting):
            await pilot.pause()
            return
    raise AssertionError("The screen never came to rest.")


_THREADS = ("think", "prepare", "calls", CommandPalette._GATHER_COMMANDS_GROUP)


async def press(pilot: Pilot[None], *keys: str) -> None:
    """Keys one after another, each when the screen has come to rest."""
    for key in keys:
        await pilot.press(key)
        await settled(pilot)


async def type_text(pilot: Pilot[None], text: str) -> None:
    await pilot.press(*("space" if letter == " " else letter for letter in text))
    await pilot.pause()


async def begin(pilot: Pilot[None], *keys: str) -> Interview:
    """A new call on the first complaint, the door told by ``keys``."""
    await settled(pilot)
    await press(pilot, "enter", "1", *keys, "f5")
    screen = pilot.app.screen
    assert isinstance(screen, Interview), screen
    return screen


def in_hand(pilot: Pilot[None]) -> InHand:
    app = pilot.app
    assert isinstance(app, DiagnoseApp)
    assert app.in_hand is not None
    return app.in_hand


def painted(pilot: Pilot[None], selector: str = "") -> str:
    """What the screen shows, as text; with ``selector`` only the part where that widget is."""
    screen = pilot.app.screen
    lines = ["".join(segment.text for segment in strip) for strip in screen._compositor.render_strips()]
    if selector:
        region = screen.query_one(selector).region
        lines = [line[region.x : region.right] for line in lines[region.y : region.bottom]]
    return "\n".join(lines)


def flat(text: str) -> str:
    """One line, so that a sentence can be looked for whatever the width it was wrapped to."""
    return " ".join(text.split())
