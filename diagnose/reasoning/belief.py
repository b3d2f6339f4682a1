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

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from diagnose.knowledge.model import base_rate
from diagnose.reasoning.situation import Array, Indices, Situation, Table

# A repaired door seldom keeps its complaint by chance, and an unrepaired one seldom hides it.
STILL_BROKEN_WHEN_FIXED = 0.02
SEEMS_FIXED_WHEN_NOT = 0.05
# A fault seldom keeps up a complaint that is not one of its own (an estimate).
OTHERS_KEEP = 0.1
# Where the right repair does not end the trouble, it was seldom done badly: by so much is the chance that its cause
# stays less than what is planned with (an estimate). More often another fault is there, too.
DONE_BADLY = 0.3
_RIGHT_REPAIR = 0.5
# Of the calls that a repair did not end, so many have two faults where the rates of the two alone make it fewer: faults
# bring each other about and age together (an estimate; 41 of 403 doors from life have two).
TWO_AT_ONCE = 0.10
# Up to so many suspects every pair of them is believed in; of more, the pairs that hold one of so many: those that fit
# best alone, and those that fit best if another cause accounts for whatever they do not.
ALL_PAIRS = 64


@dataclass(frozen=True, eq=False)
class Pairs:
    """Pairs of suspects, each by its two columns, ``first`` below ``second``, and its ``weight``: all [pairs]."""

    first: Indices
    second: Indices
    weight: Array

    def each(self, count: int) -> Array:
        """The weight of the pairs that each of ``count`` suspects is in."""
        both = np.concatenate([self.first, self.second])
        return np.bincount(both, np.tile(self.weight, 2), count).astype(float)


@dataclass(frozen=True)
class Belief:
    """Weights of the fault sets; they sum to 1.

    ``single`` is [causes], its last entry ``unlisted``. ``pair`` is ``None`` while pairs are not considered.
    ``nothing`` is the chance that no fault is left.
    """

    single: Array
    pair: Pairs | None = None
    nothing: float = 0.0

    def causes(self) -> Array:
        """P(cause is in the door now), for each suspect."""
        if self.pair is None:
            return self.single
        return self.single + self.pair.each(len(self.single))

    def sets(self, names: Sequence[str]) -> Iterator[tuple[tuple[str, ...], float]]:
        """Every set of faults that is believed in, by the names of its suspects, and how much; no fault is not one."""
        yield from (((name,), float(weight)) for name, weight in zip(names, self.single, strict=True))
        if self.pair is not None:
            for first, second, weight in zip(self.pair.first, self.pair.second, self.pair.weight, strict=True):
                yield (names[first], names[second]), float(weight)

    @property
    def pairs(self) -> float:
        """P(two faults at once)."""
        return 0.0 if self.pair is None else float(self.pair.weight.sum())


def first_belief(
    situation: Situation,
    pairs: bool = False,
    likelihoods: Sequence[tuple[Array, float]] = (),
    at_least: float = 0.0,
) -> Belief:
    """Before any answer. A pair's weight is the product of its base rates, times the noisy-or of their complaints; all
    pairs together are ``at_least`` so likely.

    ``likelihoods`` are those of the answers to come, [causes], each with that of a sound door: among very many suspects
    they say which pairs are worth following.
    """
    if not pairs or situation.count < 3:
        return Belief(situation.prior.copy())
    base = np.array([base_rate(situation.trees, cause, situation.facts) for cause in situation.causes[:-1]])
    complaint = situation.complaint[:-1]
    first, second = _pairs_of(situation, likelihoods)
    either = 1 - (1 - complaint[first]) * (1 - complaint[second])
    both = base[first] * base[second] * either
    # On the scale of the singles: their weights are base × complaint, scaled to the prior. Rates count calls among all
    # calls; where they come to more than all calls they are taken in proportion.
    both *= (1 - situation.prior[-1]) / float((base * complaint).sum()) / situation.trees.all_rates
    total = float(both.sum())
    if 0 < total < at_least / (1 - at_least):
        both *= at_least / (1 - at_least) / total
    return _normalised(Belief(situation.prior.copy(), Pairs(first, second, both)))


