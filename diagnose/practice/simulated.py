"""Calls on simulated doors, carried through by a policy: the program's own, or one to compare it with.

A policy only chooses; the same loop answers its checks, does its remedies, runs the proofs and counts what it all
cost, so that policies differ in nothing but their choices.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field

import numpy as np

from diagnose.calls.call import Call
from diagnose.knowledge.fitting import misfits, possible
from diagnose.knowledge.model import ANY, UNLISTED, Conditions, Proof, Task, Trees, applies, can_do
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.reasoning.moving import Whereabouts, go_through
from diagnose.reasoning.plan import Candidate, Planner

# The chance that the door's own proofs show up a fault that a remedy left in it.
PROOFS_SHOW = 0.95
_MOST_STEPS = 120


@dataclass(frozen=True)
class Choice:
    """What a policy does next: ``kind`` is ``check``, ``remedy`` or ``hand over``."""

    kind: str
    id: str = ""


# A policy sees the call, not the door.
Policy = Callable[[Call, np.random.Generator], Choice]


@dataclass
class Outcome:
    """How a simulated call went. Minutes are of checks, remedies, changes of state and proofs, of all who work."""

    symptom: str
    faults: tuple[str, ...]
    fixed: bool = False
    minutes: float = 0.0
    # The same by the clock: two who work together take it once.
    clock: float = 0.0
    # What was promised before the first step, by the clock: the minutes, and the middle 80 % of them.
    promised: float = 0.0
    within: tuple[float, float] = (0.0, 0.0)
    # Of these, the minutes of the closing proofs, which every repaired door needs whatever went before.
    closing: float = 0.0
    money: float = 0.0
    checks: int = 0
    remedies: list[str] = field(default_factory=list)
    wasted_parts: int = 0
    # Causes from likeliest down, and their probabilities, when the first remedy was chosen or nothing was left to ask.
    ranking: tuple[str, ...] = ()
    probabilities: Mapping[str, float] = field(default_factory=dict)
    found: set[str] = field(default_factory=set)


@dataclass(frozen=True)
class Draw:
    """A door to simulate: its facts, what is complained of, and what is truly wrong."""

    facts: Mapping[str, str | tuple[str, ...]]
    symptom: str
    faults: tuple[str, ...]


def draw_door(trees: Trees, random: np.random.Generator, symptom: str, faults: int = 1) -> Draw:
    """A door that has the symptom, its faults drawn as often as they occur, its facts such that they can occur."""
    pointed = trees.symptoms[symptom].causes
    for _ in range(200):
        facts = draw_facts(trees, random, trees.symptoms[symptom].applies)
        causes = [cause for cause in pointed if applies(trees.causes[cause].applies, facts)]
        if len(causes) >= max(faults, 2):
            break
    weights = np.array([trees.causes[cause].base * pointed[cause] for cause in causes])
    chosen = random.choice(len(causes), size=faults, replace=False, p=weights / weights.sum())
    return Draw(facts, symptom, tuple(sorted(causes[int(i)] for i in chosen)))


def draw_facts(trees: Trees, random: np.random.Generator, conditions: Conditions) -> dict[str, str | tuple[str, ...]]:
    """Facts of a door that go together, drawn evenly, those that ``conditions`` name from what they allow."""
    while True:
        facts: dict[str, str | tuple[str, ...]] = {}
        for fact in trees.facts.values():
            answers = possible(fact, facts)
            asked_for = [answer for answer in conditions.get(fact.id, answers) if answer in answers]
            # A door that nobody serves is drawn only where no other is asked for.
            allowed = [answer for answer in asked_for if answer in fact.served] or asked_for
            if not allowed:
                continue
            if fact.many == "yes":
                must = {str(random.choice(allowed))} if fact.id in conditions else set()
                drawn = must | {answer for answer in answers if random.random() < 0.5}
                by_itself = (must or drawn).intersection(fact.alone)
                drawn = by_itself or drawn.difference(fact.alone)
                facts[fact.id] = tuple(answer for answer in answers if answer in drawn)
            elif fact.answers == ("yes", "no") and fact.id not in conditions:
                facts[fact.id] = "no"
            else:
                facts[fact.id] = str(random.choice(allowed))
        # What was drawn may leave nothing of what comes after it.
        if conditions.keys() <= facts.keys() and not any(misfits(trees.facts, facts)):
            return facts


class SimulatedCall:
    """One call on a hidden door, under a policy."""

    def __init__(
        self,
        trees: Trees,
        draw: Draw,
        seed: int,
        *,
        known: Trees | None = None,
        slips: bool = True,
        people: Collection[str] | None = None,
    ) -> None:
        """``known`` are the trees the policy reasons with, where they differ from the door's own. Everybody they know
        is at hand where ``people`` does not say who is."""
        self.random = np.random.default_rng(seed)
        self.trees = known or trees
        self.draw = draw
        self.door = HiddenDoor(trees, draw.facts, set(draw.faults), seed, slips)
        present = self.trees.people if people is None else [each for each in people if each in self.trees.people]
        self.call = Call(self.trees, draw.facts, [draw.symptom], people=present)
        self.outcome = Outcome(draw.symptom, draw.faults)
        self._here = Whereabouts(self.call.energy)

    def run(self, policy: Policy) -> Outcome:
        """Carry the call through until the door is proven or handed over."""
        first = self.call.next_step()
        self.outcome.promised, self.outcome.within = first.expected_minutes_left, first.interval
        for _ in range(_MOST_STEPS):
            choice = policy(self.call, self.random)
            if choice.kind == "check":
                self.check(choice.id)
            elif choice.kind == "remedy":
                self.note_ranking()
                if self.remedy(choice.id):
                    return self.outcome
            else:
                break
        self.note_ranking()
        # Whoever comes still has the repair to do.
        others = self.trees.costs.hand_over + sum(map(self._repair_minutes, self.door.faults))
        self.outcome.minutes += others
        self.outcome.clock += others
        return self.outcome

    def check(self, identity: str) -> None:
        check = self.trees.checks[identity]
        self._spend(check)
        self.outcome.checks += 1
        seen = identity in self.call.state.answers
        self.call.answer(identity, self.door.typed(self.door.trees.checks[identity]), mode="again" if seen else "new")

    def remedy(self, identity: str) -> bool:
        """Do a remedy and see whether the complaint is gone; prove the door if it seems so. True once proven."""
        remedy = self.trees.remedies[identity]
        self._spend(remedy)
        self.outcome.remedies.append(identity)
        before = set(self.door.faults)
        removed = self.door.try_remedy(identity)
        self.outcome.found |= before - self.door.faults
        self.outcome.money += self.trees.price(remedy.parts)
        could = any(identity in self._remedies_of(fault) for fault in before)
        if remedy.parts and not could:
            self.outcome.wasted_parts += 1
        gone = removed and not self._complaint_stays()
        for proof in remedy.proofs[:1]:
            self._spend(self.trees.proofs[proof])
        self.call.tried(identity, gone)
        return gone and self._prove(remedy.proofs[:1])

    def note_ranking(self) -> None:
        """Keep the ranking as it stands, the first time."""
        if not self.outcome.ranking:
            likely = self.call.likely()
            self.outcome.ranking = tuple(item.cause for item in likely)
            self.outcome.probabilities = {item.cause: item.probability for item in likely}

    def _complaint_stays(self) -> bool:
        """Whether what is left in the door still brings about the complaint."""
        pointed = self.trees.symptoms[self.draw.symptom].causes
        return any(self.random.random() < pointed.get(fault, 0.5) for fault in sorted(self.door.faults))

    def _prove(self, done: Collection[str]) -> bool:
        """Run every proof the door needs; a fault left in it shows up in one of them, most of the time."""
        missing = self.call.open_proofs()
        shows = bool(self.door.faults) and self.random.random() < PROOFS_SHOW
        before = self.outcome.minutes
        for index, proof in enumerate(missing):
            if proof.id not in done:
                self._spend(proof)
            self._fit_for(proof)
            if self.call.ledger.refusal(proof) and not self._was_a_slip(proof):
                return False
            if proof not in self.call.needed_proofs():
                continue
            if shows and index == len(missing) // 2:
                self.call.proved(proof.id, False)
                return False
            self.call.proved(proof.id, True)
        self.outcome.closing = self.outcome.minutes - before
        self.outcome.fixed = not self.door.faults
        return True

    def _was_a_slip(self, proof: Proof) -> bool:
        """Look again at what called for a proof that cannot pass; whether it was a slip, and nothing calls for it."""
        for check in tuple(self.call.ledger.seen.get(proof.id, ())):
            found = self.door.typed(self.trees.checks[check])
            self.call.answer(check, found, mode="correction", reason="Looked at again before the proof.")
        return not self.call.ledger.refusal(proof)

    def _fit_for(self, proof: Proof) -> None:
        """Bring the door into the proof's state, and call whoever it is for."""
        if proof.energy not in (ANY, self.call.energy):
            self.call.enter(proof.energy)
        if proof.who not in can_do(self.trees, self.call.state.people):
            self.outcome.clock += self.trees.people[proof.who].call_out
            self.outcome.minutes += self.trees.people[proof.who].call_out
            self.call.state_people((*self.call.state.people, proof.who))

    def _remedies_of(self, fault: str) -> Mapping[str, float]:
        return {} if fault == UNLISTED else self.door.trees.causes[fault].remedies

    def _repair_minutes(self, fault: str) -> float:
        remedies = [self.door.trees.remedies[remedy] for remedy in self._remedies_of(fault)]
        return min((remedy.minutes * remedy.crew for remedy in remedies), default=60.0)

    def _spend(self, step: Task) -> None:
        minutes, self._here = go_through(self.trees, self._here, [step])
        self.outcome.clock += minutes
        self.outcome.minutes += minutes + step.minutes * (step.crew - 1)


