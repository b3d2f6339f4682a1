"""A practice call: what the trainee does, and what the door answers.

Everything follows from the scenario, the seed and what was done, in order: the same acts give the same door, the same
minutes and the same score, today and after a power cut. What the trainee finds goes into a ``Call`` of their own, so
that their knowledge can be judged by the same reasoning that a real call uses.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Literal, TypeVar

import msgspec
import numpy as np

from diagnose.calls.call import Call, CallError
from diagnose.calls.closing import in_words
from diagnose.calls.events import Came, Outcome
from diagnose.calls.known import BACK
from diagnose.calls.state import Answer, Try
from diagnose.calls.words import step_title, title
from diagnose.knowledge.model import ANY, Check, Job, Proof, Remedy, Symptom, Task, Trees, applies, can_do, power_state
from diagnose.knowledge.problems import did_you_mean
from diagnose.knowledge.words import minutes
from diagnose.practice.hidden_door import HiddenDoor
from diagnose.practice.mishaps import Consequences, Happened
from diagnose.practice.scenario import Scenario, first_screen
from diagnose.practice.simulated import PROOFS_SHOW
from diagnose.reasoning.moving import Whereabouts, enter, state_minutes
from diagnose.reasoning.walk import Known, inputs_of

# The chance that a door somebody has just broken shows it at the first try: an estimate.
BREAKAGE_SHOWS = 0.9
# Minutes to try the door where no proof says how long that takes, and to look over what is there of a job: estimates.
_TRY_MINUTES, _LOOK_MINUTES = 2.0, 2.0
# Practice has its own calendar: nothing in it hangs on today.
_START = datetime(2000, 1, 3, 8, 0, tzinfo=UTC)


# --- what a trainee may do ----------------------------------------------------------------------------------------


class Act(msgspec.Struct, frozen=True, kw_only=True, tag_field="act"):
    """One thing that the trainee does."""


class Look(Act, frozen=True, kw_only=True, tag="look"):
    """Do a check."""

    check: str


class Mend(Act, frozen=True, kw_only=True, tag="mend"):
    """Do a remedy."""

    remedy: str


class TryDoor(Act, frozen=True, kw_only=True, tag="try"):
    """Run the door and see whether the complaint is gone."""


class Prove(Act, frozen=True, kw_only=True, tag="prove"):
    """Run a proof."""

    proof: str


class Enter(Act, frozen=True, kw_only=True, tag="enter"):
    """Bring the door into an energy state."""

    energy: str


class CallIn(Act, frozen=True, kw_only=True, tag="call in"):
    """Have somebody come."""

    person: str


class LookOver(Act, frozen=True, kw_only=True, tag="look over"):
    """See what is there of a job of the walk."""

    job: str


class DoJob(Act, frozen=True, kw_only=True, tag="job"):
    """Say of a job of the walk that it is done and right, that it is not right, or that it is not needed here."""

    job: str
    came: Came
    reason: str = ""


class LookInto(Act, frozen=True, kw_only=True, tag="look into"):
    """Take up a complaint that a job or a proof of the walk has shown."""

    symptom: str


class TakeUp(Act, frozen=True, kw_only=True, tag="take up"):
    """Have a job of the walk come next, done before or not."""

    job: str


class TakeBack(Act, frozen=True, kw_only=True, tag="take back"):
    """Count an answer no more: the caller's word, or a reading that was none."""

    check: str


class AskFor(Act, frozen=True, kw_only=True, tag="ask"):
    """A hint, at its price."""

    about: Literal["next", "likely"]


class Finish(Act, frozen=True, kw_only=True, tag="finish"):
    """End the call."""

    outcome: Outcome
    reason: str = ""


AnyAct = (
    Look | Mend | TryDoor | Prove | Enter | CallIn | LookOver | DoJob | LookInto | TakeUp | TakeBack | AskFor | Finish
)
Recorder = Callable[[AnyAct], None]
Named = TypeVar("Named")
HINT_PRICE = {"next": 3.0, "likely": 2.0}


# Something that takes nothing and needs nothing.
_NO_STEP = Proof(id="", title="-", passes_when="-", minutes=0.0, energy=ANY, who="anyone")


class PracticeError(CallError):
    """This cannot be done now; ``str`` says why and what to do."""


