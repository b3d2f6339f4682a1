"""The doors that are kept, on the screens."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from msgspec.structs import replace

from diagnose.calls.doors import DoorRecord, Doors
from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from diagnose.tui.screens.choosing import Notice
from diagnose.tui.screens.door import Door
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


async def test_a_door_is_added_by_a_key_and_only_once(make_app: Make, store: Store) -> None:
    app = make_app()
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+o")
        assert "Ins adds one" in painted(pilot)
        await press(pilot, "insert", "f5")
        assert isinstance(app.screen, Door), "a door without a place cannot be kept"
        await type_text(pilot, "Mill")
        await press(pilot, "enter")
        await type_text(pilot, "Dock 2")
        await press(pilot, "enter", "1", "f5")
        kept = Doors.of(store).known("mill", "dock 2")
        assert kept is not None and kept.record.site == "Mill"
        fact = next(iter(app.trees.facts.values()))
        first = next(iter(fact.answers))
        assert kept.record.facts == {fact.id: (first,) if fact.many == "yes" else first}
        assert f"Kept: {kept.door_id}" in painted(pilot) and "Mill  Dock 2" in painted(pilot)
        await press(pilot, "insert")
        await type_text(pilot, "MILL")
        await press(pilot, "enter")
        await type_text(pilot, "dock 2")
        await press(pilot, "f5")
        assert isinstance(app.screen, Door) and "kept already" in painted(pilot)
        assert Doors.of(store).known("mill", "dock 2") == kept


async def test_the_form_asks_of_each_door_what_goes_with_it_and_refuses_the_rest(make_app: Make, trees: Trees) -> None:
    own: dict[str, Any] = {"colour": {"applies": {"drive": ("hoist",)}}, "devices": {"alone": ("edge",)}}
    facts = {name: replace(fact, **own.get(name, {})) for name, fact in trees.facts.items()}
    facts["volts"] = replace(facts["volts"], goes_with={"230 V": {"drive": ("hoist",)}})
    app = make_app(with_trees=replace(trees, facts=facts))
    async with app.run_test(size=(100, 34)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+o", "insert", "enter", "enter")
        form = app.screen
        assert isinstance(form, Door) and "Colour" in painted(pilot)
        await press(pilot, "2")
        assert form.stated.facts == {"drive": "hoist"} and "Colour" in painted(pilot)
        await press(pilot, "shift+tab", "1")
        assert form.stated.facts == {"drive": "trolley"} and "Colour" not in painted(pilot)
        # Only the one voltage is left, and so it is not asked.
        assert "Plate volts" not in painted(pilot)
        # What was said before of another drive is gone with it.
        await press(pilot, "shift+tab", "2")
        while form._row.id != "colour":
            await press(pilot, "tab")
        await press(pilot, "1")
        assert form.stated.facts["colour"] == "red"
        while form._row.id != "drive":
            await press(pilot, "shift+tab")
        await press(pilot, "1")
        assert "colour" not in form.stated.facts
        while form._row.id != "devices":
            await press(pilot, "tab")
        await press(pilot, "1", "3")
        assert "✗ Devices 'edge' stands alone. Take 'edge' away, or all the others." in painted(pilot)
        assert form.stated.facts["devices"] == ("photo-eye",)
