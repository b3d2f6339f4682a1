"""The course of a call: what comes next, and what may be chosen instead.

The only way a step is handed out. Everything follows from the call's events, so that a call killed between any two of
them goes on at the same step, on any face. What was decided by hand comes before what the reasoning suggests: a repair
that was done is tried, what was chosen is done, and a state that was entered for a step is followed by that step.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.next_step import HAND_OVER, PROOF_FAILED, RETURN, Step, job_step
from diagnose.calls.state import Named, Try, standing
from diagnose.calls.words import absent_from, missing_for, step_title
from diagnose.knowledge.model import ANY, UNLISTED, Cause, Fact, Task, applies, can_do, is_powered, power_state
from diagnose.knowledge.words import about, minutes, percent
from diagnose.reasoning import explain
from diagnose.reasoning.walk import inputs_of, way_to
from diagnose.sitting.door_facts import facts_of_walk, facts_that_matter

# A step of the kind "stop": whoever may do the step that is its goal has to come first.
COME = "somebody must come"
# The chance (an estimate) from which a remedy leads so that whoever may do it is called; and the part of that chance
# which another remedy must have to be tried before they are.
_LEADS, _AS_LIKELY = 0.2, 0.5


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

    @property
    def extra(self) -> str:
        """What it costs beside the best, in words."""
        if self.kind in ("proof", "job"):
            return ""
        return "as good" if self.more < 0.5 else f"{minutes(self.more)} more on average"


@dataclass(frozen=True)
class Planned:
    """What comes next, what else could be done, and whether it is the best there is or a quick stand-in.

    ``complaint`` is what is judged now, where the step is to try the door after a repair. ``changed`` says that a step
    announced before does not follow, and why.
    """

    step: Step
    alternatives: tuple[Alternative, ...] = ()
    quick: bool = False
    complaint: str = ""
    changed: str = ""

    @property
    def goal(self) -> Named:
        """What the step leads to, by kind and id: itself, or what comes after it."""
        return goal_of(self.step)


@dataclass(frozen=True)
class Decided:
    """What people decided, as it stands: a step chosen, one announced by the state entered for it, and one that was
    announced before something new was said."""

    chosen: Named | None = None
    announced: Named | None = None
    overtaken: Named | None = None


def goal_of(step: Step) -> Named:
    """What a step leads to, by kind and id: itself, or what comes after it."""
    return step.goal_kind or step.kind, step.goal or step.id


# --- what was decided ---------------------------------------------------------------------------------------------


def decided(call: Call) -> Decided:
    """What was chosen or announced and is not done yet."""
    now, people, wanted = Decided(), call.state.people, dict[Named, None]()
    for event in standing(call.events):
        match event:
            case ev.Opened():
                people = event.people
            case ev.PeopleStated():
                people = event.people
                # What was put off for want of somebody comes back first when they are here.
                for named in [named for named in wanted if not _absent(call, named, people)]:
                    del wanted[named]
                    now = Decided(chosen=named)
                now = _overtaken(now)
            case ev.TakenUp():
                now = Decided(chosen=(event.kind, event.step))
            case ev.PutOff():
                named = (event.kind, event.step)
                if _absent(call, named, people):
                    wanted[named] = None
                now = _without(now, named)
            case ev.EnergyEntered():
                goal = (event.goal_kind, event.goal) if event.goal else None
                now = replace(now, announced=goal if goal != now.chosen else None, overtaken=None)
            case ev.Answered():
                now = _said(now, ("check", event.check))
            case ev.Tried() | ev.RepairDone():
                now = _said(now, ("remedy", event.remedy))
            case ev.Proved():
                now = _said(now, ("proof", event.proof))
            case ev.JobDone():
                now = _said(now, ("job", event.job))
            case ev.FactStated() | ev.SymptomsStated() | ev.Withdrawn():
                now = _overtaken(now)
            case ev.Closed() | ev.Reopened() | ev.Judged():
                now = replace(now, announced=None, overtaken=None)
    return now


def _said(now: Decided, done: Named) -> Decided:
    """Something was found or done: a choice is fulfilled by it, and what was announced has to bear it."""
    overtaken = now.announced if now.announced != done else None
    chosen = None if now.chosen is not None and (now.chosen == done or now.chosen[0] == "stop") else now.chosen
    return Decided(chosen, None, overtaken)


def _overtaken(now: Decided) -> Decided:
    chosen = None if now.chosen is not None and now.chosen[0] == "stop" else now.chosen
    return Decided(chosen, None, now.announced or now.overtaken)


def _without(now: Decided, named: Named) -> Decided:
    return Decided(None if now.chosen == named else now.chosen, None if now.announced == named else now.announced, None)


def _absent(call: Call, named: Named, people: Iterable[str]) -> bool:
    entry = call.trees.task(*named)
    return entry is not None and entry.who not in can_do(call.trees, people)


# --- what comes next ----------------------------------------------------------------------------------------------


def plan(call: Call, quick: bool = False) -> Planned:
    """The step to hand out now; ``quick`` takes the reasoning's quick suggestion and names no alternatives."""
    best = call.next_step(quick=quick)
    if best.kind == "stop" and best.id in ("closed", "no symptom"):
        return Planned(best)
    now = decided(call)
    complaint = to_judge(call)
    if complaint and not (now.chosen and now.chosen != ("remedy", call.state.untried)):
        return _trial(call, complaint, best)
    if goal_of(best) == ("stop", RETURN) and now.chosen is None:
        return Planned(best)
    others = () if quick else alternatives(call)
    for named, why in ((now.chosen, "You chose it."), (now.announced, "The door was brought into this state for it.")):
        step = step_to(call, named, best, f"{why} {why_of(call, named)}".strip()) if named else None
        if step is not None:
            return Planned(_somebody_first(call, step), others, quick)
    step = _somebody_first(call, _not_the_unlikely(call, _by_those_here(call, best)))
    return Planned(step, others, quick, changed=_changed(call, now, step))


