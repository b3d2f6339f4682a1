"""Two faces, one truth: what is said comes to the same events by lines, by keys, and without a face."""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from diagnose.calls.store import Store
from diagnose.knowledge.model import Trees
from tests.sitting.scripts import Script, draw, families, in_lines, on_screens

# How many are drawn: at most, in the plain suite, and in the long one, where DIAGNOSE_SITTINGS=200 asks for all.
_MANY = 30
_SHORT, _LONG = 6, int(os.environ.get("DIAGNOSE_SITTINGS", "12"))


def scripts(trees: Trees, count: int, first: int = 0, each: int = 1) -> Iterator[Script]:
    """Of ``count`` scripts every so many, from the ``first`` on."""
    drawn = enumerate(itertools.islice(families(trees), count))
    return (draw(trees, symptom, seed) for seed, symptom in itertools.islice(drawn, first, None, each))


async def the_same(trees: Trees, script: Script, folder: Path) -> None:
    store = Store.open(folder / "calls.sqlite3")
    try:
        lines, said = in_lines(trees, script, store)
        assert lines == script.events, (script.symptoms, script.moves, said)
        assert await on_screens(trees, script, store) == script.events, (script.symptoms, script.moves)
    finally:
        store.close()


@pytest.mark.parametrize("number", range(_SHORT))
async def test_a_sitting_comes_to_the_same_events_on_both_faces(
    shipped_trees: Trees, tmp_path: Path, number: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    symptom = next(itertools.islice(families(shipped_trees), number * 7, None))
    await the_same(shipped_trees, draw(shipped_trees, symptom, number), tmp_path)


@pytest.mark.long
@pytest.mark.parametrize("part", range(10))
async def test_sittings_of_every_family_come_to_the_same_events(
    shipped_trees: Trees, tmp_path: Path, part: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("DIAGNOSE_CACHE", str(tmp_path / "cache"))
    for number, script in enumerate(scripts(shipped_trees, _LONG, part, 10)):
        folder = tmp_path / str(number)
        folder.mkdir()
        await the_same(shipped_trees, script, folder)


@pytest.mark.long
def test_the_scripts_say_all_kinds_of_things(shipped_trees: Trees) -> None:
    wanted = {"Answered", "EnergyEntered", "RepairDone", "Judged", "PutOff", "TakenUp", "Undone", "Withdrawn"}
    for script in scripts(shipped_trees, _MANY):
        wanted -= {type(event).__name__ for event in script.events}
        if not wanted:
            break
    assert not wanted
    every = {symptom.family for symptom in shipped_trees.symptoms.values()}
    assert {symptom.family for symptom in itertools.islice(families(shipped_trees), len(every))} == every
