"""From a call's state to what is believed: each piece of evidence in its order, counted once.

Computed checks join in as soon as their last input is there. Of several answered checks of one ``group`` between
two repairs only the most telling one counts: they measure the same thing.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from diagnose.calls.state import Answer, CallState, Proof, Try
from diagnose.knowledge.model import COULD_NOT_TELL, Check, Trees
from diagnose.reasoning.belief import (
    Belief,
    answered,
    first_belief,
    proof_failed,
    remedied,
    weight_of_evidence,
)
from diagnose.reasoning.compute import Computed, compute
from diagnose.reasoning.situation import (
    UNLIKE,
    Array,
    Scored,
    Situation,
    Table,
    instrument_error,
    otherwise,
    score_answer,
    slip_of,
)
from diagnose.reasoning.walk import Known


@dataclass(frozen=True)
class Finding:
    """One answer that says something about the cause.

    ``likelihood`` is P(answer | cause) [causes], ``weights`` how far it moves each cause (natural log). ``value``
    is the choice, or the number in the check's unit; ``working`` the line of arithmetic behind a computed one.
    ``counted`` is false where a more telling check of the same group was answered too.
    """

    check: Check
    value: str | float
    heard: str
    sequence: int
    scored: Scored
    likelihood: Array
    weights: Array
    working: str = ""
    counted: bool = True
    looks: int = 1

    @property
    def table(self) -> Table:
        return self.scored.table

    @property
    def row(self) -> int | None:
        return self.table.answers.index(self.value) if isinstance(self.value, str) else None


# From this chance on an answer was more probably a slip than not.
_PROBABLY = 0.5
# A finding, or what happened between findings.
Item = Finding | Try | Proof


@dataclass(frozen=True)
class Inference:
    """All that follows from a call's state: the items in order, and what is believed after the last."""

    situation: Situation
    items: tuple[Item, ...]
    belief: Belief
    known: Mapping[str, Known]
    workings: Mapping[str, Computed]
    pairs: bool

    @property
    def findings(self) -> tuple[Finding, ...]:
        return tuple(item for item in self.items if isinstance(item, Finding) and item.counted)


def infer(situation: Situation, state: CallState, pairs: bool | None = None) -> Inference:
    """What a call's evidence says. ``pairs`` forces two-fault reasoning on or off; by default evidence decides."""
    items, known, workings = _items(situation, state)
    if pairs is None:
        pairs = _pairs_wanted(situation, items)
    belief = first_belief(situation, pairs)
    for item in items:
        belief = _after(belief, situation, item)
    return Inference(situation, tuple(items), belief, known, workings, pairs)


def believed(situation: Situation, items: tuple[Item, ...], pairs: bool) -> Belief:
    """The belief after ``items``: to ask what would be believed without one of them."""
    belief = first_belief(situation, pairs)
    for item in items:
        belief = _after(belief, situation, item)
    return belief


def _after(belief: Belief, situation: Situation, item: Item) -> Belief:
    match item:
        case Finding() if item.counted:
            return answered(belief, item.likelihood, item.table, item.check.is_number, item.row)
        case Try():
            return remedied(belief, situation, remedy_chances(situation, item.remedy), item.worked)
        case Proof() if not item.passed:
            return proof_failed(belief)
        case _:
            return belief


def doubtful(inference: Inference) -> dict[str, Array]:
    """Answers that were most probably slips if the leading cause is the true one: P(the same again | cause) [causes].

    Only what was seen at the door, once, and since the last repair. The most doubtful come first.
    """
    repaired = max((number for number, item in enumerate(inference.items) if isinstance(item, Try)), default=-1)
    found: dict[str, tuple[float, Array]] = {}
    leading = int(np.argmax(inference.belief.causes()[:-1])) if inference.situation.count > 1 else -1
    for item in inference.items[repaired + 1 :]:
        if not isinstance(item, Finding) or not item.counted or item.looks != 1:
            continue
        if item.heard != "seen" or item.check.kind == "computed":
            continue
        slip = slip_of(inference.situation.trees, item.check)
        slipped = slip * item.scored.flat / item.likelihood
        if slipped[leading] > _PROBABLY:
            # Two looks that agree are both wrong only if both slipped.
            same = (1 - slipped) * (1 - slip**2) / (1 - slip) + slipped * slip
            found[item.check.id] = (float(slipped[leading]), np.minimum(same, 1.0))
    return {check: same for check, (_, same) in sorted(found.items(), key=lambda entry: -entry[1][0])}


