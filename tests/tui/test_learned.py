"""What closed calls come to, and what they propose, on the screens."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.widgets import Input

from diagnose.calls.call import Call
from diagnose.calls.store import Store
from diagnose.knowledge.learned import read_learned
from diagnose.knowledge.load import learned_file
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.learning.records import Lessons
from diagnose.settings import Settings
from tests.learning.shops import close
from tests.learning.test_learn_command import SMALL, a_lesson

from .conftest import Make, painted, press, settled


@pytest.fixture(autouse=True)
def _own_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIAGNOSE_LEARNED", str(tmp_path / "learned.yaml"))


@pytest.fixture
def busy(store: Store) -> Store:
    lessons = Lessons.of(store)
    for number in range(60):
        name = f"2031-05-04-{number:04d}"
        store.claim(name)
        lessons.keep(
            name, a_lesson(name, "eye-wiring-open" if number % 8 else "eye-dead", "blinking", site="[/x] Yard")
        )
    return store


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_the_shops_figures_are_read_and_saved(
    make_app: Make, busy: Store, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("diagnose.tui.screens.report.report_folder", lambda: tmp_path / "reports")
    app = make_app(settings=Settings(trees=SMALL))
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+r", "f5")
        await app.workers.wait_for_complete()
        await settled(pilot)
        assert "60 closed calls." in painted(pilot) and "THE COMMONEST CAUSES" in painted(pilot)
        await press(pilot, "ctrl+s", "enter", "ctrl+s")
        line = app.screen.query_one(Input)
        line.value = line.value.replace(".html", ".txt")
        await press(pilot, "enter")
        assert "Saved:" in painted(pilot)
    assert (tmp_path / "reports" / "shop.html").read_text().startswith("<!DOCTYPE html>")
    assert "60 closed calls." in (tmp_path / "reports" / "shop.txt").read_text()


async def test_a_proposal_is_accepted_and_taken_back(make_app: Make, busy: Store) -> None:
    app = make_app(settings=Settings(trees=SMALL, by="A. Example"))
    async with app.run_test(size=(100, 34)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+r", "f5", "f5")
        await app.workers.wait_for_complete()
        await settled(pilot)
        assert "PROPOSED" in painted(pilot) and "60 closed calls" in painted(pilot)
        await press(pilot, "enter")
        assert "Accepted by A. Example" in painted(pilot)
        await press(pilot, "1")
        await settled(pilot)
        (held,) = read_learned(learned_file(None)).changes
        assert held.by == "A. Example"
        assert "It holds from the next start" in painted(pilot)
        await press(pilot, "up", "enter")
        assert "Accepted by A. Example" in painted(pilot)
        await press(pilot, "1")
        await settled(pilot)
        assert not learned_file(None).exists()
        await press(pilot, *"all", "enter")
        assert "Accept all" in painted(pilot)
        await press(pilot, "1")
        await settled(pilot)
        kept = read_learned(learned_file(None)).changes
        assert len(kept) > 1 and len({each.what for each in kept}) == 1


async def test_nobody_accepts_without_a_name(make_app: Make, busy: Store) -> None:
    app = make_app(settings=Settings(trees=SMALL))
    async with app.run_test(size=(100, 34)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+r", "f5", "f5")
        await app.workers.wait_for_complete()
        await settled(pilot)
        await press(pilot, "enter")
        assert "Say first who you are" in painted(pilot)
    assert not learned_file(None).exists()


async def test_calls_with_a_cause_in_no_tree_are_read_with_the_entry_they_propose(
    make_app: Make, store: Store, small_trees: Trees
) -> None:
    lessons = Lessons.of(store)
    for number in range(3):
        name = store.begin()
        call = Call(small_trees, {}, ["eye-lamp-wrong"], recorder=store.recorder(name), site="[/x] Yard")
        call.note(f"Ants nest in eye {number}")
        close(call, False)
        told = a_lesson(name, UNLISTED, sequence=len(call.events), confirmed=0, remedy="")
        lessons.keep(name, told, len(call.events))
    app = make_app(settings=Settings(trees=SMALL))
    async with app.run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await press(pilot, "ctrl+r", "f5", "f5")
        await app.workers.wait_for_complete()
        await settled(pilot)
        assert "CAUSES IN NO TREE" in painted(pilot)
        await press(pilot, "enter")
        assert "[/x] Yard: Ants nest in eye 1" in painted(pilot) and "new-cause:" in painted(pilot)
        await press(pilot, "1")
        assert "CAUSES IN NO TREE" in painted(pilot)
