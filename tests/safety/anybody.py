"""Somebody who does anything at all to a call, on any trees: what a hurried, forgetful or tired person might do.

What the program refuses is refused; what it takes is on the disk, from where the call goes on after a dead battery.
``play`` drives one call at random and counts how it closed, judged by the rule written a second time.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import msgspec

from diagnose.calls import events as ev
from diagnose.calls.answering import AnswerError
from diagnose.calls.call import Call, CallError
from diagnose.calls.known import RETURNED
from diagnose.calls.store import decode, encode
from diagnose.knowledge.amounts import read_band
from diagnose.knowledge.fitting import fitting
from diagnose.knowledge.model import ANY, Check, Held, Proof, Trees, power_state
from tests.safety.second_rule import needed, taken_back_without_a_word, that_count, wrong_return

Looks = tuple[tuple[str, str], ...]
Draw = Callable[[list[Any]], Any]
REASONS = ["", "misread the first time"]
NOW = ["gone", "better", "still there", "too early"]
STOPPED: ev.Outcome = "left out of service"


@dataclass(frozen=True)
class Kinds:
    """What there is to draw from in a set of trees.

    ``telling`` are the facts that proofs hang on, ``guards`` what others stand in for; ``seen`` and ``worked_out`` have
    what is typed for each hazard, ``sound`` what shows none.
    """

    telling: tuple[str, ...]
    guards: tuple[str, ...]
    crews: tuple[tuple[str, ...], ...]
    checks: tuple[str, ...]
    seen: tuple[Looks, ...]
    worked_out: tuple[Looks, ...]
    sound: dict[str, str]


def kinds(trees: Trees) -> Kinds:
    return _kinds(Held(trees))


@lru_cache(maxsize=8)
def _kinds(held: Held) -> Kinds:
    trees = held.trees
    proofs = trees.proofs.values()
    telling = dict.fromkeys(fact for proof in proofs for fact in (*proof.applies, *proof.unless))
    people = list(trees.people)
    crews = [(), *((people[0], person) for person in people), tuple(people[:3]), tuple(people)]
    checks = tuple(check.id for check in trees.checks.values() if check.kind != "computed")
    seen = [
        ((check, text),)
        for proof in proofs
        for check, answers in proof.seen.items()
        for text in _typed(trees.checks[check], answers)
    ]
    sound = {}
    for (name, _), *_ in seen:
        check = trees.checks[name]
        bad = {answer for proof in proofs for answer in proof.seen.get(name, ())}
        good = [answer for answer in check.answers if answer not in bad]
        if good or not check.answers:
            sound[name] = good[0] if good else _between(check, bad)
    # A hazard that is worked out of readings: a door that pulls 80 lbf and more at every height.
    pulls = (
        ("balance-heights", "1 ft; 3 ft; 5 ft"),
        ("balance-pull-up", "90; 90; 90"),
        ("balance-pull-down", "80; 80; 80"),
    )
    worked_out = (pulls,) if all(name in trees.checks for name, _ in pulls) else ()
    guards = dict.fromkeys(value for proof in proofs for values in proof.unless.values() for value in values)
    return Kinds(tuple(telling), tuple(guards), tuple(crews), checks, tuple(seen), worked_out, sound)


def _typed(check: Check, answers: Sequence[str]) -> Iterator[str]:
    for answer in answers if check.kind != "computed" else ():
        if check.answers:
            yield answer
        elif band := read_band(answer, check.unit):
            low, high = band
            inside = (
                low * 1.5 + 1 if high == float("inf") else high / 2 if low in (0, float("-inf")) else (low + high) / 2
            )
            yield f"{-2 * abs(high) if low == float('-inf') and high < 0 else inside:g} {check.unit}"


def _between(check: Check, bad: set[str]) -> str:
    """A reading outside every band of hazards."""
    bands = [band for each in bad if (band := read_band(each, check.unit))]
    tried = [each for low, high in bands for each in (low - 1, high + 1, low / 2, high * 2)]
    good = (t for t in tried if abs(t) != float("inf") and t == t and not any(a <= t <= b for a, b in bands))
    return f"{next(good, 0):g} {check.unit}"


class Person:
    """One call and whoever is at it. Every act draws what it needs, and asks the call alone."""

    # How often each is drawn, beside the others.
    acts = (
        *["pass", "pass open", "pass open", "fail", "fail open", "repair", "repair", "do", "judge", "judge", "gone"],
        *["answer", "answer", "hazard", "hazard", "correct", "withdraw", "facts", "facts", "take off", "take off"],
        *["put back", "forget", "people", "people", "enter", "enter", "power", "undo", "undo", "unfinished"],
        *["symptoms", "put off", "close", "close", "close", "leave out", "reopen", "reload", "full disk", "follow"],
        *["hand back", "hand back", "hand back"],
    )

    between = (
        "take off",
        "take off",
        "facts",
        "hazard",
        "correct",
        "withdraw",
        "forget",
        "symptoms",
        "fail",
        "undo",
        "people",
    )

    def __init__(self, trees: Trees, draw: Draw) -> None:
        self.trees, self.draw, self.kinds = trees, draw, kinds(trees)
        self.disk: list[bytes] = []
        self.disk_is_full = False
        facts = {}
        for fact in trees.facts:
            if (fact in self.kinds.telling and draw([True, True, True, False])) or draw([True, False, False]):
                facts[fact] = self._value(fact)
        symptoms = list(trees.symptoms)
        named = dict.fromkeys(draw(symptoms) for _ in range(draw([1, 1, 2])))
        self.call = Call(trees, fitting(trees.facts, facts), named, people=self._crew(), recorder=self._onto_disk)

    def do(self, what: str) -> None:
        """Do it, as far as the call takes it."""
        with suppress(CallError, AnswerError, OSError):
            getattr(self, f"_{what.replace(' ', '_')}")()

    def _onto_disk(self, event: ev.AnyEvent) -> None:
        if self.disk_is_full:
            raise OSError("no space left on device")
        self.disk.append(encode(event))

    # --- what is drawn ---------------------------------------------------------------------------------------

    def _value(self, fact: str) -> str | tuple[str, ...]:
        entry = self.trees.facts[fact]
        if entry.many == "yes":
            return tuple(answer for answer in entry.answers if self.draw([True, False, False]))
        return str(self.draw(list(entry.answers)))

    def _crew(self) -> tuple[str, ...]:
        return tuple(self.draw([*self.kinds.crews, tuple(self.trees.people), tuple(self.trees.people)]))

    def _reason(self) -> str:
        return str(self.draw(REASONS))

    def _proof(self) -> str:
        """Any proof, more often one that is asked for."""
        asked = [proof.id for proof in self.call.needed_proofs()]
        return str(self.draw(asked if asked and self.draw([True, True, False]) else list(self.trees.proofs)))

    def _remedy(self) -> str:
        """Any remedy, more often one that a hazard which was seen asks for."""
        asked = [each for proof in self.call.needed_proofs() for each in proof.after]
        return str(self.draw(asked if asked and self.draw([True, False]) else list(self.trees.remedies)))

    # --- acts ------------------------------------------------------------------------------------------------

    def _fit(self, proof: Proof) -> None:
        if proof.energy not in (ANY, self.call.energy) and self.draw([True, True, True, False]):
            self.call.enter(proof.energy)
        self.call.proved(proof.id, True)

    def _pass(self) -> None:
        self._fit(self.trees.proofs[self._proof()])

    def _pass_open(self) -> None:
        for proof in self.call.open_proofs():
            with suppress(CallError):
                self._fit(proof)

    def _fail(self) -> None:
        self.call.proved(self._proof(), False)

    def _fail_open(self) -> None:
        for proof in self.call.open_proofs()[:1]:
            self.call.proved(proof.id, False)

    def _repair(self) -> None:
        self.call.tried(self._remedy(), self.draw([True, True, False]))

    def _do(self) -> None:
        self.call.done(self._remedy())

    def _judge(self) -> None:
        outcomes = {symptom: self.draw(NOW) for symptom in self.call.state.symptoms}
        self.call.judge(outcomes, self.draw(["", "after ten cycles"]))

    def _gone(self) -> None:
        self.call.judge(dict.fromkeys(self.call.state.symptoms, "gone"))

    def _answer(self) -> None:
        check = self.trees.checks[self.draw(list(self.kinds.checks))]
        typed = self.draw([*check.answers, "?"]) if check.answers else f"{self.draw([1, 5, 24])} {check.unit}"
        mode, heard = self.draw(["new", "again", "correction"]), self.draw(["seen", "seen", "told"])
        self.call.answer(check.id, typed, mode=mode, heard=heard, reason=self._reason())

    def _hazard(self) -> None:
        heard, mode = self.draw(["seen", "seen", "told"]), self.draw(["new", "again"])
        worked_out = self.kinds.worked_out and self.draw([True, *[False] * 5])
        for check, text in self.draw(list(self.kinds.worked_out if worked_out else self.kinds.seen)):
            self.call.answer(check, text, heard=heard, mode=mode)

    def _correct(self) -> None:
        """What showed a hazard was nothing after all, it is said."""
        looked = [check for check in self.call.state.answers if check in self.kinds.sound]
        check = self.draw(looked or list(self.kinds.sound))
        mode = self.draw(["correction", "correction", "new", "again"])
        self.call.answer(check, self.kinds.sound[check], mode=mode, reason=self._reason())

    def _withdraw(self) -> None:
        answered = sorted(self.call.state.answers)
        if answered:
            self.call.withdraw(self.draw(answered), self._reason())

    def _facts(self) -> None:
        fact = self.draw([*self.kinds.telling, self.draw(list(self.trees.facts))])
        became = self.draw(["", "never there", "taken off"])
        self.call.state_fact(fact, self._value(fact), became=became, reason=self._reason())

    def _take_off(self) -> None:
        """One thing that the door has is there no more."""
        fact = self.draw(list(self.kinds.telling))
        value = self.call.state.facts.get(fact, ())
        if not isinstance(value, tuple) or not value:
            return
        guards = [each for each in value if each in self.kinds.guards]
        gone = self.draw(guards if guards and self.draw([True, False]) else list(value))
        left = tuple(each for each in value if each != gone)
        became = self.draw(["", "never there", "taken off", "taken off"])
        self.call.state_fact(fact, left, became=became, reason=self._reason())

    def _put_back(self) -> None:
        for fact, values in self.call.ledger.dropped.items():
            if values and isinstance(self.call.state.facts.get(fact, ()), tuple):
                now = self.call.state.facts.get(fact, ())
                self.call.state_fact(fact, tuple(a for a in self.trees.facts[fact].answers if a in {*now, *values}))

    def _forget(self) -> None:
        self.call.state_fact(self.draw(list(self.kinds.telling)), "")

    def _people(self) -> None:
        self.call.state_people(self._crew())

    def _enter(self) -> None:
        self.call.enter(self.draw([*self.trees.energy]))

    def _power(self) -> None:
        self.call.enter(power_state(self.trees))

    def _undo(self) -> None:
        for _ in range(self.draw([1, 1, 3])):
            self.call.undo(self._reason())

    def _unfinished(self) -> None:
        self.call.not_finished()

    def _symptoms(self) -> None:
        other = self.draw(list(self.trees.symptoms))
        had = self.call.state.symptoms
        self.call.state_symptoms(self.draw([(), had[:1], (*had, other) if other not in had else had, (other,)]))

    def _put_off(self) -> None:
        self.call.put_off("proof", self._proof())

    def _close(self) -> None:
        if self.draw([True, True, False]) and self.call.energy != power_state(self.trees):
            self._power()
        self.call.close(RETURNED, self._reason())

    def _leave_out(self) -> None:
        self.call.close(STOPPED, "waits for a part")

    def _reopen(self) -> None:
        self.call.reopen()

    def _reload(self) -> None:
        """A dead battery: the call goes on from what is on the disk, and is the same."""
        before, owed = self.call.state, self.call.missing()
        self.call = Call(self.trees, history=[decode(each) for each in self.disk], recorder=self._onto_disk)
        assert self.call.state == before
        assert self.call.missing() == owed

    def _full_disk(self) -> None:
        """What could not be written has not happened."""
        before = self.call.state
        self.disk_is_full = True
        self.do(self.draw(["repair", "close", "fail", "hazard", "take off", "undo"]))
        self.disk_is_full = False
        assert self.call.state == before

    def _hand_back(self) -> None:
        """All that a door needs, in order, but for one part of it that a hurried person may leave out; and before it,
        and when all seems done, something that it must not get around."""
        parts = ["everybody", "refit", "repair", "gone", "proofs", "power"]
        left_out = self.draw([*parts, *[""] * 5, *["refit"] * 3])
        if self.call.state.outcome is not None:
            self.call.reopen()
        self.do(self.draw(list(self.between)))
        for part in parts:
            if part != left_out:
                with suppress(CallError):
                    self._do_part(part)
        self.do(self.draw([*self.between, "reload", "reload", "reload"]))
        self.call.close(RETURNED, self.draw(["looked after", "looked after", ""]))

    def _do_part(self, part: str) -> None:
        if part == "everybody":
            self.call.state_people(tuple(self.trees.people))
        elif part == "refit":
            self._put_back()
        elif part == "repair":
            for remedy in dict.fromkeys(proof.after[0] for proof in self.call.needed_proofs() if proof.after):
                self.call.done(remedy)
            self.call.done(self.draw(list(self.trees.remedies)))
        elif part == "gone":
            self._gone()
        elif part == "proofs":
            for proof in self.call.open_proofs():
                with suppress(CallError):
                    if proof.energy not in (ANY, self.call.energy):
                        self.call.enter(proof.energy)
                    self.call.proved(proof.id, True)
        else:
            self._power()

    def _follow(self) -> None:
        """Do what is handed out: it is for the state the door is in, and for somebody who is here."""
        step = self.call.next_step(quick=True)
        if step.kind == "energy":
            self.call.enter(step.id)
            return
        homes = {"check": self.trees.checks, "remedy": self.trees.remedies, "proof": self.trees.proofs}
        if step.kind not in homes:
            return
        assert homes[step.kind][step.id].energy in (self.call.energy, ANY)
        if step.kind == "check":
            self.call.answer(step.id, "?")
        elif step.kind == "remedy":
            self.call.tried(step.id, True)
        else:
            self.call.proved(step.id, True)


@dataclass
class Count:
    """How calls went: closed as returned to service, refused that, and which of them wrongly.

    ``differ`` are refusals that one of the rules alone would make; ``met`` counts the facts, people and complaints that
    were there, at the beginning and at each closing, and the acts done.
    """

    calls: int = 0
    closed: int = 0
    refused: int = 0
    wrong: list[str] = field(default_factory=list)
    differ: list[str] = field(default_factory=list)
    met: Counter[str] = field(default_factory=Counter)

    def add(self, other: Count) -> None:
        self.calls += other.calls
        self.closed += other.closed
        self.refused += other.refused
        self.wrong += other.wrong
        self.differ += other.differ
        self.met += other.met


def play(trees: Trees, seed: str, acts: int) -> Count:
    """One call at random, from ``seed``; each time it is closed, or that is refused, the second rule judges it."""
    source = random.Random(seed)
    person = Person(trees, source.choice)
    count = Count(calls=1)
    count.met.update(kind_of_door(person.call))
    for number in range(acts):
        what = source.choice(Person.acts)
        before = len(person.call.events)
        person.do(what)
        events = person.call.events
        count.met[f"act: {what}"] += len(events) != before
        where = f"seed {seed}, act {number} ({what})"
        if person.call.state.outcome == RETURNED:
            if len(events) != before:
                count.closed += 1
                count.met.update(f"closed {each}" for each in kind_of_door(person.call))
                count.wrong += [f"{where}: {each}" for each in wrong_return(trees, events)]
        elif what in ("close", "hand back") and person.call.state.outcome is None:
            count.refused += 1
            back = msgspec.structs.replace(_CLOSING, sequence=events[-1].sequence + 1)
            owed = person.call.missing(back.reason)
            if bool(owed) != bool(wrong_return(trees, (*events, back))):
                count.differ.append(f"{where}: {', '.join(each.id or each.kind for each in owed)}")
    return count


def play_many(trees: Trees, calls: int, acts: int, seed: str, until: int = 10) -> Count:
    """So many calls at random; goes on until ``until`` are wrong."""
    count = Count()
    for number in range(calls):
        count.add(play(trees, f"{seed} {number}", acts))
        if len(count.wrong) >= until:
            break
    return count


_CLOSING = ev.Closed(sequence=0, at="", by="", digest="", outcome=RETURNED, reason="looked after")


def kind_of_door(call: Call) -> Iterator[str]:
    """What of this door, its people, complaints and state the trees tell apart."""
    for fact, value in call.state.facts.items():
        for each in (value,) if isinstance(value, str) else value or ("none",):
            yield f"fact: {fact}: {each}"
    for fact in kinds(call.trees).telling:
        if fact not in call.state.facts:
            yield f"fact: {fact}: not known"
    yield f"people: {', '.join(call.state.people)}"
    yield from (f"complaint: {symptom}" for symptom in call.state.symptoms)


def same_proofs(call: Call) -> bool:
    """Whether both rules ask this call for the same proofs."""
    begun = taken_back_without_a_word(call.events)
    return {proof.id for proof in call.needed_proofs()} == set(needed(call.trees, that_count(call.events), begun))
