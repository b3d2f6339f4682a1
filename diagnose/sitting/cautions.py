"""What is said before any advice, and which cautions whoever is at a call has read: these are in mind at every step."""

from __future__ import annotations

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.words import cautions_named, cautions_of
from diagnose.knowledge.model import Caution, Trees

# Said once at the start of every call: what comes before this program's advice.
FIRST = "Local codes, the maker's instructions and licensed practice come first. This program only advises."
REST = (
    "Read the cautions of each step before you do it. Springs, cables, drums and bottom brackets are a trained "
    "door technician's work. Nobody defeats or bypasses a protection device, not even to test: a door whose device is "
    "faulty stays out of service. The door returns to service only when every proof has passed."
)


def cautions_read(call: Call) -> frozenset[str]:
    """The cautions that stood before what whoever is at the call now has done in it: read once, they are in mind."""
    trees, read, state = call.trees, set[str](), ""
    for event in call.events:
        named: tuple[Caution, ...] = ()
        match event:
            case ev.EnergyEntered():
                state = event.energy
                named = _of_state(trees, state)
            case ev.Judged():
                named = _of_state(trees, state)
            case ev.Answered() if event.heard == "seen":
                named = _of_task(call, "check", event.check)
            case ev.RepairDone():
                named = _of_task(call, "remedy", event.remedy)
            case ev.Proved():
                named = _of_task(call, "proof", event.proof)
            case ev.JobDone():
                named = _of_task(call, "job", event.job)
            case ev.Reopened():
                read.clear()
        if event.by == call.by:
            read |= {caution.id for caution in named}
    return frozenset(read)


def _of_task(call: Call, kind: str, identity: str) -> tuple[Caution, ...]:
    entry = call.trees.task(kind, identity)
    return cautions_of(call.trees, entry) if entry is not None else ()


def _of_state(trees: Trees, state: str) -> tuple[Caution, ...]:
    return cautions_named(trees, trees.energy[state].cautions) if state in trees.energy else ()
