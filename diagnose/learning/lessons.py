"""What one closed call tells: a few small rows, made from its events alone, that learning and the shop's figures count.

A call is *confirmed* where one remedy, and no other, ended all that was complained of, and the door was proved. The
cause is then one that this remedy removes. Where the suspects hold only one such cause, its share is 1, whatever was
answered; otherwise the call is shared among them by what was believed before the remedy, times its chance to remove
each. To take the likeliest of them alone would count the program's own opinion as a finding. A call that was left to
somebody else counts for no cause; but what was found and tried on it is a finding of the cause that a later call on the
same door proves, where that is the next to put the door right, of the same complaint and before long.

A finding is the first look at a check, at the door, before that remedy. A second look is not taken: it is mostly asked
for where the first was a surprise. It is ``chosen`` where it answered the step that was put; what was volunteered is
not, for people volunteer what they see amiss.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import lru_cache
from itertools import pairwise

import msgspec
import numpy as np

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.inference import in_check_unit, infer, remedy_chances
from diagnose.calls.known import BACK
from diagnose.calls.next_step import Step
from diagnose.calls.state import Answer, CallState, Try, standing
from diagnose.knowledge.distributions import Beyond, Distribution, Mixture, probability
from diagnose.knowledge.model import UNLISTED, Check, Trees
from diagnose.reasoning.situation import instrument_error

# A call is shared among the causes that have at least this much of it; one that is not its remedy's alone has less
# than 1.
_LEAST_SHARE, _NOT_ALONE = 0.02, 0.999
# Minutes between two entries that are work and not a pause: an estimate. Quicker than this, it was typed afterwards.
_PAUSE, _TYPED_AFTER = 120.0, 0.25
# A quarter of a year: what is counted together before it is weighed by its age.
_MONTHS = 3
QUARTERS = ("1", "2", "3", "4")
# States of calls that are remembered while many calls are gone through.
_REMEMBERED = 4096
# What of an entry nothing follows from.
_NOT_TELLING = frozenset(
    ("sequence", "at", "by", "digest", "site", "door", "caller", "number", "raw", "put", "reason", "text")
)
# The entries that what is believed hangs on.
_MOVING = (
    *(ev.Opened, ev.FactStated, ev.SymptomsStated, ev.Recalled, ev.Answered, ev.Withdrawn),
    *(ev.Tried, ev.RepairDone, ev.Judged, ev.Proved),
)


@dataclass(frozen=True)
class OutcomeRow:
    """A closed call. ``day`` counts as ``date.toordinal``; ``period`` counts quarters of a year.

    ``raised`` names the set of suspects. ``promised``, ``low`` and ``high`` are what was promised before the first step
    at the door, ``took`` what the entries' times say it was, in minutes. ``chance`` is what the cause that ``led`` had
    when the first remedy was put. ``told_by`` is the later call on this door that told the cause of one which was left
    out of service: its findings and trials count, the call itself does not, for the other is that fault's.
    """

    call_id: str
    sequence: int
    day: int
    period: int
    site: str
    door: str
    kind: str
    complaint: str
    raised: str
    result: str
    confirmed: int
    cause: str
    share: float
    remedy: str
    led: str
    chance: float
    promised: float | None
    low: float | None
    high: float | None
    took: float | None
    checks: int
    remedies: int
    visits: int
    digest: str
    told_by: str = ""


@dataclass(frozen=True)
class CauseRow:
    """A confirmed call's share of one cause."""

    call_id: str
    cause: str
    share: float
    period: int
    kind: str
    complaint: str


@dataclass(frozen=True)
class FindingRow:
    """A finding, once for each cause that has a share of the call; with no cause where none is confirmed.

    ``answer`` is the word; of a reading its quarter of the cause's own spread, ``1`` to ``4``, or ``over``. ``share``
    is nothing where the check was not ``chosen``; ``sure`` is 1 where it was, and the call is that cause's alone. Of a
    call that is not confirmed nobody asks which were.
    ``value`` is the reading in the check's unit, within its range, ``log_value`` its logarithm. ``moved`` says by how
    much it changed what was believed, 0 to 1. ``minutes`` stand in the first row of a finding alone.
    """

    call_id: str
    number: int
    check_id: str
    cause: str
    answer: str
    share: float
    sure: int
    period: int
    value: float | None
    log_value: float | None
    chosen: int
    moved: float
    minutes: float | None


