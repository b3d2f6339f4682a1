"""Trainees made of rules: the program's own way, and the bad habits it is compared with.

A policy (``simulated.Policy``) only chooses; ``carry_through`` does what it chose as a trainee would, through a
``Session``: brings the door into the state a step needs, fetches whoever may do it, tries the door, proves it.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.next_step import to_read
from diagnose.knowledge.model import ANY, Job, Task
from diagnose.practice import acts
from diagnose.practice.scenario import opened_by
from diagnose.practice.session import Session
from diagnose.practice.simulated import Choice, Policy, most_telling, planned, random_order

# Nobody goes on for ever; a walk has some hundred steps of its own.
_MOST_ACTS, _MOST_ON_WALK = 160, 400


def carry_through(session: Session, policy: Policy, seed: int = 0, careful: bool = True) -> Session:
    """Play a scenario to its end. Without care, nothing is switched off and nobody is called.

    On a walk every job is looked at, and what is wrong is known when it is seen.
    """
    random = np.random.default_rng([session.seed, seed])
    ready = _ready if careful else _hasty
    most = _MOST_ON_WALK if session.scenario.walk else _MOST_ACTS
    while not session.is_over and len(session.done) < most:
        if session.untried:
            ready(session, session.running, "anyone")
            session.do(acts.TryDoor())
        elif session.call.walking and (jobs := session.call.ready_jobs()):
            _do_job(session, jobs[0], ready)
        elif session.call.state.proving or session.call.walking:
            _prove_or_close(session, careful)
        else:
            choice = policy(session.call, random)
            step = _step(session, choice)
            if step is None:
                break
            ready(session, step.energy, step.who)
            session.do(acts.Look(check=step.id) if choice.kind == "check" else acts.Mend(remedy=step.id))
    if not session.is_over:
        session.do(acts.Finish(outcome="left out of service", reason="Passed on: no way on was found."))
    return session


def _do_job(session: Session, job: Job, ready: Callable[[Session, str, str], None]) -> None:
    """The next thing to do for a job of the walk: what is read with it, a look at it, and what comes of that."""
    trees = session.trees
    for name in to_read(session.call, job)[:1]:
        ready(session, trees.checks[name].energy, trees.checks[name].who)
        session.do(acts.Look(check=name))
        return
    session.do(acts.LookOver(job=job.id))
    if cause := session.scenario.wrong_at(job.id, session.door.faults):
        session.do(acts.DoJob(job=job.id, came="not right", reason="Not as it has to be"))
        session.do(acts.LookInto(symptom=opened_by(trees, cause, job.id)[0]))
        return
    ready(session, job.energy, job.who)
    session.do(acts.DoJob(job=job.id, came="done"))


def _step(session: Session, choice: Choice) -> Task | None:
    if choice.kind == "check":
        return session.trees.checks[choice.id]
    return session.trees.remedies[choice.id] if choice.kind == "remedy" else None


def _prove_or_close(session: Session, careful: bool) -> None:
    missing = session.call.open_proofs()
    if not missing:
        if careful:
            _ready(session, session.running, "anyone")
        session.do(acts.Finish(outcome=session.call.ends))
        return
    proof = missing[0]
    # A proof is signed by whoever may, even by the hasty: without that the door never returns.
    if proof.who not in session.call.state.people:
        session.do(acts.CallIn(person=proof.who))
    _ready(session, proof.energy if careful else _powered_as(session, proof.energy), "anyone")
    session.do(acts.Prove(proof=proof.id))


def _powered_as(session: Session, energy: str) -> str:
    """The state as it stands if it has power like the one wanted, else that one."""
    states = session.trees.energy
    return session.energy if states[session.energy].powered == states[energy].powered else energy


def _ready(session: Session, energy: str, who: str) -> None:
    if who not in session.call.state.people:
        session.do(acts.CallIn(person=who))
    if energy not in (ANY, session.energy):
        session.do(acts.Enter(energy=energy))


def _hasty(session: Session, energy: str, who: str) -> None:
    """Switches on where nothing can be had without power; otherwise leaves all as it is."""
    states = session.trees.energy
    if energy != ANY and states[energy].powered == "yes" and states[session.energy].powered == "no":
        session.do(acts.Enter(energy=energy))


def part_swapper(call: Call, _: np.random.Generator) -> Choice:
    """Fits the part that most likely helps, then the next; asks and measures nothing."""
    repairs = call.planner.remedies
    with_parts = [repair for repair in repairs if repair.remedy.parts]
    best = max(with_parts or repairs, key=lambda repair: (repair.fixes, repair.remedy.id), default=None)
    return Choice("remedy", best.remedy.id) if best is not None else Choice("hand over")


TRAINEES: dict[str, Policy] = {
    "planner": planned,
    "information-greedy": most_telling,
    "random": random_order,
    "part-swapper": part_swapper,
}
