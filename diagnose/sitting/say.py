"""What people say and do at a call, as data, and the one way by which it becomes events.

Each act is a plain value: a face makes one, ``do`` turns it into events of the call, and gives back a sentence that
says what was taken down. An act that cannot be is refused before anything is written: ``AnswerError`` and ``CallError``
say why, and ``WordNeeded`` asks for the word that is missing; the same act with it is then taken.
"""

from __future__ import annotations

from typing import Literal, get_args

import msgspec

from diagnose.calls import events as ev
from diagnose.calls import words
from diagnose.calls.answering import AnswerError, Understood, series_parts
from diagnose.calls.call import Call, CallError, WordNeeded
from diagnose.calls.faults import MovedOn
from diagnose.calls.next_step import HAND_OVER
from diagnose.calls.state import Named, standing
from diagnose.knowledge.model import Check
from diagnose.quantities import took_the_unit
from diagnose.quantities.show import Shown
from diagnose.sitting.cards import Card
from diagnose.sitting.choices import NOT_THERE, Choice
from diagnose.sitting.course import COME, Alternative, Planned

FAILED_PROOF = "Failed: nobody uses the door until this has passed. Looking further."
_OUTCOMES = ("gone", "better", "still there", "too early")


class Act(msgspec.Struct, frozen=True, kw_only=True, tag_field="act"):
    """One thing that somebody says or does."""


class Choose(Act, frozen=True, kw_only=True, tag="choose"):
    """A choice of a card, by its name. ``text`` answers what the choice asks."""

    kind: str
    step: str
    name: str
    goal: Named = ("", "")
    complaint: str = ""
    text: str = ""
    reason: str = ""


class Answer(Act, frozen=True, kw_only=True, tag="answer"):
    """A check answered with what was typed, asked or not."""

    check: str
    text: str
    mode: Literal["new", "again", "correction"] = "new"
    reason: str = ""


class TakeBack(Act, frozen=True, kw_only=True, tag="take back"):
    check: str
    reason: str = ""


class GoTo(Act, frozen=True, kw_only=True, tag="go to"):
    """Do this next, whatever is suggested. ``instead_of`` is the step that is put off for it."""

    kind: ev.StepKind
    step: str
    instead_of: Named | None = None


class Later(Act, frozen=True, kw_only=True, tag="later"):
    """Leave a step until there is nothing better to do."""

    kind: str
    step: str


class Undo(Act, frozen=True, kw_only=True, tag="undo"):
    reason: str = ""


class StateFact(Act, frozen=True, kw_only=True, tag="fact"):
    """Something about the door; ``""`` forgets it, and ``()`` says it has none of these."""

    fact: str
    value: str | tuple[str, ...]
    became: ev.Became = ""
    reason: str = ""


class StatePlace(Act, frozen=True, kw_only=True, tag="place"):
    site: str
    door: str


class StateComplaints(Act, frozen=True, kw_only=True, tag="complaints"):
    """The whole list of complaints."""

    symptoms: tuple[str, ...]
    reason: str = ""


class StatePeople(Act, frozen=True, kw_only=True, tag="people"):
    people: tuple[str, ...]


class Enter(Act, frozen=True, kw_only=True, tag="enter"):
    energy: str


class Note(Act, frozen=True, kw_only=True, tag="note"):
    text: str


class Close(Act, frozen=True, kw_only=True, tag="close"):
    outcome: ev.Outcome
    reason: str = ""


AnyAct = (
    Choose
    | Answer
    | TakeBack
    | GoTo
    | Later
    | Undo
    | StateFact
    | StatePlace
    | StateComplaints
    | StatePeople
    | Enter
    | Note
    | Close
)


def chosen(card: Card, name: str, text: str = "") -> Choose | Answer:
    """The act of choosing ``name`` on a card, with what the choice asked for."""
    if card.kind == "check":
        return Answer(check=card.id, text=name)
    return Choose(kind=card.kind, step=card.id, name=name, goal=card.goal, complaint=card.complaint, text=text)


def do(call: Call, act: AnyAct, units: Shown = "us") -> str:
    """Write down what was said; gives back a sentence that says what was taken down.

    Others may be recording in the same call. What they did is then in ``call.came_in``, for the face to show, and the
    sentence says what became of the act.
    """
    try:
        return _do(call, act, units)
    except MovedOn as moved:
        if not moved.there:
            raise
        call.follow(moved.there)
        try:
            return _do_after_others(call, act, units)
        except WordNeeded:
            raise
        except (AnswerError, CallError) as error:
            return f"Not taken down. {error}"


def _do_after_others(call: Call, act: AnyAct, units: Shown) -> str:
    """What was said of something that others have not touched is taken down; what they answered too is kept as a note.

    A choice made on a card is not: the door may not be as it was any more.
    """
    match act:
        case Answer():
            same = [e for e in call.came_in if isinstance(e, ev.Answered | ev.Withdrawn) and e.check == act.check]
            if not same:
                return do(call, act, units)
            asked = words.step_title(call.trees, "check", act.check)
            do(call, Note(text=f"{asked} {act.text} (at the same time)"), units)
            return "That was answered meanwhile. Yours is kept as a note; correct the answer if yours is right."
        case StateFact() if not any(isinstance(e, ev.FactStated) and e.fact == act.fact for e in call.came_in):
            return do(call, act, units)
        case Note():
            return do(call, act, units)
    return "Not taken down, for the call has gone on. Look at it, and say it again if it still holds."


