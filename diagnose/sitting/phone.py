"""The course of a phone call, once, under every face: danger, where, complaint, questions, sheet.

A face shows what ``Phone.put`` hands out, says what was answered with ``Phone.do``, and reads out at once the dangers
that ``do`` gives back, until ``Told`` says that the caller has heard them. Nothing but what an act names is ever
recorded: a sign of danger that was not shown is not answered. All that counts is in the call's events, so a call that
was broken off goes on at the same place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import Enum

from diagnose.calls import events as ev
from diagnose.calls.call import Call, CallError
from diagnose.calls.state import standing
from diagnose.calls.words import title
from diagnose.finding.complaints import by_use
from diagnose.finding.meant import meant
from diagnose.knowledge.model import Danger, Symptom, Van
from diagnose.screening.danger import Raised, by_words, dangers_now, note_dangers, to_ask
from diagnose.screening.handover import hand_over
from diagnose.screening.interview import Question, next_question, take
from diagnose.screening.needs import first_van
from diagnose.screening.sheet import Sheet, make_sheet

# Fewer words are a search; these are what somebody said, and are kept.
_A_SENTENCE = 3
_MOST_ALIKE = 12


# --- what is handed out ----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class AskSigns:
    """Signs of danger to read out, in order; ``there`` has what was said of them before, by id.

    A face may put only as many as it can show, and answers only those: the others are handed out again.
    """

    signs: tuple[Danger, ...]
    there: Mapping[str, bool]


@dataclass(frozen=True)
class AskPlace:
    """Where the door is, who calls and the number to call back, as far as they are known; all may stay empty."""

    site: str = ""
    door: str = ""
    caller: str = ""
    number: str = ""


@dataclass(frozen=True)
class AskComplaint:
    """What the door does wrong; ``first`` are the complaints that a danger which stands speaks for."""

    first: tuple[Symptom, ...] = ()


@dataclass(frozen=True)
class AskQuestion:
    """A question to read out; ``may_change`` says in a few words what of the sheet hangs on the answer."""

    question: Question
    may_change: str


@dataclass(frozen=True)
class ShowSheet:
    """No more questions: the sheet. ``trouble`` is why no question could be worked out, where that is so."""

    trouble: str = ""


@dataclass(frozen=True)
class Over:
    """The call was handed over, or ended with ``reason``."""

    reason: str = ""


Put = AskSigns | AskPlace | AskComplaint | AskQuestion | ShowSheet | Over


# --- what can be said ------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class SaySigns:
    """Of each sign of danger that was put, by id, whether it is there."""

    there: Mapping[str, bool]


@dataclass(frozen=True)
class SayPlace:
    """Where the door is, who calls, and the number to call back; all empty leaves it open."""

    site: str = ""
    door: str = ""
    caller: str = ""
    number: str = ""


@dataclass(frozen=True)
class SayWords:
    """What the caller said, word for word: of the complaint, or besides."""

    text: str


@dataclass(frozen=True)
class SayComplaint:
    """The complaint that is meant, by id; ``also`` are others that are meant as well."""

    symptom: str
    also: tuple[str, ...] = ()


@dataclass(frozen=True)
class SayAnswer:
    """The answer to a question: one of its own, several where it takes many, a number typed, or ``could not tell``."""

    question: Question
    answer: str | tuple[str, ...]


@dataclass(frozen=True)
class Told:
    """The caller has heard what to do about these dangers, by id."""

    dangers: tuple[str, ...]


@dataclass(frozen=True)
class End:
    """Nobody will go. The call ends, and leaves the calls that are open."""

    reason: str


class Move(Enum):
    """What is said of the course of the call itself."""

    # Go through the signs of danger again; and enough of that: what was not put stands as it was.
    SEE_SIGNS, LEAVE_SIGNS = "see signs", "leave signs"
    # Take the last thing back, or go back to what was asked before; a danger that was said is shown, not lost.
    TAKE_BACK = "take back"
    # Ask no more.
    ENOUGH = "enough"
    # The sheet is done: the technician goes on with the call.
    HAND_OVER = "hand over"


Act = SaySigns | SayPlace | SayWords | SayComplaint | SayAnswer | Told | End | Move


@dataclass
class Phone:
    """One phone call. ``call`` may be exchanged for one with the same events, such as one that is being recorded."""

    call: Call
    van_name: str = ""
    # Signs that are gone through once more.
    _signs_again: tuple[str, ...] = ()
    # How many events counted when the place was asked; how many there were when it was enough, until more is said.
    _place_left_at: int = -1
    _enough_at: int = -1
    _handed_over: bool = False
    _question_after: tuple[int, Put] | None = None
    _sheet_after: tuple[int, Sheet] | None = None

    @property
    def van(self) -> Van:
        return first_van(self.call.trees, self.van_name)

    # --- what comes next -----------------------------------------------------------------------------------

    def put(self) -> Put:
        call, state = self.call, self.call.state
        if state.outcome is not None or self._handed_over:
            return Over(state.reason)
        there = {danger: answer == "yes" for danger, answer in state.dangers.items()}
        asked = to_ask(call.trees, call.facts)
        again = tuple(danger for danger in asked if danger.id in self._signs_again)
        signs = again or tuple(danger for danger in asked if danger.id not in state.dangers)
        if signs:
            return AskSigns(signs, there)
        if not state.symptoms:
            if self._place_is_open:
                return AskPlace(state.site, state.door, state.caller, state.number)
            return AskComplaint(tuple(call.trees.symptoms[symptom] for symptom in self._spoken_for()))
        if self.enough:
            return ShowSheet()
        if self._question_after is None or self._question_after[0] != len(call.events):
            self._question_after = (len(call.events), self._next_question())
        return self._question_after[1]

    @property
    def enough(self) -> bool:
        """Whether it was said that no more is to be asked; holds until anything else is said."""
        return self._enough_at == len(self.call.events)

    @property
    def _place_is_open(self) -> bool:
        said = any(isinstance(event, ev.PlaceStated) for event in standing(self.call.events))
        return not said and self._place_left_at < 0

    def _next_question(self) -> Put:
        try:
            question = next_question(self.call, self.van)
        except Exception as error:
            # Whatever the reasoning stumbles over, the call is kept, and what was said last can be taken back.
            return ShowSheet(f"The next question could not be worked out: {' '.join(str(error).split())}")
        return ShowSheet() if question is None else AskQuestion(question, may_change(self.call, question))

    def dangers(self) -> tuple[Raised, ...]:
        """The dangers that stand, the most urgent first."""
        return dangers_now(self.call.trees, self.call.events)

    def unread(self) -> tuple[Raised, ...]:
        """The dangers that stand and of which the caller has not heard yet what to do."""
        return tuple(each for each in self.dangers() if each.danger.id not in self.call.state.told)

    # --- what is said --------------------------------------------------------------------------------------

    def do(self, act: Act) -> tuple[Raised, ...]:
        """Take down what was said; gives back the dangers whose instruction is to be read out now, before all else.

        Raises:
            CallError, AnswerError: it cannot be taken down; the sentence says why, and nothing was recorded.
        """
        call, state = self.call, self.call.state
        match act:
            case SaySigns(there):
                self._say_signs(there)
            case SayPlace():
                self._say_place(act)
            case SayWords(text):
                if not text.strip():
                    raise CallError("Nothing was typed.")
                if all(text != kept for _, kept in state.notes):
                    call.note(text)
            case SayComplaint(symptom, also):
                call.state_symptoms([symptom, *also])
            case SayAnswer(question, answer):
                take(call, question, answer)
            case Told(dangers):
                self._say_told(dangers)
            case Move.SEE_SIGNS:
                self._signs_again = tuple(danger.id for danger in to_ask(call.trees, call.facts))
            case Move.LEAVE_SIGNS:
                self._signs_again = ()
            case Move.TAKE_BACK:
                self._take_back()
            case Move.ENOUGH:
                if not state.symptoms:
                    raise CallError("Say first what the door does wrong: without a complaint there is no sheet.")
                self._enough_at = len(call.events)
            case Move.HAND_OVER:
                hand_over(call, self.sheet())
                self._handed_over = True
            case End(reason):
                end_call(call, reason)
        if call.state.outcome is not None:
            return ()
        note_dangers(call)
        return self.unread()

    def _say_signs(self, there: Mapping[str, bool]) -> None:
        for danger, is_there in there.items():
            word = "yes" if is_there else "no"
            if self.call.state.dangers.get(danger) != word:
                self.call.danger(danger, word)
        self._signs_again = tuple(danger for danger in self._signs_again if danger not in there)

    def _say_told(self, dangers: Sequence[str]) -> None:
        enough = self.enough
        for danger in dangers:
            if danger not in self.call.state.told:
                self.call.danger(danger, "yes", told=True)
        if enough:
            self._enough_at = len(self.call.events)

    def _say_place(self, said: SayPlace) -> None:
        state = self.call.state
        self._place_left_at = len(standing(self.call.events))
        if (said.site, said.door, said.caller, said.number) != (state.site, state.door, state.caller, state.number):
            self.call.state_place(said.site, said.door, said.caller, said.number)

    def _take_back(self) -> None:
        call = self.call
        if self._signs_again:
            self._signs_again = ()
            return
        if self.enough:
            self._enough_at = -1
            return
        counting = standing(call.events)
        if not call.state.symptoms and len(counting) <= self._place_left_at:
            self._place_left_at = -1
            return
        said = [event for event in counting if not isinstance(event, (ev.Opened, ev.Recalled))]
        # What was read out about a danger, and what was put on record because of something else, goes with that.
        follows = 0
        while said and isinstance(said[-1], ev.DangerStated) and _follows(call, said[-1], said[:-1]):
            said.pop()
            follows += 1
        if not said:
            raise CallError("There is nothing to undo.")
        if isinstance(said[-1], ev.DangerStated):
            # The signs are looked at again. Before the complaint nothing of them is taken back on the way.
            self._signs_again = tuple(danger.id for danger in to_ask(call.trees, call.facts))
            if not call.state.symptoms:
                return
        if isinstance(said[-1], ev.PlaceStated):
            self._place_left_at = -1
        for _ in range(follows + 1):
            call.undo()

    # --- complaints and the sheet --------------------------------------------------------------------------

    def complaints(self, typed: str = "") -> list[Symptom]:
        """The complaints that may be meant by what is ``typed``, the likeliest first; all, the commonest first, where
        nothing is typed.

        Those that a danger speaks for come before those that are merely like the words.
        """
        trees = self.call.trees
        spoken_for = self._spoken_for()
        if not typed.strip():
            return [trees.symptoms[each] for each in dict.fromkeys([*spoken_for, *by_use(trees)])]
        like = [each.id for each in meant(trees, typed, self.call.facts).all[:_MOST_ALIKE]]
        kept = any(text == typed for _, text in self.call.state.notes)
        heard = [symptom for each in by_words(trees, typed) for symptom in each.danger.symptoms] if kept else []
        found = [symptom for symptom in like if symptom in spoken_for]
        return [trees.symptoms[each] for each in dict.fromkeys([*found, *heard, *like])]

    def both(self, typed: str) -> tuple[Symptom, ...]:
        """The complaints that one sentence speaks of, where they are more than one."""
        return meant(self.call.trees, typed, self.call.facts).both

    def is_said(self, typed: str) -> bool:
        """Whether what is typed is what a caller said, and so kept, rather than a search for a complaint."""
        return len(typed.split()) >= _A_SENTENCE or bool(by_words(self.call.trees, typed))

    def _spoken_for(self) -> list[str]:
        return list(dict.fromkeys(symptom for each in self.dangers() for symptom in each.danger.symptoms))

    def sheet(self) -> Sheet:
        """The sheet as the call stands. Raises ``ValueError`` where there is no complaint yet."""
        if self._sheet_after is None or self._sheet_after[0] != len(self.call.events):
            self._sheet_after = (len(self.call.events), make_sheet(self.call, self.van))
        return self._sheet_after[1]

    def keep_sheet(self, sheet: Sheet, events: int) -> None:
        """A sheet that was worked out elsewhere, of the call as it stood after so many events."""
        self._sheet_after = (events, sheet)

    def twin(self) -> Phone:
        """A copy that nothing else touches and that records nothing, to work out a sheet in a thread."""
        return Phone(Call(self.call.trees, history=self.call.events, by=self.call.by), self.van_name)


def end_call(call: Call, reason: str) -> None:
    """End a call that nobody goes on with; raises ``CallError`` without a reason.

    Where somebody was at the door, it is left out of service.
    """
    call.close("left out of service" if call.state.at_the_door else "ended without a visit", reason)


def how_it_ended(call: Call) -> str:
    """What has become of a call that was ended, in a sentence or two: a door that was said to be dangerous stays so."""
    said = f"The call is ended: {call.state.outcome}."
    dangers = "; ".join(each.danger.title for each in dangers_now(call.trees, call.events))
    return f"{said} The door is not safe: {dangers}." if dangers else f"{said} Nobody has proved the door safe."


def may_change(call: Call, question: Question) -> str:
    """What of the sheet hangs on the answer to a question, in a few words."""
    kinds = {"person": "people", "access": "access"}
    parts = sum(need.kind == "parts" for need in question.may_change)
    named = [title(call.trees, kinds[need.kind], need.id) for need in question.may_change if need.kind in kinds]
    named += [need.kind for need in question.may_change if need.kind == "second person"]
    if any(need.kind == "danger" for need in question.may_change) or not question.may_change:
        named.append("how soon")
    if parts:
        named.append(f"the parts of {parts} repair{'' if parts == 1 else 's'}")
    return ", ".join(name.removeprefix("from ") for name in named)


def _follows(call: Call, event: ev.DangerStated, before: Sequence[ev.AnyEvent]) -> bool:
    """Whether a danger was told of, or put on record because of what was said just before it, not asked about."""
    return event.told or (
        event.answer == "yes"
        and any(
            raised.danger.id == event.danger and raised.how != "asked" for raised in dangers_now(call.trees, before)
        )
    )
