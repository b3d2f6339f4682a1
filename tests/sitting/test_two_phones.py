"""Two faces of one phone call: what a caller says comes to the same events by lines, by keys, and without a face."""

from __future__ import annotations

import io
import os
import random
from itertools import groupby
from pathlib import Path
from types import SimpleNamespace

import msgspec
import pytest
from textual.widgets import Input

from diagnose import load_trees
from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError
from diagnose.calls.events import AnyEvent, DangerStated
from diagnose.calls.store import Store
from diagnose.commands.console import Console
from diagnose.commands.phone_lines import PhoneLines
from diagnose.knowledge.model import COULD_NOT_TELL, Trees
from diagnose.screening.danger import by_words
from diagnose.screening.interview import Question
from diagnose.sitting import phone as course
from diagnose.sitting.choices import KEYS
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.screens.phone import PhoneScreen
from diagnose.tui.screens.phone_page import ToldPage
from tests.screening.conftest import TREES
from tests.tui.conftest import press, settled

from .scripts import NOON, Move, clockless

# How many are drawn of each trees: in the plain suite, and in the long one.
_SHORT, _LONG = 6, int(os.environ.get("DIAGNOSE_SITTINGS", "12"))
_MOST = 30
Drawn = tuple[list[Move], list[AnyEvent]]
Said = tuple[course.Act, tuple[str, ...], tuple[str, ...]]


def alike(events: list[AnyEvent]) -> list[AnyEvent]:
    """Without the clock; signs of danger put together are on record in the order they were ticked, or listed."""
    found: list[AnyEvent] = []
    for is_sign, several in groupby(clockless(events), lambda event: isinstance(event, DangerStated)):
        found += sorted(several, key=lambda sign: sign.danger if is_sign else 0)  # type: ignore[union-attr]
    return [msgspec.structs.replace(event, sequence=number) for number, event in enumerate(found, start=1)]


def draw(trees: Trees, seed: int) -> Drawn:
    """A phone call without a face; each thing said is written down as lines and as keys."""
    chance = random.Random(seed)
    phone = course.Phone(Call(trees, clock=lambda: NOON))
    moves: list[Move] = []
    for _ in range(_MOST):
        put = phone.put()
        if isinstance(put, course.ShowSheet | course.Over):
            break
        act, lines, keys = _said(phone, put, chance)
        try:
            if raised := phone.do(act):
                # Enter says that they have heard it: a line more; on the screen it stands on a page of its own.
                phone.do(course.Told(tuple(each.danger.id for each in raised)))
                lines = (*lines, "")
        except (CallError, AnswerError, ValueError):
            # Several that do not go together are refused on either face; a screen keeps the ticks to be mended.
            if isinstance(act, course.SayAnswer) and isinstance(act.answer, tuple):
                continue
        moves.append(Move(lines, keys))
    if isinstance(phone.put(), course.ShowSheet):
        phone.do(course.Move.HAND_OVER)
        moves.append(Move((), ("f5",)))
    return moves, alike(list(phone.call.events))


def _said(phone: course.Phone, put: course.Put, chance: random.Random) -> Said:
    match put:
        case course.AskSigns(signs, there):
            if all(sign.id in there for sign in signs):
                return course.SaySigns(dict(there)), ("",), ("enter",)
            ticked = [n for n, sign in enumerate(signs) if chance.random() < 0.08 and sign.id not in there]
            act = course.SaySigns({sign.id: n in ticked or there.get(sign.id, False) for n, sign in enumerate(signs)})
            stated = [n for n, sign in enumerate(signs) if act.there[sign.id]]
            return act, (" ".join(str(n + 1) for n in stated),), (*(KEYS[n] for n in ticked), "enter")
        case course.AskPlace():
            place = tuple(chance.choice(["", "Vale [4]", "Ann"]) for _ in range(4))
            return course.SayPlace(*place), place, tuple(key for text in place for key in (f"={text}", "enter"))
        case course.AskComplaint():
            trees = phone.call.trees
            symptom = chance.choice([each for each in trees.symptoms.values() if not by_words(trees, each.id)])
            found = [each.id for each in phone.complaints(symptom.id)]
            if symptom.id in found[:6]:
                down = ("down",) * found.index(symptom.id)
                return course.SayComplaint(symptom.id), (symptom.id, "1"), (f"={symptom.id}", *down, "enter")
            return course.Move.TAKE_BACK, ("back",), ("ctrl+z",)
        case course.AskQuestion(question, _):
            return _of_a_question(question, chance)
    raise AssertionError(put)