@dataclass(frozen=True)
class TrialRow:
    """A remedy done, once for each cause it could have removed, by that cause's share; ``worked`` 1 or 0."""

    call_id: str
    number: int
    remedy: str
    cause: str
    share: float
    period: int
    worked: int
    minutes: float | None


@dataclass(frozen=True)
class PartRow:
    """A part that the dispatch sheet put on the van, or that was not there for a repair: how many of it, of each."""

    call_id: str
    part: str
    carried: int
    missing: int


@dataclass(frozen=True)
class Lesson:
    """All rows of one call. ``suspects`` is who was suspected, as ``OutcomeRow.raised`` names it."""

    outcome: OutcomeRow
    suspects: tuple[str, ...] = ()
    causes: tuple[CauseRow, ...] = ()
    findings: tuple[FindingRow, ...] = ()
    trials: tuple[TrialRow, ...] = ()
    parts: tuple[PartRow, ...] = ()


def period_of(day: date) -> int:
    """The quarter of a year that a day lies in, counted from the year 0."""
    return (day.year * 12 + day.month - 1) // _MONTHS


class Replay:
    """What follows on some trees from the entries of calls up to some point, worked out once for entries alike."""

    def __init__(self, trees: Trees) -> None:
        self.trees = trees
        self._step = lru_cache(_REMEMBERED)(lambda entries: Call(trees, history=entries.events).next_step())
        self._present = lru_cache(_REMEMBERED)(lambda entries: Call(trees, history=entries.events).inference.present)

    def step(self, events: Sequence[ev.AnyEvent]) -> Step:
        """The step that is put after these entries."""
        return self._step(_Entries(events, events))

    def present(self, events: Sequence[ev.AnyEvent]) -> np.ndarray:
        """How likely each cause is after these entries, [causes]."""
        return self._present(_Entries(events, [each for each in standing(events) if isinstance(each, _MOVING)]))


class _Entries:
    """Entries as a key: alike where ``telling`` say the same, whoever said it, where, when, and in what words."""

    def __init__(self, events: Sequence[ev.AnyEvent], telling: Sequence[ev.AnyEvent]) -> None:
        self.events = events
        said = (msgspec.to_builtins(each) for each in telling)
        self._said = msgspec.json.encode([{k: v for k, v in each.items() if k not in _NOT_TELLING} for each in said])

    def __hash__(self) -> int:
        return hash(self._said)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Entries) and other._said == self._said


def lesson(
    trees: Trees,
    call_id: str,
    events: Sequence[ev.AnyEvent],
    replay: Replay | None = None,
    later: tuple[str, str] | None = None,
) -> Lesson | None:
    """What a call tells; ``None`` while it is open. A call about nothing that the trees know tells little.

    ``replay`` remembers, from call to call, what followed on these trees. ``later`` is a later call on the door that
    was handed over unrepaired, and the cause which that call proved.
    """
    replay = replay or Replay(trees)
    call = Call(trees, history=events)
    state = call.state
    if state.outcome is None:
        return None
    day = datetime.fromisoformat(state.last_at).date()
    period, kind = period_of(day), kind_of(trees, state.facts)
    pace = _Pace(trees, events)
    row = OutcomeRow(
        call_id=call_id,
        sequence=events[-1].sequence,
        day=day.toordinal(),
        period=period,
        site=state.site.replace("\0", ""),
        door=state.door.replace("\0", ""),
        kind=kind,
        complaint="",
        raised="",
        result=state.outcome,
        confirmed=0,
        cause="",
        share=0.0,
        remedy="",
        led="",
        chance=0.0,
        promised=None,
        low=None,
        high=None,
        took=pace.took,
        checks=sum(isinstance(item, Answer) and item.heard == "seen" for item in state.evidence),
        remedies=len(state.tries),
        visits=pace.visits,
        digest=events[-1].digest,
    )
    parts = tuple(_parts(trees, call_id, state, events))
    complaints = call.symptoms
    if not complaints:
        return Lesson(row, parts=parts)
    shares = _shares(call)
    cause = max(shares, key=lambda each: (shares[each], each), default="")
    confirmed = bool(shares) and cause != UNLISTED
    suspects = call.situation.causes[:-1]
    led, chance = _led(call)
    promised, low, high = _promise(replay, events)
    row = replace(
        row,
        complaint=complaints[0],
        raised=raised_name(complaints[0], suspects),
        confirmed=int(confirmed),
        cause=cause,
        share=shares.get(cause, 0.0),
        remedy=state.tries[-1].remedy if confirmed else "",
        led=led,
        chance=chance,
        promised=promised,
        low=low,
        high=high,
    )
    held = shares if confirmed else {}
    causes = tuple(CauseRow(call_id, each, share, period, kind, complaints[0]) for each, share in held.items())
    if later is not None and not any(shares.values()) and later[1] in suspects:
        row, held = replace(row, told_by=later[0], cause=""), {later[1]: 1.0}
    return Lesson(
        row,
        suspects,
        causes,
        tuple(_findings(replay, call_id, events, call, held, period, pace)),
        tuple(_trials(call_id, call, held, period, pace)),
        parts,
    )


