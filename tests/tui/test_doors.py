"""The doors that are kept, on the screens."""

from __future__ import annotations

from pathlib import Path

from diagnose.calls.doors import DoorRecord, Doors
from diagnose.calls.store import Store
from diagnose.tui.screens.door import Door
from diagnose.tui.screens.notice import Notice
from diagnose.tui.screens.start import Start

from .conftest import Make, painted, press, settled, type_text


async def test_a_door_is_found_read_and_a_call_begun_on_it(make_app: Make, store: Store) -> None:
    facts: dict[str, str | tuple[str, ...]] = {"drive": "trolley"}
    Doors.of(store).keep(DoorRecord(site="Alder [b]Works", name="Dock 3", facts=facts, data={"weight": "450 lb"}))
    Doors.of(store).keep(DoorRecord(site="Quay", name="Gate"))
    app = make_app()
    async with app.run_test(size=(100, 34)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+o")
        assert "Alder [b]Works  Dock 3" in painted(pilot) and "Quay  Gate" in painted(pilot)
        await type_text(pilot, "ald 3")
        assert "Quay  Gate" not in painted(pilot)
        await press(pilot, "enter")
        assert "weight: 450 lb" in painted(pilot) and "None is kept here." in painted(pilot)
        await press(pilot, "1")
        assert isinstance(app.screen, Start) and app.where == ("Alder [b]Works", "Dock 3")
        assert "NEW CALL at Alder [b]Works, Dock 3: what does the door do wrong?" in painted(pilot)
        await type_text(pilot, "come down")
        await press(pilot, "enter")
        assert isinstance(app.screen, Notice)
        await press(pilot, "enter")
        assert isinstance(app.screen, Door)
        assert app.screen.stated.facts["drive"] == "trolley" and app.screen.stated.door == "Dock 3"


async def test_without_a_door_it_is_said_how_one_is_kept(make_app: Make, tmp_path: Path) -> None:
    app = make_app()
    async with app.run_test(size=(100, 34)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+o")
        assert "No door is kept yet" in painted(pilot)
