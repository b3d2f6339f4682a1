"""``Call``: one job on one door, from the first ring to the closed record.

The surface that screens, the shell and other people's programs use. It appends events, folds them, and asks the
reasoning what follows; it keeps nothing else.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any, Literal, get_args

import numpy as np
from msgspec.structs import replace as replace_in

from diagnose.calls import events as ev
from diagnose.calls.answering import AnswerError, Understood, understand
from diagnose.calls.closing import Ledger, Missing, in_words, ledger
from diagnose.calls.complaints import Fitting, fitting_better
from diagnose.calls.inference import Finding, Inference, believed, doubtful, infer, tree_facts
from diagnose.calls.state import CallState, fold, folded, standing
from diagnose.calls.then_and_now import then_in_units
from diagnose.knowledge.model import (
    ANY,
    COULD_NOT_TELL,
    UNLISTED,
    Held,
    Job,
    Proof,
    Task,
    Trees,
    Walk,
    applies,
    as_facts,
    can_do,
    power_state,
    usual_people,
)
from diagnose.knowledge.problems import did_you_mean
from diagnose.reasoning import explain
from diagnose.reasoning.evidence import conflict
from diagnose.reasoning.naming import next_question, tested
from diagnose.reasoning.own_door import own_door
from diagnose.reasoning.plan import Planner, Standing, Suggestion, closing_minutes
from diagnose.reasoning.situation import Situation, make_situation
from diagnose.reasoning.walk import Way, inputs_of

# What was found speaks for a cause from this weight on: a Bayes factor called strong (Kass & Raftery, *Bayes Factors*,
# 1995; from memory).
_SPEAKS_FOR = math.log(20)
# How many doubtful answers are worth another look before it is called unknown.
_MOST_SECOND_LOOKS = 3
NOTHING_FITS = "The answers fit a cause that is not in the book better than any that is; doubt this one."
LOOK_AGAIN = "This does not fit the other answers, and a slip is likelier than an unknown fault. Look again."
LAST_LOOK = "Nothing known fits, and this answer sits worst with the rest: look again before it is handed over."
# From here on a cause counts as confidently named; and so many of the answered checks must be expected to have spoken
# against it, had it been a cause not in the book. Chosen on dermatology data and a network of pathology, diseases left
# out in turn: the warning stands beside nine in ten of the names that are wrong then.
CONFIDENT = 0.9
ENOUGH_TESTED = 5.0
TOO_FEW = (
    "Few of the checks answered could have spoken against it: a cause that is not in the book might look the same. "
    "Ask further before you rely on it."
)
# By how much the answers must raise the odds of an unlisted cause for it to lead, whatever was expected before them: a
# Bayes factor from which evidence is called positive (Kass & Raftery, *Bayes Factors*, 1995; from memory). How often
# calls are of a cause not in the book is an estimate; what the answers say of this call is not.
_CLEARLY = 3.0
# What steps of the kind "stop" are called: nothing is left to do here; every proof has passed; one has failed, and what
# it showed is a complaint of its own.
HAND_OVER = "hand over"
RETURN = "return to service"
PROOF_FAILED = "proof failed"
RETURNED: ev.Outcome = "returned to service"
# A door that goes back to those who use it.
BACK: tuple[ev.Outcome, ...] = (RETURNED, "handed over")
Clock = Callable[[], datetime]
Recorder = Callable[[ev.AnyEvent], None]


class CallError(ValueError):
    """What was asked of the call makes no sense; ``str`` says why and what to do."""


class WordNeeded(CallError):
    """What is taken back is something the closing of the call hangs on: say it again with a reason.

    ``lost`` names what would no longer have to be proved. ``fact`` is the fact it is about, where the word needed is
    what became of what the door had; else ``""``.
    """

    def __init__(self, sentence: str, lost: tuple[Missing, ...], fact: str = "") -> None:
        super().__init__(sentence)
        self.lost, self.fact = lost, fact


@dataclass(frozen=True)
class Step:
    """What to do next. ``kind`` says what ``id`` names.

    ``check``, ``remedy``, ``proof`` and ``job`` name such entries; ``energy`` names the state to bring the door into
    first; ``stop`` is ``cause found`` or ``nothing can matter`` (of a call for the cause), ``return to service`` (every
    proof passed), ``proof failed`` (take up what it showed), ``hand over``, ``no symptom`` or ``closed``. ``goal`` is
    the step this one leads to. Minutes are for this step, and to a proven door with the middle 80 % of it.
    """

    kind: Literal["check", "remedy", "proof", "job", "energy", "stop"]
    id: str
    why: str
    minutes: float
    expected_minutes_left: float
    interval: tuple[float, float] = (0.0, 0.0)
    goal: str = ""
    goal_kind: str = ""


@dataclass(frozen=True)
class Evidence:
    """One answer for or against a cause. ``factor`` multiplies the cause's odds against the average suspect."""

    check: str
    answer: str
    factor: float