def kind_of(trees: Trees, facts: Mapping[str, str | tuple[str, ...]]) -> str:
    """The kind of door, by the facts that the trees tell kinds apart by: ``trolley, sectional``."""
    said = (facts.get(fact.id, "") for fact in trees.facts.values() if fact.kind == "yes")
    return ", ".join(each if isinstance(each, str) else "+".join(each) for each in said if each)


def raised_name(complaint: str, suspects: Sequence[str]) -> str:
    """A short name of a complaint with a set of suspects."""
    return hashlib.sha256("\n".join((complaint, *suspects)).encode()).hexdigest()[:24]


def quarter(spread: Distribution, check: Check, value: float) -> str:
    """The quarter of a spread that a reading lies in, ``1`` to ``4``; ``over`` where its overload is a part of it."""
    over = over_share(spread)
    if math.isinf(value) and over:
        return "over"
    below = probability(spread, -math.inf, value, instrument_error(check, value)) if math.isfinite(value) else 1.0
    return str(min(4, 1 + int(4 * below / max(1 - over, 1e-9))))


def over_share(spread: Distribution) -> float:
    """How much of a spread is an overload of the meter."""
    if isinstance(spread, Mixture):
        return sum(share for share, part in spread.parts if isinstance(part, Beyond))
    return 1.0 if isinstance(spread, Beyond) else 0.0


# --- inside ------------------------------------------------------------------------------------------------------


def _confirming(state: CallState) -> Try | None:
    """The one remedy that ended it, on a door that was proved."""
    if state.outcome not in BACK or not state.tries or not state.cured or not all(state.proofs.values()):
        return None
    *before, last = state.tries
    in_vain = all(item.worked is False and set(item.outcomes.values()) <= {"still there"} for item in before)
    return last if last.worked and in_vain else None


def _shares(call: Call) -> dict[str, float]:
    """Each cause's share of a confirmed call; all of it ``unlisted`` where what helped is in no tree.

    Where nothing helped, and nothing known fits, it is ``unlisted`` with no share: that is the program's opinion, to be
    looked into by a person and not to be counted.
    """
    state = call.state
    done = _confirming(state)
    if done is None:
        return {UNLISTED: 0.0} if state.at_the_door and not state.cured and call.nothing_fits else {}
    inference = infer(call.situation, state.before(done))
    chances = remedy_chances(inference.situation, done.remedy)
    able = np.flatnonzero(chances)
    causes = inference.situation.causes
    if not len(able):
        return {UNLISTED: 1.0}
    if len(able) == 1:
        return {causes[int(able[0])]: 1.0}
    weights = inference.belief.causes()[able] * chances[able]
    weights = weights / weights.sum() if weights.sum() > 0 else np.full(len(able), 1 / len(able))
    weights = np.where(weights >= _LEAST_SHARE, weights, 0.0)
    weights = np.minimum(weights / weights.sum(), _NOT_ALONE)
    return {causes[int(i)]: float(w) for i, w in zip(able, weights, strict=True) if w > 0}