def _pairs_of(situation: Situation, likelihoods: Sequence[tuple[Array, float]]) -> tuple[Indices, Indices]:
    """Which pairs to follow: (first, second), row by row."""
    known = situation.count - 1
    if known <= ALL_PAIRS:
        first, second = np.triu_indices(known, k=1)
        return first.astype(np.intp), second.astype(np.intp)
    with np.errstate(divide="ignore"):
        alone = np.log(situation.prior[:-1])
        helped = alone.copy()
        for likelihood, sound in likelihoods:
            rows = likelihood[:-1]
            alone = alone + np.log(rows)
            helped = helped + np.log(np.maximum(rows, max(sound, float(rows.max()) / 2)))
    chosen = np.zeros(known, dtype=bool)
    for score in (alone, helped):
        chosen[np.argsort(-score, kind="stable")[: ALL_PAIRS // 2]] = True
    ones = np.flatnonzero(chosen)
    low = np.minimum(np.repeat(ones, known), np.tile(np.arange(known), len(ones)))
    high = np.maximum(np.repeat(ones, known), np.tile(np.arange(known), len(ones)))
    codes = np.unique(low[low < high] * known + high[low < high])
    return codes // known, codes % known


def answered(
    belief: Belief, likelihood: Array, table: Table, numeric: bool, answer: int | None, counts: float = 1.0
) -> Belief:
    """The belief after an answer. ``likelihood`` is [causes]; ``answer`` is the row of a question's table.

    ``counts`` is what one answer is worth where answers are not quite independent: the power to which each likelihood
    is taken, 1 for Bayes' rule (Holmes and Walker, *Assigning a value to a power likelihood*, Biometrika 104, 2017).
    """
    single, pair = belief.single * likelihood**counts, belief.pair
    nothing = belief.nothing * _healthy_likelihood(likelihood, table, answer) ** counts
    if pair is not None:
        shown = pair_likelihood(likelihood, table, numeric, answer, pair.first, pair.second)
        pair = replace(pair, weight=pair.weight * shown**counts)
    # Where nothing that is believed in can give this answer, it has told nothing.
    return _normalised(Belief(single, pair, nothing), belief)


def pair_likelihood(
    likelihood: Array, table: Table, numeric: bool, answer: int | None, first: Indices, second: Indices
) -> Array:
    """P(answer | both causes) of the pairs (``first``, ``second``), from ``likelihood`` [causes]."""
    one, other = likelihood[first], likelihood[second]
    anomaly = table.anomaly
    if numeric or answer is None:
        return np.where(anomaly[first] >= anomaly[second], one, other)
    return shown_by_both(
        one, other, anomaly[first], anomaly[second], table.healthy[answer], 1.0 / len(table.answers), table.slip
    )


def shown_by_both(
    one: Array,
    other: Array,
    show_one: Array,
    show_other: Array,
    healthy: float | Array,
    flat: float | Array,
    slip: float | Array,
) -> Array:
    """P(an answer to a question | two causes), from that under each and how much of it is each cause's own doing."""
    own = [_own(column, show, healthy, flat, slip) for column, show in ((one, show_one), (other, show_other))]
    both = (
        (1 - show_one) * (1 - show_other) * healthy
        + show_one * (1 - show_other) * own[0]
        + (1 - show_one) * show_other * own[1]
        + show_one * show_other * (own[0] + own[1]) / 2
    )
    combined: Array = np.maximum((1 - slip) * both + slip * flat, 0.0)
    return combined


def _own(column: Array, show: Array, healthy: float | Array, flat: float | Array, slip: float | Array) -> Array:
    """What a cause shows by its own doing: column = (1 − show)·healthy + show·own, the slip taken off."""
    exact = (column - slip * flat) / np.maximum(1 - np.asarray(slip), 1e-12)
    own: Array = np.divide(exact - (1 - show) * healthy, show, out=np.zeros_like(column), where=show > 1e-12)
    return own


def remedied(
    belief: Belief,
    situation: Situation,
    chances: Array,
    worked: bool | None,
    outcomes: Mapping[str, bool] | None = None,
) -> Belief:
    """The belief after a remedy was done, that removes each suspect with ``chances`` [causes].

    ``worked`` is what was seen: the complaint gone, or still there; ``None`` where nobody has looked. ``outcomes`` says
    of each complaint that was judged whether it is still there; it counts where they differ, or one is still there
    while others are not judged yet.
    """
    if outcomes and (len(set(outcomes.values())) > 1 or (worked is None and any(outcomes.values()))):
        return _each_judged(_changed(belief, chances), situation, outcomes)
    if worked is None:
        return _changed(belief, chances)
    if not worked:
        chances = np.where(chances >= _RIGHT_REPAIR, 1 - DONE_BADLY * (1 - chances), chances)
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
    first, second, weight = belief.pair.first, belief.pair.second, belief.pair.weight
    one, other, count = chances[first], chances[second], len(single)
    left = np.bincount(first, weight * other * (1 - one), count)
    left = left + np.bincount(second, weight * one * (1 - other), count)
    nothing += float((weight * one * other).sum()) * gone
    pair = Pairs(first, second, weight * (1 - one) * (1 - other) * still)
    return _normalised(Belief(single + left * keeps, pair, nothing))


def _each_judged(belief: Belief, situation: Situation, outcomes: Mapping[str, bool]) -> Belief:
    """The belief after each complaint was judged for itself: a fault keeps up the complaints it brings about."""
    single, nothing, pair = belief.single, belief.nothing, belief.pair
    for symptom, still in outcomes.items():
        named = situation.trees.symptoms[symptom].causes
        keeps = np.array([1 - SEEMS_FIXED_WHEN_NOT if cause in named else OTHERS_KEEP for cause in situation.causes])
        single = single * (keeps if still else 1 - keeps)
        nothing *= STILL_BROKEN_WHEN_FIXED if still else 1 - STILL_BROKEN_WHEN_FIXED
        if pair is not None:
            neither = (1 - keeps[pair.first]) * (1 - keeps[pair.second])
            pair = replace(pair, weight=pair.weight * (1 - neither if still else neither))
    return _normalised(Belief(single, pair, nothing))


def proof_failed(belief: Belief) -> Belief:
    """The belief after a proof did not pass: something is still wrong."""
    return _normalised(replace(belief, nothing=belief.nothing * STILL_BROKEN_WHEN_FIXED))


def without_nothing(belief: Belief) -> Belief:
    """The belief where something is surely wrong yet."""
    return _normalised(replace(belief, nothing=0.0), belief)


def weight_of_evidence(likelihood: Array, prior: Array) -> Array:
    """How far an answer moves each suspect: ln P(answer | suspect) − ln P(answer); weights of answers add up."""
    marginal = float(likelihood @ prior)
    if marginal <= 0:
        return np.zeros_like(likelihood)
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


def _normalised(belief: Belief, before: Belief | None = None) -> Belief:
    """The same with a sum of 1; ``before`` where nothing is left of it."""
    total = float(belief.single.sum()) + belief.nothing + belief.pairs
    if not total > 0:
        return belief if before is None else before
    pair = None if belief.pair is None else replace(belief.pair, weight=belief.pair.weight / total)
    return Belief(belief.single / total, pair, belief.nothing / total)
