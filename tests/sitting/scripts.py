"""Sittings drawn by a seed: what somebody says, as lines for the plain mode and as keys for the screens.

A script is made by sitting at the call without a face: at each step one of the things that can be said is drawn, and
written down both ways. Whatever the faces make of it has to be the same events.
"""

from __future__ import annotations

import contextlib
import io
import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

import msgspec
from textual.pilot import Pilot
from textual.widgets import Input

from diagnose.calls import events as ev
from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError, WordNeeded
from diagnose.calls.events import AnyEvent
from diagnose.calls.state import Answer as Answered
from diagnose.calls.store import Store
from diagnose.commands.choosing import MOST_LISTED
from diagnose.commands.console import Console, EndOfInput
from diagnose.commands.interview import Interview, repair_text
from diagnose.finding.reading import trade_reader
from diagnose.finding.search import Shelf, Text
from diagnose.knowledge.fitting import fitting, possible
from diagnose.knowledge.model import ANY, Check, Symptom, Trees, applies
from diagnose.sitting import say
from diagnose.sitting.cards import Card
from diagnose.sitting.choices import NOT_THERE, Choice
from diagnose.sitting.course import RepairWay
from diagnose.sitting.sitting import Put, Sitting
from diagnose.tui.app import DiagnoseApp
from diagnose.tui.widgets.pick_list import PickList
from tests.tui.conftest import press, settled

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
Facts = dict[str, str | tuple[str, ...]]
# What is drawn, and how often beside the others.
_WAYS = {"say": 76, "undo": 6, "instead": 5, "later": 3, "repair": 4, "note": 2, "withdraw": 4, "state": 2, "proof": 2}


@dataclass(frozen=True)
class Move:
    """One thing said: the ``lines`` typed for it, and the ``keys`` pressed.

    A key ``=text`` puts text into the field that has the focus, ``>id`` moves a list to a row.
    """

    lines: tuple[str, ...]
    keys: tuple[str, ...]


@dataclass
class Script:
    """A sitting at one call, and the events that it comes to without a face."""

    facts: Facts
    symptoms: tuple[str, ...]
    people: tuple[str, ...]
    moves: list[Move] = field(default_factory=list)
    events: list[AnyEvent] = field(default_factory=list)


def clockless(events: Sequence[AnyEvent]) -> list[AnyEvent]:
    """Without the clock, and whether a step had been worked out yet when an answer came."""
    unasked = (msgspec.structs.replace(each, put=None) if isinstance(each, ev.Answered) else each for each in events)
    return [msgspec.structs.replace(event, at="") for event in unasked]


def draw(trees: Trees, symptom: Symptom, seed: int, length: int = 16) -> Script:
    """A script at a door that can have the complaint."""
    chance = random.Random(f"{symptom.id} {seed}")
    others = [s.id for s in trees.symptoms.values() if s.family == symptom.family and s.id != symptom.id]
    symptoms = (symptom.id, *(chance.sample(others, 1) if others and chance.random() < 0.3 else []))
    people = tuple(trees.people) if chance.random() < 0.5 else ("anyone", "technician")
    script = Script(_facts(trees, symptom, chance), symptoms, people)
    call = Call(trees, script.facts, symptoms, people=people, clock=lambda: NOON)
    sitting = Sitting(call)
    for _ in range(length):
        put = sitting.put()
        move = _drawn(sitting, put, chance)
        if move is not None:
            script.moves.append(move)
        if call.state.outcome is not None:
            break
    script.events = clockless(call.events)
    return script


def _facts(trees: Trees, symptom: Symptom, chance: random.Random) -> Facts:
    facts: Facts = {}
    for fact in trees.facts.values():
        if fact.first != "yes" and fact.id not in symptom.applies:
            continue
        can_be = possible(fact, facts)
        allowed = [answer for answer in symptom.applies.get(fact.id, can_be) if answer in can_be]
        if not allowed:
            continue
        if fact.many == "yes":
            drawn = {allowed[0], *chance.sample(can_be, min(3, len(can_be)))}
            facts[fact.id] = tuple(answer for answer in fact.answers if answer in drawn)
        else:
            facts[fact.id] = chance.choice(allowed)
    return fitting(trees.facts, facts)


