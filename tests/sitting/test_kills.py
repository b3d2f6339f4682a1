"""Killed between any two acts, in a real terminal: nothing shown as taken is lost, and the same act comes next."""

from __future__ import annotations

import itertools
import os
import random
from collections.abc import Callable
from functools import partial
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
# One call after another, as each is closed.
COMPLAINTS = ("stops-short", "reverses-while-closing", "remote-not-heard", "dead-no-response")
# Kills for each face: in the plain suite, and in the long one, where DIAGNOSE_KILLS=50 asks for a hundred in all.
_SHORT, _LONG = 2, int(os.environ.get("DIAGNOSE_KILLS", "8"))


def on_disk(place: Path, call_id: str, trees: Trees) -> Sitting:
    store = Store.open(place)
    try:
        return Sitting(Call(trees, history=store.events(call_id)))
    finally:
        store.close()


def begun(place: Path, trees: Trees, complaint: str = "stops-short") -> str:
    store = Store.open(place)
    call_id = store.begin()
    people = tuple(trees.people)
    Call(trees, FACTS, [complaint], site="Vale", people=people, recorder=store.recorder(call_id))
    store.close()
    return call_id


def shown(card: Card) -> str:
    """The beginning of what a face shows of a card, on one line of either."""
    return " ".join(card.title.split())[:30].rstrip()


def said(card: Card, chance: random.Random) -> tuple[str, str, str]:
    """One thing to say to a card: the lines, the keys, and the words that the choice asks for."""
    if card.reading is not None:
        return "?", "?\r", ""
    usable = [choice for choice in card.choices if not choice.opens]
    # A call is ended where nothing else can be said with one key: it is handed over.
    choice = chance.choice([choice for choice in usable if not choice.name.startswith("leave")] or usable)
    number = str(card.choices.index(choice) + 1)
    return number, choice.key, "after rain" if choice.asks else ""


def has_grown(place: Path, call_id: str, trees: Trees, before: int) -> bool:
    return len(on_disk(place, call_id, trees).call.events) > before


def refused(text: str) -> bool:
    return any(word in text for word in ("✗", "Not yet", "too soon", "cannot"))


def taken(face: Face, kept: Callable[[], bool]) -> str:
    """What a face says until what was typed is kept, however slow the machine; what is refused is waited for less."""
    text = face.rest()
    for waited in range(50):
        if kept() or (refused(text) and waited > 4):
            break
        text = face.rest()
    return text


def kill_between_acts(trees: Trees, folder: Path, kills: int, screens: bool) -> None:
    """Start, see the step that the events call for, say one thing, see it taken, kill; and again."""
    place = folder / "calls.sqlite3"
    complaints = itertools.cycle(COMPLAINTS)
    call_id = begun(place, trees, next(complaints))
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
            text = taken(face, partial(has_grown, place, call_id, trees, len(before.call.events)))
        finally:
            face.kill()
        after = on_disk(place, call_id, trees)
        assert after.call.events[: len(before.call.events)] == before.call.events, "nothing is lost"
        if after.call.events == before.call.events:
            assert refused(text), (card, text)
        if after.call.state.outcome is not None:
            call_id = begun(place, trees, next(complaints))


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
