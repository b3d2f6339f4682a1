"""Who is suspected: the causes a complaint names, and those that take away what it lacks and spare what it keeps.

And which checks cannot be done or mean nothing then, because a function that they want is lost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from diagnose.knowledge.functions import chain_of
from diagnose.knowledge.model import Facts, Trees, applies

Array = NDArray[np.float64]

# A check is left out where a function that it wants is this likely lost.
_SURELY_LOST = 0.90


def suspects(trees: Trees, facts: Facts, symptoms: Sequence[str]) -> dict[str, Array]:
    """Each suspect of a door with ``facts``, and P(complaint | cause) for every complaint, [symptoms].

    A complaint that neither names a cause raised by another nor lacks what that takes away counts
    ``costs.unnamed_cause`` for it. Raises ``KeyError`` for an unknown symptom.
    """
    raised: dict[str, Array] = {}
    for row, name in enumerate(symptoms):
        for cause, chance in brought_by(trees, facts, name).items():
            raised.setdefault(cause, np.full(len(symptoms), trees.costs.unnamed_cause))[row] = chance
    return raised


def brought_by(trees: Trees, facts: Facts, name: str) -> dict[str, float]:
    """The causes in a door with ``facts`` that bring a complaint about, and P(complaint | cause) of each."""
    symptom = trees.symptoms[name]
    # Where a fact is not known yet, the complaint itself says which of its single answers it can be.
    possible = {fact: allowed for fact, allowed in symptom.applies.items() if trees.facts[fact].many == "no"}
    fitting = [c for c in trees.causes.values() if applies(c.applies, facts) and applies(c.applies, possible)]
    implied = dict.fromkeys(chain_of(trees, facts).implied(fitting, symptom), trees.costs.implied_cause)
    named = {**symptom.causes, **implied}
    return {cause: chance for cause, chance in named.items() if applies(trees.causes[cause].applies, facts)}


def unable(trees: Trees, facts: Facts, causes: Sequence[str]) -> dict[str, Array]:
    """For each check that wants something, which of ``causes`` take that away: 1 or 0, [causes]."""
    chain = chain_of(trees, facts)
    lost = [chain.lost_by(trees.causes[cause]) for cause in causes]
    return {
        check.id: np.array([not each.isdisjoint(check.wants) for each in lost], dtype=float)
        for check in trees.checks.values()
        if check.wants
    }


def complained_of(trees: Trees, facts: Facts, symptoms: Sequence[str]) -> frozenset[str]:
    """The checks that want what a complaint says is lost, and those that it answers itself."""
    chain = chain_of(trees, facts)
    complaints = [trees.symptoms[name] for name in symptoms]
    lost = {function for complaint in complaints for function in chain.lost_in(complaint)}
    wanting = {check.id for check in trees.checks.values() if not lost.isdisjoint(check.wants)}
    return frozenset(wanting.union(*(complaint.told for complaint in complaints)))


def idle(unable: Mapping[str, Array], complained_of: frozenset[str], present: Array, nothing: float) -> frozenset[str]:
    """The checks to leave out while P(each cause is there) is ``present`` and P(nothing is wrong) ``nothing``.

    They come back as soon as what they want is back: by a repair that worked, or another complaint.
    """
    by_belief = {check for check, lost in unable.items() if float(present[: len(lost)] @ lost) > _SURELY_LOST}
    return frozenset(by_belief | complained_of) if 1 - nothing > _SURELY_LOST else frozenset(by_belief)
