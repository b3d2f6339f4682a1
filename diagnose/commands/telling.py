"""What is told unasked, line by line: what was heard on the phone, the suspects, and what to doubt."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.calls.call import Call
from diagnose.calls.likely import NOTHING_FITS
from diagnose.calls.state import Answer
from diagnose.commands.choosing import MOST_LISTED, by_number
from diagnose.commands.console import Console, say_all
from diagnose.knowledge.model import Trees
from diagnose.knowledge.words import counted, percent
from diagnose.screening.handover import Recheck
from diagnose.settings import Units
from diagnose.sitting.cards import Card
from diagnose.sitting.handover import FromThePhone
from diagnose.sitting.telling import evidence
from diagnose.sitting.view import suspects


def likely(console: Console, call: Call, rest: str, units: Units) -> None:
    """All that may be wrong, adding up to 100 %; with a number, the evidence on that one."""
    listed = suspects(call)
    if not listed:
        console.say("No complaint is looked into, and so nothing is suspected.")
        return
    if (number := by_number(rest, len(listed))) is not None:
        say_all(console, evidence(call, listed[number].cause, units))
        return
    console.choices([f"{percent(each.probability)}  {each.title}" for each in listed[:MOST_LISTED]])
    others = listed[MOST_LISTED:]
    if others:
        console.say(f"     {percent(sum(each.probability for each in others))}  {counted(len(others), 'other')}")
    doubts(console, call)


def card(console: Console, card: Card, left: str = "") -> None:
    """What is to be done and how long until it is (``left``), its cautions, then how."""
    say = console.say
    console.apart(f"{card.heading}: {(', '.join(card.facts) or card.title).rstrip('.')}.{left}")
    if card.facts:
        say(card.title)
    if card.kind == "stop" and card.why:
        say(card.why)
    for caution in card.cautions:
        if caution.id not in card.read:
            say(f"{caution.word}: {caution.text}")
    if before := dict.fromkeys(caution.word for caution in card.cautions if caution.id in card.read):
        say(f"{', '.join(before)} as before: type cautions to read it whole.")
    if card.how:
        say(f"How: {card.how}")
    for label, text in card.lines:
        say(f"{label}: {text}")


def told(console: Console, trees: Trees, rechecks: Sequence[Recheck]) -> None:
    """What a caller told that is worth seeing for oneself."""
    console.apart("Told by the caller, see for yourself ('see' asks the first of these again):")
    console.choices([f"{trees.checks[each.check].text} {each.why}" for each in rechecks])


def phone(console: Console, said: FromThePhone | None) -> None:
    """What was said on the phone, the dangers first."""
    if said is None:
        return
    console.say()
    for raised in said.dangers:
        console.say(f"{raised.danger.word}: {raised.danger.title}. {raised.danger.instruction}")
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
