"""What is known of a call, frozen, as the screens show it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import TYPE_CHECKING, Literal

from diagnose.calls.state import Answer, Evidence, Proof, Try
from diagnose.knowledge.model import UNLISTED, Check, Trees
from diagnose.tui.text import one_line

if TYPE_CHECKING:
    from diagnose.calls.call import Call
    from diagnose.calls.verdict import Suspect
    from diagnose.screening.handover import Recheck

Units = Literal["us", "metric", "both"]


@dataclass(frozen=True)
class TrailItem:
    """Something said or done. ``kind`` is ``answer``, ``try`` or ``proof``; ``id`` names the check, remedy or proof."""

    kind: Literal["answer", "try", "proof"]
    id: str
    title: str
    said: str
    at: str
    sequence: int
    # Why somebody who can see should look again at what a caller told; empty where nobody need.
    look_again: str = ""


@dataclass(frozen=True)
class CallView:
    """All that a screen shows of a call but the step."""

    where: str
    complaint: str
    phase: str
    energy: str
    suspects: tuple[Suspect, ...]
    trail: tuple[TrailItem, ...]
    workings: tuple[tuple[str, str], ...]
    # The check whose answer sits worst with the others; empty where they agree.
    doubtful: str
    proofs_passed: int
    proofs_needed: int
    # What the caller told that is worth seeing for oneself, the most important first.
    rechecks: tuple[Recheck, ...] = ()


def view_of(call: Call, units: Units = "us") -> CallView:
    """The call as it stands."""
    from diagnose.screening.handover import still_to_see

    state, trees = call.state, call.trees
    rechecks = still_to_see(call)
    again = {each.check: each.why for each in rechecks}
    surprise = call.surprise() if len(state.evidence) > 1 else None
    return CallView(
        where=", ".join(filter(None, (one_line(state.site), one_line(state.door)))) or "This door",
        complaint="; ".join(symptom_title(trees, symptom) for symptom in state.symptoms),
        phase=phase_of(call),
        energy=trees.energy[call.energy].title if call.energy in trees.energy else call.energy,
        suspects=_suspects(call),
        trail=tuple(
            replace(item, look_again=again.get(item.id, "") if item.kind == "answer" else "")
            for item in (trail_item(trees, each, units) for each in state.evidence)
        ),
        workings=tuple((check, done.working) for check, done in call.inference.workings.items()),
        doubtful=surprise.odd[0] if surprise and surprise.conflict > 0 and surprise.odd else "",
        proofs_passed=sum(state.proofs.values()),
        proofs_needed=len(call.needed_proofs()),
        rechecks=rechecks,
    )


def phase_of(call: Call) -> str:
    state = call.state
    if state.outcome is not None:
        return f"Closed: {state.outcome}"
    if state.proving:
        return "Proving the door safe"
    return "Looking further" if state.tries else "Finding the cause"


def symptom_title(trees: Trees, symptom: str) -> str:
    known = trees.symptoms.get(symptom)
    return known.title if known else symptom


def _suspects(call: Call) -> tuple[Suspect, ...]:
    from diagnose.calls.inference import believed
    from diagnose.calls.verdict import Suspect

    inference = call.inference
    causes = inference.situation.causes
    before = None
    if call.state.evidence:
        last = max(item.sequence for item in call.state.evidence)
        earlier = tuple(item for item in inference.items if item.sequence != last)
        before = dict(zip(causes, believed(inference.situation, earlier, inference.pairs).causes(), strict=True))
    return tuple(
        Suspect(
            likely.cause,
            likely.title,
            likely.probability,
            moved=None if before is None else likely.probability - float(before[likely.cause]),
        )
        for likely in call.likely()
    )


def top_suspects(suspects: Sequence[Suspect], most: int) -> tuple[Suspect, ...]:
    """The likeliest ``most``; ``unlisted`` is always among them, in its place by rank."""
    if len(suspects) <= most:
        return tuple(suspects)
    first = list(suspects[:most])
    if not any(suspect.cause == UNLISTED for suspect in first):
        first[-1] = next(suspect for suspect in suspects if suspect.cause == UNLISTED)
    return tuple(first)


def trail_item(trees: Trees, item: Evidence, units: Units) -> TrailItem:
    at = clock_time(item.at)
    match item:
        case Answer():
            check = trees.checks.get(item.check)
            title = check.text if check else item.check
            return TrailItem("answer", item.check, title, said(check, item, units), at, item.sequence)
        case Try():
            remedy = trees.remedies.get(item.remedy)
            done = "done, it works now" if item.worked else "done, no change"
            return TrailItem("try", item.remedy, remedy.title if remedy else item.remedy, done, at, item.sequence)
        case Proof():
            proof = trees.proofs.get(item.proof)
            result = "passed" if item.passed else "FAILED"
            return TrailItem("proof", item.proof, proof.title if proof else item.proof, result, at, item.sequence)


def said(check: Check | None, answer: Answer, units: Units) -> str:
    """An answer as a technician reads it: the choice, or the reading with its unit (several parted by ``;``)."""
    from diagnose.calls.words import answer_in_words

    return answer_in_words(check, answer, units)


def clock_day(at: str) -> str:
    """The day, hour and minute of an ISO time, in this machine's zone."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%d %b %H:%M")
    except ValueError:
        return at


def clock_time(at: str) -> str:
    """The hour and minute of an ISO time, in this machine's zone."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%H:%M")
    except ValueError:
        return at
