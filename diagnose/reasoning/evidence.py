"""How pieces of evidence stand to each other: whether they sit ill together, which is a slip, what speaks for unlisted.

Likelihoods are arrays [causes], P(this answer | cause), the last cause ``unlisted``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from diagnose.knowledge.model import Check
from diagnose.reasoning.situation import UNLIKE, Array, Scored, Situation, otherwise, slip_of


def conflict(situation: Situation, likelihoods: Sequence[Array]) -> float:
    """Jensen's conflict measure, ln ∏ P(eᵢ) / P(e): above 0 where the answers sit ill together.

    After Jensen, *Bayesian Networks and Decision Graphs*. It is the log Bayes factor for a cause under which the
    answers come as they come on the average, each for itself.
    """
    if len(likelihoods) < 2:
        return 0.0
    prior = situation.prior[:-1] / situation.prior[:-1].sum() if situation.count > 1 else situation.prior
    matrix = np.array([likelihood[: len(prior)] for likelihood in likelihoods])
    with np.errstate(divide="ignore"):
        apart = float(np.log(matrix @ prior).sum())
        together = np.log(prior) + np.log(matrix).sum(axis=0)
    top = together.max()
    if not np.isfinite(top):
        return math.inf
    return apart - float(top + np.log(np.exp(together - top).sum()))


def slipped(situation: Situation, check: Check, scored: Scored, likelihood: Array) -> Array:
    """P(the answer was a slip | cause, the answer), [causes], of somebody who looked once."""
    slip, possible = slip_of(situation.trees, check), likelihood > 0
    found: Array = np.divide(slip * scored.flat, likelihood, out=np.zeros(len(likelihood)), where=possible)
    return found


def same_again(situation: Situation, check: Check, chance: Array) -> Array:
    """P(a second look finds the same | cause), [causes], where the first was a slip with ``chance``.

    Two looks that agree are both wrong only if both slipped.
    """
    slip = slip_of(situation.trees, check)
    same: Array = np.minimum((1 - chance) * (1 + slip) + chance * slip, 1.0)
    return same


def with_unlisted(situation: Situation, scored: Sequence[Scored], counted: Sequence[bool]) -> list[Array]:
    """Each answer's likelihood in its order, the last entry that of ``unlisted``.

    Which cause an unlisted one resembles, and how far, is learnt as answers come in: each likelihood is the prediction
    from the answers before it, so that their product is the mixture over all the likenesses, whatever the order.
    """
    prior = situation.prior[:-1] / situation.prior[:-1].sum() if situation.count > 1 else np.ones(1)
    likeness = np.outer(np.full(len(UNLIKE), 1.0 / len(UNLIKE)), prior)
    found: list[Array] = []
    for answer, counts in zip(scored, counted, strict=True):
        known = answer.known if situation.count > 1 else np.array([answer.flat])
        unlike = otherwise(np.array(answer.sound), known @ prior, answer.flat)
        both = likeness * ((1 - UNLIKE[:, None]) * known + UNLIKE[:, None] * unlike)
        found.append(np.append(answer.known, both.sum()))
        if counts and both.sum() > 0:
            likeness = both / both.sum()
    return found
