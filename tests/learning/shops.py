"""Simulated shops: calls on doors that break as often, and show what, other trees say; closed as a shop closes them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.events import AnyEvent
from diagnose.knowledge.model import Trees
from diagnose.practice.simulated import Draw, Policy, SimulatedCall, draw_door, planned

BEGUN = datetime(2031, 3, 3, 8, tzinfo=UTC)


class Timed:
    """A clock that goes on a minute for each event."""

    def __init__(self, start: datetime) -> None:
        self.now = start

    def __call__(self) -> datetime:
        self.now += timedelta(minutes=1)
        return self.now


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
    simulated = SimulatedCall(truth, draw, seed, known=known)
    call = simulated.call
    call._clock = Timed(at)
    outcome = simulated.run(policy)
    close(call, outcome.fixed)
    return call.events


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
