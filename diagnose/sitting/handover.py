"""From the phone to the door: what stands at the head of whatever the technician sees first, until it was seen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.calls import events as ev
from diagnose.calls.call import Call
from diagnose.calls.state import Answer, standing
from diagnose.calls.words import answer_in_words, facts_in_words
from diagnose.knowledge.model import COULD_NOT_TELL
from diagnose.screening.danger import Raised, dangers_now

# What is said on the phone. Anything else was done by somebody at the door.
_BEFORE_THE_DOOR = (
    ev.Opened,
    ev.Recalled,
    ev.PlaceStated,
    ev.FactStated,
    ev.SymptomsStated,
    ev.PeopleStated,
    ev.DangerStated,
    ev.Noted,
    ev.Withdrawn,
    ev.Reopened,
)


@dataclass(frozen=True)
class FromThePhone:
    """What was said on the phone.

    ``dangers`` are those that stand, the most urgent first; ``caller`` who called and the number to call back;
    ``words`` what the caller said, word for word; ``told`` each question answered and its answer, in order.
    """

    dangers: tuple[Raised, ...]
    caller: tuple[str, ...]
    words: tuple[str, ...]
    told: tuple[tuple[str, str], ...]


def from_the_phone(call: Call) -> FromThePhone | None:
    """What was said on the phone, until somebody at the door answers or does the first thing; then ``None``.

    ``None`` too where nothing was said on a phone, and once the call is closed.
    """
    state, trees = call.state, call.trees
    if state.outcome is not None or any(_at_the_door(event) for event in standing(call.events)):
        return None
    dangers = dangers_now(trees, call.events)
    answers = [item for item in state.evidence if isinstance(item, Answer) and item.value != COULD_NOT_TELL]
    told = facts_in_words(trees, {fact: value for fact, value in state.facts.items() if value})
    told += [
        (check.text if (check := trees.checks.get(item.check)) else item.check, answer_in_words(check, item))
        for item in answers
    ]
    caller = tuple(filter(None, (state.caller, state.number)))
    words = tuple(text for _, text in state.notes)
    if not (dangers or state.dangers or caller or words or answers):
        return None
    return FromThePhone(dangers, caller, words, tuple(told))


def marked(call: Call) -> str:
    """What a list of calls says of one that came from the phone, until somebody at the door goes on; else ``""``."""
    said = from_the_phone(call)
    if said is None:
        return ""
    return "DANGER, from the phone" if said.dangers else "from the phone"


def say_beforehand(call: Call, site: str = "", door: str = "", people: Sequence[str] = ()) -> None:
    """What was said before a call was gone on with, such as on the command line, where it is not on record so."""
    state = call.state
    place = (site or state.site, door or state.door)
    if place != (state.site, state.door):
        call.state_place(*place)
    if people and tuple(people) != state.people:
        call.state_people(people)


def _at_the_door(event: ev.AnyEvent) -> bool:
    return event.heard == "seen" if isinstance(event, ev.Answered) else not isinstance(event, _BEFORE_THE_DOOR)
