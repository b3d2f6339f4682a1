"""A walk on both faces: begun, listed, a job done, another chosen, left and gone on with."""

from __future__ import annotations

import io
from pathlib import Path

import pytest

from diagnose.calls.store import Store
from diagnose.cli import main
from diagnose.knowledge.model import Trees
from diagnose.settings import Settings
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.stated import Stated
from tests.tui.conftest import NOON, _wait_by_counting, painted, press, settled

__all__ = ["_wait_by_counting"]
TITLE = "Put up a new operator and hand it over"


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
        known = ("--fact", "supply=single-phase", "--fact", "devices=photo-eye", "--fact", "fire-rated=no")
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
