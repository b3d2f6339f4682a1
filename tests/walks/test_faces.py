"""A walk on both faces: begun, listed, a job done, another chosen, left and gone on with."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest

from diagnose.calls.store import Store
from diagnose.cli import main
from diagnose.knowledge.model import Trees
from diagnose.settings import Settings
from diagnose.sitting.sitting import Sitting
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.desk import Stated
from diagnose.tui.screens.interview import Interview
from tests.tui.conftest import NOON, _wait_by_counting, painted, press, settled, type_text
from tests.walks.test_walks import KINDS, door, sound, walked

__all__ = ["_wait_by_counting"]
TITLE = "Put up a new operator and hand it over"
# One of each drive, a fire door, and a gate of each kind.
DOORS = {
    "trolley": door(*KINDS[0]),
    "jackshaft": door(*KINDS[1]),
    "hoist": door(*KINDS[2]),
    "fire door": door(*KINDS[2], fire="yes"),
    "sliding gate": door(*KINDS[3]),
    "swing gate": door(*KINDS[4]),
}


def test_the_jobs_of_a_door_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["commission", "--list", "--fact", "drive=slide"]) == 0
    gate = capsys.readouterr().out
    assert main(["commission", "--list", "--fact", "drive=trolley"]) == 0
    trolley = capsys.readouterr().out
    assert "Set the gate operator on its base" in gate and "Set the gate operator on its base" not in trolley
    assert "Build the rail on the floor" in trolley and "Build the rail on the floor" not in gate


def test_a_walk_that_is_not_there_is_said(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["commission", "yearly-servce"]) == 2
    assert "yearly-service" in capsys.readouterr().err


def test_line_by_line_it_is_left_and_gone_on_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    where = str(tmp_path / "calls.sqlite3")

    def typed(*lines: str, more: tuple[str, ...] = ()) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        door = ("--fact", "drive=slide", "--fact", "construction=gate", "--site", "Alder Works", "--door", "Gate 1")
        facts = ("supply=single-phase", "devices=photo-eye", "fire-rated=no", "counterbalance=none", "dock-link=none")
        more_facts = ("opening-sensor=none", "anti-drop=no", "limit-kind=limit switches")
        known = tuple(word for fact in (*facts, *more_facts) for word in ("--fact", fact))
        said = main(
            ["--store", where, "commission", "--plain", *(more or (*door, *known, "--fact", "nominal-volts=115 V"))]
        )
        assert said == 0
        return capsys.readouterr().out

    first = typed("1", "map", "quit")
    assert "Check that the operator suits the door: done" in first and f"{TITLE}:" in first
    again = typed("quit", more=("--call", "last"))
    assert "Ask what supply is there" in again


async def test_on_the_screens_a_walk_shows_what_is_still_to_do(
    shipped_trees: Trees, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    store = Store.open(tmp_path / "calls.sqlite3")
    app = DiagnoseApp(shipped_trees, lambda: store, Settings(), clock=lambda: NOON, settle=0.0)
    app.asked = Stated(facts={"drive": "trolley"}, walk="commissioning", site="Alder Works")
    async with app.run_test(size=(120, 40)) as pilot:
        await settled(pilot)
        await press(pilot, "1", "f5")
        shown = painted(pilot)
        assert TITLE in shown and "Still to do (" in shown and "Check that the operator suits the door" in shown
        await press(pilot, "1")
        assert "Ask what supply is there, and read the plate" in painted(pilot, "#step")
        await press(pilot, "a")
        assert "Job:" in painted(pilot)
        await press(pilot, "escape", "e")
        assert "Ask what supply is there, and read the plate" in painted(pilot, "#step")
    assert [call.site for call in store.calls()] == ["Alder Works"]
    store.close()


def lines_for(trees: Trees, facts: dict[str, Any]) -> list[str]:
    """What is typed to go the whole walk at a door on which everything is right."""
    call, lines = walked(trees, facts), []
    sitting = Sitting(call)
    while call.state.outcome is None:
        card = sitting.put().card
        said = sound(call, card)
        names = [choice.name for choice in card.choices]
        lines.append(str(names.index(said) + 1) if said in names else said)
        if card.kind == "check" and call.understand(card.id, said).doubt:
            lines.append("keep")
        sitting.choose(card, said)
    return lines


@pytest.mark.parametrize("kind", DOORS)
def test_line_by_line_every_drive_is_put_up_and_handed_over(
    shipped_trees: Trees,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    kind: str,
) -> None:
    facts = DOORS[kind]
    lines = lines_for(shipped_trees, facts)
    lines[-1:-1] = ["close", "1"]
    # What jobs and proofs hang on is asked first; it may be left unknown.
    asked = ["?" for _ in Sitting(walked(shipped_trees, facts)).first_facts()]
    assert asked
    monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in (*asked, "close", "1", *lines))))
    given = [f"{fact}={value if isinstance(value, str) else ','.join(value)}" for fact, value in facts.items()]
    where = str(tmp_path / "calls.sqlite3")
    people = ",".join(shipped_trees.people)
    words = [word for fact in given for word in ("--fact", fact)]
    assert main(["--store", where, "commission", "--plain", "--people", people, *words]) == 0
    shown = " ".join(capsys.readouterr().out.split())
    # It cannot be ended before, neither at first nor with all proved but the end not said.
    assert shown.count("ends with the door handed over") == 2
    assert shown.count("Closed: handed over") == 1
    store = Store.open(where)
    (kept,) = store.calls()
    assert kept.outcome == "handed over"
    store.close()


# What hangs on the drive is held line by line, above; here the shortest walk and the longest.
@pytest.mark.parametrize("kind", ["sliding gate", pytest.param("fire door", marks=pytest.mark.long)])
async def test_on_the_screens_a_drive_is_put_up_and_handed_over(
    shipped_trees: Trees, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, kind: str
) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    store = Store.open(tmp_path / "calls.sqlite3")
    app = DiagnoseApp(
        shipped_trees, lambda: store, Settings(people=tuple(shipped_trees.people)), clock=lambda: NOON, settle=0.0
    )
    app.asked = Stated(facts=DOORS[kind], walk="commissioning")
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        # The notice that stands before the first call, and the door as it was stated.
        await press(pilot, "1", "f5")
        screen = app.screen
        assert isinstance(screen, Interview), painted(pilot)
        for _ in range(300):
            card = screen.card
            assert card is not None
            if card.id == "closed":
                break
            said = sound(screen.call, card)
            key = next((choice.key for choice in card.choices if choice.name == said), "")
            if key:
                await press(pilot, key)
                # A card that goes on below is read to its end before anything is chosen.
                if "Read it to its end first" in painted(pilot):
                    await press(pilot, "pagedown")
            else:
                await type_text(pilot, said)
                # What seems wrong is taken at the second Enter.
                doubt = card.kind == "check" and screen.call.understand(card.id, said).doubt
                await press(pilot, *(("enter", "enter") if doubt else ("enter",)))
        assert "handed over" in painted(pilot, "#step")
        assert screen.call.ledger.passed == {proof.id for proof in screen.call.needed_proofs()}
    (kept,) = store.calls()
    assert kept.outcome == "handed over"
    store.close()
