"""Which facts of a door are worth asking for a complaint: those that decide whether some entry applies to it."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.knowledge.model import Check, Trees


def facts_that_matter(trees: Trees, symptoms: Iterable[str]) -> tuple[str, ...]:
    """The facts, in the trees' order, on which the symptoms' causes, checks and remedies or the proofs depend."""
    named = [trees.symptoms[symptom] for symptom in symptoms if symptom in trees.symptoms]
    causes = [trees.causes[cause] for symptom in named for cause in symptom.causes]
    wanted = [check for symptom in named for check in symptom.ask_first]
    wanted += [check for cause in causes for check in cause.signs]
    checks = _with_all_before(trees, wanted)
    remedies = {remedy for cause in causes for remedy in cause.remedies}
    conditions = [symptom.applies for symptom in named]
    conditions += [cause.applies for cause in causes]
    conditions += [check.applies for check in checks]
    conditions += [trees.remedies[remedy].applies for remedy in remedies]
    conditions += [proof.applies for proof in trees.proofs.values()]
    used = {fact for condition in conditions for fact in condition}
    used |= {written for check in checks for written in check.inputs.values() if written in trees.facts}
    return tuple(fact for fact in trees.facts if fact in used)


def facts_of_walk(trees: Trees, walk: str) -> tuple[str, ...]:
    """The facts, in the trees' order, on which a walk's jobs, what is read with them, or the proofs depend."""
    jobs = [trees.jobs[job] for job in trees.walks[walk].jobs]
    checks = _with_all_before(trees, [check for job in jobs for check in job.reads])
    entries = [*jobs, *checks, *trees.proofs.values()]
    used = {fact for entry in entries for fact in entry.applies}
    return tuple(fact for fact in trees.facts if fact in used)


def facts_implied(trees: Trees, symptoms: Iterable[str]) -> dict[str, str | tuple[str, ...]]:
    """What a complaint says about the door by itself: a photo eye's lamp that blinks belongs to a photo eye."""
    implied: dict[str, str | tuple[str, ...]] = {}
    for symptom in symptoms:
        entry = trees.symptoms.get(symptom)
        for fact, allowed in (entry.applies if entry else {}).items():
            if len(allowed) == 1 and fact in trees.facts:
                implied[fact] = allowed if trees.facts[fact].many == "yes" else allowed[0]
    return implied


def _with_all_before(trees: Trees, wanted: Iterable[str]) -> list[Check]:
    """The checks, and all that come before them, are opened by them, or feed them."""
    found: dict[str, Check] = {}
    waiting = list(wanted)
    while waiting:
        identity = waiting.pop()
        check = trees.checks.get(identity)
        if check is None or identity in found:
            continue
        found[identity] = check
        waiting += check.after
        waiting += (opened for answers in check.opens.values() for opened in answers)
        waiting += check.sources
    return list(found.values())
