"""What counts of closed calls propose to change in the trees, and which numbers they say are untrue. Pure.

A proposal is the posterior mean of ``estimates``, with the trees' own number as the prior, worth so many calls by its
source (``costs.worth``). Shares of answers and base rates are proposed, the middle of a normal or lognormal spread,
minutes, and the success of remedies. How often a cause is in no tree is not: such a call seldom ends with its cause
found, so that those which do say nothing of how many there are. A spread of another shape, and the width of any, is
not either: where its quarters are not met evenly it is flagged, for somebody who knows why to write anew.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from diagnose.knowledge.distributions import Distribution, LogNormal, Normal, Shares
from diagnose.knowledge.learned import Change, Number, What, rounded
from diagnose.knowledge.model import USUAL_WORTH, Check, Remedy, Trees
from diagnose.learning.estimates import (
    Raised,
    expected_calls,
    flagged,
    log_bayes_factor,
    pooled,
    pooled_shares,
    rates_from_calls,
    without_slips,
)
from diagnose.learning.lessons import QUARTERS, over_share
from diagnose.learning.records import AnswerCount, Counts

# A change smaller than this is not worth anybody's reading: of a rate or of minutes by a factor, of shares by a
# difference. A flag says that shares are off by at least so much.
_FACTOR, _DIFFERENCE, _FLAG_DIFFERENCE = 1.1, 0.03, 0.1
# A kind of door is told apart where its rate is off that of all doors by this factor.
_KIND_FACTOR = 1.5
# A base rate that is worth so many calls is known as if one case of its cause had been among each twenty of them,
# however rare the cause: an estimate, worth 20, may well be wrong by a factor of three.
_CALLS_A_CASE = 20
# How a source is told: what it begins with.
_SOURCES = ("estimate", "common practice", "counted", "open data")


@dataclass(frozen=True)
class Flag:
    """A likelihood that what was seen speaks against; ``cause`` is empty where it is a check's own sound shares.

    ``said`` and ``seen`` are shares of answers, or of the quarters of a spread; ``calls`` is how many met it;
    ``factor`` is ln of the Bayes factor against it.
    """

    cause: str
    check: str
    said: Mapping[str, float]
    seen: Mapping[str, float]
    calls: int
    factor: float


@dataclass(frozen=True)
class Proposals:
    """Changes, those of one sort together and the largest first; the flags, strongest first, and of how many tested."""

    changes: tuple[Change, ...]
    flags: tuple[Flag, ...]
    tested: int


def worth(trees: Trees, source: str) -> float:
    """What a number from ``source`` is worth, in calls."""
    named = next((each for each in _SOURCES if source.casefold().startswith(each)), "published")
    named = "counted" if named == "open data" else "common practice" if "from memory" in source else named
    return _worth_of(trees, named)


def _worth_of(trees: Trees, named: str) -> float:
    return trees.costs.worth.get(named, USUAL_WORTH[named])


def propose(trees: Trees, counts: Counts) -> Proposals:
    """What the counts propose for ``trees``, which are those that are written, without what was learnt before."""
    tallies = _tallies(trees, counts.answers)
    complaints = list(_complaints(trees, counts))
    changes = [
        *_base_rates(trees, counts, complaints),
        *complaints,
        *_answers(trees, tallies),
        *_minutes(trees, counts),
        *_successes(trees, counts),
    ]
    flags, tested = _flags(trees, tallies)
    return Proposals(tuple(changes), flags, tested)


# --- base rates --------------------------------------------------------------------------------------------------


def _base_rates(trees: Trees, counts: Counts, complaints: Iterable[Change]) -> list[Change]:
    """Base rates that go with ``complaints``: what those say of how a cause is reported is not counted twice."""
    reported = {(change.entry, change.at): _number(change.to) for change in complaints}
    causes = list(trees.causes)
    number = {cause: index for index, cause in enumerate(causes)}
    base = np.array([trees.causes[cause].base for cause in causes])
    cases = np.array([worth(trees, trees.causes[cause].source) / _CALLS_A_CASE for cause in causes])
    sets = [
        (kind, _raised(trees, reported, number, complaint, names, count))
        for complaint, kind, names, count in counts.raised
    ]
    met: dict[str, np.ndarray] = {}
    for (cause, kind), share in counts.causes.items():
        if cause in number:
            met.setdefault(kind, np.zeros(len(causes)))[number[cause]] += share
    total = sum(met.values(), np.zeros(len(causes)))
    if total.sum() < trees.costs.enough:
        return []
    everywhere = [each for _, each in sets]
    rates, expected = rates_from_calls(base, cases, total, everywhere), expected_calls(base, everywhere)
    changes = [
        _change("base rate", cause, "", base[i], rates[i], total[i], expected=expected[i])
        for i, cause in enumerate(causes)
        if max(total[i], expected[i]) >= 1 and _differs(base[i], rates[i])
    ]
    changes.sort(key=lambda change: -abs(_number(change.to) - _number(change.was)))
    for kind, seen in sorted(met.items()):
        changes += _of_kind(trees, kind, causes, base, rates, seen, [each for name, each in sets if name == kind])
    return changes


def _raised(
    trees: Trees,
    reported: Mapping[tuple[str, str], float],
    number: Mapping[str, int],
    complaint: str,
    names: Iterable[str],
    count: float,
) -> Raised:
    """The suspects that the complaint names: of the others it is only guessed how often they are complained of so, and
    that they are not met says no more than that."""
    written = trees.symptoms[complaint].causes if complaint in trees.symptoms else {}
    known = [name for name in names if name in number and name in written]
    chances = np.array([reported.get((name, complaint), written[name]) for name in known], dtype=float)
    return Raised(count, np.array([number[name] for name in known], dtype=np.intp), chances)


def _of_kind(
    trees: Trees,
    kind: str,
    causes: list[str],
    base: np.ndarray,
    rates: np.ndarray,
    seen: np.ndarray,
    sets: list[Raised],
) -> Iterator[Change]:
    """Rates of doors of one kind, where there are calls enough and they are not those of all doors."""
    facts = [fact for fact in trees.facts.values() if fact.kind == "yes"]
    said = kind.split(", ")
    heavy = _worth_of(trees, "all kinds")
    if seen.sum() < heavy or len(said) != len(facts) or any("+" in each for each in said):
        return
    here = rates_from_calls(rates, np.full(len(causes), heavy / _CALLS_A_CASE), seen, sets)
    expected = expected_calls(base, sets)
    when = {fact.id: value for fact, value in zip(facts, said, strict=True)}
    for i, cause in enumerate(causes):
        if seen[i] >= trees.costs.enough and abs(math.log(here[i] / rates[i])) > math.log(_KIND_FACTOR):
            yield _change("base rate", cause, "", base[i], here[i], seen[i], when, expected[i])


def _complaints(trees: Trees, counts: Counts) -> Iterator[Change]:
    """How a cause is reported: a Dirichlet over its complaints, which together keep the weight that is written."""
    reported: dict[str, dict[str, float]] = {}
    for (cause, complaint), share in counts.complaints.items():
        reported.setdefault(cause, {})[complaint] = share
    for cause, seen in sorted(reported.items()):
        written = {s.id: s.causes[cause] for s in trees.symptoms.values() if cause in s.causes}
        calls, weight = sum(seen.get(name, 0.0) for name in written), sum(written.values())
        if calls < trees.costs.enough or len(written) < 2:
            continue
        prior = {name: chance / weight for name, chance in written.items()}
        shares = pooled_shares(prior, worth(trees, trees.causes[cause].source), seen)
        for name, share in shares.items():
            to = min(share * weight, 0.98)
            if _differs(written[name], to):
                yield _change("complaint", cause, name, written[name], to, calls)


# --- answers and readings ----------------------------------------------------------------------------------------


class _Place(NamedTuple):
    """A cause and a check; no cause stands for all that leave the check as it is on a sound door."""

    cause: str
    check: str


@dataclass
class _Tally:
    """What a check showed where it was put: by answer or quarter, weighted and for sure, and sums of readings."""

    weighted: dict[str, float]
    sure: dict[str, int]
    numbers: float = 0.0
    values: float = 0.0
    logs: float = 0.0

    def add(self, count: AnswerCount) -> None:
        self.weighted[count.answer] = self.weighted.get(count.answer, 0.0) + count.weighted
        self.sure[count.answer] = self.sure.get(count.answer, 0) + count.sure
        self.numbers += count.weighted if count.answer in QUARTERS else 0.0
        self.values += count.values
        self.logs += count.logs


def _tallies(trees: Trees, answers: Iterable[AnswerCount]) -> dict[_Place, _Tally]:
    tallies: dict[_Place, _Tally] = {}
    for count in answers:
        if count.cause not in trees.causes or count.check not in trees.checks:
            continue
        tallies.setdefault(_Place(count.cause, count.check), _Tally({}, {})).add(count)
        if count.check not in trees.causes[count.cause].signs:
            tallies.setdefault(_Place("", count.check), _Tally({}, {})).add(count)
    return tallies


def _spread(trees: Trees, place: _Place) -> Distribution | None:
    check = trees.checks[place.check]
    return trees.causes[place.cause].signs.get(place.check, check.healthy) if place.cause else check.healthy


def _slip(trees: Trees, check: Check) -> float:
    return trees.costs.slip if check.slip is None else check.slip


def _answers(trees: Trees, tallies: Mapping[_Place, _Tally]) -> Iterator[Change]:
    for place, tally in sorted(tallies.items()):
        spread, check = _spread(trees, place), trees.checks[place.check]
        if place.cause and place.check not in trees.causes[place.cause].signs:
            continue
        source = trees.causes[place.cause].source if place.cause else check.source
        entry, at = (place.cause, place.check) if place.cause else (place.check, "")
        if isinstance(spread, Shares):
            seen = {answer: tally.weighted.get(answer, 0.0) for answer in spread.shares}
            calls = sum(seen.values())
            if calls < trees.costs.enough:
                continue
            to = without_slips(spread.shares, worth(trees, source), seen, _slip(trees, check))
            if _apart(spread.shares, to) >= _DIFFERENCE:
                yield _change("answers" if place.cause else "sound answers", entry, at, spread.shares, to, calls)
        elif isinstance(spread, (Normal, LogNormal)) and tally.numbers >= trees.costs.enough:
            was, to_middle = _middle(spread, worth(trees, source), tally)
            if abs(to_middle - was) >= _DIFFERENCE * _width(spread):
                what: What = "reading" if place.cause else "sound reading"
                yield _change(what, entry, at, was, to_middle, tally.numbers)


def _middle(spread: Normal | LogNormal, worth_of_it: float, tally: _Tally) -> tuple[float, float]:
    if isinstance(spread, Normal):
        return spread.mean, pooled(spread.mean, worth_of_it, tally.numbers, tally.values)
    return spread.median, math.exp(pooled(math.log(spread.median), worth_of_it, tally.numbers, tally.logs))


def _width(spread: Normal | LogNormal) -> float:
    return spread.spread if isinstance(spread, Normal) else spread.median * math.log(spread.factor)


def _flags(trees: Trees, tallies: Mapping[_Place, _Tally]) -> tuple[tuple[Flag, ...], int]:
    """Every likelihood that was met is tested; what is flagged is off by something, and seldom by chance."""
    tested: list[Flag] = []
    for place, tally in sorted(tallies.items()):
        said = _expected(trees, place)
        counts = np.array([tally.sure.get(answer, 0) for answer in said], dtype=float)
        if len(said) < 2 or not counts.sum():
            continue
        seen = {answer: float(count / counts.sum()) for answer, count in zip(said, counts, strict=True)}
        factor = log_bayes_factor(counts, np.array(list(said.values())))
        tested.append(Flag(place.cause, place.check, said, seen, int(counts.sum()), factor))
    believed = [tested[index] for index in flagged([each.factor for each in tested], trees.costs.false_alarms)]
    far = [each for each in believed if _apart(each.said, each.seen) >= _FLAG_DIFFERENCE]
    return tuple(sorted(far, key=lambda each: -each.factor)), len(tested)


def _expected(trees: Trees, place: _Place) -> dict[str, float]:
    """What should be seen, slips of the reader among it: shares of answers, or of a spread's quarters."""
    spread, check = _spread(trees, place), trees.checks[place.check]
    if spread is None:
        return {}
    if isinstance(spread, Shares):
        shares: Mapping[str, float] = spread.shares
    else:
        over = over_share(spread)
        if over > 0.99:
            return {}
        shares = {**dict.fromkeys(QUARTERS, (1 - over) / 4), **({"over": over} if over else {})}
    slip = _slip(trees, check)
    return {answer: (1 - slip) * share + slip / len(shares) for answer, share in shares.items()}