@dataclass(frozen=True)
class Likely:
    """A suspected cause, how likely it is in the door now, and the answers for and against it, strongest first."""

    cause: str
    title: str
    probability: float
    evidence: tuple[Evidence, ...]


@dataclass(frozen=True)
class Surprise:
    """How ill the answers sit together: ``conflict`` above 0 is odd. ``odd`` lists checks, the most doubtful first.

    ``again`` are answers that were probably slips: a slip of the reader comes before an exotic cause. ``raised`` is how
    many times the answers have raised the odds of a cause not in the book, whatever they were before.
    """

    conflict: float
    unlisted: float
    raised: float
    nothing_fits: bool
    odd: tuple[str, ...]
    again: tuple[str, ...]


class Call:
    """A call on ``trees``. Every method that changes it appends one event.

    ``goal`` says what the call is for: ``repair``, down to a proven door, or ``cause``, which asks until a cause is
    ``sure`` (a probability) or nothing left to ask can matter; by default it is ``repair`` where the trees know any.
    ``people`` are those there, by default the trees' usual ones. ``walk`` names work to be done and proved at the door
    in place of, or before, any complaint.

    ``recorder`` is given each event before it counts: when it raises, nothing has happened. ``clock`` gives the
    time an event is stamped with. Raises ``CallError`` for facts, symptoms or people that the trees do not know.
    """

    def __init__(
        self,
        trees: Trees,
        facts: Mapping[str, Any] | None = None,
        symptoms: Iterable[str] = (),
        *,
        site: str = "",
        door: str = "",
        people: Iterable[str] | None = None,
        walk: str = "",
        goal: Literal["repair", "cause"] | None = None,
        sure: float = 0.95,
        by: str = "",
        clock: Clock | None = None,
        recorder: Recorder | None = None,
        history: Iterable[ev.AnyEvent] | None = None,
    ) -> None:
        self.trees = trees
        self.by = by
        if goal not in (None, "repair", "cause") or not 0 < sure <= 1:
            raise CallError("A call's goal is 'repair' or 'cause', and how sure to be lies above 0 and is at most 1.")
        self.goal: Literal["repair", "cause"] = goal or ("repair" if trees.remedies else "cause")
        self.sure = sure
        self._clock = clock or (lambda: datetime.now(UTC))
        self._recorder = recorder
        self._events: list[ev.AnyEvent] = list(history or ())
        self._state: CallState | None = None
        self._inference: Inference | None = None
        self._planner: Planner | None = None
        self._ledger: Ledger | None = None
        self._fitting: tuple[Fitting, ...] | None = None
        # What others recorded while this call was in hand, for a face to show once.
        self.came_in: tuple[ev.AnyEvent, ...] = ()
        if not self._events:
            symptoms, people = tuple(symptoms), usual_people(trees) if people is None else tuple(people)
            # Settings made for another trade name only people that these trees do not know.
            people = people if not people or any(person in trees.people for person in people) else usual_people(trees)
            stated = as_facts(facts or {})
            self._check_facts(stated)
            self._check_known("symptom", symptoms, trees.symptoms)
            self._check_known("walk", [walk] if walk else [], trees.walks)
            self._append(ev.Opened, facts=stated, symptoms=symptoms, site=site, door=door, people=people, walk=walk)

    # --- what is known -------------------------------------------------------------------------------------

    @property
    def events(self) -> tuple[ev.AnyEvent, ...]:
        return tuple(self._events)

    @property
    def state(self) -> CallState:
        if self._state is None:
            self._state = fold(self._events)
        return self._state

    @property
    def situation(self) -> Situation:
        facts = tree_facts(self.trees, self.state.facts)
        key = tuple(sorted((k, v) for k, v in facts.items()))
        symptoms = tuple(s for s in self.state.symptoms if s in self.trees.symptoms)
        return _situation(Held(self.trees), key, symptoms, then_in_units(self.trees, self.state.then))

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
            self._fetched(),
            can_do(self.trees, state.people),
            {check: same for check, same in doubtful(self.inference).items() if self._may_do(check)},
        )

    def _spent(self) -> set[str]:
        """Remedies that were in vain and are not put again: twice, or once and nothing found since speaks for them."""
        in_vain = [item for item in self.state.tries if item.worked is False]
        count = Counter(item.remedy for item in in_vain)
        return {
            item.remedy
            for item in in_vain
            if count[item.remedy] >= 2 or not self._speaks_for(item.remedy, item.sequence)
        }

    def _speaks_for(self, remedy: str, since: int) -> bool:
        """Whether what was found since, and not looked at before, speaks for a cause that a remedy removes."""
        causes, findings = self.situation.causes, self.inference.findings
        removed = [i for i, cause in enumerate(causes[:-1]) if remedy in self.trees.causes[cause].remedies]
        before = {finding.check.id for finding in findings if finding.sequence < since}
        found = [f.weights for f in findings if f.sequence > since and f.check.id not in before]
        return any(sum(float(weights[i]) for weights in found) > _SPEAKS_FOR for i in removed)

    def likely(self) -> list[Likely]:
        """Every suspect with its probability and evidence, likeliest first; ``unlisted`` is among them unless it is
        switched off. They sum to 1 where causes are exclusive; two at once count for both.

        Where the answers fit nothing known, ``unlisted`` leads however seldom it is expected: what stands below it is
        the best of a bad lot.
        """
        inference = self.inference
        present = inference.present
        off = self.trees.costs.unlisted == 0 and inference.situation.count > 1
        ranked = sorted(
            range(inference.situation.count - off), key=lambda i: (-present[i], inference.situation.causes[i])
        )
        if self.nothing_fits:
            ranked.sort(key=lambda i: inference.situation.causes[i] != UNLISTED)
        return [
            Likely(
                inference.situation.causes[i],
                explain.cause_title(self.trees, inference.situation.causes[i]),
                float(present[i]),
                _evidence(inference.findings, i),
            )
            for i in ranked
        ]

    def surprise(self) -> Surprise:
        """Whether the answers sit ill together, and which of them to doubt first.

        An answer is doubted by how much the conflict eases when it is left out.
        """
        findings = list(self.inference.findings)
        likelihoods = [finding.likelihood for finding in findings]
        whole = conflict(self.situation, likelihoods)
        without = [
            (conflict(self.situation, likelihoods[:i] + likelihoods[i + 1 :]), finding.check.id)
            for i, finding in enumerate(findings)
        ]
        odd = tuple(check for value, check in sorted(without) if whole - value > 0.5)
        again = tuple(self.planner.standing.doubtful)[:_MOST_SECOND_LOOKS]
        unlisted = float(self.inference.belief.causes()[-1])
        return Surprise(whole, unlisted, self._unlisted_raised(), self.nothing_fits, odd, again)

    @property
    def nothing_fits(self) -> bool:
        """Whether the answers fit a cause not in the book clearly better than all that is in it."""
        return float(self.inference.belief.causes()[-1]) >= 0.5 or self._unlisted_raised() >= _CLEARLY

    def _unlisted_raised(self) -> float:
        before, now = float(self.situation.prior[-1]), float(self.inference.belief.causes()[-1])
        return now / max(1 - now, 1e-12) * (1 - before) / before if 0 < before < 1 else 1.0

    def fitting_better(self) -> tuple[Fitting, ...]:
        """Other complaints that would explain the answers, where those that were made do not; the best first."""
        if self._fitting is None:
            self._fitting = fitting_better(self.situation, self.state) if self.nothing_fits else ()
        return self._fitting

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
        """The needed proofs that have not passed since the last remedy, those of the present state first."""
        missing = [proof for proof in self.needed_proofs() if proof.id not in self.ledger.passed]
        order = {proof.energy: i for i, proof in reversed(list(enumerate(missing)))}
        return tuple(sorted(missing, key=lambda p: (p.energy not in (self.energy, ANY), order[p.energy])))

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

    def to_read(self, job: Job) -> tuple[str, ...]:
        """The checks that are answered with a job and are not yet, with what those are computed from."""
        facts = self.state.facts
        fitting = [self.trees.checks[check] for check in job.reads if applies(self.trees.checks[check].applies, facts)]
        wanted = dict.fromkeys(name for check in fitting for name in (*inputs_of(self.trees, check), check.id))
        return tuple(
            name
            for name in wanted
            if name in self.trees.checks
            and self.trees.checks[name].kind != "computed"
            and name not in self.state.answers
        )

    def failed_proofs(self) -> tuple[Proof, ...]:
        """Proofs that have failed since the last remedy and were not put off, in the order they were run."""
        results, put_off = self.state.proofs, self.state.put_off
        failed = (identity for identity, passed in results.items() if not passed and ("proof", identity) not in put_off)
        return tuple(self.trees.proofs[identity] for identity in failed if identity in self.trees.proofs)

    def raised_by(self, failed: Proof | Job) -> tuple[str, ...]:
        """The complaints that a failed proof or job shows, of those this door can have and are not yet looked into."""
        known, facts = self.trees.symptoms, self.state.facts
        return tuple(s for s in failed.raises if s not in self.state.symptoms and applies(known[s].applies, facts))

    # --- what to do ----------------------------------------------------------------------------------------

    def refusal(self) -> str:
        """Why this is nothing that the trees know, going by its facts; "" where they do."""
        said = [(self.trees.facts[fact].not_served, value) for fact, value in self.state.facts.items()]
        return next((no[value] for no, value in said if isinstance(value, str) and value in no), "")

    def next_step(self, quick: bool = False) -> Step:
        """The step with the lowest expected cost to a proven door; ``quick`` takes the most telling check instead."""
        state = self.state
        if state.outcome is not None:
            return Step("stop", "closed", f"The call is closed: {state.outcome}.", 0.0, 0.0)
        if refusal := self.refusal():
            return Step("stop", HAND_OVER, refusal, 0.0, 0.0)
        if self.walking and not state.untried:
            return self._next_job()
        if self.goal == "cause" and state.symptoms:
            return self._next_question()
        if state.proving:
            return self._next_proof()
        if not state.symptoms:
            return Step("stop", "no symptom", "Say first what the door does wrong.", 0.0, 0.0)
        if failed := self._failed_proof("the first one"):
            return failed
        suggestion = (self._most_telling() if quick else None) or self._best()
        prospect = suggestion.prospect.after(self._closing_minutes(self.needed_proofs()))
        left, interval = prospect.mean, prospect.middle()
        if suggestion.kind == "stop":
            odd = None if quick else self._odd_and_seen_once()
            if odd is not None:
                return self._step("check", odd, LAST_LOOK, left, interval)
            return Step("stop", HAND_OVER, explain.why_stop(self.planner), 0.0, left, interval)
        if suggestion.kind == "remedy":
            if first := self.planner.before(self.trees.remedies[suggestion.id]):
                return self._asked_before(suggestion.id, first[0], left, interval)
            why = explain.why_remedy(self.planner, suggestion)
            if self.nothing_fits:
                why = f"{NOTHING_FITS} {why}"
            return self._step("remedy", suggestion.id, why, left, interval)
        return self._check_step(suggestion, left, interval)

    def _failed_proof(self, before: str) -> Step | None:
        """That a proof has failed and shows a complaint of its own, which comes ``before`` what was going on."""
        failed = next((proof for proof in self.failed_proofs() if self.raised_by(proof)), None)
        if failed is None:
            return None
        why = f"'{failed.title}' has failed. That is a complaint of its own, and it comes before {before}."
        return Step("stop", PROOF_FAILED, why, 0.0, 0.0, goal=failed.id, goal_kind="proof")

    def _next_question(self) -> Step:
        """The next step of a call that is for the cause alone."""
        put_off = {step for kind, step in self.state.put_off if kind == "check"}
        suggestion = next_question(self.planner, self.sure, put_off)
        if suggestion.kind == "stop":
            why = explain.why_named(self.planner, suggestion.id)
            return Step("stop", suggestion.id, " ".join(filter(None, [why, self.untested()])), 0.0, 0.0)
        return self._check_step(suggestion, suggestion.prospect.mean, suggestion.prospect.middle())

    def untested(self) -> str:
        """A warning where a cause is confidently named though few of the answers could have spoken against it.

        Whoever stops as soon as one cause leads has hardly given a cause that is not in the book a chance to show.
        """
        leading = self.likely()[0]
        if leading.cause == UNLISTED or leading.probability < CONFIDENT or self.trees.costs.unlisted == 0:
            return ""
        answered = [finding.table for finding in self.inference.findings]
        index = self.situation.causes.index(leading.cause)
        if tested(self.situation, index, answered) >= ENOUGH_TESTED:
            return ""
        left = len(self.situation.tables) - len(self.inference.known.keys() & self.situation.tables.keys())
        return TOO_FEW if left else ""

    def _check_step(self, suggestion: Suggestion, left: float, interval: tuple[float, float]) -> Step:
        first = next(s for s in suggestion.way if self.trees.checks[s].kind != "computed")
        why = explain.why_check(self.planner, suggestion.id)
        if first in self.state.answers:
            why = f"{LOOK_AGAIN} {why}"
        if first != suggestion.id:
            why = f"It comes before: {self.trees.checks[suggestion.id].text}. {why}"
        return self._step("check", first, why, left, interval, suggestion.id)

    def _asked_before(self, remedy: str, way: Way, left: float, interval: tuple[float, float]) -> Step:
        """The check that says whether a remedy is the thing to do, before it is put."""
        first = next(step for step in way.steps if self.trees.checks[step].kind != "computed")
        return self._step("check", first, explain.why_before(self.planner, remedy), left, interval, way.goal)

    def _most_telling(self) -> Suggestion | None:
        """The planner's quick suggestion, what was put off left aside."""
        return self.planner.most_telling({step for kind, step in self.state.put_off if kind == "check"})

    def _best(self) -> Suggestion:
        """The planner's suggestion; where that was put off the next best step that was not, if there is one."""
        best, put_off = self.planner.best(), self.state.put_off
        if (best.kind, best.id or HAND_OVER) not in put_off:
            return best
        left = tuple(other for other in best.alternatives if other[:2] not in put_off)
        first = next((other for other in left if other[0] != "stop"), None)
        if first is None:
            return best
        kind, name, cost = first
        ways = (c.way.steps for c in self.planner.candidates if kind == "check" and c.way.goal == name)
        return replace(best, kind=kind, id=name, way=next(ways, ()), expected_cost=cost, alternatives=left)

    def _odd_and_seen_once(self) -> str | None:
        """The answer that sits worst with the rest, of those that may be looked at again here and were not yet."""
        mended = max((item.sequence for item in self.state.tries if item.worked), default=0)
        seen = [f for f in self.inference.findings if f.heard == "seen" and f.sequence > mended]
        looks: Counter[str] = Counter()
        for finding in seen:
            looks[finding.check.id] += finding.looks
        once = {check for check, count in looks.items() if count == 1}
        odd = (check for check in self.surprise().odd if check in once and self._may_do(check))
        return next((check for check in odd if self._leads_otherwise(check)), None)

    def _leads_otherwise(self, without: str) -> bool:
        """Whether another cause would lead if a check had not been answered so."""
        inference = self.inference
        kept = (item for item in inference.items if not (isinstance(item, Finding) and item.check.id == without))
        other = believed(self.situation, tuple(kept), inference.pairs).causes()
        return bool(np.argmax(other) != np.argmax(inference.belief.causes()))

    def _may_do(self, check: str) -> bool:
        entry = self.trees.checks[check]
        return entry.kind != "computed" and entry.who in can_do(self.trees, self.state.people)

    def _next_job(self) -> Step:
        """The next job of the walk, or what is read with it; the proofs when all jobs are done."""
        ready = self.ready_jobs()
        if not ready:
            return self._next_proof()
        left = self.walk_minutes()
        job = next((job for job in ready if ("job", job.id) not in self.state.put_off), ready[0])
        return self.job_step(job, left)

    def job_step(self, job: Job, left: float) -> Step:
        """The first thing to do on the way to a job's end: a reading that goes with it, or the job itself."""
        assert self.walk is not None
        came = self.state.jobs.get(job.id)
        why = f"It was not right: {came.reason.rstrip('.')}." if came is not None and came.came == "not right" else ""
        for check in self.to_read(job)[:1]:
            return self._step("check", check, f"Read with: {job.title}.", left, (left, left), job.id, "job")
        return self._step("job", job.id, why, left, (left, left))

    def walk_minutes(self) -> float:
        """Minutes of the jobs that are open, and of the proofs."""
        open_jobs = self.open_jobs()
        return sum(job.minutes for job in open_jobs) + self._closing_minutes(self.open_proofs())

    def _next_proof(self) -> Step:
        missing = self.open_proofs()
        left = self._closing_minutes(missing)
        if self.walk and (failed := self._failed_proof("the walk goes on")):
            return failed
        if not missing:
            return self._hand_back()
        are = "is" if len(missing) == 1 else "are"
        why = f"{len(missing)} of {len(self.needed_proofs())} proofs {are} left before the door returns to service."
        first = next((proof for proof in missing if ("proof", proof.id) not in self.state.put_off), missing[0])
        return self._step("proof", first.id, why, left, (left, left))

    def _hand_back(self) -> Step:
        """Back to service, with power and closed up first: the last proof may have been run without."""
        wanted = power_state(self.trees)
        if not wanted or self.energy in (wanted, ANY):
            return Step("stop", RETURN, "Every proof this door needs has passed.", 0.0, 0.0)
        minutes = self.trees.energy[wanted].minutes_from(self.energy)
        why = "Every proof has passed. The door goes back to its users with power, closed up, and without your lock."
        return Step("energy", wanted, why, minutes, minutes, (minutes, minutes), RETURN, "stop")

    def _closing_minutes(self, proofs: Collection[Proof]) -> float:
        facts = tree_facts(self.trees, self.state.facts)
        return closing_minutes(self.trees, proofs, facts, can_do(self.trees, self.state.people))

    def _step(
        self,
        kind: Literal["check", "remedy", "proof", "job"],
        identity: str,
        why: str,
        left: float,
        interval: tuple[float, float],
        goal: str = "",
        goal_kind: str = "",
    ) -> Step:
        """The step itself, or the change of energy state that has to come before it."""
        entry = self.trees.task(kind, identity)
        assert entry is not None
        goal, goal_kind = goal or identity, goal_kind or kind
        if entry.energy not in (self.energy, ANY):
            minutes = self.trees.energy[entry.energy].minutes_from(self.energy)
            text = f"The next step is done in this state. {why}"
            if goal_kind != "job":
                goal, goal_kind = identity, kind
            return Step("energy", entry.energy, text, minutes, left, interval, goal, goal_kind)
        return Step(kind, identity, why, entry.minutes, left, interval, goal, goal_kind)

    # --- what happened -------------------------------------------------------------------------------------

    def understand(self, check: str, text: str) -> Understood:
        """What ``text`` would answer, without answering. Raises ``AnswerError``."""
        self._check_known("check", [check], self.trees.checks)
        return understand(self.trees.checks[check], text)

    def answer(
        self,
        check: str,
        text: str,
        *,
        mode: Literal["new", "again", "correction"] = "new",
        heard: Literal["seen", "told"] = "seen",
        reason: str = "",
    ) -> Understood:
        """Answer a check with what was typed; a correction of what showed a hazard wants its ``reason``.

        Raises ``AnswerError``, ``WordNeeded``, and ``CallError`` for an unknown check.
        """
        understood = self.understand(check, text)
        event = self._event(
            ev.Answered,
            check=check,
            raw=text,
            value=understood.value,
            unit=understood.unit,
            mode=mode,
            heard=heard,
            reason=reason.strip(),
        )
        if mode == "correction" and (lost := self._lost(replace_in(event, reason="?"), event)):
            raise WordNeeded(f"A hazard was seen there: {_titles(lost)}. If that look was mistaken, say why.", lost)
        self._record(event)
        return understood

    def withdraw(self, check: str, reason: str = "") -> None:
        """Take an answer back; ``reason`` where it had shown a hazard. Raises ``CallError``, ``WordNeeded``."""
        if check not in self.state.answers:
            raise CallError(f"'{check}' has no answer to take back.")
        self._with_reason(ev.Withdrawn, reason, check=check)

    def state_fact(self, fact: str, value: str | tuple[str, ...], *, became: ev.Became = "", reason: str = "") -> None:
        """Say, or correct, something about the door; ``""`` forgets it, and ``()`` says it has none of these.

        What proofs hang on does not vanish in mid call without a word: ``became`` says what became of what was stated
        before, "never there" with its ``reason`` or "taken off". Raises ``CallError``, ``WordNeeded``.
        """
        if value != "":
            self._check_facts({fact: value})
        event = self._event(ev.FactStated, fact=fact, value=value, became=became, reason=reason.strip())
        if became != "taken off" and not (became and event.reason):
            unsaid = replace_in(event, became="")
            if lost := self._lost(replace_in(event, became="never there", reason="?"), unsaid):
                title = self.trees.facts[fact].title
                told = "Was it never there (say why), or was it taken off (then it is refitted and proved)?"
                raise WordNeeded(f"{title}: on what was stated before hangs: {_titles(lost)}. {told}", lost, fact)
        self._record(event)

    def state_place(self, site: str, door: str = "", caller: str | None = None, number: str | None = None) -> None:
        """Say, or correct, where the door is, who called and how to call back; ``None`` leaves the last two."""
        self._append(ev.PlaceStated, site=site, door=door, caller=caller, number=number)

    def state_symptoms(self, symptoms: Iterable[str], reason: str = "") -> None:
        """Say, or correct, what is complained of; ``reason`` where what is not gone is taken away in mid call.

        Raises ``CallError``, ``WordNeeded``.
        """
        named = tuple(symptoms)
        self._check_known("symptom", named, self.trees.symptoms)
        event = self._event(ev.SymptomsStated, symptoms=named, reason=reason.strip())
        if not event.reason and (lost := self._lost(replace_in(event, reason="?"), event, ("complaint",))):
            raise WordNeeded(f"Nobody has said that it is gone: {_titles(lost)}. If it was a mistake, say why.", lost)
        self._record(event)

    def state_people(self, people: Collection[str], coming: Mapping[str, str] | None = None) -> None:
        """Say who is at the door, and whom the call waits for, with when each of them comes. Raises ``CallError``.

        Without ``coming`` those who were to come and are not here are still waited for.
        """
        awaited = {person: when for person, when in self.state.coming.items() if person not in people}
        awaited = awaited if coming is None else dict(coming)
        self._check_known("person", [*people, *awaited], self.trees.people)
        if not all(when.strip() for when in awaited.values()):
            raise CallError("Say when they come: a day, an hour, or who will ring and settle it.")
        self._append(ev.PeopleStated, people=tuple(people), coming=awaited)

    def enter(self, energy: str, goal: tuple[str, str] = ("", "")) -> None:
        """Say that the door was brought into an energy state, and for which step (kind and id) it was."""
        self._check_known("energy state", [energy], self.trees.energy)
        self._append(ev.EnergyEntered, energy=energy, goal_kind=goal[0], goal=goal[1])

    def tried(self, remedy: str, worked: bool) -> None:
        """Say that a remedy was done, and whether every complaint is gone or none. Raises ``CallError``."""
        self._check_known("remedy", [remedy], self.trees.remedies)
        self._check_here(self.trees.remedies[remedy], self.trees.remedies[remedy].title)
        self._append(ev.Tried, remedy=remedy, worked=worked)

    def done(self, remedy: str) -> None:
        """Say that a remedy was done; what it did is said by ``judge``. Raises ``CallError``."""
        self._check_known("remedy", [remedy], self.trees.remedies)
        self._check_here(self.trees.remedies[remedy], self.trees.remedies[remedy].title)
        self._append(ev.RepairDone, remedy=remedy)

    def judge(self, outcomes: Mapping[str, ev.Now], when: str = "") -> None:
        """Say what complaints do now, each for itself; ``when`` to look again at what is too early to tell.

        Raises ``CallError`` for a complaint that was not stated, or nothing said.
        """
        self._check_known("complaint of this call", outcomes, self.state.symptoms)
        if not outcomes or not set(outcomes.values()) <= set(get_args(ev.Now)):
            raise CallError(f"Say of each complaint one of: {', '.join(get_args(ev.Now))}.")
        if "too early" in outcomes.values() and not when.strip():
            raise CallError("Say when to look again: an hour, a weather, a number of days or cycles.")
        self._append(ev.Judged, outcomes=dict(outcomes), when=when.strip())

    def proved(self, proof: str, passed: bool) -> None:
        """Say how a proof came out. Raises ``CallError`` where it cannot have passed, and says why."""
        self._check_known("proof", [proof], self.trees.proofs)
        if passed and (refusal := self.ledger.refusal(self.trees.proofs[proof])):
            raise CallError(refusal)
        self._append(ev.Proved, proof=proof, passed=passed)

    def job(self, job: str, came: ev.Came, reason: str = "") -> None:
        """Say how a job of the walk came out. Raises ``CallError`` where it cannot be done, or a reason is missing."""
        self._check_known("job of this walk", [job], self.walk.jobs if self.walk is not None else ())
        entry = self.trees.jobs[job]
        if came == "done":
            self._check_here(entry, entry.title)
            if first := [each for each in self.open_jobs() if each.id in entry.after]:
                raise CallError(f"'{first[0].title}' comes before it. Do that first, or say why it is not needed.")
        elif not reason.strip():
            raise CallError("Say why it is not needed." if came == "not needed" else "Say what is not right.")
        self._append(ev.JobDone, job=job, came=came, reason=reason.strip())

    def put_off(self, kind: str, step: str) -> None:
        """Leave a step for later: it is not suggested while there is something else to do."""
        self._check_named(kind, step)
        self._append(ev.PutOff, kind=kind, step=step)

    def take_up(self, kind: str, step: str) -> None:
        """Choose a step: it is to be done next, and is left for later no more."""
        self._check_named(kind, step)
        self._append(ev.TakenUp, kind=kind, step=step)

    def not_finished(self) -> None:
        """Say that the repair which was to be tried is not finished: it counts as not done.

        What was begun still makes earlier proofs stale, and asks for its own.
        """
        done = [e for e in standing(self._events) if isinstance(e, ev.RepairDone)]
        if not self.state.untried or not done:
            raise CallError("There is no repair that was not tried yet.")
        self._append(ev.Undone, undoes=done[-1].sequence)

    def danger(self, danger: str, answer: str, told: bool = False) -> None:
        """Say whether a sign of danger is there; ``told``, that the caller has heard what to do about it."""
        self._check_known("danger", [danger], self.trees.dangers)
        self._append(ev.DangerStated, danger=danger, answer=answer, told=told)

    def recall(self, readings: Mapping[str, ev.Then], lines: Mapping[str, tuple[ev.Then, ...]] | None = None) -> None:
        """Put what was read of this door before beside what is read now; nothing where nothing was."""
        if readings or lines:
            self._append(ev.Recalled, readings=dict(readings), lines=dict(lines or {}))

    def note(self, text: str) -> None:
        """Keep something no check asks for."""
        self._append(ev.Noted, text=text)

    def undo(self, reason: str = "") -> bool:
        """Undo the last event that counts, the opening and what it recalled excepted; false where there is none.

        Raises ``WordNeeded`` where something would no longer have to be proved, and ``CallError`` where a door would
        stand returned to service with something missing.
        """
        counting = [event for event in standing(self._events) if not isinstance(event, (ev.Opened, ev.Recalled))]
        if not counting:
            return False
        if isinstance(counting[-1], ev.Reopened) and fold(counting[:-1]).outcome in BACK:
            raise CallError("The call was opened again. Close it again when nothing is missing.")
        self._with_reason(ev.Undone, reason, undoes=counting[-1].sequence)
        return True

    def follow(self, events: Sequence[ev.AnyEvent]) -> None:
        """Go on from these events, some of which others recorded meanwhile: they are in ``came_in``."""
        known = set(map(repr, self._events))
        self.came_in = (*self.came_in, *(event for event in events if repr(event) not in known))
        self._events = list(events)
        self._state = self._ledger = self._inference = self._planner = self._fitting = None

    def close(self, outcome: ev.Outcome, reason: str = "") -> None:
        """End the call; until it is reopened nothing but notes can be added.

        Raises ``CallError`` when the door is to return to service with anything missing, or to be left out of service,
        or the call to end without a visit, without a reason: there is no other way to close.
        """
        if outcome in BACK:
            if outcome != self.ends:
                raise CallError(f"This call ends with the door {self.ends}, or left out of service.")
            if missing := self.missing(reason):
                raise CallError(f"Not yet. {in_words(missing)} Or leave the door out of service, and say why.")
        elif outcome == "ended without a visit":
            if self.state.at_the_door:
                raise CallError("Somebody has been at this door: leave it out of service, or return it to service.")
            if not reason.strip():
                raise CallError("Say why the call ends without a visit.")
        elif not reason.strip():
            raise CallError("Say why the door is left out of service.")
        self._append(ev.Closed, outcome=outcome, reason=reason)

    def reopen(self, reason: str = "") -> None:
        """Go on with a closed call."""
        self._append(ev.Reopened, reason=reason)

    # --- inside --------------------------------------------------------------------------------------------

    def _event(self, kind: type[ev.Event], /, **fields: Any) -> Any:
        return kind(
            sequence=self._events[-1].sequence + 1 if self._events else 1,
            at=self._clock().isoformat(timespec="seconds"),
            by=self.by,
            digest=self.trees.digest[:16],
            **fields,
        )

    def _append(self, kind: type[ev.Event], /, **fields: Any) -> None:
        self._record(self._event(kind, **fields))

    def _record(self, event: Any) -> None:
        kind = type(event)
        if self._events and self.state.outcome is not None and kind not in (ev.Reopened, ev.Noted, ev.Undone):
            raise CallError(f"The call is closed: {self.state.outcome}. Reopen it to go on.")
        if self._recorder is not None:
            self._recorder(event)
        self._events.append(event)
        self._inference = self._planner = self._fitting = None
        if isinstance(event, ev.Undone):
            self._state = self._ledger = None
            return
        # What was folded goes on from where it was: the same as all events from the first.
        if self._state is not None:
            self._state = folded(self._state, event)
        if self._ledger is not None:
            self._ledger.take(event)

    def _with_reason(self, kind: type[ev.Event], reason: str, /, **fields: Any) -> None:
        """Append an event that takes something back, if nothing hangs on it or the reason is given."""
        event = self._event(kind, **fields, reason=reason.strip())
        if not event.reason and (lost := self._lost(replace_in(event, reason="?"))):
            raise WordNeeded(f"That takes back what is to be proved: {_titles(lost)}. Say why it is right.", lost)
        self._record(event)

    def _lost(
        self,
        event: ev.AnyEvent,
        instead: ev.AnyEvent | None = None,
        kinds: Collection[str] = ("proof", "failed proof"),
    ) -> tuple[Missing, ...]:
        """What of these kinds is missing now, or after ``instead``, and would not be after ``event``.

        What is said before anybody has touched the door is put right freely.
        """
        if not self.ledger.touched:
            return ()
        before = self.missing() if instead is None else ledger(self.trees, [*self._events, instead]).missing()
        left = {(each.kind, each.id) for each in ledger(self.trees, [*self._events, event]).missing()}
        return tuple(each for each in before if each.kind in kinds and (each.kind, each.id) not in left)

    def _check_here(self, entry: Task, title: str) -> None:
        if entry.who not in can_do(self.trees, self.state.people):
            who = self.trees.people[entry.who].title
            raise CallError(f"'{title}' is for a {who}, and none is here. Say who is here, or leave it to one who is.")

    def _check_known(self, kind: str, names: Iterable[str], known: Collection[str]) -> None:
        for name in names:
            if name not in known:
                raise CallError(f"'{name}' is no {kind} of these trees. {did_you_mean(name, known)}")

    def _check_named(self, kind: str, step: str) -> None:
        known: dict[str, Collection[str]] = {
            "check": self.trees.checks,
            "remedy": self.trees.remedies,
            "proof": self.trees.proofs,
            "job": self.trees.jobs,
            "stop": (HAND_OVER,),
        }
        if kind not in known:
            raise CallError(f"'{kind}' is no kind of step. {did_you_mean(kind, known)}")
        self._check_known(kind, [step], known[kind])

    def _check_facts(self, facts: Mapping[str, str | tuple[str, ...]]) -> None:
        for fact, value in facts.items():
            self._check_known("fact", [fact], self.trees.facts)
            allowed = self.trees.facts[fact].answers
            for one in (value,) if isinstance(value, str) else value:
                if one not in allowed:
                    raise CallError(f"'{one}' is no answer to '{fact}'. {did_you_mean(one, allowed)}")

    def _fetched(self) -> set[str]:
        """What earlier steps were done from stays at the door."""
        entries = [self.trees.checks.get(check) for check in self.state.answers]
        remedies = [self.trees.remedies.get(item.remedy) for item in self.state.tries]
        return {entry.access for entry in [*entries, *remedies] if entry is not None}


@lru_cache(maxsize=64)
def _situation(
    held: Held,
    facts: tuple[tuple[str, str | tuple[str, ...]], ...],
    symptoms: tuple[str, ...],
    then: tuple[tuple[str, tuple[float, float]], ...],
) -> Situation:
    return make_situation(own_door(held.trees, dict(then)), dict(facts), symptoms)


def _evidence(findings: tuple[Finding, ...], cause: int) -> tuple[Evidence, ...]:
    weighed = [(float(f.weights[cause]), f) for f in findings]
    weighed.sort(key=lambda pair: (-abs(pair[0]), pair[1].check.id))
    return tuple(Evidence(f.check.id, _shown(f), math.exp(weight)) for weight, f in weighed)


def _titles(missing: Collection[Missing]) -> str:
    return "; ".join(each.title for each in missing)


def _shown(finding: Finding) -> str:
    value = finding.value
    return value if isinstance(value, str) else f"{value:.4g} {finding.check.unit}".strip()


__all__ = [
    "COULD_NOT_TELL",
    "AnswerError",
    "Call",
    "CallError",
    "Evidence",
    "Likely",
    "Missing",
    "Step",
    "Suggestion",
    "WordNeeded",
]