def _drawn(sitting: Sitting, put: Put, chance: random.Random) -> Move | None:
    """Draw one thing to say, say it, and write down how; ``None`` where the kind drawn has nothing to say here."""
    way = chance.choices(list(_WAYS), list(_WAYS.values()))[0]
    card, call = put.card, sitting.call
    if way == "undo":
        return _done(sitting, say.Undo(), ("back",), ("ctrl+z",))
    if way == "later":
        return _done(sitting, say.later_of(put.planned), ("later",), ("ctrl+y",))
    if way == "note":
        return _done(
            sitting, say.Note(text="oil on the floor"), ("note oil on the floor",), ("f9", "=oil on the floor", "enter")
        )
    if way == "instead":
        return _instead(sitting, put, chance, ("instead",), ("ctrl+n",))
    if way == "repair" and call.state.outcome is None:
        ways = sitting.repairs()
        drawn = chance.choice(ways)
        act = say.GoTo(kind="remedy", step=drawn.remedy)
        return _done(
            sitting,
            act,
            _found_by_words(call.trees, ways, drawn),
            ("f6", f"={drawn.title}", f">{drawn.remedy}", "enter"),
        )
    if way == "state" and call.state.outcome is None:
        states = [state for state in call.trees.energy if state not in (ANY, call.energy)]
        drawn_state = chance.choice(states)
        number = list(call.trees.energy).index(drawn_state) + 1
        keys = ("ctrl+b", str(states.index(drawn_state) + 1), "1")
        return _done(sitting, say.Enter(energy=drawn_state), ("energy", str(number)), keys)
    if way == "proof" and call.state.outcome is None:
        proofs = [proof for proof, _, _ in sitting.proofs()]
        number = chance.randrange(len(proofs))
        act = say.GoTo(kind="proof", step=proofs[number])
        return _done(sitting, act, ("proofs", str(number + 1)), ("ctrl+g", f">{proofs[number]}", "enter"))
    if way == "withdraw" and call.state.outcome is None:
        answers = [item for item in call.state.evidence if isinstance(item, Answered)]
        if answers:
            number = chance.randrange(len(answers))
            name = answers[number].check
            earlier = sum(other.check == name for other in answers[:number])
            keys = ("f4", f">answer {name} {earlier}", "u", "escape")
            return _done(sitting, say.TakeBack(check=name), (f"withdraw {number + 1}",), keys, "escape")
    return _answer(sitting, card, chance) if card.reading else _choose(sitting, put, chance)


def _choose(sitting: Sitting, put: Put, chance: random.Random) -> Move | None:
    card = put.card
    usable = [choice for choice in card.choices if choice.opens in ("", "instead")]
    # Calls are not ended before they have begun.
    long = [choice for choice in usable if not choice.name.startswith("leave")]
    choice = chance.choice(long if long and chance.random() < 0.9 else usable)
    number = str(card.choices.index(choice) + 1)
    if choice.opens:
        return _instead(sitting, put, chance, (number,), (choice.key,))
    words = "1" if choice.name == NOT_THERE else "after 3 days"
    text = words if choice.asks else ""
    lines = (number, *((text,) if choice.asks else ()))
    keys = (choice.key, *((f"={text}", "enter") if choice.asks else ()))
    return _done(sitting, say.chosen(card, choice.name, text), lines, keys)


def _instead(
    sitting: Sitting, put: Put, chance: random.Random, lines: tuple[str, ...], keys: tuple[str, ...]
) -> Move | None:
    ways = sitting.instead(put.planned)[:MOST_LISTED]
    if not ways or sitting.call.state.outcome is not None:
        return None
    number = chance.randrange(len(ways))
    way = ways[number]
    act = say.GoTo(kind=way.kind, step=way.id, instead_of=put.planned.goal)  # type: ignore[arg-type]
    return _done(sitting, act, (*lines, str(number + 1)), (*keys, f">{way.kind}:{way.id}", "enter"))


def _answer(sitting: Sitting, card: Card, chance: random.Random) -> Move | None:
    assert card.reading is not None
    text = _reading(card.reading, chance)
    doubted = False
    try:
        doubted = bool(sitting.call.understand(card.id, text).doubt)
    except AnswerError:
        text = "?"
    lines = (text, *(("keep",) if doubted else ()))
    return _done(
        sitting, say.Answer(check=card.id, text=text), lines, (f"={text}", "enter", *(("enter",) if doubted else ()))
    )


