"""Pictures of the main screens for the README, drawn from a call that never was, on a door of our invention.

python -m tests.tui.pictures FOLDER
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path

from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.sitting.course import bearing
from diagnose.sitting.say import GoTo
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.saver import InHand, Saver
from diagnose.tui.screens.interview import Interview
from tests.tui.conftest import settled

SIZE = (100, 30)
_SITE, _DOOR = "Lindqvist Cold Store", "Dock 4"
_SYMPTOM = "eye-lamp-wrong"
_FACTS: dict[str, str | tuple[str, ...]] = {
    "drive": "trolley",
    "construction": "sectional",
    "devices": ("photo-eye", "wall-station", "timer"),
    "fire-rated": "no",
}
_AT = datetime(2026, 3, 2, 9, 30, tzinfo=UTC)


def take_pictures(folder: Path, trees: Trees | None = None) -> list[Path]:
    """Write one SVG for each main screen into ``folder``, and give back their paths."""
    return asyncio.run(_take(folder, trees))


async def _take(folder: Path, trees: Trees | None) -> list[Path]:
    trees = trees or load_trees()
    folder.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as place:
        store = Store.open(Path(place) / "calls.sqlite3")
        app = DiagnoseApp(trees, lambda: store, clock=lambda: _AT, settle=0.0)
        written: list[Path] = []

        def picture(name: str) -> None:
            file = folder / f"{name}.svg"
            file.write_text(_without_links(app.export_screenshot(title="diagnose")), encoding="utf-8")
            written.append(file)

        async with app.run_test(size=SIZE) as pilot:
            await settled(pilot)
            picture("start")
            saver = Saver(store)
            facts = {fact: value for fact, value in _FACTS.items() if fact in trees.facts}
            symptom = _SYMPTOM if _SYMPTOM in trees.symptoms else next(iter(trees.symptoms))
            call = Call(trees, facts, [symptom], site=_SITE, door=_DOOR, recorder=saver, clock=lambda: _AT)
            app.open(InHand(call, saver))
            await settled(pilot)
            screen = app.screen
            assert isinstance(screen, Interview)
            picture("question")
            question = trees.symptoms[symptom].ask_first[0]
            answer = trees.checks[question].answers[-1]
            call.answer(question, answer)
            reading = _a_reading(call)
            screen.sitting.do(GoTo(kind="check", step=reading))
            screen.show_call(f"Taken: {answer}")
            await settled(pilot)
            # Whatever has to come before the reading is so.
            while screen.card is not None and screen.card.reading is None:
                await pilot.press("1")
                await settled(pilot)
            await pilot.press(*"240", "enter")
            await settled(pilot)
            picture("reading")
            call.answer(reading, "0.4")
            screen.show_call("Taken: 0.4")
            await settled(pilot)
            picture("next-step")
            for key, name in (("f2", "why"), ("ctrl+e", "evidence"), ("ctrl+w", "map")):
                await pilot.press(key)
                await settled(pilot)
                picture(name)
                await pilot.press("escape")
                await settled(pilot)
            remedy = next(iter(trees.causes[screen.view.suspects[0].cause].remedies)) if screen.view else ""
            call.tried(remedy, worked=True)
            screen.show_call("Done. Now prove it.")
            await settled(pilot)
            picture("proof")
            await pilot.press("f7", *"drop along", "enter")
            await settled(pilot)
            for typed in ("120", "16", "150", "12"):
                await pilot.press(*typed, "enter")
            await settled(pilot)
            picture("calculator")
        store.close()
    return written


def _a_reading(call: Call) -> str:
    """The most telling voltage that bears on the case."""
    checks = call.trees.checks
    return next(check for check in bearing(call) if checks[check].kind == "reading" and checks[check].unit == "V")


def _without_links(picture: str) -> str:
    """The picture without fonts from elsewhere: what shows it has a fixed-width font of its own."""
    return re.sub(r"@font-face\s*\{[^}]*\}", "", picture)


if __name__ == "__main__":
    for path in take_pictures(Path(sys.argv[1] if len(sys.argv) > 1 else "pictures")):
        print(path)
