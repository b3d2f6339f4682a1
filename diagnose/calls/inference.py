"""From a call's state to what is believed: each piece of evidence in its order, counted once.

Computed checks join in as soon as their last input is there. Of several answered checks of one ``group`` between
two repairs only the most telling one counts: they measure the same thing.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from diagnose.calls.state import Answer, CallState, Proof, Try
from diagnose.knowledge.model import COULD_NOT_TELL, Check
from diagnose.reasoning.belief import (
    TWO_AT_ONCE,
    Belief,
    answered,
    first_belief,
    proof_failed,
    remedied,
    weight_of_evidence,
    without_nothing,
)
from diagnose.reasoning.compute import Computed, compute
from diagnose.reasoning.evidence import conflict, same_again, slipped, with_unlisted
from diagnose.reasoning.situation import (
    Array,
    Scored,
    Situation,
    Table,
    instrument_error,
    score_answer,
    slip_of,
)
from diagnose.reasoning.suspects import brought_by
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
    def present(self) -> Array:
        """P(cause is in the door now), [causes]; given that something is, where causes exclude each other."""
        present = self.belief.causes()
        total = float(present.sum())
        return present / total if self.situation.trees.exclusive == "yes" and total > 0 else present

    @property
    def findings(self) -> tuple[Finding, ...]:
        return tuple(item for item in self.items if isinstance(item, Finding) and item.counted)


def infer(situation: Situation, state: CallState, pairs: bool | None = None) -> Inference:
    """What a call's evidence says. ``pairs`` forces two-fault reasoning on or off; by default evidence decides."""
    items, known, workings = _items(situation, state)
    if pairs is None:
        pairs = _pairs_wanted(situation, items)
    belief = believed(situation, tuple(items), pairs)
    return Inference(situation, tuple(items), belief, known, workings, pairs)


def believed(situation: Situation, items: tuple[Item, ...], pairs: bool) -> Belief:
    """The belief after ``items``: to ask what would be believed without one of them."""
    counted = [item for item in items if isinstance(item, Finding) and item.counted]
    likelihoods = [(item.likelihood, item.scored.sound) for item in counted]
    repaired = any(isinstance(item, Try) for item in items)
    belief = first_belief(situation, pairs, likelihoods, TWO_AT_ONCE if repaired else 0.0)
    for item in items:
        belief = _after(belief, situation, item)
    return without_nothing(belief) if _surely_left(situation, items) else belief


def _surely_left(situation: Situation, items: Iterable[Item]) -> set[str]:
    """The complaints that are neither said to be gone nor could have been ended by what was done."""
    tries = [item for item in items if isinstance(item, Try)]
    gone = {symptom for item in tries for symptom, now in item.outcomes.items() if now == "gone"}
    removed = {situation.causes[i] for item in tries for i in remedy_chances(situation, item.remedy).nonzero()[0]}
    trees, facts = situation.trees, situation.facts
    left = (each for each in situation.symptoms if tries and each not in gone)
    return {each for each in left if removed.isdisjoint(brought_by(trees, facts, each))}


def _after(belief: Belief, situation: Situation, item: Item) -> Belief:
    match item:
        case Finding() if item.counted:
            counts = situation.trees.costs.independence
            return answered(belief, item.likelihood, item.table, item.check.is_number, item.row, counts)
        case Try():
            known = situation.trees.symptoms
            still = {s: now != "gone" for s, now in item.outcomes.items() if s in known and now != "too early"}
            return remedied(belief, situation, remedy_chances(situation, item.remedy), item.worked, still)
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
        chance = slipped(inference.situation, item.check, item.scored, item.likelihood)
        if chance[leading] > _PROBABLY:
            found[item.check.id] = (float(chance[leading]), same_again(inference.situation, item.check, chance))
    return {check: same for check, (_, same) in sorted(found.items(), key=lambda entry: -entry[1][0])}


def remedy_chances(situation: Situation, remedy: str) -> Array:
    """The chance that a remedy removes each suspect, [causes]; ``unlisted`` is never removed knowingly."""
    causes = situation.trees.causes
    chances = [causes[cause].remedies.get(remedy, 0.0) for cause in situation.causes[:-1]]
    return np.array([*chances, 0.0])


def changed_by(situation: Situation, remedy: str) -> set[str]:
    """The checks that tell only of what a remedy removes: what they found before it says nothing of the door after."""
    treated = {cause for cause in situation.causes[:-1] if remedy in situation.trees.causes[cause].remedies}
    of_these = {check for cause in treated for check in situation.trees.causes[cause].signs}
    others = {
        check
        for cause in situation.causes[:-1]
        if cause not in treated
        for check in situation.trees.causes[cause].signs
    }
    return of_these - others


def _pairs_wanted(situation: Situation, items: list[Item]) -> bool:
    """Two faults are considered when a repair did not, or could not, end it, or when the answers fit no single fault.

    Never where causes exclude each other.
    """
    if situation.trees.exclusive == "yes":
        return False
    repairs = [item for item in items if isinstance(item, Try)]
    if repairs and (
        repairs[-1].worked is False
        or any(isinstance(i, Proof) and not i.passed for i in items)
        or _surely_left(situation, items)
    ):
        return True
    return conflict(situation, [i.likelihood for i in items if isinstance(i, Finding) and i.counted]) > 0


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
            if isinstance(evidence, Try):
                for stale in changed_by(situation, evidence.remedy):
                    # A reading no longer holds. What was only seen is not asked again for a repair in vain: belief,
                    # which went on from it to the repair, knows that it was the old state.
                    if evidence.worked is not False or trees.checks[stale].is_number:
                        known.pop(stale, None)
                        errors.pop(stale, None)
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
            if check.id not in other.sources:
                continue
            result = compute(trees, other, known, errors, situation.facts)
            if result is None:
                continue
            known[other.id] = result.value
            workings[other.id] = result
            items[:] = [i for i in items if not (isinstance(i, Finding) and i.check.id == other.id)]
            _add(items, situation, other, result.value, result.error, evidence, result.working)
    return _with_likelihoods(situation, _each_group_once(situation, items)), known, workings


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


def _with_likelihoods(situation: Situation, items: list[Item]) -> list[Item]:
    """Every finding with what it says of each cause, ``unlisted`` too."""
    findings = [item for item in items if isinstance(item, Finding)]
    likelihoods = iter(with_unlisted(situation, [f.scored for f in findings], [f.counted for f in findings]))
    done: list[Item] = []
    for item in items:
        if isinstance(item, Finding):
            likelihood = next(likelihoods)
            weights = situation.trees.costs.independence * weight_of_evidence(likelihood, situation.prior)
            item = replace(item, likelihood=likelihood, weights=weights)
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
            item = replace(item, counted=False)
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
