"""What is believed of a door that one is only told of.

At the door a fact is seen, and rules causes out; the complaint is tried. On the phone both are somebody's word: a thing
said of the door may be wrong, and a complaint may be taken for another of its family. Neither rules anything out here,
it only makes it rarer, by the chance of a caller's slip.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from functools import lru_cache

import msgspec
import numpy as np

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.inference import Inference, believed, infer
from diagnose.calls.state import standing
from diagnose.knowledge.model import Held, Symptom, Trees, applies
from diagnose.reasoning.situation import Array, Situation, make_situation


def phone_inference(call: Call) -> Inference:
    """What a caller's answers say of every cause they may be due to."""
    return infer(phone_situation(call), call.state)


def phone_situation(call: Call) -> Situation:
    """The suspects of a complaint that may be another of its family, on a door that may not be as it was told."""
    heard = _heard(Held(call.trees), call.symptoms)
    facts, doubt = call.facts, doubts(call)
    weights = heard.prior.copy()
    for index, cause in enumerate(heard.causes[:-1]):
        conditions = call.trees.causes[cause].applies
        for fact in conditions.keys() & facts.keys():
            if not applies({fact: conditions[fact]}, facts):
                weights[index] *= doubt[fact]
    known = weights[:-1].sum()
    if known > 0:
        weights[:-1] *= heard.prior[:-1].sum() / known
    return replace(heard, prior=weights, facts=facts)


def chances(inference: Inference) -> Array:
    """P(cause), [causes], summing to 1 whatever number of faults is thought of.

    By Bayes' rule alone: that a caller's answers sit ill together does not speak for a fault that nobody knows.
    """
    present = believed(inference.situation, inference.items, inference.pairs).causes()
    total = float(present.sum())
    belief: Array = present / total if total > 0 else inference.situation.prior
    return belief


def doubts(call: Call) -> dict[str, float]:
    """The chance that a fact is not as the caller told it: that of a slip, for each time that it was said.

    What follows from the facts told is as doubtful as one that was said once.
    """
    slip, said = call.trees.costs.caller_slip, told_facts(call)
    found = {}
    for fact, value in {**call.facts, **call.state.facts}.items():
        times = max(sum(each == value for each in said.get(fact, ())), 1)
        found[fact] = slip**times / (slip**times + (1 - slip) ** times)
    return found


def told_facts(call: Call) -> dict[str, list[str | tuple[str, ...]]]:
    """What was said of each fact on the phone, in order; an empty value where it was not known or was taken back."""
    found: dict[str, list[str | tuple[str, ...]]] = {}
    for event in standing(call.events):
        if isinstance(event, ev.FactStated):
            found.setdefault(event.fact, []).append(event.value)
    return found


@lru_cache(maxsize=128)
def _heard(held: Held, symptoms: tuple[str, ...]) -> Situation:
    """The situation of complaints as they are heard, on a door of which nothing is known."""
    trees = held.trees
    heard: Mapping[str, Symptom] = {symptom: _as_heard(trees, trees.symptoms[symptom]) for symptom in symptoms}
    softened = msgspec.structs.replace(trees, symptoms={**trees.symptoms, **heard})
    return make_situation(softened, {}, symptoms)


def _as_heard(trees: Trees, symptom: Symptom) -> Symptom:
    """A complaint with P(it is heard | cause): it was meant, or another of its family was."""
    slip = trees.costs.caller_slip
    others = [s for s in trees.symptoms.values() if s.family == symptom.family and s.id != symptom.id]
    if not others:
        return symptom
    causes = dict.fromkeys([*symptom.causes, *(cause for other in others for cause in other.causes)])
    heard = {
        cause: (1 - slip) * symptom.causes.get(cause, 0.0)
        + slip * float(np.mean([other.causes.get(cause, 0.0) for other in others]))
        for cause in causes
    }
    return msgspec.structs.replace(symptom, causes=heard)
