"""Whether what was found would fit better if something else were complained of.

Callers name what struck them. Where no suspect explains the answers, they speak for a cause that no tree names, and for
every complaint that raises one which does explain them.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.calls.inference import Finding, infer
from diagnose.calls.state import CallState
from diagnose.knowledge.model import Trees, applies, base_rate
from diagnose.knowledge.words import percent
from diagnose.reasoning.situation import Array, Situation, make_situation
from diagnose.reasoning.suspects import suspects

# From here on evidence is called strong (Kass & Raftery, *Bayes Factors*, 1995; from memory).
_STRONGLY = 20.0
# A complaint is proposed for a cause that it makes at least this likely.
_NAMED = 0.5
_MOST_NAMED = 2


@dataclass(frozen=True)
class Fitting:
    """A complaint under which the answers are ``factor`` times as likely, and the cause that explains them then."""

    symptom: str
    factor: float
    cause: str
    probability: float


def in_words(trees: Trees, fitting: Fitting) -> str:
    """What a complaint would explain, in a sentence."""
    complaint, cause = trees.symptoms[fitting.symptom].title, trees.causes[fitting.cause].title
    return f"“{complaint}”: then “{cause}” explains the answers ({percent(fitting.probability)})."


def fitting_better(situation: Situation, state: CallState) -> tuple[Fitting, ...]:
    """The complaints that explain the answers strongly better than those of ``situation``, the best first.

    Only such as point at a cause that is no suspect now: what is suspected already is not found by another name.
    """
    trees, facts = situation.trees, situation.facts
    if not situation.symptoms:
        return ()
    open_to = [name for name, each in trees.symptoms.items() if applies(each.applies, facts)]
    everything = make_situation(trees, facts, list(dict.fromkeys([*situation.symptoms, *open_to])))
    findings = infer(everything, state, pairs=False).findings
    if not findings:
        return ()
    shown = _log_likelihoods(findings)
    place = {cause: index for index, cause in enumerate(everything.causes[:-1])}

    def weighed(symptoms: Sequence[str]) -> dict[str, float]:
        raised = suspects(trees, facts, symptoms)
        base = {cause: base_rate(trees, cause, facts) * float(chances.prod()) for cause, chances in raised.items()}
        total = sum(base.values())
        return {c: math.log(b / total) + float(shown[place[c]]) for c, b in base.items() if b > 0}

    now = _log_sum(weighed(situation.symptoms).values())
    found = []
    for symptom in open_to:
        weights = weighed([symptom]) if symptom not in situation.symptoms else {}
        if not weights:
            continue
        whole = _log_sum(weights.values())
        cause = max(weights, key=lambda name: weights[name])
        probability, factor = math.exp(weights[cause] - whole), math.exp(min(whole - now, 500.0))
        if factor >= _STRONGLY and probability >= _NAMED and cause not in situation.causes:
            found.append(Fitting(symptom, factor, cause, probability))
    return tuple(sorted(found, key=lambda each: (-round(each.factor, 6), each.symptom))[:_MOST_NAMED])


def _log_likelihoods(findings: Sequence[Finding]) -> Array:
    """ln P(all that was found | cause), [causes] but for ``unlisted``."""
    with np.errstate(divide="ignore"):
        total: Array = np.log([finding.scored.known for finding in findings]).sum(axis=0)
    return total


def _log_sum(values: Iterable[float]) -> float:
    array = np.array(list(values), dtype=float)
    top = float(array.max())
    return top + math.log(float(np.exp(array - top).sum())) if math.isfinite(top) else -math.inf
