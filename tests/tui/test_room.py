"""Pages of the shipped trees at four sizes: nothing lies over another or past the edge; with room nothing is cut."""

from __future__ import annotations

import re

import pytest
from textual.pilot import Pilot
from textual.widget import Widget

from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.tui.screens.door import Door
from diagnose.tui.screens.interview import Interview
from diagnose.tui.widgets.paragraphs import Paragraphs

from .conftest import Make, painted, press, settled

SIZES = [(60, 18), (80, 24), (120, 40), (200, 60)]
# A window with room for whole titles, and the longest line that is read with ease.
_ROOMY, _LONGEST = 110, 102


def look(pilot: Pilot[None]) -> None:
    screen = pilot.app.screen
    parts = [part for part in screen.children if part.display and part.region.area and part.layer == "default"]
    for number, part in enumerate(parts):
        assert screen.region.contains_region(part.region), (screen, part, part.region)
        for other in parts[:number]:
            assert not part.region.overlaps(other.region), (screen, part, other)
    for text in screen.query(Paragraphs):
        _fits(text)
    if pilot.app.size.width >= _ROOMY:
        cut = [line for line in painted(pilot).splitlines() if re.search(r"\S…\s*(?:$|│)", line)]
        assert not cut, (screen, cut)


def _fits(text: Widget) -> None:
    rows = text.render()
    assert all(len(row.plain) <= _LONGEST for row in rows.split("\n")), text  # type: ignore[attr-defined]


@pytest.mark.parametrize(("size", "real"), [*((size, False) for size in SIZES), ((120, 40), True)])
async def test_every_page_has_room_for_what_it_says(
    make_app: Make, trees: Trees, shipped_trees: Trees, store: Store, size: tuple[int, int], real: bool
) -> None:
    """Through all pages of small trees at every size, and through those of the shipped ones where there is room."""
    app = make_app(with_trees=shipped_trees if real else trees)
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        look(pilot)
        for key in ("ctrl+o", "ctrl+u", "ctrl+r", "ctrl+t", "f1", "f7"):
            await press(pilot, key)
            look(pilot)
            await press(pilot, *("escape" for _ in range(len(app.screen_stack) - 2)))
        await press(pilot, "f3")
        look(pilot)
        while len(app.screen_stack) > 2:
            await press(pilot, "escape")
        await press(pilot, "enter")
        look(pilot)
        await press(pilot, "1")
        for _ in range(6):
            look(pilot)
            await press(pilot, "tab")
        await press(pilot, "f5")
        screen = app.screen
        assert isinstance(screen, Interview)
        look(pilot)
        await press(pilot, "pagedown", "1")
        look(pilot)
        for key in ("f2", "ctrl+e", "f4", "ctrl+k", "f6", "ctrl+w", "f11", "ctrl+g", "ctrl+b", "f9", "f10", "ctrl+o"):
            await press(pilot, key)
            assert app.screen is not screen, key
            look(pilot)
            await press(pilot, "escape")


async def test_answers_below_the_edge_wait_until_they_were_on_the_screen(make_app: Make, shipped_trees: Trees) -> None:
    app = make_app(with_trees=shipped_trees)
    async with app.run_test(size=(60, 18)) as pilot:
        await settled(pilot)
        await press(pilot, "enter", "1")
        door = app.screen
        assert isinstance(door, Door)
        while door._row.id != "devices":
            await press(pilot, "tab")
        last = shipped_trees.facts["devices"].answers[-1]
        before = door.stated.facts.get("devices", ())
        assert "more below" in painted(pilot)
        await press(pilot, "h")
        assert door.stated.facts.get("devices", ()) == before, "it was not on the screen yet"
        while "more below" in painted(pilot):
            await press(pilot, "enter")
            assert door._row.id == "devices"
        assert shipped_trees.facts["devices"].called(last) in painted(pilot)
        await press(pilot, "h")
        assert door.stated.facts["devices"] == (*before, last)
        await press(pilot, "enter")
        assert door._row.id != "devices"
