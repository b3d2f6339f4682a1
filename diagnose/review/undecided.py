"""What nobody has decided yet: checks that show what a cause takes away, and of which the cause says nothing.

Unsaid, such a check counts as one that looks as on a sound door, and so an expected finding speaks against the cause.
Each pair wants a sign, or a place in the cause's ``as-sound``.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from diagnose.knowledge.doors import meet
from diagnose.knowledge.functions import Chain, chain_of
from diagnose.knowledge.model import Cause, Check, Trees
from diagnose.reasoning.situation import slip_of


@dataclass(frozen=True)
class Undecided:
    """A cause, a check that shows what it takes away (``function``), and how much it can hurt to leave it so.

    ``harm`` is the cause's base rate times how far the finding would speak against it, in natural units of evidence.
    """

    cause: str
    check: str
    function: str
    harm: float


def undecided(trees: Trees, causes: Collection[str] = ()) -> tuple[Undecided, ...]:
    """Every such pair, or those of ``causes``; what hurts most comes first, and a cause's pairs stand together."""
    chain = chain_of(trees)
    bearing = bearing_on(trees)
    found = {
        cause.id: sorted(_of_cause(trees, cause, chain, bearing), key=lambda pair: (-pair.harm, pair.check))
        for cause in trees.causes.values()
        if not causes or cause.id in causes
    }
    ordered = sorted(found, key=lambda cause: (-sum(pair.harm for pair in found[cause]), cause))
    return tuple(pair for cause in ordered for pair in found[cause])


def related(trees: Trees, cause: Cause, chain: Chain) -> dict[str, str]:
    """The checks that show what a cause takes away, each with the function it shows; not what it makes impossible."""
    taken, lost = chain.taken(cause), chain.lost_by(cause)
    found = {}
    for check in trees.checks.values():
        shown = next((function for function in check.shows if function in taken), None)
        conditions = [] if shown is None else [trees.functions[shown].applies, check.applies]
        if shown is not None and lost.isdisjoint(check.wants) and meet(trees, cause.applies, *conditions):
            found[check.id] = shown
    return found


def _of_cause(trees: Trees, cause: Cause, chain: Chain, bearing: Mapping[str, Collection[str]]) -> Iterator[Undecided]:
    asked, said = asked_of(trees, cause, chain, bearing), said_of(trees, cause)
    for name, function in related(trees, cause, chain).items():
        check = trees.checks[name]
        if name in asked and name not in said and check.healthy is not None:
            yield Undecided(cause.id, name, function, cause.base * _against(trees, check))


def said_of(trees: Trees, cause: Cause) -> frozenset[str]:
    """The checks of which a cause says something: a reading's sign is said of it, or of what is computed from it."""
    computed = {name for name, check in trees.checks.items() if not cause.signs.keys().isdisjoint(check.sources)}
    sources = {source for name in cause.signs for source in trees.checks[name].sources}
    return frozenset({*cause.signs, *cause.as_sound, *computed, *sources})


def asked_of(trees: Trees, cause: Cause, chain: Chain, bearing: Mapping[str, Collection[str]]) -> frozenset[str]:
    """The checks that may be asked where a cause is suspected."""
    raising = (symptom for symptom in bearing if _suspected(trees, cause, symptom, chain))
    return frozenset(check for symptom in raising for check in bearing[symptom])


def bearing_on(trees: Trees) -> dict[str, set[str]]:
    """For each symptom, the checks that may be asked under it: those that some suspect changes."""
    chain = chain_of(trees)
    found = {}
    for symptom in trees.symptoms.values():
        suspects = [*symptom.causes, *chain.implied(trees.causes.values(), symptom)]
        found[symptom.id] = {check for cause in suspects for check in trees.causes[cause].signs}
    return found


def _suspected(trees: Trees, cause: Cause, symptom: str, chain: Chain) -> bool:
    complaint = trees.symptoms[symptom]
    return cause.id in complaint.causes or (cause.id not in complaint.never and chain.brings_about(cause, complaint))


def _against(trees: Trees, check: Check) -> float:
    """How far what a sound door seldom shows speaks against a cause that is thought to change nothing."""
    slip = slip_of(trees, check)
    if not check.answers:
        return -math.log(max(slip, 1e-3))
    shares = sorted(getattr(check.healthy, "shares", {}).values())
    rest = shares[:-1] or [1.0]
    seldom = (1 - slip) * sum(rest) / len(rest) + slip / len(check.answers)
    return -math.log(max(seldom, 1e-3))
