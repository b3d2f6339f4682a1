"""Scenarios drawn by chance: a door as one meets them, a fault as often as it occurs, a caller who may be wrong.

A door whose first screen gives it away, or that the program's own way does not mend, is not handed out.
"""

from __future__ import annotations

from collections.abc import Mapping

import msgspec
import numpy as np

from diagnose.knowledge.distributions import Shares
from diagnose.knowledge.fitting import can_be, misfits, possible
from diagnose.knowledge.model import Check, Conditions, Symptom, Trees, applies
from diagnose.practice.bots import carry_through
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.practice.library import GIVEN_AWAY, Library
from diagnose.practice.mishaps import DoorKind
from diagnose.practice.scenario import Level, Scenario, belief_in, first_screen, level_of, remedies_for
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.practice.simulated import draw_facts, planned
from diagnose.reasoning.plan import information
from diagnose.reasoning.situation import make_situation

_MOST_DRAWS = 400
# How many things a caller has an answer to, alike often.
_TOLD = (0, 1, 2)
_MOST_ASKABLE = 8
# A caller's wrong word must not make the truth impossible to come back to.
_LEAST_BELIEF = 0.002
_TECHNICIANS = ("anyone", "technician")
_CREW = ("anyone", "technician", "door technician")


class Wish(msgspec.Struct, frozen=True, kw_only=True):
    """What a drawn scenario is to be like; ``""`` and ``None`` leave it to chance."""

    family: str = ""
    level: Level | None = None
    faults: int = 1
    misleading: bool | None = None


def draw_scenario(trees: Trees, library: Library, seed: int, wish: Wish = Wish()) -> Scenario:  # noqa: B008
    """A scenario that answers ``wish``; the same seed gives the same one. Raises ``PracticeError`` where none does."""
    random = np.random.default_rng([seed, 7])
    for number in range(_MOST_DRAWS):
        scenario = _draw(trees, library, random, f"drawn-{seed}", wish)
        if scenario is None or belief_in(first_screen(trees, scenario), scenario.causes) >= GIVEN_AWAY:
            continue
        if wish.level is not None and level_of(trees, scenario) != wish.level:
            continue
        if _is_mended(trees, library, scenario, seed):
            return msgspec.structs.replace(scenario, level=level_of(trees, scenario))
        # A door that the program itself gives up is rare; one in many draws is no reason to go on for ever.
        if number > _MOST_DRAWS // 2:
            break
    raise PracticeError("No such door was found. Ask for another family, or for another difficulty.")


def _is_mended(trees: Trees, library: Library, scenario: Scenario, seed: int) -> bool:
    session = carry_through(Session(trees, scenario, seed, library.consequences), planned)
    return not session.door.faults


def _draw(trees: Trees, library: Library, random: np.random.Generator, identity: str, wish: Wish) -> Scenario | None:
    symptoms = [s for s in trees.symptoms.values() if wish.family in ("", s.family)]
    if not symptoms:
        raise PracticeError(f"'{wish.family}' is no family of complaints.")
    symptom = symptoms[int(random.integers(len(symptoms)))]
    facts = _draw_door(trees, library.places.kinds, random, symptom)
    if any(misfits(trees.facts, facts)) or not applies(symptom.applies, facts):
        return None
    causes = [cause for cause in symptom.causes if applies(trees.causes[cause].applies, facts)]
    if len(causes) < max(wish.faults, 2):
        return None
    weights = np.array([trees.causes[cause].base * symptom.causes[cause] for cause in causes])
    chosen = random.choice(len(causes), size=wish.faults, replace=False, p=weights / weights.sum())
    faults = tuple(sorted(causes[int(index)] for index in chosen))
    misleading = random.random() < 0.25 if wish.misleading is None else wish.misleading
    scenario = Scenario(
        id=identity,
        source="invented",
        title=symptom.title,
        site=_one(random, library.places.sites),
        door=_one(random, library.places.doors),
        story=f"“{symptom.caller}”",
        level="medium",
        symptoms=(symptom.id,),
        facts=facts,
        people=_CREW if random.random() < 0.5 else _TECHNICIANS,
        causes=faults,
    )
    if any(not remedies_for(trees, cause, scenario) for cause in faults):
        return None
    return _with_caller(trees, random, scenario, misleading)


