"""What a trainee made of a walk: which wrong work was found, at which step, and which was passed over."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.practice import acts
from diagnose.practice.doing import shown_by
from diagnose.practice.done import Done
from diagnose.practice.session import Session


@dataclass(frozen=True)
class WrongWork:
    """One piece of wrong work. ``found`` is the act that said so, ``by_proof`` where it was a proof that failed;
    ``passed`` are the jobs that were held to be right before, though it showed there; ``mended`` the minute, or none.
    """

    cause: str
    found: Done | None
    by_proof: bool
    passed: tuple[Done, ...]
    mended: float | None


@dataclass(frozen=True)
class Walked:
    """``blamed`` are jobs that were called wrong and were right, ``unseen`` those passed without a look, of ``passed``
    in all."""

    wrong: tuple[WrongWork, ...]
    blamed: tuple[str, ...]
    unseen: tuple[str, ...]
    passed: int


def walked(session: Session) -> Walked:
    """What became of the wrong work of a scenario, act by act."""
    scenario = session.scenario
    in_door = set(scenario.causes)
    found: dict[str, Done] = {}
    passed: dict[str, list[Done]] = {cause: [] for cause in scenario.wrong}
    mended: dict[str, float] = {}
    looked: set[str] = set()
    blamed: dict[str, None] = {}
    unseen: dict[str, None] = {}
    done_jobs: set[str] = set()
    for done in session.done:
        match done.act:
            case acts.LookOver(job=job):
                looked.add(job)
            case acts.DoJob(job=job, came="not right"):
                if cause := scenario.wrong_at(job, in_door):
                    found.setdefault(cause, done)
                elif not in_door - set(scenario.causes):
                    blamed[job] = None
            case acts.DoJob(job=job) if done.worked:
                done_jobs.add(job)
                if job not in looked:
                    unseen[job] = None
                if (cause := scenario.wrong_at(job, in_door)) and cause not in found:
                    passed[cause].append(done)
            case acts.Prove(proof=proof) if done.worked is False:
                for cause in _shown_by(session, proof, in_door):
                    found.setdefault(cause, done)
            case acts.Mend():
                mended.update(dict.fromkeys(done.removed, done.clock))
                # What was mended is looked at anew.
                for cause in scenario.wrong.keys() & set(done.removed):
                    looked -= scenario.wrong[cause].sights.keys()
        in_door = done.leaves(in_door)
    wrong = tuple(
        WrongWork(
            cause,
            found.get(cause),
            cause in found and isinstance(found[cause].act, acts.Prove),
            tuple(passed[cause]),
            mended.get(cause),
        )
        for cause in scenario.wrong
    )
    return Walked(wrong, tuple(blamed), tuple(unseen), len(done_jobs))


def _shown_by(session: Session, proof: str, causes: set[str]) -> list[str]:
    """Of the wrong work in the door, what a proof that failed speaks of."""
    needed = [each.id for each in session.call.needed_proofs()]
    return [c for c in session.scenario.wrong if c in causes and proof in shown_by(session.trees, c, needed)]