# --- minutes and remedies ----------------------------------------------------------------------------------------


def _minutes(trees: Trees, counts: Counts) -> Iterator[Change]:
    kinds: tuple[tuple[What, Mapping[str, tuple[float, float]], Mapping[str, Check | Remedy]], ...] = (
        ("minutes of check", counts.check_minutes, trees.checks),
        ("minutes of remedy", counts.remedy_minutes, trees.remedies),
    )
    for what, timed, entries in kinds:
        for identity, (count, minutes) in sorted(timed.items()):
            entry = entries.get(identity)
            if entry is None or count < trees.costs.enough or entry.minutes <= 0:
                continue
            to = pooled(entry.minutes, worth(trees, entry.source), count, minutes)
            if _differs(entry.minutes, to):
                yield _change(what, identity, "", entry.minutes, to, count)


def _successes(trees: Trees, counts: Counts) -> Iterator[Change]:
    for trial in counts.trials:
        cause = trees.causes.get(trial.cause)
        chance = cause.remedies.get(trial.remedy) if cause is not None else None
        if cause is None or chance is None or trial.done < trees.costs.enough:
            continue
        to = min(pooled(chance, worth(trees, cause.source), trial.done, trial.worked), 0.999)
        if abs(to - chance) >= _DIFFERENCE:
            yield _change("success of remedy", trial.remedy, trial.cause, chance, to, trial.done)


# --- small things ------------------------------------------------------------------------------------------------


def _change(
    what: What,
    entry: str,
    at: str,
    was: Number,
    to: Number,
    calls: float,
    when: dict[str, str] | None = None,
    expected: float = 0.0,
) -> Change:
    start = rounded(dict(was) if isinstance(was, Mapping) else float(was))
    end = rounded(to if isinstance(to, dict) else float(to))
    return Change(
        what=what,
        entry=entry,
        at=at,
        when=when or {},
        was=start,
        to=end,
        calls=_tenths(calls),
        expected=_tenths(expected),
    )


def _tenths(value: float) -> float:
    return round(float(value), 1)


def _number(value: Number) -> float:
    return value if isinstance(value, float) else math.nan


def _differs(before: float, after: float) -> bool:
    return before > 0 and after > 0 and abs(math.log(after / before)) > math.log(_FACTOR)


def _apart(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """Half the sum of all differences of two sets of shares."""
    return 0.5 * sum(abs(one.get(name, 0.0) - other.get(name, 0.0)) for name in {*one, *other})
