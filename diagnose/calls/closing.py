"""The one rule by which a door goes back into service: what has to be proved, worked out from the events alone.

A ``Ledger`` goes through the events that stand, once, and keeps account of four things that no later word makes go away
by itself: what the door was said to have, hazards that were seen, repairs, and proofs that failed. ``Ledger.missing``
is what still stands between the door and its return to service, each with a sentence that says what to do.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Literal

from diagnose.calls import events as ev
from diagnose.calls.inference import from_si
from diagnose.calls.state import CallState, folded, standing
from diagnose.knowledge.fitting import tree_facts
from diagnose.knowledge.model import (
    ANY,
    Check,
    Facts,
    Held,
    Job,
    Proof,
    Trees,
    Walk,
    applies,
    can_do,
    excused,
    power_state,
    shows,
)
from diagnose.reasoning.compute import compute
from diagnose.reasoning.walk import Known, inputs_of

Kind = Literal["failed proof", "proof", "job", "complaint", "not tried", "nothing done", "power"]
FactValue = str | tuple[str, ...]


@dataclass(frozen=True)
class Missing:
    """One thing that stands between a door and its return to service. ``id`` names the proof, symptom, remedy or
    energy state it is about, ``title`` says it; ``todo`` says what is missing and what to do."""

    kind: Kind
    id: str
    title: str
    todo: str

    @property
    def sentence(self) -> str:
        return f"{self.title}: {self.todo}"


@dataclass
class Ledger:
    """What the events of a call oblige whoever hands the door back to; made by ``ledger``."""

    trees: Trees
    # What the events entered so far say.
    state: CallState = field(default_factory=CallState)
    # What is known of the door, with what follows from it.
    facts: Facts = field(default_factory=dict)
    # Complaints that are named no more, and nobody said why.
    owed: set[str] = field(default_factory=set)
    energy: str = ""
    # Each fact as it was last stated, through being forgotten.
    stated: dict[str, FactValue] = field(default_factory=dict)
    # Fact → values that proofs hung on and that are no longer stated, without being called a slip.
    dropped: dict[str, set[str]] = field(default_factory=dict)
    # ... of these, the ones said to be off the door.
    off: dict[str, set[str]] = field(default_factory=dict)
    # Proof → check → the number of the event in which it showed a hazard.
    seen: dict[str, dict[str, int]] = field(default_factory=dict)
    repairs: list[tuple[int, str]] = field(default_factory=list)
    # Remedies begun and said not to be finished: they ask for their proofs, and were no repair.
    begun: set[str] = field(default_factory=set)
    passed: set[str] = field(default_factory=set)
    # Failed and not passed since → the number of the event in which it failed last.
    failed: dict[str, int] = field(default_factory=dict)
    complained: bool = False
    touched: bool = False

    # --- what is asked for ---------------------------------------------------------------------------------

    def needed(self) -> tuple[Proof, ...]:
        """Every proof that must have passed, in the order of the trees."""
        done = {remedy for _, remedy in self.repairs} | self.begun
        named = {proof for each in done & self.trees.remedies.keys() for proof in self.trees.remedies[each].proofs}
        had = self._with_dropped()
        return tuple(proof for proof in self.trees.proofs.values() if self._is_needed(proof, named, had))

    def open_jobs(self) -> tuple[Job, ...]:
        """The jobs of the walk that this door has and that are not done, in the walk's order."""
        came, walk = self.state.jobs, self._walk
        left = [job for job in walk.jobs if job not in came or came[job].came == "not right"] if walk else []
        return tuple(self.trees.jobs[job] for job in left if applies(self.trees.jobs[job].applies, self.facts))

    def missing(self, reason: str = "") -> tuple[Missing, ...]:
        """What stands between the door and its return to service; ``reason`` says why nothing was done."""
        return tuple(self._missing(reason))

    def refusal(self, proof: Proof) -> str:
        """Why a proof cannot be passed now, with what to do; ``""`` where it can."""
        if proof.who not in can_do(self.trees, self.state.people):
            who = self.trees.people[proof.who].title
            return f"'{proof.title}' is for a {who}, and none is here. Let one come, or leave the door out of service."
        if not applies(proof.applies, self.facts) and proof.id not in self.seen:
            return f"'{proof.title}' is of something this door is said not to have. Refit it, and say that it is there."
        failed = self.failed.get(proof.id, 0)
        if failed and not any(done > failed for done, _ in self.repairs):
            return f"'{proof.title}' has failed. Put right what it showed, then run it again."
        since = max(self.seen.get(proof.id, {}).values(), default=0)
        mended = any(number > since and remedy in proof.after for number, remedy in self.repairs)
        if since and proof.after and not mended:
            mends = " or ".join(f"'{self.trees.remedies[each].title}'" for each in proof.after)
            return f"'{proof.title}' can pass after {mends}. If what was seen was a slip, correct it and say why."
        if proof.energy not in (ANY, self._here()):
            state = self.trees.energy[proof.energy].title
            return f"'{proof.title}' is run in another state: {state}. Bring the door there first."
        return ""

    # --- inside --------------------------------------------------------------------------------------------

    @property
    def _walk(self) -> Walk | None:
        return self.trees.walks.get(self.state.walk)

    def _here(self) -> str:
        return self.energy or next((name for name in self.trees.energy if name != ANY), ANY)

    def _is_needed(self, proof: Proof, named: set[str], had: Mapping[str, FactValue]) -> bool:
        if proof.id in self.seen or proof.id in self.failed:
            return True
        if any(set(values) & self._off(fact) for fact, values in proof.unless.items()):
            # It stands in for the proofs of a device that is off the door.
            return applies(proof.applies, self.facts)
        walk = self._walk
        of_walk = walk is not None and walk.every_proof == "yes" and proof.id not in walk.without
        if proof.required == "no" and proof.id not in named and not of_walk:
            return False
        return applies(proof.applies, had) and not excused(proof, self.facts)

    def _off(self, fact: str) -> set[str]:
        return self.off.get(fact, set())

    def _with_dropped(self) -> dict[str, FactValue]:
        """The door's facts with what was dropped, but for devices that are off and have other proofs in their stead."""
        facts = dict(self.state.facts)
        for fact, values in self.dropped.items():
            spared = {each for proof in self.trees.proofs.values() for each in proof.unless.get(fact, ())}
            kept = sorted(values - (self._off(fact) & spared))
            if kept and fact in facts:
                facts[fact] = (*_values(facts[fact]), *kept)
        return tree_facts(self.trees, facts)

    def _missing(self, reason: str) -> Iterator[Missing]:
        trees, needed = self.trees, self.needed()
        for proof in needed:
            if proof.id in self.failed:
                yield Missing("failed proof", proof.id, proof.title, "it failed. Put that right and prove it again.")
        for proof in needed:
            if proof.id not in self.passed and proof.id not in self.failed:
                yield Missing("proof", proof.id, proof.title, f"not proved yet.{self._why(proof)}")
        for job in self.open_jobs():
            yield Missing("job", job.id, job.title, "not done yet. Do it, or say why it is not needed.")
        if untried := self.state.untried:
            done = trees.remedies.get(untried)
            todo = "done, and not tried. Say what each complaint does now."
            yield Missing("not tried", untried, done.title if done else untried, todo)
        for symptom in (*self.state.symptoms, *sorted(self.owed)):
            if self.state.outcomes.get(symptom) != "gone":
                known = trees.symptoms.get(symptom)
                again = "Name it again, try" if symptom in self.owed else "Try"
                todo = f"nobody has said that it is gone. {again} the door and say so."
                yield Missing("complaint", symptom, known.title if known else symptom, todo)
        if not self.state.symptoms and self.complained:
            yield Missing("complaint", "", "The complaint", "taken away. Say what it was, and that it is gone.")
        if not self.repairs and not reason.strip():
            yield Missing("nothing done", "", "No repair", "none was done. Say why none was needed.")
        power = power_state(trees)
        if power and self._here() not in (power, ANY):
            yield Missing("power", power, trees.energy[power].title, "the state a door goes back in. Bring it there.")

    def _why(self, proof: Proof) -> str:
        """Why a proof is needed, where it is not by what the door has."""
        if checks := self.seen.get(proof.id):
            texts = "; ".join(self.trees.checks[check].text for check in checks)
            return f" Its reason was seen at: {texts}"
        if not applies(proof.applies, self.facts):
            values = ", ".join(each for fact in proof.applies for each in sorted(self.dropped.get(fact, ())))
            return f" The door had it: {values}. Refit it, or say what became of it, or leave the door out of service."
        return ""

    # --- event by event --------------------------------------------------------------------------------------

    def take(self, event: ev.AnyEvent) -> None:
        complaints, before, self.state = self.state.symptoms, self.state.facts, folded(self.state, event)
        if self.state.facts != before:
            self.facts = tree_facts(self.trees, self.state.facts)
        match event:
            case ev.Opened():
                self.stated = dict(event.facts)
            case ev.FactStated():
                self._state_fact(event)
            case ev.SymptomsStated():
                self._state_symptoms(event, complaints)
            case ev.EnergyEntered() if event.energy != ANY:
                # "any" is what a step may ask for, and no state that a door can be left in.
                self.energy = event.energy
            case ev.Answered():
                self._answer(event)
            case ev.Withdrawn():
                self._forget(event.check)
            case ev.Tried() | ev.RepairDone():
                self._repair(event.sequence, event.remedy)
            case ev.JobDone(came="done"):
                # What is worked on is proved after it.
                self._repair(event.sequence, event.job)
            case ev.Proved():
                self._prove(event)
            case _:
                pass
        self.complained |= bool(self.state.symptoms)
        self.touched |= isinstance(event, _AT_THE_DOOR) and getattr(event, "heard", "seen") == "seen"

    def _state_symptoms(self, event: ev.SymptomsStated, before: tuple[str, ...]) -> None:
        if self.touched and not event.reason.strip():
            self.owed.update(before)
        self.owed.difference_update(event.symptoms)

    def _state_fact(self, event: ev.FactStated) -> None:
        fact, value = event.fact, event.value
        before = self.stated.get(fact)
        if value == "":
            return
        self.stated[fact] = value
        for values in (self.dropped.setdefault(fact, set()), self.off.setdefault(fact, set())):
            values.difference_update(_values(value))
        gone = {each for each in _values(before) if each not in _values(value)}
        slip = event.became == "never there" and event.reason.strip()
        if before is None or slip or not self.touched:
            return
        # Whatever a proof may hang on, whether or not one does at this moment: the door's other facts may change too.
        conditions = [proof.applies for proof in self.trees.proofs.values()]
        conditions += [c for known in self.trees.facts.values() for c in (known.applies, *known.goes_with.values())]
        telling = {each for condition in conditions for each in condition.get(fact, ())}
        self.dropped[fact] |= gone & telling
        if event.became == "taken off":
            self.off[fact] |= gone & telling

    def _answer(self, event: ev.Answered) -> None:
        check = self.trees.checks.get(event.check)
        if check is None:
            return
        if event.heard == "told":
            self._told.add(event.sequence)
        elif event.mode == "correction" and event.reason.strip():
            self._forget(check.id)
        else:
            # A caller's word gives way to what is seen at the door.
            self._forget(check.id, self._told)
        value = _in_unit(check.unit, event.value)
        self._known[check.id] = value
        hazards = _hazards(Held(self.trees))
        for shown, found in ((check, value), *self._computed(check.id)):
            for proof, answers in hazards.get(shown.id, ()):
                if not isinstance(found, tuple) and shows(shown, found, answers):
                    self.seen.setdefault(proof, {})[shown.id] = event.sequence
                    self.passed.discard(proof)

    def _computed(self, check: str) -> Iterator[tuple[Check, Known]]:
        """The computed checks that an answer completes and that can show a hazard."""
        for name in _hazards(Held(self.trees)):
            entry = self.trees.checks[name]
            if entry.kind == "computed" and check in inputs_of(self.trees, entry):
                worked = compute(self.trees, entry, self._known, {}, self.facts)
                if worked is not None:
                    yield entry, worked.value

    def _forget(self, check: str, only: Collection[int] | None = None) -> None:
        """What an answer showed, or had a part in, counts no longer; ``only`` what was entered by these events."""
        self._known.pop(check, None)
        for proof, sightings in list(self.seen.items()):
            for shown, number in list(sightings.items()):
                shares = shown == check or check in inputs_of(self.trees, self.trees.checks[shown])
                if shares and (only is None or number in only):
                    del sightings[shown]
            if not sightings:
                del self.seen[proof]

    def _repair(self, number: int, remedy: str) -> None:
        self.repairs.append((number, remedy))
        # A repair makes every earlier proof stale.
        self.passed.clear()

    def _prove(self, event: ev.Proved) -> None:
        proof = self.trees.proofs.get(event.proof)
        if proof is None:
            return
        self.passed.difference_update(each.id for each in self.trees.proofs.values() if proof.id in each.follows)
        if not event.passed:
            self.passed.discard(proof.id)
            self.failed[proof.id] = event.sequence
        elif not self.refusal(proof):
            self.passed.add(proof.id)
            self.failed.pop(proof.id, None)

    _known: dict[str, Known] = field(default_factory=dict)
    _told: set[int] = field(default_factory=set)