def _draw_door(
    trees: Trees, kinds: Mapping[str, DoorKind], random: np.random.Generator, symptom: Symptom
) -> dict[str, str | tuple[str, ...]]:
    """Facts of a door that can have the complaint: of one of the kinds that there are, where one of them can."""
    fitting = [kind for kind in kinds.values() if _allowed(trees, kind.facts, symptom.applies) is not None]
    if not fitting:
        return draw_facts(trees, random, symptom.applies)
    kind = fitting[int(random.integers(len(fitting)))]
    single = {name: values for name, values in symptom.applies.items() if trees.facts[name].many == "no"}
    facts = draw_facts(trees, random, {**single, **(_allowed(trees, kind.facts, symptom.applies) or {})})
    for name in {*kind.has, *kind.may_have}:
        sure, maybe = kind.has.get(name, ()), kind.may_have.get(name, ())
        chosen = {*sure, *(value for value in maybe if random.random() < 0.4)}
        can = possible(trees.facts[name], facts)
        needed = [value for value in symptom.applies.get(name, ()) if value in can]
        if needed and not chosen & set(needed):
            chosen.add(_one(random, [value for value in needed if value in maybe] or needed))
        facts[name] = tuple(value for value in can if value in chosen)
    telling = _telling_facts(trees)
    return {name: value for name, value in facts.items() if name in telling}


def _telling_facts(trees: Trees) -> set[str]:
    """The facts on which it hangs what can be wrong with a door, and what can be done at it."""
    conditions = [cause.applies for cause in trees.causes.values()]
    for steps in (trees.checks, trees.remedies, trees.proofs):
        conditions += [step.applies for step in steps.values()]
    return {name for each in conditions for name in each} | {f.id for f in trees.facts.values() if f.unit}


def _allowed(trees: Trees, kind: Conditions, wanted: Conditions) -> Conditions | None:
    """What is left of a kind's facts under other conditions; ``None`` where they cannot go together."""
    both = {name: tuple(v for v in values if v in wanted.get(name, values)) for name, values in kind.items()}
    return both if all(both.values()) and can_be(trees.facts, {**wanted, **both}) else None


def _with_caller(trees: Trees, random: np.random.Generator, scenario: Scenario, misleading: bool) -> Scenario | None:
    """What the caller has to say, and the door made to agree with it, or not."""
    door = HiddenDoor(trees, scenario.facts, set(scenario.causes), int(random.integers(2**31)), slips=False)
    askable = _askable(trees, scenario)
    random.shuffle(askable)
    told: dict[str, str] = {}
    findings: dict[str, str] = {}
    if misleading:
        lie = _lie(trees, scenario, door, askable)
        if lie is None:
            return None
        check, said, truth = lie
        told[check.id], findings[check.id] = said, truth
    for check in askable[: int(random.choice(_TOLD))]:
        if check.id not in told:
            told[check.id] = findings[check.id] = str(door.truth(check))
    return msgspec.structs.replace(scenario, caller=told, findings=findings)


def _askable(trees: Trees, scenario: Scenario) -> list[Check]:
    """The questions, of those that a caller can answer, that tell most about the complaint."""
    situation = make_situation(trees, scenario.facts, scenario.symptoms)
    bits = {name: information(situation.prior, table.likelihood) for name, table in situation.tables.items()}
    checks = [trees.checks[name] for name in sorted(bits, key=lambda name: (-bits[name], name))]
    return [check for check in checks if check.caller is not None and isinstance(check.healthy, Shares)][:_MOST_ASKABLE]


def _lie(trees: Trees, scenario: Scenario, door: HiddenDoor, askable: list[Check]) -> tuple[Check, str, str] | None:
    """The wrong word, of a few that could be said, that leads furthest astray: check, what is said, what is so."""
    best, found = 1.0, None
    before = belief_in(first_screen(trees, scenario), scenario.causes)
    for check in askable[:6]:
        truth = str(door.truth(check))
        for answer in check.answers:
            if answer == truth:
                continue
            told = msgspec.structs.replace(scenario, caller={check.id: answer})
            belief = belief_in(first_screen(trees, told), scenario.causes)
            if _LEAST_BELIEF < belief < min(best, 0.8 * before):
                best, found = belief, (check, answer, truth)
    return found


def _one(random: np.random.Generator, values: tuple[str, ...] | list[str]) -> str:
    return values[int(random.integers(len(values)))]
