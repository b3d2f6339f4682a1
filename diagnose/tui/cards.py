"""A step made ready to be shown: what stands on the card, in which order, and what can be said to it.

Pure: from a call and its step to a ``Card``. One widget shows every kind.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.calls.call import PROOF_FAILED, RETURN
from diagnose.calls.words import absent_from, cautions_named, cautions_of, title
from diagnose.knowledge.model import (
    ANY,
    COULD_NOT_TELL,
    UNLISTED,
    Caution,
    Check,
    Proof,
    Remedy,
    can_do,
    is_powered,
)
from diagnose.knowledge.model import Step as Doing
from diagnose.reasoning.explain import absent
from diagnose.tui.in_hand import Planned
from diagnose.tui.text import minutes

if TYPE_CHECKING:
    from diagnose.calls.call import Call, Step

# Answers beyond the ninth have capital letters, which no action uses.
KEYS = "123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@dataclass(frozen=True)
class Choice:
    """Something that can be said with one key. ``name`` tells the screen what was meant."""

    key: str
    label: str
    name: str


@dataclass(frozen=True)
class Card:
    """``kind`` and ``id`` as a step has them. A card with a ``reading`` has an input in place of choices."""

    kind: str
    id: str
    heading: str
    title: str
    why: str = ""
    how: str = ""
    cautions: tuple[Caution, ...] = ()
    facts: tuple[str, ...] = ()
    # Labelled lines, such as the parts of a repair or when a proof passes.
    lines: tuple[tuple[str, str], ...] = ()
    choices: tuple[Choice, ...] = ()
    reading: Check | None = None


def card_of(call: Call, planned: Planned) -> Card:
    """What to show for a step."""
    step = planned.step
    if planned.trying and step.kind == "remedy":
        return _try_card(call, call.trees.remedies[step.id])
    if step.kind == "energy":
        return _energy_card(call, step, planned.trying)
    if step.kind == "remedy":
        return _remedy_card(call, call.trees.remedies[step.id], step.why)
    if step.kind == "proof":
        return _proof_card(call, call.trees.proofs[step.id], step.why)
    if step.kind == "check":
        return check_card(call, call.trees.checks[step.id], step.why)
    return _stop_card(call, step)


def check_card(call: Call, check: Check, why: str = "") -> Card:
    return Card(
        "check",
        check.id,
        "Look or ask" if check.answers else "Measure",
        check.text,
        why,
        check.how,
        cautions_of(call.trees, check),
        facts_of(call, check),
        choices=answer_choices(check),
        reading=None if check.answers else check,
    )


def answer_choices(check: Check) -> tuple[Choice, ...]:
    """A question's answers by number, and 0 for "could not tell"."""
    if not check.answers:
        return ()
    named = [Choice(key, answer, answer) for key, answer in zip(KEYS, check.answers, strict=False)]
    return (*named, Choice("0", COULD_NOT_TELL, COULD_NOT_TELL))


def _try_card(call: Call, remedy: Remedy) -> Card:
    """After a repair done without power: does the door work now?"""
    state = call.trees.energy.get(call.energy)
    return Card(
        "remedy",
        remedy.id,
        "Try the door",
        "Is the complaint gone?",
        "; ".join(title(call.trees, "symptoms", symptom) for symptom in call.state.symptoms),
        cautions=cautions_named(call.trees, state.cautions) if state else (),
        lines=(("Repaired", remedy.title),),
        choices=(
            Choice("1", "Gone, it works now", "worked"),
            Choice("2", "No change", "failed"),
            Choice("3", "The repair is not finished", "unfinished"),
        ),
    )


def _remedy_card(call: Call, remedy: Remedy, why: str) -> Card:
    choices: tuple[Choice, ...]
    if is_powered(call.trees, remedy.energy):
        choices = (
            Choice("1", "Done, it works now", "worked"),
            Choice("2", "Done, no change", "failed"),
            Choice("3", "Not now: another way", "another"),
        )
    else:
        choices = (Choice("1", "Done: try the door next", "done"), Choice("2", "Not now: another way", "another"))
    parts = ", ".join(f"{count} × {title(call.trees, 'parts', part)}" for part, count in remedy.parts.items())
    return Card(
        "remedy",
        remedy.id,
        "Repair",
        remedy.title,
        why,
        remedy.how,
        cautions_of(call.trees, remedy),
        facts_of(call, remedy),
        (("Parts", parts),) if parts else (),
        choices,
    )


def _proof_card(call: Call, proof: Proof, why: str) -> Card:
    needed = len(call.needed_proofs())
    number = needed - len(call.open_proofs()) + 1
    return Card(
        "proof",
        proof.id,
        f"Prove it, {min(number, needed)} of {needed}",
        proof.title,
        why,
        proof.how,
        cautions_of(call.trees, proof),
        facts_of(call, proof),
        (("Passes when", proof.passes_when),),
        (
            Choice("1", "It passes", "passed"),
            Choice("2", "It fails", "failed"),
            Choice("3", "Another proof first", "another"),
        ),
    )


