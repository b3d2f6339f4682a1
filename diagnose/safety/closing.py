"""No way back into service around a proof: every short course of events on a small door, and every proof of a large
one left out in turn, on the ``Call`` that the screens use."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from typing import Literal

import msgspec

from diagnose.calls.call import Call, CallError
from diagnose.knowledge.checker import Book, Finding
from diagnose.knowledge.model import Facts, Proof, Remedy, Trees, applies
from diagnose.safety.invariant import Visited, invariant

BACK: Literal["returned to service"] = "returned to service"
_LENGTH = 4
# Of the courses that go wrong the shortest say enough.
_SHOWN = 3


@invariant("returned-around-proofs")
def returned_around_proofs(book: Book, visited: Visited) -> Iterator[Finding]:
    """A call ends as returned to service although a proof is missing, failed, or older than the last repair.

    Every course of four events (a repair, a proof passed or failed, an undo, a correction of the facts, a closing, a
    reopening) is gone through on a door with two proofs; and on the door with every device each proof is left out,
    failed, or made stale in turn.

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
    facts: Facts = {fact.id: fact.answers for fact in trees.facts.values() if fact.many == "yes"}
    needed = [proof.id for proof in Call(trees, facts).needed_proofs()]
    repairs = list(trees.remedies)[:1]
    for proof, how in itertools.product(needed, ("left out", "failed", "passed before the last repair")):
        visited.add()
        call = Call(trees, facts)
        stale = how.startswith("passed")
        for other in needed:
            if other != proof or stale:
                call.proved(other, True)
        if how == "failed":
            call.proved(proof, False)
        for repair in repairs if stale else ():
            call.tried(repair, True)
        if _closes(call) and (repairs or not stale):
            yield proof, f"A door goes back into service with '{proof}' {how}."


def _closes(call: Call) -> bool:
    try:
        call.close(BACK)
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
    return SmallDoor(cut, stated, tuple(proofs.values()), remedy, without)


@dataclass
class Oracle:
    """What should be so, kept apart from the program: the courses of events as plain lists, undone from the end."""

    door: SmallDoor
    facts: dict[str, str | tuple[str, ...]]
    done: list[tuple[str, ...]] = field(default_factory=list)

    def proved(self) -> bool:
        """Whether every proof this door needs has passed since its last repair."""
        facts, tried = dict(self.facts), False
        results: dict[str, bool] = {}
        for event in self.done:
            if event[0] == "repair":
                results, tried = {}, True
            elif event[0] in ("pass", "fail"):
                results[event[1]] = event[0] == "pass"
            elif event[0] == "facts":
                facts.update(self.door.without)
        needed = [p for p in self.door.proofs if applies(p.applies, facts) and (p.required == "yes" or tried)]
        return all(results.get(proof.id, False) for proof in needed)


def courses(door: SmallDoor, length: int, visited: Visited) -> Iterator[tuple[str, ...]]:
    """Every course of up to ``length`` events after which a call stands returned to service and should not."""
    alphabet = _alphabet(door)
    for course in itertools.product(alphabet, repeat=length):
        wrong = run(door, course, visited)
        if wrong is not None:
            yield wrong


Event = tuple[str, ...]


def _alphabet(door: SmallDoor) -> list[Event]:
    """What can happen: each event with the entry it is about."""
    proofs = [(verdict, proof.id) for proof in door.proofs for verdict in ("pass", "fail")]
    return [("repair", door.remedy.id), *proofs, ("facts",), ("undo",), ("close",), ("reopen",), ("note",)]


def run(door: SmallDoor, course: Sequence[Event], visited: Visited) -> tuple[str, ...] | None:
    """Go through a course; its events up to the first that leaves the door in service unproved, or ``None``."""
    call = Call(door.trees, door.facts)
    oracle = Oracle(door, dict(door.facts))
    for index, event in enumerate(course):
        visited.add()
        act(call, oracle, event)
        if call.state.outcome == BACK and not oracle.proved():
            return tuple(" ".join(each) for each in course[: index + 1])
    return None


def act(call: Call, oracle: Oracle, event: Event) -> None:
    """Let an event happen to the call, and to the oracle if the call took it."""
    taken = len(call.events)
    try:
        _do(call, oracle.door, event)
    except CallError:
        return
    if event[0] == "undo":
        if len(call.events) > taken:
            oracle.done.pop()
    elif len(call.events) > taken:
        oracle.done.append(event)


def _do(call: Call, door: SmallDoor, event: Event) -> None:
    match event:
        case ("repair", remedy):
            call.tried(remedy, True)
        case ("pass" | "fail" as verdict, proof):
            call.proved(proof, verdict == "pass")
        case ("facts",):
            for fact, value in door.without.items():
                call.state_fact(fact, value)
        case ("undo",):
            call.undo()
        case ("close",):
            call.close(BACK)
        case ("reopen",):
            call.reopen()
        case _:
            call.note("seen")