def remedy_chances(situation: Situation, remedy: str) -> Array:
    """The chance that a remedy removes each suspect, [causes]; ``unlisted`` is never removed knowingly."""
    causes = situation.trees.causes
    chances = [causes[cause].remedies.get(remedy, 0.0) for cause in situation.causes[:-1]]
    return np.array([*chances, 0.0])


def _pairs_wanted(situation: Situation, items: list[Item]) -> bool:
    """Two faults are considered when a repair did not end it, or when the answers fit no single fault."""
    repairs = [item for item in items if isinstance(item, Try)]
    if repairs and (not repairs[-1].worked or any(isinstance(i, Proof) and not i.passed for i in items)):
        return True
    return conflict(situation, [item for item in items if isinstance(item, Finding) and item.counted]) > 0


def conflict(situation: Situation, findings: list[Finding]) -> float:
    """Jensen's conflict measure, ln ∏ P(eᵢ) / P(e): above 0 where the answers sit ill together.

    After Jensen, *Bayesian Networks and Decision Graphs*. It is the log Bayes factor for a cause under which the
    answers come as they come on the average, each for itself.
    """
    if len(findings) < 2:
        return 0.0
    prior = situation.prior[:-1] / situation.prior[:-1].sum() if situation.count > 1 else situation.prior
    matrix = np.array([finding.likelihood[: len(prior)] for finding in findings])
    with np.errstate(divide="ignore"):
        apart = float(np.log(matrix @ prior).sum())
        together = np.log(prior) + np.log(matrix).sum(axis=0)
    top = together.max()
    if not np.isfinite(top):
        return math.inf
    return apart - float(top + np.log(np.exp(together - top).sum()))


def _items(situation: Situation, state: CallState) -> tuple[list[Item], dict[str, Known], dict[str, Computed]]:
    trees = situation.trees
    items: list[Item] = []
    known: dict[str, Known] = {}
    errors: dict[str, float] = {}
    workings: dict[str, Computed] = {}
    computed_checks = [check for check in trees.checks.values() if check.kind == "computed"]
    for evidence in state.evidence:
        if not isinstance(evidence, Answer):
            items.append(evidence)
            continue
        check = trees.checks.get(evidence.check)
        if check is None:
            continue
        value, error = in_check_unit(check, evidence)
        known[check.id] = value
        errors[check.id] = error
        if not isinstance(value, tuple) and value != COULD_NOT_TELL:
            _add(items, situation, check, value, error, evidence)
        for other in computed_checks:
            if check.id not in (*other.inputs.values(), other.measured):
                continue
            result = compute(trees, other, known, errors, situation.facts)
            if result is None:
                continue
            known[other.id] = result.value
            workings[other.id] = result
            items[:] = [i for i in items if not (isinstance(i, Finding) and i.check.id == other.id)]
            _add(items, situation, other, result.value, result.error, evidence, result.working)
    return _with_unlisted(situation, _each_group_once(situation, items)), known, workings


def _add(
    items: list[Item],
    situation: Situation,
    check: Check,
    value: str | float,
    error: float,
    answer: Answer,
    working: str = "",
) -> None:
    slip = situation.trees.costs.caller_slip if answer.heard == "told" else slip_of(situation.trees, check)
    # Looks that agree are all wrong only if all slipped.
    slip = slip ** (len(answer.raw) if isinstance(answer.value, str) else 1)
    scored = score_answer(situation, check, value, error if not isinstance(value, str) else None, slip)
    if scored is not None:
        none_yet = np.zeros(situation.count)
        heard, sequence, looks = answer.heard, answer.sequence, len(answer.raw)
        items.append(Finding(check, value, heard, sequence, scored, none_yet, none_yet, working, looks=looks))


