"""A call's state, folded from its events. Pure: the same events give the same state, today and in ten years."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from diagnose.calls import events as ev
from diagnose.calls.events import AnyEvent, Came, Now, Outcome, Then

Value = str | tuple[float, ...]


class Answer(Struct, frozen=True):
    """What is held to be the answer of a check: a word, or SI numbers, repeated readings each their own.

    ``raw`` has what was typed at each look that found it so.
    """

    check: str
    value: Value
    raw: tuple[str, ...]
    unit: str
    heard: Literal["seen", "told"]
    at: str
    by: str
    sequence: int


class Try(Struct, frozen=True):
    """A remedy done, and whether it ended what was complained of; ``None`` while that is still to be seen.

    ``outcomes`` says what each complaint did since, as far as they were told apart.
    """

    remedy: str
    worked: bool | None
    at: str
    sequence: int
    outcomes: Mapping[str, Now] = {}


class Proof(Struct, frozen=True):
    """A proof run, and how it came out."""

    proof: str
    passed: bool
    at: str
    sequence: int


class Job(Struct, frozen=True):
    """A piece of work on a walk, and how it last came out."""

    job: str
    came: Came
    reason: str
    at: str
    by: str
    sequence: int


# A step by its kind and its id.
Named = tuple[str, str]

# What moves the belief, in the order it happened.
Evidence = Answer | Try | Proof


class CallState(Struct, frozen=True):
    """Everything known of a call. ``evidence`` is in order; an answer replaced by a better record keeps its place."""

    facts: dict[str, str | tuple[str, ...]] = {}
    symptoms: tuple[str, ...] = ()
    site: str = ""
    door: str = ""
    # Who called, and the number to call back.
    caller: str = ""
    number: str = ""
    people: tuple[str, ...] = ("anyone", "technician")
    # Those whom the call waits for, and when they come.
    coming: dict[str, str] = {}
    evidence: tuple[Evidence, ...] = ()
    dangers: dict[str, str] = {}
    # Dangers of which the caller has heard what to do.
    told: frozenset[str] = frozenset()
    notes: tuple[tuple[str, str], ...] = ()
    # Left for later and not done since, in the order they were put off.
    put_off: tuple[Named, ...] = ()
    # Of the repairs among them, the parts that were not there.
    missing: dict[str, tuple[str, ...]] = {}
    # The parts on the van, as the last dispatch sheet that was passed on has them.
    load: dict[str, int] = {}
    # What each complaint was last said to do, and when to look again at what was too early to tell.
    outcomes: dict[str, Now] = {}
    look_again: str = ""
    # The walk that is gone, and how each of its jobs last came out.
    walk: str = ""
    jobs: dict[str, Job] = {}
    # What was read of this door when earlier calls left it right, by check.
    then: dict[str, Then] = {}
    lines: dict[str, tuple[Then, ...]] = {}
    energy: str = ""
    opened_at: str = ""
    last_at: str = ""
    outcome: Outcome | None = None
    reason: str = ""

    @property
    def answers(self) -> dict[str, Answer]:
        """The latest answer of each check."""
        return {item.check: item for item in self.evidence if isinstance(item, Answer)}

    @property
    def at_the_door(self) -> bool:
        """Whether somebody saw, did or proved something at the door; what is only told is not."""
        return bool(self.energy or self.jobs) or any(
            not isinstance(i, Answer) or i.heard == "seen" for i in self.evidence
        )

    def before(self, done: Try) -> CallState:
        """The same with only the evidence that there was before a remedy was done."""
        return replace(self, evidence=self.evidence[: self.evidence.index(done)])

    @property
    def tries(self) -> tuple[Try, ...]:
        return tuple(item for item in self.evidence if isinstance(item, Try))

    @property
    def proofs(self) -> dict[str, bool]:
        """How each proof last came out, since the last remedy: a repair makes every earlier proof stale."""
        found: dict[str, bool] = {}
        for item in self.evidence:
            if isinstance(item, Try):
                found.clear()
            elif isinstance(item, Proof):
                found[item.proof] = item.passed
        return found

    @property
    def untried(self) -> str:
        """The remedy that was done last, while nobody has said what it did; ``""`` where there is none."""
        last = self.tries[-1] if self.tries else None
        return last.remedy if last is not None and last.worked is None and not last.outcomes else ""

    @property
    def waiting_for(self) -> tuple[str, ...]:
        """The complaints of which it is too early to tell whether they are gone."""
        return tuple(symptom for symptom in self.symptoms if self.outcomes.get(symptom) == "too early")

    @property
    def waiting(self) -> str:
        """What an open call waits for, in words; ``""`` where it does not."""
        if self.outcome is not None:
            return ""
        if self.waiting_for:
            return f"waiting: look again {self.look_again}"
        if self.coming:
            return f"waiting for: {'; '.join(f'{person}, {when}' for person, when in self.coming.items())}"
        return "repaired, not yet tried" if self.untried else ""

    @property
    def cured(self) -> bool:
        """Every complaint was said to be gone."""
        if not self.symptoms:
            return bool(self.tries) and self.tries[-1].worked is True
        return all(self.outcomes.get(symptom) == "gone" for symptom in self.symptoms)

    @property
    def proving(self) -> bool:
        """Every complaint is gone, what was done last was tried, and no proof has failed since."""
        return self.cured and not self.untried and all(self.proofs.values())


_OF_THE_DOOR = (
    *(ev.Answered, ev.Tried, ev.RepairDone, ev.Judged, ev.Proved, ev.JobDone),
    *(ev.Withdrawn, ev.FactStated, ev.SymptomsStated),
)


def fold(events: Iterable[AnyEvent]) -> CallState:
    """The state after ``events``, undone ones left out."""
    state = CallState()
    for event in standing(events):
        state = folded(state, event)
    return state


def folded(state: CallState, event: AnyEvent) -> CallState:
    """The state after one more event, which undoes nothing."""
    state = replace(_after(state, event), last_at=event.at)
    if state.outcome is not None and isinstance(event, _OF_THE_DOOR):
        # Whatever wrote it, what happens to a door after the call was closed is not covered by its closing.
        state = replace(state, outcome=None, reason="")
    return state


def standing(events: Iterable[AnyEvent]) -> list[AnyEvent]:
    """The events that count: neither undone nor an undoing."""
    kept: list[AnyEvent] = []
    undone: set[int] = set()
    for event in reversed(list(events)):
        if event.sequence in undone:
            continue
        if isinstance(event, ev.Undone):
            undone.add(event.undoes)
        else:
            kept.append(event)
    return kept[::-1]


def _after(state: CallState, event: AnyEvent) -> CallState:
    match event:
        case ev.Opened():
            return replace(
                state,
                facts=dict(event.facts),
                symptoms=event.symptoms,
                site=event.site,
                door=event.door,
                people=event.people,
                walk=event.walk,
                opened_at=event.at,
            )
        case ev.FactStated():
            facts = {key: value for key, value in state.facts.items() if key != event.fact}
            if event.value != "":
                facts[event.fact] = event.value
            return replace(state, facts=facts)
        case ev.PlaceStated():
            caller = state.caller if event.caller is None else event.caller
            number = state.number if event.number is None else event.number
            return replace(state, site=event.site, door=event.door, caller=caller, number=number)
        case ev.SymptomsStated():
            # One that is named anew, gone before or not, is there now.
            anew = set(event.symptoms) - set(state.symptoms)
            still = {each: now for each, now in state.outcomes.items() if each not in anew}
            return replace(state, symptoms=event.symptoms, outcomes=still)
        case ev.PeopleStated():
            coming = {person: when for person, when in event.coming.items() if person not in event.people}
            return replace(state, people=event.people, coming=coming, load=dict(event.load) or state.load)
        case ev.Answered():
            return _without(replace(state, evidence=_with_answer(state.evidence, event)), ("check", event.check))
        case ev.Withdrawn():
            kept = tuple(i for i in state.evidence if not (isinstance(i, Answer) and i.check == event.check))
            return replace(state, evidence=kept)
        case ev.EnergyEntered():
            return replace(state, energy=event.energy)
        case ev.Tried():
            outcomes: dict[str, Now] = dict.fromkeys(state.symptoms, "gone" if event.worked else "still there")
            done = Try(event.remedy, event.worked, event.at, event.sequence, outcomes)
            state = replace(state, evidence=(*state.evidence, done), outcomes={**state.outcomes, **outcomes})
            return _without(replace(state, look_again=""), ("remedy", event.remedy))
        case ev.RepairDone():
            done = Try(event.remedy, None, event.at, event.sequence)
            return _without(replace(state, evidence=(*state.evidence, done)), ("remedy", event.remedy))
        case ev.Judged():
            state = replace(state, outcomes={**state.outcomes, **event.outcomes})
            look_again = (event.when or state.look_again) if state.waiting_for else ""
            return replace(state, evidence=_judged(state, event), look_again=look_again)
        case ev.Proved():
            proof = Proof(event.proof, event.passed, event.at, event.sequence)
            return _without(replace(state, evidence=(*state.evidence, proof)), ("proof", event.proof))
        case ev.JobDone():
            job = Job(event.job, event.came, event.reason, event.at, event.by, event.sequence)
            return _without(replace(state, jobs={**state.jobs, event.job: job}), ("job", event.job))
        case ev.PutOff():
            state = _without(state, (event.kind, event.step))
            missing = {**state.missing, event.step: event.missing} if event.missing else state.missing
            return replace(state, put_off=(*state.put_off, (event.kind, event.step)), missing=missing)
        case ev.TakenUp():
            return _without(state, (event.kind, event.step))
        case ev.DangerStated():
            dangers, told = {**state.dangers, event.danger: event.answer}, state.told - {event.danger}
            if event.answer == "yes" and (event.told or event.danger in state.told):
                told |= {event.danger}
            return replace(state, dangers=dangers, told=told)
        case ev.Recalled():
            return replace(state, then=dict(event.readings), lines=dict(event.lines))
        case ev.Noted():
            return replace(state, notes=(*state.notes, (event.at, event.text)))
        case ev.Closed():
            return replace(state, outcome=event.outcome, reason=event.reason)
        case ev.Reopened():
            return replace(state, outcome=None, reason="")
        case ev.Undone():
            return state


def _without(state: CallState, done: Named) -> CallState:
    """A step that was done, or taken up again, is not put off any more."""
    if done not in state.put_off:
        return state
    missing = {step: parts for step, parts in state.missing.items() if ("remedy", step) != done}
    return replace(state, put_off=tuple(named for named in state.put_off if named != done), missing=missing)


def _judged(state: CallState, event: ev.Judged) -> tuple[Evidence, ...]:
    """The evidence with what is said of the complaints put to the last repair."""
    last = max((i for i, item in enumerate(state.evidence) if isinstance(item, Try)), default=None)
    if last is None:
        return state.evidence
    done = state.evidence[last]
    assert isinstance(done, Try)
    outcomes = {**done.outcomes, **event.outcomes}
    told = [outcomes.get(symptom, state.outcomes.get(symptom)) for symptom in state.symptoms]
    worked = None if "too early" in told or None in told else all(each == "gone" for each in told)
    return (*state.evidence[:last], replace(done, worked=worked, outcomes=outcomes), *state.evidence[last + 1 :])


def _with_answer(evidence: tuple[Evidence, ...], event: ev.Answered) -> tuple[Evidence, ...]:
    """Put an answer in its place: beside, over, or after the earlier one of the same check."""
    answer = Answer(event.check, event.value, (event.raw,), event.unit, event.heard, event.at, event.by, event.sequence)
    last = max((i for i, e in enumerate(evidence) if isinstance(e, Answer) and e.check == event.check), default=None)
    if last is None:
        return (*evidence, answer)
    earlier = evidence[last]
    assert isinstance(earlier, Answer)
    repaired_since = any(isinstance(item, Try) for item in evidence[last:])
    if event.mode != "correction" and not repaired_since:
        if event.mode == "again" and _numbers(earlier.value) and _numbers(answer.value):
            answer = replace(
                answer, value=(*_tuple(earlier.value), *_tuple(answer.value)), raw=(*earlier.raw, event.raw)
            )
        elif answer.value == earlier.value:
            # Looked at again and found the same: both looks are kept, and believed more than one.
            answer = replace(answer, raw=(*earlier.raw, event.raw))
        return (*evidence[:last], answer, *evidence[last + 1 :])
    if event.mode == "correction":
        return (*evidence[:last], answer, *evidence[last + 1 :])
    # Seen anew after a repair: a second observation, of a door that may have changed.
    return (*evidence, answer)


def _numbers(value: Value) -> bool:
    return not isinstance(value, str)


def _tuple(value: Value) -> tuple[float, ...]:
    assert not isinstance(value, str)
    return value
