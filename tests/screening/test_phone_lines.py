"""A phone call line by line, as a script, ssh or a screen reader has it."""

from __future__ import annotations

import io
from collections.abc import Callable
from pathlib import Path

import pytest

from diagnose.calls import events as ev
from diagnose.calls.state import fold
from diagnose.calls.store import Store
from diagnose.cli import Session
from diagnose.commands.call import call as command
from diagnose.commands.console import Console
from diagnose.commands.phone_lines import PhoneLines
from tests.screening.conftest import TREES

Talk = Callable[..., tuple[str, str]]
# Site, door, caller and number, all left open.
NOWHERE = ("",) * 4


@pytest.fixture
def session(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Session:
    monkeypatch.setenv("DIAGNOSE_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    return Session(str(TREES), str(tmp_path / "calls.sqlite3"))


@pytest.fixture
def talk(session: Session) -> Talk:
    def run(*lines: str, kept: str = "", language: str = "", site: str = "", door: str = "") -> tuple[str, str]:
        target = io.StringIO()
        console = Console(78, io.StringIO("".join(f"{line}\n" for line in lines)), target)
        call_id = PhoneLines(session, console, "Ana", language, "").run(kept, site, door)
        return call_id, target.getvalue()

    return run


def events(session: Session, call_id: str) -> list[ev.AnyEvent]:
    return Store.open(session.store_location).events(call_id)


def test_a_whole_call(talk: Talk, session: Session) -> None:
    place = ("Mill", "Door 3", "Ana", "555 0142")
    call_id, said = talk("", *place, "nothing happens when I press", "1", "1", "2", "1", "0", "0", "0", "0")
    assert said.index("Is anyone hurt?") < said.index("Site (Enter") < said.index("Dispatch sheet")
    assert "HOW SOON" in said and "Please clear the bay." in said
    found = events(session, call_id)
    stated = [(e.danger, e.answer) for e in found if isinstance(e, ev.DangerStated)]
    assert stated[:3] == [("caught", "no"), ("falling", "no"), ("fire-held", "no")]
    assert [(e.site, e.door, e.caller, e.number) for e in found if isinstance(e, ev.PlaceStated)] == [place]
    assert "Where: Mill, Door 3" in said and "Caller: Ana; call back 555 0142" in said
    assert "Complaint: Does not move at all" in said
    assert {e.by for e in found} == {"Ana"}
    assert all(e.heard == "told" for e in found if isinstance(e, ev.Answered))
    assert any(isinstance(e, ev.PeopleStated) for e in found)


def test_the_instruction_is_read_out_before_anything_else_is_asked(talk: Talk) -> None:
    _, said = talk("1 2", "", "")
    assert said.index("Call the emergency services now.") < said.index("Site (Enter")
    assert said.index("Call the emergency services now.") < said.index("Keep everyone away.")


def test_a_danger_in_the_words_brings_its_complaint_to_the_top(talk: Talk) -> None:
    _, said = talk("", *NOWHERE, "nothing happens and then it sinks", "", "1", "sheet")
    assert "1. Hangs crooked" in said
    assert "2. Does not move at all" in said


def test_a_danger_said_later_is_heard_at_once_and_once(talk: Talk) -> None:
    _, said = talk("", *NOWHERE, "nothing happens and my hand is caught", "what?", "yes", "1", "sheet")
    assert said.count("*** DANGER: Someone is caught. Read out NOW:") == 1
    assert said.index("*** DANGER") < said.index("Dispatch sheet")
    # An emergency is not made to wait for whether the door can still be used.
    assert "Can you still use it?" not in said


def test_other_words_undo_language_and_stopping(talk: Talk, session: Session) -> None:
    _, said = talk(
        "what",
        "",
        *NOWHERE,
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
    assert "Gone back." in said
    assert "Type a number from 0 to" in said
    assert "read the same out in other words" in said
    assert "The call is open. Go on with it: diagnose call --call" in said
    kept = Store.open(session.store_location).find("last")
    assert "it rained" in [e.text for e in events(session, kept) if isinstance(e, ev.Noted)]
    # Gone on with, it asks neither danger nor complaint again.
    again, said = talk("sheet", kept=kept)
    assert again == kept and "DANGER FIRST" not in said and "Ask: What does the door do" not in said


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

    call_id, _ = talk("", "Mill", "", "", "", "will-not-move", "1", "sheet")
    base = ["--trees", str(TREES), "--store", str(session.store_location), "call"]
    page = tmp_path / "sheet.html"
    assert main([*base, "--call", call_id, "--sheet", "--html", str(page), "--markdown", "-"]) == 0
    assert f"# Dispatch sheet {call_id}: Mill" in capsys.readouterr().out
    assert page.read_text("utf-8").startswith("<!DOCTYPE html>")
    assert main([*base, "--sheet"]) == 2
    assert main([*base, "--language", "eo"]) == 2
    assert "'eo' is no language" in capsys.readouterr().err
    assert command.help is not None and "danger first" in command.help


def test_signs_that_do_not_stand_on_one_page_are_asked_on_the_next(
    talk: Talk, session: Session, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("LINES", "8")
    monkeypatch.setenv("COLUMNS", "80")
    talk("1", "quit")
    kept = Store.open(session.store_location).find("last")
    stated = [(e.danger, e.answer) for e in events(session, kept) if isinstance(e, ev.DangerStated)]
    # The third did not stand on the page that was answered.
    assert stated == [("caught", "yes"), ("falling", "no")]
    _, said = talk("", "quit", kept=kept)
    assert "(1 more follow)" not in said and "1. Is a fire door held?" in said


def test_back_at_the_site_shows_the_signs_again_and_loses_no_danger(talk: Talk, session: Session) -> None:
    _, said = talk("2", "", "back", "", "back", "0", "Mill", "back", "back", "quit")
    assert "2. Does it sink? (said: yes)" in said
    kept = Store.open(session.store_location).find("last")
    stated = [(e.danger, e.answer) for e in events(session, kept) if isinstance(e, ev.DangerStated) and not e.told]
    # Enter left them as they were; 0 says, in so many words, that none of them is there.
    assert stated == [("caught", "no"), ("falling", "yes"), ("fire-held", "no"), ("falling", "no")]
    assert not [e for e in events(session, kept) if isinstance(e, (ev.Undone, ev.PlaceStated))]


def test_back_at_the_door_is_back_at_the_site(talk: Talk, session: Session) -> None:
    talk("", "Mlil", "back", "Mill", "Door 3", "", "", "quit")
    kept = Store.open(session.store_location).find("last")
    assert [(e.site, e.door) for e in events(session, kept) if isinstance(e, ev.PlaceStated)] == [("Mill", "Door 3")]


def test_a_place_given_beforehand_is_kept_by_enter(talk: Talk, session: Session) -> None:
    _, said = talk("", "", "", "Ana", "", "quit", site="Mill", door="Door 3")
    assert "Site (Enter keeps Mill):" in said
    kept = Store.open(session.store_location).find("last")
    state = fold(events(session, kept))
    assert (state.site, state.door, state.caller, state.number) == ("Mill", "Door 3", "Ana", "")


def test_a_call_that_nobody_goes_to_is_ended_with_a_reason(
    talk: Talk, session: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    from diagnose.cli import main

    _, said = talk("", *NOWHERE, "end a wrong number")
    assert "The call is over. a wrong number" in said
    store = Store.open(session.store_location)
    assert store.calls(open_only=True) == []
    talk("", *NOWHERE, "quit")
    base = ["--trees", str(TREES), "--store", str(session.store_location), "call"]
    assert main([*base, "--call", "last", "--end", " "]) == 2
    assert "Say why the call ends" in capsys.readouterr().err
    assert main([*base, "--end", "nobody answers"]) == 2
    capsys.readouterr()
    assert main([*base, "--call", "last", "--end", "nobody answers"]) == 0
    assert "ended without a visit" in capsys.readouterr().out
    assert store.calls(open_only=True) == []


def test_a_dangerous_door_stays_dangerous_in_the_record_of_a_call_that_was_ended(
    talk: Talk, session: Session, capsys: pytest.CaptureFixture[str]
) -> None:
    from diagnose.cli import main

    talk("2", "", *NOWHERE, "quit")
    base = ["--trees", str(TREES), "--store", str(session.store_location)]
    assert main([*base, "log", "--end", "they rang off"]) == 2
    assert main([*base, "log", "last", "--end", ""]) == 2
    capsys.readouterr()
    assert main([*base, "log", "last", "--end", "they rang off"]) == 0
    assert "ended without a visit. The door is not safe: It may fall." in capsys.readouterr().out
    store = Store.open(session.store_location)
    (closed,) = [e for e in store.events(store.find("last")) if isinstance(e, ev.Closed)]
    assert (closed.outcome, closed.reason) == ("ended without a visit", "they rang off")
    assert main([*base, "report", "last"]) == 0
    assert "nobody has said that it is over: It may fall." in capsys.readouterr().out
    # Once ended it cannot be ended again.
    assert main([*base, "log", "last", "--end", "again"]) == 2