def _energy_card(call: Call, step: Step, trying: bool) -> Card:
    state = call.trees.energy[step.id]
    # The state is entered for the step behind it: who is missing for that is said before, not after the switching off.
    needs = "" if trying else absent_from(call, step.goal_kind, step.goal)
    other = ("The repair is not finished", "unfinished") if trying else ("Not now: another way", "another")
    if step.goal == RETURN:
        other = ("Leave it out of service", "leave")
    return Card(
        "energy",
        state.id,
        "Change of state",
        f"Bring the door to: {state.title}",
        step.why,
        state.how,
        cautions_named(call.trees, state.cautions),
        tuple(filter(None, (minutes(step.minutes), f"now: {call.trees.energy[call.energy].title}", needs))),
        choices=(
            Choice("1", f"Done, the door is: {state.title}", "entered"),
            Choice("2", *other),
        ),
    )


def _stop_card(call: Call, step: Step) -> Card:
    if step.id == RETURN:
        passed = [proof.title for proof in call.needed_proofs()]
        return Card(
            "stop",
            step.id,
            "Ready to return to service",
            step.why,
            lines=tuple(("✓ passed", title) for title in passed),
            choices=(
                Choice("1", "Return the door to service", "return"),
                Choice("2", "Leave it out of service", "leave"),
            ),
        )
    if step.id == "closed":
        reason = (("Reason", call.state.reason),) if call.state.reason else ()
        return Card(
            "stop",
            step.id,
            "Closed",
            step.why,
            lines=reason,
            choices=(
                Choice("1", "Read and save the report", "report"),
                Choice("2", "Go on with this call", "reopen"),
                Choice("3", "Back to the start", "back"),
            ),
        )
    if step.id == "no symptom":
        return Card("stop", step.id, "No complaint yet", step.why, choices=(Choice("1", "Say what is wrong", "door"),))
    if step.id == PROOF_FAILED:
        return _failed_card(call, step)
    return _hand_over_card(call, step)


def _failed_card(call: Call, step: Step) -> Card:
    """What a failed proof showed, to be taken up in place of the first complaint."""
    raised = call.raised_by(call.trees.proofs[step.goal])
    choices = [Choice(str(n), f"Look into: {call.trees.symptoms[s].title}", s) for n, s in enumerate(raised, start=1)]
    choices += [
        Choice(str(len(choices) + 1), "Go on with the first complaint", "first-complaint"),
        Choice(str(len(choices) + 2), "Leave it out of service", "leave"),
    ]
    return Card("stop", step.id, "A proof has failed", step.why, choices=tuple(choices))


def _hand_over_card(call: Call, step: Step) -> Card:
    odd = [call.trees.checks[check].text for check in call.surprise().odd]
    lines = [("Sits ill with the rest", text) for text in odd[:3]]
    lines += [("Call", text) for text in whom_to_call(call)]
    choices = [Choice("1", f"Check again: {odd[0]}", "recheck")] if odd else []
    choices += [
        Choice(str(len(choices) + 1), "I know something more", "known"),
        Choice(str(len(choices) + 2), "Choose a repair", "repair"),
        Choice(str(len(choices) + 3), "Leave it out of service and hand it over", "leave"),
    ]
    return Card("stop", step.id, "Hand it over", step.why, lines=tuple(lines), choices=tuple(choices))


def whom_to_call(call: Call) -> list[str]:
    """Those whose repairs remove a likely cause and who are not here, then whoever knows more."""
    trees, here = call.trees, can_do(call.trees, call.state.people)
    wanted: dict[str, str] = {}
    for likely in call.likely():
        if likely.cause == UNLISTED or likely.probability < 0.05:
            continue
        for remedy in trees.causes[likely.cause].remedies:
            who = trees.remedies[remedy].who
            if who not in here:
                wanted.setdefault(who, f"{trees.people[who].title}, for: {likely.title}")
    general = "whoever knows this make of door best, with the report of this call in hand"
    return [*wanted.values(), general][:4]


def facts_of(call: Call, doing: Doing) -> tuple[str, ...]:
    """In a few words each: how long, with what, who, in which state, from where, how many people."""
    trees = call.trees
    facts = [minutes(doing.minutes), *doing.tool]
    if doing.who != "anyone":
        facts.append(absent(trees, doing, call.state.people) or title(trees, "people", doing.who))
    if doing.energy != ANY:
        facts.append(trees.energy[doing.energy].title)
    if doing.access in trees.access and trees.access[doing.access].minutes > 0:
        facts.append(trees.access[doing.access].title)
    if doing.crew > 1:
        facts.append(f"{doing.crew} people")
    return tuple(facts)
