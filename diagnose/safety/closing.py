"""No way back into service around a proof: every short course of events on a small door, and every proof of a large
one left out in turn, on the ``Call`` that the screens use."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Literal

import msgspec

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError
from diagnose.knowledge.checker import Book, Finding
from diagnose.knowledge.fitting import fitting
from diagnose.knowledge.model import ANY, Facts, Proof, Remedy, Trees, applies_to, power_state
from diagnose.safety.invariant import Visited, invariant

BACK: Literal["returned to service"] = "returned to service"
_LENGTH = 3
# Of the courses that go wrong the shortest say enough.
_SHOWN = 3


@invariant("returned-around-proofs")
def returned_around_proofs(book: Book, visited: Visited) -> Iterator[Finding]:
    """A call ends as returned to service although a proof is missing, failed, or older than the last repair.

    Every course of three acts (a repair, a proof passed or failed, an undo, a device called a slip, taken off, or
    dropped without a word, a closing, a reopening) is gone through on a door with two proofs; and on the door with
    every device each proof is left out, failed, or made stale in turn.

    Passes:
        # every set of trees with proofs
    Fails:
        # not by anything written in the trees: it would be a fault of the program
    """
    trees = book.trees
    for proof, wrong in _left_out(trees, visited):
        yield Finding(book.place("proofs", proof), wrong, "Report this: the program is wrong.")
    small = small_door(trees)
    if small is not None:
        unproved = sorted(courses(small, _LENGTH, visited), key=len)
        for course in unproved[:_SHOWN]:
            said = f"A door goes back into service unproved after: {', '.join(course)} ({len(unproved)} such courses)."
            yield Finding(book.place("proofs", small.proofs[0].id), said, "Report this: the program is wrong.")


def _left_out(trees: Trees, visited: Visited) -> Iterator[tuple[str, str]]:
    """On the door that needs the most proofs: each left out, failed, or passed before the last repair."""
    several = (fact for fact in trees.facts.values() if fact.many == "yes")
    facts: Facts = {fact.id: tuple(each for each in fact.answers if each not in fact.alone) for fact in several}
    facts = fitting(trees.facts, facts)
    needed = Call(trees, facts, people=trees.people).needed_proofs()
    repairs = list(trees.remedies)[:1]
    for proof, how in itertools.product(needed, ("left out", "failed", "passed before the last repair")):
        visited.add()
        call = Call(trees, facts, people=trees.people)
        stale = how.startswith("passed")
        for other in needed:
            if other != proof or stale:
                _pass(call, other)
        if how == "failed":
            call.proved(proof.id, False)
        for repair in repairs if stale else ():
            call.tried(repair, True)
        if _closes(call) and (repairs or not stale):
            yield proof.id, f"A door goes back into service with '{proof.id}' {how}."


def _pass(call: Call, proof: Proof) -> None:
    if proof.energy not in (call.energy, ANY):
        call.enter(proof.energy)
    call.proved(proof.id, True)


def _closes(call: Call) -> bool:
    power = power_state(call.trees)
    if power and call.energy != power:
        call.enter(power)
    try:
        call.close(BACK, "a trial of the rule")
    except CallError:
        return False
    return True


@dataclass(frozen=True)
class SmallDoor:
    """The real entries, cut down to two required proofs and a remedy with a proof of its own.

    ``without`` are facts under which the second proof is not needed, if there are such.
    """

    trees: Trees
    facts: Facts
    proofs: tuple[Proof, ...]
    remedy: Remedy
    without: Facts


def small_door(trees: Trees) -> SmallDoor | None:
    """A door small enough to go through every course of events; ``None`` where the trees have no proofs."""
    required = [proof for proof in trees.proofs.values() if proof.required == "yes"]
    if len(required) < 2 or not trees.remedies:
        return None
    # One proof that every door needs if there is one, and one that hangs on a fact of many values.
    required.sort(key=lambda proof: len(proof.applies))
    hanging = next((p for p in required[1:] if any(trees.facts[f].many == "yes" for f in p.applies)), required[1])
    chosen = (required[0], hanging)
    named = {name for remedy in trees.remedies.values() for name in remedy.proofs}
    own = [trees.proofs[name] for name in sorted(named) if trees.proofs[name].required == "no"]
    remedy = next((r for r in trees.remedies.values() if own and own[0].id in r.proofs), None)
    remedy = remedy or next(iter(trees.remedies.values()))
    own = [proof for proof in own[:1] if proof.id in remedy.proofs]
    remedy = msgspec.structs.replace(remedy, proofs=tuple(proof.id for proof in own))
    proofs = {proof.id: proof for proof in (*chosen, *own)}
    cut = msgspec.structs.replace(trees, proofs=proofs, remedies={remedy.id: remedy}, digest=f"{trees.digest} small")
    facts = {fact: values[0] for proof in proofs.values() for fact, values in proof.applies.items()}
    stated: Facts = {f: (v,) if trees.facts[f].many == "yes" else v for f, v in facts.items()}
    many = [fact for fact in hanging.applies if trees.facts[fact].many == "yes"]
    without: Facts = dict.fromkeys(many[:1], ())
    return SmallDoor(cut, fitting(trees.facts, stated), tuple(proofs.values()), remedy, without)


@dataclass
class Oracle:
    """What should be so, kept apart from the program: the events that stand as they came, undone from the end."""

    door: SmallDoor
    facts: dict[str, str | tuple[str, ...]]
    done: list[ev.AnyEvent] = field(default_factory=list)

    def proved(self) -> bool:
        """Whether every proof this door needs has passed since its last repair, and since it last failed a repair."""
        facts, tried, touched = dict(self.facts), False, False
        passed: set[str] = set()
        failed: set[str] = set()
        held: set[str] = set()
        for event in self.done:
            match event:
                case ev.Tried():
                    passed, tried, touched = set(), True, True
                    # Whatever has failed may be proved anew, and has to be.
                    held |= failed
                    failed = set()
                case ev.Proved(proof=proof, passed=True) if proof not in failed:
                    passed.add(proof)
                    held.discard(proof)
                case ev.Proved(proof=proof):
                    passed.discard(proof)
                    failed.add(proof)
                case ev.FactStated(fact=fact, value=value, became=became):
                    before = {p.id for p in self.door.proofs if applies_to(p, facts)}
                    facts[fact] = value
                    after = {p.id for p in self.door.proofs if applies_to(p, facts)}
                    if touched and became != "never there":
                        held |= before - after
                    # What the door has again is asked for by what it has.
                    held -= (after - before) - failed
                case ev.EnergyEntered():
                    pass
                case _:
                    continue
            touched |= isinstance(event, (ev.Proved, ev.EnergyEntered))
        asked = [p for p in self.door.proofs if p.required == "yes" or (tried and p.id in self.door.remedy.proofs)]
        needed = {p.id for p in asked if applies_to(p, facts)} | held | failed
        return needed <= passed


def courses(door: SmallDoor, length: int, visited: Visited) -> Iterator[tuple[str, ...]]:
    """Every course of up to ``length`` acts after which a call stands returned to service and should not."""
    alphabet = _alphabet(door)
    for course in itertools.product(alphabet, repeat=length):
        wrong = run(door, course, visited)
        if wrong is not None:
            yield wrong


Act = tuple[str, ...]


def _alphabet(door: SmallDoor) -> list[Act]:
    """What can be done: each act with the entry it is about."""
    proofs = [(verdict, proof.id) for proof in door.proofs for verdict in ("pass", "fail")]
    facts: list[Act] = [("facts", "never there"), ("facts", "taken off"), ("facts", "")]
    return [("repair", door.remedy.id), *proofs, *facts, ("undo",), ("close",), ("reopen",)]


def run(door: SmallDoor, course: Sequence[Act], visited: Visited) -> tuple[str, ...] | None:
    """Go through a course; its acts up to the first that leaves the door in service unproved, or ``None``."""
    call = Call(door.trees, door.facts, people=door.trees.people)
    oracle = Oracle(door, dict(door.facts))
    for index, act_now in enumerate(course):
        visited.add()
        act(call, oracle, act_now)
        if call.state.outcome == BACK and not oracle.proved():
            return tuple(" ".join(each) for each in course[: index + 1])
    return None


def act(call: Call, oracle: Oracle, what: Act) -> None:
    """Do an act to the call, and let the oracle know what the call took of it."""
    taken = len(call.events)
    with suppress(CallError):
        _do(call, oracle.door, what)
    for event in call.events[taken:]:
        if isinstance(event, ev.Undone):
            oracle.done.pop()
        else:
            oracle.done.append(event)


def _do(call: Call, door: SmallDoor, what: Act) -> None:
    match what:
        case ("repair", remedy):
            call.tried(remedy, True)
        case ("pass", proof):
            _pass(call, call.trees.proofs[proof])
        case ("fail", proof):
            call.proved(proof, False)
        case ("facts", "never there"):
            for fact, value in door.without.items():
                call.state_fact(fact, value, became="never there", reason="misread")
        case ("facts", became):
            for fact, value in door.without.items():
                call.state_fact(fact, value, became="taken off" if became else "")
        case ("undo",):
            call.undo("a slip")
        case ("close",):
            _closes(call)
        case _:
            call.reopen()