def _changed(call: Call, now: Decided, step: Step) -> str:
    """Why the step that was announced does not follow, where it does not."""
    if now.overtaken is None or goal_of(step) == now.overtaken or now.overtaken[0] == "stop":
        return ""
    title = step_title(call.trees, *now.overtaken)
    return f"This was to come next: {title} What was said since has changed the plan.".replace("..", ".")


def to_judge(call: Call) -> str:
    """The complaint to be judged now: the first that nobody has since the last repair, then one to look at again."""
    state = call.state
    if state.outcome is not None or not state.tries or state.tries[-1].worked is not None:
        return ""
    told = state.tries[-1].outcomes
    left = [each for each in state.symptoms if each not in told and state.outcomes.get(each) != "gone"]
    return next(iter([*left, *state.waiting_for]), "")


def last_repair(call: Call) -> str:
    """The remedy that was done last, tried or not; ``""`` where none was."""
    return call.state.tries[-1].remedy if call.state.tries else ""


def _trial(call: Call, complaint: str, best: Step) -> Planned:
    """Power back on, then see whether the door works: until then nobody knows how long it takes."""
    remedy, trees = last_repair(call), call.trees
    why = "The repair is done: try the door before anything else."
    step = replace(best, kind="remedy", id=remedy, why=why, goal=remedy, goal_kind="remedy", expected_minutes_left=0.0)
    step = replace(step, minutes=trees.remedies[remedy].minutes if remedy in trees.remedies else 0.0)
    wanted = power_state(trees)
    if wanted and not is_powered(trees, call.energy):
        step = replace(step, kind="energy", id=wanted, minutes=trees.energy[wanted].minutes_from(call.energy))
    return Planned(step, complaint=complaint)


def _somebody_first(call: Call, step: Step) -> Step:
    """``step``, or that somebody has to come first who may do what it leads to: nothing is switched off in vain."""
    named = goal_of(step)
    needs = absent_from(call, *named)
    if not needs:
        return step
    entry = call.trees.task(*named)
    assert entry is not None
    title = step_title(call.trees, *named).rstrip(".")
    why = f"{title}: it {needs}. {why_of(call, named)}".strip()
    return replace(step, kind="stop", id=COME, why=why, minutes=0.0, goal=named[1], goal_kind=named[0])


def _by_those_here(call: Call, best: Step) -> Step:
    """The suggestion; of several proofs or jobs that are left, first those that somebody who is here may do."""
    goal = goal_of(best)
    if goal[0] not in ("proof", "job") or not _absent(call, goal, call.state.people):
        return best
    if goal[0] == "job":
        left = [("job", job.id) for job in call.ready_jobs()]
    else:
        left = [("proof", proof.id) for proof in call.open_proofs()]
    mine = [named for named in left if named not in call.state.put_off and not _absent(call, named, call.state.people)]
    return (step_to(call, mine[0], best, best.why) if mine else None) or best


