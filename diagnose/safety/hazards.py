"""What a step touches, and what must therefore stand above it, who may do it, and in which state."""

from __future__ import annotations

from collections.abc import Iterator

from diagnose.knowledge.checker import Book, Finding, rule
from diagnose.knowledge.doors import all_doors
from diagnose.knowledge.model import Check, Hazard, Proof, Remedy, Task, Trees
from diagnose.knowledge.phrases import found_in
from diagnose.knowledge.problems import Place
from diagnose.safety.invariant import Visited, invariant


@invariant("caution-missing")
def caution_missing(book: Book, visited: Visited) -> Iterator[Finding]:
    """A step touches what a hazard names, and its caution does not stand above it.

    Which steps those are, which cautions they need and why is written under `hazards` in shared/phrases.yaml: by the
    state of the door, by where one stands, or by the words of the step. What counts is what is shown above the step
    itself: its own cautions and those of the place it is done from.

    Passes:
        capacitor-value: {measure: Capacitance, how: Discharge the capacitor first., cautions: [capacitor-charge], …}
    Fails:
        capacitor-value: {measure: Capacitance, how: Discharge the capacitor first., cautions: [lock-and-tag], …}
    """
    trees = book.trees
    for kind, step, states in _all_steps(trees):
        visited.add(states)
        shown = {*step.cautions, *trees.access[step.access].cautions}
        for hazard in trees.hazards.values():
            because = touches(hazard, kind, step)
            if because is None:
                continue
            missing = [caution for caution in hazard.cautions if caution not in shown]
            if hazard.one_of and not shown & set(hazard.one_of):
                missing.append(" or ".join(hazard.one_of))
            if missing:
                wrong = f"'{step.id}' lacks the caution {', '.join(missing)}: {hazard.title.lower()}{because}."
                yield Finding(book.place(kind, step.id, "cautions"), wrong, f"Add it. {hazard.why}")


@invariant("not-for-this-person")
def not_for_this_person(book: Book, visited: Visited) -> Iterator[Finding]:
    """A step may be done by someone, or in a state of the door, that its hazard forbids.

    Springs, lifting cables, drums and bottom brackets are for a trained door technician with the door held, and a
    step that touches them is never put to a caller.

    Passes:
        replace-springs: {who: door technician, energy: door held, …}
    Fails:
        replace-springs: {who: technician, energy: "off, locked and tagged", …}
    """
    trees = book.trees
    for kind, step, states in _all_steps(trees):
        visited.add(states)
        for hazard in trees.hazards.values():
            because = touches(hazard, kind, step)
            if because is None:
                continue
            if hazard.only_by and step.who not in hazard.only_by:
                wrong = (
                    f"'{step.id}' is for: {step.who}. {hazard.title}{because} is only for: {', '.join(hazard.only_by)}."
                )
                yield Finding(book.place(kind, step.id, "who"), wrong, hazard.why)
            if hazard.only_in and step.energy not in hazard.only_in:
                allowed = " / ".join(hazard.only_in)
                wrong = f"'{step.id}' is done in: {step.energy}. {hazard.title}{because} is only done in: {allowed}."
                yield Finding(book.place(kind, step.id, "energy"), wrong, hazard.why)
            if hazard.only_by and isinstance(step, Check) and step.caller is not None:
                wrong = f"'{step.id}' is put to a caller, and touches: {hazard.title.lower()}."
                yield Finding(book.place(kind, step.id, "caller"), wrong, "Take 'caller:' out.")


@rule("safety-not-stated", "warning")
def safety_not_stated(book: Book) -> Iterator[Finding]:
    """The trees state no hazards, no phrases or no assurances, so that the proof of safety has nothing to hold to.

    Passes:
        hazards: {live-parts: {energy: ["powered, cover open"], cautions: [electric-shock], …}}
        phrases: {bypass-a-device: {words: [bypass*, jumper*], …}}
        assurances: {both-limits: {proofs: [both-limits], …}}
    Fails:
        # trees without a file like shared/phrases.yaml
    """
    trees = book.trees
    for kind, held in {"hazards": "step", "phrases": "text", "assurances": "door"}.items():
        if not book.entries(kind) and trees.checks:
            place = Place(book.trees.place("checks", next(iter(trees.checks))).file, 1)
            wrong = f"No {kind} are stated: no {held} is held to any."
            yield Finding(place, wrong, "Take shared/phrases.yaml of the trees that ship as a pattern.")


def touches(hazard: Hazard, kind: str, step: Task) -> str | None:
    """Why a hazard is one of this step, to be put behind its title; ``None`` where it is not."""
    if (hazard.kinds and kind not in hazard.kinds) or (hazard.access and step.access not in hazard.access):
        return None
    if hazard.energy and step.energy not in hazard.energy:
        return None
    if not hazard.words:
        return ""
    # A reviewer's note answers for wording, and for nothing else.
    if step.reviewed or (isinstance(step, Check) and step.kind == "computed"):
        return None
    found = found_in(_said(step), hazard.words, hazard.unless)
    return f" (“{found}”)" if found else None


def steps(trees: Trees) -> Iterator[tuple[str, Task]]:
    """Everything that is done at a door, by its kind. What is computed is not done."""
    computed = {check.id for check in trees.checks.values() if check.kind == "computed"}
    return ((kind, step) for kind, step in trees.steps() if kind != "checks" or step.id not in computed)


def _all_steps(trees: Trees) -> Iterator[tuple[str, Task, int]]:
    """Every step, with the states it may be met in: kinds of door it applies to × states one may come from.

    Nothing that is asked of a step depends on either beyond whether it is met at all, so that looking at it once is
    looking at it in all of them.
    """
    for kind, step in steps(trees):
        doors = all_doors(trees, [step.applies])
        yield kind, step, int(doors.fit(step.applies).sum()) * len(trees.energy)


def _said(step: Task) -> str:
    match step:
        case Check():
            return f"{step.text} {step.how}"
        case Remedy():
            return f"{step.title}. {step.how}"
        case Proof():
            return f"{step.title}. {step.how} {step.passes_when}"
        case _:
            return step.how
