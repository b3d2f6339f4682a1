"""Who is suspected in a call and how strongly, by which answers, and whether the answers sit ill together."""

from __future__ import annotations

import math
from dataclasses import dataclass

from diagnose.calls.inference import Finding
from diagnose.calls.known import Known
from diagnose.knowledge.model import UNLISTED
from diagnose.reasoning import explain
from diagnose.reasoning.evidence import conflict
from diagnose.reasoning.naming import tested

# How many doubtful answers are worth another look before it is called unknown.
_MOST_SECOND_LOOKS = 3
NOTHING_FITS = "The answers fit a cause that is not in the book better than any that is; doubt this one."
# From here on a cause counts as confidently named; and so many of the answered checks must be expected to have spoken
# against it, had it been a cause not in the book. Chosen on dermatology data and a network of pathology, diseases left
# out in turn: the warning stands beside nine in ten of the names that are wrong then.
CONFIDENT = 0.9
ENOUGH_TESTED = 5.0
TOO_FEW = (
    "Few of the checks answered could have spoken against it: a cause that is not in the book might look the same. "
    "Ask further before you rely on it."
)
# By how much the answers must raise the odds of an unlisted cause for it to lead, whatever was expected before them: a
# Bayes factor from which evidence is called positive (Kass & Raftery, *Bayes Factors*, 1995; from memory). How often
# calls are of a cause not in the book is an estimate; what the answers say of this call is not.
_CLEARLY = 3.0


@dataclass(frozen=True)
class Evidence:
    """One answer for or against a cause. ``factor`` multiplies the cause's odds against the average suspect."""

    check: str
    answer: str
    factor: float


@dataclass(frozen=True)
class Likely:
    """A suspected cause, how likely it is in the door now, and the answers for and against it, strongest first."""

    cause: str
    title: str
    probability: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True)
class Surprise:
    """How ill the answers sit together: ``conflict`` above 0 is odd. ``odd`` lists checks, the most doubtful first.

    ``again`` are answers that were probably slips: a slip of the reader comes before an exotic cause. ``raised`` is how
    many times the answers have raised the odds of a cause not in the book, whatever they were before.
    """

    conflict: float
    unlisted: float
    raised: float
    nothing_fits: bool
    odd: tuple[str, ...]
    again: tuple[str, ...]


def likely(call: Known) -> list[Likely]:
    """Every suspect with its probability and evidence, likeliest first; ``unlisted`` is among them unless it is
    switched off. They sum to 1 where causes are exclusive; two at once count for both.

    Where the answers fit nothing known, ``unlisted`` leads however seldom it is expected: what stands below it is
    the best of a bad lot.
    """
    inference = call.inference
    present = inference.present
    off = call.trees.costs.unlisted == 0 and inference.situation.count > 1
    ranked = sorted(range(inference.situation.count - off), key=lambda i: (-present[i], inference.situation.causes[i]))
    if nothing_fits(call):
        ranked.sort(key=lambda i: inference.situation.causes[i] != UNLISTED)
    return [
        Likely(
            inference.situation.causes[i],
            explain.cause_title(call.trees, inference.situation.causes[i]),
            float(present[i]),
            _evidence(inference.findings, i),
        )
        for i in ranked
    ]


def surprise(call: Known) -> Surprise:
    """Whether the answers sit ill together, and which of them to doubt first.

    An answer is doubted by how much the conflict eases when it is left out.
    """
    findings = list(call.inference.findings)
    likelihoods = [finding.likelihood for finding in findings]
    whole = conflict(call.situation, likelihoods)
    without = [
        (conflict(call.situation, likelihoods[:i] + likelihoods[i + 1 :]), finding.check.id)
        for i, finding in enumerate(findings)
    ]
    odd = tuple(check for value, check in sorted(without) if whole - value > 0.5)
    again = tuple(call.planner.standing.doubtful)[:_MOST_SECOND_LOOKS]
    unlisted = float(call.inference.belief.causes()[-1])
    return Surprise(whole, unlisted, _unlisted_raised(call), nothing_fits(call), odd, again)


def nothing_fits(call: Known) -> bool:
    """Whether the answers fit a cause not in the book clearly better than all that is in it."""
    return float(call.inference.belief.causes()[-1]) >= 0.5 or _unlisted_raised(call) >= _CLEARLY


def _unlisted_raised(call: Known) -> float:
    before, now = float(call.situation.prior[-1]), float(call.inference.belief.causes()[-1])
    return now / max(1 - now, 1e-12) * (1 - before) / before if 0 < before < 1 else 1.0


def untested(call: Known) -> str:
    """A warning where a cause is confidently named though few of the answers could have spoken against it.

    Whoever stops as soon as one cause leads has hardly given a cause that is not in the book a chance to show.
    """
    leading = likely(call)[0]
    if leading.cause == UNLISTED or leading.probability < CONFIDENT or call.trees.costs.unlisted == 0:
        return ""
    answered = [finding.table for finding in call.inference.findings]
    index = call.situation.causes.index(leading.cause)
    if tested(call.situation, index, answered) >= ENOUGH_TESTED:
        return ""
    left = len(call.situation.tables) - len(call.inference.known.keys() & call.situation.tables.keys())
    return TOO_FEW if left else ""


def _evidence(findings: tuple[Finding, ...], cause: int) -> tuple[Evidence, ...]:
    weighed = [(float(f.weights[cause]), f) for f in findings]
    weighed.sort(key=lambda pair: (-abs(pair[0]), pair[1].check.id))
    return tuple(Evidence(f.check.id, _shown(f), math.exp(weight)) for weight, f in weighed)


def _shown(finding: Finding) -> str:
    value = finding.value
    return value if isinstance(value, str) else f"{value:.4g} {finding.check.unit}".strip()
