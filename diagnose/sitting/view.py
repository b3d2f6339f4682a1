"""What is known of a call, what is likely and what was done: frozen, for a face to show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from diagnose.calls.call import Call
from diagnose.calls.inference import believed
from diagnose.calls.state import Answer, Evidence, Proof, Try, fold
from diagnose.calls.verdict import Suspect, chain_now
from diagnose.calls.words import answer_in_words, cause_title, step_title, title
from diagnose.knowledge.fitting import misfits
from diagnose.knowledge.model import UNLISTED, Trees
from diagnose.reasoning.belief import Belief
from diagnose.reasoning.chain import Link
from diagnose.reasoning.situation import Situation
from diagnose.screening.handover import Recheck, still_to_see
from diagnose.sitting.course import came_of_it
from diagnose.sitting.handover import FromThePhone, from_the_phone

Units = Literal["us", "metric", "both"]
# Two faults at once are named from this chance on, and the rest of such pairs together; a sound door, too.
_NAMED = 0.01
OTHER_PAIRS, SOUND = "two at once", "sound"


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
    # What was said on the phone, until somebody at the door has looked.
    phone: FromThePhone | None = None
    # What stands above the suspects.
    suspects_title: str = "Likely causes"
    # What the caller told that is worth seeing for oneself, the most important first.
    rechecks: tuple[Recheck, ...] = ()
    # The functions that the complaint hangs on, in order, and where along them the fault lies.
    chain: tuple[Link, ...] = ()
    # On a walk, while no complaint is looked into: what is still to be done, in order.
    ahead: tuple[str, ...] = ()


def view_of(call: Call, units: Units = "us") -> CallView:
    state, trees = call.state, call.trees
    rechecks = still_to_see(call)
    again = {each.check: each.why for each in rechecks}
    surprise = call.surprise() if len(state.evidence) > 1 and state.outcome is None else None
    return CallView(
        where=", ".join(filter(None, (state.site, state.door))) or "This door",
        complaint=what_about(call),
        phase=phase_of(call),
        energy=title(trees, "energy", call.energy),
        suspects=suspects(call),
        trail=tuple(
            replace(item, look_again=again.get(item.id, "") if item.kind == "answer" else "")
            for item in (trail_item(trees, each, units) for each in state.evidence)
        ),
        workings=tuple((check, done.working) for check, done in call.inference.workings.items()),
        doubtful=surprise.odd[0] if surprise and surprise.conflict > 0 and surprise.odd else "",
        phone=from_the_phone(call),
        suspects_title=_suspects_title(call),
        ahead=_ahead(call),
        rechecks=rechecks,
        chain=chain_now(call) if state.outcome is None and not state.proving else (),
    )


def what_about(call: Call) -> str:
    """The complaints, or the walk where there are none."""
    titles = [title(call.trees, "symptoms", symptom) for symptom in call.state.symptoms]
    return "; ".join(titles) or (call.walk.title if call.walk is not None else "")


def _ahead(call: Call) -> tuple[str, ...]:
    """The jobs of the walk that are open, then the proofs; nothing while a complaint is looked into."""
    if not call.walking and not call.state.proving:
        return ()
    return (*(job.title for job in call.open_jobs()), *(proof.title for proof in call.open_proofs()))


def _suspects_title(call: Call) -> str:
    if ahead := _ahead(call):
        return f"Still to do ({len(ahead)})"
    if call.walking:
        return "Everything is done and proved"
    return "No good match; closest" if call.nothing_fits else "Likely causes"


def phase_of(call: Call) -> str:
    state = call.state
    if state.outcome is not None:
        return f"Closed: {state.outcome}"
    if call.walk is not None and call.walking:
        ready = call.ready_jobs()
        return f"{call.walk.title}: {call.walk.stage_of(ready[0].id) if ready else 'proofs'}"
    if state.proving and not state.coming:
        return "Proving the door safe"
    if state.waiting_for or state.coming:
        return state.waiting.capitalize()
    if state.untried:
        return "Repaired, not yet tried"
    return "Looking further" if state.tries else "Finding the cause"


def not_known(call: Call) -> str:
    """What of a call these trees do not know, or what does not go together, in words; ``""`` where all is well."""
    trees, state = call.trees, call.state
    known = {**trees.symptoms, **trees.checks, **trees.remedies, **trees.proofs}
    named = [*state.symptoms, *state.answers, *(item.remedy for item in state.tries), *state.proofs]
    strange = sorted({name for name in named if name not in known})
    told = [wrong for _, wrong, _ in misfits(trees.facts, fold(call.events).facts)]
    told = [f"Of the door this counts as not said. {' '.join(told)}"] if told else []
    if strange:
        told.insert(0, f"It was made with other trees; these do not know and leave out: {', '.join(strange)}.")
    return " ".join(told)


def suspects(call: Call) -> tuple[Suspect, ...]:
    """All that may be wrong, the likeliest first: they exclude each other, and add up to 1.

    A suspect's ``cause`` names a cause, ``unlisted``, two at once (``one + other``), ``two at once`` (every other
    pair) or ``sound`` (nothing is wrong any more).
    """
    if not call.state.symptoms:
        return ()
    inference = call.inference
    before: dict[str, float] = {}
    if call.state.evidence:
        last = max(item.sequence for item in call.state.evidence)
        earlier = tuple(item for item in inference.items if item.sequence != last)
        before = _chances(inference.situation, believed(inference.situation, earlier, inference.pairs))
    now = _chances(inference.situation, inference.belief)
    named = {name for name, chance in now.items() if " + " not in name or chance >= _NAMED}
    moved = _gathered(before, named)
    return tuple(
        Suspect(name, _suspect_title(call, name), chance, moved=chance - moved.get(name, 0.0) if before else None)
        for name, chance in sorted(_gathered(now, named).items(), key=lambda pair: (-pair[1], pair[0]))
    )


def _chances(situation: Situation, belief: Belief) -> dict[str, float]:
    """The chance of every set of faults that may be in the door, by its name."""
    found = {" + ".join(causes): chance for causes, chance in belief.sets(situation.causes)}
    if belief.nothing > 0:
        found[SOUND] = belief.nothing
    return found


def _gathered(chances: dict[str, float], named: set[str]) -> dict[str, float]:
    """The chances of what is named, and those of all other pairs as one."""
    kept = {name: chance for name, chance in chances.items() if name in named}
    rest = sum(chances.values()) - sum(kept.values())
    return {**kept, OTHER_PAIRS: rest} if rest > 1e-9 else kept


def _suspect_title(call: Call, name: str) -> str:
    trees, tries = call.trees, call.state.tries
    if name == OTHER_PAIRS:
        return "Two other causes at once"
    if name == SOUND:
        in_vain = bool(tries) and not {"still there", "better"}.isdisjoint(tries[-1].outcomes.values())
        return "No fault is left, and what was said of it is a slip" if in_vain else "Nothing is wrong any more"
    first, _, second = name.partition(" + ")
    if not second:
        return cause_title(trees, name)
    return f"Two at once: {cause_title(trees, first)}; {cause_title(trees, second)}"


def top_suspects(suspects: Sequence[Suspect], most: int) -> tuple[Suspect, ...]:
    """The likeliest ``most``; ``unlisted`` is always among them, in its place by size."""
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
            told = answer_in_words(trees.checks.get(item.check), item, units)
            return TrailItem("answer", item.check, step_title(trees, "check", item.check), told, at, item.sequence)
        case Try():
            name = step_title(trees, "remedy", item.remedy)
            return TrailItem("try", item.remedy, name, came_of_it(item), at, item.sequence)
        case Proof():
            result = "passed" if item.passed else "FAILED"
            return TrailItem("proof", item.proof, step_title(trees, "proof", item.proof), result, at, item.sequence)


def clock_time(at: str) -> str:
    """The hour and minute of an ISO time, in this machine's zone."""
    try:
        return datetime.fromisoformat(at).astimezone().strftime("%H:%M")
    except ValueError:
        return at
