"""A score out of a hundred, every part of which is shown with what it was lost by.

The parts are the trade's habits: hurting nobody, a door that is mended and proved, the right order, no part bought
for nothing, readings that mean something. What a hint costs is taken off at the end. All weights are estimates.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.calls.known import BACK
from diagnose.knowledge.model import Check
from diagnose.knowledge.words import about
from diagnose.practice import acts
from diagnose.practice.judging import Judged
from diagnose.practice.session import Session
from diagnose.practice.walked import Walked, walked

MOST = {"safety": 30.0, "result": 20.0, "order": 25.0, "thrift": 15.0, "instruments": 10.0}
# What acting against a caution costs, by its signal word. By ANSI Z535.4 a DANGER kills or maims if it is not avoided:
# one of them leaves nothing of the whole part.
CAUTION_POINTS = {"DANGER": MOST["safety"], "WARNING": 10.0, "CAUTION": 4.0, "NOTICE": 1.0}
# Half of the order is lost by choices that cost as much as this share of the whole job, and at least so many minutes.
_HALF_SHARE, _HALF_LEAST = 0.5, 30.0
# Half of the thrift is lost by this much money for nothing.
_HALF_MONEY = 60.0
_MENDED_UNPROVED, _SAFE_UNMENDED = 12.0, 5.0
# On a walk: what is left of the points for wrong work that was passed before it was found, and what is lost by calling
# right work wrong.
_FOUND_LATE, _BLAMED = 0.5, 2.0
# A part fitted without result is nobody's fault where the best plan would have risked it too.
_FORGIVEN_LOSS = 1.0


@dataclass(frozen=True)
class Part:
    """One habit's points of ``most``, and in words what was lost by. ``points`` is ``None`` where it was not shown."""

    habit: str
    points: float | None
    most: float
    lost_by: tuple[str, ...] = ()

    @property
    def share(self) -> float | None:
        return None if self.points is None else self.points / self.most


@dataclass(frozen=True)
class Wasted:
    """Parts fitted for nothing. ``forgiven`` where the best plan would have tried them too."""

    remedy: str
    money: float
    forgiven: bool


@dataclass(frozen=True)
class Score:
    """``total`` is 0 to 100: the points of the parts that were shown, scaled, less ``hints``."""

    parts: tuple[Part, ...]
    hints: float
    total: float


def score(session: Session, judged: Sequence[Judged]) -> Score:
    on_walk = walked(session) if session.scenario.walk else None
    parts = (
        _safety(judged),
        _result(session, judged),
        _found(session, on_walk) if on_walk else _order(judged),
        _thrift(session, judged),
        _looked(session, on_walk) if on_walk else _instruments(session, judged),
    )
    hints = sum(acts.HINT_PRICE[item.done.act.about] for item in judged if isinstance(item.done.act, acts.AskFor))
    shown = [part for part in parts if part.points is not None]
    share = sum(part.points or 0.0 for part in shown) / sum(part.most for part in shown)
    return Score(parts, hints, max(0.0, 100.0 * share - hints))


def wasted_parts(session: Session, judged: Sequence[Judged]) -> list[Wasted]:
    """Parts that were fitted and removed no fault."""
    found = []
    for item in judged:
        act = item.done.act
        if not isinstance(act, acts.Mend) or item.done.removed:
            continue
        money = session.trees.price(session.trees.remedies[act.remedy].parts)
        if money:
            found.append(Wasted(act.remedy, money, item.loss < _FORGIVEN_LOSS and not item.done.ruined))
    return found


def _safety(judged: Sequence[Judged]) -> Part:
    lost, words = 0.0, []
    for item in judged:
        for each in item.done.happened:
            points = CAUTION_POINTS[each.word]
            lost += points
            name = each.mishap.title if each.mishap else each.told.partition(".")[0]
            words.append(f"{each.word} {name} (-{points:.0f})")
    return Part("safety", max(0.0, MOST["safety"] - lost), MOST["safety"], tuple(words))


def _result(session: Session, judged: Sequence[Judged]) -> Part:
    most = MOST["result"]
    outcome = session.call.state.outcome
    if outcome is None:
        return Part("result", 0.0, most, ("the call was not brought to an end",))
    if outcome in BACK:
        if session.call.refusal():
            return Part("result", 0.0, most, ("a door that is left to somebody else went back into service",))
        if session.door.faults:
            return Part("result", 0.0, most, ("a fault went back into service with the door",))
        return Part("result", most, most)
    if not session.door.faults:
        return Part("result", _MENDED_UNPROVED, most, ("repaired, and left out of service without being proved",))
    if judged[-1].plan_gave_up:
        refused = bool(session.call.refusal())
        why = "left to somebody who works on its kind" if refused else "passed on, as the best plan would have it"
        return Part("result", most, most, (why,))
    return Part("result", _SAFE_UNMENDED, most, ("left out of service: safe, and not repaired",))


