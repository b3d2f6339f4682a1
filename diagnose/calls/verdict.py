"""What a call comes to: which cause it was, or most likely is, and what speaks for and against it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.change_words import change_in_words
from diagnose.calls.inference import Finding, Inference, infer, remedy_chances
from diagnose.calls.state import Try
from diagnose.calls.then_and_now import change_of
from diagnose.calls.words import cause_title, computed_in_words, title
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.quantities.show import Shown
from diagnose.reasoning.chain import Link, links
from diagnose.reasoning.situation import Array

# Evidence that moves a cause's odds by less than this either way is not worth a line.
_TELLING = 1.25
# What a repair removed is told apart where one cause had at least this share of all that it removes.
_TOLD_APART = 0.8
# From which factor on evidence speaks how much.
_MUCH = ((20.0, "strongly "), (3.0, ""), (0.0, "a little "))


@dataclass(frozen=True)
class Reason:
    """One answer for or against a cause, in words; ``factor`` multiplies the cause's odds against the average."""

    check: str
    found: str
    factor: float

    @property
    def words(self) -> str:
        times = self.factor if self.factor >= 1 else 1 / max(self.factor, 1e-9)
        shown = f"{times:.1f}" if times < 10 else f"{times:.0f}" if times < 1000 else "over 1000"
        return f"{shown} times {'likelier' if self.factor >= 1 else 'less likely'}"

    @property
    def speaks(self) -> str:
        """``speaks strongly for it``, without a figure."""
        times = self.factor if self.factor >= 1 else 1 / max(self.factor, 1e-9)
        much = next(word for least, word in _MUCH if times >= least)
        return f"speaks {much}{'for' if self.factor >= 1 else 'against'} it"


@dataclass(frozen=True)
class Suspect:
    """A cause as it stood when it was judged. ``probability`` is its chance of being in the door, 0 to 1.

    ``moved`` is by how much the last thing said moved that, ``None`` where nothing was. ``remedy`` is what usually
    removes it, in words. ``reasons`` are the answers for and against it, the weightiest first. Whoever makes a suspect
    fills in what is asked of it.
    """

    cause: str
    title: str
    probability: float
    explain: str = ""
    reasons: tuple[Reason, ...] = ()
    moved: float | None = None
    remedy: str = ""

    @property
    def telling(self) -> tuple[Reason, ...]:
        """The reasons that move it enough to be worth a line, strongest first."""
        return tuple(each for each in self.reasons if not 1 / _TELLING < each.factor < _TELLING)


@dataclass(frozen=True)
class Verdict:
    """The suspects, the leading one first. ``remedy`` is what removed it, where a remedy that worked says so."""

    suspects: tuple[Suspect, ...]
    remedy: str = ""

    @property
    def leading(self) -> Suspect | None:
        return self.suspects[0] if self.suspects else None


@dataclass(frozen=True)
class Mended:
    """A repair that ended a complaint, and the cause it confirmed, as that stood before it; ``None`` where more than
    one fault would explain that it helped."""

    done: Try
    cause: Suspect | None


def verdict(call: Call, system: Shown = "both", most: int = 3) -> Verdict:
    """Which cause it was, as far as the call says.

    Where the last remedy worked, and no proof has failed since, belief is taken as it stood before it, and the cause is
    the likeliest of those it removes; otherwise belief is taken as it stands.
    """
    state = call.state
    worked = state.tries[-1] if state.proving else None
    inference = call.inference
    present = inference.belief.causes()
    order = _order(call)
    remedy = ""
    if worked is not None:
        inference, present, removed = _before(call, worked)
        order = [int(index) for index in np.argsort(-present, kind="stable")]
        if removed.any():
            first = int(np.argmax(removed))
            order = [first, *(index for index in order if index != first)]
            remedy = worked.remedy
    changes = changes_in_words(call, system)
    suspects = tuple(_suspect(call.trees, inference, i, float(present[i]), system, changes) for i in order[:most])
    return Verdict(suspects if state.symptoms else (), remedy)


