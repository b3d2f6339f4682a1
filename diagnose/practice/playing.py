"""Playing doors from life through a call: what is put, what it finds, and why it went wrong where it did."""

from __future__ import annotations

import signal
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field, replace
from functools import partial
from multiprocessing import get_context

import numpy as np

from diagnose.calls.call import Call
from diagnose.calls.likely import Likely
from diagnose.calls.next_step import HAND_OVER, Step
from diagnose.knowledge.model import ANY, COULD_NOT_TELL, UNLISTED, Check, Trees, applies
from diagnose.practice.from_life import LifeDoor, shown_when_sound
from diagnose.reasoning.belief import Belief, Pairs
from diagnose.reasoning.plan import SECOND_LOOK, Candidate, Planner
from diagnose.reasoning.situation import Array

# A call that has not come to an end by then will not.
_MOST_STEPS, _MOST_CHECKS, _MOST_WRONG = 200, 40, 5
# A remedy is right where it removes a cause at least this surely.
_REMOVES = 0.5
# An answer less likely than this is no reason to ask.
_WORTH_ASKING = 0.02
# An answer speaks against a cause where it divides its odds by three, and for it where it multiplies them by three.
_CLEARLY = 3.0
_MOST_ANSWERS_NAMED = 4

MENDED = "mended"
TOO_MANY_CHECKS = "too many checks"
TOO_MANY_WRONG = "too many wrong remedies"
Tell = Callable[[str], None]
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Put:
    """A check that was put before the first remedy, on the way to ``goal``.

    ``expected`` is the chance of the likeliest answer to ``goal``, from 0 to 1. ``idle`` where whatever it answers the
    same cause leads and the same remedy is put, to whoever does that; ``None`` where that was not asked for. Both are
    ``None`` where an answer was looked at again at the end of a call. ``told`` where this door gave an answer.
    """

    check: str
    goal: str
    told: bool
    expected: float | None = None
    idle: bool | None = None


@dataclass(frozen=True)
class Played:
    """How one door went. ``place`` is the true cause's, from 0, when the first remedy was put, or at the end where none
    was; ``None`` where it was no suspect. ``leader`` and ``probability`` are of that moment, too. Where the fault is in
    no tree (``in_book`` false) all three are of the end, and it is right if ``unlisted`` leads.

    ``end`` is how it ended: ``mended``, what the call stopped with, or too much of something. ``why`` says what went
    wrong, and is empty where nothing did. Minutes are of checks, remedies and changes of state.
    """

    door: str
    complaint: str
    set_aside: bool
    in_book: bool
    place: int | None
    leader: str
    probability: float
    right: bool
    end: str
    wrong: tuple[str, ...]
    again: int
    checks: tuple[str, ...]
    minutes: float
    put: tuple[Put, ...] = field(repr=False)
    why: str = ""

    @property
    def mended(self) -> bool:
        return self.end == MENDED


def play_all(
    trees: Trees,
    doors: Sequence[LifeDoor],
    *,
    idle: bool = False,
    processes: int = 1,
    progress: Progress = lambda done, of: None,
) -> list[Played]:
    """Every door played, in order. The same whatever ``processes`` is: no door knows of another."""
    played = []
    if processes < 2 or len(doors) < 2:
        for door in doors:
            played.append(play(trees, door, idle=idle))
            progress(len(played), len(doors))
        return played
    # Spawned, so that it is the same on every system.
    with ProcessPoolExecutor(processes, get_context("spawn"), _keep, (trees,)) as pool:
        try:
            for one in pool.map(partial(_play_kept, idle=idle), doors):
                played.append(one)
                progress(len(played), len(doors))
        except KeyboardInterrupt:
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    return played


_kept: list[Trees] = []


def _keep(trees: Trees) -> None:
    _kept[:] = [trees]
    # Who stops it stops the whole: the one that hands out the doors is told, and says so once.
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _play_kept(door: LifeDoor, idle: bool) -> Played:
    return play(_kept[0], door, idle=idle)


def play(trees: Trees, door: LifeDoor, *, idle: bool = False, tell: Tell = lambda line: None) -> Played:
    """One door, played to its end through a call with everybody at hand who may be needed.

    A remedy that removes no fault of this door, or is the wrong one for what is left, is said not to have worked.
    ``idle`` finds idle checks, which takes a plan for every answer. ``tell`` is given a line for each step and answer.
    """
    return _Player(trees, door, idle, tell).play()