def _order(judged: Sequence[Judged]) -> Part:
    loss = sum(item.loss for item in judged)
    whole = next((item.plan_cost for item in judged if item.plan_cost), 0.0)
    points = MOST["order"] * 0.5 ** (loss / max(_HALF_SHARE * whole, _HALF_LEAST))
    costly = sorted((item for item in judged if item.is_wrong and item.loss), key=lambda item: -item.loss)
    words = tuple(f"{item.text} ({about(item.loss)} lost)" for item in costly[:3])
    return Part("order", points, MOST["order"], words)


def _found(session: Session, on_walk: Walked) -> Part:
    """On a walk the order is given: what counts is that wrong work is found at the first step where it shows."""
    most, lost, worth = MOST["order"], [], 0.0
    for each in on_walk.wrong:
        share = 0.0 if each.found is None else _FOUND_LATE if each.passed or each.by_proof else 1.0
        worth += share
        if share < 1:
            cause = session.trees.causes[each.cause].title
            lost.append(f"{cause}: {'not found' if each.found is None else 'found late'}")
    blamed = [f"{session.trees.jobs[job].title}: called wrong, and was right" for job in on_walk.blamed]
    points = most * worth / max(len(on_walk.wrong), 1) - _BLAMED * len(blamed)
    return Part("order", max(0.0, points), most, (*lost, *blamed))


def _looked(session: Session, on_walk: Walked) -> Part:
    """On a walk: of the jobs that were passed, those that somebody had looked at."""
    most = MOST["instruments"]
    if not on_walk.passed:
        return Part("instruments", None, most, ("no job was passed",))
    unseen = len(on_walk.unseen)
    words = (f"{unseen} of {on_walk.passed} jobs passed without a look",) if unseen else ()
    return Part("instruments", most * (1 - unseen / on_walk.passed), most, words)


def _thrift(session: Session, judged: Sequence[Judged]) -> Part:
    wasted = [item for item in wasted_parts(session, judged) if not item.forgiven]
    money = sum(item.money for item in wasted)
    money += sum(each.mishap.money for item in judged for each in item.done.happened if each.mishap)
    currency = session.trees.costs.currency
    words = [f"{session.trees.remedies[item.remedy].title} ({currency}{item.money:.0f})" for item in wasted]
    return Part("thrift", MOST["thrift"] * 0.5 ** (money / _HALF_MONEY), MOST["thrift"], tuple(words))


def _instruments(session: Session, judged: Sequence[Judged]) -> Part:
    """Readings that say something, of all that were taken; one that was taken again rightly counts half.

    Where none was taken the habit was not shown, unless something was mended on a guess: then it was shown amiss.
    """
    most = MOST["instruments"]
    checks: dict[str, list[Judged]] = {}
    for item in judged:
        act = item.done.act
        if isinstance(act, acts.Look) and session.trees.checks[act.check].kind == "reading":
            checks.setdefault(act.check, []).append(item)
    if not checks:
        guessed = [item for item in judged if isinstance(item.done.act, acts.Mend) and item.is_wrong]
        if guessed:
            return Part("instruments", 0.0, most, (f"{guessed[0].text}: on a guess, with nothing measured",))
        return Part("instruments", None, most, ("no reading was taken",))
    worth, words = 0.0, []
    for name, items in checks.items():
        check: Check = session.trees.checks[name]
        if any(item.done.false for item in items):
            worth += 0.0 if items[-1].done.false else 0.5
            words.append(f"{check.text}: read where it says nothing")
        else:
            worth += 1.0
    return Part("instruments", most * worth / len(checks), most, tuple(words))


def is_solved(session: Session) -> bool:
    """Mended, proved and back with its users; a door that is left to somebody else, left out of service as it was."""
    last = session.done[-1].act if session.done else None
    if session.call.refusal():
        untouched = not any(isinstance(done.act, acts.Mend) for done in session.done)
        return isinstance(last, acts.Finish) and last.outcome == "left out of service" and untouched
    return isinstance(last, acts.Finish) and last.outcome in BACK and not session.door.faults