def _led(call: Call) -> tuple[str, float]:
    """Which cause led when the first remedy was put, or at the end, and how likely it was said to be."""
    state = call.state
    inference = infer(call.situation, state.before(state.tries[0])) if state.tries else call.inference
    present = inference.present
    first = int(np.argmax(present))
    return inference.situation.causes[first], float(present[first])


def _at_the_door(event: ev.AnyEvent) -> bool:
    if isinstance(event, ev.Answered):
        return event.heard == "seen"
    return isinstance(event, (ev.EnergyEntered, ev.Tried, ev.RepairDone, ev.Proved, ev.Judged))


def _promise(replay: Replay, events: Sequence[ev.AnyEvent]) -> tuple[float | None, float | None, float | None]:
    """Minutes to a proven door and the middle 80 % of them, as they stood before the first step at the door."""
    first = next((number for number, event in enumerate(events) if _at_the_door(event)), 0)
    if not first or (step := replay.step(events[:first])).kind == "stop":
        return None, None, None
    return step.expected_minutes_left, *step.interval


class _Pace:
    """How long things took, by the times of the entries."""

    def __init__(self, trees: Trees, events: Sequence[ev.AnyEvent]) -> None:
        times = [datetime.fromisoformat(event.at) for event in events]
        # A clock that was set back takes no minutes away.
        gaps = [max(0.0, (later - earlier).total_seconds() / 60) for earlier, later in pairwise(times)]
        first = next((number for number, event in enumerate(events) if _at_the_door(event)), len(events))
        last = max((number for number, event in enumerate(events) if _at_the_door(event)), default=-1)
        # What came before somebody was there is no work at the door, where a caller was asked first.
        begun = first + 1 if any(isinstance(event, ev.DangerStated) or _is_told(event) for event in events) else first
        here = {number: gaps[number - 1] for number in range(max(begun, 1), last + 1)}
        self.visits = 1 + sum(gap > _PAUSE for number, gap in here.items() if number > first) if last >= 0 else 0
        took = sum(gap for gap in here.values() if gap <= _PAUSE)
        self.took: float | None = took if took >= 1 else None
        self._by_sequence = {events[number].sequence: gap for number, gap in here.items()}

    def minutes(self, sequence: int) -> float | None:
        """What went before an entry, where that was work on it."""
        gap = self._by_sequence.get(sequence)
        return gap if gap is not None and _TYPED_AFTER <= gap <= _PAUSE else None


def _is_told(event: ev.AnyEvent) -> bool:
    return isinstance(event, ev.Answered) and event.heard == "told"


@dataclass
class _Look:
    event: ev.Answered
    before: int
    value: str | tuple[float, ...]


def _looks(trees: Trees, events: Sequence[ev.AnyEvent], last: int) -> list[_Look]:
    """The first looks at the door before the entry numbered ``last``, in order, each corrected where it was, and how
    many entries came before it."""
    counting = {event.sequence for event in standing(events)}
    looks: dict[str, _Look] = {}
    for number, event in enumerate(events):
        if event.sequence >= last or event.sequence not in counting:
            continue
        if isinstance(event, ev.Withdrawn):
            looks.pop(event.check, None)
        if not isinstance(event, ev.Answered) or event.heard != "seen" or event.check not in trees.checks:
            continue
        if event.mode == "correction" and event.check in looks:
            looks[event.check].value = event.value
        elif event.check not in looks:
            looks[event.check] = _Look(event, number, event.value)
    return list(looks.values())


def _was_put(replay: Replay, events: Sequence[ev.AnyEvent], look: _Look) -> bool:
    """Whether a look answered the step that was put; worked out anew where nobody took that down."""
    put = look.event.put
    return replay.step(events[: look.before]).asks(look.event.check) if put is None else put


