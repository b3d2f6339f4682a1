"""The call in hand: the call, how it is saved, and what the technician chose against the suggestion.

Planning runs on a twin of the call made from its events, so that a thread may think while answers come in.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from diagnose.calls.events import PutOff, TakenUp
from diagnose.calls.state import Answer, Evidence, Named, Proof, Try, standing
from diagnose.knowledge.model import ANY, is_powered, power_state
from diagnose.tui.saver import Saver
from diagnose.tui.text import minutes, percent

if TYPE_CHECKING:
    from diagnose.calls.call import Call, Step
    from diagnose.knowledge.model import Step as Doing


@dataclass(frozen=True)
class Alternative:
    """Another first step, and what it costs more than the best in minutes' worth.

    ``remarks`` say in a few words what else is to be known of it: that it was put off, and who would have to come.
    """

    kind: str
    id: str
    title: str
    more: float
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class Planned:
    """A step to take, what else could be done, and whether it is the best there is or a quick stand-in."""

    step: Step
    alternatives: tuple[Alternative, ...] = ()
    quick: bool = False
    # The step's remedy is done; what is asked is whether it worked.
    trying: bool = False


@dataclass(frozen=True)
class Course:
    """The technician's own decisions, by which a plan is made."""

    chosen: Named | None = None
    untried: str = ""


@dataclass
class InHand:
    """What was chosen lasts as long as the program runs; everything else of a call is in its events."""

    call: Call
    saver: Saver
    chosen: Named | None = None
    # A remedy done with the power off, until the door was tried.
    untried: str = ""
    _chosen_after: int = 0

    def course(self) -> Course:
        """What the technician decided, as it stands now."""
        if any(item.remedy == self.untried for item in self.call.state.tries if item.sequence > self._chosen_after):
            self.untried = ""
        return Course(self.still_chosen(), self.untried)

    def not_finished(self) -> None:
        """The remedy was not done after all: back to it."""
        self.chosen, self.untried = ("remedy", self.untried), ""
        self._chosen_after = self.call.events[-1].sequence

    def done(self, remedy: str) -> None:
        """A remedy was done that leaves the door without power: it is tried next."""
        self.untried = remedy
        self._chosen_after = self.call.events[-1].sequence

    def choose(self, kind: str, identity: str) -> None:
        """Do this next, whatever is suggested; what was put off is put off no more."""
        if (kind, identity) in self.call.state.put_off:
            self.call.take_up(kind, identity)
        self.chosen, self.untried = (kind, identity), ""
        self._chosen_after = self.call.events[-1].sequence

    def put_aside(self, step: Step) -> None:
        """Put a step off, or what it leads to: it is not suggested while there is something else to do."""
        kind, identity = goal_of(step)
        if (kind, identity) not in self.call.state.put_off:
            self.call.put_off(kind, identity)
        self.chosen, self.untried = None, ""

    def undo(self) -> None:
        """Take back the last thing said; with a step put off goes what was chosen in its place."""
        last = standing(self.call.events)[-1]
        self.call.undo()
        if isinstance(last, (PutOff, TakenUp)):
            self.chosen = None

    def still_chosen(self) -> Named | None:
        """What was chosen, until it is done; to hand over, until anything else is said."""
        if self.chosen is None:
            return None
        since = [item for item in self.call.state.evidence if item.sequence > self._chosen_after]
        said = self.call.events[-1].sequence > self._chosen_after
        if any(_named(item) == self.chosen for item in since) or (self.chosen[0] == "stop" and said):
            self.chosen = None
        return self.chosen

    def twin(self) -> Call:
        """A copy that nothing else touches, and that records nothing."""
        from diagnose.calls.call import Call

        return Call(self.call.trees, history=self.call.events, by=self.call.by)


def _named(item: Evidence) -> Named:
    match item:
        case Answer():
            return "check", item.check
        case Try():
            return "remedy", item.remedy
        case Proof():
            return "proof", item.proof


def plan(call: Call, course: Course, quick: bool = False) -> Planned:
    """The step to show now."""
    from diagnose.calls.call import RETURN

    best = call.next_step(quick=quick)
    if best.kind == "stop" and best.id in ("closed", "no symptom"):
        return Planned(best)
    if course.untried:
        return _try_out(call, course.untried, best)
    if goal_of(best) == ("stop", RETURN):
        return Planned(best)
    if course.chosen is not None:
        step = step_to(call, course.chosen, best, f"You chose it. {_why(call, course.chosen)}".strip())
        if step is not None:
            return Planned(step, () if quick else alternatives(call), quick)
    return Planned(best, () if quick else alternatives(call), quick)


