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

from msgspec.structs import replace

from diagnose.calls import events as ev
from diagnose.calls.closing import Ledger, Missing, ledger
from diagnose.calls.inference import Inference, doubtful, infer
from diagnose.calls.state import CallState, fold
from diagnose.calls.then_and_now import then_in_units
from diagnose.knowledge.fitting import fitting, tree_facts
from diagnose.knowledge.model import ANY, Facts, Held, Job, Proof, Trees, Walk, applies, can_do
from diagnose.reasoning.own_door import own_door
from diagnose.reasoning.plan import Planner, Standing
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
        """Whether what was found since, and not looked at before, speaks for a cause that a remedy removes, and that
        cause is nearly sure."""
        causes, findings = self.situation.causes, self.inference.findings
        removed = [i for i, cause in enumerate(causes[:-1]) if remedy in self.trees.causes[cause].remedies]
        before = {finding.check.id for finding in findings if finding.sequence < since}
        found = [f.weights for f in findings if f.sequence > since and f.check.id not in before]
        likely = self.inference.belief.causes()
        spoken_for = [i for i in removed if sum(float(weights[i]) for weights in found) > _SPEAKS_FOR]
        return any(likely[i] >= _NEARLY_SURE for i in spoken_for)

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


@lru_cache(maxsize=64)
def _situation(
    held: Held,
    facts: tuple[tuple[str, str | tuple[str, ...]], ...],
    symptoms: tuple[str, ...],
    then: tuple[tuple[str, tuple[float, float]], ...],
) -> Situation:
    return make_situation(own_door(held.trees, dict(then)), dict(facts), symptoms)
