"""Each step of a trainee beside the best one from the same knowledge.

What is judged is the choice, by what could be known when it was made, never by what luck made of it: the plan that
the program itself would follow is asked what it costs, on the average, to begin with the step that was chosen. What
that is above the best is the step's *loss*, in minutes' worth.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.events import AnyEvent
from diagnose.calls.state import Answer
from diagnose.calls.words import percent, step_title, title
from diagnose.knowledge.model import Check, Task, Trees
from diagnose.knowledge.words import about, minutes
from diagnose.practice import acts
from diagnose.practice.done import Done
from diagnose.practice.scenario import believed
from diagnose.practice.session import Session
from diagnose.reasoning.moving import state_minutes
from diagnose.reasoning.plan import Candidate, Planner, Repair, Standing, Suggestion
from diagnose.reasoning.walk import Way

# Plans closer than this are as good as each other.
_AS_GOOD = 0.5
# A loss from which a step is called wrong.
WRONG_FROM = 5.0
# Information below this is none.
_NO_BITS = 0.01
# Bits: below the first a check tells hardly anything, below the second little; a choice between two even causes is 1.
_LITTLE, _SOME = 0.1, 0.4


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What is to be said of a choice. ``loss`` is in minutes' worth.

    ``best`` is the step that the plan would have taken, in words, ``why`` its reason; both empty where the act was as
    good, or was none of choice. ``fault`` says in a sentence what was wrong with it.
    """

    loss: float = 0.0
    best: str = ""
    why: str = ""
    fault: str = ""
    # What the best plan cost, in minutes' worth, before this act; 0 where none was asked.
    plan_cost: float = 0.0
    # The best plan would have handed it over here too, or the door is one that is left to somebody else.
    plan_gave_up: bool = False

    @property
    def is_wrong(self) -> bool:
        return bool(self.fault)


@dataclass(frozen=True, kw_only=True)
class Judged(Verdict):
    """One act, and what is said of it. ``gained`` is in bits about what was truly wrong (``None``: no finding).

    ``belief`` is, after it, how likely each true cause was to be in the door by what the trainee knew.
    """

    done: Done
    text: str
    gained: float | None = None
    belief: Mapping[str, float] = field(default_factory=dict)


def judge(session: Session) -> list[Judged]:
    """Every act of a session, judged; on a walk, which has its own order, only what hurts and what was passed."""
    return _walked(session) if session.scenario.walk else _Judge(session).all()


def _walked(session: Session) -> list[Judged]:
    """A walk's acts: at fault is what hurts, and to pass what is wrong."""
    scenario, judged = session.scenario, []
    causes = set(scenario.causes)
    for done in session.done:
        act, fault = done.act, _safety_fault(done)
        if isinstance(act, acts.DoJob) and done.worked is True and (cause := scenario.wrong_at(act.job, causes)):
            seen = scenario.wrong[cause].sights[act.job]
            fault = f"{fault} It was not right. To be seen there: {seen}".strip()
        judged.append(Judged(done=done, text=act_in_words(session.trees, done), fault=fault))
        causes = done.leaves(causes)
    return judged


def told_in_words(gained: float | None) -> str:
    """How far a finding brought one to what was truly wrong; ``gained`` in bits, ``None`` where nothing was found."""
    if gained is None:
        return ""
    if abs(gained) < _LITTLE:
        return "told nothing new"
    return ("pointed" if gained > 1 else "pointed a little") + (" to the cause" if gained > 0 else " away from it")


def act_in_words(trees: Trees, done: Done) -> str:
    act = done.act
    match act:
        case acts.Look():
            found = "could not tell" if done.found == "?" else done.found
            return f"{trees.checks[act.check].text} {found}"
        case acts.Mend():
            return trees.remedies[act.remedy].title
        case acts.TryDoor():
            result = {True: "the complaint is gone", False: "still so", None: "nothing moves"}[done.worked]
            return f"Tried the door: {result}"
        case acts.Prove():
            result = {True: "passed", False: "did not pass", None: "proved nothing"}[done.worked]
            return f"Proof: {trees.proofs[act.proof].title}: {result}"
        case acts.Enter():
            return f"Brought the door to: {title(trees, 'energy', act.energy)}"
        case acts.CallIn():
            return f"Called in: {title(trees, 'people', act.person)}"
        case acts.LookOver():
            return f"Looked over: {trees.jobs[act.job].title}"
        case acts.DoJob():
            said = f" ({act.reason.strip().rstrip('.')})" if act.reason.strip() else ""
            return f"{trees.jobs[act.job].title}: {'came to nothing' if done.worked is None else act.came}{said}"
        case acts.LookInto():
            return f"Looked into: {title(trees, 'symptoms', act.symptom)}"
        case acts.TakeUp():
            return f"Taken up: {trees.jobs[act.job].title}"
        case acts.TakeBack():
            return f"Counted no more: {trees.checks[act.check].text}"
        case acts.AskFor():
            return "Asked for a hint"
        case acts.Finish():
            return f"Closed: {act.outcome}{f' ({act.reason})' if act.reason else ''}"


