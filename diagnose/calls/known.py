"""What the events of a call say: the state of the door, who is suspected, what must be proved.

``Known`` only looks. What to do next (``calls.next_step``) and who is suspected how strongly (``calls.likely``) are
worked out from it; ``calls.call.Call`` adds to its events.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable
from functools import lru_cache
from typing import Literal

import numpy as np
from msgspec.structs import replace

from diagnose.calls import events as ev
from diagnose.calls.closing import Ledger, Missing, ledger
from diagnose.calls.inference import Finding, Inference, believed, doubtful, infer
from diagnose.calls.state import Answer, CallState, fold
from diagnose.calls.then_and_now import then_in_units
from diagnose.knowledge.fitting import fitting, tree_facts
from diagnose.knowledge.model import ANY, Facts, Held, Job, Proof, Trees, Walk, applies, can_do
from diagnose.reasoning.own_door import own_door
from diagnose.reasoning.plan import SURE_ENOUGH, Planner, Standing
from diagnose.reasoning.situation import Situation, make_situation

# What was found speaks for a cause from this weight on: a Bayes factor called strong (Kass & Raftery, *Bayes Factors*,
# 1995; from memory).
_SPEAKS_FOR = math.log(20)
# A job is done a second time only where what it removes has become so sure.
_NEARLY_SURE = 0.9
RETURNED: ev.Outcome = "returned to service"
# A door that goes back to those who use it.
BACK: tuple[ev.Outcome, ...] = (RETURNED, "handed over")


class Known:
    """What ``events`` say on ``trees``; what is worked out of them is kept until another comes.

    ``goal`` and ``sure`` are those of ``Call``.
    """

    def __init__(
        self, trees: Trees, events: Iterable[ev.AnyEvent], goal: Literal["repair", "cause"], sure: float
    ) -> None:
        self.trees, self.goal, self.sure = trees, goal, sure
        self._events: list[ev.AnyEvent] = list(events)
        self._state: CallState | None = None
        self._facts: Facts | None = None
        self._inference: Inference | None = None
        self._planner: Planner | None = None
        self._ledger: Ledger | None = None

    @property
    def events(self) -> tuple[ev.AnyEvent, ...]:
        return tuple(self._events)

    @property
    def state(self) -> CallState:
        if self._state is None:
            state = fold(self._events)
            self._state = replace(state, facts=fitting(self.trees.facts, state.facts))
        return self._state

    @property
    def facts(self) -> Facts:
        """What is known of the door, with what follows from it (``tree_facts``)."""
        if self._facts is None:
            self._facts = tree_facts(self.trees, self.state.facts)
        return self._facts

    @property
    def symptoms(self) -> tuple[str, ...]:
        """The complaints that the trees know."""
        return tuple(symptom for symptom in self.state.symptoms if symptom in self.trees.symptoms)

    @property
    def situation(self) -> Situation:
        key = tuple(sorted((k, v) for k, v in self.facts.items()))
        return _situation(Held(self.trees), key, self.symptoms, then_in_units(self.trees, self.state.then))

    @property
    def inference(self) -> Inference:
        if self._inference is None:
            self._inference = infer(self.situation, self.state)
        return self._inference

    @property
    def energy(self) -> str:
        """The energy state the door is in, as far as the call says: stated, or that of the last step done."""
        if self.state.energy:
            return self.state.energy
        return next((name for name in self.trees.energy if name != ANY), ANY)

    @property
    def planner(self) -> Planner:
        if self._planner is None:
            self._planner = Planner(self.standing)
        return self._planner

    @property
    def standing(self) -> Standing:
        state = self.state
        return Standing(
            self.situation,
            self.inference.belief,
            self.inference.known,
            self._spent(),
            self.energy,
            self.fetched(),
            can_do(self.trees, state.people),
            {check: same for check, same in doubtful(self.inference).items() if self.may_do(check)},
        )

    def may_do(self, check: str) -> bool:
        """Whether somebody here can look at a check."""
        entry = self.trees.checks[check]
        return entry.kind != "computed" and entry.who in can_do(self.trees, self.state.people)

    def _spent(self) -> set[str]:
        """Remedies in vain that are not put again: twice, or once and nothing found since makes sure of them."""
        in_vain = [item for item in self.state.tries if item.worked is False]
        count = Counter(item.remedy for item in in_vain)
        return {
            item.remedy
            for item in in_vain
            if count[item.remedy] >= 2 or not self._speaks_for(item.remedy, item.sequence)
        }

    def _speaks_for(self, remedy: str, since: int) -> bool:
        """Whether what was found since speaks for a cause that a remedy removes: what was not looked at before makes it
        nearly sure; or it stayed sure enough, what was seen before is seen again, and the remedy is cheap."""
        causes, inference = self.situation.causes, self.inference
        removed = [i for i, cause in enumerate(causes[:-1]) if remedy in self.trees.causes[cause].remedies]
        before = {finding.check.id for finding in inference.findings if finding.sequence < since}
        later = [finding for finding in inference.findings if finding.sequence > since]
        again = [finding for finding in later if finding.check.id in before]
        new = [finding for finding in later if finding.check.id not in before]
        likely = inference.belief.causes()
        if any(likely[i] >= _NEARLY_SURE and _told(new, i) > _SPEAKS_FOR for i in removed):
            return True
        if not again or not self._cheap(remedy):
            return False
        seen = {finding.sequence for finding in again}
        rest = (item for item in inference.items if item.sequence not in seen)
        stayed = believed(self.situation, tuple(rest), inference.pairs).causes()
        return any(min(stayed[i], likely[i]) >= SURE_ENOUGH and _told(again, i) > 0 for i in removed)

    def _cheap(self, remedy: str) -> bool:
        """Whether to do a remedy once more is no dearer than to pass the door on."""
        return self.trees.minutes_worth(self.trees.remedies[remedy]) <= self.trees.costs.hand_over

    def own_work(self) -> tuple[str, str] | None:
        """A cause that is sure enough though its cheap repair was made once in vain, and the check that spoke for it
        most, to be looked at again by somebody here; ``None`` where one was since."""
        likely = self.inference.belief.causes()[:-1]
        if likely.max(initial=0.0) < SURE_ENOUGH:
            return None
        leading = int(np.argmax(likely))
        cause = self.situation.causes[leading]
        tries = [item for item in self.state.tries if item.remedy in self.trees.causes[cause].remedies]
        if not tries or not self._cheap(tries[-1].remedy):
            return None
        in_vain = [item for item in self.state.tries if item.worked is False and item.remedy == tries[-1].remedy]
        looks: dict[bool, set[str]] = {True: set(), False: set()}
        for item in self.state.evidence:
            if isinstance(item, Answer):
                looks[item.sequence > tries[-1].sequence].add(item.check)
        if len(in_vain) != 1 or looks[True] & looks[False]:
            return None
        seen = [each for each in self.inference.findings if each.heard == "seen" and self.may_do(each.check.id)]
        best = max(seen, key=lambda each: float(each.weights[leading]), default=None)
        return None if best is None or best.weights[leading] <= 0 else (cause, best.check.id)

    def fetched(self) -> set[str]:
        """What earlier steps were done from stays at the door."""
        entries = [self.trees.checks.get(check) for check in self.state.answers]
        remedies = [self.trees.remedies.get(item.remedy) for item in self.state.tries]
        return {entry.access for entry in [*entries, *remedies] if entry is not None}

    @property
    def ledger(self) -> Ledger:
        """What the call's events oblige to before the door may return to service."""
        if self._ledger is None:
            self._ledger = ledger(self.trees, self._events)
        return self._ledger

    def missing(self, reason: str = "") -> tuple[Missing, ...]:
        """All that stands between the door and its return to service; ``reason`` says why no repair was done."""
        return self.ledger.missing(reason)

    def needed_proofs(self) -> tuple[Proof, ...]:
        """Every proof that must have passed before this door returns to service."""
        return self.ledger.needed()

    def open_proofs(self) -> tuple[Proof, ...]:
        """The needed proofs that have not passed since the last remedy, those of the present state first.

        One that follows another open one comes last.
        """
        missing = [proof for proof in self.needed_proofs() if proof.id not in self.ledger.passed]
        names = {proof.id for proof in missing}
        order = {proof.energy: i for i, proof in reversed(list(enumerate(missing)))}
        return tuple(
            sorted(
                missing,
                key=lambda p: (not names.isdisjoint(p.follows), p.energy not in (self.energy, ANY), order[p.energy]),
            )
        )

    @property
    def walk(self) -> Walk | None:
        """The walk that is gone, ``None`` on a call about a complaint alone."""
        return self.trees.walks.get(self.state.walk)

    @property
    def walking(self) -> bool:
        """A walk is gone, and no complaint has to be looked into before it goes on."""
        return self.walk is not None and (self.state.cured or not self.state.symptoms)

    @property
    def ends(self) -> ev.Outcome:
        """What the door is when nothing is missing."""
        return self.walk.ends if self.walk is not None else RETURNED

    def open_jobs(self) -> tuple[Job, ...]:
        """The jobs of the walk that are not done, in its order."""
        return self.ledger.open_jobs()

    def ready_jobs(self) -> tuple[Job, ...]:
        """The open jobs for which everything that comes before is done."""
        left = self.open_jobs()
        names = {job.id for job in left}
        return tuple(job for job in left if names.isdisjoint(job.after))

    def raised_by(self, failed: Proof | Job) -> tuple[str, ...]:
        """The complaints that a failed proof or job shows, of those this door can have and are not yet looked into."""
        known, facts = self.trees.symptoms, self.facts
        return tuple(s for s in failed.raises if s not in self.state.symptoms and applies(known[s].applies, facts))

    def refusal(self) -> str:
        """Why this is nothing that the trees know, going by its facts; "" where they do."""
        said = [(self.trees.facts[fact].not_served, value) for fact, value in self.state.facts.items()]
        return next((no[value] for no, value in said if isinstance(value, str) and value in no), "")


def _told(findings: Iterable[Finding], cause: int) -> float:
    """How strongly findings speak for a cause together, in nats."""
    return sum(float(finding.weights[cause]) for finding in findings)


@lru_cache(maxsize=64)
def _situation(
    held: Held,
    facts: tuple[tuple[str, str | tuple[str, ...]], ...],
    symptoms: tuple[str, ...],
    then: tuple[tuple[str, tuple[float, float]], ...],
) -> Situation:
    return make_situation(own_door(held.trees, dict(then)), dict(facts), symptoms)
