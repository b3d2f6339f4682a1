"""How much is gained at a fault by what was read of the door when it was right.

Run: ``python -m benchmarks.then_and_now [calls]``. Seeds are fixed and printed; intervals are 95 %.

Each simulated door has a level of its own for every reading, drawn from the sound spread, and varies about it. Before
the fault every reading of it is taken once; then one cause comes into it, and the same call is gone twice, once with
those readings recalled and once without: all readings alone taken, and asked in the order of the most telling check.
The faults are drawn as often as they occur: those of the drift type, which shift a reading to where other sound doors'
readings lie or near, and all others.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping
from datetime import UTC, datetime
from functools import cache
from typing import NamedTuple

import numpy as np

from diagnose import load_trees
from diagnose.calls.events import Then
from diagnose.knowledge.distributions import LogNormal, Normal, centre, mostly
from diagnose.knowledge.model import Check, Held, Trees, applies
from diagnose.practice.evaluate import share
from diagnose.practice.simulated import Choice, Draw, SimulatedCall, draw_door, most_telling
from diagnose.quantities import to_si
from diagnose.reasoning.own_door import own_door, within_door
from diagnose.reasoning.situation import instrument_error
from diagnose.reasoning.walk import inputs_of

SEED = 20260302
# A drift moves a reading by so many of sound doors' own standard deviations at least, and at most.
_DRIFT = (0.5, 6.0)
_MOST_CHECKS = 25
_AFTER = (2, 3, 5)
STAGES = ("all readings alone", *(f"after {count} checks" for count in _AFTER), "asked out")
THEN = datetime(2026, 3, 2, tzinfo=UTC).isoformat()


class Truth(NamedTuple):
    """How the simulated doors vary, which the program does not know."""

    within: float
    changed: float


def main(calls: int = 300, truths: int = 3) -> None:
    trees = load_trees()
    print(f"seed {SEED}, {calls} calls of each kind; asked out: until a cause is .95 sure or nothing is left to ask")
    within = trees.costs.within_door
    for truth in (Truth(within, 0.0), Truth(2 * within, 0.0), Truth(within, trees.costs.changed_since))[:truths]:
        print(
            f"a door varies by {truth.within:g} of what doors differ by (taken as {within:g}); a level has changed in "
            f"{100 * truth.changed:g} % (taken as {100 * trees.costs.changed_since:g} %)"
        )
        for kind, wanted in (("drift-type faults", True), ("other faults", False)):
            table(kind, trees, wanted, calls, truth)


def table(kind: str, trees: Trees, wanted: bool, calls: int, truth: Truth) -> None:
    """How often the right cause is first, without and with what was read then, at each of ``STAGES``."""
    first: dict[bool, list[list[bool]]] = {False: [], True: []}
    for number, draw in enumerate(draws(trees, wanted, calls)):
        for recalled in (False, True):
            leading = played(trees, draw, number, recalled, truth)
            first[recalled].append([cause == draw.faults[0] for cause in leading])
    without, given = (np.array(first[recalled], dtype=float) for recalled in (False, True))
    gained = 100 * (given - without)
    for stage, name in enumerate(STAGES):
        error = 1.96 * gained[:, stage].std(ddof=1) / math.sqrt(calls)
        print(
            f"  {kind:18s} {name:20s} without {share(without[:, stage]).percent()}  with "
            f"{share(given[:, stage]).percent()}  gained {gained[:, stage].mean():+5.1f} ± {error:.1f} points"
        )


def draws(trees: Trees, wanted: bool, calls: int) -> list[Draw]:
    """Doors whose fault is of the drift type, or is not; the complaints by turns."""
    random = np.random.default_rng([SEED, wanted])
    symptoms = [s.id for s in trees.symptoms.values() if len(s.causes) > 1]
    found: list[Draw] = []
    turn = 0
    while len(found) < calls:
        symptom = symptoms[turn % len(symptoms)]
        turn += 1
        draw = draw_door(trees, random, symptom)
        if is_drift(trees, draw) == wanted:
            found.append(draw)
    return found


def is_drift(trees: Trees, draw: Draw) -> bool:
    """Whether the fault shifts some reading of this door to where other sound doors' readings lie, or near."""
    for name, sign in trees.causes[draw.faults[0]].signs.items():
        check = trees.checks[name]
        if not has_level(trees, check, draw) or sign == check.healthy:
            continue
        low, high = _DRIFT
        if low <= abs(_place(check, centre(mostly(sign)))) <= high:
            return True
    return False