@dataclass(frozen=True)
class Line:
    """A sentence for the trainee. ``kind`` is ``found``, ``done``, ``hurt``, ``note``, ``hint`` or ``time``."""

    kind: str
    text: str


@dataclass(frozen=True)
class Done:
    """An act, and all that came of it. ``minutes`` and ``money`` are its own; ``clock`` is the time after it."""

    act: AnyAct
    energy: str
    minutes: float
    money: float
    clock: float
    lines: tuple[Line, ...]
    # How many events the trainee's call has after it.
    events: int
    found: str = ""
    happened: tuple[Happened, ...] = ()
    # What was found says nothing of the door: the power was off, or the reading was spoilt.
    false: bool = False
    removed: tuple[str, ...] = ()
    broke: str = ""
    # Whether the complaint was gone, or the proof passed; ``None`` where nothing was tried.
    worked: bool | None = None
    # Parts that were ruined before they could do anything.
    ruined: bool = False
    # The minutes in their parts, each with what it went on.
    spent: tuple[tuple[float, str], ...] = ()

    def leaves(self, causes: Collection[str]) -> set[str]:
        """What is in the door after the act, where ``causes`` were in it before."""
        return ({*causes, self.broke} - {""}) - set(self.removed)


@dataclass
class _Result:
    """What an act is coming to, while it is done."""

    spent: list[tuple[float, str]] = field(default_factory=list)
    money: float = 0.0
    lines: list[Line] = field(default_factory=list)
    found: str = ""
    happened: tuple[Happened, ...] = ()
    false: bool = False
    removed: tuple[str, ...] = ()
    broke: str = ""
    worked: bool | None = None
    ruined: bool = False

    @property
    def minutes(self) -> float:
        return sum(minutes for minutes, _ in self.spent)

    def say(self, kind: str, text: str) -> None:
        self.lines.append(Line(kind, text))

    def spend(self, minutes: float, on: str) -> None:
        if minutes > 0:
            self.spent.append((minutes, on))

    def say_minutes(self) -> None:
        """What the time went on, in a sentence."""
        parts = [f"{minutes:.0f} {on}" for minutes, on in self.spent]
        if len(parts) == 1:
            self.say("time", f"{minutes(self.minutes)} {self.spent[0][1]}.")
        elif parts:
            self.say("time", f"{minutes(self.minutes)}: {', '.join(parts)}.")