# --- policies ----------------------------------------------------------------------------------------------------


def planned(call: Call, _: np.random.Generator) -> Choice:
    """The program's own: the lowest expected cost to a proven door, or none where it refuses the door."""
    if call.refusal():
        return Choice("hand over")
    best = call.planner.best()
    step = call.next_step()
    if step.kind in ("check", "energy") and step.goal in call.state.answers:
        return Choice("check", step.goal)
    if best.kind == "check":
        return Choice("check", _first(call, best.way))
    return Choice("remedy", best.id) if best.kind == "remedy" else Choice("hand over")


def most_telling(call: Call, _: np.random.Generator, sure: float = 0.95) -> Choice:
    """Ask for the most information a minute until a cause is nearly sure or nothing is left; then p/c."""
    if _leading(call) < sure:
        best = call.planner.most_telling()
        if best is not None:
            return Choice("check", _first(call, best.way))
    return repair_only(call, _)


def fixed_chart(call: Call, _: np.random.Generator) -> Choice:
    """A chart: the same order for everyone, first what the symptom asks first, until a cause is nearly sure."""
    if _leading(call) < 0.95:
        order = {check: i for i, check in enumerate(call.trees.checks)}
        first = [c for s in call.state.symptoms for c in call.trees.symptoms[s].ask_first]
        rank = {check: i - len(first) for i, check in enumerate(first)}
        candidates = sorted(call.planner.candidates, key=lambda c: rank.get(c.way.goal, order[c.way.goal]))
        if candidates:
            return Choice("check", _first(call, candidates[0].way.steps))
    return repair_only(call, _)


def random_order(call: Call, random: np.random.Generator) -> Choice:
    """Any reachable check, until a cause is nearly sure."""
    candidates: tuple[Candidate, ...] = call.planner.candidates
    if _leading(call) < 0.95 and candidates:
        return Choice("check", _first(call, candidates[int(random.integers(len(candidates)))].way.steps))
    return repair_only(call, random)


def repair_only(call: Call, _: np.random.Generator) -> Choice:
    """Remedies by probability over cost, no checks; hand over where nothing is left or little hope is."""
    planner: Planner = call.planner
    unlisted = float(planner.standing.belief.causes()[-1])
    if not planner.remedies or unlisted > 0.8:
        return Choice("hand over")
    return Choice("remedy", planner.remedies[0].remedy.id)


POLICIES: dict[str, Policy] = {
    "the program": planned,
    "most information a minute": most_telling,
    "fixed chart": fixed_chart,
    "random order": random_order,
    "probability over cost, no checks": repair_only,
}


def _first(call: Call, way: tuple[str, ...]) -> str:
    return next(identity for identity in way if call.trees.checks[identity].kind != "computed")


def _leading(call: Call) -> float:
    return float(call.inference.belief.causes().max())