def _with_unlisted(situation: Situation, items: list[Item]) -> list[Item]:
    """Every finding's likelihood, the last one that of ``unlisted``.

    Which cause an unlisted one resembles, and how far, is learnt as answers come in: each likelihood is the prediction
    from the answers before it, so that their product is the mixture over all the likenesses, whatever the order.
    """
    prior = situation.prior[:-1] / situation.prior[:-1].sum() if situation.count > 1 else np.ones(1)
    likeness = np.outer(np.full(len(UNLIKE), 1.0 / len(UNLIKE)), prior)
    done: list[Item] = []
    for item in items:
        if isinstance(item, Finding):
            known = item.scored.known if situation.count > 1 else np.array([item.scored.flat])
            unlike = otherwise(np.array(item.scored.sound), known @ prior, item.scored.flat)
            each = (1 - UNLIKE[:, None]) * known + UNLIKE[:, None] * unlike
            both = likeness * each
            likelihood = np.append(item.scored.known, both.sum())
            item = replace(item, likelihood=likelihood, weights=weight_of_evidence(likelihood, situation.prior))
            if item.counted:
                likeness = both / both.sum()
        done.append(item)
    return done


def _each_group_once(situation: Situation, items: list[Item]) -> list[Item]:
    """Of each group's findings between two repairs, all but the most telling are set aside.

    How telling is what was found, not what was to be expected of the check: a gap seen in a spring stays, whatever
    is said of the door afterwards.
    """
    best: dict[tuple[int, str], tuple[float, str]] = {}
    stretch = 0
    stretches = []
    for item in items:
        stretch += isinstance(item, Try)
        stretches.append(stretch)
        if isinstance(item, Finding) and item.check.group:
            key = (stretch, item.check.group)
            told = (_told(situation, item), item.check.id)
            best[key] = max(best.get(key, told), told)
    kept: list[Item] = []
    for item, where in zip(items, stretches, strict=True):
        if isinstance(item, Finding) and item.check.group and best[(where, item.check.group)][1] != item.check.id:
            item = _set_aside(item)
        kept.append(item)
    return kept


def _told(situation: Situation, finding: Finding) -> float:
    """How far a finding moves the known suspects: the divergence from what was believed before it, in nats."""
    prior = situation.prior[:-1]
    after = prior * finding.scored.known
    if not after.sum() > 0:
        return math.inf
    after, prior = after / after.sum(), prior / prior.sum()
    held = after > 0
    return float(after[held] @ np.log(after[held] / prior[held]))


def _set_aside(finding: Finding) -> Finding:
    return replace(finding, counted=False)


def in_check_unit(check: Check, answer: Answer) -> tuple[Known, float]:
    """An answer's value in its check's unit, repeated readings averaged, and its standard uncertainty."""
    if isinstance(answer.value, str):
        return answer.value, 0.0
    numbers = tuple(from_si(value, check.unit) for value in answer.value)
    if check.series == "yes":
        return numbers, 0.0
    if len(numbers) == 1:
        return numbers[0], instrument_error(check, numbers[0])
    if any(math.isinf(number) for number in numbers):
        # Overload is no number to average; the last look stands.
        return numbers[-1], instrument_error(check, numbers[-1])
    from diagnose.quantities import combine

    mean, error = combine(numbers, [instrument_error(check, number) for number in numbers])
    return mean, error


def from_si(value: float, unit: str) -> float:
    from diagnose.quantities import to_unit

    return to_unit(value, unit)


def tree_facts(trees: Trees, facts: Mapping[str, str | tuple[str, ...]]) -> dict[str, str | tuple[str, ...]]:
    """The facts that these trees know of."""
    return {key: value for key, value in facts.items() if key in trees.facts}
