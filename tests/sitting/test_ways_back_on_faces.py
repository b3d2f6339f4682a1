"""The ways in which doors went back wrongly, tried on both faces: each is refused with a sentence that says what to do.

A call is brought to where somebody in a hurry stands; the rest is typed as lines and pressed as keys.
"""

from __future__ import annotations

import contextlib
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from textual.pilot import Pilot

from diagnose.calls.call import Call
from diagnose.calls.known import RETURNED
from diagnose.calls.store import Store
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import Trees
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.screens.door import Door as DoorPage
from diagnose.tui.widgets.choices import Choices
from tests.safety import test_ways_back as ways
from tests.sitting.scripts import NOON, pressed
from tests.tui.conftest import flat, painted, press, settled

CLOSE = ("close", "1")


@dataclass(frozen=True)
class Way:
    """``begun`` brings the call to where it is tried; what is typed and pressed then, and what each face answers."""

    begun: Callable[[Trees], Call]
    lines: tuple[str, ...]
    keys: tuple[str, ...]
    says: str
    shows: str


def with_a_curtain(trees: Trees) -> Call:
    return ways.mended(ways.begin(trees, devices=("light-curtain", "wall-station", "timer")), "curtain-blocks-closing")


def with_an_eye(trees: Trees) -> Call:
    return ways.mended(ways.begin(trees), "eye-blocks-closing")


def springs_to_be_renewed(trees: Trees) -> Call:
    return ways.begin(trees, ("anyone", "technician"), ("heavy-by-hand",))


def fire_door(trees: Trees) -> Call:
    return ways.mended(ways.begin(trees, ("anyone", "technician"), fire_rated="yes"), "fire-door-drop")


def locked_off_before_the_last_proof(trees: Trees) -> Call:
    call = with_an_eye(trees)
    call.enter("off, locked and tagged")
    return call


def two_complaints(trees: Trees) -> Call:
    call = ways.begin(trees, complaints=(ways.COMPLAINT, "heavy-by-hand"))
    call.done(ways.REPAIR)
    call.judge({ways.COMPLAINT: "gone"})
    return call


CHANGED = ("ctrl+o", "@devices")
WITHOUT_ITS_GUARD = "facts Safety", "wall-station, timer"
NOT_PROVED = "not proved yet."
EYE = "Each photo eye sees what is low in its way and turns the door back"
CURTAIN = "on what was stated before hangs: Nothing breaks the curtain"
WAYS: dict[str, Way] = {
    "no guard was stated": Way(
        ways.no_guard_stated, CLOSE, (), "With no guard it closes only while the button is held", "It passes"
    ),
    "the curtain was taken off": Way(
        with_a_curtain,
        (*WITHOUT_ITS_GUARD, "2", *CLOSE),
        (*CHANGED, "~light-curtain", "enter", "2", "escape"),
        "With no guard nothing closes it but the held button",
        "With no guard",
    ),
    "the curtain was never there, for no reason": Way(
        with_a_curtain,
        (*WITHOUT_ITS_GUARD, "1", "", "", *CLOSE),
        (*CHANGED, "~light-curtain", "enter", "1", "enter"),
        "Was it never there (say why), or was it taken off",
        "Say why, in a few words.",
    ),
    "the eye was dropped from the facts": Way(
        with_an_eye, (*WITHOUT_ITS_GUARD, "", *CLOSE), (*CHANGED, "~photo-eye", "enter"), f"{EYE}: {NOT_PROVED}", EYE
    ),
    "a fire door, and no inspector": Way(
        fire_door, ("proofs", "", *CLOSE), (), "needs a qualified fire-door inspector, who is not here", "inspector"
    ),
    "springs, and no door technician": Way(
        springs_to_be_renewed,
        ("tried =replace-springs", *CLOSE),
        ("f6", "=replace-springs", ">replace-springs", "enter"),
        "needs a door technician, who is not here",
        "Make the door safe and leave it out of service until they are here.",
    ),
    "balance, and no door technician": Way(
        ways.balance_without_a_door_technician, CLOSE, (), "needs a door technician, who is not here", "Must come"
    ),
    "a gap in a spring": Way(
        ways.broken_spring_seen_and_another_repair,
        ("1", "1", *CLOSE),
        ("1", "1"),
        "can pass after 'Have the springs replaced",
        "can pass after",
    ),
    "a wire across an interlock": Way(
        ways.bridged_interlock, ("1", "1", *CLOSE), ("1", "1"), "can pass after", "can pass after"
    ),
    "a frayed cable": Way(ways.frayed_cable, ("1", "1", *CLOSE), ("1", "1"), "can pass after", "can pass after"),
    "a failed proof, taken back": Way(
        ways.failed_proof,
        ("back", "", *CLOSE),
        ("ctrl+z",),
        "this need no longer be proved",
        "this need no longer be proved",
    ),
    "a failed proof, passed at once": Way(
        ways.failed_proof, ("proofs eye", "1", *CLOSE), (), "Put right what it showed, then run it again", "has failed"
    ),
    "a proof chosen from the list, locked off": Way(
        locked_off_before_the_last_proof, ("proofs eye", *CLOSE), (), f"{EYE}: {NOT_PROVED}", "powered, covers on"
    ),
    "one complaint of two": Way(two_complaints, CLOSE, (), "nobody has said that it is gone", "is it gone"),
    "a complaint taken back without a word": Way(
        two_complaints, ("symptoms Heavy", "1", "", *CLOSE), (), "Nobody has said that it is gone", "is it gone"
    ),
}


