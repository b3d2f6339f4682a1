"""Measuring the program on simulated calls: is it right, is it quick, does it know when it does not know.

Every figure is drawn from the trees themselves, so it says how well the program uses what it has been told, not
whether what it has been told is true of real doors. Policies are compared on the same doors.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace

import msgspec
import numpy as np

from diagnose.calls.call import Call
from diagnose.knowledge.model import COULD_NOT_TELL, UNLISTED, Trees
from diagnose.practice.simulated import POLICIES, Draw, Outcome, SimulatedCall, draw_door, planned
from diagnose.reasoning.scoring import (
    CalibrationBin,
    brier_score,
    calibration,
    expected_calibration_error,
    log_loss,
)
from diagnose.reasoning.walk import reachable

# Diagnosis goes on until a cause is this sure, or nothing reachable tells anything more.
_SURE = 0.99
_MOST_CHECKS = 120
Progress = Callable[[str], None]


@dataclass(frozen=True)
class Interval:
    """A mean or a share, with its 95 % interval."""

    value: float
    low: float
    high: float
    count: int

    def percent(self) -> str:
        return f"{100 * self.value:5.1f} % ({100 * self.low:.1f}–{100 * self.high:.1f}, n={self.count})"

    def plain(self, digits: int = 1) -> str:
        return f"{self.value:.{digits}f} ({self.low:.{digits}f}–{self.high:.{digits}f})"


def share(hits: Iterable[bool]) -> Interval:
    """A share with Wilson's 95 % interval."""
    values = [bool(hit) for hit in hits]
    n = len(values)
    if not n:
        return Interval(float("nan"), 0.0, 1.0, 0)
    p, z = sum(values) / n, 1.96
    middle = (p + z * z / (2 * n)) / (1 + z * z / n)
    half = z * np.sqrt(p * (1 - p) / n + z * z / (4 * n * n)) / (1 + z * z / n)
    return Interval(p, float(max(0.0, middle - half)), float(min(1.0, middle + half)), n)


def mean(values: Sequence[float]) -> Interval:
    """A mean with its normal 95 % interval."""
    array = np.asarray(values, dtype=float)
    half = 1.96 * float(array.std(ddof=1)) / np.sqrt(len(array)) if len(array) > 1 else 0.0
    return Interval(float(array.mean()), float(array.mean() - half), float(array.mean() + half), len(array))


@dataclass
class Diagnosed:
    """A call in which only checks were done: the last ranking, and what was said of the leading cause on the way."""

    draw: Draw
    ranking: tuple[str, ...]
    probabilities: dict[str, float]
    checks: int
    # After each answer: the leading cause's probability, and whether it was right.
    said: list[tuple[float, bool]] = field(default_factory=list)

    @property
    def place(self) -> int:
        """Where the true cause stands, from 0."""
        truth = self.draw.faults[0]
        return self.ranking.index(truth) if truth in self.ranking else len(self.ranking)

    @property
    def confident_and_wrong(self) -> bool:
        first = self.ranking[0]
        return first != UNLISTED and first not in self.draw.faults and self.probabilities[first] >= 0.9


def diagnose_only(
    trees: Trees,
    draw: Draw,
    seed: int,
    *,
    known: Trees | None = None,
    wrong: int | None = None,
    sure: float = _SURE,
) -> Diagnosed:
    """Ask the most telling check, again and again, and repair nothing.

    It ends when a cause is ``sure``, or nothing is left to ask. ``wrong`` makes the answer with that number, from 0,
    a wrong one; answers are otherwise as the door gives them, slips of the reader among them.
    """
    simulated = SimulatedCall(trees, draw, seed, known=known, slips=wrong is None)
    call, done = simulated.call, Diagnosed(draw, (), {}, 0)
    for _ in range(_MOST_CHECKS):
        belief = call.inference.belief.causes()
        if float(belief.max()) >= sure:
            break
        identity = _next_check(call)
        if identity is None:
            break
        text = simulated.door.typed(call.trees.checks[identity])
        if wrong == done.checks and identity in call.situation.tables:
            text = _other_answer(call, identity, text, simulated.random)
        call.answer(identity, text, mode="again" if identity in call.state.answers else "new")
        done.checks += identity in call.situation.tables
        belief = call.inference.belief.causes()
        first = call.situation.causes[int(np.argmax(belief))]
        done.said.append((float(belief.max()), first in (draw.faults if known is None else (UNLISTED,))))
    likely = call.likely()
    done.ranking = tuple(item.cause for item in likely)
    done.probabilities = {item.cause: item.probability for item in likely}
    return done