def _not_the_unlikely(call: Call, best: Step) -> Step:
    """The suggestion; but no repair of a lesser cause in place of the leading remedy that somebody absent has to do."""
    if goal_of(best)[0] not in ("remedy", "stop") or not call.state.symptoms or call.state.proving or best.id == RETURN:
        return best
    repairs = call.planner.remedies
    leading = max(repairs, key=lambda repair: repair.fixes, default=None)
    if leading is None or not _absent(call, ("remedy", leading.remedy.id), call.state.people):
        return best
    chance = next((repair.fixes for repair in repairs if ("remedy", repair.remedy.id) == goal_of(best)), 0.0)
    if leading.fixes < _LEADS or chance >= leading.fixes * _AS_LIKELY or best.id == PROOF_FAILED:
        return best
    return replace(best, kind="remedy", id=leading.remedy.id, goal=leading.remedy.id, goal_kind="remedy")


def step_to(call: Call, goal: Named, best: Step, why: str) -> Step | None:
    """The first thing to do on the way to ``goal``: a check before it, a change of energy state, or itself.

    ``None`` where an answer given stands in the way of a check, or these trees do not know it. ``best`` lends its
    minutes to the end.
    """
    kind, identity = goal
    if kind == "stop":
        return replace(best, kind="stop", id=identity, why=why, minutes=0.0, goal="", goal_kind="")
    entry = call.trees.task(*goal)
    if entry is None:
        return None
    if kind == "job":
        return job_step(call, call.trees.jobs[identity], best.expected_minutes_left)
    if kind == "check":
        trees = call.trees
        known = {check: value for check, value in call.inference.known.items() if check != identity}
        # What is chosen freely is not refused for want of the right person, only labelled.
        way = way_to(call.situation, identity, known, set(trees.people))
        if way is None:
            return None
        first = next((step for step in way.steps if trees.checks[step].kind != "computed"), identity)
        if first != identity:
            why = f"It comes before: {trees.checks[identity].text} {why}".strip()
            if _absent(call, ("check", first), call.state.people) and not _absent(call, goal, call.state.people):
                # Whoever does what comes before has to come first.
                goal = ("check", first)
        return _in_its_state(call, trees.checks[first], replace(best, kind="check", id=first, why=why), goal)
    return _in_its_state(
        call, entry, replace(best, kind="remedy" if kind == "remedy" else "proof", id=identity, why=why), goal
    )


def _in_its_state(call: Call, entry: Task, step: Step, goal: Named) -> Step:
    """``step``, or the change of energy state that comes before it."""
    step = replace(step, minutes=entry.minutes, goal=goal[1], goal_kind=goal[0])
    if entry.energy in (call.energy, ANY):
        return step
    change = call.trees.energy[entry.energy].minutes_from(call.energy)
    why = f"The next step is done in this state. {step.why}".strip()
    return replace(step, kind="energy", id=entry.energy, why=why, minutes=change)


def why_of(call: Call, goal: Named) -> str:
    """The reason that the reasoning would give for a step it did not put first."""
    kind, identity = goal
    if kind in ("proof", "job") or call.state.proving:
        return ""
    if kind == "stop":
        return explain.why_stop(call.planner)
    if kind == "check":
        return explain.why_check(call.planner, identity)
    # It was not put first, so the reasoning's own sentence, that it is the cheapest way on, would not be true.
    repair = next((repair for repair in call.planner.remedies if repair.remedy.id == identity), None)
    if repair is None:
        return ""
    return f"{percent(repair.fixes)} chance this fixes it; {about(repair.remedy.minutes)}."


# --- what may be chosen instead -----------------------------------------------------------------------------------


def alternatives(call: Call) -> tuple[Alternative, ...]:
    """Other steps worth considering, the cheapest first; while proving, the other proofs."""
    if call.state.outcome is not None:
        return ()
    walking = call.walking
    if walking and (ready := call.ready_jobs()):
        return tuple(_alternative(call, "job", job.id, 0.0) for job in ready)
    if not call.state.symptoms and not walking:
        return ()
    if call.state.proving or walking:
        return tuple(_alternative(call, "proof", proof.id, 0.0) for proof in call.open_proofs())
    best = call.planner.best()
    found: list[Alternative] = []
    for kind, identity, cost in best.alternatives:
        more = max(cost - best.expected_cost, 0.0)
        if kind in ("check", "remedy"):
            found.append(_alternative(call, kind, identity, more))
        elif not any(other.kind == "stop" for other in found):
            found.append(Alternative("stop", HAND_OVER, "Hand the door over to somebody else", more))
    return tuple(found)


def _alternative(call: Call, kind: str, identity: str, more: float) -> Alternative:
    return Alternative(kind, identity, step_title(call.trees, kind, identity), more, remarks_of(call, (kind, identity)))