def meanwhile(call: Call) -> tuple[str, ...]:
    """What others recorded while this call was in hand, a sentence each; told once."""
    events, call.came_in = call.came_in, ()
    return tuple(f"{event.by or 'Somebody else'}: {words.event_in_words(call.trees, event)}" for event in events)


def _do(call: Call, act: AnyAct, units: Shown) -> str:
    match act:
        case Choose():
            return _choose(call, act)
        case Answer():
            understood = call.answer(act.check, act.text, mode=act.mode, reason=act.reason)
            check = call.trees.checks[act.check]
            return f"Taken down: {_echo(check, act.text, understood, units)}."
        case TakeBack():
            call.withdraw(act.check, act.reason)
            return f"Withdrawn: {words.step_title(call.trees, 'check', act.check)}"
        case GoTo():
            return _go_to(call, act)
        case Later():
            return _later(call, (act.kind, act.step))
        case Undo():
            return _undo(call, act.reason)
        case StateFact():
            call.state_fact(act.fact, act.value, became=act.became, reason=act.reason)
        case StatePlace():
            call.state_place(act.site, act.door)
        case StateComplaints():
            call.state_symptoms(act.symptoms, act.reason)
        case StatePeople():
            call.state_people(act.people)
        case Enter():
            call.enter(act.energy)
            return f"The door is now: {words.title(call.trees, 'energy', act.energy)}."
        case Note():
            if not act.text.strip():
                raise CallError("Nothing was typed, and nothing was noted.")
            call.note(act.text)
            return "Noted."
        case Close():
            return _close(call, act.outcome, act.reason)
    return f"Taken down: {words.event_in_words(call.trees, call.events[-1])}."


def _echo(check: Check, text: str, understood: Understood, units: Shown) -> str:
    """What was taken down, as it was typed and as it was understood; of a bare number, the unit it was taken in."""
    if isinstance(understood.value, str):
        return understood.value
    told = words.typed_in_words(check, [text], joint=" = ")
    told = told or words.in_words(check, understood.value, understood.unit, units)
    parts = series_parts(text) if check.series == "yes" else [text]
    bare = next(filter(None, (took_the_unit(part, check.unit) for part in parts)), "")
    return f"{told}, taken as {bare}" if bare else told


def _choose(call: Call, act: Choose) -> str:
    match act.kind, act.name:
        case "energy", "entered":
            call.enter(act.step, act.goal if act.goal[0] != "stop" else ("", ""))
            return f"The door is now: {words.title(call.trees, 'energy', act.step)}."
        case _, "unfinished":
            call.not_finished()
            return "The repair is not finished: back to it."
        case "remedy", "done":
            call.done(act.step)
            return "The repair is done. Try the door."
        case "remedy", outcome if outcome in _OUTCOMES:
            return _judge(call, act.complaint, outcome, act.text)
        case "remedy", lacks if lacks == NOT_THERE:
            return _not_there(call, act.step, act.text)
        case "job", "done" | "not right" | "not needed" as came:
            call.job(act.step, came, act.text)
            return {"done": "Done.", "not needed": "Left out."}.get(came, "Not right: put it right, or look into it.")
        case "proof", "passed" | "failed":
            call.proved(act.step, act.name == "passed")
            return "Passed." if act.name == "passed" else FAILED_PROOF
        case "stop", "first-complaint":
            call.put_off(*act.goal)
            return "The failed proof is left for later: nobody uses the door."
        case "stop", "reopen":
            call.reopen()
            return "The call goes on."
        case "stop", "here":
            return _arrived(call, act.goal)
        case "stop", "wait-for":
            return _wait_for(call, act.goal, act.text)
        case "stop", "leave-for":
            # It comes first when the call is gone on with.
            if act.text.strip():
                call.take_up(*act.goal)
            return _close(call, "left out of service", act.text)
        case "stop", symptom if act.step == HAND_OVER and symptom in call.trees.symptoms:
            call.state_symptoms([symptom], "what was found fits it better than the complaint before")
            return "It is taken for that now; what was found before still counts."
        case "stop" | "job", symptom if symptom in call.trees.symptoms:
            left = [each for each in call.state.symptoms if call.state.outcomes.get(each) != "gone"]
            call.state_symptoms([symptom, *left])
            return "That is looked into now; what was found before still counts."
        case _, "return":
            return _close(call, call.ends, "")
        case _, "leave":
            return _close(call, "left out of service", act.text)
    raise CallError(f"'{act.name}' is no choice of this step.")


