"""A window too small to read decides nothing: it says what it needs and how to go on, and comes back by itself."""

from __future__ import annotations

import pytest
from textual.pilot import Pilot

from diagnose.calls.store import Store
from diagnose.tui.widgets.too_small import TooSmall

from .conftest import Make, begin, flat, painted, press, settled


async def resized(pilot: Pilot[None], width: int, height: int) -> None:
    """Until the page knows its new size."""
    await pilot.resize_terminal(width, height)
    for _ in range(100):
        await settled(pilot)
        cover = pilot.app.screen.query_one(TooSmall)
        if pilot.app.screen.size == (width, height) and cover.display == (width < 60 or height < 18):
            return
    raise AssertionError("The page never took its new size.")


@pytest.mark.parametrize("small", [(59, 40), (120, 17)])
async def test_nothing_is_answered_until_the_window_is_larger(
    make_app: Make, store: Store, small: tuple[int, int]
) -> None:
    app = make_app()
    async with app.run_test(size=(60, 18)) as pilot:
        screen = await begin(pilot)
        call = app.in_hand
        assert call is not None
        before = len(call.call.events)
        await resized(pilot, *small)
        shown = flat(painted(pilot))
        assert "TOO SMALL" in shown
        assert "60 and 18 are needed" in shown
        assert f"diagnose ask --call {call.saver.call_id}" in shown
        assert "all that was said is kept" in shown
        await press(pilot, "1", "2", "enter", "f9", "escape", "ctrl+z")
        await pilot.click(offset=(5, 12))
        assert app.screen is screen
        assert len(call.call.events) == before
        await resized(pilot, 60, 18)
        assert "TOO SMALL" not in painted(pilot)
        await press(pilot, "1")
        assert len(call.call.events) > before


async def test_each_page_names_its_own_way_on(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test(size=(40, 10)) as pilot:
        await settled(pilot)
        for page, way in (
            ("f3", "diagnose call --plain"),
            ("ctrl+t", "diagnose practise --plain"),
            ("ctrl+o", "diagnose ask"),
        ):
            assert "diagnose ask" in flat(painted(pilot))
            await resized(pilot, 80, 24)
            await press(pilot, page)
            await resized(pilot, 40, 10)
            assert len(app.screen_stack) > 2
            assert way in flat(painted(pilot)), page
            await press(pilot, "enter", "1")
            await resized(pilot, 80, 24)
            await press(pilot, "escape")
            await resized(pilot, 40, 10)
        await press(pilot, "ctrl+q")
    assert app.return_code == 0
    assert store.calls() == []


async def test_what_is_not_saved_is_said(make_app: Make) -> None:
    app = make_app()
    async with app.run_test(size=(60, 18)) as pilot:
        await begin(pilot)
        assert app.in_hand is not None
        app.in_hand.saver.go_on_without()
        await press(pilot, "1")
        await resized(pilot, 40, 12)
        assert "NOT SAVED yet" in flat(painted(pilot))
        assert app.screen.query_one(TooSmall).region.size == app.size