class Session:
    """One trainee at one scenario. ``do`` is all that changes it.

    ``recorder`` is given each act before it counts: when it raises, nothing has happened. ``history`` are acts done
    before, to go on from. Raises ``PracticeError`` for what cannot be done, and then nothing has happened either.
    """

    def __init__(
        self,
        trees: Trees,
        scenario: Scenario,
        seed: int,
        consequences: Consequences | None = None,
        *,
        hints: bool = True,
        recorder: Recorder | None = None,
        history: Iterable[AnyAct] = (),
    ) -> None:
        self.trees = trees
        self.scenario = scenario
        self.seed = seed
        self.hints = hints
        self.consequences = consequences or Consequences()
        self.clock = 0.0
        self.money = 0.0
        self.done: list[Done] = []
        self._under_way = _Result()
        self.call = first_screen(trees, scenario, self._now)
        # Events that were there before the trainee did anything.
        self.opening = len(self.call.events)
        self.door = PracticeDoor(
            trees,
            scenario.facts,
            set(scenario.causes),
            seed,
            slips=False,
            findings=self._fixed_findings(),
            lasting=bool(scenario.walk),
        )
        self._recorder: Recorder | None = None
        self._untried: list[str] = []
        self._complains = True
        self._changed = False
        self._fetched: frozenset[str] = frozenset()
        # The proof that trying the door was.
        self._proved_by_trying = ""
        self._false: set[str] = set()
        for act in history:
            self.do(act)
        self._recorder = recorder

    def record_with(self, recorder: Recorder) -> None:
        """From now on each act is given to ``recorder`` before it counts."""
        self._recorder = recorder

    # --- what can be asked ---------------------------------------------------------------------------------

    @property
    def energy(self) -> str:
        return self.call.energy

    @property
    def is_over(self) -> bool:
        return self.call.state.outcome is not None

    @property
    def untried(self) -> tuple[str, ...]:
        """Remedies done since the door was last tried."""
        return tuple(self._untried)

    @property
    def running(self) -> str:
        """The state in which the door is tried: with power, and closed up."""
        return power_state(self.trees) or ANY

    def checks(self) -> list[Check]:
        """Every check that can be done on this door, suggested or not."""
        facts = self.scenario.facts
        return [c for c in self.trees.checks.values() if c.kind != "computed" and applies(c.applies, facts)]

    def remedies(self) -> list[Remedy]:
        return [r for r in self.trees.remedies.values() if applies(r.applies, self.scenario.facts)]

    def proofs(self) -> list[Proof]:
        """The proofs that this door needs, and those that apply to it besides."""
        needed = self.call.needed_proofs()
        others = [p for p in self.trees.proofs.values() if applies(p.applies, self.scenario.facts) and p not in needed]
        return [*needed, *others]

    def jobs(self) -> list[Job]:
        """The jobs that this door has of the walk, in its order; none of a call."""
        named = self.call.walk.jobs if self.call.walk is not None else ()
        return [self.trees.jobs[name] for name in named if applies(self.trees.jobs[name].applies, self.scenario.facts)]

    def sight(self, job: Job) -> str:
        """What one sees of a job as the door stands."""
        if cause := self.scenario.wrong_at(job.id, self.door.faults):
            return self.scenario.wrong[cause].sights[job.id]
        return self.scenario.sights.get(job.id) or job.passes_when

    def said_of(self, proof: str) -> str:
        """What came of a proof so far."""
        if proof not in {each.id for each in self.call.needed_proofs()}:
            return "not needed"
        return {True: "passed", False: "did not pass", None: "not done"}[self.call.state.proofs.get(proof)]

    def found(self) -> dict[str, str]:
        """What is held to be found, in words, by the check."""
        told = {"told": " (as told)"}
        return {
            name: f"{self.trees.checks[name].text} {'; '.join(answer.raw)}{told.get(answer.heard, '')}"
            for name, answer in self.call.state.answers.items()
        }

    def absent(self) -> dict[str, str]:
        """Whoever could be called, and how long they take to come, by their id."""
        people = [person for person in self.trees.people.values() if person.id not in self.call.state.people]
        return {person.id: f"{person.title}: {minutes(person.call_out)}" for person in people}

    def step_of(self, act: AnyAct) -> Task | None:
        """The entry that an act does; ``None`` where it is none of the trees'. Raises ``PracticeError``."""
        match act:
            case Look():
                return self._known(act.check, {c.id: c for c in self.checks()}, "check on this door")
            case Mend():
                return self._known(act.remedy, {r.id: r for r in self.remedies()}, "remedy on this door")
            case Prove():
                return self._known(act.proof, {p.id: p for p in self.proofs()}, "proof on this door")
            case LookOver() | DoJob() | TakeUp():
                job = self._known(act.job, {job.id: job for job in self.jobs()}, "job of this walk")
                return job if isinstance(act, DoJob) and act.came == "done" else None
            case _:
                return None

    def step_of_any(self, act: AnyAct) -> Task:
        """The step of an act: of trying the door the trial it is, of any other act one that needs nothing."""
        return self.step_of(act) or (self.trial() if isinstance(act, TryDoor) else _NO_STEP)

    # --- what can be done ----------------------------------------------------------------------------------

    def do(self, act: AnyAct) -> Done:
        """Do something, and see what comes of it."""
        self._refuse(act)
        if self._recorder is not None:
            self._recorder(act)
        energy, result = self.energy, _Result()
        self._under_way = result
        match act:
            case Look():
                self._look(self.trees.checks[act.check], result)
            case Mend():
                self._mend(self.trees.remedies[act.remedy], result)
            case TryDoor():
                self._try(result)
            case Prove():
                self._prove(self.trees.proofs[act.proof], result)
            case Enter():
                self._enter(act.energy, result)
            case CallIn():
                self._call_in(act.person, result)
            case LookOver():
                job = self.trees.jobs[act.job]
                result.spend(_LOOK_MINUTES, "to look it over")
                result.say("found", f"{job.title}. You see: {self.sight(job)}")
            case DoJob():
                self._job(act, result)
            case LookInto():
                self.call.state_symptoms([act.symptom, *self._active()])
                for proof, passed in self.call.state.proofs.items():
                    # The proof that showed it waits for it.
                    if not passed and act.symptom in self.trees.proofs[proof].raises:
                        self.call.put_off("proof", proof)
                result.say("done", f"Looked into now: {title(self.trees, 'symptoms', act.symptom)}.")
            case TakeUp():
                self.call.take_up("job", act.job)
                result.say("done", f"Next: {title(self.trees, 'jobs', act.job)}.")
            case TakeBack():
                self.call.withdraw(act.check, "Withdrawn in practice.")
                result.say("done", f"Counted no more: {self.trees.checks[act.check].text}")
            case AskFor():
                self._hint(act.about, result)
            case Finish():
                self.call.close(act.outcome, act.reason)
                result.say("done", f"The call is closed: {act.outcome}.")
        self.clock += result.minutes
        self.money += result.money
        self._under_way = _Result()
        result.say_minutes()
        told = {**vars(result), "lines": tuple(result.lines), "spent": tuple(result.spent), "minutes": result.minutes}
        done = Done(act=act, energy=energy, clock=self.clock, events=len(self.call.events), **told)
        self.done.append(done)
        return done

    def _refuse(self, act: AnyAct) -> None:
        """Raise ``PracticeError`` for what cannot be done, before anything has changed."""
        if self.is_over:
            raise PracticeError("This call is closed. Begin another to go on practising.")
        self.step_of(act)
        match act:
            case Enter():
                states = {name: state for name, state in self.trees.energy.items() if name != ANY}
                self._known(act.energy, states, "energy state")
                if act.energy == self.energy:
                    raise PracticeError(f"The door is in that state already: {states[act.energy].title}.")
            case CallIn():
                person = self._known(act.person, self.trees.people, "person")
                if act.person in self.call.state.people:
                    raise PracticeError(f"They are here already: {person.title}.")
            case TakeBack() if act.check not in self.call.state.answers:
                raise PracticeError("There is no such answer to withdraw.")
            case AskFor() if not self.hints:
                raise PracticeError("This practice is without hints, as it was begun.")
            case DoJob():
                # Whatever the call itself would refuse, before anybody has done anything.
                Call(self.trees, history=self.call.events).job(act.job, act.came, act.reason)
            case LookInto():
                self._known(act.symptom, self._known_complaints(), "complaint of this door")
            case Finish() if act.outcome in BACK and self._untried:
                raise PracticeError("The door was not tried yet. Try it, or leave it out of service.")
            case Finish() if act.outcome in BACK and act.outcome != self.call.ends:
                raise PracticeError(f"This ends with the door {self.call.ends}, or left out of service.")
            case Finish() if act.outcome in BACK and (missing := self.call.missing(act.reason)):
                raise PracticeError(f"Not yet. {in_words(missing)} Or leave the door out of service, and say why.")
            case Finish(outcome="left out of service") if not act.reason.strip():
                raise PracticeError("Say why the door is left out of service.")
            case _:
                pass

    def _known(self, name: str, known: dict[str, Named], kind: str) -> Named:
        if name not in known:
            raise PracticeError(f"'{name}' is no {kind}. {did_you_mean(name, known)}")
        return known[name]

    def _known_complaints(self) -> dict[str, Symptom]:
        return {s.id: s for s in self.trees.symptoms.values() if applies(s.applies, self.scenario.facts)}

    # --- the walk ------------------------------------------------------------------------------------------

    def _job(self, act: DoJob, result: _Result) -> None:
        job = self.trees.jobs[act.job]
        if act.came == "done":
            self._spend(job, "to do it", result)
            if self.consequences.is_dead(self.trees, job, self.energy):
                result.say("note", "Nothing moves: the power is off. It is not done.")
                return
            self._suffer(job, result)
            if any(each.mishap and each.mishap.spoils == "work" for each in result.happened):
                result.say("note", "The work is for nothing. It is not done.")
                return
        self.call.job(act.job, act.came, act.reason)
        result.worked = act.came != "not right"
        told = {"done": "done, and held to be right", "not needed": "not needed here", "not right": "not right"}
        reason = f": {act.reason.strip().rstrip('.')}" if act.reason.strip() else ""
        result.say("done", f"{job.title}: {told[act.came]}{reason}.")

    def _active(self) -> list[str]:
        """The complaints that nobody has said to be gone."""
        state = self.call.state
        return [each for each in state.symptoms if state.outcomes.get(each) != "gone"]

    # --- checks --------------------------------------------------------------------------------------------

    def _look(self, check: Check, result: _Result) -> None:
        self._spend(check, "to measure" if check.is_number else "to look", result)
        self._suffer(check, result)
        dead = self.consequences.is_dead(self.trees, check, self.energy)
        spoilt = any(each.mishap and each.mishap.spoils == "answer" for each in result.happened)
        result.false = dead or spoilt
        result.found = "?" if spoilt else self.consequences.found_dead(check) if dead else self.door.typed(check)
        earlier = self._earlier(check.id)
        wrongly = check.id in self._false or (earlier is not None and earlier.heard == "told")
        # A true finding takes the place of a false one, or of hearsay; further true ones join it.
        mode: Literal["new", "again", "correction"] = "correction" if wrongly else "new"
        if earlier is not None and not wrongly and check.series == "no":
            mode = "again"
        if result.false and earlier is not None and not wrongly:
            result.say("found", f"{check.text} This time: {_words(result.found)}. What you found before is kept.")
        else:
            # Only a correction has to say why.
            reason = "The first finding was spoilt, or hearsay." if mode == "correction" else ""
            self.call.answer(check.id, result.found, mode=mode, reason=reason)
            self._false = self._false | {check.id} if result.false else self._false - {check.id}
            result.say("found", f"{check.text} {_words(result.found)}")
        for computed, working in self.call.inference.workings.items():
            if check.id in inputs_of(self.trees, self.trees.checks[computed]):
                result.say("note", f"Worked out: {working.working}")

    def _earlier(self, check: str) -> Answer | None:
        """What was found before, since the last repair."""
        for item in reversed(self.call.state.evidence):
            if isinstance(item, Try):
                return None
            if isinstance(item, Answer) and item.check == check:
                return item
        return None

    # --- remedies ------------------------------------------------------------------------------------------

    def _mend(self, remedy: Remedy, result: _Result) -> None:
        self._spend(remedy, "to repair", result)
        self._suffer(remedy, result)
        result.money += sum(self.trees.parts[part].price * count for part, count in remedy.parts.items())
        result.ruined = any(each.mishap and each.mishap.spoils == "work" for each in result.happened)
        dead = self.consequences.is_dead(self.trees, remedy, self.energy)
        if dead:
            result.say("note", "Nothing answers: the power is off. The work is for nothing.")
        elif result.ruined:
            result.say("note", "The work is for nothing, and what it took is spent.")
        else:
            before = set(self.door.faults)
            self.door.try_remedy(remedy.id)
            result.removed = tuple(sorted(before - self.door.faults))
            self._changed = self._changed or bool(result.removed)
        self._untried.append(remedy.id)
        self._proved_by_trying = ""
        result.say("done", f"Done: {remedy.title}. Whether it helped is seen when the door is tried.")

    def _try(self, result: _Result) -> None:
        """What trying the door takes is the first proof of the last remedy; the complaint itself is what is seen."""
        step = self.trial()
        self._spend(step, "to try the door", result)
        if self.consequences.is_dead(self.trees, step, self.energy):
            result.say("note", "The door does not move: the power is off. Nothing can be seen of the complaint.")
            return
        self._suffer(step, result)
        symptoms = self._active() if self.scenario.walk else self.scenario.symptoms
        if self._changed or self.scenario.walk:
            self._complains, self._changed = self._complaint_stays(), False
        result.worked = not self._complains
        if self.scenario.walk and result.worked and not self._untried and symptoms:
            # Nothing was mended, for nothing was wrong.
            self.call.judge(dict.fromkeys(symptoms, "gone"))
        able = can_do(self.trees, self.call.state.people)
        for remedy in self._untried:
            if self.trees.remedies[remedy].who in able:
                self.call.tried(remedy, worked=result.worked)
            else:
                result.say("note", "A repair by somebody who may not do it counts for nothing in the record.")
        self._untried.clear()
        self._proved_by_trying = step.id if result.worked else ""
        complaint = "; ".join(title(self.trees, "symptoms", each) for each in symptoms) or "Complaint"
        result.say("found", f"{complaint}: {'gone, as far as one can see' if result.worked else 'still so'}.")

    def trial(self) -> Proof:
        """What trying the door is: the first proof of the last remedy, where it is run with the door closed up."""
        done = [*(item.remedy for item in self.call.state.tries), *self._untried]
        proofs = [self.trees.proofs[name] for name in (self.trees.remedies[done[-1]].proofs if done else ())]
        fitting = [proof for proof in proofs[:1] if proof.energy == self.running]
        return fitting[0] if fitting else msgspec.structs.replace(_NO_STEP, minutes=_TRY_MINUTES, energy=self.running)

    def _complaint_stays(self) -> bool:
        """Whether what is in the door now brings the complaint about; on a walk it is seen where it was found."""
        if self.scenario.walk:
            return any(self.door.faults & self.trees.symptoms[each].causes.keys() for each in self._active())
        pointed = [self.trees.symptoms[symptom].causes for symptom in self.scenario.symptoms]
        random = self._random("complaint")
        stays = False
        for fault in sorted(self.door.faults):
            chance = max((causes.get(fault, 0.0) for causes in pointed), default=0.0)
            stays |= bool(random.random() < (chance or BREAKAGE_SHOWS))
        return stays

    # --- proofs --------------------------------------------------------------------------------------------

    def _prove(self, proof: Proof, result: _Result) -> None:
        if proof.id == self._proved_by_trying:
            # Trying the door was this proof: it takes no time again.
            self._proved_by_trying = ""
        else:
            self._spend(proof, "to prove", result)
        if self.consequences.is_dead(self.trees, proof, self.energy):
            result.say("note", "Nothing moves: the power is off. Nothing is proved.")
            return
        self._suffer(proof, result)
        if any(each.exposure == "not qualified" for each in result.happened):
            result.say("note", "A proof by somebody who may not sign it proves nothing.")
            return
        if refusal := self.call.ledger.refusal(proof):
            result.say("note", refusal)
            return
        result.worked = proof.id not in self._showing()
        self.call.proved(proof.id, result.worked)
        result.say("found", f"{proof.title}: {'passed' if result.worked else 'did not pass'}.")

    def _showing(self) -> set[str]:
        """The proofs that a fault left in the door shows up in: one of its remedies', or any one."""
        needed = [proof.id for proof in self.call.needed_proofs()]
        if self.scenario.walk:
            return {proof for fault in self.door.faults for proof in shown_by(self.trees, fault, needed)}
        showing: set[str] = set()
        for fault in sorted(self.door.faults):
            random = self._random(f"proof {fault}")
            if not needed or random.random() >= PROOFS_SHOW:
                continue
            own = [p for r in self.trees.causes[fault].remedies for p in self.trees.remedies[r].proofs if p in needed]
            showing.add(own[0] if own else needed[int(random.integers(len(needed)))])
        return showing

    # --- the rest ------------------------------------------------------------------------------------------

    def _enter(self, energy: str, result: _Result) -> None:
        state = self.trees.energy[energy]
        result.spend(state_minutes(self.trees, state.id, self.energy), f"to bring the door to: {state.title}")
        self.call.enter(energy)
        result.say("done", f"The door is now: {state.title}.")

    def _call_in(self, person: str, result: _Result) -> None:
        entry = self.trees.people[person]
        result.spend(entry.call_out, "until they are here")
        here = dict.fromkeys([*self.call.state.people, person, *entry.includes])
        self.call.state_people(tuple(here))
        result.say("done", f"Here now: {entry.title}.")

    def _hint(self, about: str, result: _Result) -> None:
        price = HINT_PRICE[about]
        if about == "likely":
            for item in self.call.likely()[:4]:
                result.say("hint", f"{100 * item.probability:.0f} %  {item.title}")
        elif self._untried:
            result.say("hint", f"Try the door ({title(self.trees, 'energy', self.running)}).")
        else:
            step = self.call.next_step()
            result.say("hint", f"{next_in_words(self.trees, step.kind, step.id)} {step.why}")
        result.say("note", f"That hint costs {price:.0f} points.")

    # --- inside --------------------------------------------------------------------------------------------

    def _now(self) -> datetime:
        return _START + timedelta(minutes=self.clock + self._under_way.minutes)

    def _fixed_findings(self) -> dict[str, str]:
        """What the story fixes; and what makes safe succeeds, unless a fault is in its way."""
        fixed = dict(self.scenario.findings)
        for name in self.consequences.prepares:
            check = self.trees.checks[name]
            wanted = [a for other in self.trees.checks.values() for a in other.after.get(name, ())]
            touched = any(name in self.trees.causes[fault].signs for fault in self.scenario.causes)
            if wanted and not touched and wanted[0] in check.answers:
                fixed.setdefault(name, wanted[0])
        return fixed

    def _spend(self, step: Task, on: str, result: _Result) -> None:
        # In whatever state the door is: to bring it into another is an act of its own.
        fetching, here = enter(self.trees, Whereabouts(ANY, self._fetched), ANY, step.access)
        if fetching > 0:
            result.spend(fetching, f"to get ready to work {title(self.trees, 'access', step.access)}")
        result.spend(step.minutes, on)
        self._fetched = here.fetched

    def _suffer(self, step: Task, result: _Result) -> None:
        """What the wrong state does to whoever works in it, and to the door."""
        happened = self.consequences.of(
            self.trees, step, self.energy, self.call.state.people, self.call.inference.known
        )
        if self.call.walking:
            # A walk makes safe by jobs of its own.
            happened = tuple(each for each in happened if each.exposure != "not prepared")
        result.happened = happened
        for number, each in enumerate(happened):
            result.say("hurt", each.told)
            if each.mishap is None:
                continue
            result.spend(each.mishap.minutes, f"lost: {each.mishap.title}")
            result.money += each.mishap.money
            broken = self.consequences.broken_by(self.trees, each.mishap, self.scenario.facts)
            random = self._random(f"mishap {len(self.done)} {number}")
            if broken and broken not in self.door.faults and random.random() < each.mishap.chance:
                self.door.bring(broken)
                self._changed = True
                result.broke = broken
                result.say("hurt", "Something broke that was whole before.")

    def _random(self, name: str) -> np.random.Generator:
        """Chance of its own for each thing, as of how often the door has changed."""
        key = zlib.crc32(f"{name} {sorted(self.door.faults)}".encode())
        return np.random.default_rng([self.seed, key])


