"""What a practice call comes to: the path beside the best one, the score and its parts, and how belief moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.calls.call import Call
from diagnose.practice import acts
from diagnose.practice.better import to_do_better
from diagnose.practice.bots import carry_through
from diagnose.practice.done import Done
from diagnose.practice.judging import Judged, act_in_words, judge
from diagnose.practice.scenario import believed
from diagnose.practice.score import Score, Wasted, is_solved, score, wasted_parts
from diagnose.practice.session import Session
from diagnose.practice.simulated import planned
from diagnose.practice.walked import walked
from diagnose.reasoning.chain import place_of

HABIT_TITLES = {
    "safety": "Safety",
    "result": "Result",
    "order": "Order of steps",
    "thrift": "Thrift with parts",
    "instruments": "Reading instruments",
}
_BLOCKS = "▁▂▃▄▅▆▇█"


@dataclass(frozen=True)
class Point:
    """How likely each true cause was held, by what the trainee knew ``minutes`` after the start."""

    minutes: float
    belief: dict[str, float]


@dataclass(frozen=True)
class Debrief:
    """All that is said afterwards. ``own`` is the program's own way through the same door, act by act."""

    session: Session
    judged: tuple[Judged, ...]
    score: Score
    first_wrong: Judged | None
    wasted: tuple[Wasted, ...]
    missing_proofs: tuple[str, ...]
    points: tuple[Point, ...]
    own: tuple[str, ...]
    own_minutes: float
    solved: bool
    # What to do better, at most three things.
    better: tuple[str, ...] = ()


def debrief(session: Session, *, own: bool = True) -> Debrief:
    """Look back on a session. ``own`` plays the same door the program's own way besides."""
    judged = tuple(judge(session))
    program = Session(session.trees, session.scenario, session.seed, session.consequences)
    if own:
        carry_through(program, planned)
    truth = set(session.scenario.causes)
    on_walk = bool(session.scenario.walk)
    opening = Call(session.trees, history=session.call.events[: session.opening])
    start = Point(0.0, {} if on_walk else believed(opening, truth))
    wasted, missing = tuple(wasted_parts(session, judged)), _missing_proofs(session)
    return Debrief(
        session,
        judged,
        score(session, judged),
        next((item for item in judged if item.is_wrong), None),
        wasted,
        missing,
        (start, *(Point(item.done.clock, dict(item.belief)) for item in judged)),
        tuple(
            act_in_words(session.trees, done)
            for done in program.done
            if isinstance(done.act, (acts.Mend, acts.TryDoor) if on_walk else (acts.Look, acts.Mend, acts.TryDoor))
            or _is_wrong(done)
        ),
        program.clock,
        is_solved(session),
        to_do_better(session, judged, wasted, missing),
    )


def _is_wrong(done: Done) -> bool:
    return isinstance(done.act, acts.DoJob) and done.act.came == "not right"


@dataclass(frozen=True)
class WrongTold:
    """Wrong work in words: ``what`` it was, ``found`` where and when, or what it was ``passed`` at, and what comes."""

    what: str
    found: str
    passed: str
    comes: str


def wrong_in_words(session: Session) -> list[WrongTold]:
    """Of a walk: each piece of wrong work, where it was found, what it was passed over at, and what comes of it."""
    trees, told = session.trees, []
    for each in walked(session).wrong:
        cause = trees.causes[each.cause]
        if each.found is None:
            found = "Not found."
        else:
            at = f"minute {each.found.clock:.0f}, {act_in_words(trees, each.found).rstrip('.')}"
            found = f"Found{' only by a proof' if each.by_proof else ''}: {at}."
        if each.mended is not None:
            found += f" Repaired: minute {each.mended:.0f}."
        jobs = [
            f"{trees.jobs[d.act.job].title} (minute {d.clock:.0f})"
            for d in each.passed
            if isinstance(d.act, acts.DoJob)
        ]
        passed = f"Passed over at: {'; '.join(jobs)}." if jobs else ""
        comes = session.scenario.wrong[each.cause].comes
        told.append(WrongTold(cause.title, found, passed, comes))
    return told


def turns(judged: Sequence[Judged]) -> list[Judged]:
    """Of a walk: the acts at which it turned, which are all but work that went as it should."""
    kinds = (acts.LookInto, acts.Mend, acts.TryDoor, acts.Finish)
    return [
        item
        for item in judged
        if item.fault
        or isinstance(item.done.act, kinds)
        or _is_wrong(item.done)
        or (isinstance(item.done.act, acts.Prove) and item.done.worked is not True)
    ]


def _missing_proofs(session: Session) -> tuple[str, ...]:
    """The proofs that were due and not passed, those of what was repaired first.

    None on a door that was left out of service with its fault in it.
    """
    left = session.call.state.outcome == "left out of service" and bool(session.door.faults)
    if left or session.call.refusal():
        return ()
    remedies = session.trees.remedies
    own = {proof for item in session.call.state.tries for proof in remedies[item.remedy].proofs}
    return tuple(sorted((proof.id for proof in session.call.open_proofs()), key=lambda proof: proof not in own))


def chains(session: Session) -> list[str]:
    """Where along the chain of functions each true cause lies, a line each."""
    state, causes = session.call.state, session.scenario.causes
    places = [place_of(session.trees, session.scenario.facts, state.symptoms, cause) for cause in causes]
    return [place for place in places if place]


def sparkline(points: Sequence[Point], cause: str) -> str:
    """Belief in a cause over the acts, a block for each; it ends where the cause was removed."""
    values = [point.belief[cause] for point in points if cause in point.belief]
    return "".join(_BLOCKS[min(int(value * len(_BLOCKS)), len(_BLOCKS) - 1)] for value in values)