class _Player:
    def __init__(self, trees: Trees, door: LifeDoor, idle: bool, tell: Tell) -> None:
        self._trees = trees
        self._door = door
        self._idle = idle
        self._tell = tell
        self._call = Call(trees, door.facts, [door.complaint], people=tuple(trees.people))
        self._left = list(door.causes)
        self._mended: list[tuple[str, ...]] = []
        self._checks: list[str] = []
        self._put: list[Put] = []
        self._done: list[str] = []
        self._wrong: list[str] = []
        self._minutes = 0.0
        # What was likely when the first remedy was put.
        self._first: list[Likely] | None = None

    def play(self) -> Played:
        end = next((end for _ in range(_MOST_STEPS) if (end := self._step())), TOO_MANY_CHECKS)
        likely = self._first or self._call.likely()
        if not self._door.causes:
            # A fault in no tree is found when it is handed over as one, at most one part the poorer.
            likely = self._call.likely()
            end = MENDED if likely[0].cause == UNLISTED and len(self._wrong) < 2 else end
        place = _place(likely, self._door)
        played = Played(
            door=self._door.id,
            complaint=self._door.complaint,
            set_aside=self._door.set_aside,
            in_book=bool(self._door.causes),
            place=place,
            leader=likely[0].cause,
            probability=likely[0].probability,
            right=place == 0,
            end=end,
            wrong=tuple(self._wrong),
            again=len(self._done) - len(set(self._done)),
            checks=tuple(self._checks),
            minutes=self._minutes,
            put=tuple(self._put),
        )
        return replace(played, why=self._why(played, likely))

    # --- step by step --------------------------------------------------------------------------------------

    def _step(self) -> str:
        """Do what the call says is next; how it ended, or ``""`` where it goes on."""
        step = self._call.next_step()
        leading = ", ".join(f"{each.cause} {each.probability:.2f}" for each in self._call.likely()[:3])
        self._tell(f"{step.kind} {step.id}   [{step.expected_minutes_left:.0f} min left: {leading}]")
        match step.kind:
            case "check":
                return self._answer(step)
            case "energy":
                self._call.enter(step.id)
                self._minutes += step.minutes
                return ""
            case "remedy":
                return self._try(step)
            case _:
                return step.id if step.kind == "stop" else step.kind

    def _answer(self, step: Step) -> str:
        shown = self._shows(self._trees.checks[step.id])
        if self._first is None:
            self._put.append(self._as_put(step, shown))
        again = step.id in self._call.state.answers
        self._call.answer(step.id, shown, mode="again" if again else "new")
        said = shown == self._door.found.get(step.id) or step.id in self._door.cannot
        unsaid = "" if said else " (as on a sound door)"
        self._tell(f"    → {shown}{unsaid}")
        self._checks.append(step.id)
        self._minutes += step.minutes
        return TOO_MANY_CHECKS if len(self._checks) > _MOST_CHECKS else ""

    def _shows(self, check: Check) -> str:
        """What is typed at the door as it is now: what tells of a fault that was mended since, and of no other, is as
        on a sound door."""
        causes = self._trees.causes
        told_by = [fault for fault in self._door.causes if any(check.id in causes[cause].signs for cause in fault)]
        if check.id in self._door.found and told_by and all(fault in self._mended for fault in told_by):
            return shown_when_sound(check)
        return self._door.shows(check)

    def _try(self, step: Step) -> str:
        if self._first is None:
            self._first = self._call.likely()
        self._minutes += step.minutes
        self._done.append(step.id)
        causes = self._trees.causes
        removed = [f for f in self._left if any(causes[c].remedies.get(step.id, 0.0) >= _REMOVES for c in f)]
        self._left = [fault for fault in self._left if fault not in removed]
        self._mended += removed
        if removed:
            # A fault that this complaint does not point to is for the closing proofs to show: the complaint is gone.
            if not any(cause in self._call.situation.causes for fault in self._left for cause in fault):
                self._tell("    → the complaint is gone")
                return MENDED
            self._tell("    → one fault is gone, and another is left")
        else:
            self._wrong.append(step.id)
            self._tell("    → wrong")
            if len(self._wrong) > _MOST_WRONG:
                return TOO_MANY_WRONG
        self._call.tried(step.id, worked=False)
        return ""

    def _as_put(self, step: Step, shown: str) -> Put:
        planner, told = self._call.planner, shown != COULD_NOT_TELL
        candidate = next((c for c in planner.candidates if c.way.goal == step.goal), None)
        # What the trees demand before a remedy counts with that remedy.
        if candidate is None or planner.best().kind == "remedy":
            return Put(step.id, step.goal, told)
        expected = float((candidate.likelihood @ planner.hypotheses.probability).max())
        return Put(step.id, step.goal, told, expected, is_idle(planner, candidate) if self._idle else None)

    # --- what went wrong -----------------------------------------------------------------------------------

    def _why(self, played: Played, likely: Sequence[Likely]) -> str:
        if played.right and played.mended and not played.wrong:
            return ""
        if played.right:
            return f"lost in the course: {self._course(played)}"
        if not played.in_book:
            return f"taken for {played.leader} ({played.probability:.2f}), and is in no tree"
        by_cause = {each.cause: each for each in likely}
        accepted = [cause for fault in self._door.causes for cause in fault]
        if played.place is None:
            return "not suspected: " + "; ".join(self._not_suspected(cause) for cause in accepted)
        truth = max((by_cause[cause] for cause in accepted if cause in by_cause), key=lambda each: each.probability)
        against = [e for e in truth.evidence if e.factor < 1 / _CLEARLY]
        if against:
            named = (f"{e.check} '{e.answer}' (×{e.factor:.2g})" for e in against[:_MOST_ANSWERS_NAMED])
            return f"{truth.cause} refuted by {', '.join(named)}"
        return f"{truth.cause} ({truth.probability:.2f}) outweighed by {played.leader} ({played.probability:.2f})"

    def _not_suspected(self, cause: str) -> str:
        if not applies(self._trees.causes[cause].applies, self._door.facts):
            return f"{cause} cannot be in such a door"
        return f"{cause} is not raised by {self._door.complaint}"

    def _course(self, played: Played) -> str:
        left = ["/".join(fault) for fault in self._left]
        said = [f"wrong remedies {', '.join(played.wrong)}"] if played.wrong else []
        if not played.mended:
            said.append("handed over" if played.end == HAND_OVER else played.end)
            said += [f"left in the door: {', '.join(left)}"] if left else []
        return "; ".join(said)