def _reading(check: Check, chance: random.Random) -> str:
    if chance.random() < 0.15:
        return "?"
    low, high = check.plausible or (0.0, 10.0)
    low, high = (bound if isinstance(bound, (int, float)) else 1.0 for bound in (low, high))
    return f"{chance.uniform(float(low), float(high)):.3g}"


def _done(sitting: Sitting, act: say.AnyAct, lines: tuple[str, ...], keys: tuple[str, ...], after: str = "") -> Move:
    """Say it without a face, with the word that is missing if one is; what is refused is said all the same."""
    try:
        sitting.do(act)
    except WordNeeded as wanted:
        choice: Choice = say.words_for(wanted)[0]
        with contextlib.suppress(CallError):
            sitting.do(say.with_word(act, choice.name, "a slip"))
        before = keys[:-1] if after else keys
        return Move((*lines, "1", "a slip"), (*before, "1", "=a slip", "enter", *((after,) if after else ())))
    except (CallError, AnswerError):
        pass
    return Move(lines, keys)


def _found_by_words(trees: Trees, ways: Sequence[RepairWay], drawn: RepairWay) -> tuple[str, ...]:
    """The lines that find a repair by the words of its title, and by number where others have them too."""
    texts, words = [repair_text(way) for way in ways], drawn.title.casefold().split()
    found = Shelf([Text(text) for text in texts], trade_reader(trees)).find(drawn.title)
    exact = [i for i in found if all(word in texts[i].casefold() for word in words)]
    number = () if len(exact) == 1 else (str(found.index(ways.index(drawn)) + 1),)
    return (f"tried {drawn.title}", *number)


# --- the two faces ------------------------------------------------------------------------------------------------


def begun(trees: Trees, script: Script, store: Store) -> str:
    call_id = store.begin()
    recorder = store.recorder(call_id)
    Call(trees, script.facts, script.symptoms, people=script.people, clock=lambda: NOON, recorder=recorder)
    return call_id


def in_lines(trees: Trees, script: Script, store: Store) -> tuple[list[AnyEvent], str]:
    """The events of the plain mode, and all that it said."""
    call_id = begun(trees, script, store)
    recorder = store.recorder(call_id)
    call = Call(trees, history=store.events(call_id), clock=lambda: NOON, recorder=recorder)
    typed = "".join(f"{line}\n" for move in script.moves for line in move.lines)
    said = io.StringIO()
    with contextlib.suppress(EndOfInput):
        Interview(call, call_id, Console(200, io.StringIO(typed), said)).run()
    return clockless(store.events(call_id)), said.getvalue()


async def on_screens(trees: Trees, script: Script, store: Store, size: tuple[int, int] = (120, 40)) -> list[AnyEvent]:
    """The events of the screens."""
    call_id = begun(trees, script, store)
    app = DiagnoseApp(trees, lambda: store, clock=lambda: NOON, settle=0.0)
    async with app.run_test(size=size) as pilot:
        await settled(pilot)
        assert app.resume(call_id) == ""
        await settled(pilot)
        for move in script.moves:
            for key in move.keys:
                await pressed(pilot, key)
        return clockless(store.events(call_id))


async def pressed(pilot: Pilot[None], key: str) -> None:
    if key.startswith("="):
        field = pilot.app.focused
        assert isinstance(field, Input), (key, field)
        field.value = key[1:]
        await pilot.pause()
    elif key.startswith(">"):
        rows = pilot.app.screen.query_one(PickList)
        for _ in range(400):
            if rows.highlighted == key[1:]:
                return
            await pilot.press("down")
        raise AssertionError(f"{key[1:]} is not listed")
    else:
        await press(pilot, key)


def families(trees: Trees) -> Iterator[Symptom]:
    """A complaint of each family in turn, then the next of each."""
    by_family: dict[str, list[Symptom]] = {}
    for symptom in trees.symptoms.values():
        by_family.setdefault(symptom.family, []).append(symptom)
    number = 0
    while True:
        for symptoms in by_family.values():
            yield symptoms[number % len(symptoms)]
        number += 1


__all__ = ["Path", "applies", "draw", "families", "in_lines", "on_screens"]