def _of_a_question(question: Question, chance: random.Random) -> Said:
    way = chance.random()
    if way < 0.08:
        return course.Move.TAKE_BACK, ("back",), ("ctrl+z",)
    if way < 0.12:
        return course.Move.ENOUGH, ("sheet",), ("f5",)
    if way < 0.18:
        return course.SayWords("it is cold"), ("note it is cold",), ("f9", "=it is cold", "enter")
    if way < 0.22:
        return course.Move.SEE_SIGNS, ("danger",), ("ctrl+d",)
    if way < 0.35:
        return course.SayAnswer(question, COULD_NOT_TELL), ("0",), ("0",) if question.answers else ("=?", "enter")
    if not question.answers:
        return course.SayAnswer(question, "12"), ("12",), ("=12", "enter")
    if question.many:
        drawn = sorted(chance.sample(range(len(question.answers)), chance.randint(1, min(3, len(question.answers)))))
        answer = tuple(question.answers[n] for n in drawn)
        lines = (" ".join(str(n + 1) for n in drawn),)
        return course.SayAnswer(question, answer), lines, (*(KEYS[n] for n in drawn), "enter")
    number = chance.randrange(len(question.answers))
    return course.SayAnswer(question, question.answers[number]), (str(number + 1),), (KEYS[number],)


async def the_same(trees: Trees, seed: int, place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # One page of signs on either face.
    monkeypatch.setenv("LINES", "200")
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.setenv("DIAGNOSE_CACHE", str(place / "cache"))
    moves, events = draw(trees, seed)
    store = Store.open(place / f"{seed}.sqlite3")
    try:
        said = io.StringIO()
        typed = "".join(f"{line}\n" for move in moves for line in move.lines)
        session = SimpleNamespace(trees=trees, store=store)
        PhoneLines(session, Console(200, io.StringIO(typed), said), "", "", "").run("", "", "")  # type: ignore[arg-type]
        assert alike(store.events(store.find("last"))) == events, (moves, said.getvalue())
        app = DiagnoseApp(trees, lambda: store, clock=lambda: NOON, settle=0.0)
        async with app.run_test(size=(200, 70)) as pilot:
            await settled(pilot)
            app.push_screen(PhoneScreen())
            await settled(pilot)
            for key in (key for move in moves for key in move.keys):
                if key.startswith("="):
                    assert isinstance(app.focused, Input), (key, app.screen, moves)
                    app.focused.value = key[1:]
                    await pilot.pause()
                else:
                    await press(pilot, key)
                while isinstance(app.screen, ToldPage):
                    await press(pilot, "enter")
            assert alike(store.events(store.find("last"))) == events, moves
    finally:
        store.close()


@pytest.mark.parametrize("seed", range(_SHORT))
async def test_a_phone_call_comes_to_the_same_events_on_both_faces(
    seed: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    await the_same(load_trees(TREES, cache=False), seed, tmp_path, monkeypatch)


@pytest.mark.long
async def test_phone_calls_of_the_trees_that_ship_come_to_the_same_events(
    shipped_trees: Trees, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for seed in range(_LONG // 2):
        await the_same(shipped_trees, seed, tmp_path, monkeypatch)


def test_the_calls_drawn_say_all_kinds_of_things() -> None:
    trees = load_trees(TREES, cache=False)
    kinds = {type(event).__name__ for seed in range(_SHORT) for event in draw(trees, seed)[1]}
    assert kinds >= {"DangerStated", "PlaceStated", "SymptomsStated", "Answered", "FactStated", "Undone", "Noted"}
