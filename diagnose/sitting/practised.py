"""The cards of a walk that is practised: the same as at a real door, but that the door answers.

Where a person at a real door would say what was read, seen or came of it, the trainee looks, does or tries, and what
the simulated door answers is taken down. What is right and what is not, the trainee judges.
"""

from __future__ import annotations

from dataclasses import replace

from diagnose.calls.next_step import PROOF_FAILED, RETURN
from diagnose.calls.words import cautions_named, title
from diagnose.knowledge.model import Check, Remedy, Task, Trees, is_powered
from diagnose.practice import acts
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.sitting.cards import LEAVE_REASON, Card, card_of
from diagnose.sitting.cautions import cautions_read
from diagnose.sitting.choices import KEYS, Choice
from diagnose.sitting.course import COME, plan

# What a face opens in place of a step: every other thing that can be done in practice.
ELSE = "else"
_ELSE = ("Something else", "", "", ELSE)
_LEAVE = ("Leave it out of service", "leave", LEAVE_REASON)


def practice_card(session: Session) -> Card:
    """The next step of a practised walk, with what can be done about it."""
    card = _trial(session) if session.untried else card_of(session.call, plan(session.call))
    ways = _ways(session, card)
    choices = tuple(Choice(key, *way) for key, way in zip(KEYS, ways, strict=False))
    seen: tuple[tuple[str, str], ...] = ()
    if _looked(session, card):
        seen = (("You see", session.sight(session.trees.jobs[card.id])),)
    elif card.kind == "proof" and _failed(session, card):
        refusal = session.call.ledger.refusal(session.trees.proofs[card.id])
        seen = (("Failed", f"{refusal} 'Something else' goes to a job that was passed, or to a repair."),)
    return replace(card, lines=(*card.lines, *seen), choices=choices, reading=None)


def _trial(session: Session) -> Card:
    """After a repair the door is tried, with its power on; the call hears of the two together."""
    trees = session.trees
    complaints = "; ".join(title(trees, "symptoms", each) for each in session.call.state.symptoms)
    lines = tuple(("Repaired", title(trees, "remedies", each)) for each in session.untried)
    asked = f"“{complaints}”: is it gone?" if complaints else "Does the door run as it should?"
    if is_powered(trees, session.energy):
        cautions = cautions_named(trees, trees.energy[session.energy].cautions)
        card = Card("remedy", session.untried[-1], "Try the door", asked, cautions=cautions, lines=lines)
        return replace(card, complaint=complaints or "-", read=cautions_read(session.call))
    state = trees.energy[session.running]
    said = f"Bring the door to: {state.title}"
    cautions = cautions_named(trees, state.cautions)
    return Card("energy", state.id, "Before it is tried", said, how=state.how, cautions=cautions, lines=lines)


def _ways(session: Session, card: Card) -> list[tuple[str, ...]]:
    trees = session.trees
    match card.kind:
        case "check":
            verb = "Measure it" if trees.checks[card.id].is_number else "Look"
            return [(verb, "look"), _ELSE]
        case "energy":
            return [(f"Bring the door to: {title(trees, 'energy', card.id)}", "enter"), _ELSE]
        case "remedy" if card.complaint:
            return [("Try the door", "try"), _ELSE]
        case "remedy":
            return [("Do it", "mend"), _ELSE]
        case "proof" if _failed(session, card):
            return [_ELSE, _LEAVE]
        case "proof":
            return [("Run it", "prove"), _ELSE]
        case "job":
            said = [(each.label, each.name, each.asks) for each in card.choices if not each.opens]
            look = "Look at it again" if _looked(session, card) else "Look at what is there"
            return [(look, "look over"), *(each for each in said if each[1] != "leave"), _ELSE, _LEAVE]
    if card.id == COME:
        return [("Have them come", "come"), _ELSE, _LEAVE]
    ends = [(each.label, each.name) for each in card.choices if each.name in (*trees.symptoms, "return")]
    # Where nothing fits, the complaint itself may have been none.
    try_it = ("Try the door: is it so at all?", "try")
    if not is_powered(trees, session.energy):
        try_it = (f"Bring the door to: {title(trees, 'energy', session.running)}, to try it", "power")
    return [*ends, *([] if card.id in (RETURN, PROOF_FAILED) else [try_it]), _ELSE, _LEAVE]


def _failed(session: Session, card: Card) -> bool:
    """Whether a proof failed and nothing was mended since: to run it again proves nothing."""
    return session.call.state.proofs.get(card.id) is False


def _looked(session: Session, card: Card) -> bool:
    """Whether a job was looked at as it is now: nothing was mended since."""
    for done in reversed(session.done):
        if isinstance(done.act, acts.Mend):
            return False
        if card.kind == "job" and done.act == acts.LookOver(job=card.id):
            return True
    return False


def act_on(step: Task) -> acts.AnyAct:
    """To look or measure, to repair or to prove, as the step is."""
    if isinstance(step, Check):
        return acts.Look(check=step.id)
    return acts.Mend(remedy=step.id) if isinstance(step, Remedy) else acts.Prove(proof=step.id)


def act_of(session: Session, card: Card, name: str, text: str = "") -> acts.AnyAct:
    """What choosing ``name`` on a card does, with the words it asks for. Raises ``PracticeError``."""
    match name:
        case "look":
            return acts.Look(check=card.id)
        case "enter":
            return acts.Enter(energy=card.id)
        case "power":
            return acts.Enter(energy=session.running)
        case "try":
            return acts.TryDoor()
        case "mend":
            return acts.Mend(remedy=card.id)
        case "prove":
            return acts.Prove(proof=card.id)
        case "look over":
            return acts.LookOver(job=card.id)
        case "done" | "not right" | "not needed":
            return acts.DoJob(job=card.id, came=name, reason=text)
        case "come":
            return acts.CallIn(person=_who(session.trees, card))
        case "return":
            return acts.Finish(outcome=session.call.ends)
        case "leave":
            return acts.Finish(outcome="left out of service", reason=text)
        case symptom if symptom in session.trees.symptoms:
            return acts.LookInto(symptom=symptom)
    raise PracticeError(f"'{name}' is no choice of this step.")


def _who(trees: Trees, card: Card) -> str:
    entry = trees.task(*card.goal)
    assert entry is not None
    return entry.who


def jobs_to_choose(session: Session) -> list[tuple[acts.TakeUp, str]]:
    """Every job of the walk, to have it come next, with how it last came out."""
    jobs, came = session.jobs(), session.call.state.jobs
    return [(acts.TakeUp(job=j.id), f"{j.title}: {came[j.id].came if j.id in came else 'open'}") for j in jobs]