def mended(call: Call, system: Shown = "both") -> tuple[Mended, ...]:
    """The repairs that ended a complaint for good, in order, each with the cause that it confirmed.

    A repair confirms a cause where what was complained of was gone after it and stayed so, no proof stands failed, and
    of the faults that it removes one was by far the likeliest before it.
    """
    state = call.state
    if state.untried or call.ledger.failed:
        return ()
    ended: dict[str, Try] = {}
    for item in state.tries:
        for symptom, now in item.outcomes.items():
            if now != "gone":
                ended.pop(symptom, None)
            else:
                ended.setdefault(symptom, item)
    changes = changes_in_words(call, system)
    found = []
    for item in state.tries:
        if not any(done is item and state.outcomes.get(symptom) == "gone" for symptom, done in ended.items()):
            continue
        inference, present, removed = _before(call, item)
        first = int(np.argmax(removed)) if removed.size else 0
        suspect = None
        if removed.any() and removed[first] >= _TOLD_APART * removed.sum():
            suspect = _suspect(call.trees, inference, first, float(present[first]), system, changes)
        found.append(Mended(item, suspect if suspect is not None and suspect.cause != UNLISTED else None))
    return tuple(found)


def _before(call: Call, done: Try) -> tuple[Inference, Array, Array]:
    """What was believed before a repair: each cause's chance of being in the door, and of being removed by it."""
    inference = infer(call.situation, call.state.before(done))
    present = inference.belief.causes()
    return inference, present, present * remedy_chances(inference.situation, done.remedy)


def chain_now(call: Call) -> tuple[Link, ...]:
    """Where along the chain of functions the fault lies, as is believed now; empty where no function is lacking."""
    inference = call.inference
    return links(inference.situation, inference.belief, call.state.answers)


def suspects_now(call: Call, system: Shown = "both") -> tuple[Suspect, ...]:
    """Every suspect as it is believed in the door now, in the order of ``Call.likely``."""
    present = call.inference.belief.causes()
    order = _order(call)
    changes = changes_in_words(call, system)
    return tuple(_suspect(call.trees, call.inference, i, float(present[i]), system, changes) for i in order)


def _order(call: Call) -> Sequence[int]:
    causes = call.inference.situation.causes
    return [causes.index(each.cause) for each in call.likely()]


def leading_cause(trees: Trees) -> Callable[[list[ev.AnyEvent]], str]:
    """What a store lists as a call's cause: the one found, or the likeliest so far; ``""`` where nothing speaks."""

    def leading(events: list[ev.AnyEvent]) -> str:
        call = Call(trees, history=events)
        if not any(symptom in trees.symptoms for symptom in call.state.symptoms) or not call.state.evidence:
            return ""
        found = verdict(call, most=1).leading
        return found.cause if found else ""

    return leading


def changes_in_words(call: Call, system: Shown) -> Mapping[str, str]:
    """For each check that was read when the door was right and again since, how the two differ, in words."""
    then, answers = call.state.then, call.state.answers
    changes = ((name, change_of(call.trees, then, answers.get(name))) for name in then)
    return {n: change_in_words(call.trees.checks[n], change, system) for n, change in changes if change is not None}


def _suspect(
    trees: Trees, inference: Inference, index: int, probability: float, system: Shown, changes: Mapping[str, str]
) -> Suspect:
    cause = inference.situation.causes[index]
    reasons = [
        Reason(
            each.check.text,
            changes.get(each.check.id) or _found_in_words(each, system),
            float(np.exp(each.weights[index])),
        )
        for each in inference.findings
    ]
    for item in inference.items:
        if isinstance(item, Try) and not item.worked:
            stays = 1 - float(remedy_chances(inference.situation, item.remedy)[index])
            reasons.append(Reason(title(trees, "remedies", item.remedy), "done, the complaint stayed", stays))
    reasons.sort(key=lambda reason: (-abs(np.log(max(reason.factor, 1e-9))), reason.check))
    explain = trees.causes[cause].explain if cause != UNLISTED else ""
    return Suspect(cause, cause_title(trees, cause), probability, explain, tuple(reasons))


def _found_in_words(finding: Finding, system: Shown) -> str:
    value = finding.value
    return value if isinstance(value, str) else computed_in_words(finding.check, value, system=system)