def _untold(done: Diagnosed) -> Diagnosed:
    """The same call, its fault called by the name the program has for what it does not know."""
    return replace(done, draw=replace(done.draw, faults=(UNLISTED,)))


def _next_check(call: Call) -> str | None:
    """The most telling check, or, once none tells anything, any that is still reachable."""
    best = call.planner.most_telling()
    standing = call.planner.standing
    way = (
        best.way
        if best
        else next((w.steps for w in reachable(standing.situation, standing.known, standing.people, relaxed=True)), None)
    )
    return None if way is None else next(s for s in way if call.trees.checks[s].kind != "computed")


def _other_answer(call: Call, identity: str, text: str, random: np.random.Generator) -> str:
    check = call.trees.checks[identity]
    if check.answers:
        others = [answer for answer in check.answers if answer != text]
        return str(random.choice(others)) if others else COULD_NOT_TELL
    low, high = check.plausible or (0.0, 1.0)
    return f"{random.uniform(low, high):.6g}"


def without_cause(trees: Trees, cause: str) -> Trees:
    """The trees as if a cause had never been written."""
    causes = {identity: entry for identity, entry in trees.causes.items() if identity != cause}
    symptoms = {
        identity: msgspec.structs.replace(entry, causes={c: p for c, p in entry.causes.items() if c != cause})
        for identity, entry in trees.symptoms.items()
    }
    return msgspec.structs.replace(trees, causes=causes, symptoms=symptoms, digest=f"{trees.digest} without {cause}")


@dataclass
class Evaluation:
    """Everything ``diagnose evaluate`` prints."""

    seed: int
    diagnosed: list[Diagnosed]
    with_unlisted: list[Diagnosed]
    taken_out: list[Diagnosed]
    one_wrong: list[Diagnosed]
    policies: dict[str, list[Outcome]]
    pairs: list[Outcome]
    trees: Trees

    def shares(self) -> dict[str, Interval]:
        """Calls that went so, by what is said of them."""
        return {
            "right first": share(d.place == 0 for d in self.diagnosed),
            "right in three": share(d.place < 3 for d in self.diagnosed),
            "unlisted found": share(d.ranking[0] == UNLISTED for d in self.taken_out),
            "false alarms": share(d.ranking[0] == UNLISTED for d in self.diagnosed),
            # Of calls whose cause is in no tree as often as the trees expect it.
            "confident and wrong": share(d.confident_and_wrong for d in self.with_unlisted),
            "confident and wrong, taken out": share(d.confident_and_wrong for d in self.taken_out),
            # Calls of at least five answers, one of them wrong.
            "right after one wrong answer": share(d.place == 0 for d in self.one_wrong if d.checks >= 5),
        }

    def by_family(self) -> dict[str, list[Diagnosed]]:
        families: dict[str, list[Diagnosed]] = {}
        for done in self.diagnosed:
            families.setdefault(self.trees.symptoms[done.draw.symptom].family, []).append(done)
        return families

    def calibration(self) -> list[CalibrationBin]:
        """Of the leading cause after every answer, unlisted faults drawn as often as the trees expect them."""
        said = [pair for done in self.with_unlisted for pair in done.said]
        return calibration(np.array([p for p, _ in said]), np.array([float(right) for _, right in said]))

    def brier(self) -> float:
        scores = []
        for done in self.with_unlisted:
            causes = list(done.probabilities)
            truth = np.array([[float(cause in done.draw.faults) for cause in causes]])
            scores.append(brier_score(np.array([[done.probabilities[c] for c in causes]]), truth))
        return float(np.mean(scores))

    def log_loss(self) -> float:
        given = [done.probabilities.get(done.draw.faults[0], 0.0) for done in self.with_unlisted]
        return log_loss(np.array(given))