def _place(check: Check, value: float) -> float:
    """How many sound standard deviations a value lies from the middle of sound doors."""
    sound = check.healthy and mostly(check.healthy)
    if isinstance(sound, Normal):
        return (value - sound.mean) / sound.spread
    assert isinstance(sound, LogNormal)
    return math.log(max(value, 1e-9) / sound.median) / math.log(sound.factor)


def has_level(trees: Trees, check: Check, draw: Draw) -> bool:
    """Whether a check is a reading of which each door has a level of its own.

    Readings that a formula is fed with are left out: a simulated door bends them until the formula agrees.
    """
    if not check.measure or check.healthy is None or check.series == "yes" or within_door(trees, check) >= 1:
        return False
    level = isinstance(mostly(check.healthy), (Normal, LogNormal)) and applies(check.applies, draw.facts)
    return level and check.id not in _fed(trees)


@cache
def _fed_by(held: Held) -> frozenset[str]:
    trees = held.trees
    return frozenset(n for check in trees.checks.values() if check.kind == "computed" for n in inputs_of(trees, check))


def _fed(trees: Trees) -> frozenset[str]:
    return _fed_by(Held(trees))


def levels(trees: Trees, draw: Draw, random: np.random.Generator) -> dict[str, float]:
    """A level for each reading of a door, drawn from the sound spread."""
    drawn: dict[str, float] = {}
    for check in trees.checks.values():
        if not has_level(trees, check, draw):
            continue
        sound, place = mostly(check.healthy), random.normal()  # type: ignore[arg-type]
        if isinstance(sound, Normal):
            drawn[check.id] = sound.mean + place * sound.spread
        elif isinstance(sound, LogNormal):
            drawn[check.id] = sound.median * sound.factor**place
    return drawn


def played(trees: Trees, draw: Draw, number: int, recalled: bool, truth: Truth) -> list[str]:
    """The leading cause at each of ``STAGES``."""
    random = np.random.default_rng([SEED, 7, number])
    level = levels(trees, draw, random)
    door = own_door(_varying(trees, truth), {name: (value, 0.0) for name, value in level.items()})
    before = as_left(trees, level, random, truth.within) if recalled else {}

    def begun() -> SimulatedCall:
        call = SimulatedCall(door, draw, number, known=trees)
        call.call.recall(before)
        return call

    read = begun()
    for name in read.call.situation.tables:
        if name in level:
            read.check(name)
    leading = [read.call.likely()[0].cause]
    asked = begun()
    for count in range(_MOST_CHECKS):
        if count in _AFTER:
            leading.append(asked.call.likely()[0].cause)
        choice: Choice = most_telling(asked.call, random)
        if choice.kind != "check":
            break
        asked.check(choice.id)
    now = asked.call.likely()[0].cause
    return leading + [now] * (len(STAGES) - len(leading))


def _varying(trees: Trees, truth: Truth) -> Trees:
    from msgspec.structs import replace

    return replace(trees, costs=replace(trees.costs, within_door=truth.within, changed_since=truth.changed))


def as_left(trees: Trees, level: Mapping[str, float], random: np.random.Generator, within: float) -> dict[str, Then]:
    """Every reading of the door while it is right: its level, how it varies, and the instrument's error."""
    read: dict[str, Then] = {}
    for name, value in level.items():
        check, place = trees.checks[name], within * random.normal()
        sound = mostly(check.healthy)  # type: ignore[arg-type]
        value = value + place * sound.spread if isinstance(sound, Normal) else value * sound.factor**place  # type: ignore[union-attr]
        value += instrument_error(check, value) * random.normal()
        if check.plausible:
            value = min(max(value, check.plausible[0]), check.plausible[1])
        read[name] = Then((to_si(value, check.unit),), "", THEN)
    return read


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
