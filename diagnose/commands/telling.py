"""What is told of a call, line by line: the reasons, the suspects, the history, and what to doubt."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from diagnose.calls.call import NOTHING_FITS
from diagnose.calls.state import Answer
from diagnose.calls.verdict import chain_now, suspects_now
from diagnose.calls.words import event_in_words, remarks_on
from diagnose.commands.choosing import MOST_LISTED
from diagnose.commands.console import Console
from diagnose.knowledge.words import percent
from diagnose.reasoning import explain
from diagnose.reasoning.chain import MEANING, drawn, split, whereabouts
from diagnose.sitting.view import suspects

if TYPE_CHECKING:
    from diagnose.calls.call import Call, Step
    from diagnose.knowledge.model import Trees
    from diagnose.screening.handover import Recheck
    from diagnose.settings import Units
    from diagnose.sitting.handover import FromThePhone


def why(console: Console, call: Call, step: Step) -> None:
    """Why this step, what each finding would mean, and what would change the lead."""
    console.say(step.why or "It is what is left to do.")
    planner = call.planner
    candidate = next((c for c in planner.candidates if c.way.goal == step.goal), None)
    if step.goal_kind == "check" and candidate is not None:
        for found in explain.consequences(planner, candidate):
            cause = explain.cause_title(call.trees, found.cause)
            console.say(
                f"  If {found.answer} ({percent(found.chance)}): {cause}, {percent(found.probability)}.", hang=4
            )
    if step.goal_kind == "check" and (told := split(call.situation, chain_now(call), call.trees.checks[step.goal])):
        console.say(told)
    changers = explain.mind_changers(planner) if call.state.outcome is None else []
    if changers:
        console.say("What would change my mind:")
        for text in changers:
            console.say(f"  {text}", hang=4)


def chain(console: Console, call: Call) -> None:
    """Where along the chain of functions the fault lies."""
    found = chain_now(call)
    if not found:
        console.say("This complaint hangs on no chain of functions.")
        return
    console.say(drawn(found))
    console.say(MEANING)
    for sentence in whereabouts(found):
        console.say(sentence)


def likely(console: Console, call: Call, rest: str, units: Units) -> None:
    """All that may be wrong, adding up to 100 %; with a number, the evidence on that one."""
    listed = suspects(call)
    if rest.isdecimal() and 1 <= int(rest) <= len(listed):
        named = listed[int(rest) - 1].cause.split(" + ")
        for suspect in (each for each in suspects_now(call, units) if each.cause in named):
            console.say(f"{suspect.title}, {percent(suspect.probability)}. {suspect.explain}")
            for reason in suspect.telling:
                console.say(f"  {reason.check} {reason.found}: {reason.words}.", hang=4)
            if not suspect.telling:
                console.say("No answer speaks clearly for or against it yet.")
        return
    console.choices([f"{percent(each.probability)}  {each.title}" for each in listed[:MOST_LISTED]])
    others = listed[MOST_LISTED:]
    if others:
        console.say(f"     {percent(sum(each.probability for each in others))}  {len(others)} others")
    doubts(console, call)


def history(console: Console, call: Call) -> None:
    """Every entry of the call."""
    remarks = remarks_on(call.events)
    for event in call.events:
        remark = f" ({remarks[event.sequence]})" if event.sequence in remarks else ""
        console.say(f"{event.sequence:>3}. {event_in_words(call.trees, event)}{remark}", hang=5)


def told(console: Console, trees: Trees, rechecks: Sequence[Recheck]) -> None:
    """What a caller told that is worth seeing for oneself."""
    console.say()
    console.say("Told by the caller, see for yourself ('look' asks the first of these again):")
    console.choices([f"{trees.checks[each.check].text} {each.why}" for each in rechecks])


def phone(console: Console, said: FromThePhone | None) -> None:
    """What was said on the phone, the dangers first."""
    if said is None:
        return
    console.say()
    for raised in said.dangers:
        console.say(f"{raised.danger.word}, told on the phone: {raised.danger.title}. {raised.danger.instruction}")
    if said.caller:
        console.say(f"Caller: {', '.join(said.caller)}.")
    for words in said.words:
        console.say(f"The caller said: “{words}”")
    for what, answer in said.told:
        console.say(f"Told: {what} {answer}", hang=2)


def doubts(console: Console, call: Call) -> None:
    """Which answers fit ill with the rest, and who may see further where nothing known fits."""
    surprise, trees, here = call.surprise(), call.trees, call.state.people
    if not call.state.symptoms or not (surprise.odd or surprise.nothing_fits):
        return
    if surprise.nothing_fits:
        others = ", ".join(p.title for p in trees.people.values() if p.call_out and p.id not in here)
        fits = "This does not look like anything I know" if surprise.unlisted >= 0.5 else NOTHING_FITS.rstrip(".")
        console.say(f"{fits} ({percent(surprise.unlisted)}).")
        console.say(f"Who may see further: {others or 'someone who knows this door'}.")
    answers = [item for item in call.state.evidence if isinstance(item, Answer)]
    numbers = {answer.check: number for number, answer in enumerate(answers, start=1)}
    for name in [name for name in surprise.odd if name in numbers][:2]:
        text = trees.checks[name].text
        console.say(f"Look again, it fits ill with the rest: {text} ('change {numbers[name]}' corrects it.)")
