"""What once was so on one face only, or was lost on one: each is the same on both now."""

from __future__ import annotations

import contextlib
import io
from pathlib import Path

import pytest

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import Trees, applies
from diagnose.sitting.course import COME, plan
from diagnose.sitting.sitting import Sitting
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.rows import repair_rows
from diagnose.tui.screens.evidence import EvidencePage
from diagnose.tui.screens.interview import Interview as Screen
from diagnose.tui.widgets.paragraphs import Paragraphs
from tests.tui.conftest import settled

from .conftest import a_call
from .scripts import Facts, Move, Script, in_lines, on_screens

FACTS: Facts = {
    "drive": "trolley",
    "construction": "sectional",
    "supply": "single-phase",
    "nominal-volts": "230 V",
    "devices": ("photo-eye", "wall-station"),
    "fire-rated": "no",
}
ROOT = Path(__file__).parents[2] / "diagnose"


def typed(call: Call, *lines: str) -> str:
    said = io.StringIO()
    with contextlib.suppress(EndOfInput):
        Interview(call, "x", Console(200, io.StringIO("".join(f"{line}\n" for line in lines)), said)).run()
    return said.getvalue()


def test_every_remedy_of_the_door_can_be_chosen_on_both_faces(shipped_trees: Trees) -> None:
    call = Call(shipped_trees, {"drive": "trolley", "construction": "sectional"}, ["stops-short"])
    expected = {
        remedy
        for cause in shipped_trees.causes.values()
        if applies(cause.applies, call.state.facts)
        for remedy in cause.remedies
        if applies(shipped_trees.remedies[remedy].applies, call.state.facts)
    }
    ways = Sitting(call).repairs()
    assert {way.remedy for way in ways} == expected and len(expected) > 100
    assert {row.id for row in repair_rows(ways) if row.id} == expected
    listed = typed(call, *[""] * 8, "tried", "")
    assert f"And {len(expected) - 12} more" in listed


def test_a_step_that_cannot_be_done_is_put_off_and_never_written_down_as_seen(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    typed(call, *[""] * 3, "2", "1")
    assert any(isinstance(event, ev.PutOff) for event in call.events)
    assert [event.check for event in call.events if isinstance(event, ev.Answered)] == ["lamp"]


def test_a_finished_repair_survives_on_plain_lines_too(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    typed(call, *[""] * 3, "1", "1")
    again = Call(trees, history=call.events)
    assert again.state.untried == "remake-splice"
    assert ": is it gone?" in typed(again, *[""] * 3, "1")


def test_better_and_too_early_can_be_said_on_plain_lines_too(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    said = typed(call, *[""] * 3, "1", "1", "1", "4", "in an hour", "2")
    assert "The call waits, and asks again: in an hour." in said
    assert call.state.outcomes == {"lamp-wrong": "better"}


def test_the_place_and_the_state_of_the_door_can_be_said_on_plain_lines(trees: Trees) -> None:
    call = a_call(trees, ("lamp", "dark"))
    typed(call, *[""] * 3, "door", "Vale Works", "Dock 3", "energy", "3")
    assert (call.state.site, call.state.door) == ("Vale Works", "Dock 3")
    assert call.energy == list(trees.energy)[2]


@pytest.mark.parametrize("name", ["later", "another_way", "undo", "known", "repair", "note", "look_again"])
def test_the_screens_have_what_the_lines_have(name: str) -> None:
    assert hasattr(Screen, f"action_{name}")


def test_nobody_is_sent_to_repair_a_lesser_cause_where_the_leading_remedy_needs_somebody(trees: Trees) -> None:
    call = a_call(trees, ("near-volts", "24"), ("lamp", "blinking"), ("eye-volts", "17.5"), ("aim", "in line"))
    call.answer("lens", "clean")
    assert call.likely()[0].cause == "wire-thin"
    step = plan(call).step
    assert (step.id, step.goal) == (COME, "heavier-wire")


def test_no_face_changes_a_call_but_by_an_act() -> None:
    """Neither the screens of the interview nor its lines call what changes a call: they say it."""
    changes = "answer withdraw state_fact state_place state_symptoms state_people enter tried done judge proved put_off"
    changes += " take_up undo close reopen not_finished"
    faces = ["tui/desk.py", "commands/interview.py", "commands/talk.py", "commands/telling.py", "commands/choosing.py"]
    faces += [f"tui/screens/{name}.py" for name in ("interview", "answers", "door", "evidence")]
    for face in faces:
        text = (ROOT / face).read_text(encoding="utf-8")
        for name in changes.split():
            assert callable(getattr(Call, name))
            assert f"call.{name}(" not in text, (face, name)


async def test_proofs_and_the_state_of_the_door_are_said_on_the_screens_as_in_lines(
    shipped_trees: Trees, tmp_path: Path
) -> None:
    """What are words in the plain mode are pages of the screens, and come to the same events."""
    energy = [state for state in shipped_trees.energy if state != "any"]
    call = Call(shipped_trees, FACTS, ["stops-short"])
    now, wanted = call.energy, next(state for state in energy if state != call.energy)
    proof = Sitting(call).proofs()[0][0]
    others = [state for state in energy if state != now]
    by_line = str(list(shipped_trees.energy).index(wanted) + 1)
    moves = [
        Move(("energy", by_line), ("b", str(others.index(wanted) + 1), "1")),
        Move(("proofs", "1"), ("g", f">{proof}", "enter")),
    ]
    script = Script(FACTS, ("stops-short",), tuple(shipped_trees.people), moves)
    store = Store.open(tmp_path / "calls.sqlite3")
    try:
        lines, _ = in_lines(shipped_trees, script, store)
        assert [type(event).__name__ for event in lines] == ["Opened", "EnergyEntered", "TakenUp"]
        assert await on_screens(shipped_trees, script, store) == lines
    finally:
        store.close()


async def test_every_suspect_that_is_listed_has_its_evidence_on_both_faces(trees: Trees) -> None:
    """Two faults at once, every other pair and a sound door stand in the list too."""
    call = a_call(trees, ("lamp", "blinking"), ("lens", "dirty"))
    call.tried("clean-lens", worked=False)
    view = Sitting(call).view()
    assert any(" + " in each.cause for each in view.suspects)
    app = DiagnoseApp(trees, None, settle=0.0)
    async with app.run_test(size=(120, 40)) as pilot:
        app.push_screen(EvidencePage(call, view))
        await settled(pilot)
        for number, suspect in enumerate(view.suspects, start=1):
            titles = [trees.causes[each].title for each in suspect.cause.split(" + ") if each in trees.causes]
            wanted = titles or ["No answer speaks" if suspect.cause != "unlisted" else "Some fault"]
            shown = app.screen.query_one(Paragraphs).text
            assert all(each in shown for each in wanted), (suspect, shown)
            assert all(each in typed(call, f"likely {number}") for each in titles)
            await pilot.press("down")