class _Judge:
    def __init__(self, session: Session) -> None:
        self._session = session
        self._trees = session.trees
        self._truth = set(session.scenario.causes)
        # Where the last choice ended: what was known then, and the minutes spent on the way to the next one since.
        self._mark = session.opening
        self._under_way = 0.0

    def all(self) -> list[Judged]:
        judged = []
        marks = [self._session.opening, *(done.events for done in self._session.done)]
        for done, (before, after) in zip(self._session.done, pairwise(marks), strict=True):
            judged.append(self._one(done, before, after))
            if isinstance(done.act, (acts.Enter, acts.CallIn)):
                self._under_way += done.minutes
            elif not isinstance(done.act, (acts.AskFor, acts.TakeBack)):
                self._mark, self._under_way = after, 0.0
            self._truth = done.leaves(self._truth)
        return judged

    def _one(self, done: Done, before: int, after: int) -> Judged:
        belief = believed(self._call(after), self._truth)
        gained = None
        if isinstance(done.act, acts.Look) and self._truth:
            gained = _bits(believed(self._call(before), self._truth), belief)
        verdict = self._verdict(done)
        fault = _safety_fault(done) or (verdict.fault if verdict.loss >= WRONG_FROM else "")
        said = {**vars(verdict), "fault": fault}
        return Judged(done=done, text=act_in_words(self._trees, done), gained=gained, belief=belief, **said)

    def _verdict(self, done: Done) -> Verdict:
        call = self._call(self._mark)
        wasted = self._wasted_on_the_way(done, call)
        match done.act:
            case acts.Look() | acts.Mend() if call.refusal():
                verdict = _of_refused(call, self._session.step_of_any(done.act))
            case acts.Look() | acts.Mend():
                step = self._session.step_of_any(done.act)
                anew = self._of_anew(call, step)
                waiting = Verdict(loss=step.minutes, fault="The door was waiting to be proved.")
                verdict = waiting if call.state.proving else _weigh(anew or call, step)
            case acts.Finish(outcome="left out of service") if self._truth and not call.state.proving:
                verdict = _give_up(call)
            case acts.Prove() if not call.state.proving:
                verdict = Verdict(loss=done.minutes, fault="Nothing was repaired yet that could be proved.")
            case acts.Prove(proof=proof) if done.worked is None or proof not in {p.id for p in call.needed_proofs()}:
                verdict = Verdict(loss=done.minutes, fault="It proved nothing that this door needs.")
            case acts.TryDoor() if done.worked is None:
                verdict = Verdict(loss=done.minutes, fault="Without power nothing can be seen.")
            case _:
                verdict = Verdict()
        if wasted > _AS_GOOD:
            more = "" if verdict.fault else "The door was brought into a state that was not needed yet."
            return replace(verdict, loss=verdict.loss + wasted, fault=verdict.fault or more)
        return verdict

    def _of_anew(self, call: Call, step: Task) -> Call | None:
        """For a check that was answered by hearsay or wrongly: the call as if it were not answered."""
        if not isinstance(step, Check) or step.id not in call.state.answers:
            return None
        answer: Answer = call.state.answers[step.id]
        looked = [d for d in self._session.done if isinstance(d.act, acts.Look) and d.act.check == step.id]
        last = next((d for d in reversed(looked) if d.events <= self._mark), None)
        if answer.heard != "told" and (last is None or not last.false):
            return None
        anew = Call(self._trees, history=call.events)
        anew.withdraw(step.id)
        return anew

    def _wasted_on_the_way(self, done: Done, call: Call) -> float:
        """Minutes spent on changing states and calling people, beyond what this act needed of them."""
        if isinstance(done.act, (acts.Enter, acts.CallIn, acts.AskFor, acts.TakeBack)):
            return 0.0
        step, needed = self._session.step_of_any(done.act), 0.0
        match done.act:
            case acts.Finish(outcome="left out of service"):
                # Whatever it was brought into: a door that stays so is rightly locked off.
                return 0.0
            case acts.Finish():
                energy = self._session.running
            case _:
                energy = step.energy
        needed += state_minutes(self._trees, energy, call.energy)
        if step.who not in call.state.people:
            needed += self._trees.people[step.who].call_out
        return max(0.0, self._under_way - needed)

    def _call(self, events: int) -> Call:
        history: Sequence[AnyEvent] = self._session.call.events[:events]
        return Call(self._trees, history=history)


def _safety_fault(done: Done) -> str:
    if done.happened:
        return " ".join(each.told for each in done.happened)
    if done.false:
        return "The power was off: what was found says nothing of the door."
    return ""


def _weigh(call: Call, step: Task) -> Verdict:
    """What it costs to begin with ``step``, beside the best."""
    planner = call.planner
    best = planner.best()
    goal = _goal(planner, step)
    if _is_on_the_way(best, step) or _is_second_look(call, step):
        return Verdict(plan_cost=best.expected_cost)
    if goal is None:
        own = planner.scale.in_a_row((step,)) + planner.scale.entry((step,)) + _money(planner, step)
        loss = max(own, _AS_GOOD)
    else:
        weighing = _Weighing(planner.standing, goal)
        loss = weighing.cost() - min(best.expected_cost, weighing.plan.first().expected_cost)
    if loss <= _AS_GOOD:
        return Verdict(plan_cost=best.expected_cost)
    words, why = best_in_words(call)
    fault = _fault(planner, step, goal, loss)
    return Verdict(loss=loss, best=words, why=why, fault=fault, plan_cost=best.expected_cost)