def remarks_of(call: Call, named: Named) -> tuple[str, ...]:
    """What else is to be known of a step: what came of it, that it was put off, and who or what it wants."""
    return tuple(filter(None, (*_so_far(call, named), absent_from(call, *named))))


def _so_far(call: Call, named: Named) -> tuple[str, ...]:
    tried = [item for item in call.state.tries if ("remedy", item.remedy) == named]
    done = came_of_it(tried[-1]) if tried else ""
    put_off = "put off" if named in call.state.put_off else ""
    return tuple(filter(None, (done, put_off, missing_for(call, *named))))


def came_of_it(item: Try) -> str:
    """What came of a repair that was done, as far as it is known."""
    if item.worked is not None:
        if not item.worked and "better" in item.outcomes.values():
            return "done, better, not gone"
        return "done, it works now" if item.worked else "done, no change"
    return "done, too early to tell" if "too early" in item.outcomes.values() else "done, not yet tried"


def others_than(planned: Planned) -> tuple[Alternative, ...]:
    """What may be done in place of the step that was put."""
    here = (planned.goal, (planned.step.kind, planned.step.id))
    return tuple(other for other in planned.alternatives if (other.kind, other.id) not in here)


@dataclass(frozen=True)
class RepairWay:
    """A remedy that may be chosen, below the cause it is listed by; ``chance`` is ``None`` of a cause not suspected.

    ``needs`` is who must come for it in square brackets, which ``NEEDS`` explains once; ``""`` where nobody must.
    """

    remedy: str
    title: str
    cause: str
    cause_title: str
    chance: float | None
    minutes: float
    remarks: tuple[str, ...]
    needs: str


NEEDS = "A name in [brackets] must come: who may do that repair is not here."


def repairs(call: Call) -> tuple[RepairWay, ...]:
    """Every remedy of this door once, below the likeliest cause it removes; then those of causes nobody suspects."""
    chances = {likely.cause: likely.probability for likely in call.likely() if likely.cause in call.trees.causes}
    rest = [c.id for c in call.trees.causes.values() if c.id not in chances and applies(c.applies, call.facts)]
    found: dict[str, RepairWay] = {}
    for cause in [*chances, *rest]:
        for way in _removing(call, call.trees.causes[cause], chances.get(cause)):
            found.setdefault(way.remedy, way)
    return tuple(found.values())


def _removing(call: Call, cause: Cause, chance: float | None) -> list[RepairWay]:
    ways = []
    for entry in map(call.trees.remedies.__getitem__, cause.remedies):
        if applies(entry.applies, call.facts):
            who, remarks = explain.needed(call.trees, entry, call.state.people), _so_far(call, ("remedy", entry.id))
            needs = f"[{who}]" if who else ""
            ways.append(RepairWay(entry.id, entry.title, cause.id, cause.title, chance, entry.minutes, remarks, needs))
    return ways


def bearing(call: Call) -> list[str]:
    """The checks a person can answer that bear on the case, the most telling first."""
    trees, tables = call.trees, call.situation.tables
    telling = {candidate.way.goal: candidate.information for candidate in call.planner.candidates}
    found = dict.fromkeys(sorted(tables, key=lambda check: (-telling.get(check, 0.0), trees.checks[check].text)))
    for check in list(found):
        found |= dict.fromkeys(inputs_of(trees, trees.checks[check]))
    return [check for check in found if trees.checks[check].kind != "computed"]


def first_facts(call: Call) -> list[Fact]:
    """What is asked of the door before the first question, and not known yet."""
    state = call.state
    if state.evidence or state.outcome is not None:
        return []
    walk = call.walk
    if walk is not None and (state.jobs or state.symptoms):
        return []
    # On a walk jobs and proofs hang on all of them.
    matter = facts_that_matter(call.trees, state.symptoms) if walk is None else facts_of_walk(call.trees, walk.id)
    facts = [call.trees.facts[fact] for fact in matter if fact not in call.facts]
    return [fact for fact in facts if fact.first == "yes" or walk is not None]


def whom_to_call(call: Call) -> list[str]:
    """Those whose repairs remove a likely cause and who are not here, then whoever knows more."""
    trees, here = call.trees, can_do(call.trees, call.state.people)
    wanted: dict[str, str] = {}
    for likely in call.likely():
        if likely.cause == UNLISTED or likely.probability < 0.05:
            continue
        for remedy in trees.causes[likely.cause].remedies:
            who = trees.remedies[remedy].who
            if who not in here:
                wanted.setdefault(who, f"{trees.people[who].title}, for: {likely.title}")
    return [*wanted.values(), "whoever knows this make of door best, with the record of this call in hand"][:4]
