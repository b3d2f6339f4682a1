"""What is believed after answers and remedies: a filter over the sets of faults that may be in the door now.

A set is nothing, one suspect, or a pair of suspects. An answer multiplies every set's weight by its likelihood;
a remedy moves weight from the sets it may have repaired to what they leave behind. With single faults only and
no remedies this is Bayes' rule under independent answers, added up in logarithms and normalised, and the order
of answers does not matter.

Two causes at once are combined as follows. For a question, each cause's column is split into a healthy share and
a share of its own doing (``Table.anomaly``); each cause shows its own with that chance, independently, and where
both show, one of the two is seen. For an answer with two choices that is the noisy-or with leak (Pearl,
*Probabilistic Reasoning in Intelligent Systems*, 1988). For a reading the worse state wins: the cause
that departs further from healthy decides it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.reasoning.situation import Array, Situation, Table

# A repaired door seldom keeps its complaint by chance, and an unrepaired one seldom hides it.
STILL_BROKEN_WHEN_FIXED = 0.02
SEEMS_FIXED_WHEN_NOT = 0.05
# A fault seldom keeps up a complaint that is not one of its own (an estimate).
OTHERS_KEEP = 0.1


@dataclass(frozen=True)
class Belief:
    """Weights of the fault sets; they sum to 1.

    ``single`` is [causes], its last entry ``unlisted``. ``pair`` is [causes, causes], filled above the diagonal
    only, or ``None`` while pairs are not considered. ``nothing`` is the chance that no fault is left.
    """

    single: Array
    pair: Array | None = None
    nothing: float = 0.0

    def causes(self) -> Array:
        """P(cause is in the door now), for each suspect."""
        if self.pair is None:
            return self.single
        present: Array = self.single + self.pair.sum(axis=0) + self.pair.sum(axis=1)
        return present

    @property
    def pairs(self) -> float:
        """P(two faults at once)."""
        return 0.0 if self.pair is None else float(self.pair.sum())


def first_belief(situation: Situation, pairs: bool = False) -> Belief:
    """Before any answer. A pair's weight is the product of its base rates, times the noisy-or of their complaints."""
    if not pairs or situation.count < 3:
        return Belief(situation.prior.copy())
    names = situation.causes[:-1]
    base = np.array([situation.trees.causes[cause].base for cause in names])
    complaint = situation.complaint[:-1]
    either = 1 - (1 - complaint[:, None]) * (1 - complaint[None, :])
    both = np.zeros((situation.count, situation.count))
    both[:-1, :-1] = np.triu(base[:, None] * base[None, :] * either, k=1)
    # On the scale of the singles: their weights are base × complaint, scaled to the prior.
    both *= (1 - situation.prior[-1]) / float((base * complaint).sum())
    return _normalised(Belief(situation.prior.copy(), both))


def answered(belief: Belief, likelihood: Array, table: Table, numeric: bool, answer: int | None) -> Belief:
    """The belief after an answer. ``likelihood`` is [causes]; ``answer`` is the row of a question's table."""
    single = belief.single * likelihood
    nothing = belief.nothing * _healthy_likelihood(likelihood, table, answer)
    if belief.pair is None:
        return _normalised(Belief(single, None, nothing))
    return _normalised(Belief(single, belief.pair * pair_likelihood(likelihood, table, numeric, answer), nothing))


def pair_likelihood(likelihood: Array, table: Table, numeric: bool, answer: int | None) -> Array:
    """P(answer | both causes), [causes, causes], symmetrical; meaningful off the diagonal."""
    if numeric or answer is None:
        worse = table.anomaly[:, None] >= table.anomaly[None, :]
        return np.where(worse, likelihood[:, None], likelihood[None, :])
    show = table.anomaly
    slip, flat = table.slip, 1.0 / len(table.answers)
    healthy = table.healthy[answer]
    column = (likelihood - slip * flat) / (1 - slip) if slip < 1 else likelihood
    # What the cause shows by its own doing: column = (1 − show)·healthy + show·own.
    own = np.divide(column - (1 - show) * healthy, show, out=np.zeros_like(column), where=show > 1e-12)
    hides = 1 - show
    both = (
        hides[:, None] * hides[None, :] * healthy
        + show[:, None] * hides[None, :] * own[:, None]
        + hides[:, None] * show[None, :] * own[None, :]
        + show[:, None] * show[None, :] * (own[:, None] + own[None, :]) / 2
    )
    combined: Array = np.maximum((1 - slip) * both + slip * flat, 0.0)
    return combined


