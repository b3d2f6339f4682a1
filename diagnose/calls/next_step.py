"""What to do next in a call: the step with the lowest expected cost to a proven door, and why.

The planner (``reasoning.plan``) says what is worth most. Here it meets what the call says: what was put off, which
proof has failed, which job of a walk comes next, and the energy state the door has to be brought into first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from diagnose.calls.events import EnergyEntered
from diagnose.calls.inference import Finding, believed
from diagnose.calls.known import Known
from diagnose.calls.likely import NOTHING_FITS, nothing_fits, surprise, untested
from diagnose.calls.state import standing
from diagnose.knowledge.model import ANY, Job, Proof, Task, applies, can_do, power_state
from diagnose.reasoning import explain
from diagnose.reasoning.naming import next_question
from diagnose.reasoning.plan import Suggestion, closing_minutes
from diagnose.reasoning.walk import Way, inputs_of

LOOK_AGAIN = "This does not fit the other answers, and a slip is likelier than an unknown fault. Look again."
LAST_LOOK = "Nothing known fits, and this answer sits worst with the rest: look again before it is passed on."
KEEPS_BACK = "“{cause}” is likely, and only this answer keeps its repair from being put: look again."
# What steps of the kind "stop" are called: nothing is left to do here; every proof has passed; one has failed, and what
# it showed is a complaint of its own.
HAND_OVER = "hand over"
RETURN = "return to service"
PROOF_FAILED = "proof failed"


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

    def asks(self, check: str) -> bool:
        """Whether it puts a check, or leads to it."""
        return self.kind in ("check", "energy") and check in (self.id, self.goal)


def next_step(call: Known, quick: bool = False) -> Step:
    """The step with the lowest expected cost to a proven door; ``quick`` takes the most telling check instead."""
    state = call.state
    if state.outcome is not None:
        return Step("stop", "closed", f"The call is closed: {state.outcome}.", 0.0, 0.0)
    if refusal := call.refusal():
        return Step("stop", HAND_OVER, refusal, 0.0, 0.0)
    if call.walking and not state.untried:
        return _next_job(call)
    if call.goal == "cause" and state.symptoms:
        return _next_question(call)
    if state.proving:
        return _next_proof(call)
    if not state.symptoms:
        return Step("stop", "no symptom", "Say first what the door does wrong.", 0.0, 0.0)
    if failed := _failed_proof(call, "the first one"):
        return failed
    suggestion = (call.planner.most_telling(_checks_put_off(call)) if quick else None) or _best(call)
    prospect = suggestion.prospect.after(_closing_minutes(call, call.needed_proofs()))
    left, interval = prospect.mean, prospect.middle()
    if suggestion.kind == "stop":
        look = None if quick else _last_look(call)
        if look is not None:
            return in_its_state(call, "check", *look, left, interval)
        return Step("stop", HAND_OVER, explain.why_stop(call.planner), 0.0, left, interval)
    if suggestion.kind == "remedy":
        if first := call.planner.before(call.trees.remedies[suggestion.id]):
            return _asked_before(call, suggestion.id, first[0], left, interval)
        why = explain.why_remedy(call.planner, suggestion)
        if nothing_fits(call):
            why = f"{NOTHING_FITS} {why}"
        return in_its_state(call, "remedy", suggestion.id, why, left, interval)
    return _check_step(call, suggestion, left, interval)


def _failed_proof(call: Known, before: str) -> Step | None:
    """That a proof has failed and shows a complaint of its own, which comes ``before`` what was going on."""
    failed = next((proof for proof in _failed_proofs(call) if call.raised_by(proof)), None)
    if failed is None:
        return None
    why = f"'{failed.title}' has failed. That is a complaint of its own, and it comes before {before}."
    return Step("stop", PROOF_FAILED, why, 0.0, 0.0, goal=failed.id, goal_kind="proof")


def _next_question(call: Known) -> Step:
    """The next step of a call that is for the cause alone."""
    suggestion = next_question(call.planner, call.sure, _checks_put_off(call))
    if suggestion.kind == "stop":
        why = explain.why_named(call.planner, suggestion.id)
        return Step("stop", suggestion.id, " ".join(filter(None, [why, untested(call)])), 0.0, 0.0)
    return _check_step(call, suggestion, suggestion.prospect.mean, suggestion.prospect.middle())


def _check_step(call: Known, suggestion: Suggestion, left: float, interval: tuple[float, float]) -> Step:
    first = next(s for s in suggestion.way if call.trees.checks[s].kind != "computed")
    why = explain.why_check(call.planner, suggestion.id)
    if first in call.state.answers:
        why = f"{LOOK_AGAIN} {why}"
    if first != suggestion.id:
        why = f"It comes before: {call.trees.checks[suggestion.id].text}. {why}"
    return in_its_state(call, "check", first, why, left, interval, suggestion.id)


def _asked_before(call: Known, remedy: str, way: Way, left: float, interval: tuple[float, float]) -> Step:
    """The check that says whether a remedy is the thing to do, before it is put."""
    first = next(step for step in way.steps if call.trees.checks[step].kind != "computed")
    return in_its_state(call, "check", first, explain.why_before(call.planner, remedy), left, interval, way.goal)


def _checks_put_off(call: Known) -> set[str]:
    return {step for kind, step in call.state.put_off if kind == "check"}


def _best(call: Known) -> Suggestion:
    """The planner's suggestion; where that was put off the next best step that was not, if there is one.

    Nobody goes from one energy state to the next and back with nothing done between: rather than the state that was
    just left comes the best step that is done here.
    """
    best, put_off = call.planner.best(), call.state.put_off
    wanted, before = (best.kind, best.id or HAND_OVER) not in put_off, _just_left(call)
    if wanted and (before is None or _energy_of(call, best) != before):
        return best
    left = tuple(other for other in best.alternatives if other[:2] not in put_off)
    others = (_other(call, best, other, left) for other in left if other[0] != "stop")
    if wanted:
        others = (other for other in others if _energy_of(call, other) in (ANY, call.energy))
    return next(others, best)


def _other(
    call: Known, best: Suggestion, other: tuple[str, str, float], left: tuple[tuple[str, str, float], ...]
) -> Suggestion:
    kind, name, cost = other
    ways = (c.way.steps for c in call.planner.candidates if kind == "check" and c.way.goal == name)
    return replace(best, kind=kind, id=name, way=next(ways, ()), expected_cost=cost, alternatives=left)


def _energy_of(call: Known, suggestion: Suggestion) -> str:
    """The energy state in which the first thing on the way to a suggestion is done; ``ANY`` to stop."""
    trees, way = call.trees, suggestion.way
    if suggestion.kind == "remedy":
        way = tuple(step for before in call.planner.before(trees.remedies[suggestion.id]) for step in before.steps)
    first: Task | None = next((trees.checks[step] for step in way if trees.checks[step].kind != "computed"), None)
    if first is None:
        first = trees.task(suggestion.kind, suggestion.id)
    return ANY if first is None else first.energy


def _just_left(call: Known) -> str | None:
    """The energy state that the door was in before its present one, where nothing was done since it was entered."""
    events = standing(call.events)
    if not events or not isinstance(events[-1], EnergyEntered) or call.energy == ANY:
        return None
    before = Known(call.trees, events[:-1], call.goal, call.sure).energy
    return before if before != call.energy else None


def _last_look(call: Known) -> tuple[str, str] | None:
    """What is looked at again before a door is passed on, and why: an answer that was seen once and either keeps back
    the repair of what is likely broken, or sits worst with the rest."""
    once = _seen_once(call)
    cause, against = call.planner.keeping_back()
    keeping = next((check for check in against if check in once), None)
    if keeping is not None:
        return keeping, KEEPS_BACK.format(cause=explain.cause_title(call.trees, cause))
    odd = next((check for check in surprise(call).odd if check in once and _leads_otherwise(call, check)), None)
    return None if odd is None else (odd, LAST_LOOK)


def _seen_once(call: Known) -> set[str]:
    """The checks that were looked at once since the last repair, by somebody at the door, and may be again."""
    mended = max((item.sequence for item in call.state.tries if item.worked), default=0)
    looks: Counter[str] = Counter()
    for finding in call.inference.findings:
        if finding.heard == "seen" and finding.sequence > mended:
            looks[finding.check.id] += finding.looks
    return {check for check, count in looks.items() if count == 1 and call.may_do(check)}


def _leads_otherwise(call: Known, without: str) -> bool:
    """Whether another cause would lead if a check had not been answered so."""
    inference = call.inference
    kept = (item for item in inference.items if not (isinstance(item, Finding) and item.check.id == without))
    other = believed(call.situation, tuple(kept), inference.pairs).causes()
    return bool(np.argmax(other) != np.argmax(inference.belief.causes()))


def _next_job(call: Known) -> Step:
    """The next job of the walk, or what is read with it; the proofs when all jobs are done."""
    ready = call.ready_jobs()
    if not ready:
        return _next_proof(call)
    left = _walk_minutes(call)
    job = next((job for job in ready if ("job", job.id) not in call.state.put_off), ready[0])
    return job_step(call, job, left)


def job_step(call: Known, job: Job, left: float) -> Step:
    """The first thing to do on the way to a job's end: a reading that goes with it, or the job itself."""
    assert call.walk is not None
    came = call.state.jobs.get(job.id)
    why = f"It was not right: {came.reason.rstrip('.')}." if came is not None and came.came == "not right" else ""
    for check in to_read(call, job)[:1]:
        return in_its_state(call, "check", check, f"Read with: {job.title}.", left, (left, left), job.id, "job")
    return in_its_state(call, "job", job.id, why, left, (left, left))