def kept(trees: Trees, way: Way, store: Store) -> str:
    """The call as it was begun, in the store."""
    call_id = store.begin()
    record = store.recorder(call_id)
    for event in way.begun(trees).events:
        record(event)
    return call_id


def outcome_of(trees: Trees, store: Store, call_id: str) -> str | None:
    return Call(trees, history=store.events(call_id)).state.outcome


def in_lines(trees: Trees, way: Way, store: Store) -> tuple[str | None, str]:
    call_id = kept(trees, way, store)
    call = Call(trees, history=store.events(call_id), clock=lambda: NOON, recorder=store.recorder(call_id))
    lines = [line.replace("=replace-springs", trees.remedies["replace-springs"].title) for line in way.lines]
    said = io.StringIO()
    with contextlib.suppress(EndOfInput):
        Interview(call, call_id, Console(200, io.StringIO("".join(f"{line}\n" for line in lines)), said)).run()
    return outcome_of(trees, store, call_id), said.getvalue()


@pytest.mark.parametrize("name", WAYS)
def test_by_lines(shipped_trees: Trees, tmp_path: Path, name: str) -> None:
    store = Store.open(tmp_path / "calls.sqlite3")
    outcome, said = in_lines(shipped_trees, WAYS[name], store)
    store.close()
    assert outcome is None
    assert WAYS[name].says in flat(said), said[-2500:]
    refused = flat(said.rpartition("Close it as:")[2])
    assert refused.startswith("1 Not yet. ") and "Or leave the door out of service, and say why." in refused


@pytest.mark.parametrize("name", WAYS)
async def test_by_keys(shipped_trees: Trees, tmp_path: Path, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    way, store = WAYS[name], Store.open(tmp_path / "calls.sqlite3")
    call_id = kept(shipped_trees, way, store)
    app = DiagnoseApp(shipped_trees, lambda: store, clock=lambda: NOON, settle=0.0)
    async with app.run_test(size=(80, 45)) as pilot:
        await settled(pilot)
        assert app.resume(call_id) == ""
        await settled(pilot)
        for key in way.keys:
            await hurried(pilot, key, shipped_trees)
        shown = flat(painted(pilot))
        assert way.shows in shown, shown
        assert "Return the door to service" not in shown
        # Whatever number is pressed next, a door is not handed back by it.
        await press(pilot, "escape", "1")
    assert outcome_of(shipped_trees, store, call_id) != RETURNED
    store.close()


async def hurried(pilot: Pilot[None], key: str, trees: Trees) -> None:
    """A key of ``scripts``; ``@id`` goes to a line of the door's screen, ``~value`` ticks or unticks an answer."""
    if key.startswith("@"):
        screen = pilot.app.screen
        assert isinstance(screen, DoorPage)
        for _ in range(30):
            if screen._row.id == key[1:]:
                return
            await press(pilot, "tab")
        raise AssertionError(f"{key[1:]} is no line of this screen")
    if key.startswith("~"):
        choices = pilot.app.screen.query_one(Choices)
        await press(pilot, next(choice.key for choice in choices.choices if choice.name == key[1:]))
    else:
        await pressed(pilot, key.replace("=replace-springs", f"={trees.remedies['replace-springs'].title}"))