def remedied(
    belief: Belief,
    situation: Situation,
    chances: Array,
    worked: bool | None,
    outcomes: Mapping[str, bool] | None = None,
) -> Belief:
    """The belief after a remedy was done, that removes each suspect with ``chances`` [causes].

    ``worked`` is what was seen: the complaint gone, or still there; ``None`` where nobody has looked. ``outcomes`` says
    of each complaint whether it is still there, where one is gone and another is not.
    """
    if outcomes and len(set(outcomes.values())) > 1:
        return _each_judged(_changed(belief, chances), situation, outcomes)
    if worked is None:
        return _changed(belief, chances)
    still = 1.0 if not worked else SEEMS_FIXED_WHEN_NOT
    gone = STILL_BROKEN_WHEN_FIXED if not worked else 1.0
    # One of two repaired: the other stays, and keeps the complaint alive as strongly as it brings it about.
    keeps = situation.complaint if not worked else 1 - situation.complaint + SEEMS_FIXED_WHEN_NOT
    return _changed(belief, chances, still, gone, keeps)


def _changed(
    belief: Belief, chances: Array, still: float = 1.0, gone: float = 1.0, keeps: Array | float = 1.0
) -> Belief:
    """What a remedy leaves, each set weighed by what was seen: ``still`` where it is as it was, ``gone`` where nothing
    is left, ``keeps`` [causes] where one of two is."""
    single = belief.single * (1 - chances) * still
    nothing = (belief.nothing + float(belief.single @ chances)) * gone
    if belief.pair is None:
        return _normalised(Belief(single, None, nothing))
    pair = belief.pair * (1 - chances)[:, None] * (1 - chances)[None, :] * still
    first_left = (belief.pair * (chances[None, :] * (1 - chances)[:, None])).sum(axis=1)
    second_left = (belief.pair * (chances[:, None] * (1 - chances)[None, :])).sum(axis=0)
    single = single + (first_left + second_left) * keeps
    nothing += float((belief.pair * chances[:, None] * chances[None, :]).sum()) * gone
    return _normalised(Belief(single, pair, nothing))


def _each_judged(belief: Belief, situation: Situation, outcomes: Mapping[str, bool]) -> Belief:
    """The belief after each complaint was judged for itself: a fault keeps up the complaints it brings about."""
    single, nothing, pair = belief.single, belief.nothing, belief.pair
    for symptom, still in outcomes.items():
        named = situation.trees.symptoms[symptom].causes
        keeps = np.array([1 - SEEMS_FIXED_WHEN_NOT if cause in named else OTHERS_KEEP for cause in situation.causes])
        both = 1 - (1 - keeps[:, None]) * (1 - keeps[None, :])
        single = single * (keeps if still else 1 - keeps)
        nothing *= STILL_BROKEN_WHEN_FIXED if still else 1 - STILL_BROKEN_WHEN_FIXED
        pair = None if pair is None else pair * (both if still else 1 - both)
    return _normalised(Belief(single, pair, nothing))


def proof_failed(belief: Belief) -> Belief:
    """The belief after a proof did not pass: something is still wrong."""
    return _normalised(replace(belief, nothing=belief.nothing * STILL_BROKEN_WHEN_FIXED))


def weight_of_evidence(likelihood: Array, prior: Array) -> Array:
    """How far an answer moves each suspect: ln P(answer | suspect) − ln P(answer); weights of answers add up."""
    marginal = float(likelihood @ prior)
    with np.errstate(divide="ignore"):
        weights: Array = np.log(likelihood) - np.log(marginal)
    return weights


def posterior(prior: Array, likelihoods: Sequence[Array]) -> Array:
    """P(cause | answers): prior times the product of likelihoods, in log space, normalised.

    ``prior`` is [causes] and each of ``likelihoods`` too. If every suspect is impossible the prior comes back:
    nothing has been learnt about which.
    """
    with np.errstate(divide="ignore"):
        logs = np.log(prior)
        for likelihood in likelihoods:
            logs = logs + np.log(likelihood)
    top = logs.max()
    if not np.isfinite(top):
        return prior.copy()
    weights = np.exp(logs - top)
    result: Array = weights / weights.sum()
    return result


def _healthy_likelihood(likelihood: Array, table: Table, answer: int | None) -> float:
    """P(answer) in a door with nothing left wrong: that of the suspect this check touches least."""
    if answer is not None:
        return float((1 - table.slip) * table.healthy[answer] + table.slip / len(table.answers))
    return float(likelihood[:-1][int(np.argmin(table.anomaly[:-1]))]) if len(likelihood) > 1 else 1.0


def _normalised(belief: Belief) -> Belief:
    total = float(belief.single.sum()) + belief.nothing + belief.pairs
    if not total > 0:
        return belief
    pair = None if belief.pair is None else belief.pair / total
    return Belief(belief.single / total, pair, belief.nothing / total)