_AT_THE_DOOR = (ev.Answered, ev.Tried, ev.RepairDone, ev.Proved, ev.JobDone, ev.EnergyEntered)


def in_words(missing: Collection[Missing]) -> str:
    """What is missing, in a few sentences: what asks for more than its proof one by one, plain proofs together."""
    plain = [each for each in missing if each.kind == "proof" and each.todo == "not proved yet."]
    said = [each.sentence for each in missing if each not in plain]
    if len(plain) == 1:
        said.append(plain[0].sentence)
    elif plain:
        more = f" and {len(plain) - 3} more" if len(plain) > 3 else ""
        said.append(f"{len(plain)} proofs have not passed: {'; '.join(each.title for each in plain[:3])}{more}.")
    return " ".join(said[:4])


def ledger(trees: Trees, events: Iterable[ev.AnyEvent]) -> Ledger:
    """The account of a call's events; those that were undone count as if they had not been."""
    account, events = Ledger(trees), list(events)
    counting = {event.sequence for event in standing(events)}
    without_reason = {event.undoes for event in events if isinstance(event, ev.Undone) and not event.reason.strip()}
    for event in events:
        if event.sequence in counting:
            account.take(event)
        elif isinstance(event, (ev.Tried, ev.RepairDone)) and event.sequence in without_reason:
            # Work that was begun leaves the door in doubt, whatever is said of it after.
            account.begun.add(event.remedy)
            account.passed.clear()
    return account


@lru_cache(maxsize=8)
def _hazards(held: Held) -> Mapping[str, tuple[tuple[str, tuple[str, ...]], ...]]:
    """Check → the proofs its answers can call for, with those answers."""
    found: dict[str, list[tuple[str, tuple[str, ...]]]] = {}
    for proof in held.trees.proofs.values():
        for check, answers in proof.seen.items():
            found.setdefault(check, []).append((proof.id, answers))
    return {check: tuple(each) for check, each in found.items()}


def _values(value: FactValue | None) -> tuple[str, ...]:
    return () if value is None else (value,) if isinstance(value, str) else value


def _in_unit(unit: str, value: str | tuple[float, ...]) -> Known:
    if isinstance(value, str):
        return value
    numbers = tuple(from_si(each, unit) for each in value)
    return numbers[0] if len(numbers) == 1 else numbers
