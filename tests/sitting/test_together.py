"""Two people in one call: each sees what the other recorded, and nobody's own word is lost."""

from __future__ import annotations

import contextlib
import io
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError
from diagnose.calls.store import Store
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import Interview
from diagnose.knowledge.model import Trees
from diagnose.sitting.say import Answer, Choose, Close, Note, StateFact, meanwhile
from diagnose.sitting.sitting import Sitting


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    kept = Store.open(tmp_path / "calls.sqlite3")
    yield kept
    kept.close()


@pytest.fixture
def call_id(store: Store, small_trees: Trees) -> str:
    call_id = store.begin()
    Call(small_trees, {"devices": ("photo-eye",)}, ["eye-lamp-wrong"], recorder=store.recorder(call_id))
    return call_id


def at(store: Store, call_id: str, trees: Trees, by: str) -> Call:
    return Call(trees, history=store.events(call_id), recorder=store.recorder(call_id), by=by)


def test_an_answer_to_something_else_is_taken_down_after_theirs(store: Store, call_id: str, small_trees: Trees) -> None:
    ana, ben = (Sitting(at(store, call_id, small_trees, by)) for by in ("Ana", "Ben"))
    ben.do(Answer(check="lens-clean", text="clean"))
    assert ana.do(Answer(check="eye-lamp-receiver", text="dark")) == "Taken down: dark."
    (said,) = meanwhile(ana.call)
    assert said.startswith("Ben: ") and "clean" in said and meanwhile(ana.call) == ()
    assert store.events(call_id) == list(ana.call.events)
    assert set(ana.call.state.answers) == {"lens-clean", "eye-lamp-receiver"}
    assert ben.do(Note(text="seen")) == "Noted." and "dark" in meanwhile(ben.call)[0]
    assert ana.do(StateFact(fact="devices", value=("photo-eye",))).startswith("Taken down")
    assert store.events(call_id) == list(ana.call.events)


def test_an_answer_to_the_same_stays_as_a_note(store: Store, call_id: str, small_trees: Trees) -> None:
    ana, ben = (Sitting(at(store, call_id, small_trees, by)) for by in ("Ana", "Ben"))
    ben.do(Answer(check="lens-clean", text="clean"))
    assert "kept as a note" in ana.do(Answer(check="lens-clean", text="dirty or wet"))
    assert ana.call.state.answers["lens-clean"].value == "clean"
    assert "dirty or wet" in ana.call.state.notes[-1][1]


def test_a_choice_that_stood_on_an_older_state_is_put_again(store: Store, call_id: str, small_trees: Trees) -> None:
    ana, ben = (Sitting(at(store, call_id, small_trees, by)) for by in ("Ana", "Ben"))
    ben.do(Close(outcome="left out of service", reason="parts"))
    told = ana.do(Choose(kind="energy", step="off, locked and tagged", name="entered"))
    assert told.startswith("Not taken down") and ana.call.state.outcome == "left out of service"
    with pytest.raises(CallError, match="closed"):
        ana.do(Answer(check="lens-clean", text="clean"))
    assert store.events(call_id) == list(ana.call.events)


def test_line_by_line_what_the_other_recorded_is_said(store: Store, call_id: str, small_trees: Trees) -> None:
    call = at(store, call_id, small_trees, "Ana")
    at(store, call_id, small_trees, "Ben").note("[/x] the eye is bent")
    said = io.StringIO()
    with contextlib.suppress(EndOfInput):
        Interview(call, call_id, Console(200, io.StringIO("note mine\n"), said)).run()
    assert "Meanwhile, in this call:" in said.getvalue() and "Ben: Note: [/x] the eye is bent" in said.getvalue()
    assert [text for _, text in call.state.notes] == ["[/x] the eye is bent", "mine"]
    assert isinstance(store.events(call_id)[-1], ev.Noted)