def evaluate(
    trees: Trees,
    calls: int,
    seed: int,
    policies: Sequence[str] = tuple(POLICIES),
    families: Sequence[str] = (),
    progress: Progress = lambda _: None,
) -> Evaluation:
    """Simulate ``calls`` calls of each kind, spread evenly over the symptoms of ``families`` (all by default)."""
    symptoms = [s.id for s in trees.symptoms.values() if not families or s.family in families]
    jobs = [(symptoms[number % len(symptoms)], zlib.crc32(f"{seed} {number}".encode())) for number in range(calls)]
    single = [(draw_door(trees, np.random.default_rng(s), symptom), s) for symptom, s in jobs]
    progress("checks only")
    diagnosed = [diagnose_only(trees, draw, s) for draw, s in single]
    progress("with unlisted faults")
    # Faults in no tree are drawn as faults of these trees that the program has not been told of.
    rare = max(1, round(calls * trees.costs.unlisted))
    unknown = [_untold(diagnose_only(trees, d, s, known=without_cause(trees, d.faults[0]))) for d, s in single[-rare:]]
    with_unlisted = diagnosed[: calls - rare] + unknown
    progress("true cause taken out")
    taken_out = [
        diagnose_only(trees, draw, s, known=without_cause(trees, draw.faults[0]), sure=2.0) for draw, s in single
    ]
    progress("one answer wrong")
    one_wrong = [diagnose_only(trees, draw, s, wrong=s % 5) for draw, s in single]
    outcomes = {}
    for name in policies:
        progress(name)
        outcomes[name] = [SimulatedCall(trees, draw, s).run(POLICIES[name]) for draw, s in single]
    progress("two faults")
    doubles = [(draw_door(trees, np.random.default_rng(s), symptom, faults=2), s) for symptom, s in jobs[: calls // 2]]
    pairs = [SimulatedCall(trees, draw, s).run(planned) for draw, s in doubles if len(draw.faults) == 2]
    return Evaluation(seed, diagnosed, with_unlisted, taken_out, one_wrong, outcomes, pairs, trees)


def report(evaluation: Evaluation) -> str:
    """The figures as plain text, bars beside them."""
    told = {name: each.percent() for name, each in evaluation.shares().items()}
    bins = evaluation.calibration()
    lines = [
        f"seed {evaluation.seed}, {len(evaluation.diagnosed)} calls; 95 % intervals; drawn from the trees themselves",
        "",
        "Checks only, until a cause is 99 % sure or nothing is left to ask",
        f"  right cause first            {told['right first']}",
        f"  among the first three        {told['right in three']}",
        f"  checks                       {mean([d.checks for d in evaluation.diagnosed]).plain()}",
        f"  Brier score                  {evaluation.brier():.4f}",
        f"  log loss                     {evaluation.log_loss():.4f}",
        f"  calibration error            {expected_calibration_error(bins):.4f}   (bar: at most 0.03)",
        f"  unlisted leads, cause removed{told['unlisted found']}   (bar: at least 90 %)",
        f"  unlisted leads wrongly       {told['false alarms']}   (bar: at most 5 %)",
        f"  confident (≥ 0.9) and wrong  {told['confident and wrong']}   (bar: at most 1 %)",
        f"  the same, cause removed      {told['confident and wrong, taken out']}",
        f"  right after one wrong answer {told['right after one wrong answer']}   (bar: at least 85 %)",
        "",
        "Calibration of the leading cause, after every answer",
        *map(calibration_line, bins),
        "",
        *_policy_lines(evaluation),
        *_promise_lines(evaluation),
        "",
        *_pair_lines(evaluation),
        "",
        *_family_lines(evaluation),
    ]
    return "\n".join(lines)


def calibration_line(b: CalibrationBin) -> str:
    """One bin, a bar for what came true beside it."""
    bar = "#" * round(40 * b.came_true)
    return (
        f"  {b.low:.1f}–{b.high:.1f}  said {b.predicted:.3f}  came true {b.came_true:.3f}  n={b.count:<6d} |{bar:<40}|"
    )


def _policy_lines(evaluation: Evaluation) -> list[str]:
    if not evaluation.policies:
        return []
    lines = [
        "To a proven door, by policy, on the same doors (minutes hold all steps, changes of state and proofs)",
        f"  {'policy':33s} {'minutes':>22s} {'p90':>5s} {'before proofs':>13s} {'steps':>6s} {'p90':>4s}"
        f" {'first':>6s} {'in 3':>6s} {'fixed':>6s} {'wasted parts':>12s}",
    ]
    own = evaluation.policies.get("the program")
    for name, found in evaluation.policies.items():
        minutes = [o.minutes for o in found]
        steps = [o.checks + len(o.remedies) for o in found]
        ratio = ""
        if own and found is not own:
            ours, theirs = np.mean([o.minutes for o in own]), np.mean(minutes)
            before = np.mean([o.minutes - o.closing for o in own]) / np.mean([o.minutes - o.closing for o in found])
            ratio = (
                f"   the program is {100 * (1 - ours / theirs):.0f} % below, {100 * (1 - before):.0f} % before proofs"
            )
        lines.append(
            f"  {name:33s} {mean(minutes).plain():>22s} {np.percentile(minutes, 90):5.0f}"
            f" {np.mean([o.minutes - o.closing for o in found]):13.1f}"
            f" {np.mean(steps):6.1f} {np.percentile(steps, 90):4.0f}"
            f" {np.mean([o.ranking[0] in o.faults for o in found]):6.3f}"
            f" {np.mean([any(f in o.ranking[:3] for f in o.faults) for o in found]):6.3f}"
            f" {np.mean([o.fixed for o in found]):6.3f} {np.mean([o.wasted_parts for o in found]):12.3f}{ratio}"
        )
    lines.append("  (bars: at least 35 % below the fixed chart, 10 % below most information a minute)")
    return lines


def _promise_lines(evaluation: Evaluation) -> list[str]:
    own = evaluation.policies.get("the program")
    if not own:
        return []
    held = share(o.within[0] <= o.clock <= o.within[1] for o in own)
    return [
        f"  before its first step the program promises {mean([o.promised for o in own]).plain()} minutes "
        f"by the clock, and {mean([o.clock for o in own]).plain()} pass; "
        f"the middle 80 % that it gives holds {held.percent()}"
    ]


def _pair_lines(evaluation: Evaluation) -> list[str]:
    if not evaluation.pairs:
        return []
    both = share(set(o.faults) <= o.found and o.fixed for o in evaluation.pairs)
    thrifty = share(o.wasted_parts == 0 for o in evaluation.pairs)
    return [
        "Two faults at once",
        f"  both found and the door proven {both.percent()}   (bar: at least 85 %)",
        f"  no part wasted                 {thrifty.percent()}   (bar: at least 80 %)",
    ]


def _family_lines(evaluation: Evaluation) -> list[str]:
    lines = [f"{'By family, checks only':40s} {'first':>7s} {'in 3':>7s} {'checks':>7s} {'n':>4s}"]
    for family, found in sorted(evaluation.by_family().items()):
        first = np.mean([d.place == 0 for d in found])
        three = np.mean([d.place < 3 for d in found])
        checks = np.mean([d.checks for d in found])
        below = "   below the bar (85 % first, 97 % in three)" if first < 0.85 or three < 0.97 else ""
        lines.append(f"  {family:38s} {100 * first:6.1f}% {100 * three:6.1f}% {checks:7.1f} {len(found):4d}{below}")
    return lines