def _judge(call: Call, complaint: str, outcome: str, when: str) -> str:
    if outcome == "too early" and not when.strip():
        raise CallError("Say when it can be told: an hour, a weather, a number of days or cycles.")
    now: dict[str, ev.Now] = {complaint: outcome}  # type: ignore[dict-item]
    call.judge(now, when.strip() if outcome == "too early" else "")
    if outcome == "gone":
        return "Gone. Now prove the door safe." if call.state.proving else "Gone."
    if outcome == "too early":
        return f"The call waits, and asks again: {when.strip()}."
    return "Better, not gone: looking further." if outcome == "better" else "Still there: looking further."


def _not_there(call: Call, remedy: str, text: str) -> str:
    """Parts are not there, by their numbers in the repair's list; where it takes but one kind, that."""
    entry = call.trees.remedies.get(remedy)
    numbered = words.numbered_parts(entry) if entry else {}
    said = text.replace(",", " ").split() if len(numbered) > 1 else list(numbered)
    if not said or not set(said) <= set(numbered):
        known = (entry and words.parts_by_number(call.trees, entry)) or "this repair takes none"
        raise CallError(f"Say by number which part is not there: {known}.")
    before = call.state.missing.get(remedy, ())
    call.put_off("remedy", remedy, dict.fromkeys([*before, *(numbered[each] for each in said)]))
    return f"Put off: {words.with_absent(call, remedy)}."


def _close(call: Call, outcome: ev.Outcome, reason: str) -> str:
    call.close(outcome, reason)
    return f"The door is {outcome}."


def _arrived(call: Call, goal: Named) -> str:
    """Whoever may do the step is here, and the step comes first."""
    entry = call.trees.task(*goal)
    if entry is None:
        raise CallError("These trees do not know that step any more.")
    person = call.trees.people[entry.who]
    call.state_people(tuple(dict.fromkeys([*call.state.people, person.id, *person.includes])))
    if goal in call.state.put_off:
        call.take_up(*goal)
    return f"At the door now: {person.title}."


def _wait_for(call: Call, goal: Named, when: str) -> str:
    """The call stays open until whoever may do the step is here."""
    entry = call.trees.task(*goal)
    if entry is None:
        raise CallError("These trees do not know that step any more.")
    call.state_people(call.state.people, {**call.state.coming, entry.who: when.strip()})
    return f"The call waits for a {entry.who}: {when.strip()}. Nobody uses the door."


def _go_to(call: Call, act: GoTo) -> str:
    """Choose a step. What it takes the place of is put off with it, and the two are undone as one."""
    call.take_up(act.kind, act.step)
    off = act.instead_of
    if off is None or off == (act.kind, act.step) or off[0] not in get_args(ev.StepKind):
        return "You chose this."
    if off not in call.state.put_off:
        call.put_off(*off)
    return "Put off until there is nothing better."


def _later(call: Call, named: Named) -> str:
    if named[0] not in ("check", "remedy", "proof", "job") or call.state.outcome is not None:
        raise CallError("There is no step to put off.")
    if named in call.state.put_off:
        raise CallError("It was put off before; there is nothing better to do now.")
    call.put_off(*named)
    return f"Put off: {words.step_title(call.trees, *named)}"


def _undo(call: Call, reason: str) -> str:
    """The last thing said, whole: with a step that was chosen instead goes the putting off."""
    counting = standing(call.events)[1:]
    if not counting:
        raise CallError("There is nothing to undo.")
    last = counting[-1]
    before = counting[-2] if len(counting) > 1 else None
    call.undo(reason)
    if (
        isinstance(last, ev.PutOff)
        and isinstance(before, ev.TakenUp)
        and (before.kind, before.step) != (last.kind, last.step)
        and before.sequence == last.sequence - 1
    ):
        call.undo(reason)
    return f"Undone: {words.event_in_words(call.trees, last)}."


def going_to(other: Alternative, planned: Planned) -> GoTo:
    """The act of taking another step in place of the one that was put."""
    return GoTo(kind=other.kind, step=other.id, instead_of=planned.goal)  # type: ignore[arg-type]


def later_of(planned: Planned) -> Later:
    """The act of putting off what a step leads to."""
    kind, step = planned.goal
    return Later(kind="stop" if planned.step.kind == "stop" and planned.step.id != COME else kind, step=step)


# --- the word that is missing -------------------------------------------------------------------------------------


def words_for(error: WordNeeded) -> tuple[Choice, ...]:
    """What can be said to an act that wants a word more; the choice's ``asks`` is the reason to be typed."""
    if error.fact:
        never = Choice("1", "It was never there", "never there", "Why was it said to be there?")
        return (never, Choice("2", "It was taken off the door", "taken off"))
    return (Choice("1", "It was a mistake", "mistake", "Why is that right?"),)


def with_word(act: AnyAct, name: str, text: str = "") -> AnyAct:
    """The act again, with the word that was asked for."""
    if isinstance(act, StateFact) and name in ("never there", "taken off"):
        became: ev.Became = "never there" if name == "never there" else "taken off"
        return msgspec.structs.replace(act, became=became, reason=text)
    return msgspec.structs.replace(act, reason=text)
