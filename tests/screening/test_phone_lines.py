"""A phone call line by line, as a script, ssh or a screen reader has it."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.calls import events as ev
from diagnose.calls.store import Store
from diagnose.cli import Session
from diagnose.commands.call import call as command
from diagnose.commands.console import Console
from diagnose.commands.phone_lines import PhoneLines
from tests.screening.conftest import TREES

Talk = Callable[..., tuple[str, str]]


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    return Session(str(TREES), str(tmp_path / "calls.sqlite3"))


@pytest.fixture
def talk(session: Session) -> Talk:
    def run(*lines: str, kept: str = "", language: str = "") -> tuple[str, str]:
        target = io.StringIO()
        console = Console(78, io.StringIO("".join(f"{line}\n" for line in lines)), target)
        call_id = PhoneLines(session, console, "Ana", language, "").run(kept, "", "")
        return call_id, target.getvalue()

    return run


def events(session: Session, call_id: str) -> list[ev.AnyEvent]:
    return Store.open(session.store_location).events(call_id)


def test_a_whole_call(talk: Talk, session: Session) -> None:
    call_id, said = talk("", "Mill", "Door 3", "nothing happens when I press", "1", "1", "2", "1", "0", "0", "0", "0")
    assert said.index("Is anyone hurt?") < said.index("Site (Enter") < said.index("DISPATCH SHEET")
    assert "HOW SOON" in said and "Please clear the bay." in said
    found = events(session, call_id)
    stated = [(e.danger, e.answer) for e in found if isinstance(e, ev.DangerStated)]
    assert stated[:3] == [("caught", "no"), ("falling", "no"), ("fire-held", "no")]
    assert [(e.site, e.door) for e in found if isinstance(e, ev.PlaceStated)] == [("Mill", "Door 3")]
    assert {e.by for e in found} == {"Ana"}
    assert all(e.heard == "told" for e in found if isinstance(e, ev.Answered))
    assert any(isinstance(e, ev.PeopleStated) for e in found)


def test_the_instruction_is_read_out_before_anything_else_is_asked(talk: Talk) -> None:
    _, said = talk("1 2", "", "")
    assert said.index("Call the emergency services now.") < said.index("Site (Enter")
    assert said.index("Call the emergency services now.") < said.index("Keep everyone away.")


def test_a_danger_in_the_words_brings_its_complaint_to_the_top(talk: Talk) -> None:
    _, said = talk("", "", "", "nothing happens and then it sinks", "1", "sheet")
    assert "1. Hangs crooked" in said
    assert "2. Does not move at all" in said


def test_a_danger_said_later_is_heard_at_once_and_once(talk: Talk) -> None:
    _, said = talk("", "", "", "nothing happens and my hand is caught", "1", "sheet")
    assert said.count("*** DANGER: Someone is caught. Read out NOW:") == 1
    assert said.index("*** DANGER") < said.index("DISPATCH SHEET")
    # An emergency is not made to wait for whether the door can still be used.
    assert "Can you still use it?" not in said


def test_other_words_undo_language_and_stopping(talk: Talk, session: Session) -> None:
    _, said = talk(
        "what",
        "",
        "",
        "",
        "will-not-move",
        "1",
        "1",
        "language es",
        "what",
        "back",
        "nonsense",
        "note it rained",
        "help",
        "quit",
    )
    assert "Is anybody caught in it?" in said
    assert "Taken back." in said
    assert "Type a number from 0 to" in said
    assert "read the same out in other words" in said
    assert "The call is open. Go on with it: diagnose call --call" in said
    kept = Store.open(session.store_location).find("last")
    assert "it rained" in [e.text for e in events(session, kept) if isinstance(e, ev.Noted)]
    # Gone on with, it asks neither danger nor complaint again.
    again, said = talk("sheet", kept=kept)
    assert again == kept and "FIRST, DANGER" not in said and "Ask: What does the door do" not in said


def test_spanish_is_read_out_from_the_first_word(talk: Talk) -> None:
    _, said = talk("1", "", "", language="es")
    assert "Antes que nada:" in said and "¿Hay alguien herido?" in said and "Llame a emergencias ahora." in said


def test_input_that_ends_leaves_the_call_open_with_all_that_was_said(talk: Talk, session: Session) -> None:
    call_id, said = talk("2")
    assert call_id == "" and "The call is open." in said
    kept = Store.open(session.store_location).find("last")
    assert [e.danger for e in events(session, kept) if isinstance(e, ev.DangerStated) and e.answer == "yes"] == [
        "falling"
    ]


def test_the_sheet_of_a_kept_call_can_be_printed(
    talk: Talk, session: Session, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from diagnose.cli import main

    call_id, _ = talk("", "Mill", "", "will-not-move", "1", "sheet")
    base = ["--trees", str(TREES), "--store", str(session.store_location), "call"]
    page = tmp_path / "sheet.html"
    assert main([*base, "--call", call_id, "--sheet", "--html", str(page), "--markdown", "-"]) == 0
    assert f"# Dispatch sheet {call_id}: Mill" in capsys.readouterr().out
    assert page.read_text("utf-8").startswith("<!DOCTYPE html>")
    assert main([*base, "--sheet"]) == 2
    assert main([*base, "--language", "eo"]) == 2
    assert "'eo' is no language" in capsys.readouterr().err
    assert command.help is not None and "danger first" in command.help
