"""What befalls somebody who does a step in the wrong state: written in ``scenarios/shared``, not in code.

An *exposure* is how the state one works in differs from the one the step needs. It is found from the energy states
and the people that the trees name; what then happens, what it breaks and what it costs is an entry of its own.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Literal

import msgspec

from diagnose.calls.words import cautions_named
from diagnose.knowledge.model import (
    ANY,
    KINDS,
    STEPS,
    Amount,
    Chance,
    Check,
    Conditions,
    Entry,
    Task,
    Text,
    Trees,
    applies,
)
from diagnose.reasoning.walk import Known

Exposure = Literal["live", "opened", "left open", "not held", "not qualified", "not prepared"]
StepKind = Literal["checks", "remedies", "proofs", "jobs"]
EXPOSURE_WORDS: Mapping[Exposure, str] = {
    "live": "done with the power on; it is done with the power off",
    "opened": "the cover was opened with the power on, the door not brought into that state first",
    "left open": "the door was run with its cover open",
    "not held": "the door was not held",
    "not qualified": "somebody else may do this, and was not called",
    "not prepared": "nothing was made safe beforehand",
}


class Mishap(Entry, frozen=True, kw_only=True):
    """What happens on an exposure. The first fields say on which; all that are written must fit."""

    title: Text
    exposure: Exposure
    kinds: tuple[StepKind, ...] = ()
    # One of these cautions stands before the step, or belongs to the state that it needs.
    cautions: tuple[str, ...] = ()
    # The reading is in one of these units.
    units: tuple[str, ...] = ()
    # One of these checks, which make safe, was not done before.
    missing: tuple[str, ...] = ()
    # Whether the door has power as it stands; empty where that makes no difference.
    powered: Literal["yes", "no", ""] = ""
    told: Text
    minutes: Amount = 0.0
    money: Amount = 0.0
    # What comes of the step itself: its reading says nothing, or its parts are ruined and nothing is mended.
    spoils: Literal["nothing", "answer", "work"] = "nothing"
    # Causes of which the first that suits the door comes into it, with this chance.
    breaks: tuple[str, ...] = ()
    chance: Chance = 1.0


class WithoutPower(msgspec.Struct, frozen=True, kw_only=True):
    """What is found where a step needs power and there is none: nought in these ``units``, one of these ``answers``."""

    units: tuple[str, ...] = ()
    answers: tuple[str, ...] = ()


class DoorKind(Entry, frozen=True, kw_only=True):
    """A door as one meets them: of each fact what it may be, and of facts that hold several what it has or may have."""

    facts: Conditions = msgspec.field(default_factory=dict)
    has: Conditions = msgspec.field(default_factory=dict)
    may_have: Conditions = msgspec.field(default_factory=dict)


class Places(msgspec.Struct, frozen=True, kw_only=True):
    """For drawn scenarios: invented sites, what a door is called there, and the kinds of door there are."""

    sites: tuple[str, ...] = ("Nowhere Works",)
    doors: tuple[str, ...] = ("Door 1",)
    kinds: dict[str, DoorKind] = msgspec.field(default_factory=dict)


@dataclass(frozen=True)
class Happened:
    """One exposure, and what came of it. ``word`` is the signal word of the worst caution that applied."""

    exposure: Exposure
    word: str
    cautions: tuple[str, ...]
    told: str
    mishap: Mishap | None = None


@dataclass(frozen=True)
class Consequences:
    """Everything that the folder says of wrong states. ``prepares`` are checks that make safe, in any order."""

    mishaps: tuple[Mishap, ...] = ()
    without_power: WithoutPower = field(default_factory=WithoutPower)
    prepares: tuple[str, ...] = ()

    def of(
        self, trees: Trees, step: Task, energy: str, people: Collection[str], known: Mapping[str, Known]
    ) -> tuple[Happened, ...]:
        """What happens to those who do ``step`` in the state ``energy``."""
        missing = self._missing(step, known)
        return tuple(
            self._happened(trees, step, exposure, cautions, energy, missing)
            for exposure, cautions in self._exposures(trees, step, energy, people, missing).items()
        )

    def _exposures(
        self, trees: Trees, step: Task, energy: str, people: Collection[str], missing: Collection[str]
    ) -> dict[Exposure, tuple[str, ...]]:
        """Each exposure, and the cautions that were acted against."""
        found: dict[Exposure, tuple[str, ...]] = {}
        if energy != step.energy and ANY not in (energy, step.energy):
            now, need = trees.energy[energy], trees.energy[step.energy]
            unguarded = tuple(name for name in need.cautions if name not in now.cautions)
            if need.powered == "no" and now.powered == "yes":
                found["live"] = (*need.cautions, *step.cautions)
            elif need.powered == "no" and unguarded:
                found["not held"] = unguarded
            elif need.powered == "yes" and now.powered == "yes":
                if need.cover == "open":
                    found["opened"] = (*need.cautions, *step.cautions)
                elif now.cover == "open":
                    found["left open"] = now.cautions
        if step.who not in people:
            found["not qualified"] = step.cautions
        if missing:
            found["not prepared"] = step.cautions
        return found

    def _missing(self, step: Task, known: Mapping[str, Known]) -> tuple[str, ...]:
        """The checks that make safe before this one, and were not done, or came out otherwise."""
        if not isinstance(step, Check):
            return ()
        before = [(name, step.after[name]) for name in self.prepares if name in step.after]
        return tuple(n for n, allowed in before if n not in known or (bool(allowed) and known[n] not in allowed))

    def _happened(
        self,
        trees: Trees,
        step: Task,
        exposure: Exposure,
        cautions: tuple[str, ...],
        energy: str,
        missing: tuple[str, ...],
    ) -> Happened:
        kind = next((section for section in STEPS.values() if isinstance(step, KINDS[section])), "proofs")
        unit = step.unit if isinstance(step, Check) else ""
        fitting = (
            mishap
            for mishap in self.mishaps
            if mishap.exposure == exposure
            and (not mishap.kinds or kind in mishap.kinds)
            and (not mishap.units or unit in mishap.units)
            and (not mishap.missing or any(name in mishap.missing for name in missing))
            and mishap.powered in ("", trees.energy[energy].powered)
            and (not mishap.cautions or any(name in mishap.cautions for name in cautions))
        )
        mishap = next(fitting, None)
        named = [name for name in cautions if mishap is None or not mishap.cautions or name in mishap.cautions]
        worst = cautions_named(trees, named)
        word = worst[0].word if worst else "NOTICE"
        said = f" {word}: {worst[0].text}" if worst else ""
        told = mishap.told if mishap else f"{EXPOSURE_WORDS[exposure][:1].upper()}{EXPOSURE_WORDS[exposure][1:]}."
        return Happened(exposure, word, tuple(caution.id for caution in worst), f"{told}{said}", mishap)

    def is_dead(self, trees: Trees, step: Task, energy: str) -> bool:
        """A step that needs power, done without."""
        if ANY in (energy, step.energy):
            return False
        return trees.energy[step.energy].powered == "yes" and trees.energy[energy].powered == "no"

    def found_dead(self, check: Check) -> str:
        """What is found then, as one would type it; ``?`` where nothing can be told."""
        if check.answers:
            return next((answer for answer in self.without_power.answers if answer in check.answers), "?")
        return f"0 {check.unit}" if check.unit in self.without_power.units and check.series == "no" else "?"

    def broken_by(self, trees: Trees, mishap: Mishap, facts: Mapping[str, str | tuple[str, ...]]) -> str:
        """The cause that a mishap brings into this door; ``""`` for none."""
        return next((name for name in mishap.breaks if applies(trees.causes[name].applies, facts)), "")
