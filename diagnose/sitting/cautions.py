"""Which cautions whoever is at a call has read in it: what is in mind need not be said again at every step."""

from __future__ import annotations

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.words import cautions_named, cautions_of
from diagnose.knowledge.model import Caution, Trees


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
