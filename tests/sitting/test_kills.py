"""Killed between any two acts, in a real terminal: nothing shown as taken is lost, and the same act comes next."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from diagnose.calls.call import Call
from diagnose.calls.events import Opened
from diagnose.calls.store import Store
from diagnose.knowledge.load import load_trees
from diagnose.knowledge.model import Trees
from diagnose.sitting.cards import Card
from diagnose.sitting.sitting import Sitting

from .kills import Face

FACTS = {
    "drive": "trolley",
    "construction": "sectional",
    "supply": "single-phase",
    "nominal-volts": "230 V",
    "devices": ("photo-eye", "wall-station"),
    "fire-rated": "no",
}
# Kills for each face: in the plain suite, and in the long one, where DIAGNOSE_KILLS=50 asks for a hundred in all.
_SHORT, _LONG = 2, int(os.environ.get("DIAGNOSE_KILLS", "8"))


def on_disk(place: Path, call_id: str, trees: Trees) -> Sitting:
    store = Store.open(place)
    try:
        return Sitting(Call(trees, history=store.events(call_id)))
    finally:
        store.close()


def begun(place: Path, trees: Trees) -> str:
    store = Store.open(place)
    call_id = store.begin()
    people = tuple(trees.people)
    Call(trees, FACTS, ["stops-short"], site="Vale", people=people, recorder=store.recorder(call_id))
    store.close()
    return call_id


def shown(card: Card) -> str:
    """The beginning of what a face shows of a card, on one line of either."""
    return " ".join(card.title.split())[:30].rstrip()


def said(card: Card, chance: random.Random) -> tuple[str, str, str]:
    """One thing to say to a card: the lines, the keys, and the words that the choice asks for."""
    if card.reading is not None:
        return "?", "?\r", ""
    usable = [choice for choice in card.choices if not choice.opens and not choice.name.startswith("leave")]
    choice = chance.choice(usable)
    number = str(card.choices.index(choice) + 1)
    return number, choice.key, "after rain" if choice.asks else ""


def kill_between_acts(trees: Trees, folder: Path, kills: int, screens: bool) -> None:
    """Start, see the step that the events call for, say one thing, see it taken, kill; and again."""
    place = folder / "calls.sqlite3"
    call_id = begun(place, trees)
    chance = random.Random(kills)
    for _ in range(kills):
        before = on_disk(place, call_id, trees)
        card = before.put().card
        face = Face((), place) if screens else Face(("ask", "--call", call_id), place)
        try:
            if screens:
                face.read_until("CALLS LEFT OPEN")
                face.type("\r")
            face.read_until(shown(card))
            face.rest()
            line, key, words = said(card, chance)
            face.type(key if screens else f"{line}\n")
            if words:
                face.rest()
                face.type(f"{words}\r" if screens else f"{words}\n")
            text = face.rest()
        finally:
            face.kill()
        after = on_disk(place, call_id, trees)
        assert after.call.events[: len(before.call.events)] == before.call.events, "nothing is lost"
        if after.call.events == before.call.events:
            assert "✗" in text or "Not yet" in text or "too soon" in text or "cannot" in text, (card, text)
        if after.call.state.outcome is not None:
            after.call.reopen()
            store = Store.open(place)
            store.append(call_id, after.call.events[-1])
            store.close()


@pytest.mark.parametrize("screens", [False, True])
def test_killed_between_two_acts_the_next_start_goes_on_at_the_same_act(tmp_path: Path, screens: bool) -> None:
    kill_between_acts(load_trees(), tmp_path, _SHORT, screens)


@pytest.mark.long
@pytest.mark.parametrize("screens", [False, True])
def test_many_kills_lose_nothing(tmp_path: Path, screens: bool) -> None:
    kill_between_acts(load_trees(), tmp_path, _LONG, screens)


def test_what_is_begun_for_these_tests_is_one_event(tmp_path: Path, shipped_trees: Trees) -> None:
    call_id = begun(tmp_path / "calls.sqlite3", shipped_trees)
    (opened,) = on_disk(tmp_path / "calls.sqlite3", call_id, shipped_trees).call.events
    assert isinstance(opened, Opened) and opened.symptoms == ("stops-short",)