def _moved(replay: Replay, events: Sequence[ev.AnyEvent], look: _Look) -> float:
    """By how much a look changed what is believed: half the sum of all changes."""
    before, after = replay.present(events[: look.before]), replay.present(events[: look.before + 1])
    return float(0.5 * np.abs(after - before).sum())


def _findings(
    replay: Replay,
    call_id: str,
    events: Sequence[ev.AnyEvent],
    call: Call,
    shares: Mapping[str, float],
    period: int,
    pace: _Pace,
) -> Iterator[FindingRow]:
    trees, situation, done = call.trees, call.situation, _confirming(call.state)
    groups: set[str] = set()
    for number, look in enumerate(_looks(trees, events, done.sequence if done else events[-1].sequence + 1), start=1):
        check, minutes = trees.checks[look.event.check], pace.minutes(look.event.sequence)
        value, word = _as_number(check, look)
        low, high = check.plausible or (-math.inf, math.inf)
        shown = None if value is None or not math.isfinite(clipped := min(max(value, low), high)) else clipped
        # What another check of its group has shown has a hand in what this one shows.
        chosen = bool(shares) and check.group not in groups and _was_put(replay, events, look)
        moved = _moved(replay, events, look)
        groups |= {check.group} - {""}
        for cause, share in (shares or {"": 0.0}).items():
            lost = situation.unable.get(check.id)
            index = situation.causes.index(cause) if cause else -1
            # What a lost function makes meaningless says nothing of what the check shows.
            said = bool(cause) and check.id in situation.tables and not (lost is not None and lost[index] > 0)
            spread = trees.causes[cause].signs.get(check.id, check.healthy) if said else None
            answer = word if value is None else quarter(spread, check, value) if spread is not None else ""
            counted = share if said and chosen else 0.0
            yield FindingRow(
                call_id=call_id,
                number=number,
                check_id=check.id,
                cause=cause if said else "",
                answer=answer,
                share=counted,
                sure=int(counted == 1.0),
                period=period,
                value=shown,
                log_value=math.log(shown) if shown is not None and shown > 0 else None,
                chosen=int(chosen),
                moved=moved,
                minutes=minutes,
            )
            minutes = None


def _as_number(check: Check, look: _Look) -> tuple[float | None, str]:
    """A look as a number in the check's unit, or as a word."""
    event = look.event
    if isinstance(look.value, str) or check.series == "yes":
        return None, look.value if isinstance(look.value, str) else ""
    answer = Answer(check.id, look.value[:1], (event.raw,), event.unit, "seen", event.at, event.by, event.sequence)
    value, _ = in_check_unit(check, answer)
    return (value, "") if isinstance(value, float) else (None, "")


def _trials(call_id: str, call: Call, shares: Mapping[str, float], period: int, pace: _Pace) -> Iterator[TrialRow]:
    trees, state = call.trees, call.state
    if shares:
        held: Mapping[str, float] = shares
    else:
        present = call.inference.belief.causes()[:-1]
        held = {call.situation.causes[i]: float(p) for i, p in enumerate(present) if p >= _LEAST_SHARE}
    for number, done in enumerate(state.tries, start=1):
        if done.worked is None:
            continue
        able = {cause: share for cause, share in held.items() if done.remedy in trees.causes[cause].remedies}
        minutes = pace.minutes(done.sequence)
        for cause, share in (able or {"": 0.0}).items():
            yield TrialRow(call_id, number, done.remedy, cause, share, period, int(done.worked), minutes)
            minutes = None


def _parts(trees: Trees, call_id: str, state: CallState, events: Sequence[ev.AnyEvent]) -> Iterator[PartRow]:
    """What was on the van, and what was not there when a repair was to be done, even where it was fetched since."""
    wanted = {
        (event.step, part)
        for event in standing(events)
        if isinstance(event, ev.PutOff) and event.step in trees.remedies
        for part in event.missing
    }
    missing: dict[str, int] = {}
    for remedy, part in wanted:
        missing[part] = missing.get(part, 0) + trees.remedies[remedy].parts.get(part, 1)
    for part in sorted({*state.load, *missing}):
        yield PartRow(call_id, part, state.load.get(part, 0), missing.get(part, 0))