def goal_of(step: Step) -> Named:
    """What a step leads to, by kind and id: itself, or what comes after it."""
    return step.goal_kind or step.kind, step.goal or step.id


def _try_out(call: Call, remedy: str, best: Step) -> Planned:
    """Power back on, then see whether the door works."""
    wanted = power_state(call.trees)
    step = step_to(call, ("remedy", remedy), best, "The repair is done: try the door before anything else.")
    assert step is not None
    step = replace(step, kind="remedy", id=remedy)
    if wanted and not is_powered(call.trees, call.energy):
        minutes = call.trees.energy[wanted].minutes_from(call.energy)
        step = replace(step, kind="energy", id=wanted, minutes=minutes)
    return Planned(step, trying=True)


def alternatives(call: Call) -> tuple[Alternative, ...]:
    """Other steps worth considering, the cheapest first; while proving, the other proofs."""
    from diagnose.calls.call import HAND_OVER

    if call.state.outcome is not None or not call.state.symptoms:
        return ()
    if call.state.proving:
        return tuple(_alternative(call, "proof", proof.id, 0.0) for proof in call.open_proofs())
    best = call.planner.best()
    found = []
    for kind, identity, cost in best.alternatives:
        more = max(cost - best.expected_cost, 0.0)
        if kind == "check" or kind == "remedy":
            found.append(_alternative(call, kind, identity, more))
        elif not any(other.kind == "stop" for other in found):
            found.append(Alternative("stop", HAND_OVER, "Hand the door over to somebody else", more))
    return tuple(found)


def _alternative(call: Call, kind: str, identity: str, more: float) -> Alternative:
    from diagnose.calls.words import absent_from, step_title

    put_off = "put off" if (kind, identity) in call.state.put_off else ""
    remarks = tuple(filter(None, (put_off, absent_from(call, kind, identity))))
    return Alternative(kind, identity, step_title(call.trees, kind, identity), more, remarks)


def step_to(call: Call, goal: Named, best: Step, why: str) -> Step | None:
    """The first thing to do on the way to ``goal``: a check before it, a change of energy state, or itself.

    ``None`` where an answer given stands in the way of a check. ``best`` lends its minutes to the end.
    """
    kind, identity = goal
    if kind == "stop":
        return replace(best, kind="stop", id=identity, why=why, minutes=0.0, goal="", goal_kind="")
    if kind == "check":
        from diagnose.reasoning.walk import way_to

        trees = call.trees
        known = {check: value for check, value in call.inference.known.items() if check != identity}
        way = way_to(call.situation, identity, known, _may_do(call))
        if way is None:
            return None
        first = next((step for step in way.steps if trees.checks[step].kind != "computed"), identity)
        if first != identity:
            why = f"It comes before: {trees.checks[identity].text} {why}".strip()
        return _in_its_state(call, trees.checks[first], replace(best, kind="check", id=first, why=why), goal)
    if kind == "remedy":
        return _in_its_state(
            call, call.trees.remedies[identity], replace(best, kind="remedy", id=identity, why=why), goal
        )
    return _in_its_state(call, call.trees.proofs[identity], replace(best, kind="proof", id=identity, why=why), goal)


def _in_its_state(call: Call, doing: Doing, step: Step, goal: Named) -> Step:
    """``step``, or the change of energy state that comes before it."""
    step = replace(step, minutes=doing.minutes, goal=goal[1], goal_kind=goal[0])
    if doing.energy in (call.energy, ANY):
        return step
    minutes = call.trees.energy[doing.energy].minutes_from(call.energy)
    why = f"The next step is done in this state. {step.why}".strip()
    return replace(step, kind="energy", id=doing.energy, why=why, minutes=minutes)


def _may_do(call: Call) -> set[str]:
    """Everyone: what a technician chooses freely is not refused for want of the right person, only labelled."""
    return set(call.trees.people)


def _why(call: Call, goal: Named) -> str:
    """The reason that the reasoning would give for a step it did not put first."""
    from diagnose.reasoning import explain

    kind, identity = goal
    planner = call.planner
    if kind == "proof" or call.state.proving:
        return ""
    if kind == "stop":
        return explain.why_stop(planner)
    if kind == "check":
        return explain.why_check(planner, identity)
    # It was not put first, so the reasoning's own sentence, that it is the cheapest way on, would not be true.
    repair = next((repair for repair in planner.remedies if repair.remedy.id == identity), None)
    if repair is None:
        return ""
    return f"It ends the trouble with a chance of {percent(repair.fixes)} in {minutes(repair.remedy.minutes)}."