def shown_by(trees: Trees, fault: str, needed: Collection[str]) -> list[str]:
    """The proofs that wrong work fails at the end of a walk: those of its remedies, at best such as speak of it."""
    own = [p for r in trees.causes[fault].remedies for p in trees.remedies[r].proofs if p in needed]
    speaking = [p for p in own if any(fault in trees.symptoms[s].causes for s in trees.proofs[p].raises)]
    return speaking or own or list(needed)[:1]


@dataclass
class PracticeDoor(HiddenDoor):
    """A hidden door that keeps, when something in it changes, all that this did not touch.

    ``lasting`` truths fixed by hand hold on a sound door too: of a walk they are the door's own figures.
    """

    lasting: bool = False

    def _is_fixed(self, check: str) -> bool:
        return check in self.findings if self.lasting else super()._is_fixed(check)

    def try_remedy(self, remedy: str) -> bool:
        before, faults = dict(self._truth), set(self.faults)
        worked = super().try_remedy(remedy)
        if worked:
            self._keep(before, faults - self.faults)
        return worked

    def bring(self, fault: str) -> None:
        before = dict(self._truth)
        super().bring(fault)
        self._keep(before, {fault})

    def _keep(self, before: dict[str, Known], changed: set[str]) -> None:
        touched = {check for fault in changed for check in self._signs(fault)}
        for name in tuple(touched):
            touched.update(inputs_of(self.trees, self.trees.checks[name]))
        self.findings = {check: text for check, text in self.findings.items() if check not in touched}
        self._truth.update({check: truth for check, truth in before.items() if check not in touched})


def _words(found: str) -> str:
    return "Could not tell." if found == "?" else f"→ {found}"


def next_in_words(trees: Trees, kind: str, identity: str) -> str:
    """What is to be done next, in a sentence; of a check in which state."""
    title_of = step_title(trees, kind, identity)
    if kind == "check":
        return f"{title_of} ({title(trees, 'energy', trees.checks[identity].energy)})."
    lead = {"proof": "Prove: ", "energy": "Bring the door to: "}.get(kind, "")
    return f"{lead}{title_of if kind != 'stop' else identity.capitalize()}."