def _walk_minutes(call: Known) -> float:
    """Minutes of the jobs that are open, and of the proofs."""
    open_jobs = call.open_jobs()
    return sum(job.minutes for job in open_jobs) + _closing_minutes(call, call.open_proofs())


def _next_proof(call: Known) -> Step:
    missing = call.open_proofs()
    left = _closing_minutes(call, missing)
    if call.walk and (failed := _failed_proof(call, "the walk goes on")):
        return failed
    if not missing:
        return _hand_back(call)
    are = "is" if len(missing) == 1 else "are"
    why = f"{len(missing)} of {len(call.needed_proofs())} proofs {are} left before the door returns to service."
    first = next((proof for proof in missing if ("proof", proof.id) not in call.state.put_off), missing[0])
    return in_its_state(call, "proof", first.id, why, left, (left, left))


def _hand_back(call: Known) -> Step:
    """Back to service, with power and closed up first: the last proof may have been run without."""
    wanted = power_state(call.trees)
    if not wanted or call.energy in (wanted, ANY):
        return Step("stop", RETURN, "Every proof this door needs has passed.", 0.0, 0.0)
    minutes = call.trees.energy[wanted].minutes_from(call.energy)
    why = "Every proof has passed. The door goes back to its users with power, closed up, and without your lock."
    return Step("energy", wanted, why, minutes, minutes, (minutes, minutes), RETURN, "stop")