def _place(likely: Sequence[Likely], door: LifeDoor) -> int | None:
    """Where the best placed of the door's causes stands, from 0; of a fault in no tree, only whether it leads."""
    accepted = {cause for fault in door.causes for cause in fault} or {UNLISTED}
    place = next((number for number, each in enumerate(likely) if each.cause in accepted), None)
    return place if door.causes or place == 0 else None


# --- idle checks --------------------------------------------------------------------------------------------------


def is_idle(planner: Planner, candidate: Candidate) -> bool:
    """Whether each answer worth counting leaves the same cause leading and the same remedy the next to be put.

    That remedy is the one of the lowest expected cost if a remedy has to be the next step. Whose work it is hangs on
    the remedy alone.
    """
    decided = set()
    for number, row in enumerate(candidate.likelihood):
        weights = planner.hypotheses.probability * row
        chance = float(weights.sum())
        if chance < _WORTH_ASKING:
            continue
        decided.add(_decision(_after(planner, candidate, number, weights / chance)))
        if len(decided) > 1:
            return False
    return True


def _decision(planner: Planner) -> tuple[str, str]:
    standing = planner.standing
    leader = standing.situation.causes[int(np.argmax(standing.belief.causes()))]
    costs = {name: cost for (kind, name), cost in planner.plan.costs_of_first().items() if kind == "action"}
    return leader, min(costs, key=lambda name: (costs[name], name), default=HAND_OVER)


def _after(planner: Planner, candidate: Candidate, number: int, probability: Array) -> Planner:
    """Where the call would stand with that answer, the numbers of a reading taken in the middle of their band."""
    standing, last = planner.standing, candidate.steps[-1]
    known, doubtful = dict(standing.known), dict(standing.doubtful)
    if candidate.answers == SECOND_LOOK:
        doubtful.pop(candidate.way.goal, None)
    else:
        edges = standing.situation.tables[candidate.way.goal].edges
        middle = float(np.mean(edges[max(number - 1, 0) : number + 1])) if edges else None
        known[candidate.way.goal] = candidate.answers[number] if middle is None else middle
    return Planner(
        replace(
            standing,
            belief=_as_belief(planner, probability),
            known=known,
            doubtful=doubtful,
            energy=standing.energy if last.energy == ANY else last.energy,
            fetched={*standing.fetched, *(step.access for step in candidate.steps)},
        )
    )


def _as_belief(planner: Planner, probability: Array) -> Belief:
    hypotheses = planner.hypotheses
    singles = hypotheses.singles
    if len(probability) == singles:
        return Belief(probability)
    pairs = Pairs(hypotheses.first[singles:], hypotheses.second[singles:], probability[singles:])
    return Belief(probability[:singles], pairs)
