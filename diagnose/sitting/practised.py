"""What can be done at a practised door, and the cards of a walk: the same as at a real one, but that the door answers.

Where a person at a real door would say what was read, seen or came of it, the trainee looks, does or tries, and what
the simulated door answers is taken down. What is right and what is not, the trainee judges.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from diagnose.calls.next_step import PROOF_FAILED, RETURN
from diagnose.calls.words import cautions_named, title
from diagnose.knowledge.model import ANY, Check, Proof, Remedy, Task, Trees, is_powered
from diagnose.practice import acts
from diagnose.practice.scene import PracticeError
from diagnose.practice.session import Session
from diagnose.sitting.cards import (
    LEAVE_REASON,
    Card,
    card_of,
    check_card,
    facts_of,
    numbered,
    proof_card,
    remedy_card,
    state_card,
)
from diagnose.sitting.cautions import cautions_read
from diagnose.sitting.course import COME, plan

# What a face opens in place of a step: every other thing that can be done in practice.
ELSE = "else"
_ELSE = ("Something else", "", "", ELSE)
_LEAVE = ("Leave it out of service", "leave", LEAVE_REASON)


@dataclass(frozen=True)
class Way:
    """Something a trainee may do at any time. ``items`` are what it may be done with, by id; ``act`` does it.

    Without an ``ask`` there is nothing to choose; ``none`` is said where there are no items. Of ``many`` one is found
    by its words. A ``card`` is read first, and says whether to do it; ``asks`` are questions whose answer goes with it,
    by the item.
    """

    title: str
    ask: str
    items: Mapping[str, str]
    act: Callable[[str, str], acts.AnyAct]
    many: bool = False
    card: Callable[[str], Card] | None = None
    # What the items are, where they may stand in order of place and state.
    steps: Sequence[Task] = ()
    asks: Mapping[str, str] = field(default_factory=dict)
    none: str = ""


def ways(session: Session) -> dict[str, Way]:
    """What a trainee may do whatever comes next, by name."""
    trees, call, jobs = session.trees, session.call, session.call.state.jobs
    states = {each.id: each.title for each in trees.energy.values() if each.id not in (ANY, session.energy)}
    into = f"The door is now: {title(trees, 'energy', session.energy)}. Into which state?"
    hints = {"next": "What would be best next", "likely": "The likely causes so far"}
    hints = {about: f"{text}: {acts.HINT_PRICE[about]:.0f} points" for about, text in hints.items()}
    ends: dict[str, str] = {call.ends: call.ends.capitalize(), "left out of service": "Left out, or passed on"}
    proofs = {proof.id: f"{proof.title}: {session.said_of(proof.id)}" for proof in session.proofs()}
    to_do = {job.id: f"{job.title}: {jobs[job.id].came if job.id in jobs else 'open'}" for job in session.jobs()}
    found = {
        "look": _steps(session, "Look or measure", session.checks()),
        "repair": _steps(session, "Repair", session.remedies()),
        "try": Way("Try the door", "", {"": ""}, lambda *_: acts.TryDoor()),
        "proofs": replace(_steps(session, "Prove", session.proofs()), items=proofs, steps=()),
        "state": Way(
            "Change its state",
            into,
            states,
            lambda state, _: acts.Enter(energy=state),
            card=lambda state: state_card(call, state),
        ),
        "call": Way(
            "Have somebody come",
            "Who is to come?",
            session.absent(),
            lambda person, _: acts.CallIn(person=person),
            none="Everybody is here.",
        ),
        "withdraw": Way(
            "What you found",
            "Choosing one withdraws it: it counts no more.",
            session.found(),
            lambda check, _: acts.TakeBack(check=check),
            many=True,
            none="Nothing yet.",
        ),
        "hint": Way("Hint", "What do you want to know?", hints, lambda about, _: acts.AskFor(about=about)),  # type: ignore[arg-type]
        "close": Way(
            "Close the call",
            "Close the call as:",
            ends,
            lambda outcome, reason: acts.Finish(outcome=outcome, reason=reason),  # type: ignore[arg-type]
            asks={"left out of service": LEAVE_REASON},
        ),
    }
    if to_do:
        jobs_title, comes = "Go to another job of the walk", "Which job comes next?"
        found["jobs"] = Way(jobs_title, comes, to_do, lambda job, _: acts.TakeUp(job=job), many=True)
    return found


def step_text(step: Task) -> str:
    """What a step is, in the words of its entry."""
    return step.text if isinstance(step, Check) else str(getattr(step, "title", step.id))


def _steps(session: Session, title: str, steps: Sequence[Task]) -> Way:
    """Steps by what they are; which state each of them needs is for the trainee to know."""
    call, entries = session.call, {step.id: step for step in steps}
    makes: dict[type[Task], Callable[..., Card]] = {Check: check_card, Remedy: remedy_card, Proof: proof_card}

    def card(name: str) -> Card:
        step, here = entries[name], session.trees.energy[session.energy].title
        choices = numbered(
            (f"Do it, as the door stands: {here}", "do"), ("Change its state first", "state"), ("Leave it", "")
        )
        facts = facts_of(call, step, state=False)
        made = makes[type(step)](call, step, "")
        return replace(made, facts=facts, choices=choices, reading=None, read=cautions_read(call))

    items = {step.id: step_text(step) for step in steps}
    return Way(title, "Which?", items, lambda name, _: act_on(entries[name]), many=True, card=card, steps=steps)


def practice_card(session: Session) -> Card:
    """The next step of a practised walk, with what can be done about it."""
    card = _trial(session) if session.untried else card_of(session.call, plan(session.call))
    seen: tuple[tuple[str, str], ...] = ()
    if _looked(session, card):
        seen = (("You see", session.sight(session.trees.jobs[card.id])),)
    elif card.kind == "proof" and _failed(session, card):
        refusal = session.call.ledger.refusal(session.trees.proofs[card.id])
        seen = (("Failed", f"{refusal} 'Something else' goes to a job that was passed, or to a repair."),)
    return replace(card, lines=(*card.lines, *seen), choices=numbered(*_ways(session, card)), reading=None)


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
        case "look" | "mend" | "prove":
            return act_on(_step_of(session.trees, card))
        case "enter":
            return acts.Enter(energy=card.id)
        case "power":
            return acts.Enter(energy=session.running)
        case "try":
            return acts.TryDoor()
        case "look over":
            return acts.LookOver(job=card.id)
        case "done" | "not right" | "not needed":
            return acts.DoJob(job=card.id, came=name, reason=text)
        case "come":
            return acts.CallIn(person=_step_of(session.trees, card).who)
        case "return":
            return acts.Finish(outcome=session.call.ends)
        case "leave":
            return acts.Finish(outcome="left out of service", reason=text)
        case symptom if symptom in session.trees.symptoms:
            return acts.LookInto(symptom=symptom)
    raise PracticeError(f"'{name}' is no choice of this step.")


def _step_of(trees: Trees, card: Card) -> Task:
    """The step that a card is of, or leads to."""
    entry = trees.task(card.kind, card.id) or trees.task(*card.goal)
    assert entry is not None
    return entry