def _closing_minutes(call: Known, proofs: Collection[Proof]) -> float:
    return closing_minutes(call.trees, proofs, call.facts, can_do(call.trees, call.state.people))


def in_its_state(
    call: Known,
    kind: Literal["check", "remedy", "proof", "job"],
    identity: str,
    why: str,
    left: float,
    interval: tuple[float, float],
    goal: str = "",
    goal_kind: str = "",
) -> Step:
    """The step itself, or the change of energy state that has to come before it."""
    entry = call.trees.task(kind, identity)
    assert entry is not None
    goal, goal_kind = goal or identity, goal_kind or kind
    if entry.energy not in (call.energy, ANY):
        minutes = call.trees.energy[entry.energy].minutes_from(call.energy)
        text = f"The next step is done in this state. {why}"
        if goal_kind != "job":
            goal, goal_kind = identity, kind
        return Step("energy", entry.energy, text, minutes, left, interval, goal, goal_kind)
    return Step(kind, identity, why, entry.minutes, left, interval, goal, goal_kind)


def _failed_proofs(call: Known) -> tuple[Proof, ...]:
    """Proofs that have failed since the last remedy and were not put off, in the order they were run."""
    results, put_off = call.state.proofs, call.state.put_off
    failed = (identity for identity, passed in results.items() if not passed and ("proof", identity) not in put_off)
    return tuple(call.trees.proofs[identity] for identity in failed if identity in call.trees.proofs)


def to_read(call: Known, job: Job) -> tuple[str, ...]:
    """The checks that are answered with a job and are not yet, with what those are computed from."""
    fitting = [c for c in map(call.trees.checks.__getitem__, job.reads) if applies(c.applies, call.facts)]
    wanted = dict.fromkeys(name for check in fitting for name in (*inputs_of(call.trees, check), check.id))
    return tuple(
        name
        for name in wanted
        if name in call.trees.checks and call.trees.checks[name].kind != "computed" and name not in call.state.answers
    )
