"""Simulated shops: calls on doors that break as often, and show what, other trees say; closed as a shop closes them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np
from msgspec.structs import replace

from diagnose.calls.call import Call
from diagnose.calls.events import AnyEvent
from diagnose.knowledge.model import ANY, Check, Proof, Remedy, Task, Trees
from diagnose.practice.simulated import Draw, Policy, SimulatedCall, draw_door, planned
from diagnose.reasoning.moving import go_through

BEGUN = datetime(2031, 3, 3, 8, tzinfo=UTC)


class Timed:
    """A clock that goes on a minute for each event."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


class TrueCall(SimulatedCall):
    """A call on which steps take what they truly take, not what the program thinks, and each is timed as on a screen:
    a change of state is an entry of its own, and what is tried after a repair is no part of it."""

    stamped = 0.0

    def _spend(self, step: Task) -> None:
        kinds = {Check: "checks", Remedy: "remedies", Proof: "proofs"}
        true: Task = getattr(self.door.trees, kinds[type(step)]).get(step.id, step)
        whole, self._here = go_through(self.door.trees, self._here, [true])
        self.outcome.clock += whole - true.minutes
        self.outcome.minutes += whole + true.minutes * (true.crew - 1)
        if not isinstance(step, Proof):
            if step.energy not in (ANY, self.call.energy):
                self.stamped = self.outcome.clock
                self.call.enter(step.energy)
            self.stamped = self.outcome.clock + true.minutes
        self.outcome.clock += true.minutes


def a_door(truth: Trees, random: np.random.Generator, symptom: str) -> Draw:
    """A door that the trees serve."""
    while True:
        draw = draw_door(truth, random, symptom)
        if not Call(truth, draw.facts, [symptom]).refusal():
            return draw


def played(
    known: Trees, truth: Trees, draw: Draw, seed: int, policy: Policy = planned, at: datetime = BEGUN
) -> tuple[AnyEvent, ...]:
    """The events of a call that was worked on with ``known`` at a door of ``truth``, to its closing."""
    simulated = TrueCall(truth, draw, seed, known=known)
    call = simulated.call
    # What a step takes has passed when it is taken down.
    call._clock = lambda: at + timedelta(minutes=simulated.stamped)
    outcome = simulated.run(policy)
    close(call, outcome.fixed)
    first, *rest = call.events
    return replace(first, at=at.isoformat()), *rest


def close(call: Call, fixed: bool) -> None:
    """Close as it stands: returned to service where it may, else left out of it."""
    if fixed and (
        state := next((s.id for s in call.trees.energy.values() if s.cover == "on" and s.powered == "yes"), "")
    ):
        if call.energy != state:
            call.enter(state)
        if not call.missing():
            call.close("returned to service")
            return
    call.close("left out of service", "Nothing known fits.")


def shop(
    known: Trees, truth: Trees, symptoms: Sequence[str], calls: int, seed: int, policy: Policy = planned
) -> list[tuple[AnyEvent, ...]]:
    """Many calls, a complaint after the other, a call an hour."""
    made = []
    for number in range(calls):
        random = np.random.default_rng([seed, number])
        draw = a_door(truth, random, symptoms[number % len(symptoms)])
        made.append(played(known, truth, draw, seed + number, policy, BEGUN + timedelta(hours=number)))
    return made