def _of_refused(call: Call, step: Task) -> Verdict:
    """A step on a door that is left to somebody else costs what it takes, whatever it shows."""
    words, why = best_in_words(call)
    fault = "This door is left to somebody who works on its kind."
    return Verdict(loss=step.minutes, best=words, why=why, fault=fault)


def _give_up(call: Call) -> Verdict:
    if call.refusal():
        return Verdict(plan_gave_up=True)
    planner = call.planner
    best = planner.best()
    loss = planner.plan.costs_of_first().get(("hand over", ""), best.expected_cost) - best.expected_cost
    if best.kind == "stop" or loss <= _AS_GOOD:
        return Verdict(plan_cost=best.expected_cost, plan_gave_up=True)
    words, why = best_in_words(call)
    fault = "There was still something worth doing."
    return Verdict(loss=loss, best=words, why=why, fault=fault, plan_cost=best.expected_cost)


def _is_on_the_way(best: Suggestion, step: Task) -> bool:
    return step.id in best.way if best.kind == "check" else best.kind == "remedy" and best.id == step.id


def _is_second_look(call: Call, step: Task) -> bool:
    """The call itself doubts that answer, and would look again."""
    return step.id in call.state.answers and call.next_step().goal == step.id


def _goal(planner: Planner, step: Task) -> Candidate | Repair | None:
    """What the plan can make of a step: the most telling check that it is part of, or the repair that it is."""
    if not isinstance(step, Check):
        return next((repair for repair in planner.remedies if repair.remedy.id == step.id), None)
    found = next((c for c in planner.candidates if step.id in c.way.steps), None)
    if found is None and step.id in planner.standing.situation.tables and step.id not in planner.standing.known:
        found = planner._first_look(Way(step.id, (step.id,)))
    return found if found is not None and found.information > _NO_BITS else None


class _Weighing(Planner):
    """The plan made with one more step in it, so that this can be compared with the best."""

    def __init__(self, standing: Standing, goal: Candidate | Repair) -> None:
        super().__init__(standing)
        self._named = goal

    def cost(self) -> float:
        """What it costs on the average to begin with the step."""
        if isinstance(self._named, Candidate):
            return self.plan.cost_of_first("question", self._named.way.goal)
        return self.plan.cost_of_first("action", self._named.remedy.id)

    def _short_candidates(self, repairs: Sequence[Repair]) -> list[Candidate]:
        short = super()._short_candidates(repairs)
        named = self._named
        if not isinstance(named, Candidate) or any(c.way.goal == named.way.goal for c in short):
            return short
        return [*short[:-1], named]

    def _short_actions(self) -> list[Repair]:
        short = super()._short_actions()
        named = self._named
        if not isinstance(named, Repair) or any(r.remedy.id == named.remedy.id for r in short):
            return short
        return [*short[:-1], named]


def _fault(planner: Planner, step: Task, goal: Candidate | Repair | None, loss: float) -> str:
    more = f"It costs {about(loss)} more than the best step, on average."
    if isinstance(goal, Repair):
        money = planner.trees.price(goal.remedy.parts)
        price = f" and {planner.trees.costs.currency}{money:.0f}" if money else ""
        chance = percent(goal.fixes)
        return f"{chance} chance that it ends the trouble, for {minutes(step.minutes)}{price}. {more}"
    if goal is not None:
        little = (
            "hardly anything" if goal.information < _LITTLE else "little" if goal.information < _SOME else "something"
        )
        return f"It could tell {little} about the cause, for {minutes(goal.minutes + goal.entry)}. {more}"
    if isinstance(step, Check):
        return f"By what was known then it could tell nothing about the cause. {more}"
    return f"It removes nothing that was suspected then. {more}"


def best_in_words(call: Call) -> tuple[str, str]:
    """What would be done next, and why; a change of state is passed over for what it is made for."""
    step, trees = call.next_step(), call.trees
    kind, name = (step.goal_kind, step.goal) if step.kind == "energy" else (step.kind, step.id)
    why = step.why.removeprefix("The next step is done in this state. ")
    lead = "Prove: " if kind == "proof" else ""
    return f"{lead}{step_title(trees, kind, name) if kind != 'stop' else name.capitalize()}", why


def _money(planner: Planner, step: Task) -> float:
    parts: Mapping[str, int] = getattr(step, "parts", {})
    return planner.trees.price(parts) / planner.trees.costs.money_per_minute


def _bits(before: Mapping[str, float], after: Mapping[str, float]) -> float:
    """Bits by which belief in the true causes grew, on the average of them."""
    moved = [np.log2(max(after[cause], 1e-9) / max(before[cause], 1e-9)) for cause in before]
    return float(np.mean(moved)) if moved else 0.0
