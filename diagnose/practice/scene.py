"""A practice as it stands: a door with a hidden fault, the trainee's call on it, and all that can be asked of both.

What the trainee finds goes into a ``Call`` of their own, so that their knowledge can be judged by the same reasoning
that a real call uses.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TypeVar

import msgspec

from diagnose.calls.call import CallError
from diagnose.knowledge.model import ANY, Check, Job, Proof, Remedy, Symptom, Task, Trees, applies, power_state
from diagnose.knowledge.problems import did_you_mean
from diagnose.knowledge.words import minutes
from diagnose.practice.acts import AnyAct, DoJob, Look, LookOver, Mend, Prove, TakeUp, TryDoor
from diagnose.practice.done import Done
from diagnose.practice.mishaps import Consequences
from diagnose.practice.practice_door import PracticeDoor
from diagnose.practice.scenario import Scenario, first_screen

Named = TypeVar("Named")
# Minutes to try the door where no proof says how long that takes: an estimate.
_TRY_MINUTES = 2.0
# Practice has its own calendar: nothing in it hangs on today.
_START = datetime(2000, 1, 3, 8, 0, tzinfo=UTC)
# Something that takes nothing and needs nothing.
_NO_STEP = Proof(id="", title="-", passes_when="-", minutes=0.0, energy=ANY, who="anyone")


class PracticeError(CallError):
    """This cannot be done now; ``str`` says why and what to do."""


class Scene:
    """A scenario's door and call, both made from ``seed``. ``done`` is what was done so far."""

    def __init__(self, trees: Trees, scenario: Scenario, seed: int, consequences: Consequences | None = None) -> None:
        self.trees = trees
        self.scenario = scenario
        self.seed = seed
        self.consequences = consequences or Consequences()
        self.clock = 0.0
        self.money = 0.0
        self.done: list[Done] = []
        # What is being done: its minutes have passed already.
        self._under_way: Done | None = None
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
        self._untried: list[str] = []

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

    def trial(self) -> Proof:
        """What trying the door is: the first proof of the last remedy, where it is run with the door closed up."""
        done = [*(item.remedy for item in self.call.state.tries), *self._untried]
        proofs = [self.trees.proofs[name] for name in (self.trees.remedies[done[-1]].proofs if done else ())]
        fitting = [proof for proof in proofs[:1] if proof.energy == self.running]
        return fitting[0] if fitting else msgspec.structs.replace(_NO_STEP, minutes=_TRY_MINUTES, energy=self.running)

    def complaints(self) -> dict[str, Symptom]:
        """Every complaint that this door can have."""
        return {s.id: s for s in self.trees.symptoms.values() if applies(s.applies, self.scenario.facts)}

    def _active(self) -> list[str]:
        """The complaints that nobody has said to be gone."""
        state = self.call.state
        return [each for each in state.symptoms if state.outcomes.get(each) != "gone"]

    def _known(self, name: str, known: dict[str, Named], kind: str) -> Named:
        if name not in known:
            raise PracticeError(f"'{name}' is no {kind}. {did_you_mean(name, known)}")
        return known[name]

    def _now(self) -> datetime:
        passing = self._under_way.minutes if self._under_way is not None else 0.0
        return _START + timedelta(minutes=self.clock + passing)

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
