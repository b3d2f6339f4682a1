"""A practice call: what the trainee does, refused where it cannot be done, recorded before it counts, and done."""

from __future__ import annotations

from collections.abc import Iterable

from diagnose.calls.call import Call
from diagnose.calls.closing import in_words
from diagnose.calls.known import BACK
from diagnose.knowledge.model import ANY, Trees
from diagnose.practice import acts
from diagnose.practice.acts import AnyAct, Recorder
from diagnose.practice.doing import Doing
from diagnose.practice.done import Done
from diagnose.practice.mishaps import Consequences
from diagnose.practice.scenario import Scenario
from diagnose.practice.scene import PracticeError


class Session(Doing):
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
        super().__init__(trees, scenario, seed, consequences)
        self.hints = hints
        # Empty where nothing is kept.
        self.id = ""
        self._recorder: Recorder | None = None
        for act in history:
            self.do(act)
        self._recorder = recorder

    def keep_as(self, identity: str, recorder: Recorder) -> None:
        """It is on record under this id, and from now on each act is given to ``recorder`` before it counts."""
        self.id, self._recorder = identity, recorder

    def do(self, act: AnyAct) -> Done:
        self._refuse(act)
        if self._recorder is not None:
            self._recorder(act)
        done = self._under_way = Done(act, self.energy)
        self.carry_out(act, done)
        self._under_way = None
        done.say_minutes()
        self.clock += done.minutes
        self.money += done.money
        done.clock, done.events = self.clock, len(self.call.events)
        self.done.append(done)
        return done

    def _refuse(self, act: AnyAct) -> None:
        """Raise ``PracticeError`` for what cannot be done, before anything has changed."""
        if self.is_over:
            raise PracticeError("This call is closed. Begin another to go on practising.")
        self.step_of(act)
        match act:
            case acts.Enter():
                states = {name: state for name, state in self.trees.energy.items() if name != ANY}
                self._known(act.energy, states, "energy state")
                if act.energy == self.energy:
                    raise PracticeError(f"The door is in that state already: {states[act.energy].title}.")
            case acts.CallIn():
                person = self._known(act.person, self.trees.people, "person")
                if act.person in self.call.state.people:
                    raise PracticeError(f"They are here already: {person.title}.")
            case acts.TakeBack() if act.check not in self.call.state.answers:
                raise PracticeError("There is no such answer to withdraw.")
            case acts.AskFor() if not self.hints:
                raise PracticeError("This practice is without hints, as it was begun.")
            case acts.DoJob():
                # Whatever the call itself would refuse, before anybody has done anything.
                Call(self.trees, history=self.call.events).job(act.job, act.came, act.reason)
            case acts.LookInto():
                self._known(act.symptom, self.complaints(), "complaint of this door")
            case acts.Finish() if act.outcome in BACK and self._untried:
                raise PracticeError("The door was not tried yet. Try it, or leave it out of service.")
            case acts.Finish() if act.outcome in BACK and act.outcome != self.call.ends:
                raise PracticeError(f"This ends with the door {self.call.ends}, or left out of service.")
            case acts.Finish() if act.outcome in BACK and (missing := self.call.missing(act.reason)):
                raise PracticeError(f"Not yet. {in_words(missing)} Or leave the door out of service, and say why.")
            case acts.Finish(outcome="left out of service") if not act.reason.strip():
                raise PracticeError("Say why the door is left out of service.")
            case _:
                pass
